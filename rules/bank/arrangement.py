"""How the blocks of a bank are wired today: split into halves, rejoined, a string isolated or added.

Everything follows the block: a label keeps its ampere-hours and hours wherever it is wired.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple, TypeVar

from rules.bank.model import Bank, Block
from rules.laws import string_shares

T = TypeVar("T")
#: Effective resistance of a cell on charge for each rated Ah [ohm Ah]; source 9, J. Schiffer et al. 2007.
RESISTANCE = 0.42
#: Volts that are enough where one string is added: of the circuit, and of that string [1].
CIRCUIT_AND_ADDED = 2
#: No charger is set above it for a part of a bank [V per cell]; common practice, no source.
MOST_FOR_A_PART = 2.75


class Arrangement(NamedTuple):
    """Block labels as wired.

    Attributes
    ----------
    strings : tuple of tuple of str
        Strings in the charging circuit, in parallel, each of blocks in series.
    aside : tuple of tuple of str
        Strings, or parts of strings, that are wired but not in the circuit.
    """

    strings: tuple[tuple[str, ...], ...]
    aside: tuple[tuple[str, ...], ...] = ()


def as_configured(bank: Bank) -> Arrangement:
    """Return every string of the bank in the circuit."""
    return Arrangement(tuple(tuple(block.label for block in string) for string in bank.strings))


def halves(bank: Bank, arrangement: Arrangement) -> tuple[Arrangement, Arrangement]:
    """Split every string in the circuit in the middle of its cells, to be woken one half after the other.

    Parameters
    ----------
    bank : Bank
        As configured; knows the cells of each block.
    arrangement : Arrangement
        As wired now.

    Returns
    -------
    tuple of Arrangement
        First halves in the circuit and second halves aside, and the other way round.

    Raises
    ------
    ValueError
        When a string has no joint between blocks in its middle.

    Examples
    --------
    >>> bank = Bank("north", (tuple(Block(f"N{n}", 3, 225.0) for n in range(1, 5)),))
    >>> halves(bank, as_configured(bank))[0]
    Arrangement(strings=(('N1', 'N2'),), aside=(('N3', 'N4'),))
    """
    cells = {label: block.cells for label, block in _blocks(bank).items()}
    firsts: list[tuple[str, ...]] = []
    seconds: list[tuple[str, ...]] = []
    for string in arrangement.strings:
        whole = sum(cells[label] for label in string)
        cut = next((k for k in range(1, len(string)) if 2 * sum(cells[label] for label in string[:k]) == whole), None)
        if cut is None:
            raise ValueError(
                f"string {' '.join(string)} cannot be halved: no joint between two blocks lies in its middle"
            )
        firsts.append(string[:cut])
        seconds.append(string[cut:])
    first, second = tuple(firsts), tuple(seconds)
    return (
        Arrangement(first, second + arrangement.aside),
        Arrangement(second, first + arrangement.aside),
    )


def rejoin(bank: Bank, arrangement: Arrangement) -> Arrangement:
    """Put the parts of every split string together again, in the order in which the bank is configured.

    Parts of one string that all stand aside are joined there, so that `add` brings the string back whole.

    Parameters
    ----------
    bank : Bank
        As configured.
    arrangement : Arrangement
        As wired now.

    Returns
    -------
    Arrangement
        Whole strings; a string of which no part is in the circuit stays aside.

    Raises
    ------
    ValueError
        When nothing is split.

    Examples
    --------
    >>> bank = Bank("north", (tuple(Block(f"N{n}", 3, 225.0) for n in range(1, 5)),))
    >>> rejoin(bank, halves(bank, as_configured(bank))[1]).strings
    (('N1', 'N2', 'N3', 'N4'),)
    """
    wired = {label for string in arrangement.strings for label in string}
    home = as_configured(bank).strings
    whole = tuple(string for string in home if wired & set(string))
    aside = tuple(string for string in home if not wired & set(string))
    if set(whole) == set(arrangement.strings) and set(aside) == set(arrangement.aside):
        back = f"; string {' '.join(aside[0])} comes back with `revival arrange add`" if aside else ""
        raise ValueError(f"bank {bank.id} is not split: there is nothing to rejoin{back}")
    return Arrangement(whole, aside)


def isolate(arrangement: Arrangement, number: int) -> Arrangement:
    """Take one string out of the circuit.

    Parameters
    ----------
    arrangement : Arrangement
        As wired now.
    number : int
        Which string of those in the circuit, counted from 1.

    Returns
    -------
    Arrangement
        That string aside.

    Raises
    ------
    ValueError
        No such string, or it is the last one.

    Examples
    --------
    >>> isolate(Arrangement((("N1", "N2"), ("N3", "N4"))), 2)
    Arrangement(strings=(('N1', 'N2'),), aside=(('N3', 'N4'),))
    """
    string = _numbered(arrangement.strings, number, "in the circuit")
    if len(arrangement.strings) == 1:
        raise ValueError("the last string cannot be isolated: finish or abandon the round instead")
    return Arrangement(_without(arrangement.strings, number), (*arrangement.aside, string))


def add(bank: Bank, arrangement: Arrangement, number: int) -> Arrangement:
    """Put a string that stands aside into the circuit, in parallel with the others.

    Parameters
    ----------
    bank : Bank
        As configured; knows the cells of each block.
    arrangement : Arrangement
        As wired now.
    number : int
        Which string of those aside, counted from 1.

    Returns
    -------
    Arrangement
        That string in the circuit.

    Raises
    ------
    ValueError
        No such string, or its cells differ from those in the circuit.

    Examples
    --------
    >>> bank = Bank("north", ((Block("N1", 6, 225.0),), (Block("N2", 6, 225.0),)))
    >>> add(bank, Arrangement((("N1",),), (("N2",),)), 1).strings
    (('N1',), ('N2',))
    """
    blocks = _blocks(bank)
    string = _numbered(arrangement.aside, number, "standing aside")
    have, need = (sum(blocks[label].cells for label in part) for part in (string, arrangement.strings[0]))
    if have != need:
        raise ValueError(
            f"string {' '.join(string)} has {have} cells, those in the circuit {need}: not in parallel; put the halves "
            "together first, with `revival arrange rejoin`"
        )
    return Arrangement((*arrangement.strings, string), _without(arrangement.aside, number))


def change(bank: Bank, arrangement: Arrangement, act: str, number: int = 1) -> Arrangement:
    """Do one named act, as a person orders it.

    Parameters
    ----------
    bank : Bank
        As configured.
    arrangement : Arrangement
        As wired now.
    act : str
        ``split`` (`number` says which half goes into the circuit), ``swap`` (the other half instead), ``rejoin``,
        ``isolate`` or ``add`` (`number` says which string).
    number : int
        Counted from 1.

    Returns
    -------
    Arrangement
        As wired afterwards.

    Raises
    ------
    ValueError
        The act is unknown or cannot be done, in words.

    Examples
    --------
    >>> bank = Bank("north", ((Block("N1", 6, 225.0), Block("N2", 6, 225.0)),))
    >>> change(bank, change(bank, as_configured(bank), "split"), "swap").strings
    (('N2',),)
    """
    if act == "split":
        return _numbered(halves(bank, arrangement), number, "to choose from")
    if act == "swap":
        other = halves(bank, rejoin(bank, arrangement))
        return other[1] if other[0].strings == arrangement.strings else other[0]
    if act == "rejoin":
        return rejoin(bank, arrangement)
    if act == "isolate":
        return isolate(arrangement, number)
    if act == "add":
        return add(bank, arrangement, number)
    raise ValueError(f"cannot {act!r} a bank: say split, swap, rejoin, isolate or add")


def joining_current(bank: Bank, before: Arrangement, after: Arrangement, volts: Sequence[float]) -> float:
    """Return the current between strings in the moment they are joined in parallel, without any charger [A].

    Parameters
    ----------
    bank : Bank
        As configured.
    before, after : Arrangement
        As wired now, and as it would be.
    volts : sequence of float
        At rest, of every string that is to stand in the circuit, in its order; two are enough where one is added: the
        circuit, and that string [V].

    Raises
    ------
    ValueError
        Volts are missing, in words that say which.

    Examples
    --------
    Two 12 V blocks of 200 Ah, a volt apart: 0.42 ohm Ah are 12.6 milliohms each.

    >>> bank = Bank("north", ((Block("N1", 6, 200.0),), (Block("N2", 6, 200.0),)))
    >>> apart = Arrangement((("N1",),), (("N2",),))
    >>> round(joining_current(bank, apart, as_configured(bank), [12.6, 11.6]), 1)
    39.7
    """
    if len(after.strings) <= 1 or set(after.strings) <= set(before.strings):
        return 0.0
    told = list(volts)
    if len(told) == CIRCUIT_AND_ADDED and len(after.strings) == len(before.strings) + 1:
        circuit, added = told
        told = [*[circuit] * len(before.strings), added]
    if len(told) != len(after.strings):
        named = ", ".join(" ".join(string) for string in after.strings)
        raise ValueError(f"measure at rest and say the volts of every string that will be in parallel: {named}")
    blocks = _blocks(bank)
    ohms = [
        RESISTANCE * sum(blocks[label].cells for label in string) / min(blocks[label].capacity for label in string)
        for string in after.strings
    ]
    return max(abs(amps) for amps in string_shares(0.0, told, ohms).currents)


def arranged(bank: Bank, arrangement: Arrangement) -> Bank:
    """Return the bank as it is wired now: same blocks and limits, other strings.

    Charger settings are written for the whole bank; where the cells in series differ they no longer hold and are
    learned instead.

    Parameters
    ----------
    bank : Bank
        As configured.
    arrangement : Arrangement
        As wired now.

    Returns
    -------
    Bank
        Its strings are what is in the circuit; what stands aside is kept beside them.

    Raises
    ------
    ValueError
        A label that the bank does not have, or a label wired twice.

    Examples
    --------
    >>> bank = Bank("north", (tuple(Block(f"N{n}", 3, 225.0) for n in range(1, 5)),))
    >>> arranged(bank, halves(bank, as_configured(bank))[0]).cells
    6
    """
    blocks = _blocks(bank)
    labels = [label for string in arrangement.strings + arrangement.aside for label in string]
    unknown = [label for label in labels if label not in blocks]
    if unknown:
        raise ValueError(f"bank {bank.id} has no block {', '.join(unknown)}")
    if len(set(labels)) != len(labels):
        raise ValueError(f"bank {bank.id}: a block cannot be wired twice")
    strings = tuple(tuple(blocks[label] for label in string) for string in arrangement.strings)
    aside = tuple(tuple(blocks[label] for label in string) for string in arrangement.aside)
    wired = replace(bank, strings=strings, aside=aside)
    return wired if wired.cells == bank.cells else replace(wired, chargers=())


def _blocks(bank: Bank) -> dict[str, Block]:
    return {block.label: block for string in bank.strings for block in string}


def _numbered(things: Sequence[T], number: int, where: str) -> T:
    if not 1 <= number <= len(things):
        raise ValueError(f"there is no number {number} {where}: there are {len(things)}")
    return things[number - 1]


def _without(strings: tuple[tuple[str, ...], ...], number: int) -> tuple[tuple[str, ...], ...]:
    return strings[: number - 1] + strings[number:]


def too_much_for_the_part(whole: Bank, part: Bank) -> str:
    """Say that even the lowest setting of the charger is too much for the part in the circuit; empty where it is not.

    Parameters
    ----------
    whole, part : Bank
        As configured, with its charger's settings, and as joined now.

    Examples
    --------
    >>> from rules.bank.model import ChargerSetting
    >>> blocks = (tuple(Block(f"N{n}", 3, 225.0) for n in range(1, 5)),)
    >>> north = Bank("north", blocks, chargers=(ChargerSetting(28.8, 29.0),))
    >>> too_much_for_the_part(north, arranged(north, halves(north, as_configured(north))[0]))[:65]
    "the charger's lowest setting, 28.8 V, is 4.80 V per cell for the "
    """
    lowest = min((setting.volts for setting in whole.chargers), default=0.0)
    if part.cells == whole.cells or lowest <= MOST_FOR_A_PART * part.cells:
        return ""
    per_cell = lowest / part.cells
    return (
        f"the charger's lowest setting, {lowest:g} V, is {per_cell:.2f} V per cell for the {part.cells} cells "
        f"in the circuit: keep it off until it is set to {MOST_FOR_A_PART * part.cells:.1f} V at most, or use one made "
        f"for {part.cells} cells"
    )
