"""How an answer of `revival setup` is asked, read and kept.

What `read_...` cannot read raises a `ValueError` that says how it would be right.
"""

from __future__ import annotations

import argparse
import math
import os
import re
import shlex
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple, TypeVar

from rich.console import Console

from bridge.commands.listen import LAST_PORT, PAGE
from bridge.commands.volts_of_cells import MOST
from bridge.config import Loaded, load
from bridge.config.text import as_settings, read_chargers
from bridge.config.types import HOMIE_ID
from bridge.errors import BridgeError, UsageError
from bridge.listen.banks import Found
from bridge.listen.collect import Collector
from bridge.listen.write import VOLTS_PER_CELL
from rules.bank import HARD_SULFATE, LEAST_EQUALISE, REACHES, Limits

T = TypeVar("T")

#: Options that belong to one relay.
OF_A_RELAY = ("relay-state", "auto-off", "power-on")
#: The answer of an owner who does not know; the file then says nothing, and `check` asks for it.
UNKNOWN = "unknown"
NOT_KNOWN = "not known"
#: Blocks in a string, and strings in a bank, at most; the largest block that is sold in one case [V].
MOST_OF_A_KIND, LARGEST_BLOCK = 32, 48


#: How people write small counts.
_NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
#: How people say where a probe sits, and no other place.
_PLACES = {
    "cell": {"cell", "acid", "electrolyte", "a cell", "a cell's acid"},
    "case": {"case", "a case", "block", "a block", "outside of the case"},
}


class RatherError(ValueError):
    """An answer that cannot be taken as it is, with one that Enter takes instead."""

    def __init__(self, words: str, rather: str) -> None:
        super().__init__(words)
        self.rather = rather


class Assumption(NamedTuple):
    """An answer that nobody gave: the option for it, the usual answer, and the bank it is about, else empty."""

    option: str
    usual: str
    bank: str = ""


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
        self.refused: set[str] = set()
        #: What was answered for somebody who was not asked, and the bank that the answers are about just now.
        self.assumed: list[Assumption] = []
        self.bank = ""
        #: Thermometers of which somebody has said where they sit.
        self.placed: set[str] = set()
        #: What was heard, where a file that is there is changed after hearing its broker.
        self.heard: Collector | None = None
        #: Banks that were taken into a file that is there.
        self.added: list[Found] = []
        #: Bank -> what was heard to flow into it.
        self.flowing: dict[str, str] = {}
        #: Bank -> its current, where nobody knows which way it counts.
        self.open_way: dict[str, str] = {}
        #: Order topic of a relay -> where it tells its state, where its owner named that and was asked for the other.
        self.states: dict[str, str] = {}

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
                self.refused.add(option)
                raise UsageError(f"--{option} {given!r}: {error}") from None
        refused = False
        while self.asks:
            entered = self._typed(f"{question} [{usual}]: ")
            typed = entered or usual
            try:
                answer = read(typed)
            except ValueError as error:
                refused = True
                self.console.print(f"   {error}", markup=False)
                usual = error.rather if isinstance(error, RatherError) else usual
                continue
            if refused and not entered:
                taken = NOT_KNOWN if typed == "-" else typed
                self.console.print(
                    f"   the answer that could not be read is not used; Enter took what stood in [ ]: {taken}",
                    markup=False,
                )
            instead = self._instead.pop(option, typed)
            # what led on after a refusal is a way out, and no answer
            if not (refused and typed in {"none", UNKNOWN, "-"}):
                self.remember(option, ("yes" if answer else "no") if isinstance(answer, bool) else instead)
            return answer
        answer = read(usual)
        self.assume(option, usual)
        return answer

    def assume(self, option: str, usual: str) -> None:
        """Keep what was taken without being asked, once for each bank: whoever reads on has to know it."""
        if (one := Assumption(option, usual, self.bank)) not in self.assumed:
            self.assumed.append(one)

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

    def as_options(self, first: bool) -> str:
        """Return what was answered so far as options; what was answered differently for several banks is none.

        Parameters
        ----------
        first : bool
            Whether there is no file yet, that could have a relay.
        """
        told = {
            option: given
            for option, given in self._typed_in.items()
            if option in {"take", "probe"} or len(set(given)) == 1
        }
        if first and "relay" not in told and self.arguments.relay is None:
            # each of these is said of the relay that is named beside it
            told = {option: given for option, given in told.items() if option not in OF_A_RELAY}
        return " ".join(
            f"--{option} {shlex.quote(one)}" for option, given in told.items() for one in dict.fromkeys(given)
        )

    def choice(self, question: str, names: Sequence[str], likeliest: bool = False) -> int | None:
        """Return which of these was typed, by its number from 1 on or by its name, from 0 on; None for none of them.

        Parameters
        ----------
        names : sequence of str
            Topic, and where in the payload; a part of it that no other has names it too.
        likeliest : bool
            Whether the first is likely, so that Enter takes it.
        """
        usual = "1; 0 = none" if likeliest else "0 = none"
        while self.asks:
            typed = self._typed(f"{question} [{usual}]: ") or usual[0]
            if typed.isdecimal() and int(typed) <= len(names):
                return int(typed) - 1 if int(typed) else None
            if (named := _named(typed, names)) is not None:
                return named
            self.console.print(f"   a number from 0 to {len(names)}, or its topic, please", markup=False)
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


