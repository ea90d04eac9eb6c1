"""`revival setup`: hears the broker, asks only what cannot be heard, writes one file, checks it and plays it once.

Every answer can be given as an option; with `--yes` nothing is asked. Run again on a file that is there it changes what
is answered and keeps the rest, comments included.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from importlib.util import find_spec
from pathlib import Path

from rich.console import Console

from bridge.commands import check, rehearse
from bridge.commands.listen import PAGE, add_broker
from bridge.commands.setup_again import change_file, changes_given
from bridge.commands.setup_answers import Asker, read_yes
from bridge.commands.setup_first import make_file
from bridge.config import Loaded, load
from bridge.errors import BridgeError
from bridge.listen.judge import JUDGED

FILE = Path("cabin.toml")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add every answer as an option."""
    parser.add_argument("--output", type=Path, default=FILE, metavar="FILE", help=f"the cabin file, default {FILE}")
    parser.add_argument("--yes", action="store_true", help="ask nothing: what is not given takes the usual answer")
    hear = parser.add_argument_group("hearing the broker")
    add_broker(hear)
    hear.add_argument("--topics", default="#", metavar="FILTER", help="what to listen to, default everything (#)")
    hear.add_argument("--seconds", type=float, default=60.0, help="how long, default 60; longer hears slow meters")
    hear.add_argument(
        "--judge", type=float, default=JUDGED, metavar="SECONDS", help="then judge on live traffic so long"
    )
    answers = parser.add_argument_group("answers that no traffic gives")
    answers.add_argument("--site", metavar="ID", help="what the place is called")
    answers.add_argument("--bank", metavar="ID", help="which bank the answers are for; not needed where there is one")
    answers.add_argument("--strings", metavar="N", help="strings in parallel")
    answers.add_argument("--block", metavar='"6 V 200 Ah"', help="what is printed on one block: volts, ampere-hours")
    answers.add_argument(
        "--blocks", metavar="N", help="blocks in series in one string: sets every voltage of the round"
    )
    answers.add_argument("--flooded", choices=("yes", "no"), help="has every cell a cap for water?")
    answers.add_argument(
        "--charger", metavar='"28.8 V 50 A from 20 V, 32 V 50 A"',
        help="its settings in the order of use, and the bank volts at which it starts; - where not known",
    )  # fmt: skip
    answers.add_argument("--probe", choices=("cell", "case"), help="temperature probe in a cell's acid, or on a case")
    answers.add_argument(
        "--take", action="append", default=[], metavar='"TOPIC [POINTER]"', help="an offered value that is the bank's"
    )
    answers.add_argument("--relay", metavar="TOPIC", help="the relay in the charger's AC feed; none for watch only")
    answers.add_argument("--relay-state", metavar="TOPIC", help="where it tells its state")
    answers.add_argument("--auto-off", metavar='"90 s"', help="it opens so long after the last allow; none, unknown")
    answers.add_argument(
        "--power-on", choices=("open", "closed", "unknown"), help="the relay when its power comes back"
    )
    answers.add_argument(
        "--degrees",
        choices=("degC", "degF"),
        help="on page, plan and paper; usually as the thermometers",
    )
    answers.add_argument("--page", metavar="HOST:PORT", help=f"the live page's address, usually {PAGE}; none")
    parser.add_argument(
        "--rehearse", action=argparse.BooleanOptionalAction, help="play an overheating bank through the new file"
    )


def run(arguments: argparse.Namespace) -> int:
    """Make the file, or change it; then check, rehearse, and say what comes next."""
    console = Console(stderr=True, highlight=False)
    asker = Asker(arguments, console)
    file: Path = arguments.output
    if file.exists():
        offered = not changes_given(asker)
        change_file(asker, file)
    else:
        offered = True
        make_file(asker, file)
    loaded = load(file)
    print("\n".join(check.as_text(check.describe(loaded))))
    _rehearse(asker, file, loaded, offered)
    print("\n".join(_next(file, loaded)))
    return 0


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


def _next(file: Path, loaded: Loaded) -> Iterable[str]:
    """Say what comes next, in the order in which it is done."""
    yield "next:"
    yield f"  revival check --config {file} --connect     each topic once, through its mapping"
    yield f"  revival run --config {file}                 the service; Ctrl-C ends it"
    if loaded.model.page is not None:
        yield f"  http://{loaded.model.page.listen}/                          the live page, once it runs"
    if any(bank.relay is not None for bank in loaded.cabin.banks.values()):
        yield f"  revival prove --config {file}               the real relay, before the first round"
    yield "  as a service of this host: `revival service install` says what it does, and what root has to do"
