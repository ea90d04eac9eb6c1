"""Faults of the relay, of trips and of whoever else speaks to it: F30 to F40, with a relay on a real broker."""

from __future__ import annotations

import signal
import time
from collections.abc import Callable

import pytest

from rules.safety import proof, read_back
from tests.support.brokers import wait_until
from tests.support.cabin import RelayStandIn
from tests.support.fault_rig import Rig

MakeRig = Callable[..., Rig]
RESET, COMMAND = "homie/5/tarn-hut-north/safety/reset/set", "homie/5/tarn-hut-north/revival/command/set"


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """The waits of read-back and proof test, shortened; their true lengths are held by the rules' own tests."""
    monkeypatch.setattr(read_back, "READ_BACK", 2.0)
    monkeypatch.setattr(proof, "PROOF_WAIT", 4.0)
    monkeypatch.setattr(proof, "CURRENT_WAIT", 2.0)


def trip(rig: Rig) -> None:
    """Heat the bank until it has tripped."""
    rig.meters.heat(44.0)
    wait_until(lambda: rig.bank()["tripped"], 20, "tripped")


def test_f30_a_cut_that_the_relay_never_hears_is_repeated_and_flagged(make_rig: MakeRig, quick: None) -> None:
    rig = make_rig()
    rig.meters.amps = 0.5  # too little to show anything
    with rig.bridge() as service:
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        wait_until(lambda: rig.act("checklist", name="the keeper") == [], 20, "every meter was heard")
        rig.meters.volts = 28.8  # the bank blocks: its charger lifts it to the setting at once
        wait_until(lambda: rig.act("prove") == [], 20, "the proof begins")
        wait_until(lambda: service.engine.memories["north"].interlock.proof.passed, 40)
        rig.act("start")
        assert rig.relay.wait_for(True)
        rig.relay.close()
        trip(rig)
        wait_until(lambda: "relay-unconfirmed" in rig.flags(), 30)
        again = RelayStandIn(rig.broker.port)
        wait_until(lambda: again.told.count("OFF") >= 1, 30, "the order is repeated")
        wait_until(lambda: "relay-unconfirmed" not in rig.flags(), 10)
        assert rig.bank()["tripped"]
        again.close()


def test_f31_a_welded_relay_is_the_most_severe_flag_and_goes_on_being_ordered(make_rig: MakeRig, quick: None) -> None:
    rig = make_rig()
    with rig.bridge():
        rig.charge()
        rig.relay.obeys = False
        trip(rig)
        wait_until(lambda: "relay-disobeys" in rig.flags(), 30)
        worst = [flag["name"] for flag in rig.bank()["flags"]]
        assert worst[0] == "relay-disobeys" and rig.bank()["flags"][0]["kind"] == "hazard"
        count = rig.relay.told.count("OFF")
        wait_until(lambda: rig.relay.told.count("OFF") > count, 40, "ordered again")
        assert rig.relay.told.count("OFF") <= count + 3


def test_f32_a_bridge_killed_with_the_relay_closed_opens_it_through_the_brokers_will(make_rig: MakeRig) -> None:
    rig = make_rig()
    with rig.process() as bridge:
        rig.charge()
        bridge.kill()
        assert rig.relay.wait_for(False, 30.0)


@pytest.mark.parametrize("who", ["bridge frozen", "broker killed"])
def test_f32_the_relays_own_auto_off_opens_it_when_no_will_can(make_rig: MakeRig, who: str) -> None:
    rig = make_rig(auto_off=15.0)
    with rig.process() as bridge:
        rig.charge()
        if who == "bridge frozen":
            bridge.process.send_signal(signal.SIGSTOP)
        else:
            rig.broker.stop(signal.SIGKILL)
        assert rig.relay.wait_for(False, 45.0)


def test_f33_f35_after_a_kill_it_comes_up_tripped_and_no_kept_reset_is_carried_out(make_rig: MakeRig) -> None:
    rig = make_rig()
    with rig.process() as bridge:
        rig.charge()
        trip(rig)
        bridge.kill()
    rig.meters.heat(25.0)
    for topic, payload in ((RESET, "true"), (COMMAND, "resume"), (COMMAND, "start")):
        rig.meters.publish(topic, payload, retain=True)
    with rig.process():
        time.sleep(2.0)
        wait_until(lambda: rig.bank()["trip_reason"] == "over-temperature", 20, "the latch is back")
        assert rig.bank()["tripped"]
        assert not rig.relay.closed
        rig.meters.publish(RESET, "true")
        wait_until(lambda: not rig.bank()["tripped"], 10, "a fresh one is")
        rig.meters.publish(COMMAND, "resume")
        assert rig.relay.wait_for(True, 30.0)
    assert not rig.relay.closed


def test_f34_a_journal_that_cannot_be_used_withholds_the_permit(make_rig: MakeRig, quick: None) -> None:
    rig = make_rig()
    with rig.bridge():
        rig.charge()
    # What the journal kept can still be read, but nothing can be written: somebody else holds it.
    rig.journal.rename(rig.journal.with_suffix(".aside"))
    rig.journal.mkdir()
    with rig.bridge() as service:
        wait_until(lambda: {"journal-lost", "journal-degraded"} <= rig.flags(), 30)
        time.sleep(1.0)
        assert not rig.bank()["charge_allowed"] and not rig.relay.closed
        assert "cannot be used" in service.engine.memories["north"].flags["journal-lost"].reason
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        rig.act("checklist", name="the keeper")
        assert rig.act("prove") != [], "no relay is closed while nothing is kept, not even for a test"
        rig.journal.rmdir()
        wait_until(lambda: "journal-degraded" not in rig.flags(), 20)
        assert rig.act("prove") == []
        wait_until(lambda: service.engine.memories["north"].interlock.proof.passed, 40)
        time.sleep(1.0)
        assert not rig.relay.closed, "what happened before is not known"
        assert rig.act("start") == []
        assert rig.relay.wait_for(True)
        wait_until(lambda: "journal-lost" not in rig.flags(), 10)