def _named(typed: str, names: Sequence[str]) -> int | None:
    """Return which of these is named, from 0 on, in full or by a part that no other has; None where not one is.

    >>> _named("barn/shunt", ["barn/shunt /dc/a", "shed/shunt /dc/a"]), _named("shunt", ["barn/shunt", "shed/shunt"])
    (0, None)
    """
    said, parts = _parts(typed), [_parts(name) for name in names]
    whole = [number for number, own in enumerate(parts) if own == said]
    within = [
        number
        for number, own in enumerate(parts)
        if said and any(own[at : at + len(said)] == said for at in range(len(own)))
    ]
    found = whole or within
    return found[0] if len(found) == 1 else None


def _parts(name: str) -> list[str]:
    return [part for part in re.split(r"[\s/]+", name.casefold()) if part]


def doubted(
    asker: Asker,
    option: str,
    read: Callable[[str], T],
    doubt: Callable[[T], str],
    rather: str = "",
    grave: Callable[[T], bool] = lambda answer: False,
) -> Callable[[str], T]:
    """Return what reads an answer and asks once more where something speaks against it; then its owner is right.

    An option is taken, and what speaks against it is said; a `grave` one is refused and left to be answered.
    """
    asked: list[T] = []

    def once_more(text: str) -> T:
        answer = read(text)
        why = doubt(answer)
        if not why or answer in asked:
            return answer
        asked.append(answer)
        if asker.asks and getattr(asker.arguments, option) is None:
            again = f"{why}; {text} once more if it is so"
            raise RatherError(again, rather) if rather else ValueError(again)
        if grave(answer):
            raise ValueError(f"{why}; correct it, or leave --{option} out and say so in a terminal, where it is asked")
        asker.console.print(f"--{option} {text}: {why}", markup=False)
        return answer

    return once_more


def seen(read: Callable[[str], T], tried: Callable[[T], None]) -> Callable[[str], T]:
    """Return what reads an answer and refuses it where the file would not load with it."""

    def and_tried(text: str) -> T:
        answer = read(text)
        tried(answer)
        return answer

    return and_tried


def read_identifier(text: str) -> str:
    """Return the name of a place or bank, as it may stand in a topic."""
    if not re.fullmatch(HOMIE_ID, text):
        slug = re.sub(r"[^a-z0-9]+", "-", re.sub(r"['\u2019]", "", text.lower())).strip("-")
        rather = slug if re.fullmatch(HOMIE_ID, slug) else "tarn-hut"
        raise RatherError(f"lower case letters, digits and hyphens, such as {rather}", rather)
    return text


