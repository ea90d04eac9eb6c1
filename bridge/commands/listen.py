"""`revival listen`: an unknown broker overheard for a while, and a starter cabin file from what it carries."""

from __future__ import annotations

import argparse
import contextlib
import logging
import os
import time
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any

from paho.mqtt.client import Client
from pydantic import SecretStr
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

from bridge.errors import CannotReachError, UsageError
from bridge.listen.collect import Collector
from bridge.listen.guess import SURE_ENOUGH
from bridge.listen.write import Found, cabin_file, recognise, unrecognised
from bridge.message import Message
from bridge.mqtt.session import Session
from bridge.settings import BrokerSettings
from rules.bank import QUANTITIES

#: Messages waiting to be looked at; more are dropped, since a glimpse of a busy broker is enough.
_WAITING = 20_000


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Where to listen, how long, and where to write."""
    parser.add_argument("--broker", default="localhost:1883", metavar="HOST[:PORT]", help="default localhost:1883")
    parser.add_argument("--username", help="user name at the broker")
    secret = parser.add_mutually_exclusive_group()
    secret.add_argument("--password-file", type=Path, metavar="FILE", help="file that holds the password")
    secret.add_argument("--password-env", metavar="NAME", help="environment variable that holds the password")
    parser.add_argument("--protocol", choices=("5", "3.1.1"), default="5", help="MQTT version, default 5")
    parser.add_argument("--tls", action="store_true", help="encrypted connection")
    parser.add_argument("--ca-file", type=Path, metavar="FILE", help="certificate of a private authority")
    parser.add_argument("--topics", default="#", metavar="FILTER", help="what to listen to, default everything (#)")
    parser.add_argument("--seconds", type=float, default=60.0, help="how long, default 60; longer hears slow meters")
    parser.add_argument("--output", type=Path, metavar="FILE", help="write the cabin file here instead of printing it")


def run(arguments: argparse.Namespace) -> int:
    """Listen, show what was found, write the cabin file."""
    if arguments.output is not None and arguments.output.exists():
        raise UsageError(f"{arguments.output} exists already: name another file, nothing is overwritten")
    if not 0 < arguments.seconds <= 86400:
        raise UsageError("--seconds must lie between 1 and 86400")
    settings, secret = _settings(arguments)
    console = Console(stderr=True)
    collector = _listen(settings, arguments.topics, arguments.seconds, console)
    found = recognise(collector.sources)
    _show(console, collector, found)
    text = cabin_file(found, settings, secret, unrecognised(collector.sources, found), collector.unread)
    if arguments.output is None:
        print(text, end="")
    else:
        arguments.output.write_text(text, "utf-8")
        console.print(f"{arguments.output} written. Next: revival check --config {arguments.output}", soft_wrap=True)
    return 0


def _settings(arguments: argparse.Namespace) -> tuple[BrokerSettings, str]:
    """Broker settings, and the line of the cabin file that says where the password is."""
    host, _, port = arguments.broker.rpartition(":") if ":" in arguments.broker else (arguments.broker, "", "1883")
    if not host or not port.isdecimal() or not 0 < int(port) < 65536:
        raise UsageError(f'--broker "{arguments.broker}" is not HOST:PORT')
    password, line = None, ""
    if arguments.password_file is not None:
        try:
            password = SecretStr(arguments.password_file.read_text("utf-8").rstrip("\r\n"))
        except OSError as error:
            raise UsageError(f"--password-file {arguments.password_file}: {error.strerror}") from None
        line = f'password_file = "{arguments.password_file.absolute()}"'
    elif arguments.password_env is not None:
        if not os.environ.get(arguments.password_env):
            raise UsageError(f"--password-env {arguments.password_env}: is not set")
        password = SecretStr(os.environ[arguments.password_env])
        line = f'password_env = "{arguments.password_env}"'
    tls = arguments.tls or arguments.ca_file is not None
    settings = BrokerSettings(
        host=host,
        port=int(port),
        protocol=arguments.protocol,
        username=arguments.username,
        password=password,
        tls=tls,
        ca_file=None if arguments.ca_file is None else arguments.ca_file.absolute(),
    )
    return settings, line


def _listen(settings: BrokerSettings, topics: str, seconds: float, console: Console) -> Collector:
    """Collect for so long [s]; the network thread only hands messages over.

    Raises
    ------
    CannotReachError
        The broker does not let us in, or lets us hear nothing.
    """
    waiting: SimpleQueue[Message] = SimpleQueue()

    def receive(_client: Client, _data: Any, message: Any) -> None:
        if waiting.qsize() < _WAITING:
            waiting.put(Message(message.topic, message.payload, time.time(), message.retain))

    def opened(session: Session, _present: bool) -> None:
        if session.link is not None:
            session.link[0].subscribe(topics, qos=0)

    logging.getLogger("revival").addHandler(logging.NullHandler())
    collector = Collector()
    session = Session(settings, f"{settings.client_prefix}-listen-{os.getpid()}", opened=opened, received=receive)
    session.start()
    progress = Progress(
        TextColumn("listening"),
        BarColumn(),
        TimeRemainingColumn(),
        TextColumn("{task.fields[messages]} messages, {task.fields[topics]} topics"),
        console=console,
    )
    begun = time.monotonic()
    try:
        with progress:
            task = progress.add_task("", total=seconds, messages=0, topics=0)
            while (passed := time.monotonic() - begun) < seconds:
                if session.failure and not session.connected:
                    raise CannotReachError(f"broker: {session.failure}")
                with contextlib.suppress(Empty):
                    collector.take(waiting.get(timeout=0.1))
                progress.update(task, completed=passed, messages=collector.messages, topics=len(collector.topics))
            progress.update(task, completed=seconds)
    except KeyboardInterrupt:
        console.print("stopped early; what was heard so far counts")
    finally:
        session.stop()
    if not collector.messages:
        raise CannotReachError(
            f"broker: connected, but nothing was heard on {topics} in {seconds:g} s: do the meters publish here, "
            "and may this user read their topics?"
        )
    return collector


def _show(console: Console, collector: Collector, found: list[Found]) -> None:
    """What was found, the sure and the doubtful."""
    table = Table(title=f"{collector.messages} messages on {len(collector.topics)} topics", title_justify="left")
    for heading in ("sure", "bank", "quantity", "value"):
        table.add_column(heading, no_wrap=True)
    table.add_column("where", overflow="fold")
    for bank in found:
        for one in bank.guesses:
            unit = QUANTITIES[one.quantity].unit.replace("boolean", "")
            table.add_row(
                f"{100 * one.sure:.0f} %" + ("" if one.sure >= SURE_ENOUGH else " ?"),
                bank.name,
                one.quantity,
                f"{-one.value if one.sign == 'discharging' else one.value:.2f} {unit}",
                Text(f"{one.source.topic} {one.source.at}".strip()),
            )
    console.print(table)
    if not any(bank.guesses for bank in found):
        console.print("Nothing looks like a battery's meter. Listen longer, or map by hand: revival config")
