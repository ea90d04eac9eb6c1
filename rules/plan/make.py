"""What to do before the charger is switched on: which bank first, whole or in halves, what to set, what it takes."""

from __future__ import annotations

from math import floor

from rules.bank import Bank
from rules.plan.effort import alternating, carried, effort
from rules.plan.input import WARM_ROOM, BankPlan, Charger, Found, Plan, PlanInput
from rules.plan.room import frost, gas, openings, too_warm, warming, water
from rules.plan.steps import Choice, afterwards, before_steps, frost_step, room_steps, settings_steps, wiring_steps
from rules.plan.strings import half_amps, joining, string_limits
from rules.plan.voltages import WAKING_VOLTS, rejoining, resting_volts, voltages
from rules.plan.words import COLD, COMMON_STEPS, LAY_OUT, NO_CHARGER, cautions, checklist

#: A charger below this cannot do anything for the bank, and one above the other harms it [V per cell]; common practice,
#: no source.
LEAST_CEILING, MOST_CEILING = 2.40, 2.75
#: Below this a bank takes nothing for hours and proves nothing by it [degC]; common practice, no source.
COLD_BELOW = 10.0


def plan(given: PlanInput) -> Plan:
    """Work out the plan for every bank, the one with most life left first.

    Parameters
    ----------
    given : PlanInput
        Banks as found, chargers, outlet, room.

    Returns
    -------
    Plan
        Order, figures with their reasons, steps, checklist, cautions.

    Raises
    ------
    ValueError
        A value outside the range of the formula that needs it, in words.

    Notes
    -----
    Most life left is the highest resting voltage per cell; a bank with a reversed block or none measured comes last.

    Examples
    --------
    >>> from rules.bank.model import Bank, Block
    >>> from rules.plan.input import Charger
    >>> bank = Bank("north", (tuple(Block(f"N{n}", 3, 225.0) for n in range(1, 5)),))
    >>> made = plan(PlanInput((Found(bank, (Charger("charger", 32.0, 45.0, 20.0),), volts=23.0),)))
    >>> round(made.banks[0].figure("volts to set today").value, 2)
    29.4
    """
    ordered = sorted(given.found, key=_life, reverse=True)
    plans = tuple(_bank_plan(found, given) for found in ordered)
    return Plan(
        tuple(found.bank.id for found in ordered),
        _queue(ordered, plans, given.hours_a_day),
        plans,
        COMMON_STEPS,
        LAY_OUT,
        checklist([found.bank for found in ordered]),
        # A trip is read before everything else.
        (
            *[f"{found.bank.id}: {found.tripped}" for found in ordered if found.tripped],
            *cautions([found.bank for found in ordered]),
        ),
    )


def _life(found: Found) -> tuple[bool, float, float]:
    resting = resting_volts(found)
    sound = not found.sealed and all(volts >= 0.0 for volts in found.blocks.values())
    return sound, -1.0 if resting is None else resting / found.bank.cells, found.bank.capacity


def _queue(ordered: list[Found], plans: tuple[BankPlan, ...], hours_a_day: float) -> tuple[str, ...]:
    """Say in which order one charger serves all: the next bank begins when the one before needs it no longer."""
    lines = []
    least = most = 0.0
    for number, (found, made) in enumerate(zip(ordered, plans, strict=True), start=1):
        resting = resting_volts(found)
        state = "not measured yet" if resting is None else f"{resting / found.bank.cells:.2f} V per cell at rest"
        why = ", most life left" if number == 1 and len(plans) > 1 and resting is not None else ""
        by_name = {figure.name: figure for figure in made.figures}
        when = ""
        if made.stop:
            when = ": not as it is"
        elif "days until it can be tested" in by_name:
            begin = "day 1" if not most else f"day {1 + least:.0f} to {1 + most:.0f}"
            days, on = by_name["days until it can be tested"], by_name["hours with the charger on"]
            ready = f"{least + days.value:.0f} to {most + (days.high or days.value):.0f}"
            when = f": begins {begin}, ready to test after {ready} days"
            least, most = least + on.value / hours_a_day, most + (on.high or on.value) / hours_a_day
        lines.append(f"{number}. {made.bank} ({state}{why}){when}")
    return tuple(lines)


