"""What stands against the permit, situation by situation: on which side of each limit it is, and what is said of it.

0.336 g of water is what one ampere-hour splits in a cell (Faraday's law). The limits are common practice, no source.
"""

from __future__ import annotations

import pytest

from rules.advice import due
from rules.bank.model import Bank, Meter
from rules.bank_view import View, look
from rules.events import moment
from rules.hand import HandLog, reserve
from rules.meters import Counters, Thermal, Trace
from rules.meters.warming import Step
from rules.phase import PhaseMemory
from rules.safety import Finding
from rules.safety.permits import charge_limit, impossible, meter_findings, noted, obstacles, water_used
from tests.support.fold import PROBE, make_bank, ready

AT = 1_795_590_000.0
SECOND = "electrolyte_temperature#2"
ONE = make_bank()
PROBES = make_bank(more=(Meter(SECOND, PROBE, source="cabin/probe2", period=10.0, placed="cell"),))
COLD = Thermal()
MORE = make_bank(more=(Meter("fan", "fan", source="cabin/fan", period=10.0), Meter("air", "ambient_temperature")))


def traces(**changes: Trace | None) -> dict[str, Trace]:
    """Every meter of the bank was heard a second ago, but for what is changed."""
    told: dict[str, Trace | None] = {"voltage": heard(28.0), "current": heard(20.0), PROBE: heard(25.0), **changes}
    return {name: trace for name, trace in told.items() if trace is not None}


def heard(value: float, ago: float = 1.0, **more: float | str) -> Trace:
    return Trace(value, AT - ago, changed_at=AT - ago, period=10.0)._replace(**more)  # type: ignore[arg-type]


def findings(
    meters: dict[str, Trace], bank: Bank = ONE, began: float = 1000.0, thermal: Thermal = COLD, phase: str = "holding"
) -> tuple[Finding | None, Finding | None, dict[str, bool]]:
    counters = Counters(current=20.0, current_at=AT)
    view = look(bank, meters, counters, AT)
    return meter_findings(bank, meters, view, thermal, counters, PhaseMemory(phase=phase), AT - began, AT)


# --------------------------------------------------------------------------- silent and suspect meters


def test_where_everything_speaks_nothing_is_missing() -> None:
    assert findings(traces()) == (None, None, {})


@pytest.mark.parametrize(("ago", "silent"), [(60.0, False), (61.0, True)])
def test_a_meter_is_silent_after_its_limit_and_named_with_its_topic(ago: float, silent: bool) -> None:
    told, _, missing = findings(traces(current=heard(20.0, ago)))
    assert (told is not None, missing) == (silent, {"current": False} if silent else {})
    if told is not None:
        assert (told.value, told.limit, told.unit) == (ago, 60.0, "s")
        assert told.reason == f"current (cabin/shunt) not heard since {moment(AT - ago)}"


@pytest.mark.parametrize(("began", "told"), [(120.0, False), (121.0, True)])
def test_a_meter_never_seen_is_missing_at_once_and_told_after_the_grace(began: float, told: bool) -> None:
    silent, suspect, missing = findings(traces(voltage=None), began=began)
    assert missing == {"voltage": False} and suspect is None
    assert (silent is not None) is told
    if silent is not None:
        assert silent.reason == "voltage: never seen (cabin/shunt)" and silent.value == began


def test_what_the_file_does_not_map_is_missed_only_where_it_is_always_needed() -> None:
    blind = Bank("bare", ONE.strings, relay=ONE.relay)
    assert findings({}, blind, began=0.0)[2] == {"voltage": False, PROBE: False}
    assert findings(traces(), MORE)[2] == {"fan": False}, "air warms nothing, a fan that is mapped is needed"


def test_a_meter_that_cannot_be_believed_is_suspect_and_not_silent() -> None:
    doubted = heard(20.0, 400.0, suspect_since=AT - 390.0, reason="unit", doubtful=20000.0)
    silent, suspect, missing = findings(traces(current=doubted))
    assert silent is None and missing == {"current": True}
    assert suspect is not None and suspect.value == 20000.0
    assert suspect.reason == "current: unit: cabin/shunt says 20000, check unit of its [[bank.meter]]"
    _, suspect, missing = findings(traces(current=doubted._replace(reason="out of range", at=AT - 5.0)))
    assert suspect is not None and suspect.reason == "current: out of range"
    assert missing == {}, "what was believed a moment ago is still fresh"
    never = Trace(suspect_since=AT - 300.0, reason="power-on value", doubtful=85.0)
    assert findings(traces(**{PROBE: never}))[0] is None


