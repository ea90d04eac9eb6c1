"""Air that keeps hydrogen away from the explosive limit, and how soon a closed room comes near it."""

from __future__ import annotations

from rules.laws.curves import finite

#: Hydrogen in air: explosive from 4 percent, the aim is a quarter of that; sources 10 and 11 [1].
EXPLOSIVE_FRACTION = 0.04
SAFE_FRACTION = 0.01
#: Gas keeps coming after the charger stops; source 12 [h].
GAS_AFTER_CHARGE = 1.0


def ventilation_needed(current: float, cells: float) -> float:
    """Return air that keeps hydrogen under the limit while this current makes gas.

    Parameters
    ----------
    current : float
        Of the bank, all strings together [A].
    cells : float
        In series [1].

    Returns
    -------
    float
        [m^3/h].

    Raises
    ------
    ValueError
        A negative current or no cells.

    Notes
    -----
    Source 13: 24 volumes of air per volume of hydrogen, 0.42 L per Ah, five-fold safety: 0.0504 per cell and ampere.
    Equalising lies above the voltages of its tables, so the whole current is taken.

    Examples
    --------
    >>> round(ventilation_needed(50.0, 12), 1)
    30.2
    """
    if not (current >= 0 and cells > 0 and finite(current, cells)):
        raise ValueError(f"{current} A through {cells} cells makes no gas to ventilate; only charging current does")
    return 24.0 * 0.42e-3 * 5.0 * cells * current


def opening_area(ventilation: float) -> float:
    """Free opening in, and the same out, for natural ventilation.

    Parameters
    ----------
    ventilation : float
        [m^3/h].

    Returns
    -------
    float
        Of each of the two openings [cm^2].

    Raises
    ------
    ValueError
        A negative flow.

    Notes
    -----
    Source 13: 28 cm2 per m3/h, air moving at 0.1 m/s.

    Examples
    --------
    >>> round(opening_area(30.24))
    847
    """
    if not (ventilation >= 0 and finite(ventilation)):
        raise ValueError(f"a flow of {ventilation} m3/h needs no opening; it is 0 or more")
    return 28.0 * ventilation


def hours_to_fraction(room_volume: float, hydrogen_rate: float, fraction: float = SAFE_FRACTION) -> float:
    """Return hours until hydrogen reaches a fraction in a closed, well mixed room.

    Parameters
    ----------
    room_volume : float
        Free volume [m^3].
    hydrogen_rate : float
        [L/h].
    fraction : float
        By volume, over 0 up to 0.04 [1].

    Returns
    -------
    float
        Infinite where no hydrogen is made [h].

    Raises
    ------
    ValueError
        No room, a negative rate, or a fraction that would explode.

    Notes
    -----
    Volume balance. Real gas collects under the ceiling sooner; a bound, not a permission.

    Examples
    --------
    >>> round(hours_to_fraction(20.0, 54.77), 2)
    3.65
    """
    if not (room_volume > 0 and hydrogen_rate >= 0 and finite(room_volume, hydrogen_rate)):
        raise ValueError(f"{hydrogen_rate} L/h into {room_volume} m3 is no room filling with hydrogen")
    if not 0.0 < fraction <= EXPLOSIVE_FRACTION:
        raise ValueError(f"a hydrogen fraction of {fraction:g} is not between 0 and {EXPLOSIVE_FRACTION:g} (explosive)")
    return 1000.0 * room_volume * fraction / hydrogen_rate if hydrogen_rate else float("inf")