def _choose(found: Found) -> Choice:
    cells, resting = found.bank.cells, resting_volts(found)
    able = [
        charger
        for charger in found.chargers
        if charger.volts >= LEAST_CEILING * cells and not _unfit(found.bank, charger)
    ]
    if resting is None:
        return Choice(max(able, key=lambda charger: charger.amps, default=None), True, None)
    starting = [charger for charger in able if charger.starts_on(resting)]
    if starting or not able:
        return Choice(max(starting, key=lambda charger: charger.amps, default=None), bool(starting), None)
    half = [
        charger
        for charger in found.chargers
        if LEAST_CEILING * cells / 2 <= charger.volts <= MOST_CEILING * cells / 2 and charger.starts_on(resting / 2)
    ]
    return Choice(
        max(able, key=lambda charger: charger.amps), False, max(half, key=lambda charger: charger.amps, default=None)
    )


def _bank_plan(found: Found, given: PlanInput) -> BankPlan:
    bank = found.bank
    if found.tripped:
        return BankPlan(bank.id, (found.tripped,), (), (), ())
    if given.outlet_volts is None:
        given = given._replace(outlet_volts=bank.ac_voltage)
    stop, missing = _stops(found, given), _missing(found, given)
    choice = _choose(found)
    figures = [*voltages(bank, found, given.ambient), *joining(found), frost(found), *water(found)]
    if choice.whole is None:
        if found.chargers:
            least = LEAST_CEILING * bank.cells
            refused = any(charger.volts >= least for charger in found.chargers)
            need = f"no charger reaches {least:.1f} V, the least for {bank.cells} cells"
            need = f"no other charger here reaches {least:.1f} V" if refused else need
            stop = (*stop, f"{need}: find one, or charge a part with as many cells as it is made for")
            return BankPlan(bank.id, stop, missing, tuple(figures), before_steps(found))
        by_name = {figure.name: figure for figure in figures}
        known = (NO_CHARGER, *before_steps(found), frost_step(found, by_name), afterwards(bank, by_name))
        return BankPlan(bank.id, stop, missing, tuple(figures), known)
    charger = choice.whole
    by_name = {figure.name: figure for figure in figures}
    highest = min(charger.volts, by_name["equalising volts"].value)
    outlet = alternating(charger, highest, charger.amps, given)
    owner = bank.chargers[0].amps if bank.chargers else charger.amps
    amps = min(charger.amps, owner, carried(charger, highest, given), bank.string_current_limit * len(bank.strings))
    carry = openings(bank, charger.amps if charger.fixed else amps, charger, given)
    # Whole amps, as they are told: half an ampere more than the openings carry is too much.
    amps = min([amps, *(max(1.0, floor(figure.value)) for figure in carry if not charger.fixed)])
    figures += string_limits(bank, charger, amps)
    figures += outlet
    figures += gas(bank, charger.amps if charger.fixed else amps, charger, given)
    figures += carry
    room = given._replace(ambient=WARM_ROOM) if given.unheard and given.ambient is None else given
    figures += warming(found, min(amps, by_name["amps enough for equalising"].value), room)
    figures += effort(found, highest, amps, charger, given, halved=not choice.starts)
    resting = resting_volts(found)
    if not choice.starts and resting is not None:
        figures += rejoining(bank, charger, resting)
        if choice.half is not None:
            figures.append(half_amps(bank, choice.half, carried(choice.half, WAKING_VOLTS * bank.cells / 2, given)))
    by_name = {figure.name: figure for figure in figures}
    stop = (*stop, *too_warm(found, by_name, given.ambient))
    steps = [
        *before_steps(found),
        *wiring_steps(found, choice, by_name),
        *settings_steps(found, charger, by_name),
        *room_steps(found, by_name),
        *([COLD] if given.ambient is not None and given.ambient < COLD_BELOW else []),
        frost_step(found, by_name),
        afterwards(bank, by_name),
    ]
    return BankPlan(bank.id, stop, missing, tuple(figures), tuple(steps))


