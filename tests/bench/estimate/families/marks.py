"""How right it was, one round: phases, hours and their band, hold, hazards, cuts."""

from __future__ import annotations

from typing import Any

import numpy as np

from rules.advice.flag_words import FLAGS

from .baselines import BASELINES, shown
from .door import Said
from .meters import SILENCE_DEMANDS, Seen
from .truth import FORBIDDEN, PHASES, RESTING, Truth
from .wire import Array
from .world import OFF, Lived

Marks = dict[str, Any]
#: Where in a round the middle is judged, and how wide that place is (share of the charging hours).
PLACES, WIDE = (0.1, 0.25, 0.5, 0.75), 0.03
#: Where the distribution of truth over guess is kept, of every stage of every round: twenty equal parts.
SPREAD = np.linspace(0.025, 0.975, 20)
#: Hours under which a relative error says nothing [h].
LEAST = 0.25
#: A lying meter must be named within [h] of charging: it shows nothing true, current has the wrong sign.
STUCK_LIMIT, SWAPPED_LIMIT = 6.0, 2.0
#: A short is to be seen by string meters within [h].
STRING_LIMIT = 6.0
LATCHING = frozenset(name for name, text in FLAGS.items() if text.kind == "hazard")
DOUBTING = ("meter-suspect", "sensors-disagree")
ODD = ("cell-short-suspected", "imbalance", "hopeless")
STAGES = ("waking", "reviving", "bulk", "absorbing", "finishing", "holding")


def median(values: Array) -> float:
    """Of what is known; nan where nothing is."""
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else float("nan")


def mark(family: str, lived: Lived, seen: Seen, truth: Truth, said: Said) -> Marks:
    """Mark one round; JSON can hold the result (nan for not known)."""
    index = np.arange(len(truth.at))
    judged = truth.live & (index >= truth.start) & (said.phase >= 0)
    right = truth.right[index, np.maximum(said.phase.astype(int), 0)] & (said.phase >= 0)
    asked = truth.live & (index >= truth.start) & ~_silent(truth, seen)
    r = lived.round
    result: Marks = {
        "family": family,
        "seed": r.seed,
        "kind": f"{r.condition}, {r.charger.kind}, {r.hazard.kind}",
        "hazard": r.hazard.kind,
        "relay": r.relay,
        "alive": truth.alive,
        "finite": truth.finite,
        "hours": len(truth.at) / 60.0,
        "phase": float(right[asked].mean()) if asked.any() else float("nan"),
        "answered": float(judged[asked].mean()) if asked.any() else float("nan"),
        "recall": {},
        "confused": {},
        "ms": 1000.0 * said.seconds / max(len(truth.at), 1),
        "us": 1e6 * said.seconds / max(said.folded, 1),
    }
    for number, name in enumerate(PHASES[1:], 1):
        these = asked & (truth.phase == number)
        if these.sum() >= 10:
            result["recall"][name] = float(right[these].mean())
            wrong = said.phase[these & ~right].astype(int)
            result["confused"][name] = {PHASES[k]: int((wrong == k).sum()) for k in np.unique(wrong) if k >= 0}
    result |= _hours(lived, truth, said)
    result |= _hold(lived, truth, said)
    result |= _safety(lived, seen, truth, said)
    late = asked & (index >= truth.dead_from)
    dead = truth.dead_from >= 0
    result["dead"] = dead
    result["dead given hours"] = float(np.isfinite(said.middle[late]).mean()) if dead and late.any() else float("nan")
    result["called dead"] = [
        name
        for name in ("hopeless", "not-reviving")
        if truth.alive and any(_live_at(truth, at) for at in said.raised.get(name, ()))
    ]
    return result


def _silent(truth: Truth, seen: Seen) -> Array:
    """Minutes in which every meter was silent, and ten more: nobody can be asked for a phase then."""
    silent = np.zeros(len(truth.at), dtype=bool)
    for begin, end in seen.outages:
        silent |= (truth.at >= begin) & (truth.at <= end + 600.0)
    return silent


def _live_at(truth: Truth, at: float) -> bool:
    minute = min(max(int((at - truth.at[0]) / 60.0), 0), len(truth.at) - 1)
    return bool(truth.live[minute]) and at >= truth.at[0]


