"""How an answer of `revival setup` is asked, read and kept.

What `read_...` cannot read raises a `ValueError` that says how it would be right.
"""

from __future__ import annotations

import argparse
import os
import re
import shlex
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple, TypeVar

from rich.console import Console

from bridge.commands.listen import LAST_PORT, PAGE
from bridge.config import Loaded, load
from bridge.config.text import read_chargers
from bridge.config.types import HOMIE_ID
from bridge.errors import BridgeError, UsageError
from bridge.listen.write import VOLTS_PER_CELL
from rules.bank import Limits

T = TypeVar("T")

#: The answer of an owner who does not know; the file then says nothing, and `check` asks for it.
UNKNOWN = "unknown"
#: Blocks in a string, and strings in a bank, at most; the largest block that is sold in one case [V].
MOST_OF_A_KIND, LARGEST_BLOCK = 32, 48


class Asker:
    """Answers from options, else from the terminal, else the usual one.

    Parameters
    ----------
    arguments : argparse.Namespace
        What was given.
    console : Console
        Where questions and remarks are shown.
    """

    def __init__(self, arguments: argparse.Namespace, console: Console) -> None:
        self.arguments, self.console = arguments, console
        self.asks = not arguments.yes and sys.stdin.isatty()
        self._typed_in: dict[str, list[str]] = {}
        self._instead: dict[str, str] = {}

    def answer(self, option: str, question: str, usual: str, read: Callable[[str], T]) -> T:
        """Return one answer; an option that makes no sense is refused, a typed one is asked again.

        Raises
        ------
        UsageError
            The option cannot be read.
        """
        given = getattr(self.arguments, option.replace("-", "_"))
        if given is not None:
            try:
                return read(str(given))
            except ValueError as error:
                raise UsageError(f"--{option} {given!r}: {error}") from None
        while self.asks:
            typed = self._typed(f"{question} [{usual}]: ") or usual
            try:
                answer = read(typed)
            except ValueError as error:
                self.console.print(f"   {error}", markup=False)
                continue
            self.remember(option, self._instead.pop(option, typed))
            return answer
        return read(usual)

    def asked(self, question: str, usual: str, read: Callable[[str], T]) -> T:
        """Return an answer that is no option of its own: typed and asked again, or the usual one."""
        while self.asks:
            try:
                return read(self._typed(f"{question} [{usual}]: ") or usual)
            except ValueError as error:
                self.console.print(f"   {error}", markup=False)
        return read(usual)

    def remember(self, option: str, typed: str) -> None:
        """Keep what was answered: whatever ends the questions, nothing has to be thought of twice."""
        if typed:
            self._typed_in.setdefault(option, []).append(typed)

    def instead(self, option: str, answer: str) -> None:
        """Keep what a further question made of an answer, in place of what is being read."""
        self._instead[option] = answer

    def as_options(self) -> str:
        """Return what was answered so far as options; what was answered differently for several banks is none."""
        told = {
            option: given
            for option, given in self._typed_in.items()
            if option in {"take", "probe"} or len(set(given)) == 1
        }
        return " ".join(
            f"--{option} {shlex.quote(one)}" for option, given in told.items() for one in dict.fromkeys(given)
        )

    def choice(self, question: str, count: int) -> int | None:
        """Return a number from 1 to `count` as typed, less one; None for none of them."""
        while self.asks:
            typed = self._typed(f"{question} [0 = none]: ") or "0"
            if typed.isdecimal() and int(typed) <= count:
                return int(typed) - 1 if int(typed) else None
            self.console.print(f"   a number from 0 to {count}, please", markup=False)
        return None

    def agreed(self, question: str) -> bool:
        """Tell whether somebody says yes; where nothing is asked, nobody says no."""
        return not self.asks or self._typed(f"{question} [yes]: ").lower() in ("", "y", "yes")

    def _typed(self, question: str) -> str:
        self.console.print(question, end="", markup=False)
        line = sys.stdin.readline()
        if not line:
            raise UsageError("the answers ended before the questions did: give the rest as options, or --yes")
        return line.strip()


def read_identifier(text: str) -> str:
    """Return the name of a place or bank, as it may stand in a topic."""
    if not re.fullmatch(HOMIE_ID, text):
        slug = re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")
        raise ValueError(f"lower case letters, digits and hyphens, such as {slug or 'tarn-hut'}")
    return text


def read_address(text: str) -> str:
    """Return address and port; nothing for `none`."""
    if text == "none":
        return ""
    place = re.fullmatch(r"(?:\[[0-9a-fA-F:.]+\]|[^:\s\[\]]+):(\d{1,5})", text)
    if place is None or not 0 < int(place[1]) <= LAST_PORT:
        raise ValueError(f"an address and a port, such as {PAGE}")
    return text


def read_yes(text: str) -> bool:
    """Tell whether it is yes."""
    if text.lower() not in {"yes", "y", "no", "n"}:
        raise ValueError("yes or no, please")
    return text.lower().startswith("y")


def read_count(text: str) -> int:
    """Return how many strings."""
    if not text.isdecimal() or not 1 <= int(text) <= MOST_OF_A_KIND:
        raise ValueError(f"a whole number from 1 to {MOST_OF_A_KIND}")
    return int(text)


def read_probe(text: str) -> str:
    """Return where the probe sits."""
    if text.lower() not in {"cell", "case"}:
        raise ValueError("cell or case, please: it decides which temperature limit counts")
    return text.lower()


