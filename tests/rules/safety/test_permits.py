"""What withholds the permit for a while: frost, water, time, and meters that stand still."""

from __future__ import annotations

import pytest

from rules.bank_view import look
from rules.hand import reserve
from rules.laws.electrolyte import freezing_point
from rules.meters.counters import Counters
from rules.meters.plausible import Trace
from rules.meters.stuck import stuck
from rules.meters.warming import Step, Thermal
from rules.phase.machine import initial
from rules.safety.frost import Acid, frozen_risk
from rules.safety.permits import charge_limit, obstacles, water_used
from tests.support.fold import PROBE, Fold, make_bank, ready

T = 1_795_590_000.0


def frost(temperature: float, gravity: float | None) -> bool:
    bank = make_bank()
    view = look(bank, {PROBE: Trace(temperature, T)}, Counters(), T)
    return frozen_risk(view, Acid(gravity, "")) is not None


def test_unknown_gravity_counts_as_weak_acid_so_no_start_below_freezing() -> None:
    # Acid of 1.05 freezes near -3.3 degC (published freezing points); with 3 K in hand that is about 0 degC.
    assert freezing_point(1.05) == pytest.approx(-3.3, abs=0.7)
    assert frost(-1.5, None) and not frost(1.0, None)


def test_known_strong_acid_may_be_charged_in_frost() -> None:
    assert not frost(-20.0, 1.265)
    assert frost(-20.0, 1.15)
    assert not frost(-20.0, 1.35), "beyond the published points the strongest counts"


def test_frost_withholds_the_permit_until_the_bank_has_woken_then_only_warns() -> None:
    fold = ready()
    fold.wait(20, every=5, voltage=28.0, current=20.0, **{PROBE: 21.0})
    fold.memory = fold.memory._replace(
        meters={**fold.memory.meters, PROBE: fold.memory.meters[PROBE]._replace(value=-4.0)},
        phase=fold.memory.phase._replace(woken=True),
    )
    fold.wait(10, every=5, voltage=28.0, current=20.0, **{PROBE: -4.0})
    assert "frozen-risk" in fold.flags and fold.lock.allowed
    fold.memory = fold.memory._replace(phase=fold.memory.phase._replace(woken=False))
    fold.wait(10, every=5, voltage=28.0, current=0.0, **{PROBE: -4.0})
    assert not fold.lock.allowed and fold.orders[-1].reason == "frozen-risk"


def test_water_above_the_plates_may_be_used_to_four_fifths() -> None:
    bank = make_bank()
    assert reserve(bank) == pytest.approx(120.0)
    # Faraday: one ampere-hour splits 0.336 g of water in a cell.
    assert water_used(Counters(gassing=100.0)) == pytest.approx(33.6, rel=0.01)
    assert water_used(Counters(gassing=100.0), 40.0) == pytest.approx(20.2, rel=0.01)
    fold = ready()
    fold.memory = fold.memory._replace(counters=fold.memory.counters._replace(gassing=290.0))
    fold.wait(10, every=5, voltage=28.0, current=20.0, **{PROBE: 25.0})
    assert fold.orders[-1].reason == "water-reserve"


@pytest.mark.parametrize(
    ("hold", "days", "charge", "unmoved", "reason"),
    [
        (24.1, 1.0, 100.0, 0.0, "longest hold"),
        (23.9, 10.1, 100.0, 0.0, "longest round"),
        (23.9, 9.9, 601.0, 24.1, "most charge returned, and for 24 charging hours nothing has moved"),
        (23.9, 9.9, 601.0, 23.9, ""),
        (23.9, 9.9, 599.0, 96.0, ""),
    ],
)
def test_a_round_has_its_limits(hold: float, days: float, charge: float, unmoved: float, reason: str) -> None:
    phase = initial()._replace(hold_seconds=hold * 3600.0, started_at=T - days * 86400.0)
    phase = phase._replace(track=phase.track._replace(still_seconds=unmoved * 3600.0))
    found = charge_limit(make_bank(), Counters(charge=charge), phase, T)
    assert (found.reason if found else "") == reason
    extended = charge_limit(make_bank(), Counters(charge=charge), phase, T, T + 1.0)
    assert (extended.reason if extended else "") == (reason if reason == "longest hold" else "")
    assert charge_limit(make_bank(), Counters(charge=charge), phase, T, T) == found


