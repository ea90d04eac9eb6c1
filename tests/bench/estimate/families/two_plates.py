"""The second simulated bank (`tests.bench.estimate.other`) as a family: plates, crystals by size, acid in pores."""

from __future__ import annotations

import numpy as np

from tests.bench.estimate.other import bank, plates

from .wire import Array, Make, string_at


class TwoPlates:
    """`other.bank` under the names of `wire.Cells`."""

    longest = 30.0

    def __init__(self, make: Make, air: float, random: np.random.Generator) -> None:
        self.make = make
        reach = max(0.05, 1.0 - make.lost)
        contact = reach * float(np.exp(-7.4 * make.blocked))
        sulfate = make.soft + make.hard
        hard = make.hard / max(sulfate, 1e-3)
        fast, slow = 0.78 - 0.5 * hard, 0.22 * hard
        recipe = bank.Recipe(
            strings=make.strings,
            cells=make.cells,
            capacity=make.capacity,
            contact=contact,
            reach=1.5 * contact if make.dead else reach,
            grow=0.6 if make.dead else 1.0 + 1.3 * min(make.pace, 2.0),
            crust=min(60.0, 4.0 / make.pace),
            sizes=(fast, 1.0 - fast - slow, slow),
            speeds=(2.5 * make.dissolve, 0.8 * make.dissolve, 0.12 * make.dissolve),
            charged=float(np.clip(1.0 - sulfate / reach, 0.02, 0.97)),
            gas=make.gas / 0.02,
            leak=0.0003,
            uneven=2.0 * make.spread,
            apart=make.apart,
            loss=make.cooling,
        )
        self.inner = bank.Cells(recipe, air, random)
        self.rest = plates.equilibrium(self.inner.pores)

    @property
    def warmth(self) -> Array:
        """Of every cell [degC]."""
        return self.inner.warmth

    def live(self, limit: float, amps: float, air: float, seconds: float) -> tuple[float, Array]:
        """See `wire.Cells`."""
        self.rest = plates.equilibrium(self.inner.pores)
        self.rest[0] += 0.0002 * (self.inner.warmth - 25.0)
        volts, self.strings = self.inner.step(limit, amps, 0.0, air, seconds)
        return volts, self.strings

    def volts(self) -> Array:
        """See `wire.Cells`."""
        c = self.inner
        through = self.strings[:, None] if hasattr(self, "strings") else 0.0
        return (self.rest + c.over).sum(axis=0) + c.resistance * through

    def appetite(self) -> float:
        """See `wire.Cells`."""
        c = self.inner
        warmer = c.warmth - 25.0
        speed = plates.solubility(c.pores) * np.exp(plates.DISSOLVE_HEAT * warmer) * 1.3
        room = plates.ceiling(c.crystals, c.connected, c.speeds * speed[..., None]) + 1e-6
        exchange = plates.EXCHANGE * c.capacity * c.contact * np.exp(0.05 * warmer)
        film = (1.0 + c.recipe.crust * np.exp(-c.contact / 0.05)) / c.contact
        acid = 0.5 * c.pores.mean(axis=0) + 0.25 * (c.top + c.bottom)
        liquid = (1.0 - plates.PLATE_SHARE) / plates.conductance(acid) * np.exp(-0.015 * warmer)
        ohms = plates.RESISTANCE / c.capacity * (0.5 * plates.PLATE_SHARE * film.sum(axis=0) + liquid)
        total = 0.0
        for row in range(self.make.strings):

            def string(amps: float, row: int = row) -> float:
                share = np.minimum(amps / room[:, row], 0.999)
                over = plates.CHARGE_SLOPE[:, 0] * np.arcsinh(amps / (2.0 * exchange[:, row] * (1.0 - share)))
                return float((self.rest[:, row] + over).sum() + (ohms[row] * amps).sum())

            total += string_at(string, self.make.cells, 2.40, 1.2 * self.make.capacity)
        return total

    def open_share(self) -> float:
        """See `wire.Cells`."""
        c = self.inner
        return float((c.contact / np.maximum(c.reach, 0.2)).mean())

    def gassing(self) -> Array:
        """See `wire.Cells`."""
        mean: Array = self.inner.gassing.mean(axis=0)
        return mean

    def charged(self) -> Array:
        """See `wire.Cells`."""
        c = self.inner
        whole: Array = (c.capacity * c.reach - c.sulfate()).mean(axis=0)
        return whole

    def leaking(self) -> Array:
        """See `wire.Cells`."""
        return (self.inner.leak + self.inner.short) * self.volts()

    def short(self, string: int, cell: int, siemens: float) -> None:
        """See `wire.Cells`."""
        self.inner.short[string, cell] += siemens

    def poison(self, factor: float) -> None:
        """See `wire.Cells`."""
        self.inner.ageing = self.inner.ageing * factor