#: A number as a case says it.
_PLAIN = r"\d+(?:\.\d+)?"


def read_block(text: str) -> tuple[float, float]:
    """Return volts [V] and ampere-hours [Ah] of one block."""
    text = re.sub(r"(?<=\d),(?=\d)", ".", text)
    found = re.fullmatch(rf"\s*({_PLAIN})\s*V?[\s,x]+({_PLAIN})\s*(Ah)?\s*", text, re.IGNORECASE)
    if found is None:
        raise ValueError("volts and ampere-hours of one block, as in 6 V 200 Ah")
    volts, capacity = float(found[1]), float(found[2])
    if not volts or volts % VOLTS_PER_CELL or volts > LARGEST_BLOCK or not capacity:
        raise ValueError("a block has 2, 4, 6, 8, 12 ... V and some ampere-hours")
    return volts, capacity


#: Said and left where somebody says that a bank is not flooded.
SEALED = (
    "sealed, gel and AGM batteries are refused: equalising voltages are for flooded cells only; others cannot be "
    "refilled with the water that the hold drives out, and may vent or burn"
)
#: How what nobody answered is said, on the screen and in the file.
ASSUMED = "assumed, for nobody said it"
#: Volts of a cell between which a charger is set in a round, the lowest that charges at all and more than any bank is
#: given [V] (common practice, no source); of its ampere-hours in amps what an example shows [1/h] (assumed).
SET, CHARGES, MOST = (2.4, 2.67), 2.13, 3.0
_EXAMPLE_SHARE = 0.125


class Chargers(NamedTuple):
    """How the charger of one bank is asked for, and which settings can be its.

    Attributes
    ----------
    cells : int
        In series.
    capacity : float
        Of the whole bank [Ah].
    ceiling : float
        Volts of a cell where harm begins [V].
    """

    cells: int
    capacity: float
    ceiling: float = Limits().cell_voltage

    @property
    def question(self) -> str:
        """The question, with an example that fits this bank."""
        return f"charger settings in the order of use, such as {self._example()} (- where not known)?"

    def _example(self) -> str:
        amps = max(1, round(_EXAMPLE_SHARE * self.capacity))
        return ", ".join(f"{round(volts * self.cells, 1):g} V {amps} A" for volts in SET)

    def read(self, text: str) -> tuple[tuple[float, float, float], ...]:
        """Return settings that can be this bank's.

        Examples
        --------
        >>> Chargers(6, 100.0).read("14.4 V 10 A"), Chargers(6, 100.0).read("-")
        (((14.4, 10.0, 0.0),), ())
        """
        settings = read_chargers(text)
        volts = [one[0] for one in settings]
        if not volts:
            return settings
        fits = (
            f"a bank of {self.cells} cells is charged at {SET[0] * self.cells:.3g} to {SET[1] * self.cells:.3g} V, "
            f"such as {self._example()}; - where not known"
        )
        low, high = min(volts), max(volts)
        if low >= self.ceiling * self.cells or high > MOST * self.cells:
            wrong, why = low if low >= self.ceiling * self.cells else high, f"and harm begins at {self.ceiling:g} V"
        elif high < CHARGES * self.cells:
            wrong, why = high, "at which none takes a charge"
        else:
            wrong, why = 0.0, ""
        if why:
            each = f"{wrong / self.cells:.2f} V for each of the bank's {self.cells} cells"
            raise ValueError(f"{wrong:g} V is {each}, {why}: {fits}")
        if any(amps <= 0.0 for _, amps, _ in settings):
            raise ValueError(f"a setting has some amps: {fits}")
        for one, _, start in settings:
            if start > one:
                raise ValueError(
                    f"from {start:g} V is above the setting's own {one:g} V: at which bank volts does it start?"
                )
        return settings


def proved(file: Path, text: str) -> Loaded:
    """Return what a text means as the cabin file, without touching that file.

    Raises
    ------
    BridgeError
        It does not load; named as if it stood in the file.
    """
    beside = file.with_name(f".{file.name}.new")
    beside.write_text(text, "utf-8")
    try:
        return load(beside)
    except BridgeError as error:
        raise type(error)(str(error).replace(str(beside), str(file))) from None
    finally:
        beside.unlink()


def see_that_it_loads(file: Path, text: str) -> None:
    """Refuse an answer, while it can be given again, by which the file would not load.

    Raises
    ------
    ValueError
        In the words in which `load` names what is wrong.
    """
    try:
        proved(file, text)
    except BridgeError as error:
        raise ValueError(str(error).removeprefix(f"{file}: ")) from None


def see_that_it_can_be_written(file: Path) -> None:
    """Refuse a place that takes no file before anything is heard or asked.

    Raises
    ------
    UsageError
        There is no such folder, or it takes no new file.
    """
    folder = file.absolute().parent
    if not folder.is_dir():
        raise UsageError(f"--output {file}: there is no folder {folder}: make it, or name another file")
    if not os.access(folder, os.W_OK):
        raise UsageError(
            f"--output {file}: nothing may be written in {folder}: name another file, or give yourself leave"
        )


def keep(file: Path, text: str) -> None:
    """Replace the file whole or not at all, and only by one that loads; what no disk takes is printed."""
    try:
        proved(file, text)
        beside = file.with_name(f".{file.name}.new")
        beside.write_text(text, "utf-8")
        beside.replace(file)
    except OSError as error:
        print(text, end="")
        raise UsageError(
            f"{file} could not be written ({error.strerror}); it stands above as it would be: copy it into a file"
        ) from None
