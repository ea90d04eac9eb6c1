"""One way back to closed: F63 and F66 to F69, with a real broker and a relay that other people reach as well."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Callable
from functools import partial
from typing import Any

import pytest
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from bridge.cli import main
from bridge.runtime.control_socket import ask
from rules.safety import closing, proof, read_back
from tests.support.brokers import Broker, Proxy, wait_until
from tests.support.fault_rig import ROOT, Rig

MakeRig = Callable[..., Rig]
SET = "cabin/charger/set"


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Shorter waits; their true lengths are held by the rules' own tests."""
    monkeypatch.setattr(read_back, "READ_BACK", 2.0)
    monkeypatch.setattr(proof, "PROOF_WAIT", 2.0)
    monkeypatch.setattr(proof, "CURRENT_WAIT", 1.0)
    monkeypatch.setattr(closing, "LEAST_OPEN", 3.0)
    monkeypatch.setattr("bridge.mqtt.session.SHORT_LIVED", 0.2)


def lock(service: Any) -> Any:
    return service.engine.memories["north"].interlock


# ------------------------------------------------------------------------------------------------- proof


@pytest.mark.parametrize("somebody_else", [False, True], ids=["nobody at all", "a logger listens to everything"])
def test_f63_a_misspelt_topic_without_state_or_current_proves_nothing(
    make_rig: MakeRig, quick: None, monkeypatch: pytest.MonkeyPatch, somebody_else: bool
) -> None:
    monkeypatch.setattr(proof, "WITNESS_WAIT", 2.0)
    rig = make_rig()
    rig.edit('topic = "cabin/charger/set"', 'topic = "cabin/chargre/set"')
    rig.edit('state_topic = "cabin/charger/state"\n', "")
    rig.meters.amps = 0.4
    rig.relay.closed = True  # it was left closed by hand, and 0.4 A flow into a blocked bank
    if somebody_else:
        heard: list[bool] = []
        rig.meters.client.on_subscribe = lambda *_: heard.append(True)
        wait_until(rig.meters.client.is_connected)
        rig.meters.client.on_connect = lambda client, *_: client.subscribe("#", 1)  # on a link that comes back as well
        rig.meters.client.subscribe("#", 1)
        wait_until(lambda: bool(heard))
    with rig.bridge() as service:
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        rig.act("checklist", name="the keeper")
        assert rig.act("prove") == []
        wait_until(lambda: not lock(service).proving, 40)
        found = lock(service).proof
        assert not found.passed and not found.current_proved
        if somebody_else:
            assert "nothing showed" in found.note
        else:
            assert "nobody listens on cabin/chargre/set" in found.note
            assert "nobody-listens" in rig.flags()
        assert rig.act("start") != []


