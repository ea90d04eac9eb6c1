"""A hut behind a slow, lossy link: docker/broker/remote-site.conf in a real broker, through a proxy that misbehaves."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from bridge.journal.reader import JournalReader
from tests.support.brokers import Broker, Proxy, need, wait_until
from tests.support.cabin import write_cabin
from tests.support.running_bridge import turning

DOCUMENTED = Path(__file__).parents[2] / "docker/broker/remote-site.conf"
KEPT = ["max_inflight_messages 200", "persistence true", "autosave_on_changes true", "autosave_interval 1"]
COMMANDS = "homie/5/tarn-hut-north/+/+/set"


def documented(port: int, *, commands: bool = False) -> list[str]:
    """The shipped lines, with another address, the commented command line where asked for, and quicker retries."""
    text = DOCUMENTED.read_text()
    if commands:
        text = text.replace(f"#topic {COMMANDS}", f"topic {COMMANDS}")
    changes = {
        r"^address .*": f"address 127.0.0.1:{port}",
        r"^keepalive_interval .*": "keepalive_interval 5",
        r"^restart_timeout .*": "restart_timeout 1",
    }
    for old, new in changes.items():
        text, count = re.subn(old, new, text, flags=re.MULTILINE)
        assert count == 1, old
    return text.splitlines()


class Site:
    """A broker at home, one in the hut, and the link between them."""

    def __init__(self, make_broker: Callable[..., Broker], make_proxy: Callable[[int], Proxy], **options: bool) -> None:
        self.home = make_broker()
        self.link = make_proxy(self.home.port)
        self.link.delay = 0.05
        self.hut = make_broker(documented(self.link.port, **options), start=False)
        with self.hut.config.open("a") as lines:
            lines.write("\n".join([*KEPT, f"persistence_location {self.hut.folder}/"]) + "\n")
        self.hut.config.write_text(self._kept_first(self.hut.config.read_text()))
        self.store = self.hut.folder / "mosquitto.db"
        self.hut.start()

    @staticmethod
    def _kept_first(text: str) -> str:
        """A `connection` section runs to the end of the file: what concerns the broker itself stands before it."""
        head, _, tail = text.partition("connection home")
        section = [line for line in tail.splitlines() if not line.startswith(("persistence", "autosave", "max_"))]
        kept = [line for line in tail.splitlines() if line.startswith(("persistence", "autosave", "max_"))]
        return "\n".join([head.rstrip(), *kept, "connection home", *section]) + "\n"

    def down(self) -> None:
        """The link is gone."""
        self.link.refusing = True
        self.link.cut()

    def up(self) -> None:
        """It is back."""
        self.link.refusing = self.link.stalled = False


@contextmanager
def listening(broker: Broker, topic: str) -> Iterator[list[tuple[str, str, bool]]]:
    """Everything heard on a topic by a client that is not ours to test."""
    heard: list[tuple[str, str, bool]] = []

    def take(_client: Client, _data: object, message: MQTTMessage) -> None:
        heard.append((message.topic, message.payload.decode(), message.retain))

    client = Client(CallbackAPIVersion.VERSION2)
    subscribed: list[bool] = []
    client.on_message = take
    client.on_subscribe = lambda *_: subscribed.append(True)
    client.connect(broker.host, broker.port)
    client.subscribe(topic, 1)
    client.loop_start()
    wait_until(lambda: subscribed)
    try:
        yield heard
    finally:
        client.disconnect()
        client.loop_stop()


def publish_lines(broker: Broker, topic: str, lines: list[str]) -> None:
    """All of them in one connection, acknowledged."""
    subprocess.run(
        [need("mosquitto_pub"), "-h", broker.host, "-p", str(broker.port), "-t", topic, "-q", "1", "-l"],
        input="\n".join(lines).encode(), check=True, timeout=30, capture_output=True,
    )  # fmt: skip


class Shunt:
    """Numbered readings: a second apart by their own stamps, the number in the milliamperes."""

    def __init__(self, broker: Broker) -> None:
        self.broker, self.sent, self.start = broker, 0, time.time() - 3600.0

    def send(self, count: int) -> bytes:
        """So many more; the last of them."""
        numbers = range(self.sent, self.sent + count)
        rows = [json.dumps({"dc": {"mv": 26000, "a": n / 1000}, "t": round(self.start + n, 3)}) for n in numbers]
        publish_lines(self.broker, "cabin/shunt", rows)
        self.sent += count
        return rows[-1].encode()


def journaled(path: Path) -> list[int]:
    """Numbers of the shunt's messages in the journal, in the order of their storing."""
    with JournalReader(path) as reader:
        rows = [message for message, _ in reader.messages(0.0, time.time() + 60.0) if message.topic == "cabin/shunt"]
    return [round(1000 * json.loads(message.payload)["dc"]["a"]) for message in rows]


