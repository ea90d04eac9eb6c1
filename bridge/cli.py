# PYTHON_ARGCOMPLETE_OK
"""The `revival` command: finds the sub-command, runs it, turns what went wrong into one sentence and an exit code."""

from __future__ import annotations

import argparse
import json
import os
import re
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import NoReturn

from bridge.commands.examples import epilog
from bridge.commands.next_step import next_step
from bridge.errors import BridgeError
from bridge.units import near

#: Sub-command -> one line of help. Each lives in `bridge.commands.<name>`, which offers `add_arguments(parser)` and
#: `run(arguments) -> int`; only the one asked for is imported, so that start-up stays quick on a small board.
COMMANDS: dict[str, str] = {
    "setup": "from a broker full of strangers to one checked cabin file: hears it, asks only what cannot be heard",
    "demo": "play a recorded round of the invented cabin through the real bridge",
    "plan": "what to do before the charger is switched on: which bank first, what to set, what it takes, and why",
    "config": "print a complete commented cabin file, or ask the three questions that matter",
    "listen": "hear what an unknown broker carries, and write a starter cabin file from it",
    "check": "read the cabin file and say what it means and what is wrong, without any network",
    "run": "the service: watch the bank and, with a relay, cut the charger when it must be cut",
    "service": "let this host run the bridge as a service: install it, or take it away; says what it does",
    "page": "where a phone finds the live page, as an address and as a code for its camera; makes the token",
    "notify": "who is told by message, what and when; --try sends one test message through each service",
    "watch": "the banks of a running bridge in the terminal, renewed as they change, with curves",
    "status": "how a running bridge and its banks are",
    "rehearse": "an overheating bank through your own configuration, to the cut, without touching the real relay",
    "prove": "close the real relay for some seconds and open it, watching it and the current: before the first round",
    "witness": "say by name that you heard the relay and saw the charger go out, where a proof test waits for that",
    "checklist": "go through the start checklist line by line and confirm it by name",
    "start": "begin a round: from now on the charger may run while all is well",
    "resume": "the second act after a reset: let the relay close again; under charge-limit a day more for the round",
    "reset": "clear a trip whose cause is gone; the relay stays open until resume",
    "finish": "end the round; the relay opens",
    "abandon": "give the round up; the relay opens",
    "test": "begin the capacity test",
    "bypass": "excuse the silence of one quantity for a while, visibly and at most an hour",
    "arrange": "the blocks are joined anew: split, rejoin, isolate, add",
    "zero": "what the current meter shows now, with nothing flowing, is its zero",
    "record": "note what was measured or seen by hand: gravities, volts, levels, water, and take it back",
    "verdict": "keep, derate, repeat or scrap: per block and bank, with reasons, and which blocks belong together",
    "report": "a round on paper: plan, curve, gravities, safety, capacity, verdict; or a sheet for the next owner",
    "replay": "run recorded traffic through the same engine, offline; `--score` says how right it was by your notebook",
    "export": "a stretch of the journal as a table, as line protocol, or as recorded traffic",
    "backfill": "write a stretch of the journal to the time-series database once more",
    "fleet": "many cabins at once, from the parcels that leave them: `judge`, `follow`, `board` and `learn`",
}

#: Sub-commands that share a module.
_SHARED = dict.fromkeys(
    ("start", "resume", "reset", "finish", "abandon", "test", "witness", "bypass", "arrange", "zero"),
    "act",
)

#: What people type that is no command of this program -> where it is.
ELSEWHERE = {
    "help": "`revival --help` lists the commands, `revival COMMAND --help` says all of one",
    "version": "`revival --version`",
    "stop": "Ctrl-C where it runs; a service: `sudo systemctl stop revival-bridge`. The relay is told to open",
    "restart": "Ctrl-C where it runs, then `revival run`; a service: `sudo systemctl restart revival-bridge`",
    "install": "`revival service install` makes a service of it; the program itself: pipx, pip or the package",
    "uninstall": "`revival service uninstall` takes the service away, and says what stays and how that is removed",
    "completion": '`eval "$(register-python-argcomplete --no-defaults revival)"` in your shell, with the extra '
    "completion",
    "backup": "cabin file, secrets and journal are all there is; a journal that runs is copied by "
    '`sqlite3 revival.db ".backup copy.db"`; `revival export` makes tables of it',
    "upgrade": "as it was installed: `pipx upgrade revival-bridge`, pip or the package; then restart the bridge",
}

#: A line that cannot be.
USAGE = 2
EXIT_CODES = (
    """exit codes: 0 ok, 2 usage, 4 cannot reach, 5 unsafe state, 70 internal or newer journal, 78 bad configuration"""
)


