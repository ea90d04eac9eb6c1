"""What a hydrometer shows: notation, degrees Baume, correction to its reference temperature."""

from __future__ import annotations

import re
from itertools import pairwise

#: Reference of the trade's hydrometers: 80 degF [degC].
REFERENCE = (80.0 - 32.0) / 1.8
#: 0.004 per 10 degF, as [1/K]; source 14.
SLOPE = 0.004 / 10.0 * 1.8
#: Modulus of the Baume scale for liquids heavier than water; source 17. The older 144.32 is not used.
MODULUS = 145.0
#: What a hydrometer can show [1].
WEAKEST, STRONGEST = 1.000, 1.400
#: Readings that are no numbers: float on the bottom, float off the top, nothing could be drawn.
MARKS = ("low", "high", "none")
_NOTATION = re.compile(
    r"(?:sg\s*)?(\d{1,4}(?:[.,]\d+)?)\s*(?:sg|(°?\s*b(?:[eé]|aum[eé])\.?))?", re.IGNORECASE | re.ASCII
)
#: The correction chart runs from 10 to 160 degF [degC]; source 14.
CHART_COLDEST, CHART_WARMEST = -12.3, 71.2
#: Degrees Baume of the strongest acid, and those that a bare number can mean [degree Baume]; source 17. From 10 to 14
#: it may as well be a gravity with its point one place on, 12.40 for 1.240: a hydrometer shows either.
STRONGEST_BAUME = 70.0
BARE_BAUME_LEAST, BARE_BAUME_MOST = 10.0 * STRONGEST, 45.0
#: The strongest that a cell of this trade shows, of what may have been meant by a slip [1]; and as many digits as a
#: gravity has that is read to a thousandth (common practice, no source).
LIKELY, LEAST_DIGITS = 1.350, 4
#: What is said of a number that no hydrometer shows, and of one that may be of two scales; a page without a connection
#: says it in the same words.
GRAVITY_WORDS = {
    "none": "{written} is no gravity between 1.000 and 1.400{asked} write 1.265, 1265, 30.4 Be, or low, high, none",
    "meant": ": did you mean {meant}? If not",
    "scales": "{written} may be a gravity of {gravity} or degrees Baume, which are {baume}: write {gravity} or "
    "{number} Be",
}
#: A number from here on is a gravity written without its point: 1265 for 1.265.
POINTLESS = 1000.0


def corrected_gravity(reading: float, temperature: float, reference: float = REFERENCE) -> float:
    """Return hydrometer reading at the reference temperature.

    Parameters
    ----------
    reading : float
        As read [1].
    temperature : float
        Of the electrolyte, not of the air; -12.3 to 71.2 [degC].
    reference : float
        Temperature for which the hydrometer is made [degC].

    Returns
    -------
    float
        Never under 1.000: the rule takes too much from cold, weak acid [1].

    Raises
    ------
    ValueError
        Off the hydrometer's scale, or outside the printed correction chart (10 to 160 degF).

    Notes
    -----
    Source 14: four points per 10 degF. Swapping the temperatures inverts it.

    Examples
    --------
    >>> round(corrected_gravity(1.240, 37.778), 3)
    1.248
    """
    if not WEAKEST <= reading <= STRONGEST:
        raise ValueError(f"specific gravity {reading:g} is off the hydrometer's scale, 1.000 to 1.400")
    for degrees in (temperature, reference):
        if not CHART_COLDEST <= degrees <= CHART_WARMEST:
            raise ValueError(f"{degrees:g} degC is outside the hydrometer's correction chart, -12.3 to 71.2 degC")
    return max(WEAKEST, reading + SLOPE * (temperature - reference))


def gravity_from_baume(degrees: float) -> float:
    """Return specific gravity from degrees Baume, liquids heavier than water.

    Parameters
    ----------
    degrees : float
        0 to 70 [degree Baume].

    Returns
    -------
    float
        At 60 degF [1].

    Raises
    ------
    ValueError
        Lighter than water, or heavier than any sulphuric acid.

    Notes
    -----
    Source 17.

    Examples
    --------
    >>> round(gravity_from_baume(30.0), 4)
    1.2609
    """
    if not 0.0 <= degrees <= STRONGEST_BAUME:
        raise ValueError(f"{degrees:g} degrees Baume is outside sulphuric acid, 0 to 70")
    return MODULUS / (MODULUS - degrees)


def parse_gravity(written: str | float) -> float | str:
    """Return gravity as people write it: 1.265, 1265, 1,265, 30.4 Be, or the words low, high, none.

    Parameters
    ----------
    written : str or float
        A bare number above 14 to 45 is taken as degrees Baume, from 1000 to 1400 as points [1].

    Returns
    -------
    float or str
        Specific gravity, uncorrected [1], or one of ``low``, ``high``, ``none``.

    Raises
    ------
    ValueError
        Neither a notation known here nor a gravity that a hydrometer can show.

    Notes
    -----
    Source 17 for degrees Baume; the notations are common practice, no source.

    Examples
    --------
    >>> parse_gravity("1265"), parse_gravity(1.25), parse_gravity("low")
    (1.265, 1.25, 'low')
    >>> round(parse_gravity("30.4 °Bé"), 4)
    1.2653
    """
    text = "" if isinstance(written, bool) else str(written).strip().lower()
    shown = repr(str(written).strip())
    if text in MARKS:
        return text
    found = _NOTATION.fullmatch(text)
    if found:
        number = float(found[1].replace(",", "."))
        if found[2] is None and 10.0 * WEAKEST <= number <= BARE_BAUME_LEAST:
            gravity, baume = f"{number / 10.0:.3f}", f"{gravity_from_baume(number):.3f}"
            told = {"written": shown, "gravity": gravity, "baume": baume, "number": f"{number:g}"}
            raise ValueError(GRAVITY_WORDS["scales"].format(**told))
        if found[2] is not None or BARE_BAUME_LEAST < number <= BARE_BAUME_MOST:
            value = gravity_from_baume(min(number, STRONGEST_BAUME))
        else:
            value = number / POINTLESS if number >= POINTLESS else number
        if WEAKEST <= value <= STRONGEST:
            return value
    meant = " or ".join(_swapped(found[1])) if found and not found[2] else ""
    asked = GRAVITY_WORDS["meant"].format(meant=meant) if meant else ";"
    raise ValueError(GRAVITY_WORDS["none"].format(written=shown, asked=asked))


def _swapped(number: str) -> list[str]:
    """Return what may have been meant by a number that no hydrometer shows, where two digits stand the wrong way round.

    Examples
    --------
    >>> _swapped("1.425"), _swapped("1425"), _swapped("2,165"), _swapped("1.9"), _swapped("145")
    (['1.245'], ['1245'], ['1,265'], [], [])
    """
    places = [n for n, sign in enumerate(number) if sign.isdigit()]
    found = []
    for one, other in pairwise(places):
        signs = list(number)
        signs[one], signs[other] = signs[other], signs[one]
        meant = "".join(signs)
        value = float(meant.replace(",", "."))
        value = value / POINTLESS if value >= POINTLESS else value
        if meant != number and WEAKEST < value <= LIKELY and len(places) >= LEAST_DIGITS:
            found.append(meant)
    return found