def read_address(text: str) -> str:
    """Return address and port; nothing for `none`."""
    if text.lower() in {"none", "no", "n"}:
        return ""
    if text.lower() in {"yes", "y"}:
        return PAGE
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
    """Return how many strings.

    >>> read_count("2"), read_count("two"), read_count("4 blocks")
    (2, 2, 4)
    """
    text = re.sub(r"\s+(blocks?|strings?|in (series|parallel))\b.*$", "", text.strip().lower())
    text = str(_NUMBERS.index(text) + 1) if text in _NUMBERS else text
    if not text.isdecimal() or not 1 <= int(text) <= MOST_OF_A_KIND:
        raise ValueError(f"a whole number from 1 to {MOST_OF_A_KIND}")
    return int(text)


def read_probe(text: str) -> str:
    """Return where the probe sits.

    >>> read_probe("in the acid"), read_probe("On the case.")
    ('cell', 'case')
    >>> read_probe("in the acid of cell 4")
    'cell'
    """
    said = re.sub(r"\s+of (the )?(cell|block|battery)( no\.?)?( \w+)?$", "", text.strip(" ."), flags=re.IGNORECASE)
    said = re.sub(r"^(in|inside|on|at)\s+", "", said.lower())
    said = re.sub(r"^the\s+", "", said)
    place = next((place for place, words in _PLACES.items() if said in words), None)
    if place is None:
        raise ValueError("cell or case, please: it decides which temperature limit counts")
    return place


def where_of(bank: str, place: str) -> str:
    """Return how it is asked where a thermometer sits that may be none of the bank's."""
    return f"Where of {bank} does {place} sit: cell, case, air (around it), or no (elsewhere, none of the bank's)?"


def read_where(text: str) -> str:
    """Return where a thermometer sits: ``cell``, ``case``, ``air`` around the bank, or ``no``, elsewhere."""
    said = text.strip(" .").lower()
    if said in {"no", "n", "none", "elsewhere"}:
        return "no"
    if said in {"air", "around", "around it", "in the air", "the air", "ambient"}:
        return "air"
    try:
        return read_probe(said)
    except ValueError:
        raise ValueError("cell or case or air or no, please") from None


#: A number as a case says it.
_PLAIN = r"\d+(?:\.\d+)?"


def read_block(text: str) -> tuple[float, float]:
    """Return volts [V] and ampere-hours [Ah] of one block, as its case says them: at the 20-hour rate.

    >>> read_block("6V225Ah"), read_block("6V 225Ah 20HR"), read_block("6 volts 225")
    ((6.0, 225.0), (6.0, 225.0), (6.0, 225.0))
    """
    text = re.sub(r"(?<=\d),(?=\d)", ".", text)
    if (times := re.fullmatch(rf"\s*({_PLAIN})\s*V?\s*[x*]\s*(\d+)\s*", text, re.IGNORECASE)) and (
        int(times[2]) <= MOST_OF_A_KIND
    ):
        raise ValueError(
            f"that is {times[2]} blocks of {times[1]} V, which is asked next: here the volts and ampere-hours of one "
            "block, as in 6 V 200 Ah"
        )
    apart, rate = r"(?:(?:V|volts?)[\s,x]*|[\s,x]+)", r"(?:[\s,@/]*(?:C20|20\s*-?\s*h(?:rs?|ours?)?))?"
    found = re.fullmatch(rf"\s*({_PLAIN})\s*{apart}({_PLAIN})\s*(?:Ah)?{rate}\s*", text, re.IGNORECASE)
    if found is None:
        raise ValueError("volts and ampere-hours of one block, as in 6 V 200 Ah")
    volts, capacity = float(found[1]), float(found[2])
    if not volts or volts % VOLTS_PER_CELL or volts > LARGEST_BLOCK or not capacity:
        raise ValueError("a block has 2, 4, 6, 8, 12 ... V and some ampere-hours")
    return volts, capacity


#: A flooded block of a bank that is worth days of work has at least so much [Ah], and a charger gives it at most this
#: share of its ampere-hours in amps [1/h]; common practice, no source.
LEAST_BLOCK, MOST_SHARE = 20.0, 0.5
#: More strings in parallel than this hardly share the current [1]; common practice, no source.
MANY_STRINGS = 4


