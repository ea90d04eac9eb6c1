"""The general model for photovoltaic systems with its over-charge branch, and a film that charge wears away.

Copetti, Lorenzo and Chenlo, Progress in Photovoltaics 1 (1993) 283, from memory, volts per cell, currents over C10:

- charging: ``2.0 + 0.16 z + i (6 / (1 + I^0.86) + 0.48 / (1 - z)^1.2 + 0.036) (1 - 0.025 dT)``
- gassing begins at ``(2.24 + 1.97 ln(1 + i)) (1 - 0.002 dT)`` and the voltage ends at
  ``(2.45 + 2.011 ln(1 + i)) (1 - 0.002 dT)``, which it nears with the time ``17.3 / (1 + 852 i^1.67)`` h
- of the current ``1 - exp(20.73 (z - 1) / (I / I10 + 0.55))`` is charge, the rest gas.

Here the over-charge branch belongs to the share of the plates that is open and nearly charged; the gassing current is
scaled by what the round drew (the published scale is that of old antimonial cells: scaled down, assumed). Added, and
assumed: a film in series whose logarithm falls with every ampere-hour that passes (a hyperbola in time: long nothing,
then suddenly); old sulfate gives itself up exponentially above 2.3 V, and slows the end of the charge while it lasts.
"""

from __future__ import annotations

import numpy as np

from .wire import Array, Make, solve, string_at

#: C10 over C20 (deep-cycle data sheets) [1].
TEN = 0.92
#: Gassing current that the round's 0.02 A per 100 Ah stands for, over the published branch [1]. Assumed.
SCALE = 0.16
#: Charge over the rating that takes an e-fold off the film [1], film of a bank sealed as deep as any [ohm Ah].
WEARS, FILM = 0.02, 260.0
#: Old sulfate at 2.6 V and 25 degC [1/h], and how much it slows the end [1].
GIVES, SLOWS = 0.045, 20.0
HEAT, WATER_VOLTS = 52.0, 1.481


