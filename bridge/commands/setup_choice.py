"""What has changed since the file was written, as its owner says it: one question in place of all of them."""

from __future__ import annotations

import re

from bridge.commands.setup_answers import Asker
from bridge.commands.setup_limits import MAINS, OWN_LIMITS
from bridge.units import near

#: A meter that was bought: heard and asked about, and nothing else.
METER = "meter"
#: Everything is gone through, as in the first evening.
ALL = "all"
#: What can be said anew -> what is meant by it, where the word alone says too little.
SAID_ANEW = {
    "site": "",
    "strings": "in parallel",
    "block": "what is printed on one",
    "blocks": "in series",
    "charger": "",
    "equalise": "the voltage of the hold",
    "limits": "your own, of temperature, volts and amps",
    "mains": "",
    "openings": "for the air of the room",
    "relay": "",
    "probe": "where a thermometer sits",
    "page": "and its token",
    "degrees": "",
}
#: How people call the same.
_ALSO = {
    "everything": ALL,
    "name": "site",
    "place": "site",
    "string": "strings",
    "chargers": "charger",
    "equalize": "equalise",
    "limit": "limits",
    "outlet": "mains",
    "opening": "openings",
    "louvers": "openings",
    "relays": "relay",
    "probes": "probe",
    "scale": "degrees",
}
#: What is several options, or one that is called otherwise.
_OPTIONS = {"limits": tuple(OWN_LIMITS), "mains": (MAINS,)}
#: Words beside what is meant.
_BESIDE = frozenset({"a", "an", "the", "and", "new", "is", "my", "its", "of", "or"})


def what_changed(asker: Asker) -> list[str]:
    """Ask what has changed; Enter is for a new meter, which is what comes most often.

    Returns
    -------
    list of str
        `METER`, `ALL` or options; empty where nothing has. All of it where nobody is asked.
    """
    if not asker.asks:
        return [ALL]
    known = ", ".join(f"{word} ({meant})" if meant else word for word, meant in SAID_ANEW.items())
    return asker.asked(
        f"What has changed: a new meter, {known}; or all, to go through everything?", METER, read_changed
    )


def read_changed(text: str) -> list[str]:
    """Return what has changed.

    >>> read_changed("a new thermometer"), read_changed("page and charger"), read_changed("nothing")
    (['meter'], ['page', 'charger'], [])
    """
    found: list[str] = []
    for word in re.findall(r"[^\s,;]+", text.lower().strip(" .")):
        meant = METER if word.rstrip("s").endswith("meter") else _ALSO.get(word, word)
        if meant in {"nothing", "none", "no"}:
            return []
        if meant in _BESIDE:
            continue
        if meant not in {METER, ALL, *SAID_ANEW}:
            raise ValueError(f"{word!r} is none of them{near(word, [METER, ALL, *SAID_ANEW])}")
        found += _OPTIONS.get(meant, (meant,))
    return found
