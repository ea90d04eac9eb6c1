"""Cells in series, strings in parallel, a cable and a source: the circuit that every family is wired into.

The circuit is no physics of a cell: a family says how its cells answer (`linear`), and is told the current (`follow`).
"""

from __future__ import annotations

from typing import Any, NamedTuple, Protocol

import numpy as np

Array = np.ndarray[Any, np.dtype[Any]]

#: Rounds of Newton's rule at most, and the change of a cell's iterate at which it stops [V].
ROUNDS, NEAR = 14, 2e-4


class Make(NamedTuple):
    """A bank as it was built and what has become of it, in words that every family can translate.

    Attributes
    ----------
    strings, blocks, block_cells : int
        Arrangement.
    capacity : float
        Of a string when it was new [Ah].
    blocked : float
        How deeply the plates are sealed: 0 not at all, 1 hardly a fifth of a percent of the rating passes [1].
    pace : float
        How fast it opens against the family's middle [1].
    soft, hard, lost : float
        Shares of the rating: sulfate that charges readily, old crystals, beyond recovery [1].
    dissolve : float
        How fast old crystals dissolve against the family's middle [1].
    gas : float
        Gassing of 100 Ah at 2.23 V per cell and 25 degC when the round begins [A].
    spread, apart : float
        Cell to cell (log), and how much deeper each further string is blocked (factor on what passes) [1].
    cooling : float
        Heat lost per kelvin and Ah of a cell [W/(K Ah)].
    resistance : float
        Of a cell on charge, times Ah, against the family's middle [1].
    dead : bool
        It never opens.
    """

    strings: int = 1
    blocks: int = 4
    block_cells: int = 3
    capacity: float = 200.0
    blocked: float = 0.7
    pace: float = 1.0
    soft: float = 0.6
    hard: float = 0.25
    lost: float = 0.1
    dissolve: float = 1.0
    gas: float = 0.03
    spread: float = 0.1
    apart: float = 1.0
    cooling: float = 0.003
    resistance: float = 1.0
    dead: bool = False

    @property
    def cells(self) -> int:
        """In series."""
        return self.blocks * self.block_cells

    @property
    def shape(self) -> tuple[int, int]:
        """Strings, cells."""
        return self.strings, self.cells


class Cells(Protocol):
    """What a family gives: arrays are shaped (strings, cells)."""

    make: Make
    #: Longest step it may be asked to live through [s].
    longest: float
    warmth: Array

    def live(self, limit: float, amps: float, air: float, seconds: float) -> tuple[float, Array]:
        """Let it live on a source of at most so many volts and amps; amps 0 = open, negative = a load.

        Returns volts at the posts and each string's amps.
        """
        ...

    def volts(self) -> Array:
        """Of every cell [V]."""
        ...

    def appetite(self) -> float:
        """What the bank would take at 2.40 V per cell without its gas [A]."""
        ...

    def open_share(self) -> float:
        """How much of what can ever open is open [0..1], the mean over cells."""
        ...

    def gassing(self) -> Array:
        """Current that splits water [A]."""
        ...

    def charged(self) -> Array:
        """Charge in the plates [Ah]; with gas and leaks it accounts for every ampere-second that came in."""
        ...

    def leaking(self) -> Array:
        """Current through shorts and dirt [A]."""
        ...

    def short(self, string: int, cell: int, siemens: float) -> None:
        """Let a cell short from now on."""
        ...

    def poison(self, factor: float) -> None:
        """Let all cells gas so many times more from now on."""
        ...


class Chain(Protocol):
    """Cells as the circuit sees them."""

    def linear(self) -> tuple[Array, Array]:
        """Volts without current and ohms of every cell about its present iterate, [V] and [ohm]."""
        ...

    def follow(self, current: Array) -> float:
        """Take the strings' currents [A] as true, move the iterate, and say by how much it moved at most [V]."""
        ...


def solve(chain: Chain, limit: float, amps: float, leads: Array) -> tuple[float, Array]:
    """Find volts at the posts and each string's current.

    Parameters
    ----------
    chain : Chain
        The cells.
    limit, amps : float
        Source: at most so many volts and amps. With `amps` zero or less it is off and a load draws that much.
    leads : Array
        In series with each string [ohm].
    """
    volts, strings = 0.0, np.zeros(len(leads))
    for _ in range(ROUNDS):
        base, ohms = chain.linear()
        pull, steep = base.sum(axis=1), ohms.sum(axis=1) + leads
        ease = float((1.0 / steep).sum())
        rest = float((pull / steep).sum()) / ease
        volts = rest + amps / ease
        if amps > 0.0 and volts > limit:
            volts = max(limit, rest)  # a charger does not draw
        strings = (volts - pull) / steep
        if chain.follow(strings) < NEAR:
            break
    return volts, strings


def string_at(chain_volts: Any, cells: int, target: float, most: float) -> float:
    """Current of one string at so many volts per cell, by halving; `chain_volts` maps amps to the string's volts."""
    low, high = 0.0, most
    for _ in range(24):
        middle = 0.5 * (low + high)
        if chain_volts(middle) < target * cells:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
