"""Drives the rules along a round and notes what they said: straight into phase and estimate, or by the one door."""

from __future__ import annotations

import json
import math
import time
from typing import NamedTuple

import numpy as np

from bridge.journal.snapshot import freeze, thaw
from rules.bank.arrangement import Arrangement, arranged
from rules.bank.model import Bank, Block, ChargerSetting, HoldRule, Meter
from rules.events import Command, Derived, Reading, Tick
from rules.phase import machine as phase
from rules.phase.observation import Observation
from rules.remaining import estimate as remaining
from rules.step import memory as bank_memory
from rules.step import step as through
from tests.bench.simulated_bank.sensors import Samples, Sensors
from tests.bench.simulated_bank.simulate import Run

from .kinds import Kind
from .labels import PHASES


class Said(NamedTuple):
    """What was said at each observation: [s since the epoch], phase index, hours; when the flags came [h]; the cost."""

    at: np.ndarray
    phase: np.ndarray
    middle: np.ndarray
    low: np.ndarray
    high: np.ndarray
    clock: np.ndarray
    volts: np.ndarray
    amps: np.ndarray
    charge: np.ndarray
    hold: np.ndarray
    reasons: list[str]
    not_reviving: float
    hopeless: float
    finding: str
    seconds: float


def silence_of(sensors: Sensors) -> float:
    """How long a meter may say nothing before it counts as silent [s]."""
    return min(max(3.0 * sensors.period, 60.0), 900.0)


def taking_over(kind: Kind, first: Samples, second: Samples) -> Samples:
    """What is believed where a second pair of meters stands in while the first is silent."""
    heard = first.at[np.clip(np.searchsorted(first.at, second.at, side="right") - 1, 0, None)]
    stands_in = second.at - heard > silence_of(kind.sensors)
    other = second._replace(volts=second.volts + kind.second, amps=0.92 * second.amps)
    both = [np.concatenate((mine, its[stands_in])) for mine, its in zip(first, other, strict=True)]
    return Samples(*(column[np.argsort(both[0], kind="stable")] for column in both))


def bank_of(kind: Kind) -> Bank:
    """The bank as its owner would describe it."""
    s = kind.scenario
    strings = tuple(
        tuple(Block(f"{'ABCD'[row]}{column + 1}", s.block_cells, s.capacity) for column in range(s.blocks))
        for row in range(s.strings)
    )
    meters = [
        Meter("voltage", "voltage", period=kind.sensors.period, resolution=kind.sensors.volts_step),
        Meter("power", "power", period=kind.sensors.period, resolution=1.0)
        if kind.sensors.power
        else Meter("current", "current", period=kind.sensors.period, resolution=kind.sensors.amps_step),
    ]
    if kind.sensors.temperature:
        meters.append(Meter("electrolyte_temperature", "electrolyte_temperature", placed="cell"))
        meters.append(Meter("ambient_temperature", "ambient_temperature"))
    starts = "at-voltage" if s.at_current is None else "at-current"
    return Bank(
        id="bench",
        strings=strings,
        chargers=tuple(ChargerSetting(setting.volts, setting.amps) for setting in s.settings if kind.known),
        equalise=s.equalise,
        hold=HoldRule(s.hold, s.hold, starts, s.at_current),
        compensation=s.compensation,
        meters=tuple(meters),
    )


def wired(kind: Kind, run: Run) -> list[tuple[float, Bank]]:
    """Until when [s since the epoch] which blocks are in the circuit."""
    bank, s = bank_of(kind), kind.scenario
    middle, begin = s.blocks // 2, float(run.at[0]) + s.wait * 3600.0
    halves = (
        arranged(bank, Arrangement(tuple(tuple(block.label for block in string[cut]) for string in bank.strings)))
        for cut in (slice(None, middle), slice(middle, None))
    )
    whole = (math.inf, bank)
    wiring = getattr(run, "wiring", None)
    if wiring is not None:  # the other simulator splits and rejoins at any time
        both = (*halves, bank)
        return [(until, both[2 if part is None else part]) for until, part in wiring]
    if not s.halves:
        return [whole]
    return [*((begin + (k + 1) * s.halves * 3600.0, half) for k, half in enumerate(halves)), whole]


