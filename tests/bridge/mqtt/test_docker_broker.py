"""The broker of `docker/`: its own configuration, access list and password file, in a real mosquitto."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest
from paho.mqtt.client import Client, ConnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from tests.support.brokers import Broker, need, wait_until
from tests.support.cabin import write_cabin

DOCKER = Path(__file__).parents[3] / "docker"
NORTH = "homie/5/tarn-hut-north"
COMMANDS = {
    f"{NORTH}/safety/reset/set",
    f"{NORTH}/safety/prove/set",
    f"{NORTH}/safety/prove-auto-off/set",
    f"{NORTH}/revival/command/set",
    f"{NORTH}/cells/record/set",
}
METERS = {"cabin/shunt", "cabin/probe1", "cabin/charger/set", "cabin/charger/state"}
STATES = {"homie/5/tarn-hut/$state", f"{NORTH}/$description", f"{NORTH}/electrical/voltage"}
HUB = {"homeassistant/status", "homeassistant/sensor/tarn-hut-north/voltage/config"}
BEAT = {"revival/revival/heartbeat"}
SCRATCH = {"rehearsal/0badcafe/cabin/charger/set"}
STRANGE = {"homie/5/other-hut/$state", "somebody/else"}
EVERYTHING = METERS | STATES | COMMANDS | HUB | BEAT | SCRATCH | STRANGE

MAY_WRITE = {
    "revival": {"cabin/charger/set", "homeassistant/sensor/tarn-hut-north/voltage/config"}
    | BEAT
    | STATES
    | COMMANDS
    | SCRATCH,
    "shunt": {"cabin/shunt"},
    "probes": {"cabin/probe1"},
    "charger": {"cabin/charger/state"},
    "owner": COMMANDS,
    "hub": {"homeassistant/status"},
    "viewer": set(),
}
MAY_READ = {
    "revival": METERS | STATES | COMMANDS | BEAT | SCRATCH | {"homeassistant/status"},
    "shunt": set(),
    "probes": set(),
    "charger": {"cabin/charger/set"},
    "owner": METERS | STATES | COMMANDS | {"homie/5/other-hut/$state"},
    "hub": STATES | COMMANDS | HUB | {"homie/5/other-hut/$state"},
    "viewer": METERS | STATES | COMMANDS | {"homie/5/other-hut/$state"},
}


class Visitor:
    """One user's MQTT 5 client: `write` returns whether the broker agreed, `heard` collects topics."""

    def __init__(self, broker: Broker, user: str | None, password: str | None) -> None:
        self.heard: set[str] = set()
        self._answers: dict[int, bool] = {}
        self.connected: list[str] = []
        self._subscribed = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, f"visitor-{user}", protocol=MQTTProtocolVersion.MQTTv5)
        if user is not None:
            self._client.username_pw_set(user, password)
        self._client.on_connect = self._on_connect
        self._client.on_message = self._on_message
        self._client.on_publish = self._on_publish
        self._client.on_subscribe = lambda *_: self._subscribed.set()
        self._client.connect(broker.host, broker.port)
        self._client.loop_start()
        wait_until(lambda: self.connected, what=f"an answer to {user}")

    def _on_connect(self, _c: Client, _u: object, _f: ConnectFlags, code: ReasonCode, _p: Properties | None) -> None:
        self.connected.append(str(code))

    def _on_message(self, _client: Client, _userdata: object, message: MQTTMessage) -> None:
        self.heard.add(message.topic)

    def _on_publish(self, _c: Client, _u: object, mid: int, code: ReasonCode, _p: Properties) -> None:
        self._answers[mid] = not code.is_failure

    def listen(self) -> None:
        """Subscribe to everything; what may be heard is the broker's business."""
        self._client.subscribe("#", qos=1)
        assert self._subscribed.wait(10)

    def write(self, topics: set[str]) -> set[str]:
        """Publish to each of `topics` and return those that the broker agreed to."""
        sent = {self._client.publish(topic, b"x", qos=1).mid: topic for topic in sorted(topics)}
        wait_until(lambda: self._answers.keys() >= sent.keys(), what="every acknowledgement")
        return {topic for mid, topic in sent.items() if self._answers[mid]}

    def close(self) -> None:
        """Leave."""
        self._client.disconnect()
        self._client.loop_stop()


@pytest.fixture
def cabin_broker(tmp_path: Path, make_broker: Callable[..., Broker]) -> tuple[Broker, Path]:
    """Mosquitto with the shipped files, only paths and port changed, and a further user who may do everything."""
    secrets = tmp_path / "secrets"
    subprocess.run([sys.executable, str(DOCKER / "make-secrets"), "--folder", str(secrets), "everybody"], check=True)
    access = tmp_path / "acl"
    access.write_text((DOCKER / "broker/acl").read_text() + "\nuser everybody\ntopic readwrite #\n")
    for path in (access, secrets / "broker_passwords"):
        path.chmod(0o600)
    text = (DOCKER / "broker/mosquitto.conf").read_text()
    assert "allow_anonymous false" in text
    text = text.replace("/mosquitto/run/passwords", str(secrets / "broker_passwords"))
    text = text.replace("/mosquitto/run/acl", str(access)).replace("/mosquitto/data/", f"{tmp_path}/")
    replaced = ("listener", "allow_anonymous", "max_queued_messages")
    lines = [line for line in text.splitlines() if not line.startswith(replaced)]
    return make_broker(lines, anonymous=False), secrets / "broker"