def small(block: tuple[float, float]) -> str:
    """Return what speaks against a block of so many volts [V] and ampere-hours [Ah]; empty where nothing does."""
    volts, capacity = block
    if capacity >= LEAST_BLOCK:
        return ""
    return f"{capacity:g} Ah is very little for a flooded block of {volts:g} V, which has {LEAST_BLOCK:g} Ah and more"


def many(strings: int, volts: float, capacity: float) -> str:
    """Return which bank follows from so many strings of such blocks [V], [Ah], where they are many; else empty.

    >>> many(12, 6.0, 400.0)
    '12 strings of blocks of 6 V 400 Ah are a bank of 4800 Ah, and more than 4 strings hardly share the current'
    """
    if strings <= MANY_STRINGS:
        return ""
    return (
        f"{strings} strings of blocks of {volts:g} V {capacity:g} Ah are a bank of {strings * capacity:g} Ah, and more "
        f"than {MANY_STRINGS} strings hardly share the current"
    )


#: How the volts of the hold are asked for.
EQUALISED = "to which voltage is the bank to be equalised, of one cell or of the bank?"
#: Said and left where somebody says that a bank is not flooded.
SEALED = (
    "sealed, gel and AGM batteries are refused: equalising voltages are for flooded cells only; others cannot be "
    "refilled with the water that the hold drives out, and may vent or burn"
)
#: How what nobody answered is said, on the screen and in the file.
ASSUMED = "assumed, for nobody said it"
#: Volts of a cell between which a charger is set in a round, and the lowest that charges at all [V] (common practice,
#: no source); of its ampere-hours in amps what an example shows [1/h] (assumed).
SET, CHARGES = (2.4, 2.67), 2.13
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
        return f"charger settings in the order of use, such as {self.example()} (- where not known)?"

    def example(self) -> str:
        """Return settings that would fit this bank."""
        amps = max(1, round(_EXAMPLE_SHARE * self.capacity))
        return ", ".join(f"{round(volts * self.cells, 1):g} V {amps} A" for volts in SET)

    def doubt(self, settings: tuple[tuple[float, float, float], ...]) -> str:
        """Return what speaks against the amps of these settings; empty where nothing does."""
        most = max((amps for _, amps, _ in settings), default=0.0)
        if most <= MOST_SHARE * self.capacity:
            return ""
        return (
            f"{most:g} A is more than half of the bank's {self.capacity:g} Ah in an hour: is one of the two another, "
            "the charger's amps or the ampere-hours of a block (revival setup --block)?"
        )

    def short(self, settings: tuple[tuple[float, float, float], ...], equalise: float) -> str:
        """Return that none of these settings reaches the equalising voltage [V per cell]; empty where one does."""
        highest = max((volts for volts, _, _ in settings), default=math.inf)
        if highest >= (equalise - REACHES) * self.cells:
            return ""
        return (
            f"the highest setting, {highest:g} V, is {highest / self.cells:.2f} V per cell; the bank is to be "
            f"equalised at {equalise:g} V per cell, {equalise * self.cells:.1f} V, and below that the hold cannot begin"
        )

    def own(self, settings: tuple[tuple[float, float, float], ...], equalise: float) -> str:
        """Return the volts that Enter takes to equalise at: the charger's highest where that is enough, else as now."""
        highest = max((volts for volts, _, _ in settings), default=0.0)
        if not self.short(settings, equalise) or highest < HARD_SULFATE * self.cells:
            return f"{equalise:g} V"
        return f"{highest:g} V"

    def read_equalise(self, text: str) -> float:
        """Return the equalising voltage [V per cell]; said of one cell, or of the whole bank.

        >>> Chargers(12, 400.0).read_equalise("31.2 V"), Chargers(12, 400.0).read_equalise("2.6")
        (2.6, 2.6)
        """
        plain = re.fullmatch(rf"({_PLAIN})\s*V?(\s+(per|each|a) cell)?", text.strip().replace(",", "."), re.IGNORECASE)
        if plain is None:
            raise ValueError(f'volts of one cell or of the bank, such as "2.6 V" or "{2.6 * self.cells:g} V"')
        volts = float(plain[1])
        each = round(volts if volts <= MOST else volts / self.cells, 6)
        if not LEAST_EQUALISE <= each < self.ceiling:
            raise ValueError(
                f"{volts:g} V is {each:.2f} V for each of {self.cells} cells: a bank is equalised above "
                f"{LEAST_EQUALISE:g} V and below {self.ceiling:g} V per cell, where harm begins"
            )
        return each

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
            f"such as {self.example()}; - where not known"
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


