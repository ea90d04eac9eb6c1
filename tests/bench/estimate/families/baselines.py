"""What somebody would guess who understands nothing, or only the trade's definitions; from what the meters show."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .door import Said
from .truth import Truth
from .wire import Array
from .world import Lived


class Shown(NamedTuple):
    """What every guess may use: hours charging so far, and the rules' own view of volts per cell, amps, charge."""

    hours: Array
    volts: Array
    amps: Array
    charge: Array
    equalise: float
    hold: float
    rated: float
    most: float
    tail: float


def shown(lived: Lived, truth: Truth, said: Said) -> Shown:
    """From a round."""
    r = lived.round
    rated = r.make.capacity * r.make.strings
    charging = np.nan_to_num(said.amps) > 0.003 * rated
    most = max(amps for _, amps in r.charger.settings)
    tail = 0.02 * rated if r.tail is None else r.tail
    return Shown(
        np.cumsum(charging) / 60.0,
        said.volts,
        said.amps,
        np.nan_to_num(said.charge),
        r.equalise,
        r.hold,
        rated,
        most,
        tail,
    )


def there(s: Shown) -> Array:
    """Hours at the equalising voltage with a small current, as a plain clock would count them [h]."""
    at_top = (np.nan_to_num(s.volts) >= s.equalise - 0.03) & (s.charge > 0.3 * s.rated)
    return np.cumsum(at_top) / 60.0


def clock(s: Shown) -> Array:
    """So many charging hours in all, whatever the bank does: 30 and the hold."""
    return np.maximum(30.0 + s.hold - s.hours, 0.0)


def charge_over_current(s: Shown) -> Array:
    """Charge left to 120 % of the rating over the present current, and then the rest of the hold."""
    left = np.maximum(1.2 * s.rated - s.charge, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(s.amps > 0.2, left / s.amps, np.nan) + np.maximum(s.hold - there(s), 0.0)


def rate_of_voltage(s: Shown) -> Array:
    """The last two hours' rate of voltage carried on to the equalising voltage, and then the rest of the hold."""
    earlier = np.r_[np.full(min(120, len(s.volts)), np.nan), s.volts[:-120]][: len(s.volts)]
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = (s.volts - earlier) / 2.0
        climb = np.where(rate > 1e-4, (s.equalise - s.volts) / rate, np.nan)
    climb = np.where(s.volts >= s.equalise - 0.03, 0.0, climb)
    return np.maximum(climb, 0.0) + np.maximum(s.hold - there(s), 0.0)


def definitions(s: Shown) -> Array:
    """The trade's definitions and nothing else: waking, bulk, taper to the tail, hold."""
    volts, amps = np.nan_to_num(s.volts), np.nan_to_num(s.amps)
    at_top = volts >= s.equalise - 0.03
    left = np.maximum(s.hold - there(s), 0.0)
    earlier = np.r_[np.full(min(60, len(amps)), np.nan), amps[:-60]][: len(amps)]
    with np.errstate(divide="ignore", invalid="ignore"):
        fall = np.log(earlier / amps)
        taper = np.where(fall > 0.01, np.log(np.maximum(amps / s.tail, 1.0)) / fall, 12.0)
    waking = (s.charge < 0.1 * s.rated) & (amps < 0.15 * s.most)
    bulk = np.maximum(1.15 * s.rated - s.charge, 0.0) / np.maximum(amps, 0.3 * s.most) + 6.0 + left
    return np.where(waking, 14.0 + 16.0 + left, np.where(at_top, np.minimum(taper, 40.0) + left, bulk))


BASELINES = {
    "clock": clock,
    "charge over current": charge_over_current,
    "rate of voltage": rate_of_voltage,
    "definitions": definitions,
}
