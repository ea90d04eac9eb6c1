"""What else is wrong with a cabin file of which something is wrong already: told at once, not one kind after the other.

What could not be read is taken out, or stood in for where it cannot be missing, and the rest is looked at as if it had
been right. Nothing is told that may be wrong only because something was taken out.
"""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Callable
from typing import Any, Final

from pydantic import ValidationError

from bridge.config.models import CabinTable
from bridge.config.words import explain

#: Whoever mends so many lines looks again anyway.
MOST: Final = 20
#: A line that says one thing and ends: what is wrong with it is wrong with no other. A table begins on such a line.
_KEY, _HEADER = re.compile(r"""\s*[\w."'-]+\s*=(?!.*(?:\"{3}|'{3}))"""), re.compile(r"\s*\[")
_AT = re.compile(r"at line (\d+)")

Where = tuple[int | str, ...]


def syntax(text: str, first: str) -> list[str]:
    r"""Return what is no TOML in a text, each as `tomllib` says it: what it stumbles on is left out, and it goes on.

    >>> syntax('a = 1\nb = x\nc = 2\nd = y', "Invalid value (at line 2, column 5)")
    ['Invalid value (at line 2, column 5)', 'Invalid value (at line 4, column 5)']
    """
    said, lines, latest = [first], text.split("\n"), 0
    while len(said) < MOST:
        found = _AT.search(said[-1])
        number = int(found[1]) if found else 0
        if not latest < number <= len(lines) or not _left_out(lines, number - 1):
            break
        latest = number
        try:
            tomllib.loads("\n".join(lines))
        except tomllib.TOMLDecodeError as error:
            if (after := _AT.search(str(error))) is not None and int(after[1]) > latest:
                said.append(str(error))
                continue
        break
    return said


def _left_out(lines: list[str], at: int) -> bool:
    """Leave a line out, of a table's first the whole table; tell whether that says nothing of the lines behind it."""
    line, end = lines[at], at + 1
    if _HEADER.match(line):
        while end < len(lines) and not _HEADER.match(lines[end]):
            end += 1
    elif not _KEY.match(line) or line.count("[") != line.count("]") or line.count("{") != line.count("}"):
        return False
    lines[at:end] = [""] * (end - at)
    return True


def also_wrong(
    tables: dict[str, Any], error: ValidationError, compiled: Callable[[CabinTable], list[str]]
) -> list[str]:
    """Return what else is wrong, beside what `explain` tells of the error.

    Parameters
    ----------
    tables : dict
        As read.
    error : ValidationError
        What is wrong with single keys and tables.
    compiled : callable
        Returns what is wrong with tables that are right each by itself.
    """
    rest = _Rest(copy.deepcopy(tables))
    said: list[str] = []
    items = error.errors(include_url=False)
    for _ in range(MOST):
        # banks of which each is wrong are none for pydantic
        items = [item for item in items if not (item["type"] == "too_short" and rest.at(item["loc"]))]
        if not all([rest.take_out(item["loc"], item["type"], item["msg"]) for item in items]):
            break
        try:
            model = CabinTable.model_validate(rest.tables)
        except ValidationError as again:
            items = again.errors(include_url=False)
            said += explain([item for item in items if rest.shows(item["loc"], item["type"], item["msg"])], tables)
            continue
        return said + [line for line in map(rest.named, compiled(model)) if not rest.follows(line)]
    return said


