"""What the outlet must carry, and how much charge, energy and time a round takes."""

from __future__ import annotations

from rules.laws import (
    ac_current_for,
    circuit_continuous_limit,
    current_from_ac,
    finishing_current,
    gravity_from_rest_voltage,
    state_of_charge_from_gravity,
)
from rules.plan.input import COMMON, MAINS, Charger, Figure, Found, PlanInput
from rules.plan.voltages import hold_words, resting_volts

#: Hours for waking both halves alone, one after the other [h]; common practice, no source.
HALVES_HOURS = (2.0, 48.0)
#: A day [h].
DAY_HOURS = 24.0
#: Hours of each stage, least and most [h], and charge factor [1]; common practice, no source.
WAKING_HOURS, APPROACH_HOURS, REST_HOURS, CHARGE_FACTOR = (1.0, 48.0), (4.0, 12.0), (6.0, 24.0), (1.07, 1.20)


def alternating(charger: Charger, volts: float, amps: float, given: PlanInput) -> list[Figure]:
    """Return AC draw at what will be set, against what the outlet may carry for hours.

    Parameters
    ----------
    charger : Charger
        That will be used.
    volts : float
        Highest it will be set to [V].
    amps : float
        Highest it will be set to [A].
    given : PlanInput
        The outlet.

    Returns
    -------
    list of Figure
        In [A].

    Raises
    ------
    ValueError
        An outlet without volts or a power factor that cannot be.
    """
    side = (charger.power_factor, charger.efficiency)
    known = given.outlet_volts is not None
    formula = "V x A / (efficiency x power factor x AC volts), if all amps still flow at the highest volts"
    figures = [
        Figure(
            "AC draw" if known else f"AC draw on {mains:.0f} V mains",
            ac_current_for(volts, amps, mains, *side),
            "A",
            formula,
            _fed(volts, amps, mains, charger),
            "conservation of energy",
        )
        for mains in ((given.outlet_volts,) if given.outlet_volts is not None else MAINS)
    ]
    if given.outlet_amps is not None:
        limit = circuit_continuous_limit(given.outlet_amps)
        code = "National Electrical Code 210.19(A) of the USA: continuous loads count at 125 %; ask your own"
        figures.append(Figure("outlet limit", limit, "A", "breaker / 1.25", {"breaker [A]": given.outlet_amps}, code))
        # where nobody said the mains, the lower carries less, and less is never too much
        mains = given.outlet_volts if given.outlet_volts is not None else min(MAINS)
        figures.append(
            Figure(
                "charging amps the outlet carries" if known else f"charging amps the outlet carries at {mains:.0f} V",
                current_from_ac(mains, limit, volts, *side),
                "A",
                "AC volts x limit x power factor x efficiency / V",
                _fed(volts, amps, mains, charger),
                code,
            )
        )
    return figures


def carried(charger: Charger, volts: float, given: PlanInput) -> float:
    """Return charging amps that the outlet carries for hours, or all the charger has where the outlet is unknown.

    Parameters
    ----------
    charger : Charger
        That will be used.
    volts : float
        Highest it will be set to [V].
    given : PlanInput
        The outlet.

    Returns
    -------
    float
        [A].

    Raises
    ------
    ValueError
        As `alternating`.
    """
    if given.outlet_amps is None:
        return charger.amps
    return alternating(charger, volts, charger.amps, given)[-1].value


def _fed(volts: float, amps: float, mains: float, charger: Charger) -> dict[str, float | str]:
    return {
        "DC [V]": volts,
        "DC [A]": amps,
        "AC [V]": mains,
        "power factor": charger.power_factor,
        "efficiency": charger.efficiency,
    }


def effort(
    found: Found, volts: float, amps: float, charger: Charger, given: PlanInput, *, halved: bool
) -> list[Figure]:
    """Return charge, energy, hours with the charger on, and days: ranges, because nobody knows how long a bank blocks.

    Parameters
    ----------
    found : Found
        The bank as found.
    volts : float
        Equalising volts [V].
    amps : float
        Set for bulk [A].
    charger : Charger
        That will be used.
    given : PlanInput
        Hours of power each day.
    halved : bool
        Each half is woken alone first.

    Returns
    -------
    list of Figure
        In [Ah], [kWh], [h] and [d].

    Raises
    ------
    ValueError
        No hours of power a day.
    """
    if not 0.0 < given.hours_a_day <= DAY_HOURS:
        raise ValueError(f"power for {given.hours_a_day:g} hours a day cannot be; say 1 to 24")
    bank = found.bank
    missing = bank.capacity * (1.0 - _state_of_charge(found))
    charge = [missing * factor for factor in CHARGE_FACTOR]
    bulk = [ampere_hours / amps for ampere_hours in charge]
    hold = (bank.hold.minimum, bank.hold.maximum)
    before = HALVES_HOURS if halved else (0.0, 0.0)
    hours = [s + w + b + a + h for s, w, b, a, h in zip(before, WAKING_HOURS, bulk, APPROACH_HOURS, hold, strict=True)]
    tail = [min(finishing_current(bank.capacity), share * bank.capacity) for share in (0.01, 0.05)]
    held = [t * h for t, h in zip(tail, hold, strict=True)]
    energy = [  # bulk at about 2.2 V per cell
        (c * 2.2 * bank.cells + g * volts) / 1000.0 / charger.efficiency for c, g in zip(charge, held, strict=True)
    ]
    days = [h / given.hours_a_day + rest / 24.0 for h, rest in zip(hours, REST_HOURS, strict=True)]
    return [
        Figure(
            "charge to return",
            charge[0],
            "Ah",
            "C20 x (1 - state of charge) x 1.07 to 1.20",
            {"C20 [Ah]": bank.capacity, "state of charge": round(1.0 - missing / bank.capacity, 3)},
            COMMON,
            charge[1],
        ),
        Figure(
            "hours with the charger on",
            hours[0],
            "h",
            "halves alone first, 2-48 h, if at all + waking 1-48 h + charge / amps + approach 4-12 h + hold",
            {"amps [A]": amps, "halves": "yes" if halved else "no", "hold [h]": hold_words(bank)},
            COMMON,
            hours[1],
        ),
        Figure(
            "energy from the outlet",
            energy[0],
            "kWh",
            "(charge x 2.2 V x cells + 1-5 % of C20 x hold x equalising volts) / efficiency",
            {"equalising [V]": volts, "efficiency": charger.efficiency},
            COMMON,
            energy[1],
        ),
        Figure(
            "days until it can be tested",
            days[0],
            "d",
            "charger hours / hours of power a day + rest of 6-24 h",
            {"hours of power a day [h]": given.hours_a_day},
            COMMON,
            days[1],
        ),
    ]


def _state_of_charge(found: Found) -> float:
    """Return the charge from rested volts where a sound cell could rest there, else empty."""
    resting = resting_volts(found)
    try:
        gravity = found.gravity or gravity_from_rest_voltage((resting or 0.0) / found.bank.cells)
    except ValueError:
        return 0.0
    return state_of_charge_from_gravity(gravity, full=found.bank.full_gravity, empty=found.bank.full_gravity - 0.145)
