"""Lines as wide as the terminal: a word that is cut in two at its edge is read wrongly, or not at all."""

from __future__ import annotations

import re
import sys
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


def for_screen(text: str) -> str:
    """Return lines as a person's terminal shows them; for a file or another program they stay as they are."""
    width = get_terminal_size().columns if sys.stdout.isatty() else 0
    return "\n".join(folded(line, width) for line in text.splitlines())
