"""One key of a cabin file changed in its text: comments, order and everything else stay as they are."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from bridge.errors import UsageError

_HEADER = re.compile(r"\s*(\[\[?[^\]]+\]\]?)\s*(#.*)?")


def set_key(text: str, header: str, number: int, line: str) -> str:
    r"""Return the text with one ``key = value`` line set in a table.

    Parameters
    ----------
    header : str
        As the file writes it, ``[site]`` or ``[[bank]]``.
    number : int
        Which of several of the same header, from 0.
    line : str
        The key with its new value.

    Raises
    ------
    UsageError
        The file is written in a way that cannot be changed safely; names the line to write by hand.

    Examples
    --------
    >>> print(set_key('[site]\nid = "a"     # home\nroot = "homie/5"\n', "[site]", 0, 'id = "b"'), end="")
    [site]
    id = "b"     # home
    root = "homie/5"
    """
    rows = text.splitlines()
    key = line.partition("=")[0].strip()
    begin = _begin(rows, header, number)
    if begin is None:
        raise UsageError(f"no {header} in the file; write by hand: {line}")
    end = next((row for row in range(begin + 1, len(rows)) if _HEADER.fullmatch(rows[row])), len(rows))
    pattern = re.compile(rf"\s*{re.escape(key)}\s*=")
    place = next((row for row in range(begin + 1, end) if pattern.match(rows[row])), None)
    if place is None:
        changed = [*rows[: begin + 1], line, *rows[begin + 1 :]]
    else:
        changed = [*rows[:place], line + _remark(rows[place]), *rows[place + 1 :]]
    return _proved(text, changed, line)


def drop_key(text: str, header: str, key: str, number: int = 0) -> str:
    """Return the text without a key of a table, the `number`-th of its header from 0."""
    rows = text.splitlines()
    begin = _begin(rows, header, number)
    if begin is None:
        return text
    end = next((row for row in range(begin + 1, len(rows)) if _HEADER.fullmatch(rows[row])), len(rows))
    pattern = re.compile(rf"\s*{re.escape(key)}\s*=")
    kept = [text for row, text in enumerate(rows) if not (begin < row < end and pattern.match(text))]
    return _proved(text, kept, f"(nothing instead of {key})")


def set_table(text: str, bank: int, header: str, lines: Sequence[str]) -> str:
    """Return the text with a bank's sub-table (``[bank.relay]``) in place of the one that is there, or added.

    Raises
    ------
    UsageError
        The file has no such bank.
    """
    rows = text.splitlines()
    begin = _begin(rows, "[[bank]]", bank)
    if begin is None:
        raise UsageError(f"the file has no bank number {bank + 1}")
    after = (row for row in range(begin + 1, len(rows)) if _HEADER.fullmatch(rows[row]))
    end = next((row for row in after if not rows[row].strip().startswith(("[bank.", "[[bank."))), len(rows))
    present = next((row for row in range(begin, end) if rows[row].strip().startswith(header)), None)
    if present is not None:
        stop = next((row for row in range(present + 1, end) if _HEADER.fullmatch(rows[row])), end)
        rows, end = rows[:present] + rows[stop:], end - (stop - present)
    while end > 0 and not rows[end - 1].strip():
        end -= 1
    return _proved(text, [*rows[:end], "", header, *lines, "", *rows[end:]], header)


def drop_table(text: str, bank: int, header: str) -> str:
    """Return the text without a bank's sub-table (``[bank.relay]``)."""
    rows = text.splitlines()
    begin, end = _of_bank(rows, bank)
    present = next((row for row in range(begin, end) if rows[row].strip().startswith(header)), None)
    if present is None:
        return text
    stop = next((row for row in range(present + 1, end) if _HEADER.fullmatch(rows[row])), end)
    while stop > present and (not rows[stop - 1].strip() or rows[stop - 1].startswith("#")):
        stop -= 1  # what is said of the next table stays with it
    return _proved(text, [*rows[:present], *rows[stop:]], f"(nothing instead of {header})")


def drop_meter(text: str, number: int) -> str:
    r"""Return the text without a mapping, the file's `number`-th from 0.

    Examples
    --------
    >>> drop_meter('[[bank]]\nid = "a"\n[[bank.meter]]\ntopic = "v"\n\n# mine\n[[bank.meter]]\ntopic = "t"\n', 1)
    '[[bank]]\nid = "a"\n[[bank.meter]]\ntopic = "v"\n\n# mine\n'
    """
    rows = text.splitlines()
    begin = _begin(rows, "[[bank.meter]]", number)
    if begin is None:
        return text
    end = next((row for row in range(begin + 1, len(rows)) if _HEADER.fullmatch(rows[row])), len(rows))
    while end > begin + 1 and (not rows[end - 1].strip() or rows[end - 1].startswith("#")):
        end -= 1  # what is said of the next table stays with it
    return _proved(text, [*rows[:begin], *rows[end:]], "(nothing instead of that [[bank.meter]])")