def test_f63_a_persons_word_counts_by_name_and_stays_a_promise_for_the_first_ampere(
    make_rig: MakeRig, quick: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(proof, "FLOWS_FOR", 2.0)
    rig = make_rig()
    rig.edit('state_topic = "cabin/charger/state"\n', "")
    rig.meters.amps = 0.4
    with rig.bridge() as service:
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        rig.act("checklist", name="the keeper")
        rig.act("prove")
        assert rig.act("witness", name="the keeper") == ["no proof test waits for a person's word"]
        wait_until(lambda: ask(rig.journal, {"ask": "proof", "bank": "north"})["proving"] == "witness", 40)
        assert rig.act("witness", name=" ") != []
        assert rig.act("witness", name="the keeper") == []
        found = lock(service).proof
        assert (found.passed, found.kind, found.by, found.current_proved) == (True, "person", "the keeper", False)
        assert rig.act("start") == []
        assert rig.relay.wait_for(True)
        rig.meters.amps = 20.0  # the first ampere: tried by itself, and said until then
        wait_until(lambda: "proof-test-due" in rig.flags(), 20)
        assert rig.relay.wait_for(False, 20.0)
        wait_until(lambda: lock(service).proof.current_proved, 20)
        assert lock(service).proof.kind == "current" and lock(service).withdrawn_for == "proof-test"
        assert rig.relay.wait_for(True, 20.0), "and it comes back after its time, counted"
        assert len(lock(service).returns) == 1
        wait_until(lambda: "proof-test-due" not in rig.flags(), 10)


# --------------------------------------------------------------------------------------- opened by somebody


@pytest.mark.parametrize("how", ["at the relay", "through a hub"])
def test_f66_what_a_person_opened_stays_open_until_resume(make_rig: MakeRig, quick: None, how: str) -> None:
    rig = make_rig(auto_off=15.0)
    with rig.bridge() as service:
        rig.charge()
        if how == "at the relay":
            rig.relay.push(False)
        else:
            rig.meters.publish(SET, "OFF")
        wait_until(lambda: "opened-by-hand" in rig.flags(), 20)
        assert not rig.bank()["charge_allowed"]
        time.sleep(6.0)  # longer than a refresh, and than the time after which a permit comes back by itself
        assert not rig.relay.closed and lock(service).opened_by_hand
        assert rig.act("resume") == []
        assert rig.relay.wait_for(True)
        assert "opened-by-hand" not in rig.flags()
    assert [event.kind for event in rig.events("opened-by-hand")] == ["opened-by-hand"]


# ------------------------------------------------------------------------------- whatever opened it, one way back


def test_f67_a_link_that_breaks_again_and_again_closes_the_relay_four_times_a_day_and_no_more(
    make_rig: MakeRig, make_proxy: Callable[[int], Proxy], broker: Broker, quick: None
) -> None:
    proxy = make_proxy(broker.port)
    rig = make_rig(broker=broker, port=proxy.port)
    with rig.bridge() as service:
        rig.charge()
        before = rig.relay.closings
        for number in range(1, 6):
            proxy.cut()
            assert rig.relay.wait_for(False), "the guard's will"
            wait_until(lambda: not lock(service).allowed, 10)
            # The will may be seen before the loss is; it is nobody's hand as soon as both are known.
            wait_until(lambda: not lock(service).opened_by_hand, 10, "it was nobody's hand")
            wait_until(lambda: lock(service).link == "", 20)
            if number < 5:
                assert rig.relay.wait_for(True, 20.0)
                assert rig.relay.closings == before + number
                assert len(lock(service).returns) == number
        wait_until(lambda: "permit-exhausted" in rig.flags(), 20)
        time.sleep(4.0)
        assert not rig.relay.closed and rig.relay.closings == before + 4
        assert lock(service).closings >= before + 4


def test_f67_a_process_that_was_frozen_does_not_close_what_the_will_opened(make_rig: MakeRig) -> None:
    rig = make_rig(auto_off=15.0)
    rig.edit("[broker]", '[broker]\nkeepalive = "5 s"')
    with rig.process() as bridge:
        rig.charge()
        before = rig.relay.closings
        bridge.process.send_signal(signal.SIGSTOP)
        assert rig.relay.wait_for(False, 30.0), "the will, or the relay's auto-off"
        bridge.process.send_signal(signal.SIGCONT)
        wait_until(lambda: rig.bank().get("charge_allowed") is False, 20)
        time.sleep(6.0)
        assert rig.relay.closings == before and not rig.relay.closed
        assert "opened-by-hand" not in rig.flags()


def test_f67_a_second_bridge_of_the_same_site_does_not_make_the_relay_flutter(
    make_rig: MakeRig, quick: None, tmp_path: Any
) -> None:
    rig = make_rig()
    twin = tmp_path / "twin"
    twin.mkdir()
    copy = twin / "cabin.toml"
    copy.write_text(rig.path.read_text())
    from tests.support.running_bridge import turning

    with rig.bridge() as service:
        rig.charge()
        before = rig.relay.closings
        with turning(copy):
            wait_until(lambda: not lock(service).allowed, 20)
            time.sleep(8.0)
            assert rig.relay.closings - before <= 3, "at most one in the time that a relay stays open"
            assert lock(service).closings - 1 <= 1 + closing.RETURNS_PER_DAY


# --------------------------------------------------------------------------------------------- from no queue


class Kept:
    """A relay whose session the broker keeps while it is away."""

    def __init__(self, port: int, five: bool) -> None:
        self.told: list[str] = []
        self.port, self.five = port, five
        self.client: Client | None = None

    def come(self, clean: bool = False) -> None:
        from paho.mqtt.client import MQTTv5, MQTTv311
        from paho.mqtt.packettypes import PacketTypes

        def heard(client: Client, userdata: object, message: MQTTMessage) -> None:
            self.told.append(message.payload.decode())

        def connected(client: Client, *_: object) -> None:
            client.subscribe(SET, options=SubscribeOptions(qos=1)) if self.five else client.subscribe(SET, 1)

        protocol = MQTTv5 if self.five else MQTTv311
        client = Client(
            CallbackAPIVersion.VERSION2, "kept-relay", protocol=protocol, clean_session=None if self.five else clean
        )
        client.on_message, client.on_connect = heard, connected
        if self.five:
            properties = Properties(PacketTypes.CONNECT)
            properties.SessionExpiryInterval = 3600
            client.connect("127.0.0.1", self.port, clean_start=clean, properties=properties)
        else:
            client.connect("127.0.0.1", self.port)
        client.loop_start()
        self.client = client
        wait_until(client.is_connected)

    def go(self) -> None:
        assert self.client is not None
        self.client.disconnect()
        self.client.loop_stop()


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_f68_no_stale_allow_waits_for_a_relay_that_was_away(
    make_rig: MakeRig, quick: None, monkeypatch: pytest.MonkeyPatch, protocol: str
) -> None:
    monkeypatch.setattr("bridge.mqtt.relay_guard.LATE_BY", 1.0)
    rig = make_rig(lines=["persistence true", "autosave_interval 1"], auto_off=15.0)
    rig.edit("[broker]", f'[broker]\nprotocol = "{protocol}"')
    away = Kept(rig.broker.port, protocol == "5")
    away.come()
    time.sleep(0.3)
    with rig.bridge() as service:
        rig.charge()
        away.go()
        told = len(away.told)
        held = rig.relay.told.count("ON")
        wait_until(lambda: rig.relay.told.count("ON") >= held + 2, 30, "refreshed while it is away")
        rig.broker.stop(signal.SIGTERM)  # writes what it keeps; nobody publishes a will
        wait_until(lambda: not lock(service).allowed, 10)
        service.bus.live.drop()
        service.stop()
    time.sleep(7.0)  # longer than an allow may be on its way
    rig.broker.start()
    away.come()
    time.sleep(1.0)
    assert "ON" not in away.told[told:]
    away.go()


@pytest.mark.parametrize("when", ["at the start", "while it runs"])
def test_f69_a_retained_on_is_cleared_at_sight_and_closes_nothing_for_longer_than_two_seconds(
    make_rig: MakeRig, quick: None, monkeypatch: pytest.MonkeyPatch, when: str
) -> None:
    rig = make_rig()
    kept: list[bytes] = []

    def retained() -> list[bytes]:
        """What the broker hands to who comes now."""
        kept.clear()
        client = Client(CallbackAPIVersion.VERSION2, "who-comes")
        client.on_message = lambda _client, _data, message: kept.append(bytes(message.payload))
        client.connect("127.0.0.1", rig.broker.port)
        client.subscribe(SET, 1)
        client.loop_start()
        time.sleep(0.3)
        client.disconnect()
        client.loop_stop()
        return list(kept)

    if when == "at the start":
        rig.meters.publish(SET, "ON", retain=True)
        assert rig.relay.wait_for(True)
    else:
        monkeypatch.setattr("bridge.outlets.relay.LOOK_EVERY", 0.5)
    with rig.bridge() as service:
        wait_until(lambda: lock(service).confirmed_at or not rig.relay.closed, 20)
        if when == "while it runs":
            time.sleep(5.5)  # an answer to an order is not to be taken for news
            rig.meters.publish(SET, "ON", retain=True)
        began = time.monotonic()
        assert rig.relay.wait_for(False, 2.0), "open within two seconds"
        assert time.monotonic() - began < 2.0
        wait_until(lambda: "retained-close" in rig.flags(), 10)
        wait_until(lambda: retained() == [], 10, "cleared")
    assert [event.detail["payload"] for event in rig.events("retained-order")] == ["ON"]


# ------------------------------------------------------------------------------------- nobody turns the loop


HANGS = """
import sys, time
import bridge.runtime.service as service
from bridge.cli import main
service.HUNG_AFTER = 3.0
receive = service.Service._receive
def hang(self, message):
    if message.topic == "cabin/probe" and message.payload == b"hang":
        time.sleep(600)
    receive(self, message)
service.Service._receive = hang
sys.exit(main(["run", "--config", sys.argv[1]]))
"""


HANGS_AT_THE_END = """
import sys, time
import bridge.runtime.service as service
from bridge.cli import main
service.HUNG_AFTER = 3.0
service.Service.close = lambda self: time.sleep(600)
sys.exit(main(["run", "--config", sys.argv[1]]))
"""


@pytest.mark.parametrize(
    ("program", "begins"),
    [
        (HANGS, lambda rig, process: rig.meters.publish("cabin/probe", "hang")),
        (HANGS_AT_THE_END, lambda rig, process: process.terminate()),
    ],
    ids=["in a turn", "told to end"],
)
def test_f86_f58_an_engine_that_hangs_while_its_network_threads_live_is_ended_and_the_will_opens_the_relay(
    make_rig: MakeRig, program: str, begins: Callable[[Rig, subprocess.Popen[bytes]], object]
) -> None:
    rig = make_rig()
    process = subprocess.Popen([sys.executable, "-c", program, str(rig.path)], cwd=ROOT)
    try:
        wait_until(lambda: rig.bank().get("temperature") is not None, 60)
        rig.meters.publish(SET, "ON")  # however it came to be closed: the engine can do nothing about it any more
        begins(rig, process)
        rig.meters.publish(SET, "ON")
        assert process.wait(60) == 70
        assert rig.relay.wait_for(False, 20.0), "the guard's will"
    finally:
        process.kill()
        process.wait(10)


def test_f78_a_start_over_mqtt_3_1_1_is_not_the_resume_after_a_reset(make_rig: MakeRig, quick: None) -> None:
    rig = make_rig()
    rig.edit("[broker]", '[broker]\nprotocol = "3.1.1"')
    with rig.bridge() as service:
        rig.charge()
        rig.meters.heat(44.0)
        wait_until(lambda: rig.bank()["tripped"], 20)
        rig.meters.heat(30.0)
        wait_until(lambda: rig.act("reset") == [], 20)
        for word in ("start", "abandon", "start"):
            rig.meters.publish("homie/5/tarn-hut-north/revival/command/set", word)
        wait_until(lambda: not lock(service).started, 10)
        time.sleep(1.0)
        assert not lock(service).started and lock(service).needs_resume and not rig.relay.closed
    refused = [event.detail for event in rig.events("refused") if event.detail["name"] == "start"]
    assert len(refused) == 2 and all("resume" in str(detail["why"]) for detail in refused)


def test_f87_a_relay_without_auto_off_is_permitted_nothing_unless_the_owner_writes_that_he_knows(
    make_rig: MakeRig, quick: None, capsys: pytest.CaptureFixture[str]
) -> None:
    rig = make_rig()
    rig.edit('auto_off = "90 s"\n', "")
    assert main(["check", "--config", str(rig.path)]) == 0
    shown = capsys.readouterr().out
    assert "broker lost: NOTHING: nothing is permitted" in shown
    assert "look again" in shown and "auto_off is missing" in shown and 'power_on = "open"' in shown
    with rig.bridge() as service:
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        rig.act("checklist", name="the keeper")
        rig.act("prove")
        wait_until(lambda: ask(rig.journal, {"ask": "proof", "bank": "north"})["proof"]["passed"], 40)
        assert rig.act("start") == []
        time.sleep(1.0)
        assert not rig.relay.closed and "auto-off-missing" in rig.flags()
        assert lock(service).started, "the round is judged all the same"
        before = service.relays["north"].guard.last
        rig.meters.heat(47.0)
        wait_until(lambda: "over-temperature" in rig.flags(), 40)
        rig.relay.push(True)  # somebody closes it by hand: a hazard is answered as with any other relay
        assert rig.relay.wait_for(False, 20.0) and service.relays["north"].guard.last != before
        rig.meters.heat(25.0)
        wait_until(lambda: rig.act("reset") == [], 20)
    rig.edit('allow = "ON"\n', 'allow = "ON"\nauto_off = "none"\npower_on = "open"\n')
    assert main(["check", "--config", str(rig.path)]) == 0
    shown = capsys.readouterr().out
    assert "broker lost: NOTHING: as you wrote" in shown and "auto_off is missing" not in shown
    with rig.bridge():
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        assert rig.act("resume") == []
        assert rig.relay.wait_for(True)
        assert "auto-off-missing" not in rig.flags()


def test_f36_who_insists_on_closing_a_tripped_relay_is_answered_every_time(make_rig: MakeRig) -> None:
    rig = make_rig()
    with rig.bridge():
        rig.charge()
        rig.meters.heat(44.0)
        assert rig.relay.wait_for(False)
        for _ in range(8):
            time.sleep(1.2)
            heard = len(rig.relay.told)
            rig.meters.publish(SET, "ON")
            wait_until(partial(lambda since: rig.relay.told[since:] == ["ON", "OFF"], heard), 10, "closed, and opened")
