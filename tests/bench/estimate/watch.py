"""Drives the rules along a round and notes what they said: straight into phase and estimate, or by the one door."""

from __future__ import annotations

import math
import time
from typing import NamedTuple

import numpy as np

from bridge.demo.sensors import Samples, Sensors
from bridge.demo.simulate import Run
from rules import memory as bank_memory
from rules import phase, remaining
from rules.bank import Bank, Block, ChargerSetting, HoldRule, Meter
from rules.observation import Observation
from rules.reading import Command, Derived, Reading, Tick
from rules.step import step as through

from .kinds import Kind
from .labels import PHASES


class Said(NamedTuple):
    """What was said at each observation: [s since the epoch], phase index, hours, and the flags and cost of it all."""

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
    not_reviving: bool
    hopeless: bool
    seconds: float


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
        chargers=tuple(ChargerSetting(setting.volts, setting.amps) for setting in s.settings),
        equalise=s.equalise,
        hold=HoldRule(s.hold, s.hold, starts, s.at_current),
        compensation=s.compensation,
        meters=tuple(meters),
    )


def observations(bank: Bank, run: Run, samples: Samples, sensors: Sensors) -> list[Observation]:
    """One observation per sample, and one a minute while nothing comes; trapezoids with the gap rule."""
    cells = bank.cells
    silence = min(max(3.0 * sensors.period, 60.0), 900.0)
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
                sensors.power,
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


def watch(kind: Kind, seen: list[Observation]) -> Said:
    """Let phase machine and estimator follow a round, without the rest of the rules."""
    bank = bank_of(kind)
    machine, estimator = phase.initial(), remaining.initial()
    rows: list[tuple[float, ...]] = []
    reasons: list[str] = []
    not_reviving = hopeless = False
    machine = phase.command(bank, machine, "start", seen[0].at)
    began = time.perf_counter()
    for observation in seen:
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
        not_reviving |= machine.not_reviving
        hopeless |= machine.hopeless
    spent = time.perf_counter() - began
    return Said(*np.array(rows).T, reasons, not_reviving, hopeless, spent)


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
    flags: set[str] = set()
    began = time.perf_counter()
    second = math.floor(float(run.at[0]))
    memory, _ = through(bank, memory, Command(bank.id, "start", float(run.at[0])))
    for at, measured, volts, shown, warm, air in zip(*(column.tolist() for column in samples), strict=True):
        while second < at:
            memory, outcomes = through(bank, memory, Tick(float(second)))
            second += 1
            for outcome in outcomes:
                if isinstance(outcome, Derived):
                    flags |= {flag.name for flag in outcome.flags}
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
    return Said(*np.array(rows).T, reasons, "not-reviving" in flags, "hopeless" in flags, spent)