def drop_page(text: str) -> str:
    """Return the text without its ``[page]`` table."""
    rows = text.splitlines()
    begin = _begin(rows, "[page]", 0)
    if begin is None:
        return text
    end = next((row for row in range(begin + 1, len(rows)) if _HEADER.fullmatch(rows[row])), len(rows))
    while end > begin + 1 and (not rows[end - 1].strip() or rows[end - 1].startswith("#")):
        end -= 1  # what is said of the next table stays with it
    return _proved(text, [*rows[:begin], *rows[end:]], "(nothing instead of [page])")


def drop_offered_table(text: str, bank: int, header: str) -> str:
    """Return the text without the comment that offers a bank's sub-table, with what is said in front of it."""
    rows = text.splitlines()
    begin, end = _of_bank(rows, bank)
    first = next((row for row in range(begin, end) if rows[row] == f"{_OFFERED}{header}"), None)
    if first is None:
        return text
    last = first
    while rows[first - 1].startswith("#"):
        first -= 1
    while last + 1 < end and rows[last + 1].startswith("#"):
        last += 1
    return _proved(text, [*rows[:first], *rows[last + 1 :]], header)


#: What stands in front of every line of an offered mapping.
_OFFERED = "# "


def take_offered(text: str, bank: int, place: str, said: Mapping[str, str] = MappingProxyType({})) -> str:
    r"""Return the text with an offered mapping of a bank, which stands in it as a comment, as one that is read.

    Parameters
    ----------
    bank : int
        Which bank, from 0.
    place : str
        Its topic, and where in the payload, as in ``cabin/env /acid``.
    said : mapping
        Key -> its line, for what its owner says otherwise than the offer.

    Raises
    ------
    UsageError
        Nothing is offered there; names what is.

    Examples
    --------
    >>> offer = '[[bank]]\nid = "a"\n\n# 60 % sure\n# [[bank.meter]]\n# topic = "x"\n# quantity = "voltage"\n'
    >>> print(take_offered(offer, 0, "x").partition("\n\n")[2], end="")
    # taken: its owner says so
    [[bank.meter]]
    topic = "x"
    quantity = "voltage"
    """
    rows, wanted = text.splitlines(), " ".join(place.split())
    begin, end = _of_bank(rows, bank)
    there = []
    for row in range(begin, end):
        if rows[row] != f"{_OFFERED}[[bank.meter]]":
            if rows[row].strip() == "[[bank.meter]]" and _where(_keys(rows, row + 1, "")) == wanted:
                return text
            continue
        keys = _keys(rows, row + 1, _OFFERED)
        there.append(_where(keys))
        if there[-1] == wanted:
            remark = row - 1 if rows[row - 1].startswith("#") else row
            kept = [line for line in keys if line.partition("=")[0].strip() not in said]
            taken = ["# taken: its owner says so", "[[bank.meter]]", *kept, *said.values()]
            return _proved(text, [*rows[:remark], *taken, *rows[row + 1 + len(keys) :]], wanted)
    offered = f"; offered are {', '.join(there)}" if there else "; nothing is offered for this bank any more"
    raise UsageError(f"--take {place!r}: not in the file{offered}")


def add_meter(text: str, bank: int, place: str, lines: Sequence[str]) -> str:
    r"""Return the text with one more mapping behind the last of a bank, instead of the comment that offered it.

    Parameters
    ----------
    bank : int
        Which bank, from 0.
    place : str
        Its topic, and where in the payload.
    lines : sequence of str
        The table as it will stand, with its remark.

    Raises
    ------
    UsageError
        The file is written in a way that cannot be changed safely; names the lines to write by hand.

    Examples
    --------
    >>> had = '[[bank]]\nid = "a"\n[[bank.meter]]\ntopic = "v"  # the shunt\n\n# mine\n[bank.relay]\ntopic = "r"\n'
    >>> print(add_meter(had, 0, "t", ["[[bank.meter]]", 'topic = "t"']), end="")
    [[bank]]
    id = "a"
    [[bank.meter]]
    topic = "v"  # the shunt
    <BLANKLINE>
    [[bank.meter]]
    topic = "t"
    <BLANKLINE>
    # mine
    [bank.relay]
    topic = "r"
    """
    rows = _without_offer(text.splitlines(), bank, place)
    begin, end = _of_bank(rows, bank)
    heads = [row for row in range(begin + 1, end) if rows[row].strip().startswith("[[bank.meter]]")]
    after = (heads or [begin])[-1] + 1
    while after < end and rows[after].strip() and not _HEADER.fullmatch(rows[after]):
        after += 1
    changed = _proved(text, [*rows[:after], "", *lines, *rows[after:]], "\n".join(lines))
    was, now = (tomllib.loads(one)["bank"] for one in (text, changed))
    fewer = [*now[bank]["meter"]]
    (new,) = tomllib.loads("\n".join(lines).replace("[[bank.meter]]", "[[meter]]"))["meter"]
    if new in fewer:
        fewer.remove(new)
    if {**was[bank], "meter": was[bank].get("meter", [])} != {**now[bank], "meter": fewer}:
        hint = "\n".join(lines)
        raise UsageError(f"the file is written in a way that cannot be changed safely; write by hand: {hint}")
    return changed


