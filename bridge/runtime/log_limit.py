"""Logs tell edges: what repeats itself within a minute is counted, not written again and again."""

from __future__ import annotations

import logging
from typing import NamedTuple

from bridge import clock as time_source

#: Lines of one kind within a minute, before the rest of them is only counted.
MOST, MINUTE = 10, 60.0
#: Kinds remembered; with more than that all are forgotten and counted anew.
KINDS = 1000


def one_line(text: str) -> str:
    r"""Return a text for the log: whatever a person wrote into it, it makes no second line and moves no cursor.

    Examples
    --------
    >>> one_line("all is well\nWARNING")
    'all is well WARNING'
    """
    return "".join(letter if letter.isprintable() else " " for letter in text)


class _Spell(NamedTuple):
    began: float
    lines: int


class Quiet(logging.Filter):
    """At most `MOST` lines of one kind a minute; the next one after that says how many were left out.

    A kind is the logger, the text before its values are put in, and the first two of these.
    """

    def __init__(self) -> None:
        super().__init__()
        self._spells: dict[tuple[object, ...], _Spell] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        """Tell whether this line is written."""
        values = record.args[:2] if isinstance(record.args, tuple) else ()
        key = (record.name, record.msg, *map(str, values))
        now = time_source.monotonic()
        spell = self._spells.get(key)
        if spell is None or now - spell.began >= MINUTE:
            if spell is not None and spell.lines > MOST:
                left_out = spell.lines - MOST
                record.msg = f"{record.getMessage()} (and {left_out} more like it in a minute)"
                record.args = ()
            if len(self._spells) > KINDS:
                self._spells.clear()
            self._spells[key] = _Spell(now, 1)
            return True
        self._spells[key] = spell._replace(lines=spell.lines + 1)
        return spell.lines < MOST
