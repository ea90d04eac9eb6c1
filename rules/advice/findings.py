"""Findings: what the readings show that a person should know. None of them ever opens the relay."""

from __future__ import annotations

from rules.bank import Bank
from rules.bank_view import View
from rules.hand import HandLog
from rules.meters import RATE_WARNING, Thermal, Trace, fresh_values
from rules.phase import PhaseMemory
from rules.safety import Finding

#: Warmth that warns, and the margin below which the warning ends [K].
WARNING_ENDS = 1.0
#: Probes of one bank may differ by so much; what is up ends one kelvin lower [K].
PROBES_APART = 5.0
#: Share of the hydrogen limit from which a person is told, and share of that at which it ends [1]; common practice, no
#: source.
HYDROGEN_NEAR, HYDROGEN_ENDS = 0.7, 0.85
#: Below this a bank at rest, or a charger turned down, is no longer at a gassing voltage [V per cell].
STILL_HIGH = 2.47
#: Shares outside these multiples of the mean are unequal; below this mean nothing can be said [1], [A].
LEAST_SHARE, MOST_SHARE, TELLING_CURRENT = 0.5, 1.5, 2.0
#: Spread of corrected gravity that asks for attention [1]; midpoint off the middle [V].
SPREAD, MIDPOINT = 0.030, 0.3
#: Clamp readings of the strings say how they share for so long [s].
STRINGS_GOOD_FOR = 12 * 3600.0
#: Charging is over: the charger must be seen down.
ENDED = frozenset({"resting", "testing", "finished"})


def findings(
    bank: Bank,
    traces: dict[str, Trace],
    view: View,
    thermal: Thermal,
    phase: PhaseMemory,
    hand: HandLog,
    raised: frozenset[str],
    at: float,
) -> dict[str, Finding]:
    """What the readings show that a person should know.

    Parameters
    ----------
    raised : frozenset of str
        Names of flags that are up already, for those that end later than they begin.
    at : float
        Now [s since the epoch].
    """
    found: dict[str, Finding] = {}
    hottest = view.hottest
    warning = bank.limits.temperature_warning
    if hottest is not None and hottest >= warning - (WARNING_ENDS if "temperature-high" in raised else 0.0):
        found["temperature-high"] = Finding(hottest, warning, "degC", "warm; the work stops at the limit")
    if thermal.rate is not None and thermal.rate > RATE_WARNING:
        found["temperature-rising-fast"] = Finding(thermal.rate, RATE_WARNING, "K/h", "the electrolyte warms")
    probes = fresh_values(bank, traces, "electrolyte_temperature", at)
    if len(probes) > 1 and max(probes) - min(probes) > PROBES_APART - ("sensors-disagree" in raised):
        found["sensors-disagree"] = Finding(
            max(probes) - min(probes), PROBES_APART, "K", "electrolyte probes differ; the hotter one counts"
        )
    hydrogen = max(fresh_values(bank, traces, "hydrogen", at), default=0.0)
    near = HYDROGEN_NEAR * bank.limits.hydrogen
    if hydrogen >= near * (HYDROGEN_ENDS if "hydrogen-high" in raised else 1.0):
        found["hydrogen-high"] = Finding(hydrogen, bank.limits.hydrogen, "1", f"{100.0 * hydrogen:.2f} % hydrogen")
    apart = _imbalance(bank, traces, view, hand, at)
    if apart is not None:
        found["imbalance"] = apart
    if phase.hopeless:
        found["hopeless"] = Finding(reason=phase.finding)
    elif phase.not_reviving:
        found["not-reviving"] = Finding(reason=phase.finding)
    if phase.phase == "absorbing" and not phase.interrupted:
        found["charger-limit-low"] = Finding(
            view.volts_per_cell, bank.equalise, "V", "the charger's ceiling is below the equalising voltage"
        )
    if _still_high(bank, view, phase, "charger-still-high" in raised):
        found["charger-still-high"] = Finding(view.volts_per_cell, STILL_HIGH, "V", "the hold is complete")
    return found


def _still_high(bank: Bank, view: View, phase: PhaseMemory, raised: bool) -> bool:
    """From the end of the hold until the charger is seen down: silence is no sight of it, and a switched-off charger
    is, where no relay hides at what it stands."""
    if phase.phase not in ENDED or not phase.hold_complete:
        return False
    if view.volts_per_cell is None:
        return raised
    off = bank.relay is None and view.current is not None and view.current <= 0.2
    return view.volts_per_cell >= STILL_HIGH and not off and (raised or phase.phase == "resting")


def _imbalance(bank: Bank, traces: dict[str, Trace], view: View, hand: HandLog, at: float) -> Finding | None:
    if hand.spread is not None and hand.spread > SPREAD:
        return Finding(hand.spread, SPREAD, "1", "gravity spread between cells")
    midpoints = fresh_values(bank, traces, "midpoint_voltage", at)
    volts = None if view.voltage_by_hand else view.voltage
    if midpoints and volts is not None and view.current is not None and view.current > TELLING_CURRENT:
        off = abs(midpoints[0] - 0.5 * volts)
        if off > MIDPOINT:
            return Finding(off, MIDPOINT, "V", "midpoint off the middle while charging")
    clamped = hand.string_amps if at - hand.string_amps_at <= STRINGS_GOOD_FOR else ()
    strings = view.strings or clamped
    if 1 < len(strings) == len(bank.strings):
        mean = sum(strings) / len(strings)
        if mean > TELLING_CURRENT:
            for number, amps in enumerate(strings, 1):
                share = amps / mean
                if not LEAST_SHARE <= share <= MOST_SHARE:
                    return Finding(
                        share, MOST_SHARE if share > 1 else LEAST_SHARE, "1", f"string {number} takes {amps:.1f} A"
                    )
    return None
