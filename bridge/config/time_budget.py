"""What `check` works out on paper: worked examples of every mapping, the safety time budget, which losses are covered.

Every threshold comes from the rules or the cabin file; here is only the arithmetic.
"""

from __future__ import annotations

from typing import NamedTuple

from bridge.intake import Mapping
from bridge.intake.mapping import CONTACT_WORDS
from bridge.settings import BrokerSettings, RelaySettings
from rules.bank import Bank, Meter
from rules.meters import ASSUMED_PERIOD, CONFIRM_WINDOW, LONGEST_WITH_RECORD, NEVER, RATE_LIMIT, silence_limit
from rules.safety import OwnOff, own_off_words

#: Allowed for broker and network, and for the relay to move [s]: a hundred times what a local network takes.
BROKER_SECONDS, RELAY_SECONDS = 1.0, 1.0
#: An engine that has not turned for so long hangs, and its process is ended [s].
HUNG_AFTER = 30.0

#: What a bank under charge might show, for the worked examples; voltages per cell.
_TYPICAL: dict[str, float] = {
    "voltage": 2.1, "block_voltage": 2.1, "cell_voltage": 2.1, "midpoint_voltage": 2.1, "current": 9.5, "power": 250.0,
    "electrolyte_temperature": 31.0, "ambient_temperature": 12.0, "string_current": 4.5, "ac_voltage": 230.0,
    "ac_current": 3.0, "ac_power": 690.0, "hydrogen": 0.004, "gravity": 1.265, "level": 10.0,
}  # fmt: skip


def spanned_cells(bank: Bank, meter: Meter | None) -> int:
    """Return cells that a voltage reading spans."""
    quantity = "" if meter is None else meter.quantity
    if quantity == "voltage":
        return bank.cells
    if quantity == "midpoint_voltage":
        return bank.cells // 2
    return bank.strings[0][0].cells if quantity == "block_voltage" else 1


def worked_example(mapping: Mapping, bank: Bank) -> str:
    """Return one value through the compiled factor: ``12640 mV → 12.64 V``."""
    if mapping.is_contact:
        words = dict(mapping.words) or {word: value for word, value in CONTACT_WORDS.items() if word in {"on", "off"}}
        return ", ".join(f"{word} → {value:g}" for word, value in words.items())
    unit = mapping.unit
    if unit is None:
        source = "its $description names" if mapping.style == "homie" else "the record names"
        return f"the unit {source} → {mapping.canonical}"
    scale, offset = mapping.factor(unit)
    typical = _TYPICAL[mapping.quantity] * spanned_cells(bank, bank.by_name.get(mapping.meter))
    raw = float(f"{(typical - offset) / scale:.4g}")
    shown = "" if mapping.canonical == "1" else f" {mapping.canonical}"
    written = "" if unit == "1" else f" {unit}"
    direction = " charging" if mapping.quantity.endswith("current") and mapping.sign < 0 else ""
    digits = ".1f" if mapping.canonical == "degC" else ".6g"  # as people read it, and as it is converted for them
    return f"{raw:.10g}{written} → {raw * scale + offset:{digits}}{shown}{direction}"


class Budget(NamedTuple):
    """Seconds from a limit passed to current gone, beside the seconds until harm [s].

    Attributes
    ----------
    period : float
        Of the slowest electrolyte sensor.
    confirm : float
        The window in which a second sample confirms the first.
    silence : float
        A sensor that dies withdraws the permit after this.
    broker, relay : float
        Allowances.
    available : float
        From the limit to the absolute limit at the fastest warming that is tolerated.
    assumed : bool
        The period is not in the cabin file.
    """

    period: float
    confirm: float
    silence: float
    broker: float
    relay: float
    available: float
    assumed: bool

    @property
    def needed(self) -> float:
        """The longer of: a hot bank seen, and a sensor gone silent."""
        return max(self.period + self.confirm, self.silence) + 2 * self.broker + self.relay

    def lines(self) -> list[str]:
        """Return the arithmetic in words."""
        verdict = "enough" if self.needed < self.available else "NOT ENOUGH: a faster sensor, or a lower limit"
        act = f"command {self.broker:g} s + relay {self.relay:g} s"
        hot = self.period + self.confirm + 2 * self.broker + self.relay
        assumed = " (assumed: write every)" if self.assumed else ""
        return [
            f"over the limit: sensor {self.period:g} s{assumed} + confirm {self.confirm:g} s + "
            f"broker {self.broker:g} s + {act} = {hot:g} s",
            f"sensor gone silent: {self.silence:g} s + {act} = {self.silence + self.broker + self.relay:g} s; longer, "
            f"at most {LONGEST_WITH_RECORD / 60.0:g} min, for one that is known to lose samples",
            f"from the limit to harm: {self.available / 60:.0f} min at {RATE_LIMIT:g} K/h: {verdict}",
        ]