@pytest.mark.parametrize(("gone", "there", "missing"), [(38.0, 30.0, True), (27.1, 30.0, True), (27.0, 30.0, False)])
def test_the_hotter_of_two_probes_goes_on_counting_when_it_falls_silent(
    gone: float, there: float, missing: bool
) -> None:
    told = findings(traces(**{PROBE: heard(gone, 200.0), SECOND: heard(there)}), PROBES)
    assert told[2] == ({PROBE: False} if missing else {}) and told[0] is not None
    assert findings(traces(**{PROBE: heard(gone), SECOND: heard(there)}), PROBES)[2] == {}


def test_a_probe_that_stood_still_through_the_heat_of_a_hold_is_stuck_and_counts_for_nothing() -> None:
    # A current that grows by a fifth at no more volts: 3 K, which a probe that shows every tenth has not seen.
    steps = tuple(Step(AT - 300.0 * (13 - n), 25.0, 5.0 if n < 8 else 6.0, 2.67) for n in range(14))
    grown = Thermal(steps=steps, lowest=5.0)
    still = heard(25.0, changed_at=AT - 5400.0, step=0.1)
    _, suspect, missing = findings(traces(**{PROBE: still}), thermal=grown)
    assert suspect is not None and suspect.reason == "electrolyte temperature: stuck" and missing == {PROBE: True}
    told = findings(traces(**{PROBE: still}), thermal=grown, phase="absorbing")
    assert told == (None, None, {}), "another string may have woken"
    moved = heard(25.0, changed_at=AT - 60.0, step=0.1)
    assert findings(traces(**{PROBE: moved, "voltage": still, "current": still}), thermal=grown) == (None, None, {})


# ---------------------------------------------------------------------------------- what is impossible


def view(amps: float | None, cell: float | None, *, by_hand: bool = False, estimated: bool = False) -> View:
    volts = None if cell is None else 12 * cell
    return View(volts, cell, amps, estimated, 25.0, None, None, (), None, 0.0, by_hand)


@pytest.mark.parametrize(
    ("seen", "lies"),
    [
        (view(4.0, 0.99), True),
        (view(3.9, 0.99), False),  # little may flow into a dead bank
        (view(4.0, 1.0), False),
        (view(None, 0.5), False),
        (view(20.0, None), False),
        (view(20.0, 0.5, by_hand=True), False),
        (view(20.0, 0.5, estimated=True), False),
    ],
)
def test_amps_into_cells_that_stand_too_low_are_a_mapping_that_lies(seen: View, lies: bool) -> None:
    found = impossible(ONE, seen)
    assert (found is not None) is lies
    if found is not None:
        assert (found.value, found.limit, found.unit) == (0.99, 1.0, "V")
        assert "voltage (cabin/shunt) and of current (cabin/shunt)" in found.reason


def test_of_two_shunts_the_first_is_the_one_to_look_at() -> None:
    two = make_bank(more=(Meter("current#2", "current", source="cabin/other"),))
    found = impossible(two, view(4.0, 0.99))
    assert found is not None and "cabin/other" not in found.reason


def test_three_minutes_of_it_withhold_the_permit() -> None:
    fold = ready()
    lying = {"voltage": 2.7, "current": 9.0, PROBE: 25.0}
    fold.wait(180, every=1, **lying)
    assert "mapping-suspect" not in fold.flags and fold.lock.allowed
    fold.wait(1, every=1, **lying)
    assert "mapping-suspect" in fold.flags and fold.orders[-1].reason == "mapping-suspect"


# ------------------------------------------------------------------------ what people noted, or levels


def seen(**living: list[tuple[str, float]]) -> View:
    told = {
        quantity: tuple((Meter(f"{quantity}:{place}", quantity, index=place), value) for place, value in shown)
        for quantity, shown in living.items()
    }
    return view(0.0, 2.1)._replace(living=told)