def test_history_is_complete_after_cuts_stalls_and_a_power_cut_in_the_hut(
    make_broker: Callable[..., Broker], make_proxy: Callable[[int], Proxy], tmp_path: Path
) -> None:
    site = Site(make_broker, make_proxy)
    path = write_cabin(tmp_path, site.home.port, relay=False)
    shunt = Shunt(site.hut)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        shunt.send(100)
        site.link.cut()  # a hiccup
        shunt.send(100)
        wait_until(lambda: service.messages >= 50, 30, "the link works")
        site.link.stalled = True  # swallows everything without a word
        shunt.send(100)
        time.sleep(1.0)
        site.down()
        last = shunt.send(300)
        wait_until(lambda: last in site.store.read_bytes(), 60, "the hut's broker has saved what it acknowledged")
        site.hut.stop(signal.SIGKILL)  # power cut in the hut, the link still down
        site.hut.start()
        shunt.send(100)
        site.up()
        wait_until(lambda: len(set(journaled(tmp_path / "revival.db"))) == shunt.sent, 60, "everything has arrived")
    numbers = journaled(tmp_path / "revival.db")
    assert sorted(numbers) == list(range(shunt.sent)), "every message once, none twice"


def test_a_bridge_that_was_down_during_the_outage_misses_nothing_either(
    make_broker: Callable[..., Broker], make_proxy: Callable[[int], Proxy], tmp_path: Path
) -> None:
    site = Site(make_broker, make_proxy)
    path = write_cabin(tmp_path, site.home.port, relay=False)
    shunt = Shunt(site.hut)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        shunt.send(20)
        wait_until(lambda: len(journaled(tmp_path / "revival.db")) == 20, 30)
    site.down()
    shunt.send(200)
    site.up()
    shunt.send(20)
    with turning(path):
        wait_until(lambda: len(set(journaled(tmp_path / "revival.db"))) == shunt.sent, 60)
    assert sorted(journaled(tmp_path / "revival.db")) == list(range(240))


def test_the_tree_of_a_bridge_in_the_hut_is_seen_at_home_with_its_latest_values(
    make_broker: Callable[..., Broker], make_proxy: Callable[[int], Proxy], tmp_path: Path
) -> None:
    site = Site(make_broker, make_proxy)
    path = write_cabin(tmp_path, site.hut.port, relay=False)
    with turning(path) as service, listening(site.home, "homie/5/tarn-hut-north/#") as heard:
        wait_until(lambda: service.bus.subscribed)
        Shunt(site.hut).send(1)
        wait_until(lambda: ("homie/5/tarn-hut-north/$state", "ready") in [one[:2] for one in heard], 30)
        wait_until(lambda: len({one[0] for one in heard}) > 50, 30)
    with listening(site.home, "homie/5/tarn-hut-north/$description") as kept:
        wait_until(lambda: kept and kept[0][2], 10, "kept at home too, for who comes later")


def commands_come_in(site: Site, heard: list[tuple[str, str, bool]]) -> None:
    """The way in works: the link says that it stands before the hut's subscription has crossed it."""
    ready, before = "homie/5/tarn-hut-north/probe/ready/set", len(heard)

    def arrived() -> bool:
        site.home.publish(ready, "true", "-q", "1")
        return any(topic == ready for topic, _, _ in heard[before:])

    wait_until(arrived, 60, "a probe of the way in is heard in the hut")


def test_a_command_sent_while_the_link_is_down_is_lost_and_never_late(
    make_broker: Callable[..., Broker], make_proxy: Callable[[int], Proxy]
) -> None:
    site = Site(make_broker, make_proxy, commands=True)
    reset = "homie/5/tarn-hut-north/safety/reset/set"
    with listening(site.hut, COMMANDS) as heard, listening(site.home, "cabin-link/#") as link:

        def resets() -> list[str]:
            return [payload for topic, payload, _ in heard if topic == reset]

        commands_come_in(site, heard)
        site.home.publish(reset, "true", "-q", "1")
        wait_until(lambda: resets() == ["true"], 30, "with the link up it arrives")
        site.down()
        wait_until(lambda: link[-1][1] == "0", 60, "home knows that the link is down")
        site.home.publish(reset, "lost", "-q", "1")
        site.up()
        commands_come_in(site, heard)
        site.home.publish(reset, "false", "-q", "1")
        wait_until(lambda: "false" in resets(), 30, "with the link up again it arrives")
    assert resets() == ["true", "false"]


def test_as_shipped_nothing_comes_in(make_broker: Callable[..., Broker], make_proxy: Callable[[int], Proxy]) -> None:
    site = Site(make_broker, make_proxy)
    with listening(site.hut, "#") as heard, listening(site.home, "#") as at_home:
        wait_until(lambda: ("cabin-link/tarn-hut/state", "1") in [one[:2] for one in at_home], 60)
        # Several times, each after a way through the link and back: the first may be there before any subscription.
        for number in "12345":
            site.home.publish("homie/5/tarn-hut-north/safety/reset/set", "true", "-q", "1")
            site.home.publish("cabin/charger/set", "ON", "-q", "1")
            publish_lines(site.hut, "cabin/shunt", [number])
            wait_until(lambda: at_home[-1][:2] == ("cabin/shunt", number), 60, "the way out works")
    assert {one[0] for one in heard} <= {"cabin/shunt", "cabin-link/tarn-hut/state"}
