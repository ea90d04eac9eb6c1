"""General brokers, each with its own settings, as processes of their own on loopback ports."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from pathlib import Path
from typing import Any, NamedTuple

from paho.mqtt.client import Client, MQTTMessage, topic_matches_sub
from paho.mqtt.enums import CallbackAPIVersion

from tests.support.brokers import Broker, free_port, wait_until

LISTENING = 1.5  #: so long what is kept is waited for [s]

AEDES = """
import {{ createServer }} from "node:net";
import {{ Aedes }} from "{folder}/node_modules/aedes/aedes.js";
createServer((await Aedes.createBroker()).handle).listen({port}, "127.0.0.1");
"""
NATS = 'server_name: bench\nhost: "127.0.0.1"\nport: {other}\njetstream {{ store_dir: "{folder}" }}\n' + (
    'mqtt {{ host: "127.0.0.1", port: {port} }}\n'
)
RABBIT = """listeners.tcp = none
mqtt.listeners.tcp.1 = 127.0.0.1:{port}
mqtt.allow_anonymous = true
"""
AMQTT = """listeners:
  default: {{type: tcp, bind: "127.0.0.1:{port}"}}
plugins:
  amqtt.plugins.authentication.AnonymousAuthPlugin: {{allow_anonymous: false}}
"""
EJABBERD = """hosts: [localhost]
auth_method: [anonymous]
anonymous_protocol: login_anon
allow_multiple_connections: true
listen: [{{port: {port}, ip: "127.0.0.1", module: mod_mqtt}}]
modules: {{mod_mqtt: {{}}}}
"""
RABBIT_SCRIPT = Path("/usr/lib/rabbitmq/bin/rabbitmq-server")  # the one in the path becomes another user first


class Kind(NamedTuple):
    """A broker: the file its settings go to, how it is started on them, and how it says its version."""

    name: str
    settings: str
    command: tuple[str, ...]
    version: tuple[str, ...]
    environment: dict[str, str] = {}
    in_flight: int = 20  #: it sends so many before it waits for an acknowledgement
    user: str = "guest"  #: with the password "guest"; some keep nothing for who comes without a login


def debian(package: str) -> tuple[str, ...]:
    """How the version of a package of the distribution is told."""
    return ("dpkg-query", "-W", "-f", "${{Version}}", package)


KINDS = (
    Kind("mosquitto", "", ("mosquitto",), debian("mosquitto")),
    Kind("nats-server", NATS, ("nats-server", "-c", "{settings}"), debian("nats-server")),
    Kind(
        "rabbitmq", RABBIT, (str(RABBIT_SCRIPT),), debian("rabbitmq-server"),
        {
            "HOME": "{folder}", "ERL_EPMD_PORT": "{names}", "ERL_EPMD_ADDRESS": "127.0.0.1",
            "RABBITMQ_NODENAME": "bench{port}@localhost", "RABBITMQ_CONFIG_FILE": "{settings}",
            "RABBITMQ_CONF_ENV_FILE": "{folder}/none", "RABBITMQ_ENABLED_PLUGINS_FILE": "{folder}/plugins",
            "RABBITMQ_MNESIA_BASE": "{folder}", "RABBITMQ_LOG_BASE": "{folder}", "RABBITMQ_DIST_PORT": "{other}",
            "RABBITMQ_SERVER_ADDITIONAL_ERL_ARGS": "-kernel inet_dist_use_interface {{127,0,0,1}}",
        },
        10,
    ),
    Kind("amqtt", AMQTT, ("{tools}/bin/amqtt", "-c", "{settings}"), ("{tools}/bin/amqtt", "--version")),
    Kind(
        "aedes", AEDES.replace("{folder}", "{tools}"), ("node", "{settings}"),
        ("node", "-p", "require('{tools}/node_modules/aedes/package.json').version"),
    ),
    Kind(
        "ejabberd", EJABBERD, ("erl", "-noinput", "-mnesia", "dir", '"{folder}/base"', "-s", "ejabberd"),
        debian("ejabberd"),
        {
            "ERL_LIBS": "/usr/lib/x86_64-linux-gnu", "EJABBERD_CONFIG_PATH": "{settings}",
            "EJABBERD_LOG_PATH": "{folder}/ejabberd.log", "HOME": "{folder}",
        },
        1,
        "guest@localhost",
    ),
)  # fmt: skip


class OtherBroker(Broker):
    """Any broker, as a process group of its own."""

    def __init__(self, kind: Kind, folder: Path, tools: Path) -> None:
        super().__init__(folder)
        self.kind, self.names, self.login = kind, free_port(), (kind.user, "guest")
        self.config = folder / ({"rabbitmq": "settings.conf", "aedes": "settings.mjs"}.get(kind.name, "settings.yml"))
        self.words = {"port": self.port, "other": free_port(), "folder": folder, "tools": tools, "names": self.names,
                      "settings": self.config}  # fmt: skip
        if kind.settings:
            self.config.write_text(kind.settings.format(**self.words))
        else:
            self.config = folder / "mosquitto.conf"
        (folder / "plugins").write_text("[rabbitmq_mqtt].\n")
        self.directory: subprocess.Popen[bytes] | None = None

    def version(self) -> str:
        """What is installed; empty when it is not."""
        try:
            asked = [part.format(**self.words) for part in self.kind.version]
            told = subprocess.run(asked, capture_output=True, text=True, check=True, timeout=30).stdout
        except (OSError, subprocess.CalledProcessError):
            return ""
        return told.strip().split()[-1] if told.strip() else ""

    def start(self) -> OtherBroker:
        """Start and wait until it accepts connections."""
        if not self.kind.settings:
            super().start()
            return self
        environment = {key: text.format(**self.words) for key, text in self.kind.environment.items()}
        with self.log.open("ab") as log:
            if "ERL_EPMD_PORT" in environment:  # it would start one that outlives it
                self.directory = subprocess.Popen(["epmd", "-port", str(self.names), "-address", "127.0.0.1"])
            self.process = subprocess.Popen(
                [part.format(**self.words) for part in self.kind.command], stdout=log, stderr=log,
                env={**os.environ, **environment}, start_new_session=True, cwd=self.folder,
            )  # fmt: skip
        wait_until(self._accepts, 30.0, f"{self.kind.name} on port {self.port}: {self.log}")
        return self

    def stop(self, how: signal.Signals = signal.SIGKILL) -> None:
        """End the group it leads, and what it was helped by."""
        process, self.process = self.process, None
        if process is not None and process.poll() is None:
            os.killpg(process.pid, how) if self.kind.settings else process.send_signal(how)
            process.wait(30)
        if self.directory is not None:
            self.directory.kill()
            self.directory.wait(10)


def client_of(broker: OtherBroker) -> Client:
    """A client of somebody else, connected and turning."""
    client = Client(CallbackAPIVersion.VERSION2, f"who-comes-{time.monotonic_ns()}")
    client.username_pw_set(*broker.login)
    client.connect(broker.host, broker.port)
    return client


def kept(broker: OtherBroker, *patterns: str) -> dict[str, bytes]:
    """What the broker hands as retained to who comes now and asks for these."""
    found: dict[str, bytes] = {}

    def take(_client: Client, _data: Any, message: MQTTMessage) -> None:
        asked = any(topic_matches_sub(pattern, message.topic) for pattern in patterns)
        if asked and message.retain and message.payload:
            found[message.topic] = bytes(message.payload)

    client = client_of(broker)
    client.on_message = take
    client.subscribe([(pattern, 1) for pattern in patterns])
    client.loop_start()
    time.sleep(LISTENING)
    client.disconnect()
    client.loop_stop()
    return found
