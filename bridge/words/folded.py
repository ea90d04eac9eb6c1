"""Lines as wide as the terminal: a word that is cut in two at its edge is read wrongly, or not at all."""

from __future__ import annotations

import re
import sys
from collections.abc import Sequence
from shutil import get_terminal_size
from textwrap import fill

#: Between the columns of a line there are so many spaces at least.
_COLUMNS = re.compile(r"\S {3,}(?=\S)| {2}(?:ok|FAILED) +(?=\S)")


def folded(line: str, width: int) -> str:
    """Return a line in pieces of so many characters at most, broken between words; 0 leaves it as it is.

    What goes on stands under the last column of its line, or two characters in.

    >>> print(folded("  revival run   the service; leave it running", 34))
      revival run   the service; leave
                    it running
    >>> print(folded("[ ] fan: the fan runs, and air goes out", 24))
    [ ] fan: the fan runs,
      and air goes out
    """
    if not width or len(line) <= width:
        return line
    starts = [found.end() for found in _COLUMNS.finditer(line) if found.end() <= width // 2]
    indent = " " * (starts[-1] if starts else len(line) - len(line.lstrip()) + 2)
    return fill(line, width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)


def screen_width() -> int:
    """Return how many characters a line of the person's terminal has; 0 for a file or another program."""
    return get_terminal_size().columns if sys.stdout.isatty() else 0


def in_columns(rows: Sequence[tuple[Sequence[str], tuple[str, str]]], width: int) -> list[str]:
    """Return rows with their columns under each other; where one is wider than the screen, each row in its two lines.

    Parameters
    ----------
    rows : sequence of tuple
        The columns of a row, and its two lines.
    width : int
        Characters of a line; 0 = as many as it takes.

    Examples
    --------
    >>> rows = [(("volts", "a/b", "1 V"), ("volts: 1 V", "  from a/b"))]
    >>> rows += [(("amps", "c", "2 A"), ("amps: 2 A", "  from c"))]
    >>> in_columns(rows, 80)
    ['volts  a/b  1 V', 'amps   c    2 A']
    >>> in_columns(rows, 12)
    ['volts: 1 V', '  from a/b', 'amps: 2 A', '  from c']
    """
    widths = [max(map(len, column)) for column in zip(*(columns for columns, _ in rows), strict=True)]
    lines = ["  ".join(map(str.ljust, columns, widths)).rstrip() for columns, _ in rows]
    if not width or max(map(len, lines), default=0) <= width:
        return lines
    return [line for _, two in rows for line in two]


def for_screen(text: str) -> str:
    """Return lines as a person's terminal shows them; for a file or another program they stay as they are."""
    width = screen_width()
    return "\n".join(folded(line, width) for line in text.splitlines())
