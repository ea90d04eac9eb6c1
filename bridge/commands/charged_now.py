"""A bank that is charged while its plan is made: the plan is for a charger that is off."""

from __future__ import annotations

import time
from collections.abc import Iterable

from bridge.errors import CannotReachError
from bridge.journal.reader import JournalReader
from bridge.runtime.control_socket import ask
from bridge.settings import Cabin

#: A state of so lately is what was so when the bridge ended, and likely still is [s] (assumed).
_LATELY = 3600.0
#: Where no round is under way.
_BEFORE_AND_AFTER = (None, "idle", "finished")


def charged_now(cabin: Cabin, banks: Iterable[str]) -> list[str]:
    """Return a sentence for each bank that is charged now, by a bridge that runs, or was when one last heard it."""
    try:
        states = ask(cabin.journal.path, {"ask": "status"})["banks"]
    except CannotReachError:
        return _when_last_heard(cabin, banks)
    charged = [(name, states[name]) for name in banks if states.get(name, {}).get("charging")]
    return [
        f"{name} is being charged now{_flow(state.get('current'), state.get('voltage'))}. "
        + (_OFF if state.get("phase") in _BEFORE_AND_AFTER else _UNDER_WAY)
        for name, state in charged
    ]


_OFF = (
    "This plan is for a charger that is off: switch it off at the wall until plan and checklist are done, or stay with "
    "it"
)
_UNDER_WAY = "A round is under way: `revival status` says what comes next in it, this plan is for the one after"


def _when_last_heard(cabin: Cabin, banks: Iterable[str]) -> list[str]:
    """Say which banks were on charge when the bridge last heard them: nobody watches them now."""
    if not cabin.journal.path.exists():
        return []
    with JournalReader(cabin.journal.path) as journal:
        states = [(name, state) for name in banks if (state := journal.latest_state(name)) is not None]
    now = time.time()
    return [
        f"{name} was being charged when it was last heard, {max(1, round((now - state.at) / 60.0))} min ago"
        f"{_flow(state.current, state.voltage)}, and no bridge runs now: while the charger is on, nobody here watches "
        "it. Switch it off at the wall, or start `revival run` and stay with it"
        for name, state in states
        if state.charging and 0.0 <= now - state.at <= _LATELY
    ]


def _flow(amps: float | None, volts: float | None) -> str:
    """Return what flows, as far as it is known.

    >>> _flow(14.12, 26.2), _flow(None, 26.2), _flow(None, None)
    (': 14.1 A flow into it at 26.2 V', ' at 26.2 V', '')
    """
    at = "" if volts is None else f" at {volts:.1f} V"
    return at if amps is None else f": {amps:.1f} A flow into it{at}"