class Overcharge:
    """The state, changed in place."""

    longest = 60.0

    def __init__(self, make: Make, air: float, random: np.random.Generator) -> None:
        self.make = make

        def about(value: float, by: float = make.spread) -> Array:
            return value * np.exp(random.normal(0.0, by, make.shape))

        self.rated = about(make.capacity, 0.02)
        self.ten = TEN * self.rated
        self.old = np.clip(about(make.hard), 0.0, 0.9) * self.rated
        lost = np.clip(about(make.lost), 0.0, 0.8) * self.rated
        self.size = np.maximum(self.rated - self.old - lost, 0.05 * self.rated)
        self.inside = np.clip(self.size - about(make.soft) * self.rated, 0.01 * self.size, 0.99 * self.size)
        order = make.apart ** np.arange(make.strings)[:, None]
        self.film = about(FILM * make.blocked**2.2, 2.0 * make.spread) / order / self.rated
        self.thin = 0.02 * self.film
        self.least = 0.6 * self.film if make.dead else np.full(make.shape, 1e-4) / self.rated
        self.wears = about(WEARS / make.pace**0.7)
        self.gives = about(GIVES * make.dissolve)
        self.times = about(SCALE * make.gas / 0.02)
        self.stiff = make.resistance
        self.risen = np.zeros(make.shape)
        self.cooling = make.cooling * make.capacity
        self.leak = np.zeros(make.shape)
        self.warmth = np.full(make.shape, air)
        self.iterate = np.full(make.shape, 2.05)
        self.before = np.full(make.shape, 0.5)
        self.leads = np.full(make.strings, 0.004)

    def _opened(self) -> Array:
        """From what the film leaves of the current through a sound plate."""
        sound = 1.2 / self.rated
        return sound / (sound + self.film)

    def _prepare(self) -> None:
        share = np.clip(self.inside / self.size, 0.0, 0.998)
        warmer = np.clip(self.warmth - 25.0, -30.0, 30.0)
        self.rest = 2.0 + 0.13 * share - 0.03 * (share < 0.2)
        amps = np.maximum(self.before, 0.02)
        curve = 6.0 / (1.0 + amps**0.86) + 0.48 / (1.0 - share) ** 1.2 + 0.036
        self.path = self.stiff * curve / self.ten * np.clip(1.0 - 0.025 * warmer, 0.35, 2.0) + self.film
        # On discharge: about 0.7 ohm Ah (Schiffer 2007).
        self.back = 0.7 * self.stiff / self.rated + self.film
        self.cold = 1.0 - 0.002 * warmer
        self.wide = self._opened() * np.clip((share - 0.72) / 0.25, 0.0, 1.0)
        self.share = share
        self.holds = np.clip(self.inside / (0.03 * self.size), 0.0, 1.0)
        self.up = 1.0 - np.exp(-self.risen)

    def _over(self, volts: Array) -> tuple[Array, Array]:
        """Current of the over-charge branch and its slope."""
        steep = 1.97 + 0.041 * self.up
        log = np.clip((volts / self.cold - 2.24 - 0.21 * self.up) / steep, 0.0, 1.5)
        # The scale shifts the published branch along the current; before it has risen it is not yet gas alone.
        times = self.ten * (self.times * self.up + (1.0 - self.up)) * self.wide
        # The lower end is a Tafel tail so that a float current exists.
        tail = times * 0.004 * np.exp(np.clip((volts - 2.45) / 0.09, -30.0, 6.0))
        amps = times * np.expm1(log)
        return amps + tail, times * np.exp(log) * (log > 0.0) / steep / self.cold + tail / 0.09

    def _flow(self, volts: Array) -> tuple[Array, Array]:
        lift = volts - self.rest
        main_steep = np.where(lift > 0.0, 1.0 / self.path, self.holds / self.back + 1e-7)
        main = lift * main_steep
        over, over_steep = self._over(volts)
        return main + over + self.leak * volts, main_steep + over_steep + self.leak

    def linear(self) -> tuple[Array, Array]:
        """See `wire.Chain`."""
        self.flow, self.slope = self._flow(self.iterate)
        return self.iterate - self.flow / self.slope, 1.0 / self.slope

    def follow(self, current: Array) -> float:
        """See `wire.Chain`."""
        move = np.clip((current[:, None] - self.flow) / self.slope, -0.08, 0.08)
        self.iterate = np.clip(self.iterate + move, -1.0, 4.0)
        return float(np.abs(move).max())

    def _split(self) -> tuple[Array, Array]:
        """What of the current through the plates is charge, and what gas [A]."""
        flow = self._flow(self.iterate)[0] - self.leak * self.iterate
        up = np.maximum(flow, 0.0)
        stays = 1.0 - np.exp(20.73 / (10.0 * up / self.ten + 0.55) * (self.share - 1.0))
        return np.where(flow > 0.0, up * stays, flow), up * (1.0 - stays)

    def live(self, limit: float, amps: float, air: float, seconds: float) -> tuple[float, Array]:
        """See `wire.Cells`."""
        self._prepare()
        volts, strings = solve(self, limit, amps, self.leads)
        hours = seconds / 3600.0
        charge, gas = self._split()
        self.before = 0.5 * self.before + 0.5 * np.maximum(charge + gas, 0.0)
        self.inside = np.clip(self.inside + charge * hours, 0.0, None)
        rate = np.maximum(charge + gas, 1e-4) / self.ten
        # The over-charge branch rises once the charging curve asks for more than the gassing voltage.
        asks = self.rest + (self.path - self.film) * np.maximum(charge + gas, 0.0)
        begins = (2.24 + 1.97 * np.log1p(rate)) * self.cold
        tau = 17.3 / (1.0 + 852.0 * rate**1.67) * (1.0 + SLOWS * self.old / self.rated)
        rising = (asks > begins) | (self.risen > 0.05)
        self.risen = np.where(rising, self.risen + hours / tau, np.maximum(self.risen - 0.2 * hours, 0.0))
        warm = np.exp2(np.clip(self.warmth - 25.0, -30.0, 20.0) / 13.0)
        fall = np.maximum(charge, 0.0) * hours / (self.wears * self.rated) * np.clip(warm, 0.4, 2.0)
        self.film = np.maximum(self.film * np.exp(-np.minimum(fall, 0.3)), self.least)
        given = self.old * np.minimum(self.gives * warm * np.clip((self.iterate - 2.3) / 0.3, 0.0, 1.5) * hours, 0.5)
        given = given * self._opened()
        self.old, self.size = self.old - given, self.size + given
        watts = charge * (self.iterate - self.rest) + gas * (self.iterate - WATER_VOLTS)
        watts = watts + self.leak * np.square(self.iterate)
        middle = self.warmth.mean(axis=1, keepdims=True)
        lost = self.cooling * (self.warmth - air) + 1.5 * (self.warmth - middle)
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
            path, rest = self.path[row], self.rest[row]

            def string(amps: float, path: Array = path, rest: Array = rest) -> float:
                return float((rest + path * amps).sum())

            total += string_at(string, self.make.cells, 2.40, 1.2 * self.make.capacity)
        return total

    def open_share(self) -> float:
        """See `wire.Cells`."""
        return float(self._opened().mean())

    def gassing(self) -> Array:
        """See `wire.Cells`."""
        return self._split()[1]

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
        self.times = self.times * factor
