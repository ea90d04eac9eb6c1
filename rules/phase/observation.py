"""What the phase machine and the estimator see: one tuple a second at most, never the raw traffic."""

from __future__ import annotations

from typing import NamedTuple


class Observation(NamedTuple):
    """The bank as its trusted, fresh meters show it at one moment.

    Made by `rules.step` on a Tick whenever a voltage or current sample has arrived since the last one, and at least
    once every 60 s so that silence is seen too. Sample periods from 1 s to 5 min occur.

    Attributes
    ----------
    at : float
        [s since the epoch].
    volts_per_cell : float or None
        Bank voltage over cells in series [V]; ``None`` when silent or not trusted.
    current : float or None
        Bank current, positive = charging, zero offset removed [A].
    temperature, ambient : float or None
        Hottest electrolyte sensor, and air [degC].
    strings : tuple of float
        String currents where every string is measured [A], else empty.
    charge : float
        Ampere-hours returned in this round [Ah], trapezoids with the gap rule.
    charging_seconds : float
        Time in this round with current flowing in [s].
    cut : bool
        The relay is known to be open, or ordered open.
    gravity_rising : bool or None
        From hand readings: still rising, at a plateau (False), or unknown.
    gravity_gained : float or None
        Middle gain of gravity over all cells since their first reading, less what lost water explains [1].
    resolution : tuple of float
        Smallest step of the voltage per cell [V] and of the current [A]; 0 where unknown.
    tripped : bool
        A trip stands: no round begins by itself.
    """

    at: float
    volts_per_cell: float | None
    current: float | None
    temperature: float | None = None
    ambient: float | None = None
    strings: tuple[float, ...] = ()
    charge: float = 0.0
    charging_seconds: float = 0.0
    cut: bool = False
    gravity_rising: bool | None = None
    resolution: tuple[float, float] = (0.0, 0.0)
    gravity_gained: float | None = None
    tripped: bool = False
