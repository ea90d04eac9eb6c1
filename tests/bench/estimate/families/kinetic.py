"""Two wells of charge behind an equivalent circuit, with one Tafel branch of gas.

Charge lies in a well at the plates' surface and in one that is bound; it moves between them by the difference of their
heads (Manwell and McGowan, Solar Energy 50 (1993) 399, from memory). Their voltage on charge is a line in the surface
head and a hyperbola ``C X / (D - X)`` that closes as it fills (the same authors' voltage model, from memory). Sealed
plates open as a Gompertz curve in time, pushed by what has been charged; hard crystals join the wells at a rate that
the overpotential drives. Gas: 20 mA per 100 Ah at 2.23 V, a decade per 0.209 V, doubling per 11.6 K (Schiffer et al.,
J. Power Sources 168 (2007) 66). Rest voltage: 1.91 V at SG 1.05 to 2.11 V at 1.265 (Bode 1977). Resistance on charge:
0.42 ohm Ah (Schiffer). The rest is assumed and drawn widely by `priors`.
"""

from __future__ import annotations

import numpy as np

from .wire import Array, Make, solve, string_at

#: Share of the charge in the surface well (Manwell and McGowan find 0.2 to 0.6 for lead-acid, from memory) [1].
WELL = 0.35
#: How fast the wells level [1/h] (0.3 to 3 from memory).
LEVEL = 0.9
#: Rest voltage of an empty and a full surface well [V] (Bode).
EMPTY, FULL = 1.915, 2.115
#: Hyperbola on charge: volts, where it closes [V], [1], and the share of the rating per hour that raises it half.
CLOSES, WALL, HALF = 0.035, 1.06, 0.01
OHM_AH = 0.42
GAS_DECADE, GAS_DOUBLES = 0.209, 11.6
#: Opening [1/h], and the charge that wets the plates before it goes at full pace, of the rating [1].
OPENS, WETS = 0.10, 0.02
#: Hard crystals join the wells [1/h] at 0.4 V over rest.
JOINS = 0.11
#: Heat held by a cell [J/(K Ah)]: 30.3 kJ/K for three cells of 200 Ah, by parts.
HEAT = 50.5
WATER_VOLTS = 1.481


