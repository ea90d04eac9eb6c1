"""Three ways to guess the remaining hours without understanding anything; the estimate has to beat each."""

from __future__ import annotations

import numpy as np

from .kinds import Kind
from .watch import Said


def fixed_clock(kind: Kind, said: Said, charging: np.ndarray) -> np.ndarray:
    """72 charging hours in all, whatever the bank does."""
    return np.maximum(72.0 - charging, 0.0)


def charge_over_current(kind: Kind, said: Said, charging: np.ndarray) -> np.ndarray:
    """Charge left to 120 % of the rating over the present current, and then the rest of the hold."""
    s = kind.scenario
    left = np.maximum(1.2 * s.strings * s.capacity - said.charge, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(said.amps > 0.2, left / said.amps, np.nan) + np.maximum(s.hold - at_equalise(kind, said), 0.0)


def rate_of_voltage(kind: Kind, said: Said, charging: np.ndarray) -> np.ndarray:
    """The last two hours' rate of voltage carried on to the equalising voltage, and then the rest of the hold."""
    s = kind.scenario
    earlier = np.searchsorted(said.at, said.at - 7200.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = (said.volts - said.volts[earlier]) / 2.0
        climb = np.where(rate > 1e-4, (s.equalise - said.volts) / rate, np.nan)
    climb = np.where(said.volts >= s.equalise - 0.03, 0.0, climb)
    return np.maximum(climb, 0.0) + np.maximum(s.hold - at_equalise(kind, said), 0.0)


def at_equalise(kind: Kind, said: Said) -> np.ndarray:
    """Hours spent at the equalising voltage so far, as a plain clock would count them [h]."""
    there = np.nan_to_num(said.volts) >= kind.scenario.equalise - 0.03
    return np.cumsum(np.r_[0.0, np.diff(said.at)] * there) / 3600.0


BASELINES = {"72 h clock": fixed_clock, "charge / current": charge_over_current, "rate of voltage": rate_of_voltage}
