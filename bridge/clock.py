"""The only module that reads time.

One clock for everything: monotonic, anchored to wall time, so that ages and integrals never see a step of the wall
clock. When the wall clock moves away (no battery-backed clock on the board, then the network tells the time) the
anchor follows in one step that the caller is told of, so that everything remembered can be moved along.
"""

from __future__ import annotations

import time
import uuid
from collections.abc import Callable

#: The earliest time a board without its own clock may believe in [s since the epoch]: 2026-01-01.
EARLIEST = 1_767_225_600.0
#: Smaller differences between wall clock and ours are left alone [s].
TOLERATED = 2.0
#: Names this run in rows that were written before the clock was trusted.
BOOT = uuid.uuid4().hex[:12]


class Clock:
    """Seconds since the epoch that never run backward by themselves.

    Parameters
    ----------
    trusted : callable
        Whether the wall clock is known to be right at this moment.
    """

    def __init__(self, trusted: Callable[[], bool] = lambda: True) -> None:
        self._trusted = trusted
        self._anchor = max(time.time(), EARLIEST) - time.monotonic()

    def now(self) -> float:
        """The bridge's time [s since the epoch]."""
        return self._anchor + time.monotonic()

    @property
    def anchor(self) -> float:
        """What is added to the monotonic clock [s]."""
        return self._anchor

    @property
    def trusted(self) -> bool:
        """Whether the wall clock is known to be right."""
        return self._trusted()

    def follow(self) -> float:
        """Move to the wall clock if it is trusted and has moved away; the step taken [s], 0 where none was."""
        if not self._trusted():
            return 0.0
        step = max(time.time(), EARLIEST) - self.now()
        if abs(step) <= TOLERATED:
            return 0.0
        self._anchor += step
        return step


class PacedClock:
    """Recorded time for the demo: runs `speed` times as fast, and never past what has been played.

    Parameters
    ----------
    start : float
        Recorded time of the first message [s since the epoch].
    speed : float
        Recorded seconds per real second [1].
    """

    trusted = True
    anchor = 0.0

    def __init__(self, start: float, speed: float) -> None:
        self._speed = speed
        self._since = time.monotonic()
        self._base = start
        self.limit = start

    def now(self) -> float:
        """Recorded time [s since the epoch], at most `limit`."""
        return min(self.limit, self._base + (time.monotonic() - self._since) * self._speed)

    def run_at(self, speed: float) -> None:
        """Go on at another speed from this moment [1]."""
        self._base, self._since, self._speed = self.now(), time.monotonic(), speed

    def real_wait(self, at: float) -> float:
        """Real seconds until recorded time `at` [s]."""
        return max(0.0, (at - self.now()) / self._speed)

    def follow(self) -> float:
        """A recording has no wall clock."""
        return 0.0


def monotonic() -> float:
    """For measuring durations [s]."""
    return time.monotonic()


def sleep(seconds: float) -> None:
    """Wait [s]."""
    time.sleep(seconds)