def _hours(lived: Lived, truth: Truth, said: Said) -> Marks:
    index = np.arange(len(truth.at))
    left = truth.remaining
    asked = truth.live & (index >= truth.start) & (index < truth.end) & (np.nan_to_num(left) > LEAST)
    known = asked & np.isfinite(said.middle)
    margin = max(60.0, lived.round.meters.period) / 3600.0
    with np.errstate(divide="ignore", invalid="ignore"):
        off = np.abs(said.middle - left) / left
        ratio = left / said.middle
        clock_off = np.abs(said.clock - truth.clock) / np.maximum(truth.clock, LEAST)
        width = (said.high - said.low) / left
    inside = (said.low - margin <= left) & (left <= said.high + margin)
    banded = known & np.isfinite(said.low) & np.isfinite(said.high)
    result: Marks = {"error": {}, "clock error": {}, "spoken": {}, "stages": {}}
    for place in PLACES:
        near = asked & (np.abs(truth.gone - place) <= WIDE)
        if not near.any():
            continue
        result["error"][str(place)] = median(off[near & known])
        result["clock error"][str(place)] = median(clock_off[near & np.isfinite(said.clock)])
        result["spoken"][str(place)] = float(known[near].mean())
    s = shown(lived, truth, said)
    guesses = {name: guess(s) for name, guess in BASELINES.items()}
    for name in STAGES:
        here = asked & (truth.phase == PHASES.index(name))
        if here.sum() < 10:
            continue
        mine = here & known
        stage: Marks = {
            "minutes": int(here.sum()),
            "spoken": float(known[here].mean()),
            "covered": float(inside[here & banded].mean()) if (here & banded).any() else float("nan"),
            "below": float((left < said.low - margin)[here & banded].mean()) if (here & banded).any() else float("nan"),
            "width": median(width[here & banded]),
            "error": median(off[mine]),
            "ratios": np.quantile(ratio[mine], SPREAD).tolist() if mine.any() else [],
            "baselines": {},
            "baseline ratios": {},
        }
        for guess_name, guess in guesses.items():
            with np.errstate(divide="ignore", invalid="ignore"):
                missed = np.abs(guess - left) / left
                times = left / guess
            stage["baselines"][guess_name] = median(np.where(np.isfinite(missed), missed, 1.0)[mine])
            fine = times[mine & np.isfinite(times)]
            stage["baseline ratios"][guess_name] = np.quantile(fine, SPREAD).tolist() if len(fine) else []
        result["stages"][name] = stage
    return result


def _hold(lived: Lived, truth: Truth, said: Said) -> Marks:
    """When the hold was called complete, against when it was [share of the hold, + = early]."""
    called = [at for at, reason, _ in said.cuts if reason == "hold-complete"]
    resting = np.flatnonzero(said.phase == RESTING)
    if len(resting):
        called.append(float(truth.at[resting[0]]))
    if not called:
        return {"hold early": float("nan")}
    when = min(called)
    hold = lived.round.hold * 3600.0
    if not _live_at(truth, when):
        return {"hold early": float("nan")}
    if truth.finite:
        # Off hours do not count: how much of the hold was missing.
        row = min(int(np.searchsorted(lived.at, when)), len(lived.at) - 1)
        early = (hold - lived.hold[row]) / hold if when < lived.hold_end else -(when - lived.hold_end) / hold
        return {"hold early": float(early)}
    row = min(int(np.searchsorted(lived.at, when)), len(lived.at) - 1)
    return {"hold early": float((hold - lived.hold[row]) / hold)}