def build_parser(chosen: str | None) -> _Parser:
    """Return parser for all sub-commands; only `chosen` gets its arguments, so that only it is imported."""
    parser = _Parser(
        prog="revival",
        description="Watch the revival of a flooded lead-acid bank: phase, remaining hours, flags, charger relay.",
        epilog=EXIT_CODES,
    )
    parser.add_argument("--version", action=_Versions, nargs=0, help="print the version of the program and its journal")
    subparsers = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, summary in COMMANDS.items():
        subparser = subparsers.add_parser(
            name,
            help=summary,
            description=summary,
            epilog=epilog(name, EXIT_CODES),
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        if name == chosen:
            module = import_module(f"bridge.commands.{_SHARED.get(name, name)}")
            module.add_arguments(subparser)
            subparser.set_defaults(run=module.run, parser=subparser)
    return parser


class _MistypedError(SystemExit):
    """A line that no parser takes; keeps what is wrong with it."""

    def __init__(self, message: str) -> None:
        super().__init__(USAGE)
        self.message = message


class _Parser(argparse.ArgumentParser):
    """A parser that says what was probably meant, and leaves it to `main` to say it as JSON to a script as well."""

    def error(self, message: str) -> NoReturn:
        """Say how the line is written and what is wrong with it, and end."""
        choice = re.fullmatch(r"(argument .*: )invalid choice: '(.*)' \(choose from (.*)\)", message)
        if choice is not None:
            known = re.findall(r"[\w.-]+", choice[3])
            meant = near(choice[2], known) or f"; there are {', '.join(known)}"
            message = f"{choice[1]}there is no {choice[2]!r}{meant}"
        self.print_usage(sys.stderr)
        print(f"{self.prog}: error: {message}", file=sys.stderr)
        raise _MistypedError(message)

    def unknown(self, behind: Sequence[str]) -> NoReturn:
        """Tell `main` which option there is not, and which is spelt nearly so."""
        options = [option for action in self._actions for option in action.option_strings if option.startswith("--")]
        wrong = next((word for word in behind if word.startswith("-")), behind[0])
        self.error(f"unrecognized arguments: {' '.join(behind)}{near(wrong.partition('=')[0], options)}")


class _Versions(argparse.Action):
    """What tells whether a journal fits: the program's version, and that of the tables it writes."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        # Both take their time to import, and no other command needs them here.
        outlet, migrations = import_module("bridge.outlets.discovery"), import_module("bridge.journal.migrations")
        print(f"revival {outlet.release()}, journal schema {migrations.VERSION}")
        parser.exit()


def _completing() -> bool:
    """Tell whether a shell asks what could be typed next (the kept library argcomplete, extra "completion")."""
    return "_ARGCOMPLETE" in os.environ


def _typed_so_far() -> str | None:
    """Return the sub-command in the line that a shell wants completed."""
    return next((word for word in os.environ.get("COMP_LINE", "").split()[1:] if word in COMMANDS), None)


def _refused(errors: list[str], code: int) -> None:
    print(json.dumps({"ok": False, "errors": errors, "exit_code": code}, indent=2))


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one sub-command and return its exit code; whoever reads only its first lines, as `head` does, may go."""
    try:
        try:
            return _main(arguments)
        finally:
            sys.stdout.flush()
    except BrokenPipeError:
        # what is still to be written at the very end would complain once more
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


def _main(arguments: Sequence[str] | None) -> int:
    words = list(sys.argv[1:] if arguments is None else arguments)
    if not words and not _completing():
        print("\n".join(next_step()))
        return 0
    chosen = next((word for word in words if not word.startswith("-")), None)
    parser = build_parser(_typed_so_far() if _completing() else chosen)
    if _completing():
        import_module("bridge.commands.completion").complete(parser)
    try:
        if words[:1] and words[0].startswith("-") and words[0] not in {"-h", "--help", "--version"}:
            parser.error(f"{words[0]}: an option stands behind its command, as in `revival status --json`")
        if chosen is not None and chosen not in COMMANDS and not _completing():
            where = ELSEWHERE.get(chosen.lower(), "")
            meant = f": {where}" if where else near(chosen, COMMANDS) or "; `revival --help` lists them"
            parser.error(f"there is no command {chosen!r}{meant}")
        options, behind = parser.parse_known_args(words)
        if behind:  # values that stand behind an option still belong to the line
            if not hasattr(options, "words") or any(re.match("--?[a-zA-Z]", word) for word in behind):
                options.parser.unknown(behind)
            options.words += behind
    except _MistypedError as error:
        if "--json" in words:
            _refused([error.message], USAGE)
        raise
    try:
        return int(options.run(options))
    except BridgeError as error:
        if getattr(options, "json", False):
            _refused(str(error).splitlines(), error.exit_code)
        print(f"revival {options.command}: {error}", file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main())