def time_budget(bank: Bank) -> Budget | None:
    """Return the budget for over-temperature; None without an electrolyte sensor."""
    sensors = [meter for meter in bank.meters if meter.quantity == "electrolyte_temperature"]
    if not sensors:
        return None
    slowest = max(sensors, key=lambda meter: meter.period or ASSUMED_PERIOD)
    limits = bank.limits
    highest = max(limits.temperature_case if meter.placed == "case" else limits.temperature for meter in sensors)
    return Budget(
        period=slowest.period or ASSUMED_PERIOD,
        confirm=CONFIRM_WINDOW,
        silence=silence_limit(slowest, NEVER),
        broker=BROKER_SECONDS,
        relay=RELAY_SECONDS,
        available=max(0.0, (limits.temperature_absolute - highest) / RATE_LIMIT * 3600.0),
        assumed=slowest.period is None,
    )


#: Where nothing has seen the relay open by itself.
AS_WRITTEN = "as you wrote it, not tested"
#: Stopping the bridge tests nothing: it cuts when it goes, and the broker when it is killed.
TRY_AUTO_OFF = (
    "to try the auto-off: with the charger on and somebody beside the relay stop the broker, or pull its cable, and "
    "look at the clock; if the relay has not opened after {seconds:g} s, switch the charger off at the wall; "
    "`revival prove --auto-off` measures it with everything running"
)


NEVER_TRIED = OwnOff()


class Loss(NamedTuple):
    """What may be lost, what opens the relay then, and after how long at most [s]; None where nothing does."""

    lost: str
    covered_by: str
    after: float | None


def losses(broker: BrokerSettings, relay: RelaySettings, own: OwnOff = NEVER_TRIED) -> tuple[Loss, ...]:
    """Return which losses the relay covers.

    Parameters
    ----------
    broker : BrokerSettings
        Of the bridge.
    relay : RelaySettings
        As the cabin file has it.
    own : OwnOff
        Its own auto-off, as it was last tried.
    """
    off = relay.auto_off
    measured = bool(own.seconds) and own.written == off
    nothing = "NOTHING: as you wrote, the charger goes on until somebody comes"
    if relay.uncovered:
        nothing = 'NOTHING: nothing is permitted; give the relay an auto-off and write auto_off, or "none"'
    power_on = (
        "its power-on state, open as you wrote"
        if relay.opens_on_power
        else ('NOT KNOWN: set the relay to be open when its power comes back, and write power_on = "open"')
    )
    seen = own_off_words(off, own) if measured or own.why else AS_WRITTEN
    auto = nothing if off is None else f"the relay's own auto-off, {seen}"
    if off is not None and own.why:
        off, auto = None, f"NOTHING: {own_off_words(off, own)}"
    elif off is not None and measured:
        off = max(off, own.seconds)
    return (
        Loss(
            "bridge killed",
            "the broker, which sends the cut that was left with it",
            BROKER_SECONDS + RELAY_SECONDS,
        ),
        Loss(
            "bridge's host or its cable lost",
            "the same, once the broker misses the bridge's keep-alive",
            min(1.5 * broker.keepalive, off or float("inf")) + BROKER_SECONDS + RELAY_SECONDS,
        ),
        Loss(
            "bridge's engine hangs while its connections live",
            "its watchdog, which ends the process" if off is None else f"its watchdog, or {auto}",
            min(HUNG_AFTER, off or HUNG_AFTER) + BROKER_SECONDS + RELAY_SECONDS,
        ),
        Loss("broker lost", auto, off),
        Loss("network to the relay lost", auto, off),
        Loss("power of broker or network lost", auto, off),
        Loss("the relay's own power lost and back", power_on, 0.0 if relay.opens_on_power else None),
        Loss(
            "relay welded or overridden by hand", "nothing here: only the hardware thermal cut-out and the fuse", None
        ),
    )
