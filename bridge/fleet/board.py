"""All banks of all cabins on one page, worst first: static files and one document, which `follow` writes anew.

The page needs no server: it works from a folder as it does from any web server. Whatever a cabin wrote reaches it as
text and nothing else. How long a bank is silent is worked out by the page when it is looked at, so that a list that
nobody refreshes any more shows it too.
"""

from __future__ import annotations

import json
import math
import os
from collections import Counter
from collections.abc import Iterable, Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any

from bridge.errors import UsageError
from bridge.outlets.parcel_schema import parse
from bridge.words import palette
from bridge.words.bank_status import causes, place, standing
from bridge.words.spoken import spoken
from rules.events import Derived

#: Of the document; the page and programs that read it look at it first.
FORMAT = 1
#: A parcel leaves a cabin once an hour. Six that did not come are no slow link any more [s].
SILENT_AFTER = 6 * 3600.0
#: Trips that the board can count are kept, the newest [number].
TRIPS_KEPT = 50
#: Below the folder of the output: the page, and what it shows.
FOLDER = "board"
DOCUMENT = "board.json"
#: The same as a script, because a browser reads no document beside a page that it opened from a folder.
SCRIPT = "board-data.js"
_OWN = {"board.html": "index.html", "board.css": "board.css", "board.js": "board.js"}
#: What a bank needs, worst first. One that nobody hears from stands right behind danger: nothing is known of it.
NEEDS: dict[str, str] = {
    "danger": "Danger",
    "silent": "Not heard from",
    "unseen": "Meter not heard",
    "not-yet": "Not yet safe",
    "warm": "Warm",
    "chore": "Safe, something to do",
    "yes": "Safe",
}
#: Figures of a state that the page shows as they are.
_FIGURES = (
    *("phase", "phase_since", "interrupted", "remaining_hours", "remaining_low", "remaining_high"),
    *("remaining_clock_hours", "volts_per_cell", "current", "charge_allowed", "tripped", "relay"),
)


def bank_told(derived: Derived, scale: str) -> dict[str, Any]:
    """Return what the page shows of a bank's state: figures, and sentences as the cabin's own page says them.

    Parameters
    ----------
    derived : Derived
        Of one bank.
    scale : str
        Its cabin's, "degC" or "degF": who calls there about a number hears the same one.

    Examples
    --------
    >>> told = bank_told(Derived("north", 1795590000.0, temperature=30.0), "degF")
    >>> told["safe"], told["phase"], told["need"], told["warmth"]
    ('unknown', 'idle', '', '86.0 °F')
    """
    level, words = standing(derived)
    return {
        "at": derived.at,
        "level": level,
        "safe": derived.safe,
        "meter_silent": any(flag.name == "meter-silent" for flag in derived.flags),
        "where": place(derived.phase, False, derived.charging),
        "standing": spoken(words, scale),
        "need": spoken(derived.next_step, scale),
        "then": [spoken(line, scale) for line in derived.then],
        "causes": [_named(spoken(line, scale)) for line in causes(derived.flags, derived.unsafe)],
        "hours_why": spoken(derived.remaining_reason, scale),
        "warmth": "" if _finite(derived.temperature) is None else spoken(f"{derived.temperature:.1f} degC", scale),
        **{name: _finite(getattr(derived, name)) for name in _FIGURES},
    }


def _finite(figure: object) -> object:
    """Return a figure; none where it is no number that JSON has a form for."""
    return None if isinstance(figure, float) and not math.isfinite(figure) else figure


def _named(cause: str) -> str:
    name, colon, seen = cause.partition(":")
    return name.replace("-", " ") + colon + seen


def need(bank: Mapping[str, Any], now: float) -> str:
    """Return what a bank needs, a key of `NEEDS`, as the page works it out too.

    Parameters
    ----------
    bank : mapping
        One of the document's.
    now : float
        Looked at when [s since the epoch].
    """
    if bank["level"] == "hazard":
        return "danger"
    if now - bank["heard_at"] > SILENT_AFTER:
        return "silent"
    if bank["safe"] == "unknown" or bank["meter_silent"]:
        return "unseen"
    if bank["safe"] in ("not-yet", "warm"):
        return str(bank["safe"])
    return "chore" if bank["level"] == "chore" else "yes"


