"""What a string may be given, what the charger regulates to, and how parallel strings share its current."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from rules.laws.curves import finite

#: Electrolyte over which chargers compensate; beyond it they go no further [degC].
COLDEST, WARMEST = -40.0, 60.0
#: No charger is set higher than this [V per cell].
HIGHEST = 3.5
#: No charger lowers its voltage by more for a warmer battery [V/K per cell]; common practice, no source.
STEEPEST_COMPENSATION = -0.01


def string_current_limit(capacity: float) -> float:
    """Return bulk current that one string may take where its owner knows no better.

    Parameters
    ----------
    capacity : float
        Rated at the 20-hour rate, of the string's smallest block [Ah].

    Returns
    -------
    float
        [A].

    Raises
    ------
    ValueError
        No capacity.

    Notes
    -----
    The smaller of 30 A and 0.13 x C20; common practice, no source.

    Examples
    --------
    >>> string_current_limit(225.0)
    29.25
    >>> string_current_limit(370.0)
    30.0
    """
    return min(30.0, 0.13 * _capacity(capacity))


def finishing_current(capacity: float) -> float:
    """Return current that is enough above 2.40 V per cell.

    Parameters
    ----------
    capacity : float
        Rated at the 20-hour rate, of one string [Ah].

    Returns
    -------
    float
        Per string [A].

    Raises
    ------
    ValueError
        No capacity.

    Notes
    -----
    0.06 x C20; common practice, no source.

    Examples
    --------
    >>> finishing_current(200.0)
    12.0
    """
    return 0.06 * _capacity(capacity)


def compensated_voltage(volts_per_cell: float, temperature: float, coefficient: float, ceiling: float = 2.72) -> float:
    """Return voltage that a temperature-compensated charger regulates to.

    Parameters
    ----------
    volts_per_cell : float
        Setting at 25 degC, up to 3.5 [V].
    temperature : float
        Of the electrolyte, -40 to 60 [degC].
    coefficient : float
        Per cell, -0.01 to 0; -0.005 is usual, 0 is no compensation [V/K].
    ceiling : float
        Highest that cold may raise it to; a setting that is higher already stays [V].

    Returns
    -------
    float
        Per cell [V].

    Raises
    ------
    ValueError
        A setting or a temperature that no charger has, or a coefficient with the wrong sign or unit (mV).

    Notes
    -----
    Slope of 0.028 V per 10 degF, that is -5 mV/K: common practice, no source.

    Examples
    --------
    >>> round(compensated_voltage(2.58, 10.0, -0.005), 3)
    2.655
    >>> round(compensated_voltage(2.58, 40.0, -0.005), 3)
    2.505
    """
    if not (0.0 < volts_per_cell <= HIGHEST and 0.0 < ceiling <= HIGHEST):
        raise ValueError(
            f"no charger is set to {volts_per_cell:g} V per cell, at most {ceiling:g} V; 0 to {HIGHEST:g} V"
        )
    if not COLDEST <= temperature <= WARMEST:
        raise ValueError(f"electrolyte at {temperature:g} degC is outside temperature compensation, -40 to 60 degC")
    if not STEEPEST_COMPENSATION <= coefficient <= 0.0:
        raise ValueError(f"compensation of {coefficient:g} V/K per cell cannot be; it lies between -0.010 and 0")
    return min(volts_per_cell + coefficient * (temperature - 25.0), max(ceiling, volts_per_cell))


class StringShares(NamedTuple):
    """Common voltage [V] and the current of each string, positive = charging [A]."""

    volts: float
    currents: tuple[float, ...]


def shares_at_voltage(volts: float, emfs: Sequence[float], resistances: Sequence[float]) -> StringShares:
    """Return current of each parallel string where the charger holds the voltage.

    Parameters
    ----------
    volts : float
        Common voltage [V].
    emfs : sequence of float
        Rest voltage of each string [V].
    resistances : sequence of float
        Of each string [ohm].

    Returns
    -------
    StringShares
        Common voltage [V] and string currents [A].

    Raises
    ------
    ValueError
        A resistance that is not positive, or lists of different length.

    Notes
    -----
    Ohm's law.

    Examples
    --------
    >>> shares = shares_at_voltage(28.8, (26.4, 27.6), (0.060, 0.120))
    >>> [round(amps, 1) for amps in shares.currents]
    [40.0, 10.0]
    """
    _strings(emfs, resistances)
    if not finite(volts):
        raise ValueError(f"no charger holds strings at {volts} V")
    return StringShares(volts, tuple((volts - emf) / ohms for emf, ohms in zip(emfs, resistances, strict=True)))


def string_shares(current: float, emfs: Sequence[float], resistances: Sequence[float]) -> StringShares:
    """Return how a charger's current divides between parallel strings.

    Parameters
    ----------
    current : float
        Of the bank, positive = charging [A].
    emfs : sequence of float
        Rest voltage of each string [V].
    resistances : sequence of float
        Of each string [ohm].

    Returns
    -------
    StringShares
        Common voltage [V] and string currents [A].

    Raises
    ------
    ValueError
        A resistance that is not positive, or lists of different length.

    Notes
    -----
    Kirchhoff's and Ohm's laws. One shorted cell makes its string take more than the charger gives.

    Examples
    --------
    >>> shares = string_shares(30.0, (25.2, 25.2, 23.2), (0.060, 0.060, 0.060))
    >>> round(shares.volts, 2), [round(amps, 1) for amps in shares.currents]
    (25.13, [-1.1, -1.1, 32.2])
    """
    _strings(emfs, resistances)
    if not finite(current):
        raise ValueError(f"{current} A cannot be divided between strings")
    driven = sum(emf / ohms for emf, ohms in zip(emfs, resistances, strict=True))
    volts = (current + driven) / sum(1.0 / ohms for ohms in resistances)
    return shares_at_voltage(volts, emfs, resistances)


def _capacity(capacity: float) -> float:
    if not (capacity > 0 and finite(capacity)):
        raise ValueError(f"a battery of {capacity} Ah has no capacity to charge")
    return capacity


def _strings(emfs: Sequence[float], resistances: Sequence[float]) -> None:
    if not emfs or len(emfs) != len(resistances):
        raise ValueError(f"{len(emfs)} rest voltages and {len(resistances)} resistances do not describe the strings")
    if not finite(*emfs, *resistances):
        raise ValueError("every string has a rest voltage and a resistance")
    if not all(ohms > 0 for ohms in resistances):
        raise ValueError("every string has a resistance above 0 ohm")
