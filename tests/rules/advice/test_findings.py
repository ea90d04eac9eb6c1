"""Each finding at its limit and just beside it, and what it says. Limits: common practice, no source."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rules.advice.findings import findings, strings_known
from rules.bank.model import Bank, Block, Limits, Meter, Relay
from rules.bank_view import View
from rules.hand.log import HandLog
from rules.meters.plausible import Trace
from rules.meters.warming import Step, Thermal
from rules.phase.memory import PhaseMemory
from rules.safety.state import Finding

T = 1_795_590_000.0
HOUR, DAY = 3600.0, 86400.0
SINGLE = Bank("north", (tuple(Block(f"N{n}", 3, 200.0) for n in range(1, 5)),))
TWIN = Bank("south", tuple(tuple(Block(f"{s}{n}", 3, 200.0) for n in range(1, 5)) for s in "AB"))
THREE = Bank("south", tuple(tuple(Block(f"{s}{n}", 3, 200.0) for n in range(1, 5)) for s in "ABC"))


def shown(
    cell_volts: float | None = 2.2,
    amps: float | None = 10.0,
    *,
    bank: Bank = SINGLE,
    warmth: float | None = 20.0,
    case: float | None = None,
    strings: tuple[float, ...] = (),
    by_hand: bool = False,
    closed: bool | None = None,
    estimated: bool = False,
    **living: tuple[float, ...],
) -> View:
    alive = {
        quantity: tuple((Meter(f"{quantity}{n}", quantity), value) for n, value in enumerate(values))
        for quantity, values in living.items()
    }
    volts = None if cell_volts is None else cell_volts * bank.cells
    return View(
        volts, cell_volts, amps, estimated, warmth, case, None, strings, closed, 0.0, by_hand, living=alive
    )  # fmt: skip


def found(
    view: View,
    *up: str,
    bank: Bank = SINGLE,
    thermal: Thermal | None = None,
    phase: PhaseMemory | None = None,
    hand: HandLog | None = None,
    traces: dict[str, Trace] | None = None,
) -> dict[str, Finding]:
    machine = phase or PhaseMemory("bulk", T, started_at=T)
    told = (traces or {}, view, thermal or Thermal(), machine, hand or HandLog(), frozenset(up), T)
    return findings(bank, *told)


def steps(*amps: float, volts: float = 2.1) -> Thermal:
    """Five-minute means, newest last."""
    return Thermal(tuple(Step(T - 300.0 * n, 20.0, current, volts) for n, current in enumerate(amps)))


# --------------------------------------------------------------------------------- warmth and gas


@pytest.mark.parametrize(
    ("warmth", "up", "tells"),
    [(38.0, False, True), (37.9, False, False), (37.0, True, True), (36.9, True, False), (None, True, False)],
)
def test_warm_begins_at_the_warning_and_ends_a_kelvin_below(warmth: float | None, up: bool, tells: bool) -> None:
    named = ("temperature-high",) if up else ("water-due",)
    said = found(shown(warmth=warmth), *named)
    assert ("temperature-high" in said) is tells
    if tells:
        assert said["temperature-high"][:3] == (warmth, SINGLE.limits.temperature, "degC"), "where the work stops"
    cooler = replace(SINGLE, limits=Limits(temperature_warning=30.0))
    assert "temperature-high" in found(shown(warmth=30.0), bank=cooler)
    assert found(shown(warmth=20.0, case=39.0))["temperature-high"].limit == SINGLE.limits.temperature_case


@pytest.mark.parametrize(("rate", "tells"), [(None, False), (-9.0, False), (5.0, False), (5.1, True), (9.0, True)])
def test_more_than_five_kelvin_an_hour_is_fast(rate: float | None, tells: bool) -> None:
    said = found(shown(), thermal=Thermal(rate=rate))
    assert said.get("temperature-rising-fast") == (
        Finding(rate, 5.0, "K/h", "the electrolyte warms") if tells else None
    )


@pytest.mark.parametrize(
    ("probes", "up", "tells"),
    [
        ((20.0, 25.0), False, False),
        ((20.0, 25.1), False, True),
        ((25.1, 22.0, 20.0), False, True),
        ((20.0, 24.1), True, True),
        ((20.0, 24.0), True, False),
        ((50.0,), False, False),
        ((), False, False),
    ],
)
def test_probes_more_than_five_kelvin_apart_disagree_until_they_are_within_four(
    probes: tuple[float, ...], up: bool, tells: bool
) -> None:
    said = found(shown(electrolyte_temperature=probes), *(("sensors-disagree",) if up else ()))
    assert ("sensors-disagree" in said) is tells
    if tells:
        assert said["sensors-disagree"][:3] == (max(probes) - min(probes), 5.0, "K")


@pytest.mark.parametrize(
    ("hydrogen", "up", "tells"),
    [
        ((0.0070,), False, True),
        ((0.0069,), False, False),
        ((0.001, 0.008), False, True),
        ((0.0060,), True, True),
        ((0.0059,), True, False),
        ((), True, False),
    ],
)
def test_seven_tenths_of_the_hydrogen_limit_warn_until_a_sixth_of_that_is_gone(
    hydrogen: tuple[float, ...], up: bool, tells: bool
) -> None:
    said = found(shown(hydrogen=hydrogen), *(("hydrogen-high",) if up else ()))
    assert ("hydrogen-high" in said) is tells
    if tells:
        most = max(hydrogen)
        assert said["hydrogen-high"] == Finding(most, 0.01, "1", f"{most * 100:.2f} % hydrogen")
    strict = replace(SINGLE, limits=Limits(hydrogen=0.005))
    assert "hydrogen-high" in found(shown(hydrogen=(0.0036,)), bank=strict)
    lenient = replace(SINGLE, limits=Limits(hydrogen=0.02))
    assert "hydrogen-high" in found(shown(hydrogen=(0.7 * 0.02,)), bank=lenient)


# ---------------------------------------------------------------------------------- meters


@pytest.mark.parametrize(
    ("amps", "volts", "tells"),
    [
        ((0.5,) * 12, 2.1, True),
        ((-0.5,) * 12, 2.1, True),
        ((0.21,) * 12, 2.1, True),
        ((0.19,) * 12, 2.1, False),
        ((4.0,) * 12, 2.1, True),
        ((4.1,) * 12, 2.1, False),
        ((0.5,) * 11, 2.1, False),
        ((0.5,) * 12 + (9.0,), 2.1, False),
        ((9.0,) + (0.5,) * 12, 2.1, True),
        ((0.5,) * 12, 2.19, True),
        ((0.5,) * 12, 2.2, False),
        ((0.5,) * 12, 0.0, False),
        ((0.5,) * 12, 0.9, True),
        ((0.45, 0.55) * 6, 2.1, True),
        ((0.4375, 0.5625) * 6, 2.1, True),
        ((0.43, 0.57) * 6, 2.1, False),
        ((-0.45, -0.55) * 6, 2.1, True),
        ((-0.1, 0.9) * 6, 2.1, False),
    ],
)
def test_an_hour_of_the_same_little_current_at_rest_is_the_meters_zero(
    amps: tuple[float, ...], volts: float, tells: bool
) -> None:
    thermal = steps(*amps, volts=volts)
    said = found(shown(amps=amps[-1]), thermal=thermal)
    assert ("zero-due" in said) is tells
    if tells:
        mean = sum(amps[-12:]) / 12
        value, limit, unit, why = said["zero-due"]
        assert value == pytest.approx(mean) and (limit, unit) == (0.2, "A")
        assert why == f"the current meter shows {mean:.1f} A while nothing charges"


def test_nothing_is_called_an_offset_while_a_charger_may_feed_it_or_nobody_meters_it() -> None:
    quiet = steps(*(0.5,) * 12)
    assert "zero-due" in found(shown(amps=0.5, closed=False), thermal=quiet)
    assert "zero-due" not in found(shown(amps=0.5, closed=True), thermal=quiet)
    assert "zero-due" not in found(shown(amps=0.5, estimated=True), thermal=quiet)
    assert "zero-due" not in found(shown(amps=None), thermal=quiet)
    small = Bank("north", ((Block("N1", 3, 20.0),),))
    assert "zero-due" in found(shown(amps=0.4), thermal=steps(*(0.4,) * 12), bank=small)
    assert "zero-due" not in found(shown(amps=0.5), thermal=quiet, bank=small)


@pytest.mark.parametrize(
    ("off", "words"),
    [
        (7200.0, "2.0 h fast"),
        (-5400.0, "1.5 h slow"),
        (40.06 * HOUR, "40.1 h fast"),
        (47.9 * HOUR, "47.9 h fast"),
        (48 * HOUR, "2 days fast"),
        (-3 * DAY, "3 days slow"),
        (-1824 * DAY, "1824 days slow"),
        (-1825 * DAY, "1825 days slow"),
        (-1825 * DAY - 60.0, "1825 days slow, for it was never set or its message tells no time that can be read"),
        (-1826.51 * DAY, "1827 days slow, for it was never set or its message tells no time that can be read"),
    ],
)
def test_the_meter_whose_clock_is_farthest_off_is_named_with_how_much(off: float, words: str) -> None:
    shunt, probe, silent = (Meter(name, "voltage", source=source) for name, source in (
        ("shunt", "yard/shunt"), ("probe", ""), ("silent", ""),
    ))  # fmt: skip
    bank = replace(SINGLE, meters=(probe, shunt, silent))
    said = found(shown(), bank=bank, traces={"shunt": Trace(clock_off=off), "probe": Trace(clock_off=600.0)})
    assert said["meter-clock-wrong"] == Finding(off, 300.0, "s", f"the clock of yard/shunt is {words}; arrival counts")
    other = found(shown(), bank=bank, traces={"shunt": Trace(clock_off=off), "probe": Trace(clock_off=9000 * DAY)})
    assert "the clock of voltage is 9000 days fast" in other["meter-clock-wrong"].reason
    assert "meter-clock-wrong" not in found(shown(), bank=bank, traces={"shunt": Trace(), "probe": Trace()})


# --------------------------------------------------------------------------------- strings


@pytest.mark.parametrize(
    ("strings", "why"),
    [
        ((10.0, 40.0), ""),
        ((10.0, 40.1), "string 2 takes 40.1 A"),
        ((55.0, 10.0), "string 1 takes 55.0 A"),
        ((55.0, -0.8), "string 1 takes 55.0 A"),
        ((55.0, -0.9), "string 1 takes 55.0 A, and others feed it: a shorted cell in it is likely"),
        ((55.0,), ""),
        ((), ""),
    ],
)
def test_a_string_that_takes_more_than_its_limit_is_named(strings: tuple[float, ...], why: str) -> None:
    bank = replace(TWIN, limits=Limits(string_current=40.0))
    said = found(shown(bank=bank, strings=strings), bank=bank)
    assert said.get("string-over-limit") == (Finding(max(strings), 40.0, "A", why) if why else None)
    unequal = len(strings) == 2 and not why
    assert ("imbalance" in said) is unequal, "a string is named once"


def test_a_clamp_says_how_the_strings_share_for_twelve_hours_and_meters_come_first() -> None:
    clamped = HandLog(string_amps=(4.0, 14.0), string_amps_at=T - 12 * HOUR)
    assert strings_known(shown(), clamped, T) == (4.0, 14.0)
    assert strings_known(shown(), clamped, T + 1.0) == ()
    assert strings_known(shown(strings=(9.0, 9.0)), clamped, T) == (9.0, 9.0)
    assert "imbalance" in found(shown(bank=TWIN), hand=clamped, bank=TWIN)


@pytest.mark.parametrize(
    ("strings", "share", "limit", "which"),
    [
        ((10.0, 10.0), None, None, ""),
        ((5.0, 15.0), None, None, ""),
        ((4.9, 15.0), 4.9 / 9.95, 0.5, "string 1 takes 4.9 A"),
        ((15.1, 4.9), 1.51, 1.5, "string 1 takes 15.1 A"),
        ((9.0, 10.0, 3.0), 3.0 / (22.0 / 3.0), 0.5, "string 3 takes 3.0 A"),
        ((0.1, 3.9), None, None, ""),
        ((0.1, 4.0), 0.1 / 2.05, 0.5, "string 1 takes 0.1 A"),
        ((1.0, 2.5), None, None, ""),
    ],
)
def test_a_string_outside_half_and_one_and_a_half_of_its_share_is_unequal(
    strings: tuple[float, ...], share: float | None, limit: float | None, which: str
) -> None:
    bank = THREE if len(strings) == 3 else TWIN
    said = found(shown(bank=bank, strings=strings), bank=bank).get("imbalance")
    if share is None:
        assert said is None
    else:
        assert said == Finding(pytest.approx(share), limit, "1", which)  # type: ignore[arg-type]


def test_strings_are_compared_only_where_each_is_known_and_there_are_two() -> None:
    assert "imbalance" not in found(shown(strings=(10.0,)))
    assert "imbalance" not in found(shown(bank=THREE, strings=(4.0, 14.0)), bank=THREE)


@pytest.mark.parametrize(
    ("midpoint", "amps", "tells"),
    [
        (13.2, 10.0, False),
        (13.45, 10.0, False),
        (13.55, 10.0, True),
        (12.85, 10.0, True),
        (12.0, 2.0, False),
        (12.0, 2.1, True),
        (12.0, None, False),
    ],
)
def test_a_midpoint_three_tenths_of_a_volt_off_the_middle_while_charging(
    midpoint: float, amps: float | None, tells: bool
) -> None:
    said = found(shown(2.2, amps, midpoint_voltage=(midpoint,))).get("imbalance")
    assert (said is not None) is tells
    if said is not None:
        assert said == Finding(pytest.approx(abs(midpoint - 13.2)), 0.3, "V", "midpoint off the middle while charging")  # type: ignore[arg-type]
    assert "imbalance" not in found(shown(None, amps, midpoint_voltage=(midpoint,)))
    assert "imbalance" not in found(shown(2.2, amps, by_hand=True, midpoint_voltage=(midpoint,)))
    assert "imbalance" not in found(shown(2.2, amps))


@pytest.mark.parametrize("midpoints", [(13.2, 12.4), (12.4, 13.2), (13.4, 12.4)])
def test_the_midpoint_that_is_farthest_off_is_told_whichever_string_it_is_in(midpoints: tuple[float, ...]) -> None:
    told = found(shown(2.2, bank=TWIN, midpoint_voltage=midpoints), bank=TWIN)["imbalance"]
    assert told.value == pytest.approx(0.8)


def test_gravities_apart_come_before_volts_and_amps() -> None:
    apart = HandLog(spread=0.041)
    assert found(shown(midpoint_voltage=(9.0,)), hand=apart)["imbalance"] == (
        0.041, 0.030, "1", "gravity spread between cells",
    )  # fmt: skip
    assert "imbalance" not in found(shown(), hand=HandLog(spread=0.030))
    assert "midpoint" in found(shown(midpoint_voltage=(9.0,)), hand=HandLog(spread=0.010))["imbalance"].reason


# ------------------------------------------------------------------------------- a current that jumps

CALM = (10.0,) * 6


def jumped(*amps: float, phase: str = "absorbing", interrupted: bool = False, volts: tuple[float, ...] = ()) -> str:
    standing = volts or (2.6,) * len(amps)
    thermal = Thermal(
        tuple(Step(T + 300.0 * n, 20.0, each, cell) for n, (each, cell) in enumerate(zip(amps, standing, strict=True)))
    )
    machine = PhaseMemory(phase, T, interrupted, started_at=T)
    said = found(shown(2.6), thermal=thermal, phase=machine).get("current-step")
    return "" if said is None else said.reason


@pytest.mark.parametrize(
    ("amps", "why"),
    [
        ((*CALM, 12.0, 13.0, 13.0, 13.0), "from 10.0 to 13.0 A"),
        ((*CALM, 12.0, 12.9, 13.0, 13.0), ""),
        ((*CALM, 12.0, 20.0, 14.0, 20.0), "from 10.0 to 14.0 A"),
        ((*CALM, 99.0, 20.0, 20.0), ""),
        ((*CALM[1:], 99.0, 20.0, 20.0, 20.0), ""),
        ((*CALM, 20.0, 20.0, 20.0, 10.0), ""),
        ((3.0, *CALM, 12.0, 14.0, 14.0, 14.0), "from 10.0 to 14.0 A"),
        ((*CALM, 12.0, 14.0, 14.0, 14.0, 14.0, 15.0), "from 10.0 to 14.0 A"),
        ((10.0, 11.0, 10.0, 10.0, 10.0, 10.0, 12.0, 14.0, 14.0, 14.0), "from 10.2 to 14.0 A"),
        ((10.0, 11.1, 10.0, 10.0, 10.0, 10.0, 12.0, 14.0, 14.0, 14.0), ""),
        ((*(3.0,) * 6, 4.0, 4.0, 4.0, 4.0), "from 3.0 to 4.0 A"),
        ((*(2.0,) * 6, 2.9, 2.9, 2.9, 2.9), ""),
        ((*(0.0,) * 6, 4.0, 4.0, 4.0, 4.0), ""),
        ((*(0.5,) * 6, 4.0, 4.0, 4.0, 4.0), "from 0.5 to 4.0 A"),
    ],
)
def test_a_jump_by_a_third_and_an_ampere_after_half_an_even_hour_that_stays_is_told(
    amps: tuple[float, ...], why: str
) -> None:
    said = jumped(*amps)
    assert (why in said) if why else said == ""


def test_a_jump_says_little_where_the_volts_moved_the_phase_is_another_or_blocks_are_measured() -> None:
    leap = (*CALM, 12.0, 14.0, 14.0, 14.0)
    before, after = (2.60,) * 6, (2.0, 2.615, 2.615, 2.615)
    assert jumped(*leap, volts=(*before, *after)), "the minutes of the jump itself are left out"
    assert not jumped(*leap, volts=(*before, 2.6, 2.625, 2.625, 2.625))
    assert not jumped(*leap, volts=(*before, 2.6, 2.575, 2.60, 2.60))
    assert not jumped(*leap, volts=(2.575, *before[1:], *after[:1], 2.6, 2.6, 2.6))
    for phase, tells in (("finishing", True), ("holding", True), ("bulk", False), ("reviving", False)):
        assert bool(jumped(*leap, phase=phase)) is tells
    assert not jumped(*leap, interrupted=True)
    measured = replace(SINGLE, meters=(Meter("b", "block_voltage", "N1"),))
    thermal = Thermal(tuple(Step(T, 20.0, each, 2.6) for each in leap))
    machine = PhaseMemory("holding", T, started_at=T)
    assert found(shown(2.6), thermal=thermal, phase=machine)["current-step"] == Finding(
        14.0, 13.0, "A", "the current jumped from 10.0 to 14.0 A at a standing voltage"
    )
    assert "current-step" not in found(shown(2.6), thermal=thermal, phase=machine, bank=measured)


# ------------------------------------------------------------------------------------- the phase


def test_a_bank_that_does_not_come_back_is_told_once_and_the_worse_of_the_two() -> None:
    slow = PhaseMemory("waking", T, started_at=T, not_reviving=True, finding="a day at the ceiling")
    assert found(shown(), phase=slow)["not-reviving"].reason == "a day at the ceiling"
    lost = found(shown(), phase=slow._replace(hopeless=True))
    assert lost["hopeless"].reason == "a day at the ceiling" and "not-reviving" not in lost
    assert not {"hopeless", "not-reviving"} & set(found(shown()))


def test_a_ceiling_below_the_equalising_voltage_is_told_while_it_absorbs() -> None:
    low = PhaseMemory("absorbing", T, started_at=T)
    assert found(shown(2.45), phase=low)["charger-limit-low"] == Finding(
        2.45, 2.67, "V", "the charger's ceiling is below the equalising voltage"
    )
    assert "charger-limit-low" not in found(shown(2.45), phase=low._replace(interrupted=True))
    assert "charger-limit-low" not in found(shown(2.45), phase=low._replace(phase="finishing"))


@pytest.mark.parametrize(
    ("phase", "volts", "amps", "relay", "up", "tells"),
    [
        ("resting", 2.47, 5.0, False, False, True),
        ("resting", 2.46, 5.0, False, True, False),
        ("resting", 2.6, 0.2, False, True, False),
        ("resting", 2.6, 0.3, False, False, True),
        ("resting", 2.6, 0.0, True, False, True),
        ("testing", 2.6, 5.0, False, False, False),
        ("testing", 2.6, 5.0, False, True, True),
        ("finished", 2.6, 5.0, False, True, True),
        ("finished", None, None, False, True, True),
        ("resting", None, None, False, False, False),
        ("holding", 2.6, 5.0, False, True, False),
        ("holding", None, None, False, True, False),
    ],
)
def test_after_the_hold_the_charger_is_high_until_it_is_seen_down_or_off(
    phase: str, volts: float | None, amps: float | None, relay: bool, up: bool, tells: bool
) -> None:
    bank = replace(SINGLE, relay=Relay()) if relay else SINGLE
    named = ("charger-still-high",) if up else ()
    said = found(shown(volts, amps), *named, bank=bank, phase=PhaseMemory(phase, T, started_at=T))
    assert said.get("charger-still-high") == (
        Finding(volts, 2.47, "V", "the work at high volts is over") if tells else None
    )
