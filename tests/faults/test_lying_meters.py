"""Meters that lie while a bank is charged: F73 a reversed shunt, F75 air that comes and goes, F77 a standing probe."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from bridge.runtime.control_socket import ask
from rules.events import Command
from rules.safety import proof
from tests.support.brokers import wait_until
from tests.support.fault_rig import Rig
from tests.support.fold import PROBE, Fold
from tests.support.moments import Moment, bank_of

MakeRig = Callable[..., Rig]
CHARGER = 'chargers = [ { volts = "32 V", amps = "25 A" } ]'


def charged(*, step: float = 0.1) -> Moment:
    """A bank whose round was started, on a charger of 32 V; its probe goes to and fro by so much [K]."""
    moment = Moment(bank_of(keys=CHARGER))
    moment.flicker = {PROBE: step}
    moment.begin(voltage=24.5, current=0.0, **{PROBE: 25.0})
    return moment


def held(moment: Moment, amps: float, *, seldom: bool = False) -> None:
    """Through bulk and taper into the hold; the probe's last digit flickers, or turns once in 100 minutes."""
    turns = 0
    for hours, volts, current in ((4.0, 28.0, 24.0), (3.0, 32.0, 9.0), (4.0, 32.0, amps)):
        for _ in range(round(hours * 3.0)):
            turns += 1
            shown = {PROBE: 25.0 + 0.1 * (turns // 5 % 2)} if seldom else {}
            moment.pass_time(1200.0, every=60.0, voltage=volts, current=current, **shown)
    assert moment.memory.phase.phase == "holding" and "meter-suspect" not in moment.flags


def bulk(moment: Moment, hours: float, amps: float, *, begin: float = 24.6, end: float = 28.2) -> float:
    """Volts rise as charge goes in, whatever the shunt says; how long the charger was on of it [h]."""
    on = 0.0
    for minute in range(round(60 * hours)):
        closed = moment.lock.allowed
        volts = begin + (end - begin) * minute / (60 * hours) if closed else 25.2
        moment.pass_time(60.0, every=30.0, voltage=volts, current=amps if closed else 0.0, **{PROBE: 25.0})
        on += closed / 60.0
    return on


# ----------------------------------------------------------------------------------------------- F73, reversed shunt


def test_f73_a_reversed_shunt_fails_the_proof_by_name_and_nothing_starts(
    make_rig: MakeRig, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(proof, "CURRENT_WAIT", 1.0)
    rig = make_rig()
    rig.meters.amps = -20.0
    with rig.bridge():
        wait_until(lambda: rig.bank().get("temperature") is not None, 20)
        rig.act("checklist", name="the keeper")
        assert rig.act("prove") == []
        wait_until(lambda: not ask(rig.journal, {"ask": "proof", "bank": "north"})["proving"], 60)
        told = ask(rig.journal, {"ask": "proof", "bank": "north"})["proof"]
        assert not told["passed"] and "current: sign" in told["note"]
        assert "sign" in rig.act("start")[0]
        assert "meter-suspect" in rig.flags() and rig.relay.wait_for(False)
    rig.edit('quantity = "current"\n', 'quantity = "current"\nsign = "discharging"\n')  # what the note says
    with rig.bridge():
        rig.charge()
        assert "meter-suspect" not in rig.flags()


@pytest.mark.parametrize(("drawn", "passes"), [((-20.0, -20.0), True), ((-5.0, -25.0), True), ((-20.0, 0.0), False)])
def test_f73_a_load_that_draws_through_the_proof_is_told_from_a_reversed_shunt(
    drawn: tuple[float, float], passes: bool
) -> None:
    fold = Fold()
    fold.fold(Command("north", "boot", fold.at))
    fold.wait(5, every=1, voltage=24.5, current=drawn[0], **{PROBE: 25.0})
    fold.read("relay_state", 0.0)
    assert fold.act("checklist", name="the keeper") == "" and fold.act("prove") == ""
    for _ in range(60):
        closed = fold.lock.proving == "closing"
        fold.read("relay_state", float(closed))
        fold.wait(1, every=1, voltage=24.5, current=drawn[0] if closed else drawn[1], **{PROBE: 25.0})
    assert not fold.lock.proving and fold.lock.proof.passed is passes
    assert bool(fold.lock.sign_doubted) is not passes
    assert ("current: sign" in fold.lock.proof.note) is not passes


def test_f73_in_bulk_the_charger_comes_off_within_the_hour_and_stays_off() -> None:
    moment = charged()
    # A blocked bank at the proof showed nothing: 0.4 A the wrong way. Then it wakes, below any charger's ceiling.
    on = bulk(moment, 12.0, -20.0)
    assert on <= 1.5
    assert not moment.lock.allowed and "meter-suspect" in moment.flags
    assert moment.memory.flags["meter-suspect"].reason.startswith("current: sign")
    assert moment.act("resume") == ""
    moment.pass_time(60.0, every=10.0, voltage=26.0, current=18.0)
    assert moment.lock.allowed and "meter-suspect" not in moment.flags, "its wires were changed over meanwhile"


def test_f73_at_the_chargers_ceiling_a_quarter_of_an_hour_is_enough_and_no_hold_runs() -> None:
    moment = charged()
    on = 0.0
    for _ in range(40 * 60):
        closed = moment.lock.allowed
        on += closed / 60.0
        moment.pass_time(60.0, every=30.0, voltage=32.0 if closed else 26.4, current=-4.0 if closed else 0.0)
    assert on <= 0.4 and moment.memory.phase.hold_seconds < 1800.0
    assert not moment.lock.allowed
    assert moment.memory.flags["meter-suspect"].reason.startswith("current: sign")


@pytest.mark.parametrize("amps", [-5.0, -40.0])
def test_f73_a_bank_that_really_gives_is_not_doubted(amps: float) -> None:
    moment = charged()
    # The charger is on and gives less than the loads take: the bank sinks.
    moment.pass_time(20 * 3600.0 * 5.0 / -amps, every=60.0, voltage=25.2, current=amps)
    for step in range(120):
        moment.pass_time(300.0, every=60.0, voltage=25.2 - 0.005 * step, current=amps)
    # A load taken off lets it recover, which is no charge.
    for step in range(24):
        moment.pass_time(300.0, every=60.0, voltage=24.6 + 0.02 * step, current=max(amps, amps / 2.0))
    assert "meter-suspect" not in moment.flags and not moment.lock.sign_doubted


def test_f73_once_the_meter_shows_current_flowing_in_it_is_believed_again() -> None:
    moment = charged()
    moment.pass_time(1800.0, every=30.0, voltage=32.0, current=-4.0)
    assert moment.lock.sign_doubted and "meter-suspect" in moment.flags
    moment.wait(30, every=5, voltage=32.0, current=4.0, **{PROBE: 25.0})  # closed by hand, to look at the meter
    assert not moment.lock.sign_doubted and "meter-suspect" not in moment.flags


# ------------------------------------------------------------------------------------- F75, air that comes and goes


def runaway_seen_after(air: str) -> float:
    """Hours until current and heat that feed each other trip, with an ambient meter as it is, flapping, or without."""
    more = () if air == "none" else (("ambient_temperature", 'unit = "degC"'),)
    moment = Moment(bank_of(*more, keys=CHARGER))
    moment.begin(voltage=24.5, current=0.0, **{PROBE: 25.0}, **({} if air == "none" else {"ambient_temperature": 15.0}))
    moment.pass_time(4 * 3600.0, every=60.0, voltage=28.0, current=24.0)
    moment.pass_time(3 * 3600.0, every=60.0, voltage=32.0, current=9.0)
    moment.pass_time(4 * 3600.0, every=60.0, voltage=32.0, current=5.0)
    for minute in range(8 * 60):
        if air == "flaps":
            if minute % 30 < 6:
                moment.feed.pop("ambient_temperature", None)
            else:
                moment.feed["ambient_temperature"] = 15.0 + minute % 7
        warmer = 1.8 * minute / 60.0
        moment.pass_time(60.0, every=30.0, current=5.0 * 1.1**warmer, **{PROBE: 25.0 + warmer})
        if moment.lock.latched:
            assert set(moment.lock.latched) == {"thermal-runaway"}
            return minute / 60.0
    return 99.0


def test_f75_a_runaway_is_seen_as_soon_while_the_air_flaps_as_with_air_or_without() -> None:
    times = {air: runaway_seen_after(air) for air in ("none", "stands", "flaps")}
    assert times["none"] == times["stands"] == times["flaps"] < 3.5


# ------------------------------------------------------------------------------------------- F77, a probe that stands


@pytest.mark.parametrize("hours", [3.0, 6.0, 12.0])
@pytest.mark.parametrize("seldom", [False, True], ids=["its last digit flickered", "its last digit turned seldom"])
def test_f77_a_probe_that_stands_in_a_hold_is_suspect_before_the_current_has_grown_by_a_third(
    hours: float, seldom: bool
) -> None:
    moment = charged(step=0.0 if seldom else 0.1)
    held(moment, 5.0, seldom=seldom)
    moment.flicker = {}
    moment.pass_time(1800.0, every=60.0)
    amps = 0.0
    for minute in range(round(60 * hours)):
        amps = 5.0 * (1.0 + 0.9 * minute / (60 * hours))
        moment.pass_time(60.0, every=30.0, current=amps)
        if "meter-suspect" in moment.flags:
            break
    assert "stuck" in moment.memory.flags["meter-suspect"].reason and not moment.lock.allowed
    assert amps < 1.3 * 5.0


@pytest.mark.parametrize("what", ["a coarse probe", "the charger was turned up", "a coarse shunt", "it warms"])
def test_f77_growth_that_has_another_reason_is_no_stuck_probe(what: str) -> None:
    moment = charged(step=2.0 if what == "a coarse probe" else 0.1)
    if what == "a coarse shunt":
        moment.flicker["current"] = 1.0
    held(moment, 3.0)
    moment.flicker = {}
    for minute in range(100):
        volts = 32.0 + 0.2 * minute / 100.0 if what == "the charger was turned up" else 32.0
        amps = 3.0 + float(minute > 30) if what == "a coarse shunt" else 3.0 + 1.6 * minute / 100.0
        warmer = {PROBE: 25.0 + minute // 20} if what == "it warms" else {}
        moment.pass_time(60.0, every=30.0, voltage=volts, current=amps, **warmer)
        if moment.lock.latched:
            break  # a probe that moves sees what this is
    assert set(moment.lock.latched) == ({"thermal-runaway"} if what == "it warms" else set())
    assert "meter-suspect" not in {event.detail.get("flag") for event in moment.events}
