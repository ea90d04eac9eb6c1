"""The Homie tree: only what changed, commands fresh and not retained, nothing orphaned."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.intake.hand_record import parse_record
from bridge.message import Message
from bridge.outlets.homie import HomieOutlet
from bridge.settings import BrokerSettings, Cabin
from rules.bank.model import Bank, Block, Relay
from rules.events import Command, Derived, Event, Flag, HandReading

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


def ask(path: str, payload: str, **more) -> Message:
    return Message(f"{NORTH}/{path}/set", payload.encode(), AT, **more)


def test_only_what_changed_is_published_and_not_what_rounds_to_the_same(outlet, sent) -> None:
    outlet.update(Derived("north", AT + 1, voltage=26.3104))
    assert sent == []
    outlet.update(Derived("north", AT + 2, voltage=26.32))
    assert sent == [(f"{NORTH}/electrical/voltage", "26.32", True)]


def test_an_unknown_value_clears_its_topic(outlet, sent) -> None:
    outlet.update(Derived("north", AT + 1))
    assert sent == [(f"{NORTH}/electrical/voltage", "", True)]


def test_a_flag_goes_up_and_down_with_its_boolean_its_json_and_its_alert(outlet, sent) -> None:
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
def test_a_fresh_command_is_taken_and_echoed_without_retain_once_it_is_done(outlet, sent, path, payload, name) -> None:
    message = ask(path, payload)
    assert outlet.command(message, AT + 1) == Command("north", name, AT, "bus")
    assert sent == []
    outlet.done(message)
    assert sent == [(f"{NORTH}/{path}", payload, False)]


def test_f35_a_retained_or_old_command_is_ignored_and_logged(outlet, sent, caplog) -> None:
    assert outlet.command(ask("safety/reset", "true", retain=True), AT) is None
    assert outlet.command(ask("safety/reset", "true"), AT + 10.5) is None
    assert outlet.command(ask("safety/reset", "true"), AT + 9.5) is not None
    assert "retained" in caplog.text and "10 s old" in caplog.text


@pytest.mark.parametrize("name", ["reset", "resume"])
def test_f35_on_3_1_1_reset_and_resume_do_not_come_over_the_bus(sent, name) -> None:
    outlet = HomieOutlet(Cabin("tarn-hut", {"north": BANK}, BrokerSettings(protocol="3.1.1")), sent.publish)
    message = ask("safety/reset", "true") if name == "reset" else ask("revival/command", "resume")
    refused = outlet.command(message, AT)
    assert isinstance(refused, Event) and refused.kind == "refused"
    assert isinstance(outlet.command(ask("revival/command", "start"), AT), Command)


@pytest.mark.parametrize(
    ("path", "payload"),
    [("revival/command", "START"), ("safety/reset", "false"), ("safety/reset", "1"), ("revival/command", "\udcff")],
)
def test_a_wrong_command_is_refused_with_its_reason(outlet, path, payload) -> None:
    message = Message(f"{NORTH}/{path}/set", payload.encode("utf-8", "surrogateescape"), AT)
    refused = outlet.command(message, AT)
    assert isinstance(refused, Event) and refused.kind == "refused" and refused.detail["why"]


def test_other_topics_and_cleared_ones_are_nobodys_command(outlet) -> None:
    assert outlet.command(Message("homie/5/elsewhere/revival/command/set", b"start", AT)) is None
    assert outlet.command(ask("revival/command", "")) is None


def test_f21_a_late_will_is_answered_with_ready(outlet, sent) -> None:
    assert outlet.command(Message("homie/5/tarn-hut/$state", b"lost", AT), AT) is None
    assert sent == [("homie/5/tarn-hut/$state", "ready", True)]
    outlet.disconnect()
    sent.clear()
    outlet.command(Message("homie/5/tarn-hut/$state", b"lost", AT), AT)
    assert sent == []


def test_f55_topics_of_a_removed_bank_are_cleared_state_first(outlet, sent) -> None:
    both = HomieOutlet(Cabin("tarn-hut", {"north": BANK, "south": Bank("south", BANK.strings)}), sent.publish)
    record = both.announced()
    sent.clear()
    assert outlet.retire(record) > 80
    assert sent[0] == ("homie/5/tarn-hut-south/$state", "", True)
    assert all(payload == "" and retain and "tarn-hut-south" in topic for topic, payload, retain in sent)
    assert outlet.retire(outlet.announced()) == 0


def test_the_announcement_record_names_every_retained_topic(sent) -> None:
    outlet = HomieOutlet(Cabin("tarn-hut", {"north": BANK}), sent.publish)
    outlet.announce()
    outlet.update(Derived("north", AT, voltage=26.0))
    outlet.health(AT, 1.0, True)
    assert {topic for topic, _, retain in sent if retain} == set(outlet.announced())


def test_health_is_published_at_most_every_half_minute_but_a_lost_clock_at_once(outlet, sent) -> None:
    outlet.health(AT, 1.0, True)
    sent.clear()
    outlet.health(AT + 1, 9.0, True)
    assert sent == []
    outlet.health(AT + 2, 9.0, False)
    assert ("homie/5/tarn-hut/health/clock-trusted", "false", True) in sent


def test_a_record_over_the_bus_becomes_a_hand_reading(outlet) -> None:
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
