"""What the page is sent of a bank."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

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


def test_a_resume_is_offered_only_when_it_would_be_taken_and_else_the_page_says_why_not() -> None:
    fold = ready()

    def shown() -> dict[str, Any]:
        engine = SimpleNamespace(memories={"north": fold.memory}, banks={"north": fold.bank})
        assert fold.derived is not None
        lock = bank_view(cast(Service, SimpleNamespace(engine=engine)), "north", fold.derived, "degC")["lock"]
        return dict(lock)

    assert not shown()["needs_resume"] and shown()["no_resume"] == ""
    fold.note("seen", N01="crack")
    fold.wait(2)
    assert shown()["needs_resume"]
    assert shown()["no_resume"] == (
        "crack at N01 is noted, and nothing charges while it is: replace that block, its case is never mended; once it "
        'is replaced, or found sound, note `revival record seen north "N01 crack gone"`'
    )
    assert fold.act("resume") == shown()["no_resume"], "the page says what the act is refused with"
    fold.note("seen", N01="no crack")
    fold.wait(2)
    assert shown()["needs_resume"] and shown()["no_resume"] == ""
    assert fold.act("arrange", act="split", sure=True) == ""
    assert fold.act("resume") == shown()["no_resume"] != ""
