"""`revival listen`: an unknown broker overheard for a while, and a starter cabin file from what it carries."""

from __future__ import annotations

import argparse
import os
import socket
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import NamedTuple

from pydantic import SecretStr
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn
from rich.table import Table
from rich.text import Text

from bridge.config.edit import add_table
from bridge.errors import CannotReachError, UsageError
from bridge.listen.banks import FAHRENHEIT, degrees_of
from bridge.listen.collect import Collector
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.judge import JUDGED, Enough, Verdict, judge, with_verdicts
from bridge.listen.nearby import announced
from bridge.listen.relays import relays
from bridge.listen.write import OFFERED, Found, Printed, cabin_file, recognise, unrecognised
from bridge.message import Message
from bridge.mqtt.ear import Ear, spoken
from bridge.settings import BrokerSettings
from bridge.words.spoken import spoken as in_scale
from rules.bank import QUANTITIES

#: Nobody listens or judges for longer: a day shows every meter [s].
LONGEST = 86400
#: Highest port there is.
LAST_PORT = 65535
#: Where the live page is, unless somebody says otherwise.
PAGE = "127.0.0.1:8170"
#: Where a broker is looked for first.
HERE = "localhost:1883"
#: Whatever runs here answers at once [s].
ANSWERS_WITHIN = 3.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add where to listen, how long, and where to write."""
    add_broker(parser)
    parser.add_argument("--topics", default="#", metavar="FILTER", help="what to listen to, default everything (#)")
    parser.add_argument("--seconds", type=float, default=60.0, help="how long, default 60; longer hears slow meters")
    parser.add_argument(
        "--judge", type=float, default=JUDGED, metavar="SECONDS",
        help=f"then judge the file as a whole on so much live traffic, default {JUDGED:g}, never longer than --seconds",
    )  # fmt: skip
    parser.add_argument("--output", type=Path, metavar="FILE", help="write the cabin file here instead of printing it")


def add_broker(parser: argparse._ActionsContainer) -> None:
    """Add where the broker is and how to be let in."""
    parser.add_argument(
        "--broker",
        metavar="HOST[:PORT]",
        help=f"default {HERE}; where none answers there, one that announces itself in this network",
    )
    parser.add_argument("--username", help="user name at the broker")
    secret = parser.add_mutually_exclusive_group()
    secret.add_argument("--password-file", type=Path, metavar="FILE", help="file that holds the password")
    secret.add_argument("--password-env", metavar="NAME", help="environment variable that holds the password")
    parser.add_argument("--protocol", choices=("5", "3.1.1"), help="MQTT version; found out where not given")
    parser.add_argument("--tls", action="store_true", help="encrypted connection")
    parser.add_argument("--ca-file", type=Path, metavar="FILE", help="certificate of a private authority")


def run(arguments: argparse.Namespace) -> int:
    """Listen, show what was found, write the cabin file."""
    if arguments.output is not None and arguments.output.exists():
        raise UsageError(f"{arguments.output} exists already: name another file, nothing is overwritten")
    see_how_long(arguments)
    settings, secret = broker_of(arguments)
    console = Console(stderr=True)
    settings = let_in(located(settings, arguments, console), arguments.protocol, console)
    judged = min(arguments.judge, arguments.seconds)
    heard = overhear(settings, arguments.topics, arguments.seconds, judged, console)
    show(console, heard)
    # The page is on, for this host alone: nobody looks for what a file does not mention.
    text = add_table(heard.file(settings, secret), "[page]", [f'listen = "{PAGE}"'])
    if arguments.output is None:
        print(text, end="")
    else:
        arguments.output.write_text(text, "utf-8")
        console.print(f"{arguments.output} written. Next: revival check --config {arguments.output}", soft_wrap=True)
    return 0


def see_how_long(arguments: argparse.Namespace) -> None:
    """Refuse times that nobody listens or judges for.

    Raises
    ------
    UsageError
        Names the option, and what it takes.
    """
    if not 0 < arguments.seconds <= LONGEST:
        raise UsageError(
            f"--seconds {arguments.seconds:g}: must lie above 0 and within {LONGEST} (a day): 60 suits most"
        )
    if not 0 <= arguments.judge <= LONGEST:
        raise UsageError(f"--judge {arguments.judge:g}: must lie between 0 (not at all) and {LONGEST} (a day)")


def let_in(settings: BrokerSettings, protocol: str | None, console: Console) -> BrokerSettings:
    """Return the settings with which the broker lets us in; fall back to MQTT 3.1.1 and say so."""
    if protocol is not None:
        return settings
    found = spoken(settings)
    if found.protocol != settings.protocol:
        console.print("this broker speaks no MQTT 5: going on with 3.1.1, and the file will say so")
    return found


def located(
    settings: BrokerSettings,
    arguments: argparse.Namespace,
    console: Console,
    wanted: Callable[[str], bool] = lambda question: True,
) -> BrokerSettings:
    """Return settings with a broker's place: the one that was named, the one here, or one that announces itself.

    Parameters
    ----------
    settings : BrokerSettings
        As they were given.
    arguments : argparse.Namespace
        What was given.
    console : Console
        Where it is said which broker it is.
    wanted : callable
        Asked before an announced broker is spoken to.

    Raises
    ------
    CannotReachError
        None was named, none is here, and not exactly one announces itself; names those that do.
    """
    if arguments.broker is not None or _answers(settings):
        return settings
    console.print(f"no broker at {HERE}: looking for one that announces itself in this network", soft_wrap=True)
    try:
        found = announced()
    except ImportError:
        fix = 'give --broker HOST:PORT, or install the extra "discover" (pip install "revival-bridge[discover]")'
        raise CannotReachError(f"no broker at {HERE}: {fix}") from None
    except OSError as error:
        raise CannotReachError(f"no broker at {HERE}, nor can one be looked for ({error}): give --broker") from None
    there = ", ".join(f"{one.name} at {one.host}:{one.port}" for one in found)
    if len(found) != 1:
        told = f"several announce themselves ({there})" if found else "none announces itself in this network"
        raise CannotReachError(f"no broker at {HERE}, and {told}: give --broker HOST:PORT")
    # Whoever is in this network can announce a broker: a password goes only to one that was named.
    if settings.password is not None or not wanted(f"{there} announces itself: is it yours?"):
        raise CannotReachError(f"no broker at {HERE}; {there} announces itself: if it is yours, name it by --broker")
    console.print(f"going on with {there}", soft_wrap=True)
    return replace(settings, host=found[0].host, port=found[0].port)


def _answers(settings: BrokerSettings) -> bool:
    try:
        socket.create_connection((settings.host, settings.port), ANSWERS_WITHIN).close()
    except OSError:
        return False
    return True


def broker_of(arguments: argparse.Namespace) -> tuple[BrokerSettings, str]:
    """Return broker settings, and the line of the cabin file that says where the password is."""
    for option in ("broker", "username"):
        if getattr(arguments, option) == "":
            raise UsageError(f"--{option} is empty: leave it out where there is none")
    given = arguments.broker or HERE
    host, _, port = given.rpartition(":") if ":" in given else (given, "", "1883")
    if not host or not port.isdecimal() or not 0 < int(port) <= LAST_PORT:
        raise UsageError(f'--broker "{given}" is not HOST:PORT')
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
        protocol=arguments.protocol or "5",
        username=arguments.username,
        password=password,
        tls=tls,
        ca_file=None if arguments.ca_file is None else arguments.ca_file.absolute(),
    )
    return settings, line


def overhear(
    settings: BrokerSettings,
    topics: str,
    seconds: float,
    judged: float,
    console: Console,
    name: str = "",
    why: str = "for all meters",
    enough: Callable[[Collector], bool] = lambda collector: False,
) -> Heard:
    """Listen for so long [s], recognise, and judge the result on as much live traffic as `judged` [s].

    Where one bank is heard and its owner has named it, it has that `name` from the first word on; `why` is said before.
    Listening ends sooner once there is `enough`, and judging once every meter that goes live has said enough.

    Raises
    ------
    CannotReachError
        The broker does not let us in, or lets us hear nothing.
    """
    collector = Collector()
    again: list[Message] = []
    what = "everything" if topics == "#" else topics
    with Ear(settings, [topics]) as ear:
        console.print(
            f"hearing {what} at {settings.host}:{settings.port} for {seconds:g} s, {why}; Ctrl-C ends it sooner, "
            "and what was heard by then counts",
            markup=False,
        )
        _while(ear, "listening", seconds, collector.take, console, lambda: enough(collector))
        if not collector.messages:
            raise CannotReachError(
                f"broker: connected, but nothing was heard on {topics} in {seconds:g} s: do the meters publish here, "
                "and may this user read their topics?"
            )
        found = recognise(collector.sources)
        found = [found[0]._replace(name=name)] if name and len(found) == 1 else found
        if judged and any(bank.guesses and bank.guesses[0].sure >= SURE_ENOUGH for bank in found):
            judged_enough = Enough(found)

            def judge_too(message: Message) -> None:
                again.append(message)
                judged_enough.take(message)

            _while(ear, "judging the whole on live traffic", judged, judge_too, console, judged_enough.reached)
    verdicts = judge(found, (message for message in again if not message.retain)) if again else []
    return Heard(collector, with_verdicts(found, verdicts), verdicts)


class Heard(NamedTuple):
    """What was overheard, what it is, and what live traffic says about that."""

    collector: Collector
    found: list[Found]
    verdicts: list[Verdict]

    def file(
        self,
        settings: BrokerSettings,
        secret: str,
        printed: Mapping[str, Printed] = MappingProxyType({}),
        site: str = "",
    ) -> str:
        """Return the cabin file as text, with what its owner answered."""
        sources = self.collector.sources
        unknown, heard = unrecognised(sources, self.found), relays(self.collector.switches, self.found)
        return cabin_file(self.found, settings, secret, unknown, self.collector.unread, heard, printed, site)


#: Where the output is no terminal it is said so often how far the hearing is [s].
EACH = 10.0


def _while(
    ear: Ear,
    what: str,
    seconds: float,
    take: Callable[[Message], object],
    console: Console,
    enough: Callable[[], bool] = lambda: False,
) -> None:
    """Hand every message over for so long [s], or until there is enough, with a bar; what was heard by then counts."""
    told = "{task.fields[left]:.0f} s left, {task.fields[topics]} topics, {task.fields[messages]} messages"
    # where nobody looks at a bar, a line now and then stands in a log
    bar = Progress(TextColumn(what), BarColumn(), TextColumn(told), console=console, disable=not console.is_terminal)
    count, topics, said = 0, set(), 0.0
    try:
        with bar:
            task = bar.add_task("", total=seconds, left=seconds, messages=0, topics=0)
            for passed, message in ear.hear(seconds):
                if message is not None:
                    take(message)
                    count += 1
                    topics.add(message.topic)
                bar.update(task, completed=passed, left=seconds - passed, messages=count, topics=len(topics))
                if not console.is_terminal and passed - said >= EACH:
                    said = passed
                    console.print(f"{what}: {seconds - passed:.0f} s left, {len(topics)} topics, {count} messages")
                if enough():
                    break
            bar.update(task, completed=seconds, left=0.0)
    except KeyboardInterrupt:
        console.print("stopped early; what was heard so far counts")
    if not console.is_terminal:
        console.print(f"{what}: done, {len(topics)} topics, {count} messages")


def show(console: Console, heard: Heard, degrees: str | None = None) -> None:
    """Print what was found, the sure and the doubtful, and how the whole stands on live traffic.

    Temperatures are in `degrees`; where nobody says them, in those of the thermometers.
    """
    collector, found, verdicts = heard
    table = Table(title=f"{collector.messages} messages on {len(collector.topics)} topics", title_justify="left")
    for heading in ("sure", "bank", "quantity", "value"):
        table.add_column(heading, no_wrap=True)
    table.add_column("where", overflow="fold")
    scale = degrees or degrees_of(found) or _as_offered(found)
    for bank in found:
        for one in (one for one in bank.guesses if one.sure >= OFFERED):
            unit = QUANTITIES[one.quantity].unit
            value = -one.value if one.sign == "discharging" else one.value
            table.add_row(
                f"{100 * one.sure:.0f} %" + ("" if one.sure >= SURE_ENOUGH else " ?"),
                bank.name,
                one.quantity,
                f"{value:.4g}" if unit in {"1", "boolean"} else in_scale(f"{value:.2f} {unit}", scale),
                Text(f"{one.source.topic} {one.source.at}".strip()),
            )
    console.print(table)
    for verdict in verdicts:
        word = "judged" if verdict.possible else "CANNOT BE"
        why = in_scale(verdict.words, scale)
        console.print(f"{word}: {verdict.bank} {verdict.meter}: {why}", soft_wrap=True, markup=False)
    if not any(bank.guesses for bank in found):
        console.print("Nothing looks like a battery's meter. Listen longer, or map by hand: revival config")


def _as_offered(found: list[Found]) -> str:
    """Return Fahrenheit where none is sure and every thermometer that is shown counts in it: its owner thinks so."""
    shown = [one for bank in found for one in bank.guesses if one.sure >= OFFERED]
    said = {one.unit or one.source.unit for one in shown if QUANTITIES[one.quantity].unit == "degC"}
    return "degF" if said and said <= FAHRENHEIT else "degC"