def _of_bank(rows: Sequence[str], bank: int) -> tuple[int, int]:
    """Return where a bank begins, and where what belongs to it ends."""
    begin = _begin(list(rows), "[[bank]]", bank)
    if begin is None:
        raise UsageError(f"the file has no bank number {bank + 1}")
    ends = (row for row in range(begin + 1, len(rows)) if (head := _HEADER.fullmatch(rows[row])) and _leaves(head[1]))
    return begin, next(ends, len(rows))


def _without_offer(rows: list[str], bank: int, place: str) -> list[str]:
    """Return the rows without the comment that offers a place, or lists it as heard and not recognised."""
    begin, end = _of_bank(rows, bank)
    for row in range(begin, end):
        if rows[row] == f"{_OFFERED}[[bank.meter]]" and _where(keys := _keys(rows, row + 1, _OFFERED)) == place:
            remark = row - 1 if rows[row - 1].startswith("#") else row
            rest = row + 1 + len(keys)
            rest += rest < len(rows) and not rows[rest].strip() and not rows[remark - 1].strip()
            rows = [*rows[:remark], *rows[rest:]]
            break
    return [row for row in rows if not row.startswith(f"#   {place}: ")]


def _leaves(header: str) -> bool:
    """Tell whether a table is no longer part of the bank before it."""
    return not header.startswith(("[bank.", "[[bank."))


def _keys(rows: Sequence[str], row: int, before: str) -> list[str]:
    """Return the lines of one mapping, without what stands in front of each."""
    found = []
    for line in rows[row:]:
        if not line.startswith(before) or not re.match(r"\w+ *=", line.removeprefix(before)):
            break
        found.append(line.removeprefix(before))
    return found


def _where(keys: Sequence[str]) -> str:
    """Return topic and place of a mapping, as they are named to people."""
    told = tomllib.loads("\n".join(keys))
    return f"{told.get('topic', '')} {told.get('pointer', told.get('name', ''))}".strip()


def add_bank(text: str, lines: Sequence[str]) -> str:
    """Return the text with one more ``[[bank]]``, with its meters and relay, at its end.

    Raises
    ------
    UsageError
        The file is written in a way that cannot be changed safely; names the lines to write by hand.
    """
    changed = "\n".join([*text.rstrip().splitlines(), "", *lines]).rstrip() + "\n"
    try:
        was, now = tomllib.loads(text), tomllib.loads(changed)
    except tomllib.TOMLDecodeError:
        was, now = {}, {}
    if not now or now != {**was, "bank": [*was["bank"], now["bank"][-1]]}:
        hint = "\n".join(lines)
        raise UsageError(f"the file is written in a way that cannot be changed safely; write by hand:\n{hint}")
    return changed


def add_table(text: str, header: str, lines: Sequence[str]) -> str:
    """Return the text with a table at its end."""
    return _proved(text, [*text.rstrip().splitlines(), "", header, *lines], header)


def _begin(rows: list[str], header: str, number: int) -> int | None:
    found = [row for row, text in enumerate(rows) if (match := _HEADER.fullmatch(text)) and match[1] == header]
    return found[number] if number < len(found) else None


def _remark(row: str) -> str:
    """Return the comment behind a value; a ``#`` inside quotes is none, and an answered mark is dropped."""
    found = re.match(r"""((?:[^"'#]|"(?:[^"\\]|\\.)*"|'[^']*')*)#.*$""", row)
    remark = row[len(found[1].rstrip()) :] if found else ""
    return "" if "<-" in remark else remark


def _proved(before: str, rows: list[str], what: str) -> str:
    """Return the changed text, if it still is TOML and as long as its tables."""
    text = "\n".join(rows).rstrip() + "\n"
    try:
        now, was = tomllib.loads(text), tomllib.loads(before)
    except tomllib.TOMLDecodeError:
        raise UsageError(f"the file is written in a way that cannot be changed safely; write by hand: {what}") from None
    if len(now.get("bank", ())) != len(was.get("bank", ())):
        raise UsageError(f"the file is written in a way that cannot be changed safely; write by hand: {what}")
    return text
