"""Payloads of every style become readings in canonical units, and what is wrong is rejected with its reason."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.intake import Decoded, Mapping, Routes
from bridge.message import Message
from bridge.rehearsal.encode import payloads

NOW = 1795590001.0


def volts(**changes: object) -> Mapping:
    fields = {"bank": "north", "meter": "voltage", "quantity": "voltage", "topic": "t", "unit": "V"} | changes
    return Mapping(**fields)  # type: ignore[arg-type]


def decode(mapping: Mapping, payload: bytes | str | object, retain: bool = False) -> Decoded:
    if not isinstance(payload, bytes):
        payload = payload.encode() if isinstance(payload, str) else json.dumps(payload).encode()
    return Routes([mapping]).decode(Message(mapping.topic, payload, NOW, retain))


def values(decoded: Decoded) -> list[float]:
    assert decoded.rejected == ()
    return [reading.value for reading in decoded.readings]


def reasons(decoded: Decoded) -> list[str]:
    assert decoded.readings == ()
    return [rejected.reason for rejected in decoded.rejected]


# ------------------------------------------------------------------------------------------- plain


@pytest.mark.parametrize(
    ("payload", "value"),
    [
        ("26.31", 26.31), (" 26.31\n", 26.31), ("+26", 26), ("-0.5", -0.5), ("2.631e1", 26.31), ("26.", 26),
        (".5", 0.5),
        ("26.31 V", 26.31), ("26310 mV", 26.31), ("26310mV", 26.31), ("26.31\0", 26.31),
    ],
)  # fmt: skip
def test_plain_numbers_are_read_and_a_unit_in_the_text_wins(payload: str, value: float) -> None:
    assert values(decode(volts(), payload)) == [pytest.approx(value)]


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"unavailable", "unavailable"), (b"", "empty"), (b"  \n", "empty"), (b"nan", "not finite"),
        (b"-inf", "not finite"),
        (b"12,6", "decimal comma"), (b"1_2.6", "digit grouping"), (b"true", "boolean"), (b"1e400", "not finite"),
        (b"26.3 A", "wrong unit"), (b"26.3 C", "wrong unit"), (b"26.3 furlong", "wrong unit"),
        (b"0x1F", "not a number"),
        (b"12.6.1", "not a number"), (b"twelve", "not a number"), ("١٢".encode(), "not a number"),
    ],
)  # fmt: skip
def test_F01_words_and_half_numbers_are_rejected_each_with_its_reason(payload: bytes, reason: str) -> None:
    assert reasons(decode(volts(), payload)) == [reason]


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b'{"v":NaN}', "not finite"), (b'{"v":1e400}', "not finite"), (b'{"v":-Infinity}', "not finite"),
        (b'{"v":true}', "boolean"), (b'{"v":null}', "unavailable"), (b'{"v":"unknown"}', "unavailable"),
        (b'{"v":1,"v":2}', "duplicate key"), (b'{"v":{"x":1,"x":1}}', "duplicate key"), (b'{"v":[1]}', "not a number"),
        (b'{"w":1}', "missing"), (b"[1,2]", "missing"), (b"3", "missing"), (b'{"v":', "not JSON"),
        (b"{'v':1}", "not JSON"),
        (b'{"v":' + b"9" * 400 + b"}", "not finite"), (b'{"v":' + b"9" * 5000 + b"}", "not JSON"),
        (b"[" * 60_000, "nested too deeply"), (b'{"v":' * 5_000, "nested too deeply"),
        (b'{"v":' + b"[" * 100 + b"1" + b"]" * 100 + b"}", "nested too deeply"),
        (b'{"v":"' + b"x" * 5_000_000 + b'"}', "too large"), (b"", "empty"), (b"unavailable", "unavailable"),
    ],
)  # fmt: skip
def test_F02_broken_documents_are_rejected_and_never_raise(payload: bytes, reason: str) -> None:
    assert reasons(decode(volts(style="json", pointer="/v"), payload)) == [reason]


@pytest.mark.parametrize("style", ["plain", "json"])
@pytest.mark.parametrize(
    ("payload", "reason"),
    [(b"\xff\xfe1", "not UTF-8"), (b"12.6\xb0", "not UTF-8"), (b"\xef\xbb\xbf12.6", "byte order mark")],
)
def test_F03_bytes_that_are_not_utf8_or_start_with_a_mark_are_rejected(style: str, payload: bytes, reason: str) -> None:
    assert reasons(decode(volts(style=style), payload)) == [reason]


def test_many_brackets_beside_each_other_are_not_deep() -> None:
    payload = {"v": 26.3, "list": [{"a": [1]} for _ in range(200)], "text": "[" * 100}
    assert values(decode(volts(style="json", pointer="/v"), payload)) == [26.3]


@settings(deadline=None)
@given(st.binary(max_size=200))
def test_no_payload_whatsoever_raises(payload: bytes) -> None:
    within = (volts(style=style, pointer="/v", time="/t") for style in ("json", "pairs"))
    for mapping in (volts(), *within, volts(style="senml", name="v")):
        decode(mapping, payload)


@settings(deadline=None)
@given(st.text("0123456789+-.e_, nV", max_size=12))
def test_everything_accepted_is_a_number_that_python_reads_alike(text: str) -> None:
    decoded = decode(volts(), text)
    for reading in decoded.readings:
        digits = text.strip().rstrip("nV ")
        assert reading.value == pytest.approx(float(digits) * (1e-9 if "n" in text else 1.0), rel=1e-9)
        assert "_" not in text


# ------------------------------------------------------------------------------------- keys and values


@pytest.mark.parametrize(
    "payload",
    [
        "V=26.31 A=9.2", "A=9.2 V=26.31", "A=9.2,V=26.31", "A=9,2 V=26.31", "A=9.2;V=26.31 V", "A=9.2 & V = 26310 mV",
        "A:9.2 V:26.31", "V: 26.31 V, A: 9.2 A", "at: 08:20:00 V: 26.31", "V=26.31\nA=9.2\n", "A=|V=26.31|",
        "bank,at=shed V=26.31,A=9.2 1795590000000000000", 'name="the old one" V=26.31', "V=26.31", "note=a=b V=26.31",
    ],
)  # fmt: skip
def test_a_value_is_found_by_its_key_however_the_pairs_are_divided(payload: str) -> None:
    assert values(decode(volts(style="pairs", pointer="/V"), payload)) == [pytest.approx(26.31)]


@pytest.mark.parametrize(
    "payload",
    [
        "9.2;26.31;27", "9.2,26.31,27", "9.2, 26.31, 27 C", "9.2 26.31 27", "9.2|26.31|bulk", "9.2\t26.31\t27\r\n",
        '"9.2";"26.31";"27"', "9;26,31;27", "2026-11-25T08:20:00;26.31;9.2;",
    ],
)  # fmt: skip
def test_a_value_without_a_key_is_found_by_its_place_in_the_list(payload: str) -> None:
    decimal = "," if "26,31" in payload else "."
    mapping = volts(style="pairs", pointer="/1", decimal=decimal)
    assert values(decode(mapping, payload)) == [pytest.approx(26.31)]


@pytest.mark.parametrize(
    "payload",
    [
        "26,31",
        "1,234,567",
        "1,234.50",
        "all is well; 3 of them",
        "08:20:00",
        "2026-11-25 08:20:00",
        "12.10. 1,5 l",
        "7 0",
    ],
)
def test_one_number_a_time_or_a_sentence_is_no_list(payload: str) -> None:
    assert reasons(decode(volts(style="pairs", pointer="/1"), payload)) == ["not key=value"]


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"", "empty"), (b"\xff=1", "not UTF-8"), (b"26.31", "not key=value"), (b"08:20:00", "not key=value"),
        (b"the bank: 26.31", "not key=value"), (b"= 26.31", "not key=value"), (b"A=9.2", "missing"),
        (b"V=26.31 V=26.4", "duplicate key"), (b"V=26,31 A=9,2", "decimal comma"), (b"V= A=9.2", "not a number"),
        (b"V=nan", "not finite"), (b"V=26.31 A", "wrong unit"), (b'{"V": 26.31}', "not key=value"),
        (b"V=1 " * 5000, "too many values"),
    ],
)  # fmt: skip
def test_text_that_gives_no_value_says_why(payload: bytes, reason: str) -> None:
    assert reasons(decode(volts(style="pairs", pointer="/V"), payload)) == [reason]


def test_a_decimal_comma_a_stamp_and_a_contact_of_pairs_are_read() -> None:
    comma = decode(volts(style="pairs", pointer="/u", decimal=",", time="/t"), f"u=26,31 i=9,2 t={NOW - 5.0:.0f}")
    assert values(comma) == [pytest.approx(26.31)]
    assert comma.readings[0].measured_at == NOW - 5.0
    fan = volts(quantity="fan", meter="fan", unit=None, style="pairs", pointer="/fan")
    assert values(decode(fan, "fan=on rpm=2140")) == [1.0]


def test_what_a_rehearsal_says_in_pairs_is_read_as_it_was_meant() -> None:
    said = (("voltage", "mV", "/V"), ("current", "A", "/2"))
    mappings = [
        volts(quantity=name, meter=name, unit=unit, style="pairs", pointer=key, time="/t") for name, unit, key in said
    ]
    told = payloads(mappings, {"voltage": 26.31, "current": 9.2}, NOW)
    assert told == {"t": f"V=26310.0 2=9.2 t={NOW}"}
    readings = Routes(mappings).decode(Message("t", told["t"].encode(), NOW, False)).readings
    assert {one.meter: one.value for one in readings} == {"voltage": pytest.approx(26.31), "current": 9.2}


def test_a_long_run_of_gaps_or_signs_is_read_at_once() -> None:
    for payload in (b"V=1" + b" " * 60_000, b"=" * 3_900, b"a" * 60_000, (b"a " * 30_000), b"1;" * 30_000):
        assert len(decode(volts(style="pairs", pointer="/V"), payload).rejected) <= 1


# ------------------------------------------------------------------------- sign, offset, units, words


def test_discharge_positive_current_is_turned_and_the_offset_comes_after() -> None:
    mapping = volts(quantity="current", meter="current", unit="mA", sign=-1.0, offset=0.25)
    assert values(decode(mapping, "-9500")) == [pytest.approx(9.75)]
    assert values(decode(mapping, "-9.5 A")) == [pytest.approx(9.75)]


def test_a_temperature_in_fahrenheit_or_kelvin_becomes_celsius() -> None:
    mapping = volts(quantity="electrolyte_temperature", meter="temperature", unit="degF")
    assert values(decode(mapping, "110")) == [pytest.approx(43.3333333)]
    assert values(decode(mapping, "112 degF")) == [pytest.approx(44.4444444)]
    assert values(decode(mapping, "40 °C")) == [pytest.approx(40.0)]


@pytest.mark.parametrize("unit", ["degF", "degC"])
def test_a_lone_letter_for_a_temperature_is_read_where_the_cabin_file_names_its_scale(unit: str) -> None:
    mapping = volts(quantity="electrolyte_temperature", meter="temperature", unit=unit)
    assert values(decode(mapping, "110 F")) == [pytest.approx(43.3333333)]
    assert values(decode(mapping, "43 C")) == [pytest.approx(43.0)]


def test_a_lone_letter_is_never_guessed_elsewhere() -> None:
    kelvin = volts(quantity="electrolyte_temperature", meter="temperature", unit="K")
    assert reasons(decode(kelvin, "43 C")) == reasons(decode(kelvin, "110 F")) == ["wrong unit"]
    unknown = volts(quantity="electrolyte_temperature", meter="temperature", unit=None)
    assert reasons(decode(unknown, "43 C")) == ["wrong unit"]
    assert reasons(decode(volts(), "26 F")) == ["wrong unit"]


def test_new_unit_spellings_from_a_payload_are_bounded() -> None:
    routes = Routes([volts()])
    for number in range(100):
        letters = chr(97 + number // 26) + chr(97 + number % 26)
        routes.decode(Message("t", f"1 q{letters}".encode(), NOW))
    assert reasons(routes.decode(Message("t", b"1 kV", NOW))) == ["wrong unit"]
    assert values(routes.decode(Message("t", b"1", NOW))) == [1.0]


@pytest.mark.parametrize(("payload", "value"), [("ON", 1.0), ("off", 0.0), ("true", 1.0), ("0", 0.0), ("running", 1.0)])
def test_contacts_are_read_from_the_usual_words(payload: str, value: float) -> None:
    mapping = volts(quantity="fan", meter="fan", unit=None)
    assert values(decode(mapping, payload)) == [value]
    assert values(decode(volts(quantity="fan", unit=None, style="json", pointer="/s"), {"s": bool(value)})) == [value]


def test_contacts_with_words_of_their_own_take_only_those() -> None:
    mapping = volts(quantity="door", meter="door", unit=None, words=(("offen", 1.0), ("zu", 0.0)))
    assert values(decode(mapping, "Offen")) == [1.0]
    assert reasons(decode(mapping, "open")) == ["unknown word"]
    assert reasons(decode(mapping, "unavailable")) == ["unavailable"]


# ------------------------------------------------------------------------------ time and retained


@pytest.mark.parametrize(
    ("raw", "measured"),
    [
        (1795590000, 1795590000.0),
        (1795590000.25, 1795590000.25),
        ("1795590000", 1795590000.0),
        (1795590000250, 1795590000.25),
        ("2026-11-25T00:20:00Z", 1795566000.0),
        ("2026-11-25T01:20:00+01:00", 1795566000.0),
    ],
)
def test_the_meters_own_time_dates_the_reading(raw: object, measured: float) -> None:
    decoded = decode(volts(style="json", pointer="/v", time="/t"), {"v": 26, "t": raw}, retain=True)
    (reading,) = decoded.readings
    assert (reading.at, reading.measured_at, reading.retained) == (NOW, measured, False)
    assert (decoded.stamp, reading.stamp_off) == (measured, 0.0)


@pytest.mark.parametrize(
    "raw", [0, 12, NOW + 121, NOW - 31 * 86400, 1577836799, "2026-11-25T00:20:00", "soon", None, True, [], 10**400]
)
def test_F14_a_clock_outside_the_tolerance_gives_way_to_arrival(raw: object) -> None:
    decoded = decode(volts(style="json", pointer="/v", time="/t"), {"v": 26, "t": raw}, retain=True)
    (reading,) = decoded.readings
    assert (reading.measured_at, reading.retained) == (NOW, True)
    assert decoded.stamp is None and reading.stamp_off != 0.0, "and the owner is told: meter-clock-wrong"


def test_F10_a_retained_value_without_a_time_is_marked() -> None:
    assert decode(volts(), "26.3", retain=True).readings[0].retained


# ---------------------------------------------------------------------------------------- routing


def test_one_document_feeds_many_mappings_and_a_missing_one_does_not_spoil_the_others() -> None:
    routes = Routes(
        [
            volts(style="json", pointer="/dc/mv", unit="mV", time="/t"),
            volts(style="json", pointer="/dc/a", unit="A", quantity="current", meter="current", time="/t"),
            volts(style="json", pointer="/p", unit="W", quantity="power", meter="power", time="/t"),
        ]
    )
    decoded = routes.decode(Message("t", b'{"dc":{"mv":26310,"a":9.5},"t":1795590000}', NOW))
    assert [(r.meter, round(r.value, 6)) for r in decoded.readings] == [("voltage", 26.31), ("current", 9.5)]
    assert [r.reason for r in decoded.rejected] == ["missing"]


def test_stamped_topics_go_to_the_history_session_and_the_others_stay_live() -> None:
    routes = Routes([volts(topic="a"), volts(topic="b", style="json", pointer="/v", time="/t")])
    assert (routes.live_topics, routes.history_topics) == (("a",), ("b",))


def test_a_topic_nobody_mapped_is_nothing() -> None:
    assert Routes([volts()]).decode(Message("other", b"26", NOW)) == Decoded()


def test_one_topic_in_two_styles_is_refused() -> None:
    with pytest.raises(ValueError, match="one style per topic"):
        Routes([volts(), volts(style="json", pointer="/v")])


# ------------------------------------------------------------------------------------------ Homie

HOMIE = "homie/5/shunt/dc/voltage"
DESCRIPTION = {
    "homie": "5.0",
    "version": 7,
    "nodes": {"dc": {"properties": {"voltage": {"datatype": "float", "unit": "mV"}, "on": {"datatype": "boolean"}}}},
}


def describe(routes: Routes, description: object, at: float = NOW) -> Decoded:
    return routes.decode(Message("homie/5/shunt/$description", json.dumps(description).encode(), at, retain=True))


def test_a_homie_property_takes_its_unit_from_the_description() -> None:
    routes = Routes([volts(topic=HOMIE, style="homie", unit=None)])
    assert routes.live_topics == ("homie/5/shunt/$description", HOMIE)
    describe(routes, DESCRIPTION)
    assert values(routes.decode(Message(HOMIE, b"26310", NOW))) == [pytest.approx(26.31)]


def test_a_homie_value_that_came_before_its_description_waits_for_it() -> None:
    routes = Routes([volts(topic=HOMIE, style="homie", unit=None)])
    assert reasons(routes.decode(Message(HOMIE, b"26310", NOW, retain=True))) == ["no description yet"]
    (reading,) = describe(routes, DESCRIPTION, NOW + 2).readings
    assert (reading.at, reading.measured_at, reading.retained) == (NOW + 2, NOW, True)
    assert describe(routes, DESCRIPTION, NOW + 3).readings == ()


def test_a_new_description_changes_the_unit_and_a_broken_one_changes_nothing() -> None:
    routes = Routes([volts(topic=HOMIE, style="homie", unit=None)])
    describe(routes, DESCRIPTION)
    assert describe(routes, []).rejected[0].reason == "not a Homie description"
    assert values(routes.decode(Message(HOMIE, b"26310", NOW))) == [pytest.approx(26.31)]
    in_volts = json.loads(json.dumps(DESCRIPTION).replace("mV", "V"))
    describe(routes, in_volts)
    assert values(routes.decode(Message(HOMIE, b"26.31", NOW))) == [26.31]


@pytest.mark.parametrize(
    ("properties", "reason"),
    [
        ({}, "not in the description"),
        ({"voltage": {"datatype": "string"}}, "wrong datatype"),
        ({"voltage": {"datatype": "float"}}, "no unit"),
        ({"voltage": {"datatype": "float", "unit": "°C"}}, "wrong unit"),
        ({"voltage": 5}, "not in the description"),
    ],
)
def test_a_description_that_does_not_fit_is_a_reason(properties: object, reason: str) -> None:
    routes = Routes([volts(topic=HOMIE, style="homie", unit=None)])
    describe(routes, {"nodes": {"dc": {"properties": properties}}})
    assert reasons(routes.decode(Message(HOMIE, b"26", NOW))) == [reason]


def test_a_homie_boolean_is_a_contact() -> None:
    routes = Routes([volts(topic="homie/5/shunt/dc/on", style="homie", unit=None, quantity="fan", meter="fan")])
    describe(routes, DESCRIPTION)
    assert values(routes.decode(Message("homie/5/shunt/dc/on", b"true", NOW))) == [1.0]


def test_a_topic_that_is_no_homie_5_property_is_refused() -> None:
    with pytest.raises(ValueError, match="homie/5/DEVICE/NODE/PROPERTY"):
        Routes([volts(topic="homie/shunt/dc/voltage", style="homie")])


# ------------------------------------------------------------------------------------------ SenML


def test_a_senml_record_brings_its_unit_and_the_name_includes_the_base_name() -> None:
    mapping = volts(style="senml", name="shunt/v", unit=None)
    assert values(decode(mapping, [{"bn": "shunt/", "n": "v", "u": "V", "v": 26.31}])) == [26.31]
    assert reasons(decode(mapping, [{"bn": "shunt/", "n": "v", "u": "Cel", "v": 26.31}])) == ["wrong unit"]
    assert reasons(decode(mapping, [{"bn": "shunt/", "n": "v", "v": 26.31}])) == ["no unit"]
    assert reasons(decode(mapping, [{"bn": "shunt/", "n": "i", "u": "A", "v": 26.31}])) == ["missing"]


def test_a_senml_contact_is_a_boolean_or_a_ratio() -> None:
    mapping = volts(style="senml", name="fan", unit=None, quantity="fan", meter="fan")
    assert values(decode(mapping, [{"n": "fan", "vb": True}])) == [1.0]
    assert values(decode(mapping, [{"n": "fan", "u": "/", "v": 0}])) == [0.0]