def visit(cabin_broker: tuple[Broker, Path], user: str) -> Visitor:
    """A client that logs in with the password that make-secrets wrote."""
    broker, passwords = cabin_broker
    visitor = Visitor(broker, user, (passwords / user).read_text())
    assert visitor.connected == ["Success"]
    return visitor


@pytest.mark.parametrize("user", MAY_WRITE)
def test_each_user_writes_only_what_the_access_list_names(cabin_broker: tuple[Broker, Path], user: str) -> None:
    visitor = visit(cabin_broker, user)
    assert visitor.write(EVERYTHING) == MAY_WRITE[user]
    visitor.close()


def test_each_user_hears_only_what_the_access_list_names(cabin_broker: tuple[Broker, Path]) -> None:
    visitors = {user: visit(cabin_broker, user) for user in MAY_READ}
    for visitor in visitors.values():
        visitor.listen()
    everybody = visit(cabin_broker, "everybody")
    everybody.listen()
    assert everybody.write(EVERYTHING) == EVERYTHING
    wait_until(lambda: everybody.heard == EVERYTHING, what="all that was said")
    for user, visitor in visitors.items():
        wait_until(partial(MAY_READ[user].issubset, visitor.heard), what=f"what {user} may hear")
    assert {user: visitor.heard for user, visitor in visitors.items()} == MAY_READ
    for visitor in (*visitors.values(), everybody):
        visitor.close()


def test_only_the_owner_and_the_bridge_itself_reach_the_reset_of_a_trip() -> None:
    """Read off the table that the real broker has just been held to."""
    allowed = {user for user, topics in MAY_WRITE.items() if f"{NORTH}/safety/reset/set" in topics}
    assert allowed == {"owner", "revival"}


def test_nobody_comes_in_without_a_password_or_with_a_wrong_one(cabin_broker: tuple[Broker, Path]) -> None:
    for user, password in ((None, None), ("owner", "owner"), ("admin", "admin"), ("revival", "")):
        visitor = Visitor(cabin_broker[0], user, password)
        assert visitor.connected[0] in ("Not authorized", "Bad user name or password"), user
        visitor.close()


def rehearse(cabin_broker: tuple[Broker, Path], folder: Path) -> subprocess.CompletedProcess[str]:
    """`revival rehearse` of the test cabin, as the bridge's user of the shipped broker."""
    broker, passwords = cabin_broker
    path = write_cabin(folder, broker.port)
    account = f'username = "revival"\npassword_file = "{passwords / "revival"}"\n'
    path.write_text(path.read_text().replace(f"port = {broker.port}\n", f"port = {broker.port}\n{account}"))
    words = [sys.executable, "-m", "bridge", "rehearse", "--config", str(path)]
    return subprocess.run(words, capture_output=True, text=True, timeout=300, check=False, cwd=DOCKER.parent)


def test_a_rehearsal_plays_to_its_end_under_the_shipped_access_list(
    cabin_broker: tuple[Broker, Path], tmp_path: Path
) -> None:
    finished = rehearse(cabin_broker, tmp_path)
    assert finished.returncode == 0, finished.stdout + finished.stderr
    assert "every step came out" in finished.stdout


def test_a_rehearsal_names_the_line_that_the_access_list_lacks(
    cabin_broker: tuple[Broker, Path], tmp_path: Path
) -> None:
    access, line = tmp_path / "acl", "topic readwrite rehearsal/#"
    text = access.read_text()
    assert text.count(line) == 1
    access.write_text(text.replace(line, ""))
    cabin_broker[0].restart()
    finished = rehearse(cabin_broker, tmp_path)
    assert finished.returncode == 5, finished.stdout + finished.stderr
    assert f"`{line}` for revival" in finished.stdout and "1 steps FAILED" in finished.stdout


def test_what_waits_for_a_sleeping_client_survives_a_broker_that_is_killed(
    cabin_broker: tuple[Broker, Path],
) -> None:
    """The limits in mosquitto.conf are there for this: more than the default queue for an absent session, then a crash.

    The default queue of 1000 would drop the rest without a word, and the default saving would keep nothing.
    """
    broker, passwords = cabin_broker
    account = ["-h", broker.host, "-p", str(broker.port), "-q", "1"]
    viewer = ["-u", "viewer", "-P", (passwords / "viewer").read_text()]
    shunt = ["-u", "shunt", "-P", (passwords / "shunt").read_text()]
    sleeper = [need("mosquitto_sub"), *account, *viewer, "-i", "sleeper", "-c", "-t", "cabin/shunt"]
    sent = [f"reading {number}" for number in range(1500)]
    subprocess.run([*sleeper, "-E"], check=True, timeout=60)
    publish = [need("mosquitto_pub"), *account, *shunt, "-t", "cabin/shunt", "-l"]
    subprocess.run(publish, input="\n".join(sent).encode(), check=True, timeout=120)
    store = broker.folder.parent / "mosquitto.db"
    wait_until(lambda: store.exists() and sent[-1].encode() in store.read_bytes(), 60.0, "the broker's own save")
    broker.stop(signal.SIGKILL)
    broker.start()
    heard = subprocess.run([*sleeper, "-C", "1500", "-W", "60"], capture_output=True, text=True, timeout=90, check=True)
    assert heard.stdout.splitlines() == sent
