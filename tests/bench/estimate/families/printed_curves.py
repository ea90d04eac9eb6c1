"""No equation at all: printed charge curves and tables of flooded cells, read off between their points.

- Volts per cell against state of charge at rest: the deep-cycle chart (12.70, 12.40, 12.20, 12.00, 11.90 V for six
  cells at 100, 75, 50, 25, 0 %; two texts read).
- Volts per cell against state of charge while charging at C/40, C/20, C/10, C/5: the usual chart for flooded cells at
  25 degC, from memory; at the end it meets the finishing voltages of 2.4 to 2.6 V at 3 to 6 % of C20 (Navy).
- How much of the current stays as charge, against state of charge: above 95 % when low, 55 % around 80 to 84 % at the
  margin, under 50 % above 90 % (Stevens and Corey, Sandia; abstract read, numbers from memory).
- Gassing of 100 Ah against volts at 15, 25, 35 and 43.3 degC: the table that follows from Schiffer et al. (2007).
- Capacity and acceptance against temperature: 82.3 % at 10.3 degC to 107.1 % at 34.1 degC (an open model's table).
- What a sealed bank takes against the hours it has been at its charger's limit, and how much old sulfate is left after
  so much overcharge: the trade's shapes ("two or three days at a low rate"; common practice, no source).

Opening is driven by time at voltage, old sulfate by overcharge; nothing else pushes either.
"""

from __future__ import annotations

import numpy as np

from .wire import Array, Make, solve, string_at

SHARES = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0, 1.1])
RATES = np.array([0.0, 0.025, 0.05, 0.1, 0.2])
REST = np.interp(SHARES, [0.0, 0.25, 0.5, 0.75, 1.0], np.array([11.90, 12.00, 12.20, 12.40, 12.70]) / 6.0)
CURVES = np.array(
    [
        REST,
        [2.02, 2.05, 2.07, 2.085, 2.10, 2.12, 2.145, 2.18, 2.22, 2.30, 2.37, 2.47, 2.75],
        [2.05, 2.08, 2.10, 2.115, 2.13, 2.15, 2.18, 2.22, 2.28, 2.39, 2.48, 2.58, 2.85],
        [2.10, 2.125, 2.145, 2.165, 2.185, 2.21, 2.245, 2.30, 2.38, 2.52, 2.60, 2.68, 2.95],
        [2.17, 2.20, 2.225, 2.25, 2.275, 2.305, 2.35, 2.42, 2.52, 2.64, 2.70, 2.76, 3.05],
    ]
)
STAYS = np.array([0.99, 0.99, 0.99, 0.985, 0.98, 0.975, 0.96, 0.93, 0.85, 0.60, 0.38, 0.0, 0.0])
GAS_VOLTS = np.array([2.00, 2.23, 2.30, 2.35, 2.40, 2.45, 2.50, 2.55, 2.58, 2.60, 2.65, 2.70, 2.90])
GAS_WARMTH = np.array([15.0, 25.0, 35.0, 43.3])
GAS = np.array(
    [
        [0.0009, 0.011, 0.024, 0.041, 0.071, 0.123, 0.214, 0.371, 0.516, 0.643, 1.114, 1.931, 17.4],
        [0.0016, 0.020, 0.043, 0.075, 0.130, 0.225, 0.390, 0.676, 0.940, 1.171, 2.030, 3.518, 31.8],
        [0.0029, 0.036, 0.079, 0.136, 0.236, 0.410, 0.710, 1.231, 1.713, 2.134, 3.699, 6.411, 57.9],
        [0.0048, 0.060, 0.130, 0.224, 0.389, 0.674, 1.169, 2.026, 2.818, 3.511, 6.086, 10.55, 95.2],
    ]
)
WARMTH = np.array([0.0, 10.3, 15.1, 19.8, 24.6, 29.3, 34.1, 45.0])
TAKES = np.array([0.70, 0.823, 0.875, 0.927, 0.978, 1.027, 1.071, 1.15])
#: Hours at the limit, over those of the whole opening, and how far (in the logarithm) it is open then.
OPEN_AT = np.array([0.0, 0.15, 0.3, 0.45, 0.6, 0.75, 0.9, 1.0])
OPEN_BY = np.array([0.0, 0.03, 0.09, 0.20, 0.40, 0.68, 0.92, 1.0])
#: Hours of the opening of a bank that is sealed as deep as any, at 2.58 V and 25 degC.
OPENING = 30.0
#: Overcharge over the rating, and how much old sulfate is left.
OVER = np.array([0.0, 0.05, 0.15, 0.3, 0.6, 1.0, 2.0])
LEFT = np.array([1.0, 0.82, 0.58, 0.36, 0.15, 0.05, 0.0])
#: Heat held and thermoneutral voltage, by parts and by formation enthalpy [J/(K Ah)], [V].
HEAT, WATER_VOLTS = 48.0, 1.481


