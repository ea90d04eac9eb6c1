"""How an answer of `revival setup` is asked, read and kept.

What `read_...` cannot read raises a `ValueError` that says how it would be right.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from rich.console import Console

from bridge import units
from bridge.commands.listen import PAGE
from bridge.config import load
from bridge.config.models import AUTO_OFF as SPAN
from bridge.config.types import HOMIE_ID
from bridge.errors import BridgeError, UsageError
from bridge.listen.relays import HeardRelay
from bridge.listen.write import VOLTS_PER_CELL

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
            try:
                return read(self._typed(f"{question} [{usual}]: ") or usual)
            except ValueError as error:
                self.console.print(f"   {error}", markup=False)
        return read(usual)

    def choice(self, question: str, count: int) -> int | None:
        """Return a number from 1 to `count` as typed, less one; None for none of them."""
        while self.asks:
            typed = self._typed(f"{question} [0 = none]: ") or "0"
            if typed.isdecimal() and int(typed) <= count:
                return int(typed) - 1 if int(typed) else None
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
    if not re.fullmatch(r"(\[[0-9a-fA-F:.]+\]|[^:\s\[\]]+):\d{1,5}", text):
        raise ValueError(f"an address and a port, such as {PAGE}")
    return text


#: What is no topic but an answer to another question.
_NO_TOPICS = frozenset({"yes", "no", "y", "n", "on", "off", "open", "closed", "unknown"})


def read_topic(text: str) -> str:
    """Return an exact topic, or `none`."""
    if re.search(r"\s", text):
        raise ValueError("a topic has no spaces: write it as the broker carries it, such as cabin/charger/set")
    if set("+#") & set(text) or text.startswith("$"):
        raise ValueError("one exact topic, without + and # and not below $: an order goes to one place")
    if text.lower() in _NO_TOPICS or not re.search(r"[^\W\d]{2}", text):
        raise ValueError(f"{text!r} is hardly a topic: write it whole, such as cabin/charger/set, or none")
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
    if text not in {"cell", "case"}:
        raise ValueError("cell or case, please: it decides which temperature limit counts")
    return text


def read_block(text: str) -> tuple[float, float]:
    """Return volts [V] and ampere-hours [Ah] of one block."""
    text = re.sub(r"(?<=\d),(?=\d)", ".", text)
    found = re.fullmatch(r"\s*([\d.]+)\s*V?[\s,x]+([\d.]+)\s*(Ah)?\s*", text, re.IGNORECASE)
    if found is None:
        raise ValueError("volts and ampere-hours of one block, as in 6 V 200 Ah")
    volts, capacity = float(found[1]), float(found[2])
    if not volts or volts % VOLTS_PER_CELL or volts > LARGEST_BLOCK or not capacity:
        raise ValueError("a block has 2, 4, 6, 8, 12 ... V and some ampere-hours")
    return volts, capacity


def read_auto_off(text: str) -> str:
    """Return what can be written: nothing where it is unknown."""
    if text == UNKNOWN:
        return ""
    if text == "none":
        return text
    seconds = units.parse(text, "s")
    if not SPAN[0] <= seconds <= SPAN[1]:
        raise ValueError('between "15 s" and "1 h"; "90 s" suits most')
    return text


def read_power_on(text: str) -> str:
    """Return what can be written: only open, since closed is mended at the relay, not in the file."""
    if text == "closed":
        raise ValueError("set the relay itself to be open when its power comes back, then answer open")
    if text not in {"open", UNKNOWN}:
        raise ValueError("open or unknown, please: it is a setting of the relay itself")
    return "" if text == UNKNOWN else text


def say_words(asker: Asker, relay: HeardRelay, *, heard: bool) -> None:
    """Say by which words the relay will be ordered: wrong ones are caught by `revival prove`, right ones sooner."""
    how = "as it was heard to say" if heard else "assumed, for nothing of it was heard"
    asker.console.print(
        f'orders to {relay.topic}: "{relay.allow}" lets it close, "{relay.cut}" opens it ({how}); other words are '
        "written as allow and cut in the file",
        markup=False,
    )


#: Said and left where somebody says that a bank is not flooded.
SEALED = (
    "sealed, gel and AGM batteries are refused: equalising voltages are for flooded cells only; others cannot be "
    "refilled with the water that the hold drives out, and may vent or burn"
)
#: How what nobody answered is said, on the screen and in the file.
ASSUMED = "assumed, for nobody said it"
#: How a relay's own ways are asked for.
STATE = "Where does it tell its state?"
AUTO_OFF = "It opens by itself so long after the last order (90 s; none: it cannot)?"
POWER_ON = "And when its own power comes back, is it open or closed (it must be open)?"
#: How the charger is asked for.
CHARGER = "charger settings in the order of use, such as 28.8 V 50 A, 32 V 50 A (- where not known)?"


def keep(file: Path, text: str) -> None:
    """Replace the file whole or not at all, and only by one that loads."""
    beside = file.with_name(f".{file.name}.new")
    beside.write_text(text, "utf-8")
    try:
        load(beside)
    except BridgeError as error:
        beside.unlink()
        raise type(error)(str(error).replace(str(beside), str(file))) from None
    beside.replace(file)