@pytest.mark.parametrize(
    ("hand", "shown", "flags"),
    [
        (HandLog(), seen(), {}),
        (HandLog(), seen(level=[("N00", -1.0)]), {"plates-bare": "N00 (-1 mm)"}),
        (HandLog(), seen(level=[("N00", 0.0)]), {"plates-bare": "N00 (0 mm)"}),
        (HandLog(), seen(level=[("N00", 2.0)]), {}),
        (HandLog(), seen(level=[("", -3.0)]), {"plates-bare": "the bank (-3 mm)"}),
        (HandLog(plates_bare="N00.2, N01"), seen(), {"plates-bare": "N00.2, N01"}),
        (HandLog(plates_bare="the bank"), seen(), {"plates-bare": "the bank"}),
        (HandLog(plates_bare="gone.1"), seen(), {}),  # taken out of the circuit
        (HandLog(reversed_block="N02"), seen(), {"polarity-reversed": "N02"}),
        (HandLog(reversed_block="gone"), seen(), {}),
        (HandLog(), seen(block_voltage=[("N02", -6.1)]), {"polarity-reversed": "N02 (-6.1 V"}),
        (HandLog(), seen(cell_voltage=[("N02.1", -2.0)]), {"polarity-reversed": "N02.1 (-2.0 V"}),
        (HandLog(), seen(block_voltage=[("N02", 6.1)]), {}),
        (HandLog(), seen(block_voltage=[("N02", -0.5)]), {}),  # flat, and the meter strays
        (HandLog(), seen(block_voltage=[("gone", -6.1)]), {}),
        (HandLog(damaged={"N03": "crack"}), seen(), {"case-damaged": "crack at N03"}),
        (HandLog(damaged={"": "ice"}), seen(), {"case-damaged": "ice at the bank"}),
        (HandLog(damaged={"gone": "crack"}), seen(), {}),
    ],
)
def test_what_is_wrong_in_the_circuit_forbids_charging_and_nothing_else_does(
    hand: HandLog, shown: View, flags: dict[str, str]
) -> None:
    found = noted(ONE, hand, shown)
    assert set(found) == set(flags)
    for name, words in flags.items():
        assert words in found[name].reason


@pytest.mark.parametrize(
    ("quantity", "place", "volts", "found"),
    [
        ("block_voltage", "N02", -6.2, True),  # joined backward
        ("block_voltage", "N02", -7.9, True),  # and charged
        ("block_voltage", "N02", 6.2, False),
        ("cell_voltage", "N02.1", -2.1, True),
        ("cell_voltage", "N02.1", 2.1, False),
    ],
)
def test_a_block_or_cell_whose_meter_shows_it_backward_stops_the_charger(
    quantity: str, place: str, volts: float, found: bool
) -> None:
    fold = ready(make_bank(more=(Meter("own", quantity, index=place, period=10.0),)))
    fold.wait(20, every=5, voltage=28.0, current=20.0, **{PROBE: 25.0, "own": volts})
    assert ("polarity-reversed" in fold.flags) is found and fold.lock.allowed is not found


# ------------------------------------------------------------------------ the limits of a round, water


@pytest.mark.parametrize(
    ("held", "days", "charge", "still", "said"),
    [
        (24 * 3600.0 + 60.0, 1.0, 0.0, 0.0, ""),
        (24 * 3600.0 + 61.0, 1.0, 0.0, 0.0, "longest hold"),
        (0.0, 10.0, 0.0, 0.0, ""),
        (0.0, 10.01, 0.0, 0.0, "longest round"),
        (0.0, 1.0, 600.0, 86400.0, ""),
        (0.0, 1.0, 600.1, 86400.0, "most charge"),
        (0.0, 1.0, 600.1, 86399.0, ""),
    ],
)
def test_a_round_ends_at_its_hold_its_days_or_its_charge(
    held: float, days: float, charge: float, still: float, said: str
) -> None:
    machine = PhaseMemory()._replace(hold_seconds=held, started_at=AT - 86400.0 * days)
    machine = machine._replace(track=machine.track._replace(still_seconds=still))
    found = charge_limit(ONE, Counters(charge=charge), machine, AT)
    assert (found.reason if found else "").startswith(said) and (found is None) is (said == "")
    expected = {"longest hold": ((held / 3600.0), 24.0), "longest round": (days, 10.0), "most charge": (charge, 600.0)}
    if found is not None:
        value, limit = expected[said]
        assert found.value == pytest.approx(value) and found.limit == pytest.approx(limit)
    assert charge_limit(ONE, Counters(), PhaseMemory(), AT) is None, "no round was started"


