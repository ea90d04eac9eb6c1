"""Currents that are only a share of a bank's: a string's is never taken for the whole."""

from __future__ import annotations

import random

import pytest

from bridge.listen.evidence import SURE_ENOUGH
from bridge.message import Message
from tests.bridge.listen.test_listen_company import FLOWS, late
from tests.bridge.listen.test_listen_strange import by_place, say

#: A charger that holds its amps, as meters with their own noise see it.
HELD = [19.6 + random.Random(place).uniform(-0.06, 0.06) for place in range(60)]


def held(*, share: float, load: bool = False) -> list[Message]:
    """A bank of two branches with a meter on each and one on the whole, volts nearly still, and watts."""
    rng = random.Random(5)
    first = [share * flow + rng.uniform(-0.05, 0.05) for flow in HELD]
    other = [rng.uniform(2.0, 9.0) if load else flow - one for flow, one in zip(HELD, first, strict=True)]
    volts = [61.4 + rng.uniform(-0.02, 0.02) for _ in HELD]
    return [
        *say("farm/parc/tension", *(f"{volt:.2f}" for volt in volts)),
        *say("farm/parc/branche_a/courant", *(f"{one:.2f}" for one in first)),
        *say("farm/parc/branche_b/courant", *(f"{one:.2f}" for one in other)),
        *say("farm/parc/courant_total", *(f"{flow:.2f}" for flow in HELD)),
        *say("farm/parc/puissance", *(f"{v * i:.0f}" for v, i in zip(volts, HELD, strict=True))),
    ]


def quantities(messages: list[Message]) -> dict[str, tuple[str, bool]]:
    return {
        place.removeprefix("farm/parc/"): (one.quantity, one.sure >= SURE_ENOUGH)
        for place, one in by_place(messages).items()
        if one.quantity.endswith("current")
    }


def test_branches_that_are_the_whole_together_are_strings_though_a_charger_holds_them_still() -> None:
    assert quantities(held(share=0.53)) == {
        "branche_a/courant": ("string_current", True),
        "branche_b/courant": ("string_current", True),
        "courant_total": ("current", True),
    }


def test_branches_that_are_not_the_whole_together_do_not_go_live() -> None:
    found = quantities(held(share=0.53, load=True))
    assert found["courant_total"] == ("current", True)
    assert not found["branche_a/courant"][1]
    assert not found["branche_b/courant"][1]


@pytest.mark.parametrize("strings", [True, False], ids=["two halves", "a load beside the bank"])
def test_two_halves_without_a_meter_on_the_whole_are_asked_about(*, strings: bool) -> None:
    rng = random.Random(7)
    volts = late(FLOWS)
    side = [flow / 2.0 if strings else rng.uniform(0.0, 4.0) for flow in FLOWS]
    messages = [
        *say("hut/battery/volts", *(f"{volt:.2f} V" for volt in volts)),
        *say("hut/battery/port", *(f"{flow / (2.0 if strings else 1.0):.2f} A" for flow in FLOWS)),
        *say("hut/battery/starboard", *(f"{one:.2f} A" for one in side)),
    ]
    found = by_place(messages)
    assert (found["hut/battery/port"].sure >= SURE_ENOUGH) is not strings
    assert found["hut/battery/starboard"].sure < SURE_ENOUGH
