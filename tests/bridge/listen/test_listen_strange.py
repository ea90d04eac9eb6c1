"""`revival listen` on traffic that was made up to mislead it: right, or honestly doubtful, never wrong and sure."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest

from bridge import config
from bridge.listen.collect import Collector
from bridge.listen.evidence import HALF_BELIEVED
from bridge.listen.guess import SURE_ENOUGH, Guess
from bridge.listen.names import words_of
from bridge.listen.relays import relays
from bridge.listen.write import OFFERED, Found, cabin_file, recognise, unrecognised
from bridge.message import Message
from bridge.settings import BrokerSettings

NOW = 1795600000.0


def say(topic: str, *payloads: object, retain: bool = False) -> list[Message]:
    return [
        Message(
            topic,
            (payload if isinstance(payload, str) else json.dumps(payload)).encode(),
            NOW + 2.0 * place,
            retain,
        )
        for place, payload in enumerate(payloads)
    ]


def wander(middle: float, digits: int = 2, count: int = 30) -> list[str]:
    """Values as a living meter shows them."""
    rng = random.Random(str(middle))
    return [f"{middle * (1.0 + rng.uniform(-0.002, 0.002)):.{digits}f}" for _ in range(count)]


def heard(messages: list[Message]) -> tuple[Collector, list[Found]]:
    collector = Collector()
    for message in messages:
        collector.take(message)
    return collector, recognise(collector.sources)


def only(messages: list[Message]) -> Guess:
    _, (bank,) = heard(messages)
    (one,) = bank.guesses
    return one


@pytest.mark.parametrize(
    ("topic", "middle", "quantity", "unit", "truth"),
    [
        ("hut/bank/voltage_mV", 29410.0, "voltage", "mV", 29.41),
        ("hut/bank/volts_dc", 29.41, "voltage", "V", 29.41),
        ("hut/bank/vbat", 25.2, "voltage", "V", 25.2),
        ("hut/bank/current_mA", 21410.0, "current", "mA", 21.41),
        ("hut/bank/currentmA", 21410.0, "current", "mA", 21.41),
        ("hut/bank/power_kW", 0.63, "power", "kW", 630.0),
        ("hut/bank/temp_degF", 95.0, "electrolyte_temperature", "degF", 35.0),
        ("hut/bank/temp_f", 95.0, "electrolyte_temperature", "degF", 35.0),
        ("hut/bank/temperature_c", 35.0, "electrolyte_temperature", "degC", 35.0),
        ("hut/bank/tempC", 35.0, "electrolyte_temperature", "degC", 35.0),
        ("hut/inverter/ac_voltage", 230.0, "ac_voltage", "V", 230.0),
    ],
)
def test_units_in_names_are_believed_where_the_size_agrees(
    topic: str, middle: float, quantity: str, unit: str, truth: float
) -> None:
    one = only(say(topic, *wander(middle)))
    assert (one.quantity, one.unit) == (quantity, unit)
    # no voltage stands beside a current or a power to prove it, and mains are seldom those of the charger
    assert one.sure >= SURE_ENOUGH or quantity in {"current", "power", "ac_voltage"}
    assert one.value == pytest.approx(truth, rel=0.01)


@pytest.mark.parametrize(
    ("topic", "payloads", "why"),
    [
        ("hut/bank/current_ma", wander(42.0), "but is 42"),
        ("hut/bank/voltage_mv", wander(25.2), "fits a bank in volts"),
        ("hut/bank/power_kw", wander(640.0), "but is 6"),
        ("hut/bank/temp_c", wander(95.0), "but can 9"),
        ("hut/pv/voltage", wander(61.3), "named pv"),
        ("hut/charger/output/voltage", wander(28.0), "is it the bank's?"),
        ("hut/car/battery/voltage", wander(12.7), "named car"),
        ("hut/fridge/battery/temp", wander(4.0), "named fridge"),
        ("hut/bank/voltage", [f"{24.0 + 0.1 * n:.1f}" for n in range(12)], "by equal steps"),
        ("hut/bank/current", [str(200 + n) for n in range(12)], "a counter or a clock"),
        ("hut/bank/discharge_current", wander(4e9, 0), "cannot be"),
        ("hut/inverter/ac_voltage", wander(3.0), "is no mains"),
        ("hut/bank/current_page", wander(4.0), 'named "current"'),
        ("hut/bank/voltage", ["25.1 V", "25100 mV", "25.2 V"], "its unit changes: V, mV"),
        ("hut/probe/cell", ["95 °F", "35 °C"], "its unit changes"),
        (
            "hut/all",
            [{"name": "battery voltage", "value": 25.1}, {"name": "panel voltage", "value": 61.0}],
            None,
        ),
        (
            "hut/battery/voltage",
            [{"sensor": "u1", "value": 25.1}, {"sensor": "u2", "value": 12.5}],
            "several things speak through this place: u1, u2",
        ),
    ],
)
def test_what_contradicts_itself_is_doubtful_with_its_reason(
    topic: str, payloads: list[object], why: str | None
) -> None:
    _, (bank,) = heard(say(topic, *payloads))
    assert all(one.sure < SURE_ENOUGH for one in bank.guesses)
    if why is not None:
        assert why in "; ".join(bank.guesses[0].reasons)


def test_a_kept_message_alone_is_doubtful_for_nobody_knows_its_age() -> None:
    one = only(say("hut/bank/voltage", "25.1", retain=True))
    assert one.sure < SURE_ENOUGH and "of unknown age" in one.reasons[-1]


def test_a_value_that_never_changes_loses_trust_but_a_plain_unit_still_carries_it() -> None:
    named = only(say("hut/bank/u", *["25.1"] * 30))
    assert named.sure < SURE_ENOUGH and "does it live?" in named.reasons[-1]
    assert only(say("hut/bank/voltage", *["25.1 V"] * 30)).sure >= SURE_ENOUGH


def test_numbers_in_nested_arrays_and_strings_are_found_with_the_unit_beside_them() -> None:
    volts, amps = wander(29.4), wander(-21.0, 1)
    frames: list[object] = [
        {"ts": NOW + 2.0 * n, "ch": [[float(v), "V"], [float(a), "A"]], "text": f"{v} V"}
        for n, (v, a) in enumerate(zip(volts, amps, strict=True))
    ]
    _, (bank,) = heard(say("hut/frame", *frames))
    found = {(one.source.at, one.quantity, one.unit, one.sign, one.source.time) for one in bank.guesses}
    assert found == {
        ("/ch/0/0", "voltage", "V", "charging", "/ts"),
        ("/ch/1/0", "current", "A", "discharging", "/ts"),
        ("/text", "voltage", "V", "charging", "/ts"),
    }
    one = only(say("hut/x", *({"name": "battery voltage", "value": float(v) * 1000.0, "unit": "mV"} for v in volts)))
    assert (one.source.at, one.quantity, one.unit) == ("/value", "voltage", "mV")
    assert one.sure >= 0.95


def test_a_time_that_stands_still_is_not_the_readings_time() -> None:
    one = only(
        say("hut/bank", *({"boot": NOW - 60.0, "seen": NOW + 2.0 * n, "voltage": 25.0 + n % 3} for n in range(9)))
    )
    assert one.source.time == "/seen"


def test_bounds_counters_and_clocks_are_no_readings() -> None:
    noise = [
        *say("hut/alarm", {"voltage": {"low": 22.0, "high": 33.0}}, {"voltage": {"low": 22.0, "high": 33.0}}),
        *say("hut/charger/limits", {"voltage_max": 32.0, "current_max": 50}),
        *say("hut/charger/setpoint_voltage", "32.0"),
        *say("hut/meter/total_kWh", *wander(413.0, 3)),
        *say("hut/bank/voltage/last_seen", *(str(int(NOW) + 2 * n) for n in range(5))),
        *say("hut/bank/current_ms", *(str(int(1000 * NOW) + 2000 * n) for n in range(5))),
        *say("hut/box/hum", "44%"),
    ]
    assert heard(noise)[1] == [Found("bank", ())]


def test_one_bank_measured_twice_or_beside_its_panels_stays_one_bank() -> None:
    twice = say("hut/box/voltage_v", *wander(25.2)) + say("hut/box/voltage_mv", *wander(25200.0, 0))
    beside = say("hut/battery/voltage", *wander(25.2)) + say("hut/pv/voltage", *wander(61.0))
    limits = say("hut/b", *({"bank": {"u": float(v)}, "panel": {"u": 61.0}} for v in wander(25.2)))
    for messages in (twice, beside, limits):
        _, found = heard(messages)
        assert len(found) == 1 and found[0].name in {"bank", "battery"}
        assert sum(one.sure >= SURE_ENOUGH for one in found[0].guesses) == 1


def test_two_banks_in_one_document_are_told_apart() -> None:
    rows = [
        {"east": {"volts": float(v), "amps": 4.0 + n % 2}, "west": {"volts": float(v) - 0.4, "amps": 9.0 + n % 2}}
        for n, v in enumerate(wander(25.9))
    ]
    _, found = heard(say("hut/all", *rows))
    assert {bank.name: sorted(one.source.at for one in bank.guesses) for bank in found} == {
        "east": ["/east/amps", "/east/volts"],
        "west": ["/west/amps", "/west/volts"],
    }


def test_a_midpoint_that_is_not_half_of_the_bank_is_doubtful() -> None:
    for middle, sure in ((12.6, True), (24.9, False)):
        _, (bank,) = heard(say("hut/bank/voltage", *wander(25.2)) + say("hut/midpoint/voltage", *wander(middle)))
        (one,) = (one for one in bank.guesses if one.quantity == "midpoint_voltage")
        assert (one.sure >= SURE_ENOUGH) == sure


def test_a_power_without_a_unit_that_fits_as_kilowatts_is_kilowatts() -> None:
    messages = say("hut/bank/volts", *wander(26.0)) + say("hut/bank/amps", *wander(50.0)) + say("hut/bank/power", "1.3")
    _, (bank,) = heard(messages)
    (one,) = (one for one in bank.guesses if one.quantity == "power")
    assert one.unit == "kW" and "if it is kW" in "; ".join(one.reasons)


def test_milliamperes_and_watts_are_not_amperes_and_kilowatts_because_a_product_fits() -> None:
    messages = say("hut/bank/u", *wander(16.1)) + say("hut/bank/i", *wander(900.0)) + say("hut/bank/p", "14.5")
    _, (bank,) = heard(messages)
    (amps,) = (one for one in bank.guesses if one.quantity == "current")
    assert amps.sure < SURE_ENOUGH
    assert "A and kW, or mA and W?" in "; ".join(amps.reasons)


def test_digits_that_no_mapping_can_read_are_told_with_the_reason(tmp_path: Path) -> None:
    messages = say("hut/bank/voltage", "25.2") + say("hut/thousands/voltage", "25,200") + say("hut/all", "25.2:21.9:35")
    messages += say("hut/doc", {"u": "25_2"}) + say("hut/version", "1.2.3b")
    collector, found = heard(messages)
    text = cabin_file(found, BrokerSettings(), "", unrecognised(collector.sources, found), collector.unread)
    told = [line for line in text.splitlines() if line.startswith("#   ")]
    assert told == [
        "#   hut/thousands/voltage: 25,200: decimal comma",
        "#   hut/all: 25.2:21.9:35: not one number",
    ]
    (tmp_path / "cabin.toml").write_text(text)
    assert config.load(tmp_path / "cabin.toml").routes.live_topics == ("hut/bank/voltage",)


def charged(volts: str, amps: str) -> list[Message]:
    """A bank of 24 V whose charger steps down and up again, its volts and amps as plain topics."""
    flows = [20.0 if (place // 15) % 2 else 8.0 for place in range(60)]
    pairs = [(27.5 + 0.05 * flow + 0.003 * (place % 3), flow + 0.01 * (place % 4)) for place, flow in enumerate(flows)]
    return say(volts, *(f"{one:.2f}" for one, _ in pairs)) + say(amps, *(f"{flow:.2f}" for _, flow in pairs))


def by_place(messages: list[Message]) -> dict[str, Guess]:
    _, banks = heard(messages)
    return {f"{one.source.topic} {one.source.at}".strip(): one for bank in banks for one in bank.guesses}


def test_a_stamp_beside_a_value_does_not_take_its_unit_away() -> None:
    acid = [{"val": 87.1 + 0.1 * (n % 3), "unit": "F", "t": int(NOW) + 2 * n} for n in range(30)]
    (one,) = by_place(say("yard/cell3-acid", *acid)).values()
    # "F" on a number named after the acid are degrees, of the electrolyte though no name says temperature
    assert (one.quantity, one.unit, one.source.time) == ("electrolyte_temperature", "degF", "/t")
    assert one.sure >= SURE_ENOUGH
    assert one.value == pytest.approx(30.6, abs=0.2)  # (87.1 - 32) / 1.8 (published definition of the scale)


def test_acid_without_a_unit_is_asked_and_what_jumps_is_no_acid() -> None:
    (warm,) = by_place(say("boot/saeure/vorn", *wander(27.6, 1))).values()
    assert warm.quantity == "electrolyte_temperature"
    assert warm.sure < SURE_ENOUGH
    assert not by_place(say("boat/acid/fore", *(f"{27 + 9 * (n % 2)}" for n in range(30))))


def test_a_unit_in_a_topic_of_its_own_belongs_to_the_one_number_beside_it() -> None:
    alone = say("mirror/probe7/now", *wander(29.41)) + say("mirror/probe7/unit", "°C", retain=True)
    (one,) = by_place(alone).values()
    assert (one.quantity, one.unit) == ("electrolyte_temperature", "degC")
    collector, _ = heard(alone + say("mirror/probe7/value", *wander(3.1)))
    assert {source.unit for source in collector.sources} == {None}  # of which of the two? nobody says


def test_of_a_register_the_scaled_value_is_read_and_a_lone_count_in_the_unit_its_factor_makes() -> None:
    steps = [28.0 + 0.05 * (n % 7) for n in range(40)]
    volts = [
        {"reg": 40101, "bez": "BATTSPANNUNG", "roh": round(v * 100), "fak": 0.01, "eh": "V", "wert": round(v, 2)}
        for v in steps
    ]
    amps = [{"reg": 40102, "bez": "BATTLADESTROM", "roh": round(v * 8), "fak": 0.1, "eh": "A"} for v in steps]
    found = by_place(say("halle/hr/1", *volts) + say("halle/hr/2", *amps))
    assert {place: (one.quantity, one.unit) for place, one in found.items()} == {
        "halle/hr/1 /wert": ("voltage", "V"),
        "halle/hr/2 /roh": ("current", "dA"),
    }
    assert found["halle/hr/2 /roh"].value == pytest.approx(22.5, abs=0.2)


def test_a_whole_number_that_never_moves_in_a_document_is_no_voltage() -> None:
    found = by_place(say("works/bank", *[{"volt": 40101, "count": n % 3} for n in range(30)]))
    assert {place: one.sure < OFFERED for place, one in found.items()} == {"works/bank /volt": True}


def test_no_current_goes_live_without_a_bank_to_belong_to() -> None:
    """A drive's output beside its link of 560 V steps as a bank's current would; only a bank's voltage makes it one."""
    flows = [6.0 if (n // 12) % 2 else 2.0 for n in range(60)]
    drive = say("works/drive1/link_V", *(f"{561 - 3 * a:.0f}" for a in flows))
    drive += say(
        "works/drive1/out_A", *({"battery_current": a + 0.01 * (n % 3), "unit": "A"} for n, a in enumerate(flows))
    )
    assert all(one.sure < SURE_ENOUGH for one in by_place(drive).values())


def test_blocks_of_two_strings_are_two_strings_blocks() -> None:
    bank = charged("hut/battery/volts", "hut/battery/amps")
    for letter in "AB":
        for block in range(1, 5):
            topic = f"hut/battery/string{letter}/block{block}/volts"
            bank += say(topic, *(f"{7.0 + 0.01 * block + 0.01 * (n % 3):.2f}" for n in range(60)))
    _, (found,) = heard(bank)
    parts = {one.source.topic[12:26]: one.part for one in found.guesses if one.quantity == "block_voltage"}
    assert parts == {f"string{a}/block{n}": f"{a}{n}" for a in "AB" for n in range(1, 5)}
    assert (found.shape.strings, found.shape.per_string, found.shape.cells) == (2, 4, 3)


def test_glued_german_names_are_taken_apart() -> None:
    assert words_of("STAPLERBATTLADESTROM") == ["stapler", "batt", "lade", "strom"]
    assert words_of("LADERAUMLUFTTEMP") == ["laderaum", "luft", "temp"]
    assert words_of("STAPLERBATTSAEURETEMP") == ["stapler", "batt", "saeure", "temp"]


def test_weather_is_not_the_air_around_the_bank() -> None:
    bank = charged("yard/battery/volts", "yard/battery/amps")
    weather = by_place(bank + say("yard/outdoor_temperature", *(f"{6 + 0.1 * (n % 3):.1f} degC" for n in range(60))))
    assert weather["yard/outdoor_temperature"].sure < SURE_ENOUGH
    assert weather["yard/battery/volts"].sure >= SURE_ENOUGH


@pytest.mark.parametrize(
    "topic",
    [
        "yard/weather/temperature", "hut/garden/temp", "hut/roof/temperature", "hut/balcony_temp", "hut/outside/temp",
        "hut/wetter/temperatur", "hut/dach/temperatur", "hut/jardin/temperature", "hut/balcon/temperatura",
        "hut/tejado/temperatura", "hut/giardino/temperatura", "hut/tuin/temperatuur", "hut/ogrod/temperatura",
        "hut/двор/температура",
    ],
)  # fmt: skip
def test_what_hangs_outside_by_its_name_is_at_most_a_comment(topic: str) -> None:
    outside = say(topic, *(f"{6 + 0.1 * (n % 3):.1f} degC" for n in range(60)))
    one = by_place([*charged("hut/battery/volts", "hut/battery/amps"), *outside])[topic]
    assert one.quantity == "ambient_temperature" and one.sure < HALF_BELIEVED, one


def test_a_thermometer_beside_a_bank_that_stands_in_the_yard_itself_is_asked_about_as_before() -> None:
    beside = say("yard/shed/temperature", *(f"{16 + 0.1 * (n % 3):.1f}" for n in range(60)))
    one = by_place([*charged("yard/battery/volts", "yard/battery/amps"), *beside])["yard/shed/temperature"]
    assert one.sure >= HALF_BELIEVED or one.quantity == "ambient_temperature"
    assert "outdoors" not in {evidence.name for evidence in one.evidence}


def test_a_battery_at_rest_does_not_hide_the_bank_that_is_charged() -> None:
    other = say("boat/crank_battery/volts", *wander(12.73, count=60)) + say(
        "boat/crank_battery/amps", *wander(-0.15, count=60)
    )
    found = by_place(charged("boat/traction/volts", "boat/traction/amps") + other)
    assert found["boat/traction/volts"].sure >= SURE_ENOUGH
    assert found["boat/traction/amps"].sure >= SURE_ENOUGH
    # what steps and is followed by nothing remains a stranger beside a battery that is called one
    still = say("boat/lamp/volts", *wander(26.1, count=60)) + charged("boat/other", "boat/lamp/amps")[60:]
    assert by_place(still + other)["boat/lamp/volts"].sure < SURE_ENOUGH


def test_volts_amps_and_watts_tell_themselves_by_their_product_on_charge() -> None:
    flows = [20.0 if (place // 15) % 2 else 8.0 for place in range(60)]
    rows = [(27.5 + 0.05 * a + 0.003 * (n % 3), a + 0.01 * (n % 4)) for n, a in enumerate(flows)]
    bank = [
        {"x1": round(v, 2), "x2": round(-a, 2), "x3": round(-v * a, 1), "x4": n % 7} for n, (v, a) in enumerate(rows)
    ]
    found = by_place(say("barn/m", *bank))
    assert {place[-2:]: (one.quantity, one.sign) for place, one in found.items()} == {
        "x1": ("voltage", "charging"),
        "x2": ("current", "discharging"),
        "x3": ("power", "discharging"),
    }
    # a supply of 24 V whose volts stand still while its load steps has a product too, and is no bank
    supply = [{"x1": 24.02, "x2": round(a, 2), "x3": round(24.02 * a, 1)} for _, a in rows]
    assert not by_place(say("barn/supply", *supply))


def test_a_chargers_contactor_that_only_tells_its_state_is_offered_without_an_order() -> None:
    collector, _ = heard(say("site/charger/contactor", *["closed"] * 5) + say("site/lamp/contactor", *["closed"] * 5))
    (one,) = relays(collector.switches)
    assert (one.topic, one.state_topic, one.cut, one.allow) == ("", "site/charger/contactor", "open", "closed")


def test_of_two_banks_registers_the_charged_one_has_the_amps_that_it_moves_with() -> None:
    """Each register is a place of its own, so nearness says nothing: volts that move as the amps do are the bank."""
    charge = charged("works/hr/1/battery_volts", "works/hr/2/battery_amps")
    spare = say("works/hr/3/battery_volts", *wander(25.46, count=60))
    found = by_place(spare + charge)
    assert found["works/hr/1/battery_volts"].sure >= SURE_ENOUGH
    assert found["works/hr/2/battery_amps"].sure >= SURE_ENOUGH
    assert found["works/hr/3/battery_volts"].sure < SURE_ENOUGH
