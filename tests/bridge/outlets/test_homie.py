"""The Homie tree: only what changed, commands fresh and not retained, nothing orphaned."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import SecretStr

from bridge.intake.hand_record import parse_record
from bridge.message import Message
from bridge.outlets.homie import HomieOutlet
from bridge.settings import BrokerSettings, Cabin, Deadband, InfluxSettings
from rules.bank.model import Bank, Block, Meter, Relay
from rules.events import Command, Derived, Event, Flag, HandReading, Reading, Tick
from rules.step import initial, measured, step

BANK = Bank("north", ((Block("N1", 3, 200.0),),), relay=Relay())
NORTH = "homie/5/tarn-hut-north"
AT = 1795590000.0


class Sent(list[tuple[str, str, bool]]):
    def publish(self, topic: str, payload: bytes | str, retain: bool = True, qos: int = 1) -> None:
        self.append((topic, payload.decode() if isinstance(payload, bytes) else payload, retain))


@pytest.fixture
def sent() -> Sent:
    return Sent()


@pytest.fixture
def outlet(sent: Sent) -> HomieOutlet:
    made = HomieOutlet(Cabin("tarn-hut", {"north": BANK}), sent.publish)
    made.announce()
    made.update(Derived("north", AT, voltage=26.31))
    sent.clear()
    return made


def ask(path: str, payload: str, **more: Any) -> Message:
    return Message(f"{NORTH}/{path}/set", payload.encode(), AT, **more)


def refusals(sent: Sent) -> list[dict[str, Any]]:
    """All that was sent is this, and none of it is kept by the broker."""
    assert {(topic, retain) for topic, _, retain in sent} <= {(f"{NORTH}/revival/refused", False)}
    return [json.loads(payload) for _, payload, _ in sent]


def test_only_what_changed_is_published_and_not_what_rounds_to_the_same(outlet: HomieOutlet, sent: Sent) -> None:
    outlet.update(Derived("north", AT + 1, voltage=26.3104))
    assert sent == []
    outlet.update(Derived("north", AT + 2, voltage=26.32))
    assert sent == [(f"{NORTH}/electrical/voltage", "26.32", True)]


def test_what_meters_show_goes_out_between_two_states_and_adds_none(sent: Sent) -> None:
    """A reading is on the bus with the next second; states, which the journal keeps, come as seldom as before."""
    bank = Bank("north", ((Block("N1", 6, 200.0),),), meters=(Meter("voltage", "voltage"), Meter("current", "current")))
    outlet = HomieOutlet(Cabin("tarn-hut", {"north": bank}), sent.publish)
    outlet.announce()
    memory, states = initial(), 0
    for second in range(60):
        shown = {"voltage": 12.6 + 0.05 * second, "current": 5.0 + 0.01 * second}
        for name, value in shown.items():
            at = AT + second - 0.5
            memory, outcomes = step(bank, memory, Reading("north", name, value, at, at))
        memory, outcomes = step(bank, memory, Tick(AT + second))
        for state in (each for each in outcomes if isinstance(each, Derived)):
            states += 1
            outlet.update(state)
        outlet.measured("north", measured(bank, memory, AT + second))
        if second > 1:
            values = {topic: payload for topic, payload, _ in sent}
            assert values[f"{NORTH}/electrical/voltage"] == f"{shown['voltage']:.2f}"
            assert abs(float(values[f"{NORTH}/electrical/current"]) - shown["current"]) <= 0.1 + 0.005
    told = [payload for topic, payload, _ in sent if topic.endswith("electrical/current")]
    assert states < 12 and len(told) < 15, "a current that creeps within its deadband waits"


def test_a_state_takes_back_what_was_shown_before_it(outlet: HomieOutlet, sent: Sent) -> None:
    outlet.measured("north", {"voltage": 26.40, "temperature": 31.0})
    outlet.measured("north", {"voltage": 26.41, "temperature": None})
    outlet.update(Derived("north", AT + 1, voltage=26.31))
    thermal, volts = f"{NORTH}/thermal/temperature", f"{NORTH}/electrical/voltage"
    assert sent == [(volts, "26.40", True), (thermal, "31.0", True), (thermal, "", True), (volts, "26.31", True)]


def test_the_deadbands_are_the_cabin_files(sent: Sent) -> None:
    cabin = Cabin("tarn-hut", {"north": BANK}, deadband=Deadband(volts=0.5, amps=2.0, degrees=1.0))
    outlet = HomieOutlet(cabin, sent.publish)
    outlet.announce()
    outlet.update(Derived("north", AT, voltage=26.0, current=10.0, temperature=20.0))
    sent.clear()
    outlet.measured("north", {"voltage": 26.4, "current": 11.9, "temperature": 20.9})
    assert sent == []
    outlet.measured("north", {"voltage": 26.6, "current": 12.1, "temperature": 21.1})
    assert [payload for _, payload, _ in sent] == ["26.60", "12.10", "21.1"]


def test_an_unknown_value_clears_its_topic(outlet: HomieOutlet, sent: Sent) -> None:
    outlet.update(Derived("north", AT + 1))
    assert sent == [(f"{NORTH}/electrical/voltage", "", True)]


def test_a_flag_goes_up_and_down_with_its_boolean_its_json_and_its_alert(outlet: HomieOutlet, sent: Sent) -> None:
    flag = Flag("over-temperature", "hazard", AT, 44.0, 43.3, "degC", "two samples", "let it cool")
    outlet.update(Derived("north", AT + 1, voltage=26.31, flags=(flag,)))
    topics = {topic.removeprefix(NORTH + "/") for topic, _, _ in sent}
    assert topics == {"safety/flags", "safety/over-temperature", "$alert/over-temperature"}
    sent.clear()
    outlet.update(Derived("north", AT + 2, voltage=26.31))
    assert (f"{NORTH}/$alert/over-temperature", "", True) in sent
    assert (f"{NORTH}/safety/over-temperature", "false", True) in sent


@pytest.mark.parametrize(
    ("path", "payload", "name"),
    [
        ("revival/command", "start", "start"),
        ("revival/command", "resume", "resume"),
        ("revival/command", "abandon", "abandon"),
        ("safety/reset", "true", "reset"),
        ("safety/prove", "true", "prove"),
    ],
)
def test_a_fresh_command_is_taken_and_echoed_without_retain_once_it_is_done(
    outlet: HomieOutlet, sent: Sent, path: str, payload: str, name: str
) -> None:
    message = ask(path, payload)
    assert outlet.command(message, AT + 1) == Command("north", name, AT, "bus")
    assert sent == []
    outlet.done(message)
    assert sent == [(f"{NORTH}/{path}", payload, False)]
    sent.clear()
    outlet.refused(message, "tripped: reset first")
    assert refusals(sent) == [{"what": name, "why": "tripped: reset first", "when": "2026-11-25T07:00:00Z"}]


def test_the_relays_own_auto_off_is_tried_over_the_bus_by_a_button_of_its_own(outlet: HomieOutlet, sent: Sent) -> None:
    message = ask("safety/prove-auto-off", "true")
    timed = replace(BANK, relay=Relay(reports_state=True, auto_off=90.0))
    made = HomieOutlet(Cabin("tarn-hut", {"north": timed}), sent.publish)
    assert made.command(message, AT + 1) == Command("north", "prove", AT, "bus", {"auto_off": True})
    assert message.topic in made.command_topics() and message.topic not in outlet.command_topics()


def test_f35_a_retained_or_old_command_is_ignored_and_logged(
    outlet: HomieOutlet, sent: Sent, caplog: pytest.LogCaptureFixture
) -> None:
    assert outlet.command(ask("safety/reset", "true", retain=True), AT) is None
    assert outlet.command(ask("safety/reset", "true"), AT + 10.5) is None
    assert outlet.command(ask("safety/reset", "true"), AT + 9.5) is not None
    assert "retained" in caplog.text and "10 s old" in caplog.text


@pytest.mark.parametrize("name", ["reset", "resume"])
def test_f35_on_3_1_1_reset_and_resume_do_not_come_over_the_bus(sent: Sent, name: str) -> None:
    outlet = HomieOutlet(Cabin("tarn-hut", {"north": BANK}, BrokerSettings(protocol="3.1.1")), sent.publish)
    message = ask("safety/reset", "true") if name == "reset" else ask("revival/command", "resume")
    refused = outlet.command(message, AT)
    assert isinstance(refused, Event) and refused.kind == "refused"
    assert isinstance(outlet.command(ask("revival/command", "start"), AT), Command)


@pytest.mark.parametrize(
    ("path", "payload"),
    [("revival/command", "START"), ("safety/reset", "false"), ("safety/reset", "1"), ("revival/command", "\udcff")],
)
def test_a_wrong_command_is_refused_with_its_reason_where_it_came_from(
    outlet: HomieOutlet, sent: Sent, path: str, payload: str
) -> None:
    message = Message(f"{NORTH}/{path}/set", payload.encode("utf-8", "surrogateescape"), AT)
    refused = outlet.command(message, AT)
    assert isinstance(refused, Event) and refused.kind == "refused" and refused.detail["why"]
    (told,) = refusals(sent)
    assert (told["what"], told["why"]) == (path.partition("/")[2], refused.detail["why"])


def test_the_checklist_is_confirmed_by_name_and_button_together(outlet: HomieOutlet, sent: Sent) -> None:
    confirm, by = ask("revival/checklist-confirm", "true"), ask("revival/checklist-by", "Ada")
    assert isinstance(outlet.command(confirm, AT), Event), "nobody's name"
    sent.clear()
    assert outlet.command(by, AT) is None, "a name alone confirms nothing"
    assert sent == [(f"{NORTH}/revival/checklist-by", "Ada", False)]
    sent.clear()
    assert outlet.command(confirm, AT) == Command("north", "checklist", AT, "bus", {"name": "Ada"})
    outlet.done(confirm)
    assert sent == [
        (f"{NORTH}/revival/checklist-confirm", "true", False),
        (f"{NORTH}/revival/checklist-by", "\0", False),
    ]
    assert isinstance(outlet.command(confirm, AT), Event), "once for each name"


def test_a_name_written_long_ago_confirms_nothing(outlet: HomieOutlet) -> None:
    outlet.command(ask("revival/checklist-by", "Ada"), AT)
    for later, kind in ((599.0, Command), (601.0, Event)):
        confirm = ask("revival/checklist-confirm", "true")._replace(at=AT + later)
        assert isinstance(outlet.command(confirm, AT + later), kind)


@pytest.mark.parametrize("name", ["A" * 81, "a\x1b[2Jb"])
def test_a_name_that_is_none_is_refused(outlet: HomieOutlet, sent: Sent, name: str) -> None:
    told = outlet.command(ask("revival/checklist-by", name), AT)
    assert isinstance(told, Event) and "80 printable" in refusals(sent)[0]["why"]


def test_what_is_not_kept_goes_out_at_qos_0_and_what_is_kept_at_1(outlet: HomieOutlet) -> None:
    """Homie 5, "QoS and retained messages": non-retained values at QoS 0."""
    seen: set[tuple[bool, int]] = set()

    def publish(topic: str, payload: bytes | str, retain: bool = True, qos: int = 1) -> None:
        seen.add((retain, qos))

    made = HomieOutlet(Cabin("tarn-hut", {"north": BANK}), publish)
    made.announce()
    made.update(Derived("north", AT, voltage=26.31))
    start = ask("revival/command", "start")
    made.command(start, AT)
    made.done(start)
    made.refused(start, "no")
    made.command(ask("revival/checklist-by", "Ada"), AT)
    assert seen == {(True, 1), (False, 0)}


def descriptions(outlet: HomieOutlet, sent: Sent) -> dict[str, dict[str, Any]]:
    sent.clear()
    outlet.announce()
    return {topic: json.loads(payload) for topic, payload, _ in sent if topic.endswith("$description")}


def test_a_child_names_root_and_parent(outlet: HomieOutlet, sent: Sent) -> None:
    """Homie 5, "Device attributes": `root` on every child; `parent` may be left out, and is not."""
    found = descriptions(outlet, sent)
    north, root = found[f"{NORTH}/$description"], found["homie/5/tarn-hut/$description"]
    assert (north["root"], north["parent"], root["children"]) == ("tarn-hut", "tarn-hut", ["tarn-hut-north"])
    assert "root" not in root and "parent" not in root


def test_a_version_rises_with_every_change_and_with_nothing_else(sent: Sent) -> None:
    """Homie 5: `version` is an integer (64 bits) that is higher whenever the description has changed."""
    known: dict[str, Any] = {}
    last = -1
    for turn, cells in enumerate((3, 3, 6, 3)):
        meters = (Meter("voltage", "voltage"),) if cells == 6 else ()
        bank = Bank("north", ((Block("N1", cells, 200.0),),), meters=meters)
        outlet = HomieOutlet(Cabin("tarn-hut", {"north": bank}), sent.publish)
        # The clock stands still, or falls back: a version rises all the same.
        known = json.loads(json.dumps(outlet.number(known, AT - 100.0 * turn)))
        version = descriptions(outlet, sent)[f"{NORTH}/$description"]["version"]
        assert version == last if turn == 1 else version > last
        assert 2**32 < version < 2**63, "above every checksum that stood there before"
        last = version
    assert known["tarn-hut"][1] == descriptions(outlet, sent)["homie/5/tarn-hut/$description"]["version"]


def test_other_topics_and_cleared_ones_are_nobodys_command(outlet: HomieOutlet) -> None:
    assert outlet.command(Message("homie/5/elsewhere/revival/command/set", b"start", AT)) is None
    assert outlet.command(ask("revival/command", "")) is None


def test_f21_a_late_will_is_answered_with_ready(outlet: HomieOutlet, sent: Sent) -> None:
    assert outlet.command(Message("homie/5/tarn-hut/$state", b"lost", AT), AT) is None
    assert sent == [("homie/5/tarn-hut/$state", "ready", True)]
    outlet.disconnect()
    sent.clear()
    outlet.command(Message("homie/5/tarn-hut/$state", b"lost", AT), AT)
    assert sent == []


def test_f55_topics_of_a_removed_bank_are_cleared_state_first(outlet: HomieOutlet, sent: Sent) -> None:
    both = HomieOutlet(Cabin("tarn-hut", {"north": BANK, "south": Bank("south", BANK.strings)}), sent.publish)
    record = both.announced()
    sent.clear()
    assert outlet.retire(record) > 80
    assert sent[0] == ("homie/5/tarn-hut-south/$state", "", True)
    assert all(payload == "" and retain and "tarn-hut-south" in topic for topic, payload, retain in sent)
    assert outlet.retire(outlet.announced()) == 0


def test_the_announcement_record_names_every_retained_topic(sent: Sent) -> None:
    outlet = HomieOutlet(Cabin("tarn-hut", {"north": BANK}), sent.publish)
    outlet.announce()
    outlet.update(Derived("north", AT, voltage=26.0))
    outlet.health(AT, 1.0, True)
    assert {topic for topic, _, retain in sent if retain} == set(outlet.announced())


def test_health_is_published_at_most_every_half_minute_but_a_lost_clock_at_once(
    outlet: HomieOutlet, sent: Sent
) -> None:
    outlet.health(AT, 1.0, True)
    sent.clear()
    outlet.health(AT + 1, 9.0, True)
    assert sent == []
    outlet.health(AT + 2, 9.0, False)
    assert ("homie/5/tarn-hut/health/clock-trusted", "false", True) in sent


def test_how_the_database_is_stands_in_the_health_of_the_bridge_where_it_has_one(
    outlet: HomieOutlet, sent: Sent
) -> None:
    outlet.health(AT, 1.0, True, {"state": "unreachable", "backlog": 51})
    assert not [topic for topic, _, _ in sent if "database" in topic], "this cabin has none"
    settings = InfluxSettings("http://localhost:8086", "hut", "revival", SecretStr("no-token-here"))
    with_one = HomieOutlet(Cabin("tarn-hut", {"north": BANK}, influx=settings), sent.publish)
    with_one.health(AT, 1.0, True, {"state": "unreachable", "backlog": 51})
    told = {topic: payload for topic, payload, _ in sent if "database" in topic}
    health = "homie/5/tarn-hut/health"
    assert told == {f"{health}/database": "unreachable", f"{health}/database-backlog": "51"}
    assert set(told) <= set(with_one.announced())


def test_a_record_over_the_bus_becomes_a_hand_reading(outlet: HomieOutlet) -> None:
    payload = {
        "kind": "gravity",
        "values": {"N1.1": 1.265, "N1.2": 1250, "N1.3": "low"},
        "temperature": 31,
        "taken_at": "2026-11-25T07:59:00+01:00",
        "by": "Ada",
        "note": "all gassing",
    }
    reading = outlet.command(ask("cells/record", json.dumps(payload)), AT)
    assert isinstance(reading, HandReading)
    assert reading.values == {"N1.1": 1.265, "N1.2": 1.25, "N1.3": "low"}
    assert (reading.temperature, reading.by, reading.note, reading.undo) == (31.0, "Ada", "all gassing", False)
    assert reading.at == AT and reading.taken_at == AT - 60.0


@pytest.mark.parametrize(
    ("kind", "written", "value"),
    [
        ("temperature", "86 degF", 30.0),
        ("temperature", "30,5 °C", 30.5),
        ("temperature", "86F", 30.0),
        ("level", "0.5 inch", 12.7),
        ("level", "below-plates", "below-plates"),
        ("voltage", "25100 mV", 25.1),
        ("string_amps", "-1.5 A", -1.5),
        ("water", "0.3 l", 300.0),
        ("water", "full", "full"),
        ("seen", "3 of 4", "3 of 4"),
    ],
)
def test_a_record_may_say_its_units(kind: str, written: str, value: float | str) -> None:
    told = json.dumps({"kind": kind, "values": {"": written}, "temperature": "86 degF"})
    reading = parse_record("north", AT, told.encode())
    assert reading.values[""] == (pytest.approx(value) if isinstance(value, float) else value)
    assert reading.temperature == pytest.approx(30.0)


def test_a_charger_changed_over_the_bus_may_say_its_units() -> None:
    told = b'{"kind": "charger", "values": {"volts": "32 V", "amps": "50A"}}'
    assert parse_record("north", AT, told).values == {"volts": 32.0, "amps": 50.0}


@pytest.mark.parametrize(
    ("payload", "why"),
    [
        ('{"kind":"level","values":{"N1":"10 V"}}', "is no length"),
        ('{"kind":"temperature","values":{"":"25"}}', "does not say its unit"),
        ('{"kind":"gravity","values":{"N1.1":1.2},"temperature":"warm"}', "warm"),
        ("", "JSON"),
        ("[]", "object"),
        ("{", "JSON"),
        ('{"kind":"gravity","kind":"level"}', "twice"),
        ('{"kind":"wish"}', "none of"),
        ('{"kind":"level","colour":1}', "unknown key"),
        ('{"kind":"level","values":{"N1":NaN}}', "NaN"),
        ('{"kind":"level","values":{"N1":1e400}}', "too large"),
        ('{"kind":"level","values":{"N1":true}}', "number"),
        ('{"kind":"level","values":{"N1":[1]}}', "number"),
        ('{"kind":"level","values":[1]}', "where"),
        ('{"kind":"gravity","values":{"N1":3.0}}', "gravity"),
        ('{"kind":"note","taken_at":"yesterday"}', "yesterday"),
        ('{"kind":"note","taken_at":"2026-11-25T07:59:00"}', "offset"),
        ('{"kind":"note","taken_at":99999999999}', "future"),
        ('{"kind":"note","undo":"yes"}', "undo"),
        ('{"kind":"note","note":7}', "text"),
        ("[" * 100_000, "at most"),
        ("[" * 16_000, "deep"),
    ],
)
def test_a_wrong_record_is_refused_in_words(payload: str, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        parse_record("north", AT, payload.encode())


@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_no_bytes_whatever_do_more_than_be_refused(payload: bytes) -> None:
    try:
        parse_record("north", AT, payload)
    except ValueError as error:
        assert str(error)