def asked_settings(asker: Asker, chargers: Chargers) -> Callable[[str], tuple[tuple[float, float, float], ...]]:
    """Return what reads charger settings; in a terminal it asks for what one of them leaves open, and where it starts.

    A volt without amps, or amps without volts, is asked for its other half.
    """
    return doubted(asker, "charger", lambda text: whole_settings(asker, chargers, text), chargers.doubt)


def whole_settings(
    asker: Asker, chargers: Chargers, text: str, before: tuple[tuple[float, float, float], ...] = ()
) -> tuple[tuple[float, float, float], ...]:
    """Return charger settings as said; amps alone change those that stood before, and keep volts and start.

    Parameters
    ----------
    before : tuple
        Settings that are known already: volts [V], amps [A], bank volts at which they start [V].
    """
    text = as_settings(text)
    alone = re.fullmatch(rf"({_PLAIN})\s*A", text, re.IGNORECASE)
    if before and alone is not None:
        if len({amps for _, amps, _ in before}) > 1:
            raise ValueError(
                f"the amps differ from setting to setting: say each, as in {', '.join(map(setting_words, before))}"
            )
        text = ", ".join(setting_words((volts, float(alone[1]), start)) for volts, _, start in before)
        settings = chargers.read(text)
        asker.instead("charger", text)
        return settings
    if not asker.asks or asker.arguments.charger is not None or text == "-":
        return chargers.read(text)
    settings = chargers.read(", ".join(_whole(asker, part) for part in re.split(r",(?!\d)", text)))
    if settings and not any(start for _, _, start in settings):
        known = next((f"{start:g} V" for _, _, start in before if start), NOT_KNOWN)
        start = asker.asked("From which bank volts does it start at all?", known, _started(chargers, settings))
        settings = tuple((volts, amps, start) for volts, amps, _ in settings)
    asker.instead("charger", ", ".join(map(setting_words, settings)))
    return settings


def _whole(asker: Asker, part: str) -> str:
    """Return one setting with both its numbers; the one that is not said is asked for."""
    half = re.fullmatch(rf"\s*({_PLAIN})\s*([VA])\s*", part, re.IGNORECASE)
    if half is None:
        return part
    if half[2].upper() == "A":
        return f"{asker.asked(f'{half[1]} A at how many volts?', '', _amount('V'))} {part}"
    return f"{part} {asker.asked(f'{half[1]} V with at most how many amps?', '', _amount('A'))}"


def _amount(unit: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        found = re.fullmatch(rf"\s*({_PLAIN})\s*{unit}?\s*", text.replace(",", "."), re.IGNORECASE)
        if found is None:
            raise ValueError(f"a number of {unit}, please")
        return f"{found[1]} {unit}"

    return read


def _started(chargers: Chargers, settings: tuple[tuple[float, float, float], ...]) -> Callable[[str], float]:
    """Return what reads the lowest bank volts at which a charger starts; 0 where they are not known."""

    def read(text: str) -> float:
        if text.lower() in {NOT_KNOWN, UNKNOWN, "-", "no", "none"}:
            return 0.0
        start = float(_amount("V")(text).split()[0])
        chargers.read(", ".join(setting_words((volts, amps, start)) for volts, amps, _ in settings))
        return start

    return read


def setting_words(one: tuple[float, float, float]) -> str:
    """Return a charger setting as it is typed.

    >>> setting_words((28.8, 50.0, 20.0))
    '28.8 V 50 A from 20 V'
    """
    volts, amps, start = one
    return f"{volts:g} V {amps:g} A" + (f" from {start:g} V" if start else "")


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
