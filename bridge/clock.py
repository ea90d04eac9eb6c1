"""The clock by which everything is dated that is kept or sent; elsewhere time is only read to measure a wait.

One clock for everything: monotonic, anchored to wall time, so that ages and integrals never see a step of the wall
clock. When the wall clock moves away (no battery-backed clock on the board, then the network tells the time) the
anchor follows in one step that the caller is told of, so that everything remembered can be moved along.
"""

from __future__ import annotations

import ctypes
import os
import time
import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

#: The earliest time a board without its own clock may believe in [s since the epoch]: 2026-01-01.
EARLIEST = 1_767_225_600.0
#: And the latest: the year 2100.
LATEST = 4_102_444_800.0
#: Smaller differences between wall clock and ours are left alone [s].
TOLERATED = 2.0
#: Names this run in rows that were written before the clock was trusted.
BOOT = uuid.uuid4().hex[:12]
#: Words of `time_source` that are not a topic.
SOURCES = ("auto", "ntp", "rtc")
#: What the kernel answers while nothing has set its clock.
UNSYNCHRONISED = 5
#: Counts on while the host sleeps, where there is such a clock: after a night's sleep a reading is a night old.
_STEADY = getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)


def steady() -> float:
    """Return seconds that only ever go forward, and go on while the host sleeps [s]."""
    return time.clock_gettime(_STEADY)


def kernel_synchronised() -> bool | None:
    """Tell whether the kernel's clock is being kept by a time server; None where it does not say."""
    buffer = ctypes.create_string_buffer(512)  # larger than the kernel's structure; its first field 0 only asks
    try:
        answer = ctypes.CDLL(None).adjtimex(buffer)
    except (AttributeError, OSError):
        return None
    return None if answer < 0 else bool(answer != UNSYNCHRONISED)


def has_own_clock() -> bool:
    """Tell whether this machine keeps time without power: a board with a device tree does only with a chip for it."""
    return not os.path.lexists("/proc/device-tree") or Path("/sys/class/rtc/rtc0").exists()


def trust(source: str) -> Callable[[], bool]:
    """Return what tells whether the wall clock is right, by `time_source`: ``auto``, ``ntp`` or ``rtc``."""
    if source == "rtc" or (source == "auto" and has_own_clock()):
        return lambda: time.time() >= EARLIEST
    return lambda: bool(kernel_synchronised())


def instant(text: str, zone: str = "") -> float:
    """Return the moment of an ISO 8601 date and time [s since the epoch].

    Parameters
    ----------
    text : str
        With its offset from UTC, unless `zone` says otherwise.
    zone : str
        Of a text without an offset: ``UTC``, ``here`` (the clock of this host), or empty where none is believed.

    Raises
    ------
    ValueError
        It is none, or says no offset.

    Examples
    --------
    >>> instant("2026-11-25T08:20:00+01:00"), instant("2026-11-25T07:20", "UTC")
    (1795591200.0, 1795591200.0)
    """
    moment = datetime.fromisoformat(text)  # Python says what is wrong with it
    if moment.tzinfo is None:
        if not zone:
            raise ValueError(f"{text!r} needs its offset from UTC, such as 2026-11-25T09:00:00+01:00")
        moment = moment.astimezone() if zone == "here" else moment.replace(tzinfo=UTC)
    return moment.timestamp()


def iso(at: float, timespec: str = "seconds") -> str:
    """Write a moment [s since the epoch] as ISO 8601 in UTC.

    Examples
    --------
    >>> iso(1795591200.25), iso(1795591200.25, "milliseconds")
    ('2026-11-25T07:20:00Z', '2026-11-25T07:20:00.250Z')
    """
    return datetime.fromtimestamp(at, UTC).isoformat(timespec=timespec).replace("+00:00", "Z")


class Clock:
    """Seconds since the epoch that never run backward by themselves.

    Parameters
    ----------
    trusted : callable
        Whether the wall clock is known to be right at this moment.
    wall : callable
        The wall clock [s since the epoch].
    """

    def __init__(self, trusted: Callable[[], bool] = lambda: True, wall: Callable[[], float] = time.time) -> None:
        self._trusted, self._wall = trusted, wall
        self._anchor = max(wall(), EARLIEST) - steady()

    def now(self) -> float:
        """Return the bridge's time [s since the epoch]."""
        return self._anchor + steady()

    def at_least(self, at: float) -> None:
        """Begin no earlier than this [s since the epoch]: what is remembered is never younger than now."""
        self._anchor = max(self._anchor, at - steady())

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
        step = max(self._wall(), EARLIEST) - self.now()
        if abs(step) <= TOLERATED:
            return 0.0
        self._anchor += step
        return step


class ToldClock(Clock):
    """For a cabin without internet: somebody on the bus tells the time, and nothing is trusted before."""

    def __init__(self) -> None:
        self._offset: float | None = None
        super().__init__(lambda: self._offset is not None, self._told)

    def _told(self) -> float:
        return time.time() if self._offset is None else self._offset + steady()

    def tell(self, text: str) -> None:
        """Take the time told on the bus: seconds since the epoch, or ISO 8601 with its offset; else nothing."""
        try:
            at = float(text) if text.strip().replace(".", "", 1).isdigit() else instant(text.strip())
        except (ValueError, OverflowError):
            return
        if EARLIEST <= at < LATEST:
            self._offset = at - steady()


def clock_of(source: str) -> Clock:
    """Return the clock for the file's `time_source`: ``auto``, ``ntp``, ``rtc``, or a topic that tells the time."""
    return Clock(trust(source)) if source in SOURCES else ToldClock()


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
        """Return the recorded time [s since the epoch], at most `limit`."""
        return min(self.limit, self._base + (time.monotonic() - self._since) * self._speed)

    def run_at(self, speed: float) -> None:
        """Go on at another speed from this moment [1]."""
        self._base, self._since, self._speed = self.now(), time.monotonic(), speed

    def real_wait(self, at: float) -> float:
        """Return real seconds until recorded time `at` [s]."""
        return max(0.0, (at - self.now()) / self._speed)

    def at_least(self, at: float) -> None:
        """Do nothing: a recording begins where it begins."""

    def follow(self) -> float:
        """Return 0: a recording has no wall clock to follow."""
        return 0.0


def monotonic() -> float:
    """Return a time for measuring durations [s]."""
    return time.monotonic()


def sleep(seconds: float) -> None:
    """Wait [s]."""
    time.sleep(seconds)