def _safety(lived: Lived, seen: Seen, truth: Truth, said: Said) -> Marks:
    """Hazards caught, late, missed; false cuts by cause; days over which they count."""
    hazards, named = [], []
    answers = _answers(said, lived)
    for name, begin, required, deadline, _ in lived.events:
        lead = 7200.0 if name.startswith("runaway") else 1800.0
        # What is required after the record's end is not asked for.
        if required <= truth.at[-1]:
            came = [at for at in answers if at >= begin - lead]
            opened = _open_at(truth, said, required)
            when = min(came) if came else float("inf")
            verdict = "caught" if opened or when <= deadline else ("late" if when < float("inf") else "missed")
            if verdict == "missed" and truth.at[-1] < deadline:
                continue
            hazards.append({"name": name, "verdict": verdict, "hours": (when - required) / 3600.0})
        named += _named(name, begin, lived, truth, said)
    for begin, end in seen.outages:
        if (
            lived.round.relay
            and end - begin > SILENCE_DEMANDS
            and _charging(lived, begin, end)
            and _live_at(truth, begin)
        ):
            cut = [at for at, _, _ in said.cuts if begin <= at <= begin + SILENCE_DEMANDS]
            opened = _open_at(truth, said, begin + SILENCE_DEMANDS)
            hazards.append({"name": "silent", "verdict": "caught" if cut or opened else "missed", "hours": 0.0})
    false: dict[str, int] = {}
    for at, reason, _ in said.cuts:
        minute = min(max(int((at - truth.at[0]) / 60.0), 0), len(truth.at) - 1)
        silent = any(begin <= at <= end + 900.0 for begin, end in seen.outages)
        if truth.cut[minute] == FORBIDDEN and not silent and not truth.interrupted[minute]:
            false[reason] = false.get(reason, 0) + 1
    alarms = {
        name: count
        for name in sorted(LATCHING)
        if (
            count := sum(
                truth.cut[_minute(truth, at)] == FORBIDDEN for at in said.raised.get(name, ()) if at >= truth.at[0]
            )
        )
    }
    days = float((truth.cut == FORBIDDEN).sum() / 1440.0)
    return {
        "hazards": hazards,
        "named": named,
        "false cuts": false if lived.round.relay else {},
        "false alarms": alarms,
        "days": days,
        "relay days": days if lived.round.relay else 0.0,
    }


def _minute(truth: Truth, at: float) -> int:
    return min(max(int((at - truth.at[0]) / 60.0), 0), len(truth.at) - 1)


def _answers(said: Said, lived: Lived) -> list[float]:
    """When the rules acted on a hazard: a trip that stays, or where there is no relay a latched hazard."""
    if lived.round.relay:
        return [at for at, _, latched in said.cuts if latched]
    return [at for name in LATCHING for at in said.raised.get(name, ())]


def _open_at(truth: Truth, said: Said, at: float) -> bool:
    return bool(said.open[_minute(truth, at)] > 0.5)


def _charging(lived: Lived, begin: float, end: float) -> bool:
    rows = (lived.at >= begin) & (lived.at <= end)
    return bool(rows.any() and (lived.mode[rows] != OFF).all())


def _named(name: str, begin: float, lived: Lived, truth: Truth, said: Said) -> list[Marks]:
    """Whether lying meters and shorts were named in time, where they could be known."""
    r, limit = lived.round, 0.0
    words: tuple[str, ...] = DOUBTING
    if name == "swapped":
        limit = SWAPPED_LIMIT
    elif name == "stuck" and _moved(lived, begin):
        limit = STUCK_LIMIT
    elif name == "short" and (r.meters.strings or r.meters.blocks or r.meters.midpoint):
        limit, words = STRING_LIMIT, ODD
    if not limit:
        return []
    charging = (lived.at >= begin) & (lived.mode != OFF)
    hours = np.cumsum(np.where(charging, np.r_[0.0, np.diff(lived.at)], 0.0)) / 3600.0
    over = np.flatnonzero(hours >= limit)
    if not len(over):
        return []
    deadline = float(lived.at[over[0]])
    told = [at for word in (*words, *LATCHING) for at in said.raised.get(word, ()) if begin <= at]
    when = min(told) if told else float("inf")
    verdict = "caught" if when <= deadline else ("late" if told else "missed")
    return [{"name": f"{name} {r.hazard.quantity}".strip(), "verdict": verdict, "hours": (when - begin) / 3600.0}]


def _moved(lived: Lived, begin: float) -> bool:
    """Whether a stuck quantity really moved within the limit, so that somebody could know."""
    rows = (lived.at >= begin) & (lived.at <= begin + 3600.0 * STUCK_LIMIT) & (lived.mode != OFF)
    if not rows.any():
        return False
    if lived.round.hazard.quantity == "temperature":
        return bool(np.ptp(lived.probed[rows]) > 3.0)
    if lived.round.hazard.quantity == "current":
        return bool(lived.current[rows].min() < 0.7 * lived.current[rows].max())
    return bool(np.ptp(lived.volts[rows]) / lived.round.make.cells > 0.05)
