"""What the page is sent of a bank."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import pytest

from bridge.page.view import bank_view
from bridge.runtime.service import Service
from tests.support.fold import make_bank, ready


def test_the_hold_band_is_that_of_the_rules_where_the_meter_shows_too_little() -> None:
    bank = make_bank()
    fold = ready(bank)
    phase = fold.memory.phase
    memory = fold.memory._replace(phase=phase._replace(track=phase.track._replace(ratio=0.985)))
    engine = SimpleNamespace(memories={"north": memory}, banks={"north": bank})
    assert fold.derived is not None
    shown = bank_view(cast(Service, SimpleNamespace(engine=engine)), "north", fold.derived, "degC")
    low = 0.985 * bank.equalise - 0.03
    assert shown["hold_band"] == pytest.approx((low, low + 0.06))
