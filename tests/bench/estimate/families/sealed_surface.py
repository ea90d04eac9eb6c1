"""The first simulated bank as a family: heaps of charge behind a surface that frees itself (a logistic curve)."""

from __future__ import annotations

import numpy as np

from tests.bench.simulated_bank import chemistry

from .wire import Array, Make


class SealedSurface:
    """`tests.bench.simulated_bank.chemistry` under the names of `wire.Cells`."""

    longest = 30.0

    def __init__(self, make: Make, air: float, random: np.random.Generator) -> None:
        self.make = make

        def about(value: float, by: float = make.spread) -> Array:
            return value * np.exp(random.normal(0.0, by, make.shape))

        shape = make.shape
        capacity = about(make.capacity, 0.02)
        order = make.apart ** np.arange(make.strings)[:, None]
        free = np.minimum(about(np.exp(-9.2 * make.blocked), 1.5 * make.spread) * order, 1.0)
        hard = np.clip(about(make.hard), 0.0, 0.9) * capacity
        lost = np.clip(about(make.lost), 0.0, 0.8) * capacity
        soft = np.clip(about(make.soft) * capacity, 0.004 * capacity, None)
        active = np.clip(capacity - hard - lost - soft, 0.01 * capacity, None)
        free_most = np.minimum(1.6 * free, 0.01) if make.dead else np.ones(shape)
        curve = chemistry.rest_curve(1.265)
        share = active / capacity
        self.inner = chemistry.Cells(
            capacity=capacity,
            gravity_full=1.265,
            gas=about(make.gas) * capacity / 100.0,
            wake_rate=about(0.6 * make.pace),
            dissolve_rate=about(0.05 * make.dissolve),
            push=0.12,
            feed=14.0 * float(np.exp(random.normal(0.0, 0.3))),
            free_most=np.maximum(free_most, 1.02 * free),
            acceptance=about(0.28 * make.resistance, 0.3),
            cooling=np.full(shape, make.cooling * make.capacity),
            short=np.zeros(shape),
            lead=np.full(make.strings, 0.004),
            active=active,
            soft=soft,
            hard=hard,
            free=free,
            temperature=np.full(shape, air),
            fast=np.zeros(shape),
            slow=np.zeros(shape),
            volts=np.interp(share, np.linspace(0.0, 1.05, 106), curve),
            rest_curve=curve,
        )

    @property
    def warmth(self) -> Array:
        """Of every cell [degC]."""
        return self.inner.temperature

    def live(self, limit: float, amps: float, air: float, seconds: float) -> tuple[float, Array]:
        """See `wire.Cells`."""
        return chemistry.advance(self.inner, limit, amps, air, seconds)

    def volts(self) -> Array:
        """See `wire.Cells`."""
        return self.inner.volts

    def _taking(self) -> tuple[Array, Array]:
        c = self.inner
        share = c.active / (c.active + c.soft + 1e-6 * c.capacity)
        full = share / (1.0001 - np.minimum(share, 1.0))
        cold = np.exp(-0.02 * (c.temperature - 25.0))
        plate = c.free / (0.13 + 0.87 * c.free) * c.capacity / cold
        return plate / (0.12 + c.acceptance * full), cold * 0.17 / c.capacity

    def appetite(self) -> float:
        """See `wire.Cells`."""
        taking, ohm = self._taking()
        rest = self.inner.rest_voltage()
        strings = (2.40 - rest).sum(axis=1) / (1.0 / taking + ohm).sum(axis=1)
        return float(np.maximum(strings, 0.0).sum())

    def open_share(self) -> float:
        """See `wire.Cells`."""
        c = self.inner
        now, most = (x / (0.13 + 0.87 * x) for x in (c.free, np.maximum(c.free_most, 0.2)))
        return float((now / most).mean())

    def gassing(self) -> Array:
        """See `wire.Cells`."""
        c = self.inner
        warm = np.exp(chemistry.GAS_PER_KELVIN * np.clip(c.temperature - 25.0, -50.0, 50.0))
        return c.gas * (0.03 + 0.97 * c.free) * warm * np.exp(chemistry.GAS_PER_VOLT * (c.volts - 2.23))

    def charged(self) -> Array:
        """See `wire.Cells`."""
        return self.inner.active

    def leaking(self) -> Array:
        """See `wire.Cells`."""
        return self.inner.short * self.inner.volts

    def short(self, string: int, cell: int, siemens: float) -> None:
        """See `wire.Cells`."""
        self.inner.short[string, cell] += siemens

    def poison(self, factor: float) -> None:
        """See `wire.Cells`."""
        self.inner.gas = self.inner.gas * factor