def test_f36_who_closes_the_relay_while_tripped_is_answered_but_not_faster_than_every_second(
    make_rig: MakeRig,
) -> None:
    rig = make_rig()
    with rig.bridge():
        rig.charge()
        trip(rig)
        assert rig.relay.wait_for(False)
        rig.meters.publish("cabin/charger/set", "ON")
        assert rig.relay.wait_for(False, 30.0)
        wait_until(lambda: "closed-while-tripped" in rig.flags(), 10)
        count, end = rig.relay.told.count("OFF"), time.monotonic() + 6.0
        while time.monotonic() < end:
            rig.meters.publish("cabin/charger/set", "ON")
            time.sleep(0.5)
        assert rig.relay.told.count("OFF") - count <= 8
        assert rig.relay.wait_for(False, 30.0)


def test_f37_hovering_at_the_limit_is_one_trip_and_one_event(make_rig: MakeRig) -> None:
    rig = make_rig()
    with rig.bridge():
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        rig.meters.heat(43.2)
        for _ in range(4):
            rig.meters.celsius = 43.4
            time.sleep(0.5)
            rig.meters.celsius = 43.2
            time.sleep(0.5)
    assert [event.detail["hazard"] for event in rig.events("trip")] == ["over-temperature"]


def test_f38_hot_at_the_first_sample_after_a_start_trips_at_once(make_rig: MakeRig) -> None:
    rig = make_rig()
    rig.meters.celsius = 52.0
    with rig.bridge() as service:
        wait_until(lambda: "north" in service.latest and service.latest["north"].tripped, 10)


def test_f39_a_limit_raised_while_tripped_stays_tripped_and_is_journaled_old_and_new(make_rig: MakeRig) -> None:
    rig = make_rig()
    with rig.bridge():
        rig.charge()
        trip(rig)
    rig.meters.heat(25.0)
    rig.edit("hold = {", 'limits = { temperature = "46 degC" }\nhold = {')
    with rig.bridge():
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        assert rig.bank()["tripped"]
    (changed,) = rig.events("limit-changed")
    assert changed.detail == {"limit": "temperature", "before": pytest.approx(43.333, abs=1e-3), "after": 46.0}
    with rig.bridge():
        pass
    assert len(rig.events("limit-changed")) == 1


def test_f40_a_failing_proof_test_leaves_the_relay_open_and_is_remembered(make_rig: MakeRig, quick: None) -> None:
    rig = make_rig()
    with rig.bridge() as service:
        rig.charge()
        rig.relay.obeys = False
        rig.act("prove")
        wait_until(lambda: not service.engine.memories["north"].interlock.proving, 40)
        assert not service.engine.memories["north"].interlock.proof.passed
        rig.relay.obeys = True
        assert rig.relay.wait_for(False, 60.0), "the cut is ordered until it is obeyed"
        assert "proof-test-missing" in rig.flags()
    with rig.bridge() as service:
        assert not service.engine.memories["north"].interlock.proof.passed
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        assert rig.act("start") != []


def test_another_relay_topic_has_to_be_proved_again(make_rig: MakeRig) -> None:
    rig = make_rig()
    with rig.bridge() as service:
        rig.charge()
    rig.edit('state_topic = "cabin/charger/state"', 'state_topic = "cabin/other/state"')
    with rig.bridge() as service:
        assert not service.engine.memories["north"].interlock.proof.passed


def test_several_banks_behind_one_relay_are_proved_together_and_each_can_cut_it(make_rig: MakeRig, quick: None) -> None:
    rig = make_rig()
    text = rig.path.read_text()
    start, end = text.index("[[bank]]"), text.index("[journal]")
    second = text[start:end].replace('id = "north"', 'id = "south"').replace('"N', '"S').replace("/probe", "/probe2")
    rig.path.write_text(text[:end] + second + text[end:])

    def act(what: str, *banks: str, **argument: object) -> None:
        from bridge.runtime.control_socket import ask

        for bank in banks:
            answer = ask(rig.journal, {"ask": "act", "bank": bank, "name": what, "argument": argument})
            assert answer["refused"] == [], answer

    with rig.bridge() as service:
        end_at = time.monotonic() + 20.0
        while time.monotonic() < end_at and not all(
            bank in service.latest and service.latest[bank].temperature is not None for bank in ("north", "south")
        ):
            rig.meters.publish("cabin/probe2", "77")
            time.sleep(0.1)
        act("checklist", "north", "south", name="the keeper")
        assert rig.act("prove") == []
        locks = service.engine.memories
        wait_until(lambda: all(locks[bank].interlock.proof.passed for bank in ("north", "south")), 40)
        assert rig.act("start") == []
        time.sleep(0.5)
        assert not rig.relay.closed, "the other bank was not started"
        act("start", "south")
        assert rig.relay.wait_for(True)
        for _ in range(8):
            rig.meters.publish("cabin/probe2", "126")  # 52.2 degC
            time.sleep(0.1)
        assert rig.relay.wait_for(False, 30.0)
        wait_until(lambda: service.latest["south"].tripped, 10)
        assert not service.latest["north"].tripped