class PrintedCurves:
    """The state, changed in place."""

    longest = 60.0

    def __init__(self, make: Make, air: float, random: np.random.Generator) -> None:
        self.make = make

        def about(value: float, by: float = make.spread) -> Array:
            return value * np.exp(random.normal(0.0, by, make.shape))

        self.rated = about(make.capacity, 0.02)
        self.old = np.clip(about(make.hard), 0.0, 0.9) * self.rated
        self.old_first = self.old.copy()
        lost = np.clip(about(make.lost), 0.0, 0.8) * self.rated
        self.size = np.maximum(self.rated - self.old - lost, 0.05 * self.rated)
        self.inside = np.clip(self.size - about(make.soft) * self.rated, 0.01 * self.size, 0.99 * self.size)
        depth = about(7.0 * make.blocked, 0.5 * make.spread)
        depth = depth - np.log(make.apart) * np.arange(make.strings)[:, None]
        self.depth = np.clip(depth, 0.0, 8.0)
        self.progress = np.zeros(make.shape)
        self.end = np.full(make.shape, 0.12 if make.dead else 1.0)
        hours = OPENING * np.maximum(self.depth / 7.0, 0.05)
        self.pace = about(make.pace, 0.5 * make.spread) / hours
        self.dissolves = about(make.dissolve)
        self.gas_times = about(make.gas / 0.02)
        self.over = np.zeros(make.shape)
        self.stiff = make.resistance
        self.cooling = make.cooling * make.capacity
        self.leak = np.zeros(make.shape)
        self.warmth = np.full(make.shape, air)
        self.iterate = np.full(make.shape, 2.05)
        self.leads = np.full(make.strings, 0.002)

    def _open(self) -> Array:
        by = np.interp(np.minimum(self.progress, self.end), OPEN_AT, OPEN_BY)
        return np.exp(-self.depth * (1.0 - by))

    def _prepare(self) -> None:
        share = np.clip(self.inside / self.size, 0.0, 1.1)
        curves = np.array([np.interp(share, SHARES, curve) for curve in CURVES])
        # A higher resistance stretches every curve away from rest.
        self.curves = curves[0] + self.stiff * (curves - curves[0])
        self.stays = np.interp(share, SHARES, STAYS)
        self.opened = self._open()
        self.scale = self.opened * self.size * np.interp(self.warmth, WARMTH, TAKES)
        self.bare = self.gas_times * self.rated / 100.0 * (0.1 + 0.9 * self.opened)
        place = np.clip(np.searchsorted(GAS_WARMTH, self.warmth) - 1, 0, len(GAS_WARMTH) - 2)
        self.between = (self.warmth - GAS_WARMTH[place]) / (GAS_WARMTH[place + 1] - GAS_WARMTH[place])
        self.place = place
        self.holds = np.clip(self.inside / (0.03 * self.size), 0.0, 1.0)

    def _rate(self, volts: Array) -> tuple[Array, Array]:
        """Main current over capacity and its slope, between the printed curves [1/h], [1/(h V)]."""
        c = self.curves
        place = np.clip((volts >= c[1:4]).sum(axis=0), 0, 3)
        low = np.take_along_axis(c, place[None], axis=0)[0]
        high = np.take_along_axis(c, place[None] + 1, axis=0)[0]
        slope = (RATES[place + 1] - RATES[place]) / np.maximum(high - low, 1e-3)
        rate = RATES[place] + slope * (volts - low)
        under = volts < c[0]
        down = 0.5 * RATES[1] / np.maximum(c[1] - c[0], 1e-3) * self.holds + 1e-6
        rate = np.where(under, down * (volts - c[0]), rate * self.stays)
        return rate, np.where(under, down, slope * self.stays + 1e-6)

    def _bubbles(self, volts: Array) -> tuple[Array, Array]:
        logs = [np.interp(volts, GAS_VOLTS, np.log(row)) for row in GAS]
        low = np.choose(self.place, logs)
        high = np.choose(self.place + 1, [*logs[:-1], logs[-1]])
        gas = self.bare * np.exp(np.clip(low + self.between * (high - low), -40.0, 6.0))
        return gas, 11.0 * gas

    def linear(self) -> tuple[Array, Array]:
        """See `wire.Chain`."""
        rate, steep = self._rate(self.iterate)
        gas, gas_steep = self._bubbles(self.iterate)
        self.flow = self.scale * rate + gas + self.leak * self.iterate
        self.slope = self.scale * steep + gas_steep + self.leak
        return self.iterate - self.flow / self.slope, 1.0 / self.slope

    def follow(self, current: Array) -> float:
        """See `wire.Chain`."""
        move = np.clip((current[:, None] - self.flow) / self.slope, -0.1, 0.1)
        self.iterate = np.clip(self.iterate + move, -1.0, 4.0)
        return float(np.abs(move).max())

    def live(self, limit: float, amps: float, air: float, seconds: float) -> tuple[float, Array]:
        """See `wire.Cells`."""
        self._prepare()
        volts, strings = solve(self, limit, amps, self.leads)
        hours = seconds / 3600.0
        rate, _ = self._rate(self.iterate)
        main = self.scale * rate
        gas, _ = self._bubbles(self.iterate)
        self.inside = np.clip(self.inside + main * hours, 0.0, None)
        warm = np.exp2(np.clip(self.warmth - 25.0, -25.0, 20.0) / 12.0)
        at_limit = np.clip((self.iterate - 2.28) / 0.30, 0.0, 1.4)
        # What has begun to take charge goes on opening while it charges below the limit.
        at_limit = np.maximum(at_limit, np.clip(rate * self.opened / 0.05, 0.0, 1.0))
        self.progress = self.progress + self.pace * warm * at_limit * hours
        self.over = self.over + gas / self.rated * self.dissolves * self.opened * hours
        left = self.old_first * np.interp(self.over, OVER, LEFT)
        self.size = self.size + (self.old - left)
        self.old = left
        rest = self.curves[0]
        watts = main * (self.iterate - rest) + gas * (self.iterate - WATER_VOLTS) + self.leak * np.square(self.iterate)
        cases = self.warmth.reshape(self.make.strings, -1, self.make.block_cells).mean(axis=2)
        near = np.repeat(cases, self.make.block_cells, axis=1)
        lost = self.cooling * (self.warmth - air) + 4.0 * (self.warmth - near)
        self.warmth = self.warmth + (watts - lost) * seconds / (HEAT * self.make.capacity)
        return volts, strings

    def volts(self) -> Array:
        """See `wire.Cells`."""
        return self.iterate

    def appetite(self) -> float:
        """See `wire.Cells`."""
        self._prepare()
        total = 0.0
        for row in range(self.make.strings):
            curves, scale, stays = self.curves[:, row], self.scale[row], np.maximum(self.stays[row], 1e-3)

            def string(amps: float, c: Array = curves, scale: Array = scale, stays: Array = stays) -> float:
                rate = amps / scale / stays
                place = np.clip(np.searchsorted(RATES, rate) - 1, 0, 3)
                cell = np.arange(len(rate))
                low, high = c[place, cell], c[place + 1, cell]
                return float((low + (high - low) * (rate - RATES[place]) / (RATES[place + 1] - RATES[place])).sum())

            total += string_at(string, self.make.cells, 2.40, 1.2 * self.make.capacity)
        return total

    def open_share(self) -> float:
        """See `wire.Cells`."""
        return float(self._open().mean())

    def gassing(self) -> Array:
        """See `wire.Cells`."""
        return self._bubbles(self.iterate)[0]

    def charged(self) -> Array:
        """See `wire.Cells`."""
        return self.inside

    def leaking(self) -> Array:
        """See `wire.Cells`."""
        return self.leak * self.iterate

    def short(self, string: int, cell: int, siemens: float) -> None:
        """See `wire.Cells`."""
        self.leak[string, cell] += siemens

    def poison(self, factor: float) -> None:
        """See `wire.Cells`."""
        self.gas_times = self.gas_times * factor