class _Rest:
    """What is left of the tables, and which words may be said only because of what was taken out."""

    def __init__(self, tables: dict[str, Any]) -> None:
        self.tables = tables
        self._gone: dict[Where, set[str]] = {}
        self._names: dict[str, str] = {}

    def take_out(self, where: Where, kind: str, words: str) -> bool:
        """Take out what is wrong there, in these words; tell whether the rest can be looked at without it."""
        table = _table_of(where)
        holder, key = self.at(where[:-1]), where[-1] if where else ""
        if self._disagrees(where, words):
            return True
        if len(table) > 1 and table[-2] == "meter" and (where == table or kind == "missing" or key in _MUST):
            return self._stand_in(table, key)
        if where[:1] == ("site",) or where == ("bank", *where[1:2], "id"):
            return self._called(where)
        if where[2:3] == ("blocks",) and (
            stood := _BLOCKS.get(str(key), _BLOCKS if where[2:] == ("blocks",) else None)
        ):
            holder[key] = copy.deepcopy(stood)
            self._gone.setdefault(where[:2], set()).update({"index", "labels", "chargers"})
            return True
        while kind == "missing" or not isinstance(holder, dict) or key not in holder:
            # what cannot be missing goes with its table, one of several with all of them
            where, kind = where[:-1], ""
            if not where or where == table == where[:2]:
                return False
            holder, key = self.at(where[:-1]), where[-1]
        del holder[key]
        self._gone.setdefault(table if len(where) > len(table) else where[:-1], set()).add(str(key))
        return True

    def _disagrees(self, where: Where, words: str) -> bool:
        """Take those keys out of a table that do not fit together, and tell whether there are any."""
        table = self.at(where)
        if not isinstance(table, dict) or where == _table_of(where)[:2]:
            return False
        keys = {key for key in table if key not in _MUST and _mentions(words, {key})}
        for key in keys:
            del table[key]
        self._gone.setdefault(_table_of(where), set()).update(keys)
        return bool(keys)

    def _stand_in(self, table: Where, key: int | str) -> bool:
        """Let something stand in for a meter: another topic, or a whole meter where nobody knows what it measures."""
        meters, number = self.at(table[:-1]), table[-1]
        own = meters[number] if isinstance(meters[number], dict) and key == "topic" else {"quantity": _STAND_IN}
        topic = f"homie/5/unread-{'-'.join(map(str, table))}/its/value"  # of a form that every style takes
        if isinstance(said := own.get("topic"), str):
            self._names[f'"{topic}"'] = f'"{said}"'
        meters[number] = {**own, "topic": topic}
        self._gone.setdefault(table[:2] if table[0] == "bank" else (), set()).add("no meter for")
        return True

    def _called(self, where: Where) -> bool:
        """Give what has no name, or none that it can have, another; what is said of it then names it as the file."""
        if where[0] == "site":
            site = self.tables.get("site")
            if isinstance(site, dict) and len(where) > 1 and where[-1] != "id":
                site.pop(str(where[-1]), None)
            else:
                self.tables["site"] = {**(site if isinstance(site, dict) else {}), "id": "unnamed"}
            return True
        bank, number = self.at(where[:-1]), where[1]
        if not isinstance(bank, dict):
            return False
        own, bank["id"] = bank.get("id"), f"unnamed-{number}"
        self._names[f'"unnamed-{number}"'] = f'"{own}"' if isinstance(own, str) else str(int(number) + 1)
        return True

    def at(self, where: Where) -> Any:
        """Return what stands there; None where nothing does."""
        node: Any = self.tables
        for part in where:
            if isinstance(node, dict):
                node = node.get(str(part))
            elif isinstance(node, list) and isinstance(part, int) and part < len(node):
                node = node[part]
            else:
                return None
        return node

    def shows(self, where: Where, kind: str, words: str) -> bool:
        """Tell whether what is wrong there is so whatever was taken out."""
        near = set().union(*(gone for table, gone in self._gone.items() if where[: len(table)] == table))
        return kind not in {"missing", "too_short"} and not _mentions(words, near)

    def follows(self, line: str) -> bool:
        """Tell whether a line may be wrong only because something was taken out of its table."""
        return any(line.startswith(self._place(table)) and _mentions(line, gone) for table, gone in self._gone.items())

    def _place(self, table: Where) -> str:
        """Return how a line of what does not fit together begins that is about a table."""
        if table[:1] == ("bank",):
            bank = self.named(f'[[bank]] "{self.at((*table[:2], "id"))}"')
            return f"{bank}, [[bank.meter]] {int(table[3]) + 1}:" if table[2:3] == ("meter",) else bank
        return f"[[meter]] {int(table[1]) + 1}:" if table[:1] == ("meter",) else f"[{table[0]}]" if table else ""

    def named(self, line: str) -> str:
        """Return a line with banks and topics called as the file calls them."""
        for ours, theirs in self._names.items():
            line = line.replace(ours, theirs)
        return line


#: Without these a meter is none; what stands in for one needs nothing else, and any bank may have one.
_MUST: Final = frozenset({"topic", "quantity"})
_STAND_IN: Final = "door"
#: Some blocks that can be.
_BLOCKS: Final[dict[str, Any]] = {"per_string": 4, "cells": 3, "capacity": "200 Ah"}


def _table_of(where: Where) -> Where:
    """Return the table that a place is in, by itself or as one of several.

    >>> _table_of(("bank", 0, "meter", 2, "unit")), _table_of(("bank", 0, "limits", "hydrogen")), _table_of(("page",))
    (('bank', 0, 'meter', 2), ('bank', 0), ('page',))
    """
    if where[:1] == ("bank",):
        return where[:4] if where[2:3] == ("meter",) and where[3:] else where[:2]
    return where[:2] if where[:1] == ("meter",) else where[:1]


def _mentions(line: str, words: set[str]) -> bool:
    return any(re.search(rf"\b{re.escape(word)}\b", line) for word in words)
