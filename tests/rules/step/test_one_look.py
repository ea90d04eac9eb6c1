"""The bank is looked at once for each judgement: phase, hazards, permits, findings and state share the same view."""

from __future__ import annotations

from collections import Counter

import pytest

import rules.bank_view
from rules.bank.model import Meter
from rules.meters.freshness import fresh
from rules.meters.plausible import Trace
from tests.support.fold import PROBE, make_bank, ready


def test_one_judgement_asks_each_meter_once_whether_it_lives(monkeypatch: pytest.MonkeyPatch) -> None:
    blocks, fan = Meter("block_voltage", "block_voltage", index="N00"), Meter("fan", "fan")
    fold = ready(make_bank(more=(blocks, fan)), fan=1.0)
    asked: Counter[str] = Counter()

    def counted(meter: Meter, trace: Trace | None, at: float) -> bool:
        asked[meter.name] += 1
        return fresh(meter, trace, at)

    monkeypatch.setattr(rules.bank_view, "fresh", counted)
    for meter, value in {"block_voltage": 6.9, "fan": 1.0, PROBE: 25.0, "voltage": 28.0, "current": 20.0}.items():
        fold.read(meter, value)
    asked.clear()
    fold.wait(1)
    assert asked == Counter(dict.fromkeys(fold.memory.meters, 1))
