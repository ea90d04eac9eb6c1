"""The meter's own time: read, and believed only within a tolerance."""

from __future__ import annotations

from bridge.clock import instant

#: A meter may be two minutes ahead of the bridge; a sample may have waited 30 days for a network. Nothing was
#: measured before 2020: such a clock was never set.
AHEAD = 120.0
BEHIND = 30 * 86400.0
EARLIEST = 1_577_836_800.0

#: Numbers this large are milliseconds (1e11 s is the year 5138).
_MILLISECONDS = 1e11


def own_time(raw: object, at: float) -> float | None:
    """Return seconds since the epoch, or None where the meter's clock cannot be trusted.

    Parameters
    ----------
    raw : object
        Epoch seconds or milliseconds, as a number or digits, or ISO 8601 with its offset from UTC (a local time
        without one could be hours wrong and is not believed).
    at : float
        Arrival by the bridge's clock [s since the epoch].

    Examples
    --------
    >>> own_time(1795590000, 1795590001.0), own_time(0, 1795590001.0)
    (1795590000.0, None)
    >>> own_time("2026-11-24T23:00:00+01:00", 1795590001.0)
    1795557600.0
    """
    seconds = _seconds(raw)
    if seconds is None:
        return None
    return seconds if max(EARLIEST, at - BEHIND) <= seconds <= at + AHEAD else None


def off_by(raw: object, at: float) -> float:
    """Return how far a meter's own time is off [s], negative = slow; one that tells none counts as never set.

    Examples
    --------
    >>> off_by(1795590000.0 + 31536000.0, 1795590000.0) / 86400.0
    365.0
    """
    seconds = _seconds(raw)
    return (seconds or 0.0) - at


def _seconds(raw: object) -> float | None:
    if type(raw) is float or type(raw) is int:
        try:
            seconds = float(raw)
        except OverflowError:
            return None
    elif type(raw) is str:
        try:
            seconds = float(raw) if raw.replace(".", "", 1).isdigit() else instant(raw)
        except (ValueError, OverflowError):
            return None
    else:
        return None
    return seconds / 1000.0 if seconds > _MILLISECONDS else seconds
