"""The bank as its fresh, believed meters show it now: one look a second, from which everything else is judged."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from rules.bank import CURRENT_QUANTITIES, ON_ABOVE, Bank, Meter
from rules.hand import HandLog
from rules.meters import HAND_GAP, Counters, Trace, charging_threshold, fresh, silence_limit

#: Nobody has noted anything.
UNWRITTEN = HandLog()


class View(NamedTuple):
    """The bank as it shows itself.

    `None` where nothing fresh and believed is known. What no meter tells, a hand reading tells for a day.

    Attributes
    ----------
    voltage, volts_per_cell : float or None
        [V].
    current : float or None
        Positive = charging [A].
    estimated : bool
        The current came from power or the AC side.
    temperature, temperature_case : float or None
        Hottest probe in a cell, hottest on a case [degC].
    ambient : float or None
        [degC].
    strings : tuple of float
        Every string's current where all are measured [A], else empty.
    relay_closed : bool or None
        As the relay last reported it.
    relay_at : float
        When [s since the epoch]; 0 = never, or of unknown age.
    voltage_by_hand, temperature_by_hand : bool
        Read by a person, perhaps hours ago: true enough for phase and hours, not for what changes in minutes.
    living : dict
        Quantity -> its meters whose believed value is fresh, each with that value in its canonical unit, in the order
        of the cabin file. Who is alive is asked here, once, and not again by every judgement.
    """

    voltage: float | None
    volts_per_cell: float | None
    current: float | None
    estimated: bool
    temperature: float | None
    temperature_case: float | None
    ambient: float | None
    strings: tuple[float, ...]
    relay_closed: bool | None
    relay_at: float
    voltage_by_hand: bool = False
    temperature_by_hand: bool = False
    living: Mapping[str, tuple[tuple[Meter, float], ...]] = {}

    def values(self, quantity: str) -> list[float]:
        """Return what the living meters of a quantity show, in its canonical unit."""
        return [value for _, value in self.living.get(quantity, ())]

    def lives(self, meter: Meter) -> bool:
        """Return whether a meter's believed value is fresh."""
        return any([other is meter for other, _ in self.living.get(meter.quantity, ())])

    @property
    def hottest(self) -> float | None:
        """The hotter of the probes in cells and on cases [degC]."""
        if self.temperature is None:
            return self.temperature_case
        if self.temperature_case is None:
            return self.temperature
        return max(self.temperature, self.temperature_case)


def charges(bank: Bank, view: View) -> bool:
    """Return whether so much current is seen to flow in that it counts as charging."""
    return view.current is not None and view.current >= charging_threshold(bank.capacity)


def draws(bank: Bank, view: View) -> bool:
    """Return whether as much is seen to flow out."""
    return view.current is not None and view.current <= -charging_threshold(bank.capacity)


def look(bank: Bank, traces: dict[str, Trace], counters: Counters, at: float, hand: HandLog = UNWRITTEN) -> View:
    """See the bank at one moment [s since the epoch]."""
    living = _living(bank, traces, at)
    voltages = living.get("voltage", ())
    voltage = voltages[0][1] if voltages else None
    voltage_by_hand = temperature_by_hand = False
    if voltage is None and hand.voltage_at > _heard(bank, traces, "voltage"):
        voltage = hand.voltage_now(at)
        voltage_by_hand = voltage is not None
    current = None
    if counters.current_at and at - counters.current_at <= current_silence(bank, traces, counters):
        current = counters.current
    temperature = temperature_case = None
    for meter, value in living.get("electrolyte_temperature", ()):
        if meter.placed == "case":
            temperature_case = value if temperature_case is None else max(temperature_case, value)
        else:
            temperature = value if temperature is None else max(temperature, value)
    if (
        temperature is None
        and temperature_case is None
        and max(hand.temperature_at, hand.case_at) > _heard(bank, traces, "electrolyte_temperature")
    ):
        temperature, temperature_case = hand.temperature_now(at), hand.case_now(at)
        temperature_by_hand = temperature is not None or temperature_case is not None
    ambients = [value for _, value in living.get("ambient_temperature", ())]
    strings = tuple([value for _, value in living.get("string_current", ())])
    if not len(strings) == len(bank.strings) == len(bank.by_quantity.get("string_current", ())):
        strings = ()
    relay = traces.get("relay_state")
    return View(
        voltage,
        None if voltage is None else voltage / bank.cells,
        current,
        counters.estimated,
        temperature,
        temperature_case,
        min(ambients) if ambients else None,
        strings,
        None if relay is None or relay.at == 0.0 else relay.value > ON_ABOVE,
        0.0 if relay is None or relay.retained else relay.at,
        voltage_by_hand,
        temperature_by_hand,
        living,
    )


def _living(bank: Bank, traces: dict[str, Trace], at: float) -> dict[str, tuple[tuple[Meter, float], ...]]:
    found: dict[str, tuple[tuple[Meter, float], ...]] = {}
    for quantity, meters in bank.by_quantity.items():
        alive = [
            (meter, trace.value)
            for meter in meters
            if (trace := traces.get(meter.name)) is not None and fresh(meter, trace, at)
        ]
        if alive:
            found[quantity] = tuple(alive)
    return found


def _heard(bank: Bank, traces: dict[str, Trace], quantity: str) -> float:
    """Return when any meter of a quantity last spoke [s since the epoch]; 0 = never."""
    meters = bank.by_quantity.get(quantity, ())
    return max([trace.at for meter in meters if (trace := traces.get(meter.name)) is not None], default=0.0)


def current_silence(bank: Bank, traces: dict[str, Trace], counters: Counters) -> float:
    """Return how old the newest current may be [s], by the meter it came from."""
    if counters.by_hand:
        return HAND_GAP
    for quantity in CURRENT_QUANTITIES:
        for meter in bank.by_quantity.get(quantity, ()):
            trace = traces.get(meter.name)
            if trace is not None and trace.at:
                return silence_limit(meter, trace)
    return 0.0
