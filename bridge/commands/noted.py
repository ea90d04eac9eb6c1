"""What people noted, confirmed and judged of a bank, each under a number that stays its own: to choose what goes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any, NamedTuple

from bridge.errors import UsageError
from bridge.intake.hand_words import moment
from bridge.journal.reader import JournalReader
from bridge.report.told import kind_of, left_of, meant, taken_at
from bridge.words.bank_status import event_words
from bridge.words.folded import for_screen
from bridge.words.spoken import spoken
from rules.events import Event
from rules.events import moment as rounded

#: The end of time, for the journal [s since the epoch].
EVER = 1e11
#: So many entries are listed where nobody says how many.
LISTED = 10
#: Acts that are taken back like an entry.
ACTS = ("checklist", "verdict")


class Noted(NamedTuple):
    """One entry: its number in this bank, what was noted, and when it was taken back [s since the epoch], if it was."""

    number: int
    event: Event
    back: float | None = None

    @property
    def what(self) -> str:
        """The kind of a hand reading, or the act."""
        return kind_of(self.event) or str(self.event.detail.get("name"))

    @property
    def at(self) -> float:
        """When it was taken [s since the epoch]."""
        return taken_at(self.event)


def noted(journal: JournalReader, bank: str) -> list[Noted]:
    """Return all that was noted of a bank, in the order in which it was entered."""
    return numbered(journal.events(bank, 0.0, EVER, ["hand", "command"]))


def numbered(events: Sequence[Event]) -> list[Noted]:
    """Return entries, checklists and verdicts in order, numbered from 1; what was taken back keeps its number.

    Examples
    --------
    >>> poured = Event("north", "hand", 5.0, {"kind": "water", "values": {"": 300.0}, "taken_at": 5.0})
    >>> back = Event("north", "hand", 9.0, {"kind": "water", "undo": True, "values": {}})
    >>> [(each.number, each.back) for each in numbered([poured, back, poured])]
    [(1, 9.0), (2, None)]
    """
    found: list[Noted] = []
    for event in events:
        if event.kind == "hand":
            if not event.detail.get("undo"):
                found.append(Noted(len(found) + 1, event))
                continue
            standing = [each for each in found if each.back is None and each.event.kind == "hand"]
            position = meant([each.event for each in standing], event)
            gone = None if position is None else standing[position]
            stays = None if gone is None else left_of(gone.event, event)
        elif event.detail.get("name") in ACTS:
            if "gone" not in event.detail:
                found.append(Noted(len(found) + 1, event))
                continue
            gone, stays = _last(found, str(event.detail["name"])), None
        else:
            continue
        if gone is not None:
            changed = gone._replace(back=event.at) if stays is None else gone._replace(event=stays)
            found[gone.number - 1] = changed
    return found


def _last(entries: Sequence[Noted], act: str) -> Noted | None:
    """Return the last checklist or verdict that was not taken back."""
    return next((each for each in reversed(entries) if each.what == act and each.back is None), None)


def chosen(entries: Sequence[Noted], wanted: str, now: float) -> Noted:
    """Return the entry that is meant by its number, or by the minute at which it was taken.

    Raises
    ------
    UsageError
        There is none, several are of that minute, or it is one that cannot be taken back alone.
    """
    if wanted.isdecimal():
        found = [each for each in entries if each.number == int(wanted)]
        none = f"there is no entry {wanted}: `revival record --list` shows them with their numbers"
    else:
        at = moment(wanted, now, "--take-back")
        found = [each for each in entries if each.at // 60.0 == at // 60.0 and each.back is None]
        none = f"nothing noted at {spoken(rounded(at))} stands: `revival record --list` shows what does"
    if not found:
        raise UsageError(none)
    if len(found) > 1:
        which = ", ".join(f"{each.number} ({each.what})" for each in found)
        raise UsageError(f"several are of that minute: {which}; take one back by its number")
    entry = found[0]
    if entry.back is not None:
        raise UsageError(f"entry {entry.number} is taken back already, since {spoken(rounded(entry.back))}")
    if entry.what in ACTS and entry != _last(entries, entry.what):
        raise UsageError(f"entry {entry.number}: only the last {entry.what} can be taken back")
    return entry


def request(entry: Noted, by: str) -> dict[str, Any]:
    """Return what the running bridge is asked, to take this hand reading back."""
    values = entry.event.detail.get("values")
    places = dict.fromkeys(values, "") if isinstance(values, dict) else {}
    asked = {"ask": "record", "bank": entry.event.bank, "kind": entry.what, "by": by, "undo": True, "entry": entry.at}
    return {**asked, "values": places} if places else asked


def as_text(bank: str, entries: Sequence[Noted], many: int, what: str | None, scale: str) -> str:
    """Say the last entries, the newest first, with their numbers, and how one is taken back."""
    alike = [each for each in entries if what is None or each.what == what]
    if not alike:
        return f"{bank}: nothing noted yet" if what is None else f"{bank}: no {what} noted yet"
    shown = alike[: -many - 1 : -1]
    of = f"the last {len(shown)} of {len(alike)}" if len(shown) < len(alike) else f"all {len(alike)}"
    width = len(str(shown[0].number))
    lines = [f"{bank}: {of} noted, the newest first"]
    for each in shown:
        words = (event_words(each.event, scale) or each.what).replace(" by hand", "", 1)
        by = f", by {each.event.detail['by']}" if each.event.kind == "hand" and each.event.detail.get("by") else ""
        back = "" if each.back is None else f" (taken back {spoken(rounded(each.back))})"
        lines.append(f"  {each.number:>{width}}  {spoken(rounded(each.at))}  {words}{by}{back}")
    return for_screen("\n".join([*lines, "take one back: revival record --take-back NUMBER, or its time"]))


def as_rows(entries: Sequence[Noted], many: int, what: str | None) -> list[dict[str, Any]]:
    """Return the same as plain values, the newest first."""
    alike = [each for each in entries if what is None or each.what == what]
    return [
        {
            "number": each.number,
            "what": each.what,
            "at": _iso(each.at),
            "entered_at": _iso(each.event.at),
            "by": each.event.detail.get("by", ""),
            "values": each.event.detail.get("values", {}),
            "note": each.event.detail.get("note", ""),
            "taken_back_at": None if each.back is None else _iso(each.back),
        }
        for each in alike[: -many - 1 : -1]
    ]


def _iso(at: float) -> str:
    return datetime.fromtimestamp(at).astimezone().isoformat(timespec="seconds")