def test_f07_a_voltage_that_stands_still_after_charging_stopped_is_stuck() -> None:
    steps = tuple(Step(T - 1500.0 + 300.0 * n, 0.0, 20.0, 2.4) for n in range(4))
    still = Trace(28.8, T - 5.0, changed_at=T - 1500.0)
    bank = make_bank()
    voltage = bank.by_name["voltage"]
    resting = Counters(current=0.0, current_at=T)
    assert stuck(bank, voltage, still, Thermal(steps=steps), resting, T)
    assert not stuck(bank, voltage, still._replace(changed_at=T - 500.0), Thermal(steps=steps), resting, T)
    assert not stuck(bank, voltage, still, Thermal(steps=steps), Counters(current=20.0, current_at=T), T)
    assert not stuck(bank, voltage, Trace(), Thermal(steps=steps), resting, T)


def test_f07_a_temperature_that_stands_still_while_the_current_doubles_is_stuck() -> None:
    bank = make_bank()
    probe = bank.by_name[PROBE]
    steps = tuple(Step(T - 7200.0 + 300.0 * n, 0.0, 5.0 if n < 12 else 20.0, 2.4) for n in range(24))
    still = Trace(25.0, T - 5.0, changed_at=T - 7300.0, step=0.1)
    assert stuck(bank, probe, still, Thermal(steps=steps), Counters(), T)
    assert not stuck(bank, probe, still._replace(step=1.0), Thermal(steps=steps), Counters(), T)
    even = tuple(step._replace(current=5.0) for step in steps)
    assert not stuck(bank, probe, still, Thermal(steps=even), Counters(), T)


def test_f07_a_stuck_probe_counts_as_silent_for_the_permit() -> None:
    fold = ready()
    long_ago = fold.at - 8000.0
    steps = tuple(Step(long_ago + 300.0 * n, 0.0, 5.0 if n < 12 else 20.0, 2.4) for n in range(26))
    trace = fold.memory.meters[PROBE]._replace(changed_at=long_ago, step=0.1)
    fold.memory = fold.memory._replace(
        meters={**fold.memory.meters, PROBE: trace}, thermal=fold.memory.thermal._replace(steps=steps)
    )
    fold.wait(10, every=5, voltage=28.0, current=20.0, **{PROBE: 25.0})
    assert not fold.lock.allowed
    assert fold.memory.flags["meter-suspect"].reason.endswith("stuck")


def test_what_stands_against_the_permit_is_listed() -> None:
    found = obstacles(make_bank(), False, initial(), {"voltage": False}, {}, None, None, {}, T)
    assert list(found) == ["not-started", "meter-silent"]
    assert "voltage" in found["meter-silent"].reason
    bypassed = obstacles(make_bank(), True, initial(), {"voltage": False}, {"voltage": T + 1.0}, None, None, {}, T)
    assert bypassed == {}
    over = obstacles(make_bank(), True, initial(), {"voltage": False}, {"voltage": T}, None, None, {}, T)
    assert list(over) == ["meter-silent"]


def test_the_permit_of_a_bank_never_seen_is_withheld_for_every_needed_quantity() -> None:
    fold = Fold()
    fold.wait(1)
    assert fold.derived is not None and not fold.derived.charge_allowed


@pytest.mark.parametrize(
    ("volts", "amps", "lies"), [(5.9, 17.0, True), (2.7, 9.0, True), (13.2, 17.0, False), (5.9, 1.5, False)]
)
def test_a_file_that_cannot_be_believed_says_which_two_mappings_to_look_at(
    volts: float, amps: float, lies: bool
) -> None:
    """17 A at 0.49 V per cell is no battery (common practice, no source); little current may be a dead one."""
    fold = ready()
    fold.wait(120, every=5, voltage=volts, current=amps, **{PROBE: 21.0})
    assert "mapping-suspect" not in fold.flags, "a minute or two of it may be a bank that has only begun"
    fold.wait(70, every=5, voltage=volts, current=amps, **{PROBE: 21.0})
    assert ("mapping-suspect" in fold.flags) == lies
    if lies:
        flag = fold.memory.flags["mapping-suspect"]
        assert "voltage (cabin/shunt)" in flag.reason and "current (cabin/shunt)" in flag.reason
        assert not fold.lock.allowed and not fold.lock.latched and fold.orders[-1].reason == "mapping-suspect"
        fold.wait(30, every=5, voltage=24.5, current=0.0, **{PROBE: 21.0})
        assert "mapping-suspect" not in fold.flags


def test_a_contradiction_is_seen_without_a_relay_too() -> None:
    fold = Fold(make_bank(relay=None))
    fold.wait(400, every=5, voltage=5.88, current=17.0, **{PROBE: 21.0})
    assert "mapping-suspect" in fold.flags
    assert fold.derived is not None and "Correct the cabin file" in " ".join(fold.derived.then)
