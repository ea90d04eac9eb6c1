"""What earlier rounds taught about the hours of a round; the owner may give it to a bank, and nothing else is in it."""

from __future__ import annotations

from typing import NamedTuple

#: Parts of an estimate that rounds can teach something about: its stages before the hold, bulk as it is reckoned while
#: the bank still wakes, and once it is under way.
TAUGHT = ("waking", "reviving", "bulk-ahead", "bulk", "absorbing", "finishing")


class Lesson(NamedTuple):
    """What rounds showed of one part, for one sort of bank.

    Attributes
    ----------
    part, sort : str
        One of `TAUGHT`; a sort of bank by its volts per cell as found, or ``any``.
    rounds : int
        How many showed it.
    longer : float
        Hours needed over hours reckoned: the geometric mean [1].
    spread : float
        Standard deviation of the logarithm of that [1].
    """

    part: str
    sort: str
    rounds: int
    longer: float
    spread: float


class Experience(NamedTuple):
    """Lessons of so many rounds; each (part, sort) stands in it once."""

    rounds: int = 0
    lessons: tuple[Lesson, ...] = ()


NO_EXPERIENCE = Experience()
