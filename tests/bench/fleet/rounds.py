"""Rows of rounds that never were: banks of the estimate's families, seen by their meters, told to phase and estimate.

Phase and estimate alone, without the relay and its cuts: a minute's newest sample is one observation. What a round
needed is what the rules' own hold took, as in a cabin, where nobody knows the truth either. The year in which the
blocks were made is drawn: nothing may be concluded from it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from bridge.fleet.round_row import Notes, Row, known, note, so_far
from rules.bank import Bank, Experience
from rules.phase import CHARGING, Observation
from rules.phase import machine as phase
from rules.phase.memory import PhaseMemory
from rules.remaining import estimate as remaining
from rules.remaining.estimate import Estimate
from tests.bench.estimate.families.campaign import lived
from tests.bench.estimate.families.door import bank_of
from tests.bench.estimate.families.meters import Seen, look
from tests.bench.estimate.families.world import Lived

Line = dict[str, Any]
#: One observation a minute [s].
MINUTE = 60.0
#: A meter that said nothing for so long is silent [s].
SILENT = 900.0
#: Nobody waits longer for a hold that was complete [h].
AFTERWARDS = 1.0


def observations(run: Lived, seen: Seen, bank: Bank) -> Iterator[Observation]:
    """Yield the newest samples, minute by minute, with the charge that the meters would have counted."""
    volts = seen.values["voltage"]
    amps = seen.values["current"] if "current" in seen.values else seen.values["power"] / np.maximum(volts, 1.0)
    warm, air = (seen.values.get(f"{name}_temperature") for name in ("electrolyte", "ambient"))
    ends = np.arange(math.ceil(run.at[0] / MINUTE) * MINUTE, run.at[-1], MINUTE)
    rows = np.searchsorted(seen.at, ends, side="right") - 1
    charge = charging = 0.0
    for at, row in zip(ends.tolist(), rows.tolist(), strict=True):
        if row < 0 or at - seen.at[row] > SILENT:
            yield Observation(at, None, None, charge=charge, charging_seconds=charging)
            continue
        now = float(amps[row])
        charge += max(now, 0.0) * MINUTE / 3600.0
        charging += MINUTE if now > 0.1 else 0.0
        yield Observation(
            at,
            float(volts[row]) / bank.cells,
            now,
            None if warm is None else float(warm[row]),
            None if air is None else float(air[row]),
            charge=charge,
            charging_seconds=charging,
        )


def watched(bank: Bank, seen: Iterator[Observation], experiences: Sequence[Experience]) -> Iterator[tuple[Line, ...]]:
    """Yield states and phase events as `revival replay` writes them, one of each for each experience."""
    machine = phase.initial()
    banks = [replace(bank, experience=experience) for experience in experiences]
    estimators = [remaining.initial() for _ in banks]
    over = math.inf
    for observation in seen:
        before = machine
        machine = phase.observe(bank, machine, observation)
        estimators = [
            remaining.observe(each, machine, estimator, observation)
            for each, estimator in zip(banks, estimators, strict=True)
        ]
        if machine.hold_complete and machine.phase not in CHARGING:
            over = min(over, observation.at + 3600.0 * AFTERWARDS)
        if observation.at > over:
            return
        if (machine.phase, machine.interrupted) != (before.phase, before.interrupted):
            moved = {"phase": machine.phase, "before": before.phase, "interrupted": machine.interrupted}
            yield ({"t": observation.at, "bank": bank.id, "kind": "phase", "detail": moved},) * len(banks)
        yield tuple(_state(bank, machine, observation, estimator.estimate) for estimator in estimators)


def _state(bank: Bank, machine: PhaseMemory, observation: Observation, said: Estimate) -> Line:
    found = {"not-reviving": machine.not_reviving, "hopeless": machine.hopeless}
    return {
        "t": observation.at,
        "bank": bank.id,
        "phase": machine.phase,
        "interrupted": machine.interrupted,
        "remaining_hours": said.hours,
        "remaining_low": said.low,
        "remaining_high": said.high,
        "remaining_reason": said.reason,
        "flags": [name for name, up in found.items() if up],
        "charge_returned_ah": observation.charge,
        "volts_per_cell": observation.volts_per_cell,
        "current_a": observation.current,
        "temperature_c": observation.temperature,
        "advice": "",
    }


def rows(family: str, seed: int, kept: Path | None, experiences: Sequence[Experience]) -> list[Row]:
    """Return the row of one round for each experience: the site is the family, the bank the seed.

    None where it never began. Only the first round of a record counts; what is charged afterwards is another.
    """
    run = lived(family, seed, kept)
    seen = look(run)
    bank = replace(bank_of(run, seen), id=f"bank-{seed}", relay=None)
    made = int(2026 - np.random.default_rng((seed, 15)).integers(3, 19))
    return rows_of(family, bank, observations(run, seen, bank), experiences, made)


def rows_of(
    site: str, bank: Bank, seen: Iterator[Observation], experiences: Sequence[Experience], made: int | None = None
) -> list[Row]:
    """Return the row of one recorded round for each experience; none where it never began."""
    told = known(site, bank, made)
    notes = [Notes() for _ in experiences]
    for lines in watched(bank, seen, experiences):
        folded = [note(told, each, line) for each, line in zip(notes, lines, strict=True)]
        if any(row is not None for _, row in folded):
            break
        notes = [each for each, _ in folded]
    found = [so_far(told, each) for each in notes]
    return [row for row in found if row is not None]
