"""A curve in one line of a terminal."""

from __future__ import annotations

from collections.abc import Sequence

BARS = " ▁▂▃▄▅▆▇█"


def sparkline(values: Sequence[float | None], width: int = 44) -> str:
    """Return a curve as wide as `width` characters; gaps stay blank.

    Examples
    --------
    >>> sparkline([0.0, 1.0, 2.0, None, 8.0], 5)
    '▁▂▃ █'
    """
    if not values:
        return ""
    step = max(1.0, len(values) / width)
    columns: list[float | None] = []
    position = 0.0
    while position < len(values):
        some = [value for value in values[int(position) : int(position + step) or 1] if value is not None]
        columns.append(sum(some) / len(some) if some else None)
        position += step
    known = [value for value in columns if value is not None]
    if not known:
        return " " * len(columns)
    low, span = min(known), (max(known) - min(known)) or 1.0
    return "".join(" " if value is None else BARS[1 + round(7 * (value - low) / span)] for value in columns)