def _stops(found: Found, given: PlanInput) -> tuple[str, ...]:
    reasons = []
    if found.sealed:
        reasons.append(
            "sealed, gel or AGM: at equalising volts it vents what cannot be refilled and may burst; flooded cells only"
        )
    reversed_ = [label for label, volts in found.blocks.items() if volts < 0.0]
    if reversed_:
        reasons.append(f"{', '.join(reversed_)} reads backwards: check the leads, then take the block out")
    if found.reserve is not None and found.reserve <= 0.0:
        lies = f"lies {-found.reserve:.0f} mm under the plates" if found.reserve < 0.0 else "stands at the plates"
        reasons.append(
            f"the level {lies}: cover the plates with distilled water first, "
            "and no more; charge then, and fill to the mark only at the end"
        )
    reasons += [_unfit(found.bank, charger) for charger in found.chargers if _unfit(found.bank, charger)]
    coldest = frost(found).value
    if given.ambient is not None and given.ambient < coldest:
        known = f"gravity {found.gravity:.3f}" if found.gravity else "gravity unknown, counted as 1.05"
        reasons.append(f"{given.ambient:g} degC is too cold ({known}, charge from {coldest:.1f} degC): warm it first")
    return tuple(reasons)


def _unfit(bank: Bank, charger: Charger) -> str:
    """Return why a charger that cannot be set must not be connected; empty where it may."""
    if not charger.fixed:
        return ""
    volts, amps = bank.limits.cell_voltage * bank.cells, bank.string_current_limit * len(bank.strings)
    if charger.volts >= volts:
        harm = f"{volts:.1f} V harm this bank"
        return f"{charger.name} cannot be set below {charger.volts:g} V and {harm}: do not connect it"
    if charger.amps > amps + 0.5:
        most = f"this bank takes {amps:.0f} A at most"
        return f"{charger.name} cannot be set below {charger.amps:g} A and {most}: use another"
    return ""


def _missing(found: Found, given: PlanInput) -> tuple[str, ...]:
    asks = []
    blocks = [block.label for string in found.bank.strings for block in string if block.label not in found.blocks]
    if resting_volts(found) is None:
        asks.append(f"resting volts of the bank, or of every block (still: {', '.join(blocks)})")
    elif blocks:
        asks.append(f"volts and polarity of every block before starting (still: {', '.join(blocks)})")
    for value, ask in (
        (found.chargers or None, "the chargers at hand: volts, amps, and the lowest bank voltage at which each starts"),
        (
            found.gravity,
            "the lowest gravity, if the cells give enough to float the hydrometer: noted, it counts once every cell "
            "was read, rested and with its temperature",
        ),
        (found.reserve, "the lowest level above the plates"),
        (given.ambient, "the temperature of the room"),
        (given.shed_volume, "the volume of the room"),
        (
            given.opening,
            'the openings for air, how large each is, one low and one high (--openings "100 sq in", or openings below '
            "[site] in the cabin file)",
        ),
        (given.outlet_amps, "the breaker of the outlet"),
        (
            given.outlet_volts,
            'the mains at the outlet, without which its amps are given for both that are usual (--outlet "120 V" or '
            '"230 V", or ac_voltage below [[bank]] in the cabin file)',
        ),
    ):
        if value is None:
            asks.append(ask)
    unknown = [charger.name for charger in found.chargers if charger.starts_at is None]
    if unknown:
        asks.append(
            f"the lowest bank voltage at which {' and '.join(unknown)} starts, from its leaflet: many refuse a flat "
            'bank (starts_at beside volts and amps, --charger-start "20 V", or --charger "... from 20 V")'
        )
    return tuple(asks)
