"""One round of one family from seed to marks, and many of them on two processes."""

from __future__ import annotations

import hashlib
import inspect
import json
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from . import asked, door, hold_clock, meters, priors, truth, wire, world
from .kinetic import Kinetic
from .marks import Marks, mark
from .overcharge import Overcharge
from .printed_curves import PrintedCurves
from .sealed_surface import SealedSurface
from .two_plates import TwoPlates

FAMILIES: dict[str, Any] = {
    "sealed-surface": SealedSurface,
    "two-plates": TwoPlates,
    "kinetic": Kinetic,
    "printed-curves": PrintedCurves,
    "overcharge": Overcharge,
}


@cache
def made_by(family: str) -> str:
    """What a kept round depends on besides its draw: the text of the modules that made it."""
    texts = [
        inspect.getsource(module)
        for module in (world, hold_clock, priors, wire, sys.modules[FAMILIES[family].__module__])
    ]
    return hashlib.sha256("".join(texts).encode()).hexdigest()


def lived(family: str, seed: int, kept: Path | None, hazard: str = "") -> world.Lived:
    """A round, from the folder of those already simulated where there is one; with a hazard that was asked for."""
    drawn = asked.draw_asked(seed, hazard) if hazard else priors.draw(seed)
    path = None if kept is None else kept / f"{family}-{seed}{hazard and '-'}{hazard.replace(', ', '-')}.npz"
    if path is not None and path.exists():
        with np.load(path, allow_pickle=False) as stored:
            if str(stored["drawn"]) == repr(drawn) + made_by(family):
                events = json.loads(str(stored["events"]))
                columns: dict[str, Any] = {
                    name: stored[name].astype(float)
                    for name in world.Lived._fields
                    if name in stored.files and name != "events"
                }
                columns |= {"hold_end": float(stored["hold_end"])}
                return world.Lived(round=drawn, events=tuple(tuple(each) for each in events), **columns)
    run = world.play(drawn, FAMILIES[family])
    if path is not None:
        path.parent.mkdir(parents=True, exist_ok=True)
        columns = {name: getattr(run, name) for name in run._fields if name not in ("round", "events")}
        small: dict[str, Any] = {
            n: v if n in ("at", "hold_end") else np.asarray(v, dtype=np.float32) for n, v in columns.items()
        }
        np.savez_compressed(path, drawn=repr(drawn) + made_by(family), events=json.dumps(run.events), **small)
    return run


def one(family: str, seed: int, kept: Path | None = None, plots: Path | None = None, hazard: str = "") -> Marks:
    """Simulate, label, look, listen, mark."""
    run = lived(family, seed, kept, hazard)
    run = asked.cut_off(run) if hazard else run
    told = truth.label(run)
    seen = meters.look(run)
    said = door.hear(run, seen, told)
    marks = mark(family, run, seen, told, said) | {"asked": hazard}
    if plots is not None:
        from .draw import draw_round

        draw_round(plots, run, told, said, marks)
    return marks


def many(work: list[tuple[str, int, str]], jobs: int, kept: Path | None, plots: Path | None) -> Iterator[Marks]:
    """Every family, seed and hazard asked for, in the order in which they are done."""
    with ProcessPoolExecutor(jobs, initializer=door.quietly) as pool:
        for future in as_completed([pool.submit(one, family, seed, kept, plots, what) for family, seed, what in work]):
            yield future.result()