def observations(kind: Kind, run: Run, samples: Samples) -> list[Observation]:
    """One observation per sample, and one a minute while nothing comes; trapezoids with the gap rule."""
    sensors = kind.sensors
    silence = silence_of(sensors)
    stretches = wired(kind, run)
    until, cells = stretches[0][0], stretches[0][1].cells
    resolution = (sensors.volts_step / cells, 0.0 if sensors.power else sensors.amps_step)
    shut = run.at[np.flatnonzero(run.closed < 0.5)]
    opened = shut[np.r_[True, np.diff(shut) > 60.0]] if len(shut) else shut
    closed_again = shut[np.r_[np.diff(shut) > 60.0, True]] if len(shut) else shut
    intervals = list(zip(opened.tolist(), closed_again.tolist(), strict=True))
    charge = charging = 0.0
    last, last_amps, latest = -math.inf, 0.0, -math.inf
    made: list[Observation] = []
    spell = 0
    for at, measured, volts, shown, warm, air in zip(*(column.tolist() for column in samples), strict=True):
        if measured <= latest:
            continue  # late or twice
        if measured >= until:
            stretches = stretches[1:]
            until, cells = stretches[0][0], stretches[0][1].cells
            resolution = (sensors.volts_step / cells, resolution[1])
        amps = shown / volts if sensors.power else shown
        while made and at - made[-1].at > 60.0:
            before = made[-1]
            silent = before.at + 60.0 - last > silence
            made.append(
                before._replace(
                    at=before.at + 60.0,
                    volts_per_cell=None if silent else before.volts_per_cell,
                    current=None if silent else before.current,
                    temperature=None if silent else before.temperature,
                    ambient=None if silent else before.ambient,
                )
            )
        gap = measured - latest
        if gap <= silence:
            charge += 0.5 * (max(amps, 0.0) + max(last_amps, 0.0)) * gap / 3600.0
            if amps > max(0.1, 0.5 * resolution[1]):
                charging += gap
        latest, last, last_amps = measured, at, amps
        while spell < len(intervals) and at > intervals[spell][1]:
            spell += 1
        cut = spell < len(intervals) and at >= intervals[spell][0]
        when = max(at, made[-1].at + 0.5) if made else at
        known = sensors.temperature
        made.append(
            Observation(
                when,
                volts / cells,
                amps,
                warm if known else None,
                air if known else None,
                (),
                charge,
                charging,
                cut,
                None,
                resolution,
            )
        )
    return made


def watch(kind: Kind, run: Run, seen: list[Observation]) -> Said:
    """Let phase machine and estimator follow a round, without the rest of the rules."""
    stretches = wired(kind, run)
    until, bank = stretches[0]
    anew = seen[0].at + kind.restart * 3600.0 if kind.restart else math.inf
    machine, estimator = phase.initial(), remaining.initial()
    rows: list[tuple[float, ...]] = []
    reasons: list[str] = []
    finding = ""
    not_reviving = hopeless = math.nan
    machine = phase.command(bank, machine, "start", seen[0].at)
    began = time.perf_counter()
    for observation in seen:
        if observation.at >= until:
            stretches = stretches[1:]
            until, bank = stretches[0]
        if observation.at >= anew:
            anew += kind.restart * 3600.0
            machine = thaw(phase.PhaseMemory, json.loads(json.dumps(freeze(machine))))
            estimator = thaw(remaining.RemainingMemory, json.loads(json.dumps(freeze(estimator))))
        machine = phase.observe(bank, machine, observation)
        estimator = remaining.observe(bank, machine, estimator, observation)
        said = estimator.estimate
        rows.append(
            row(
                observation.at,
                machine.phase,
                (said.hours, said.low, said.high, said.clock_hours),
                (observation.volts_per_cell, observation.current, observation.charge, machine.hold_seconds / 3600.0),
            )
        )
        reasons.append(said.reason)
        hours = (observation.at - run.at[0]) / 3600.0
        if machine.not_reviving and math.isnan(not_reviving):
            not_reviving = hours
        if machine.hopeless and math.isnan(hopeless):
            hopeless, finding = hours, machine.finding
    spent = time.perf_counter() - began
    return Said._make((*np.array(rows).T, reasons, not_reviving, hopeless, finding, spent))


def row(at: float, name: str, hours: tuple[float | None, ...], seen: tuple[float | None, ...]) -> tuple[float, ...]:
    """One line of numbers; what is not known is nan."""
    number = PHASES.index(name) if name in PHASES else -1
    return (at, float(number), *(math.nan if value is None else float(value) for value in (*hours, *seen)))


def watch_through_the_door(kind: Kind, run: Run, samples: Samples) -> Said:
    """The same round through `rules.step`, reading by reading and second by second."""
    bank = bank_of(kind)
    cells = kind.sensors
    memory = bank_memory.initial()
    rows: list[tuple[float, ...]] = []
    reasons: list[str] = []
    flags: dict[str, float] = {}
    began = time.perf_counter()
    second = math.floor(float(run.at[0]))
    memory, _ = through(bank, memory, Command(bank.id, "start", float(run.at[0])))
    for at, measured, volts, shown, warm, air in zip(*(column.tolist() for column in samples), strict=True):
        while second < at:
            memory, outcomes = through(bank, memory, Tick(float(second)))
            second += 1
            for outcome in outcomes:
                if isinstance(outcome, Derived):
                    for flag in outcome.flags:
                        flags.setdefault(flag.name, (outcome.at - run.at[0]) / 3600.0)
                    hours = (
                        outcome.remaining_hours,
                        outcome.remaining_low,
                        outcome.remaining_high,
                        outcome.remaining_clock_hours,
                    )
                    shows = (outcome.volts_per_cell, outcome.current, outcome.charge_returned, outcome.hold_hours)
                    rows.append(row(outcome.at, outcome.phase, hours, shows))
                    reasons.append(outcome.remaining_reason)
        values = {"voltage": volts, "power" if cells.power else "current": shown}
        if cells.temperature:
            values |= {"electrolyte_temperature": warm, "ambient_temperature": air}
        for name, value in values.items():
            memory, _ = through(bank, memory, Reading(bank.id, name, value, at, measured))
    spent = time.perf_counter() - began
    hopeless = flags.get("hopeless", math.nan)
    return Said._make((*np.array(rows).T, reasons, flags.get("not-reviving", math.nan), hopeless, "", spent))
