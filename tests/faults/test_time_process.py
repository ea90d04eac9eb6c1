"""Faults of time, of the process and of its output: F52 to F60, on a whole bridge."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from urllib.request import urlopen

import pytest

import bridge.clock
import bridge.runtime.service
from bridge.clock import Clock, ToldClock, clock_of
from bridge.errors import BridgeError
from bridge.journal.reader import JournalReader
from tests.support.brokers import Broker, free_port, password_file, wait_until
from tests.support.cabin import shunt
from tests.support.fault_rig import ROOT, Rig

MakeRig = Callable[..., Rig]
DAY = 86_400.0
SECRET = "sturgeon-moon-4711"


class Wall:
    """A wall clock that a test sets, and whether anybody vouches for it."""

    def __init__(self, offset: float, trusted: bool) -> None:
        self.offset, self.trusted = offset, trusted

    def clock(self) -> Clock:
        return Clock(lambda: self.trusted, lambda: time.time() + self.offset)


@pytest.fixture(autouse=True)
def quick_health(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bridge.runtime.service, "HEALTH_EVERY", 0.3)


# ---------------------------------------------------------------------------------------- F52, F53


def test_f52_a_clock_that_jumps_by_days_once_it_is_known_moves_no_age_and_adds_no_charge(make_rig: MakeRig) -> None:
    wall = Wall(-3 * DAY, False)
    rig = make_rig(auto_off=15.0)
    began = time.time()
    with rig.bridge(clock=wall.clock()) as service:
        rig.charge()
        wait_until(lambda: "clock-untrusted" in rig.flags(), 10)
        before = service.engine.memories["north"].counters.charge
        wall.offset, wall.trusted = 0.0, True
        wait_until(lambda: abs(service.engine.at - time.time()) < 5.0, 10, "the clock follows")
        wait_until(lambda: "clock-untrusted" not in rig.flags(), 10)
        time.sleep(3.0)
        assert rig.relay.closed and rig.bank()["charge_allowed"], "ages stayed what they were, the permit refreshed"
        added = service.engine.memories["north"].counters.charge - before
        assert 0.0 < added < 20.0 * 60.0 / 3600.0
        wait_until(lambda: not service.journal.undated, 20, "rows of before are dated anew")
    with JournalReader(rig.journal) as reader:
        times = [message.at for message, _ in reader.messages(0.0, 1e11)]
    assert times and min(times) > began - 5.0


def test_f52_after_a_power_cut_without_a_clock_nothing_remembered_counts_as_fresh(make_rig: MakeRig) -> None:
    rig = make_rig()
    with rig.bridge() as service:
        rig.charge()
        rig.meters.probe_speaks = rig.meters.shunt_speaks = False
        time.sleep(2 * rig.meters.every)
        rig.meters.publish("cabin/shunt", shunt(time.time(), 26.5, 20.0))
        # Nothing may wait in the broker for the next life: the journal has the last one, and the broker knows.
        wait_until(lambda: rig.bank().get("voltage") == 26.5, 20)
        wait_until(lambda: not service.storing.batch.acks and service.journal.backlog == 0, 20)
        time.sleep(0.5)
    wall = Wall(-10 * DAY, False)  # the board came up where an old image was made
    with rig.bridge(clock=wall.clock()) as service:
        assert service.clock.now() > time.time() - 60.0, "never earlier than its own journal"
        wait_until(lambda: "north" in service.latest, 10)
        time.sleep(1.5)
        assert rig.bank()["temperature"] is None and rig.bank()["voltage"] is None
        assert not rig.relay.closed


def test_f52_a_cabin_without_internet_is_told_the_time_on_a_topic(make_rig: MakeRig) -> None:
    rig = make_rig()
    rig.edit('id = "tarn-hut"', 'id = "tarn-hut"\ntime_source = "cabin/time"')
    clock = clock_of("cabin/time")
    assert isinstance(clock, ToldClock) and not clock.trusted
    rig.meters.publish("cabin/time", "1800000000", retain=True)
    with rig.bridge(clock=clock) as service:
        wait_until(lambda: "clock-untrusted" in rig.flags(), 10)
        assert not clock.trusted, "a retained time is of unknown age"
        for nonsense in ("soon", "-1", "1e99", "2030-01-01T00:00:00"):
            rig.meters.publish("cabin/time", nonsense)
        told = time.time() + 7200.0
        rig.meters.publish("cabin/time", datetime.fromtimestamp(told, UTC).isoformat())
        wait_until(lambda: clock.trusted and "clock-untrusted" not in rig.flags(), 10)
        assert abs(service.clock.now() - told) < 10.0


@pytest.mark.parametrize("step", [-2400.0, 2400.0])
def test_f53_a_clock_that_is_set_while_charging_neither_trips_nor_counts_nor_stops_the_watch(
    make_rig: MakeRig, step: float
) -> None:
    wall = Wall(0.0, True)
    rig = make_rig(auto_off=15.0)
    with rig.bridge(clock=wall.clock()) as service:
        rig.charge()
        before = service.engine.memories["north"].counters
        wall.offset = step
        wait_until(lambda: abs(service.engine.at - time.time() - step) < 5.0, 10, "the clock follows")
        count = rig.relay.told.count("ON")
        wait_until(lambda: rig.relay.told.count("ON") > count, 15, "the permit goes on being refreshed")
        after = service.engine.memories["north"].counters
        assert 0.0 <= after.charge - before.charge < 20.0 * 60.0 / 3600.0
        assert after.discharge == before.discharge == 0.0
        assert rig.relay.closed and rig.bank()["charge_allowed"]
        rig.meters.celsius = 52.0
        assert rig.relay.wait_for(False, 30.0), "the interlock went on"


def test_f53_a_host_that_slept_for_hours_cuts_before_it_does_anything_else(
    make_rig: MakeRig, monkeypatch: pytest.MonkeyPatch
) -> None:
    slept = {"seconds": 0.0}
    real = bridge.clock.steady
    monkeypatch.setattr(bridge.clock, "steady", lambda: real() + slept["seconds"])
    rig = make_rig()
    with rig.bridge(clock=Clock(lambda: True, lambda: time.time() + slept["seconds"])) as service:
        rig.charge()
        before = service.engine.memories["north"].counters.charge
        rig.meters.probe_speaks = rig.meters.shunt_speaks = False
        time.sleep(0.5)
        slept["seconds"] = 5 * 3600.0
        assert rig.relay.wait_for(False, 30.0)
        assert service.engine.memories["north"].counters.charge - before < 0.2
        assert "meter-silent" in rig.flags()


def test_f53_for_real_with_a_clock_that_is_set_back_under_a_running_process(make_rig: MakeRig, tmp_path: Path) -> None:
    rig = make_rig()
    offset = tmp_path / "offset"
    offset.write_text("+0\n")
    library = next(Path("/usr/lib").rglob("libfaketimeMT.so.1"))
    environment = {
        "LD_PRELOAD": str(library), "FAKETIME_TIMESTAMP_FILE": str(offset), "FAKETIME_NO_CACHE": "1",
        "FAKETIME_DONT_FAKE_MONOTONIC": "1", "DONT_FAKE_MONOTONIC": "1",
    }  # fmt: skip
    # This preload library refuses the absolute waits of time.sleep; a relative one does the same.
    (tmp_path / "sitecustomize.py").write_text(
        "import select, time\ntime.sleep = lambda seconds: select.select([], [], [], seconds)\n"
    )
    environment["PYTHONPATH"] = str(tmp_path)
    rig.edit('id = "tarn-hut"', 'id = "tarn-hut"\ntime_source = "rtc"')
    with rig.process(**environment) as running:
        rig.charge()
        before = rig.bank()["charge_returned"]
        offset.write_text("-2400\n")
        wait_until(lambda: "the clock was set by -2400" in running.log.read_text(), 40, running.log.read_text())
        time.sleep(3.0)
        assert rig.relay.closed
        assert 0.0 <= rig.bank()["charge_returned"] - before < 20.0 * 120.0 / 3600.0
        rig.meters.celsius = 52.0
        assert rig.relay.wait_for(False, 30.0)


# -------------------------------------------------------------------------------------------- F54


@pytest.mark.parametrize("zone", ["America/St_Johns", "Pacific/Chatham"])
def test_f54_everything_said_is_in_utc_whatever_the_hosts_zone(make_rig: MakeRig, zone: str) -> None:
    rig = make_rig()
    heard: dict[str, str] = {}
    rig.relay.client.message_callback_add(
        "homie/5/tarn-hut-north/revival/phase-since", lambda client, data, m: heard.update(since=m.payload.decode())
    )
    rig.relay.client.subscribe("homie/5/tarn-hut-north/revival/phase-since", 1)
    with rig.process(TZ=zone):
        rig.charge()
        wait_until(lambda: heard.get("since"), 30)
        assert heard["since"].endswith("Z")
        said = datetime.fromisoformat(heard["since"]).timestamp()
        assert abs(said - time.time()) < 120.0
        assert abs(rig.bank()["at"] - time.time()) < 30.0


# --------------------------------------------------------------------------------------- F58, F59


@pytest.mark.parametrize("broker_is", ["up", "frozen", "gone"])
def test_f58_a_terminated_bridge_cuts_and_is_gone_in_five_seconds(make_rig: MakeRig, broker_is: str) -> None:
    rig = make_rig()
    states: list[str] = []
    rig.relay.client.message_callback_add(
        "homie/5/tarn-hut/$state", lambda client, data, m: states.append(m.payload.decode())
    )
    rig.relay.client.subscribe("homie/5/tarn-hut/$state", 1)
    with rig.process() as running:
        rig.charge()
        if broker_is == "frozen":
            rig.broker.freeze()
        elif broker_is == "gone":
            rig.broker.stop(signal.SIGKILL)
        assert running.end(30.0) < 5.0 * 3, "five seconds, on a busy test machine three times as long"
        assert running.process.returncode == 0
        told = running.log.read_text()
        assert ("every relay was told to open" in told) is (broker_is == "up"), "only what a broker took was told"
        assert ("no broker took its order to open: switch the charger off" in told) is (broker_is != "up")
        if broker_is == "frozen":
            rig.broker.thaw()
    if broker_is != "gone":
        assert rig.relay.wait_for(False, 40.0)
        assert rig.relay.told[-1] == "OFF"
    if broker_is == "up":
        wait_until(lambda: rig.relay.told[-2:] == ["OFF", "OFF"], 10, "its own order, and then the will")
        wait_until(lambda: states[-1] == "disconnected", 10)


def test_f59_a_storm_of_bad_values_and_flapping_states_is_a_handful_of_lines(make_rig: MakeRig) -> None:
    rig = make_rig()
    with rig.process() as running:
        for number in range(10_000):
            rig.meters.client.publish("cabin/probe", f"broken {number}" if number % 2 else "77", qos=0)
            if number % 200 == 0:
                rig.meters.client.publish("cabin/charger/state", "ON" if number % 400 else "OFF", qos=0)
                time.sleep(0.02)
        time.sleep(2.0)
        assert len(running.log.read_text().splitlines()) < 150


# -------------------------------------------------------------------------------------------- F60


def test_f60_no_secret_appears_in_any_output(make_broker: Callable[..., Broker], tmp_path: Path) -> None:
    passwords = password_file(tmp_path / "secret", revival=SECRET)
    broker = make_broker([f"password_file {passwords}"], anonymous=False)
    (tmp_path / "password").write_text(SECRET + "\n")
    (tmp_path / "token").write_text(SECRET + "\n")
    extra = '\n[influxdb]\nurl = "http://127.0.0.1:9"\norg = "hut"\nbucket = "revival"\ntoken_file = "token"\n'
    extra += f'\n[page]\nlisten = "127.0.0.1:{free_port()}"\ntoken_file = "token"\n'
    from tests.support.cabin import write_cabin

    path = write_cabin(tmp_path, broker.port, extra=extra)
    path.write_text(
        path.read_text().replace("[broker]\n", '[broker]\nusername = "revival"\npassword_file = "password"\n')
    )
    everything = b""

    def revival(*words: str, **environment: str) -> bytes:
        finished = subprocess.run(
            [sys.executable, "-m", "bridge", *words], cwd=ROOT, capture_output=True, timeout=60, check=False,
            env={**os.environ, **environment},
        )  # fmt: skip
        return finished.stdout + finished.stderr

    running = subprocess.Popen(
        [sys.executable, "-m", "bridge", "run", "--config", str(path)],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env={**os.environ, "PYTHONFAULTHANDLER": "1"},
    )  # fmt: skip
    wait_until(lambda: b'"connected": true' in revival("status", "--config", str(path), "--json"), 30)
    everything += revival("status", "--config", str(path), "--json")
    everything += revival("check", "--config", str(path), "--connect", "--wait", "1")
    everything += revival("check", "--config", str(path), "--json")
    everything += revival("config")
    page = re.search(r'listen = "(127.0.0.1:[0-9]+)"', path.read_text())
    assert page is not None
    with urlopen(f"http://{page[1]}/", timeout=30) as reply:
        everything += reply.read()
    for command in ("plan", "prove", "verdict", "export"):
        everything += revival(command, "--config", str(path))
    everything += revival("report", "--config", str(path), "--out", str(tmp_path / "report.html"))
    everything += (tmp_path / "report.html").read_bytes()
    login = ("--username", "revival", "--password-file", str(tmp_path / "password"))
    starter = tmp_path / "starter.toml"
    everything += revival(
        "listen", "--broker", f"127.0.0.1:{broker.port}", *login, "--seconds", "2", "--output", str(starter)
    )
    everything += starter.read_bytes() if starter.exists() else b""
    (tmp_path / "password").write_text(SECRET + "-wrong\n")  # told apart from "down", without the word itself
    everything += revival("check", "--config", str(path), "--connect", "--wait", "1")
    path.write_text(path.read_text().replace("[journal]", f'password = "{SECRET}"\n[journal]'))
    everything += revival("check", "--config", str(path))
    running.terminate()
    everything += running.communicate(timeout=20)[0]
    for file in tmp_path.glob("revival.db*"):
        if file.is_file():
            everything += file.read_bytes()
    everything += (broker.folder / "mosquitto.log").read_bytes()
    assert b"not authorised" in everything or b"user name" in everything
    assert SECRET.encode() not in everything


def test_f60_settings_hide_their_secrets_in_every_printed_form(tmp_path: Path) -> None:
    from bridge.config import load
    from tests.support.cabin import write_cabin

    (tmp_path / "password").write_text(SECRET)
    path = write_cabin(tmp_path, 1883)
    path.write_text(path.read_text().replace("[broker]\n", '[broker]\nusername = "u"\npassword_file = "password"\n'))
    loaded = load(path)
    assert loaded.cabin.broker.password is not None and loaded.cabin.broker.password.get_secret_value() == SECRET
    for text in (repr(loaded), str(loaded), f"{loaded.cabin}", json.dumps(loaded.cabin, default=str)):
        assert SECRET not in text
    try:
        raise BridgeError(f"{loaded.cabin.broker}")
    except BridgeError as error:
        assert SECRET not in str(error)