def with_asides(banks: Iterable[Mapping[str, Any]], refused: Mapping[str, str]) -> list[dict[str, Any]]:
    """Return banks, each with a word of the parcels of its site that could not be used.

    Parameters
    ----------
    refused : mapping
        Place of a parcel -> why.
    """
    of_site: dict[str, list[str]] = {}
    for parcel, why in sorted(refused.items()):
        name = parse(parcel)
        if name is not None:
            words = f"A parcel ({name.table}, rows {name.first} to {name.last}) could not be used: {why}"
            of_site.setdefault(name.site, []).append(words)
    found = []
    for bank in banks:
        words, *others = of_site.get(bank["site"], [""])
        found.append({**bank, "aside": words + (f"; and {len(others)} more" if others else "")})
    return found


def worst_first(banks: Iterable[Mapping[str, Any]], now: float) -> list[dict[str, Any]]:
    """Return banks with what each needs, the worst first; of those that need the same, the longest unheard of first."""
    order = list(NEEDS)
    found = [{**bank, "needs": need(bank, now)} for bank in banks]
    return sorted(found, key=lambda one: (order.index(one["needs"]), one["heard_at"], one["site"], one["bank"]))


def document(banks: Iterable[Mapping[str, Any]], refused: list[dict[str, Any]], now: float, every: float) -> str:
    """Return the document: every bank, worst first, and parcels that could not be used.

    Parameters
    ----------
    banks : iterable of mapping
        From `bank_told`, with site, bank, when it was heard from, and its trips.
    refused : list of dict
        Parcels that could not be used: name, why.
    now : float
        Made when [s since the epoch].
    every : float
        It is made anew so often [s]; 0 = not by itself.
    """
    told = {
        "format": FORMAT,
        "made_at": now,
        "every": every,
        "silent_after": SILENT_AFTER,
        "banks": worst_first(banks, now),
        "refused": refused,
    }
    return json.dumps(told, separators=(",", ":"), allow_nan=False)


def again(folder: Path, now: float) -> str:
    """Return the document that lies below a folder, its banks in the order of now [s since the epoch].

    Raises
    ------
    UsageError
        There is none, or none that this version can read.
    """
    place = folder / FOLDER / DOCUMENT
    try:
        told = json.loads(place.read_text("utf-8"))
        if told["format"] != FORMAT:
            raise UsageError(
                f"{place}: its format is {told['format']}, known here: {FORMAT}; let `follow` write it anew"
            )
        return json.dumps({**told, "banks": worst_first(told["banks"], now)}, separators=(",", ":"), allow_nan=False)
    except OSError as error:
        raise UsageError(
            f"{place}: {error.strerror or error}; `revival fleet follow --out {folder}` writes it"
        ) from error
    except (ValueError, KeyError, TypeError) as error:
        raise UsageError(
            f"{place}: no board ({error}); remove it, and let `revival fleet follow` write it anew"
        ) from None


def write(folder: Path, text: str) -> Path:
    """Write page and document below a folder, each whole or not at all; return the page.

    Raises
    ------
    UsageError
        The folder takes no files.
    """
    place = folder / FOLDER
    try:
        place.mkdir(parents=True, exist_ok=True)
        own = files("bridge.fleet").joinpath("static")
        for source, name in _OWN.items():
            put(place / name, own.joinpath(source).read_text("utf-8"))
        put(place / "palette.css", palette.css())
        put(place / DOCUMENT, text)
        put(place / SCRIPT, f"takeBoard({text});\n")
    except OSError as error:
        raise UsageError(f"{place}: {error.strerror or error}; name a folder that may be written with --out") from error
    return place / "index.html"


def put(path: Path, text: str, at: float | None = None) -> None:
    """Write a file whole, then give it its name: whoever reads meanwhile finds the one before.

    Parameters
    ----------
    at : float, optional
        Date of the file [s since the epoch]; else now.

    Raises
    ------
    OSError
        It cannot be written.
    """
    new = path.with_name(f".{path.name}.new")
    with new.open("w", encoding="utf-8") as out:
        out.write(text)
        out.flush()
        os.fsync(out.fileno())
    if at is not None:
        os.utime(new, (at, at))
    new.replace(path)


def summary(text: str, now: float) -> str:
    """Say in one line how many banks need what."""
    counted = Counter(need(bank, now) for bank in json.loads(text)["banks"])
    parts = [f"{counted[kind]} {words.lower()}" for kind, words in NEEDS.items() if counted[kind]]
    banks = "1 bank" if counted.total() == 1 else f"{counted.total()} banks"
    return f"{banks}: {', '.join(parts)}" if parts else "no bank has been heard from yet"