class Kinetic:
    """The state, changed in place."""

    longest = 60.0

    def __init__(self, make: Make, air: float, random: np.random.Generator) -> None:
        self.make = make

        def about(value: float, by: float = make.spread) -> Array:
            return value * np.exp(random.normal(0.0, by, make.shape))

        self.rated = about(make.capacity, 0.02)
        self.hard = np.clip(about(make.hard), 0.0, 0.9) * self.rated
        lost = np.clip(make.lost * np.exp(random.normal(0.0, make.spread, make.shape)), 0.0, 0.8) * self.rated
        self.size = np.maximum(self.rated - self.hard - lost, 0.05 * self.rated)
        charged = np.clip(self.size - about(make.soft) * self.rated, 0.01 * self.size, 0.995 * self.size)
        self.surface, self.bound = WELL * charged, (1.0 - WELL) * charged
        order = make.apart ** np.arange(make.strings)[:, None]
        # From all the surface down to a thousandth of it.
        self.opened = np.minimum(about(np.exp(-7.0 * make.blocked), 2.0 * make.spread) * order, 1.0)
        self.opens = about(OPENS * make.pace)
        self.most = np.minimum(1.5 * self.opened, 0.04) if make.dead else np.full(make.shape, 1.0)
        self.most = np.maximum(self.most, self.opened)
        self.joins = about(JOINS * make.dissolve)
        self.gas = about(make.gas) * self.rated / 100.0
        self.ohms = OHM_AH * make.resistance / self.rated
        self.cooling = make.cooling * make.capacity
        self.leak = np.zeros(make.shape)
        self.warmth = np.full(make.shape, air)
        self.through = np.zeros(make.shape)
        self.iterate = np.full(make.shape, 2.05)
        self.leads = np.full(make.strings, 0.003)
        self.given = np.zeros(make.shape)

    def _rest(self) -> Array:
        head = np.minimum(self.surface / (WELL * self.size), 1.05)
        return EMPTY + (FULL - EMPTY) * head + 0.0002 * (self.warmth - 25.0)

    def _prepare(self) -> None:
        head = np.minimum(self.surface / (WELL * self.size), WALL - 0.004)
        self.rest = self._rest()
        cold = np.exp(-0.012 * (self.warmth - 25.0))
        # A sealed plate carries its current through spots.
        self.path = self.ohms * cold * (0.5 + 0.5 / self.opened)
        self.wall = CLOSES * cold * head / (WALL - head)
        self.half = HALF * self.size
        self.empty = np.clip(self.surface / (0.02 * WELL * self.size), 0.0, 1.0)
        bare = 0.1 + 0.9 * self.opened
        self.bubbles = self.gas * bare * np.exp2((self.warmth - 25.0) / GAS_DOUBLES)

    def _charge(self, over: Array) -> tuple[Array, Array]:
        """Charging current and its slope at so many volts over rest: a resistance and a wall in series."""
        up = np.maximum(over, 0.0)
        b = self.path * self.half + self.wall - up
        amps = (np.sqrt(b * b + 4.0 * self.path * up * self.half) - b) / (2.0 * self.path)
        slope = 1.0 / (self.path + self.wall * self.half / np.square(amps + self.half))
        down = self.empty / (1.5 * self.path)
        return np.where(over > 0.0, amps, over * down), np.where(over > 0.0, slope, down + 1e-9)

    def _flow(self, volts: Array) -> tuple[Array, Array]:
        amps, slope = self._charge(volts - self.rest)
        gas = self.bubbles * np.power(10.0, np.clip((volts - 2.23) / GAS_DECADE, -12.0, 8.0))
        return amps + gas + self.leak * volts, slope + gas * np.log(10.0) / GAS_DECADE + self.leak

    def linear(self) -> tuple[Array, Array]:
        """See `wire.Chain`."""
        self.flow, self.slope = self._flow(self.iterate)
        return self.iterate - self.flow / self.slope, 1.0 / self.slope

    def follow(self, current: Array) -> float:
        """See `wire.Chain`."""
        move = np.clip((current[:, None] - self.flow) / self.slope, -0.12, 0.12)
        self.iterate = np.clip(self.iterate + move, -1.0, 4.0)
        return float(np.abs(move).max())

    def live(self, limit: float, amps: float, air: float, seconds: float) -> tuple[float, Array]:
        """See `wire.Cells`."""
        self._prepare()
        volts, strings = solve(self, limit, amps, self.leads)
        hours = seconds / 3600.0
        main, _ = self._charge(self.iterate - self.rest)
        over = np.maximum(self.iterate - self.rest, 0.0)
        warm = np.exp2(np.clip(self.warmth - 25.0, -30.0, 25.0) / 14.0)
        level = LEVEL * (0.5 + 0.5 * self.opened) * warm
        share = np.exp(-level * hours)
        total = self.surface + self.bound + main * hours
        aim = WELL * total
        self.surface = np.maximum(aim + (self.surface + main * hours - aim) * share, 0.0)
        self.bound = np.maximum(total - self.surface, 0.0)
        self.given = self.given + main * hours
        joined = self.joins * warm * self.opened * np.clip(over / 0.4, 0.0, 2.0) * np.sqrt(self.hard * 0.1 * self.rated)
        joined = np.minimum(joined * hours, self.hard)
        self.hard, self.size = self.hard - joined, self.size + joined
        wet = 0.12 + 0.88 * np.clip(self.given / (WETS * self.rated), 0.0, 1.0)
        push = self.opens * warm * wet * np.clip(over / 0.4, 0.0, 1.5)
        gap = np.log(self.most / self.opened)
        self.opened = self.most * np.exp(-gap * np.exp(-push * hours))
        self._heat(strings[:, None], main, air, seconds)
        return volts, strings

    def _heat(self, through: Array, main: Array, air: float, seconds: float) -> None:
        gas = self.gassing()
        watts = main * (self.iterate - self.rest) + gas * (self.iterate - WATER_VOLTS)
        watts = watts + self.leak * np.square(self.iterate)
        near = 0.5 * (np.roll(self.warmth, 1, axis=1) + np.roll(self.warmth, -1, axis=1))
        flow = self.cooling * (air - self.warmth) + 3.0 * (near - self.warmth)
        self.warmth = self.warmth + (watts + flow) * seconds / (HEAT * self.make.capacity)

    def volts(self) -> Array:
        """See `wire.Cells`."""
        return self.iterate

    def appetite(self) -> float:
        """See `wire.Cells`."""
        self._prepare()
        total = 0.0
        for row in range(self.make.strings):

            def string(amps: float, row: int = row) -> float:
                drop = amps * self.path[row] + self.wall[row] * amps / (amps + self.half[row])
                return float((self.rest[row] + drop).sum())

            total += string_at(string, self.make.cells, 2.40, 1.2 * self.make.capacity)
        return total

    def open_share(self) -> float:
        """See `wire.Cells`."""
        return float((self.opened / np.maximum(self.most, 0.2)).mean())

    def gassing(self) -> Array:
        """See `wire.Cells`."""
        return self.bubbles * np.power(10.0, np.clip((self.iterate - 2.23) / GAS_DECADE, -12.0, 8.0))

    def charged(self) -> Array:
        """See `wire.Cells`."""
        return self.surface + self.bound

    def leaking(self) -> Array:
        """See `wire.Cells`."""
        return self.leak * self.iterate

    def short(self, string: int, cell: int, siemens: float) -> None:
        """See `wire.Cells`."""
        self.leak[string, cell] += siemens

    def poison(self, factor: float) -> None:
        """See `wire.Cells`."""
        self.gas = self.gas * factor
