"""`revival setup`: hears the broker, asks only what cannot be heard, writes one file, checks it and plays it once.

Every answer can be given as an option; with `--yes` nothing is asked. Run again on a file that is there it changes what
is answered and keeps the rest, comments included.
"""

from __future__ import annotations

import argparse
import shlex
from collections.abc import Iterable
from importlib.util import find_spec
from pathlib import Path

from rich.console import Console

from bridge.commands import check, rehearse
from bridge.commands.listen import PAGE, add_broker, see_how_long
from bridge.commands.setup_again import change_file
from bridge.commands.setup_answers import Asker, Chargers, read_yes
from bridge.commands.setup_assumed import HEAD, assumptions
from bridge.commands.setup_first import make_file
from bridge.commands.setup_now import runs
from bridge.config import Loaded, load
from bridge.errors import BridgeError
from bridge.listen.banks import Found
from bridge.listen.judge import JUDGED
from bridge.settings import PageSettings
from bridge.words.folded import for_screen, screen_width
from bridge.words.page_address import reachable, url

FILE = Path("cabin.toml")
#: What a bridge that comes up does to a relay.
OPENS = "it opens the relay first, and what charges behind it stops until it is permitted; "
#: Where what a command does stands behind it, unless a file far away makes it longer [characters].
WIDE = 44


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add every answer as an option."""
    parser.add_argument("--output", type=Path, default=FILE, metavar="FILE", help=f"the cabin file, default {FILE}")
    parser.add_argument("--yes", action="store_true", help="ask nothing: what is not given takes the usual answer")
    hear = parser.add_argument_group(
        "hearing the broker",
        "with a file that is there its own is heard; what is said otherwise is changed in it",
    )
    add_broker(hear)
    hear.add_argument("--topics", default="#", metavar="FILTER", help="what to listen to, default everything (#)")
    hear.add_argument("--seconds", type=float, default=60.0, help="how long, default 60; longer hears slow meters")
    hear.add_argument(
        "--judge", type=float, default=JUDGED, metavar="SECONDS", help="then judge on live traffic so long"
    )
    answers = parser.add_argument_group("answers that no traffic gives")
    answers.add_argument("--site", metavar="ID", help="what the place is called")
    answers.add_argument(
        "--bank",
        metavar="ID",
        help="which bank the answers are for; not needed where there is one; a new one that is heard is added",
    )
    answers.add_argument("--strings", metavar="N", help="strings in parallel")
    answers.add_argument("--block", metavar='"6 V 200 Ah"', help="what is printed on one block: volts, ampere-hours")
    answers.add_argument(
        "--blocks", metavar="N", help="blocks in series in one string: sets every voltage of the round"
    )
    answers.add_argument("--flooded", type=_whole, choices=("yes", "no"), help="has every cell a cap for water?")
    answers.add_argument(
        "--charger", metavar='"28.8 V 50 A from 20 V, 32 V 50 A"',
        help="its settings in the order of use, and the bank volts at which it starts; - where not known",
    )  # fmt: skip
    answers.add_argument(
        "--equalise",
        metavar='"2.6 V"',
        help="to which voltage the bank is equalised, of one cell or of the bank; usually 2.67 V per cell",
    )
    answers.add_argument(
        "--probe",
        action="append",
        metavar="[TOPIC=]cell|case|no",
        help="temperature probe in a cell's acid, or on a case: all of them, what is taken now, or the one named; "
        "TOPIC=no takes that one out of the file",
    )
    answers.add_argument(
        "--take",
        action="append",
        default=[],
        metavar='"TOPIC [POINTER] [as degF]"',
        help="a value that is the bank's; `as degF`, `as discharging`, `as A1` say what it does not",
    )
    answers.add_argument(
        "--temperature-limit", metavar='"104 degF"', help="your own: the acid at which it is cut; usually 110 degF"
    )
    answers.add_argument("--case-limit", metavar='"100 degF"', help="the same on a case; usually 104 degF")
    answers.add_argument(
        "--voltage-limit", metavar='"2.7 V"', help="your own, of one cell or of the bank; usually 2.75 V per cell"
    )
    answers.add_argument(
        "--current-limit",
        metavar='"25 A"',
        help="your own, of one string: flagged above it, cut a quarter above; usually 0.13 A for each Ah, at most 30 A",
    )
    answers.add_argument(
        "--ac-voltage", metavar='"120 V"', help="the charger's outlet: for the plan, and for amps read at it by hand"
    )
    answers.add_argument(
        "--openings",
        metavar='"100 sq in"',
        help="each of the room's two openings for air, one low and one high: the plan caps the charger by them; none",
    )
    answers.add_argument("--relay", metavar="TOPIC", help="the relay in the charger's AC feed; none for watch only")
    answers.add_argument(
        "--relay-state", metavar="TOPIC", help="where it tells its state; of a document 'TOPIC /place'"
    )
    answers.add_argument("--auto-off", metavar='"90 s"', help="it opens so long after the last allow; none, unknown")
    answers.add_argument(
        "--power-on", metavar="open|closed|unknown", help="the relay when its power comes back; off is open"
    )
    answers.add_argument(
        "--degrees",
        choices=("degC", "degF"),
        help="for people, on page, plan and paper; usually as the thermometers",
    )
    answers.add_argument("--page", metavar="HOST:PORT", help=f"the live page's address, usually {PAGE}; none")
    answers.add_argument(
        "--token",
        type=_whole,
        choices=("yes", "no"),
        help="the page's: with it the page enters readings and acts, without it only shows",
    )
    parser.add_argument(
        "--rehearse", action=argparse.BooleanOptionalAction, help="play an overheating bank through the new file"
    )


def _whole(text: str) -> str:
    """Return yes or no as the whole word, however it was typed."""
    return {"y": "yes", "n": "no"}.get(text.lower(), text.lower())


def run(arguments: argparse.Namespace) -> int:
    """Make the file, or change it; then check, rehearse, and say what comes next."""
    console = Console(stderr=True, highlight=False)
    asker = Asker(arguments, console)
    file: Path = arguments.output
    given = _as_given(arguments)
    see_how_long(arguments)
    offered, found = True, list[Found]()
    before = file.read_bytes() if file.exists() else b""
    try:
        if file.exists():
            offered = change_file(asker, file)
            found = asker.added
        else:
            found = make_file(asker, file)
    except (BridgeError, KeyboardInterrupt):
        if told := asker.as_options(first=not before):
            kept = " ".join([*(words for option, words in given if option not in asker.refused), told])
            without = "".join(f" (without --{option}, which was refused)" for option in sorted(asker.refused))
            console.print(f"what you answered is not lost; from there{without}:", markup=False)
            # in one line, however narrow the terminal is: it is copied whole
            console.print(f"  revival setup {kept}", markup=False, soft_wrap=True)
        raise
    loaded = load(file)
    print(for_screen("\n".join(check.as_text(check.describe(loaded), screen_width()))))
    _rehearse(asker, file, loaded, offered)
    if not asker.asks and (assumed := assumptions(asker, loaded, found)):
        print(for_screen("\n".join([HEAD, *(f"  {line}" for line in assumed)])))
    newer = file.read_bytes() != before
    print(for_screen("\n".join(_next(file, loaded, newer, asker))))
    return 0


def _as_given(arguments: argparse.Namespace) -> list[tuple[str, str]]:
    """Return each option that was given, and how it is typed again."""
    parser = argparse.ArgumentParser()
    add_arguments(parser)
    typed: list[tuple[str, str]] = []
    for name, usual in vars(parser.parse_args([])).items():
        option, value = name.replace("_", "-"), getattr(arguments, name)
        if value == usual:
            continue
        if isinstance(value, bool):
            typed.append((option, f"--{option}" if value else f"--no-{option}"))
            continue
        several = value if isinstance(value, list) else [value]
        words = (f"{one:g}" if isinstance(one, float) else str(one) for one in several)
        typed += [(option, f"--{option} {shlex.quote(one)}") for one in words]
    return typed


def _rehearse(asker: Asker, file: Path, loaded: Loaded, offered: bool) -> None:
    """Play where it was asked for; offer it after a whole setup, not after one change."""
    wanted = asker.arguments.rehearse
    if wanted is None and not offered:
        wanted = False
    elif wanted is None:
        # Without a thermometer there is nothing that could overheat.
        able = any(bank.probe for bank in loaded.cabin.banks.values())
        wanted = (
            able
            and asker.asks
            and asker.answer("rehearse", "Play an overheating bank through it now?", "yes", read_yes)
        )
    if not wanted:
        return
    for bank in loaded.cabin.banks:
        try:
            rehearse.run(argparse.Namespace(config=file, bank=bank, embedded=_embedded(), json=False))
        except BridgeError as error:
            asker.console.print(f"not rehearsed: {error}", markup=False)


def _embedded() -> bool:
    return find_spec("iotcore") is not None


def _next(file: Path, loaded: Loaded, newer: bool, asker: Asker) -> Iterable[str]:
    """Say what comes next, in the order in which it is done; a bridge that runs has to take a `newer` file first."""
    at = "" if file == FILE else f" --config {file}"
    behind = {name for name, bank in loaded.cabin.banks.items() if bank.relay is not None}
    relay, unplayed = bool(behind), behind - rehearse.passed(file)
    page = loaded.cabin.page
    runs_already = runs(loaded)
    steps = [
        (f"revival check{at} --connect", "each topic once, through its mapping"),
        (f"revival rehearse{at}", "an overheating bank, to the cut, without the real relay") if unplayed else None,
        None
        if runs_already
        else (
            f"revival run{at}",
            f"the service; {OPENS if relay else ''}leave it running, Ctrl-C ends it, and go on in a second terminal",
        ),
        (_address(page), "the live page; `revival page --phones` lets phones reach it") if page else None,
        (f"revival plan{at}", "which bank first, what to set, air and water, what it takes"),
        (f"revival checklist{at} --name NAME", "its lines one by one at the bank, before the charger is switched on"),
        (f"revival prove{at}", "the real relay, once the checklist is confirmed") if relay else None,
        (f"revival start{at}", "the round begins: the relay may close") if relay else None,
    ]
    yield "next, in this order:"
    if not runs_already:
        for name, words in asker.flowing.items():
            stops = ", which opens its relay first," if name in behind else ","
            yield f"  at once `revival run{at}`{stops} or the charger off: {name} is charged unwatched: {words}"
    if runs_already and newer:
        yield (
            "  restart the running bridge: it goes on by the old file until then. Ctrl-C where it runs, then "
            f"revival run{at}; a service: systemctl restart revival-bridge"
        )
    again = "revival setup" if file == FILE else f"revival setup --output {file}"
    for name, bank in loaded.cabin.banks.items():
        if not bank.chargers:
            whose = f" --bank {name}" if len(loaded.cabin.banks) > 1 else ""
            such = Chargers(bank.cells, bank.capacity).example()
            yield f'  the charger of {name} is not known: `{again}{whose} --charger`, such as "{such}"'
    for name, place in asker.open_way.items():
        whose = f" --bank {name}" if len(loaded.cabin.banks) > 1 else ""
        yield (
            f"  the AMPS of {name} are MISSING: {place} is not read, for nobody knows which way it counts, and without "
            f"amps phases and hours stay unknown. At the first charge, once it is above zero: "
            f'`{again}{whose} --take "{place} as charging"`; where it is below zero then, "... as discharging"'
        )
    width = min(max(len(step[0]) for step in steps if step), WIDE)
    yield from (f"  {step[0]:<{width}}   {step[1]}" for step in steps if step)
    yield "  as a service of this host: `revival service install` says what it does, and what root has to do"
    yield f"  a meter that is bought later: `{again}` again hears it"


def _address(page: PageSettings) -> str:
    """Return what a browser opens: an address to listen on may be none, and a name may not be known yet."""
    try:
        return reachable(page)[0]
    except OSError:
        return url(page.host, page.port, tls=page.certificate_file is not None)