def test_how_long_nothing_has_moved_is_told_in_the_nearest_hour() -> None:
    machine = PhaseMemory()._replace(started_at=AT - 86400.0)
    for still, told in ((24.4, "for 24 charging"), (24.501, "for 25 charging"), (61.499, "for 61 charging")):
        machine = machine._replace(track=machine.track._replace(still_seconds=still * 3600.0))
        found = charge_limit(ONE, Counters(charge=601.0), machine, AT)
        assert found is not None and told in found.reason


def test_a_person_who_resumes_lets_a_long_round_go_on_for_a_day_and_no_longer() -> None:
    fold = ready()
    fold.memory = fold.memory._replace(phase=fold.memory.phase._replace(started_at=fold.at - 10.1 * 86400.0))
    warm = {"voltage": 28.0, "current": 20.0, PROBE: 25.0}
    fold.wait(10, every=5, **warm)
    assert "charge-limit" in fold.flags and not fold.lock.allowed
    assert fold.act("resume") == ""
    assert fold.lock.extended_until == fold.at + 86400.0
    fold.wait(1, every=1, **warm)
    assert "charge-limit" not in fold.flags and fold.lock.allowed


def test_a_top_up_is_due_when_half_of_the_water_above_the_plates_is_gone() -> None:
    # 0.6 g a rated Ah are 120 g, half of it 60 g, which 178.5 Ah of gas split (0.33609 g/Ah).
    for gassing, is_due in ((178.0, False), (179.0, True)):
        asked = due(ONE, Counters(gassing=gassing), PhaseMemory("bulk", AT, started_at=AT), HandLog(), AT)
        assert ("water-due" in asked) is is_due


def test_water_is_what_faraday_says_since_the_last_top_up_and_never_less_than_none() -> None:
    assert water_used(Counters(gassing=100.0), 40.0) == pytest.approx(60.0 * 0.336, rel=0.01)
    assert water_used(Counters(gassing=40.0), 100.0) == 0.0
    assert water_used(Counters(gassing=100.0)) == water_used(Counters(gassing=100.0), 0.0)
    assert reserve(make_bank(strings=2)) == pytest.approx(0.6 * 200.0)
    assert reserve(Bank("own", ONE.strings, water_reserve=77.0)) == 77.0


# ----------------------------------------------------------------------------- all of it, in its order


def against(started: bool = True, phase: str = "bulk", complete: bool = False, **more: object) -> dict[str, Finding]:
    machine = PhaseMemory()._replace(phase=phase, hold_complete=complete)
    asked: dict[str, object] = {"missing": {}, "bypasses": {}, "silent": None, "suspect": None, "limits": {}, **more}
    return obstacles(ONE, started, machine, at=AT, **asked)  # type: ignore[arg-type]


def test_a_round_that_is_not_under_way_is_told_by_what_ended_it() -> None:
    assert against() == {}
    assert against(started=False)["not-started"].reason == "no round was started"
    assert list(against(complete=True, phase="resting")) == ["hold-complete"]
    for phase in ("resting", "testing", "finished"):
        assert "finished before" in against(phase=phase)["not-started"].reason


def test_silence_can_be_bypassed_until_its_time_and_disbelief_never() -> None:
    silent, suspect = Finding(reason="current (cabin/shunt)"), Finding(reason="current: stuck")
    until = {"current": AT + 1.0}
    assert against(missing={"current": False}, bypasses=until, silent=silent) == {}
    assert against(missing={"current": False}, bypasses={"current": AT}, silent=silent) == {"meter-silent": silent}
    assert against(missing={"current": True}, bypasses=until, suspect=suspect) == {"meter-suspect": suspect}
    both = against(missing={"current": True, "voltage": False}, silent=silent, suspect=suspect)
    assert both == {"meter-silent": silent}
    assert against(missing={"voltage": False, "current": False})["meter-silent"].reason == (
        "no fresh reading of current, voltage"
    )


def test_what_else_limits_comes_last() -> None:
    frost = Finding(reason="too cold")
    assert list(against(started=False, limits={"frozen-risk": frost})) == ["not-started", "frozen-risk"]
