"""A range of an estimate, told no finer than it is known."""

from __future__ import annotations

#: A range wider than this is told in whole units, a wider one than the other in tenths, else in hundredths [unit].
WHOLE, TENTHS = 2.0, 0.2


def between(low: float, high: float) -> str:
    """Return both ends of a range with as many digits as its width deserves.

    Examples
    --------
    >>> between(1.48, 4.57), between(29.6, 85.6), between(0.5, 1.2), between(2.0, 2.1)
    ('1 to 5', '30 to 86', '0.5 to 1.2', '2.00 to 2.10')
    """
    digits = digits_of(low, high)
    ends = [f"{end:.{digits}f}" for end in (low, high)]
    return ends[0] if ends[0] == ends[1] else " to ".join(ends)


def digits_of(low: float, high: float) -> int:
    """Return how many digits behind the point a range of this width has."""
    return 0 if high - low > WHOLE else 1 if high - low > TENTHS else 2
