"""Faults of meters and payloads, F01 to F17, through the whole bridge on a real broker."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge.config import load
from bridge.errors import ConfigError
from bridge.journal.reader import JournalReader
from bridge.message import Message
from tests.support.brokers import wait_until
from tests.support.cabin import shunt, write_cabin
from tests.support.fault_rig import Rig

MakeRig = Callable[..., Rig]
PLAIN = {
    "unavailable": "unavailable",
    "": "empty",
    "nan": "not finite",
    "12,6": "decimal comma",
    "1_2.6": "digit grouping",
    "77 Volt": "wrong unit",
}
JSON = {
    '{"dc":{"mv":NaN,"a":1}}': "not finite",
    '{"dc":{"mv":1e400,"a":1}}': "not finite",
    '{"dc":{"mv":true,"a":true}}': "boolean",
    '{"dc":{"mv":1,"mv":2,"a":1}}': "duplicate key",
    "[" * 50_000: "nested too deeply",
    '{"dc":' * 40 + "1" + "}" * 40: "nested too deeply",
    "{}": "",
}


def rejected(service: object, topic: str) -> dict[str, int]:
    counted = dict(service.engine.rejected)  # type: ignore[attr-defined]
    return {reason: count for (where, reason), count in counted.items() if where == topic}


def test_f01_f02_f03_what_is_no_value_is_rejected_counted_and_logged_once(
    make_rig: MakeRig, caplog: pytest.LogCaptureFixture
) -> None:
    rig = make_rig()
    with rig.bridge() as service:
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        rig.meters.probe_speaks = rig.meters.shunt_speaks = False
        time.sleep(0.5)
        before = service.engine.memories["north"].meters["electrolyte_temperature"]
        for payload in PLAIN:
            for _ in range(5):
                rig.meters.publish("cabin/probe", payload)
        for raw in (b"\xff\xfe", b"\xef\xbb\xbf25"):
            rig.meters.publish("cabin/probe", raw)
        for payload in JSON:
            rig.meters.publish("cabin/shunt", payload)
        began = time.monotonic()
        rig.meters.publish("cabin/shunt", b"[" * 900_000)
        rig.meters.publish("cabin/shunt", shunt(time.time(), 26.5, 3.0))
        wait_until(lambda: rig.bank()["voltage"] == pytest.approx(26.5), 30, "still alive")
        # A state goes out every ten seconds; three times that is bounded.
        assert time.monotonic() - began < 30.0
        found = rejected(service, "cabin/probe")
        for reason in PLAIN.values():
            assert found[reason] == 5, (reason, found)
        assert found["not UTF-8"] == 1 and found["byte order mark"] == 1
        assert {reason for reason in JSON.values() if reason} <= set(rejected(service, "cabin/shunt"))
        assert rejected(service, "cabin/shunt")["too large"] == 1
        after = service.engine.memories["north"].meters["electrolyte_temperature"]
        assert (after.value, after.at) == (before.value, before.at), "the last good value only ages"
    for reason in PLAIN.values():
        assert caplog.text.count(f"cabin/probe: {reason}") == 1, reason


def test_f02_a_packet_beyond_the_maximum_never_reaches_the_bridge(make_rig: MakeRig) -> None:
    rig = make_rig()
    with rig.bridge() as service:
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        rig.meters.publish("cabin/shunt", b" " * 5_000_000)
        count = service.messages
        wait_until(lambda: service.messages > count + 5, 20, "goes on")
        assert service.bus.connected and "too large" not in rejected(service, "cabin/shunt")


@pytest.mark.parametrize(
    ("unit", "says"), [("C", "degC"), ("F", "degF"), ("Volt", "degC"), ("%", "degC"), ("Cel", ""), ("degF", "")]
)
def test_f04_a_wrong_unit_is_refused_with_the_right_spelling_and_aliases_are_known(
    tmp_path: Path, unit: str, says: str
) -> None:
    path = write_cabin(tmp_path, 1883)
    path.write_text(path.read_text().replace('unit = "degF"', f'unit = "{unit}"'))
    if not says:
        load(path)
        return
    with pytest.raises(ConfigError, match=says):
        load(path)


def test_f05_f06_a_meter_that_changes_its_unit_or_is_unplugged_is_suspect_and_does_not_trip(make_rig: MakeRig) -> None:
    rig = make_rig()
    with rig.bridge() as service:
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        rig.meters.volts = 26_000.0
        rig.meters.celsius = -127.0
        wait_until(lambda: "meter-suspect" in rig.flags(), 30)
        traces = service.engine.memories["north"].meters
        assert (traces["voltage"].reason, traces["electrolyte_temperature"].reason) == ("unit", "unplugged")
        assert not rig.bank()["tripped"]


def test_f06_a_power_on_value_waits_for_its_second_and_a_real_85_trips(make_rig: MakeRig) -> None:
    rig = make_rig()
    with rig.bridge():
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        rig.meters.probe_speaks = False
        time.sleep(0.5)
        rig.meters.publish("cabin/probe", "185")  # 85 degC
        time.sleep(1.0)
        assert not rig.bank()["tripped"]
        rig.meters.publish("cabin/probe", "185")
        wait_until(lambda: rig.bank()["tripped"], 10)


def test_f07_f08_f09_what_is_stuck_or_was_never_seen_counts_as_silent_whatever_says_online(make_rig: MakeRig) -> None:
    # Hours and minutes of silence pass in the rules' own tests; here: an "online" topic and a connection mean nothing.
    rig = make_rig()
    rig.meters.probe_speaks = False
    with rig.bridge():
        rig.meters.publish("cabin/probe/status", "online", retain=True)
        wait_until(lambda: rig.bank().get("voltage") is not None, 20)
        rig.act("checklist", name="the keeper")
        assert "electrolyte_temperature" in rig.act("prove")[0]
        assert rig.bank()["temperature"] is None and not rig.bank()["charge_allowed"]


def test_f10_a_retained_reading_is_shown_and_arms_nothing(make_rig: MakeRig) -> None:
    rig = make_rig()
    rig.meters.probe_speaks = False
    rig.meters.publish("cabin/probe", "140", retain=True)
    with rig.bridge() as service:
        wait_until(lambda: "electrolyte_temperature" in service.engine.memories["north"].meters, 20)
        time.sleep(1.5)
        trace = service.engine.memories["north"].meters["electrolyte_temperature"]
        assert trace.value == pytest.approx(60.0) and trace.retained
        assert not rig.bank()["tripped"] and rig.bank()["temperature"] is None
    rig.meters.publish("cabin/probe", "", retain=True)


def test_f11_f12_f13_stamped_samples_of_an_outage_keep_their_time_and_count_once(make_rig: MakeRig) -> None:
    rig = make_rig()
    rig.meters.shunt_speaks = False
    with rig.bridge():
        pass
    start = round(time.time()) - 200.0
    for second in range(0, 200, 2):
        rig.meters.publish("cabin/shunt", shunt(start + second, 26.0, 18.0))
    for second in range(0, 20, 2):  # and some of them again, after newer ones
        rig.meters.publish("cabin/shunt", shunt(start + second, 26.0, 18.0))
    with rig.bridge() as service:
        wait_until(lambda: service.engine.memories["north"].counters.current_at == start + 198.0, 20, "all folded")
        wait_until(lambda: service.engine.duplicates == 10, 10, "redelivered ones are known")
        assert service.engine.memories["north"].counters.charge == pytest.approx(18.0 * 198.0 / 3600.0, rel=1e-6)
        rig.meters.publish("cabin/shunt", shunt(start + 51.0, 26.0, 500.0))
        wait_until(lambda: service.engine.memories["north"].meters["current"].late == 1, 10, "late ones are counted")
        assert service.engine.memories["north"].counters.charge == pytest.approx(18.0 * 198.0 / 3600.0, rel=1e-6)
    with JournalReader(rig.journal) as reader:
        stamps = [stamp for message, stamp in reader.messages(0.0, 1e11) if message.topic == "cabin/shunt"]
    assert len(stamps) == 101 and len(set(stamps)) == 101


@pytest.mark.parametrize("stamp", [0.0, 4_000_000_000.0])
def test_f14_a_meter_in_1970_or_in_the_future_is_dated_by_its_arrival(make_rig: MakeRig, stamp: float) -> None:
    rig = make_rig()
    rig.meters.stamp = lambda: stamp
    with rig.bridge() as service:
        wait_until(lambda: rig.bank().get("voltage") is not None, 20)
        trace = service.engine.memories["north"].meters["voltage"]
        assert abs(trace.at - time.time()) < 30.0
        decoded = service.engine.routes.decode(_message(stamp))
        assert all(reading.stamp_off for reading in decoded.readings) and decoded.stamp is None


def _message(stamp: float) -> Message:
    return Message("cabin/shunt", shunt(stamp, 26.0, 0.0).encode(), time.time())


def test_f15_during_a_flood_of_5000_messages_a_second_the_cut_still_leaves_at_once(make_rig: MakeRig) -> None:
    rig = make_rig()
    with rig.bridge() as service:
        rig.charge()
        payload = json.dumps({"dc": {"mv": 26000, "a": 20.0}})
        for _ in range(40):  # 20,000 in four seconds, on a slow machine as fast as it can
            for _ in range(500):
                rig.meters.client.publish("cabin/shunt", payload, qos=0)
            time.sleep(0.1)
        rig.meters.celsius = 52.0
        rig.meters.report()
        rig.meters.report()
        began = time.monotonic()
        assert rig.relay.wait_for(False, 30.0)
        assert time.monotonic() - began < 15.0
        assert service.mailbox.waiting <= service.mailbox.capacity


def test_f16_nothing_the_bridge_publishes_comes_back_as_a_reading(make_rig: MakeRig) -> None:
    rig = make_rig()
    with rig.bridge() as service:
        wait_until(lambda: rig.bank().get("voltage") is not None, 20)
        rig.meters.shunt_speaks = rig.meters.probe_speaks = False
        time.sleep(1.0)
        count = service.messages
        service.homie.announce()
        time.sleep(1.5)
        assert service.messages - count <= 3, "only its own $state, by design"


def test_f17_the_hotter_of_two_probes_wins_and_the_difference_is_told(make_rig: MakeRig) -> None:
    rig = make_rig()
    more = '[[bank.meter]]\ntopic = "cabin/probe2"\nstyle = "plain"\nquantity = "electrolyte_temperature"\n'
    text = rig.path.read_text().replace("\n[bank.relay]", f'\n{more}unit = "degC"\nplaced = "case"\n\n[bank.relay]')
    rig.path.write_text(text)
    with rig.bridge():
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        rig.meters.publish("cabin/probe2", "33.0")
        wait_until(lambda: rig.bank()["temperature"] == pytest.approx(33.0), 10)
        wait_until(lambda: "sensors-disagree" in rig.flags(), 20)
