"""What was seen in a cell, from the words in which somebody noted it."""

from __future__ import annotations

import re

#: White deposits on the plates are graded from 0, clean, to this.
WORST = 4
_DEPOSITS = re.compile(
    r"(?P<no>\b(?:no|not|without)\s+(?:any\s+)?)?"
    r"(?:sul(?:f|ph)at\w*|white deposits?|deposits?|white(?=\D{0,14}\d))[^\d,;]{0,14}(?P<grade>\d)?",
    re.IGNORECASE,
)
_NO_GAS = re.compile(r"gassing:?\s+(?:none|no\b)|\b(?:no|not|without)\s+(?:any\s+)?gas", re.IGNORECASE)
_GAS = re.compile("gas|milky", re.IGNORECASE)


def deposits(seen: str) -> int | None:
    """White deposits from 0 to 4; 1 where they are named without a grade, None where nothing is said of them.

    Examples
    --------
    >>> [deposits(words) for words in ("sulfated 3 of 4", "white deposits", "no sulfate", "clean", "brown")]
    [3, 1, 0, 0, None]
    """
    found = _DEPOSITS.search(seen)
    if found is None:
        return 0 if "clean" in seen.lower() else None
    return 0 if found["no"] else int(found["grade"] or 1)


def gasses(seen: str) -> bool | None:
    """Whether the cell was seen to gas; None where nothing is said of it.

    Examples
    --------
    >>> [gasses(words) for words in ("gassing milky", "clean, gassing none", "does not gas", "clean")]
    [True, False, False, None]
    """
    if _GAS.search(seen) is None:
        return None
    return _NO_GAS.search(seen) is None
