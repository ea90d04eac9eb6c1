"""What phase and estimate are told of a round, kept on disk; and both alone, played on it again in a second or two.

`rules.step` turns readings into `Observation`s and needs most of a minute's work for it. A watched bank (no relay, no
cut) is told a round once, a reading every ten seconds at most; its observations are kept. Whoever changes phase or
hours then plays those two rooms alone. What this leaves out: cuts by the rules themselves, and hazards.
"""

from __future__ import annotations

import hashlib
import inspect
import math
import pickle
import time
from pathlib import Path
from typing import Any, NamedTuple
from unittest.mock import patch

import numpy as np

from rules.bank import Bank
from rules.events import Reading
from rules.phase import Observation, machine
from rules.remaining import estimate as remaining
from rules.step import on_tick
from rules.step.memory import initial, view_of
from rules.step.on_reading import sample
from rules.step.on_tick import LOOK_EVERY

from . import campaign, door, meters, truth
from .wire import Array
from .world import Lived

#: Readings closer together than this are not told [s].
APART = 9.0
#: At rest, before the record, a reading comes so often [s].
REST_EVERY = 60


class Round(NamedTuple):
    """A round that happened, its truth, the bank as its cabin file makes it, and what phase and estimate were told."""

    lived: Lived
    seen: meters.Seen
    truth: truth.Truth
    bank: Bank
    observations: tuple[Observation, ...]


def kept_round(family: str, seed: int, kept: Path) -> Round:
    """Return a round from the folder of those already told, or tell it once."""
    lived = campaign.lived(family, seed, kept)
    told = truth.label(lived)
    seen = meters.look(lived)
    watched = lived._replace(round=lived.round._replace(relay=False))
    bank = door.bank_of(watched, seen)
    mark = hashlib.sha256((inspect.getsource(meters) + inspect.getsource(door) + campaign.made_by(family)).encode())
    path = kept / f"{family}-{seed}.observed"
    if path.exists():
        with path.open("rb") as stored:
            made, rows = pickle.load(stored)
        if made == mark.hexdigest():
            return Round(lived, seen, told, bank, tuple([Observation(*row) for row in rows]))
    observations = observed(watched, seen, told, bank)
    with path.open("wb") as stored:
        pickle.dump((mark.hexdigest(), [tuple(each) for each in observations]), stored, protocol=5)
    return Round(lived, seen, told, bank, observations)


def observed(lived: Lived, seen: meters.Seen, told: truth.Truth, bank: Bank) -> tuple[Observation, ...]:
    """Tell a watched bank the whole round and note every observation that reaches phase and estimate."""
    notes: list[Observation] = []
    whole = machine.observe

    def noting(bank: Bank, memory: machine.PhaseMemory, observation: Observation) -> machine.PhaseMemory:
        notes.append(observation)
        return whole(bank, memory, observation)

    with (
        patch.object(machine, "observe", noting),
        patch.object(remaining, "observe", lambda _bank, _phase, memory, _observation: memory),
    ):
        _tell(bank, float(lived.at[0]), seen, told)
    return tuple(notes)


def _tell(bank: Bank, start: float, seen: meters.Seen, told: truth.Truth) -> None:
    """Let it rest, start the round, tell the readings with a look after each, and look once a minute; no judgement."""
    memory = initial()
    names = list(seen.values)
    columns = [shown.tolist() for shown in seen.values.values()]
    now = math.ceil(start) - door.BEFORE
    for second in range(now, math.ceil(start), REST_EVERY):
        for name, column in zip(names, columns, strict=True):
            warm = column[0] if "temperature" in name and column else 0.0
            at_rest = door.RESTED * bank.spans[name] if "voltage" in name else warm
            memory, _ = sample(bank, memory, Reading(bank.id, name, at_rest, float(second), float(second)))
        memory, _ = on_tick.observe(bank, memory, view_of(bank, memory, second), float(second))
        if second == now:
            memory = memory._replace(phase=machine.command(bank, memory.phase, "start", float(second)))
    arrivals, taken = seen.at.tolist(), seen.measured.tolist()
    number, last, latest = 0, start, -math.inf
    for when in told.at.tolist():
        while number < len(arrivals) and arrivals[number] <= when:
            at = arrivals[number]
            if at - latest >= APART:
                latest = at
                for name, column in zip(names, columns, strict=True):
                    reading = Reading(bank.id, name, column[number], at, min(taken[number], at))
                    memory, _ = sample(bank, memory, reading)
                last = float(math.ceil(at))
                memory, _ = on_tick.observe(bank, memory, view_of(bank, memory, last), last)
            number += 1
        if when - last >= LOOK_EVERY:
            last = when
            memory, _ = on_tick.observe(bank, memory, view_of(bank, memory, last), last)


class Played(NamedTuple):
    """Minute by minute of the truth: what phase and estimate said, and the memories behind it where asked for."""

    said: door.Said
    memories: tuple[tuple[machine.PhaseMemory, remaining.RemainingMemory], ...]


def play(each: Round, memories: bool = False, upto: float = math.inf) -> Played:
    """Play phase and estimate alone; `Said` as the whole rules would give it, without cuts and flags."""
    bank = each.bank.watched
    phase, estimate = machine.initial(), remaining.initial()
    minutes: list[tuple[float, ...]] = []
    kept: list[Any] = []
    reasons: list[str] = []
    number, observations = 0, each.observations
    # Rest, checklist and start lie before the record.
    phase = machine.command(bank, phase, "start", observations[0].at)
    started = time.process_time()
    for when in each.truth.at.tolist():
        while number < len(observations) and observations[number].at <= when:
            phase = machine.observe(bank, phase, observations[number])
            estimate = remaining.observe(bank, phase, estimate, observations[number])
            number += 1
        seen = observations[max(0, number - 1)]
        minutes.append(_row(phase, estimate, seen, when))
        reasons.append(estimate.estimate.reason)
        if memories:
            kept.append((phase, estimate))
    spent = time.process_time() - started
    said = door.Said._make((*np.array(minutes).T, (), {}, tuple(reasons), spent, len(observations)))
    return Played(said, tuple(kept))


def _row(
    phase: machine.PhaseMemory, memory: remaining.RemainingMemory, seen: Observation, when: float
) -> tuple[float, ...]:
    now = memory.estimate
    name = phase.phase if phase.phase in truth.PHASES else "resting"
    numbers = (
        now.low, now.hours, now.high, now.clock_hours, seen.volts_per_cell, seen.current, seen.charge,
        phase.hold_seconds / 3600.0,
    )  # fmt: skip
    number = float(truth.PHASES.index(name)) if when - seen.at <= 900.0 else -1.0
    return (number, *[math.nan if value is None else float(value) for value in numbers], 0.0)


def judged(each: Round, played: Played) -> Array:
    """Return which minutes count: judged by the truth, before its end, half an hour of charging left at least."""
    told = each.truth
    index = np.arange(len(told.at))
    left = np.nan_to_num(told.remaining)
    asked: Array = told.live & (index >= told.start) & (index < told.end) & (left > 0.5) & (played.said.phase >= 0)
    return asked
