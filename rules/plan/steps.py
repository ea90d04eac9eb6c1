"""A plan's steps in words, from its figures."""

from __future__ import annotations

import math
from math import floor
from typing import NamedTuple

from rules.bank import REACHES, Bank, as_configured, halves
from rules.plan.input import MAINS, Charger, Figure, Found
from rules.plan.room import LEAST_HOLD
from rules.plan.strings import string_volts
from rules.plan.voltages import WAKING_VOLTS, hold_words, resting_volts
from rules.safety import OVER_CURRENT_SECONDS, SHORTED_BLOCK, freezes_at

#: Nearer than this a charger is set to the equalising voltage already: its knob is no finer [V] (assumed).
SETTABLE = 0.05
#: A hold that lasts longer does not fit into the cool of a night [h]; common practice, no source.
NIGHT = 10.0
#: No cell rests so high, only one that was just charged, nor so low unless it is shorted or miscounted [V per cell]: a
#: full one rests at 2.10 to 2.15; common practice, no source.
RESTS_TOO_HIGH, RESTS_TOO_LOW = 2.2, 1.0


class Choice(NamedTuple):
    """Charger for the whole bank, whether it starts on it, and the one for a half where it does not."""

    whole: Charger | None
    starts: bool
    half: Charger | None


def before_steps(found: Found) -> tuple[str, ...]:
    """Say what to measure and mark before anything is connected.

    Parameters
    ----------
    found : Found
        The bank as found.

    Returns
    -------
    tuple of str
        In order.
    """
    bank, odd = found.bank, _flat(found)
    joined: tuple[str, ...] = ()
    if bank.aside:
        circuit, aside = (
            " | ".join(" ".join(block.label for block in string) for string in strings)
            for strings in (bank.strings, bank.aside)
        )
        joined = (f"Charge what is in the circuit now and nothing else: {circuit}; aside: {aside}.",)
    if not odd:
        return (*joined, *_impossible(found))
    return (
        *joined,
        *_impossible(found),
        f"Mark {', '.join(odd)}: well below the others; if it stays low and warm while charging, it is shorted.",
    )


def _impossible(found: Found) -> tuple[str, ...]:
    """Say what to look for where resting volts were told at which no sound cell rests."""
    cells = {block.label: block.cells for string in found.bank.strings for block in string}
    told = [(label, volts, cells[label]) for label, volts in found.blocks.items() if label in cells]
    told += [] if found.volts is None else [("The bank", found.volts, found.bank.cells)]
    each = [(name, volts, round(volts / of, 3)) for name, volts, of in told]
    said = [
        f"{name} at {volts:g} V is {per_cell:.2f} V per cell, more than any cell rests at: it was charged just now or "
        "its cells are miscounted. Charger off, wait 6 h, and measure again before anything is planned by it."
        for name, volts, per_cell in each
        if per_cell >= RESTS_TOO_HIGH
    ]
    said += [
        f"{name} at {volts:g} V is {per_cell:.2f} V per cell: look for a shorted cell, a lead that does not touch or a "
        "wrong count of cells before it is charged."
        for name, volts, per_cell in each
        if 0.0 <= per_cell < RESTS_TOO_LOW
    ]
    return tuple(said)


def _flat(found: Found) -> list[str]:
    """Return blocks that rest a cell or more under the others, with their volts."""
    return [
        f"{block.label} ({found.blocks[block.label]:.2f} V)"
        for string in found.bank.strings
        for block in string
        if block.label in found.blocks and found.blocks[block.label] < _usual(found) * block.cells - SHORTED_BLOCK
    ]


def _usual(found: Found) -> float:
    cells = {block.label: block.cells for string in found.bank.strings for block in string}
    per_cell = sorted(volts / cells[label] for label, volts in found.blocks.items() if label in cells)
    return per_cell[len(per_cell) // 2] if per_cell else 0.0


def wiring_steps(found: Found, choice: Choice, figures: dict[str, Figure]) -> tuple[str, ...]:
    """Tell whether strings may be joined, and whether to charge the bank in one piece or in halves first.

    Parameters
    ----------
    found : Found
        The bank as found.
    choice : Choice
        Chargers to use.
    figures : dict
        Name -> figure.

    Returns
    -------
    tuple of str
        In order.
    """
    return (*_joining_steps(found, figures), *_splitting_steps(found, choice, figures))


def _joining_steps(found: Found, figures: dict[str, Figure]) -> tuple[str, ...]:
    flows = figures.get("amps between strings when joined")
    if flows is None or flows.value <= found.bank.string_current_limit:
        return ()
    volts, most = string_volts(found), found.bank.string_current_limit
    return (
        f"The strings rest {max(volts) - min(volts):.1f} V apart: joined, up to {flows.value:.0f} A run from one into "
        f"the other before any charger does. Charge the lowest one alone first, at {most:.0f} A at most, and join them "
        f"once they rest within {figures['volts that strings may rest apart'].value:.1f} V.",
    )


def _splitting_steps(found: Found, choice: Choice, figures: dict[str, Figure]) -> tuple[str, ...]:
    bank, resting, whole = found.bank, resting_volts(found), choice.whole
    if choice.starts or resting is None or whole is None:
        if odd := _flat(found):
            return (
                f"Take {', '.join(odd)} out of its string, or charge it alone first, with a charger made for its "
                "cells, until it rests like the others: in series it is driven backwards, or the others overcharged.",
            )
        if bank.aside:
            return ("Leave the blocks joined as they are now.",)
        apart = bool(_joining_steps(found, figures))
        return ("Leave each string in one piece." if apart else "Leave the bank in one piece.",)
    cold = f"The bank rests at {resting:g} V and {whole.name} starts only at {whole.starts_at:g} V."
    try:
        first, second = (
            " ".join(" ".join(string) for string in half.strings) for half in halves(bank, as_configured(bank))
        )
    except ValueError as error:
        return (f"{cold} It cannot be woken in halves ({error}): use a charger that starts lower.",)
    if choice.half is None:
        ceiling = bank.cells / 2 * WAKING_VOLTS
        return (
            f"{cold} Split it into halves ({first} and {second}) and find a charger made for {bank.cells // 2} cells "
            f"(about {ceiling:.1f} V) that starts below {floor(5.0 * resting) / 10.0:.1f} V.",
        )
    small = choice.half
    amps = figures["amps for a half"].value
    cap = ", capped before it is connected: once the half wakes it takes all it is offered" if small.amps > amps else ""
    volts = min(small.volts, WAKING_VOLTS * bank.cells / 2)
    joined, lasts = figures["volts after rejoining"], figures["hours above the start threshold"]
    again = (
        "enough"
        if joined.value > (whole.starts_at or 0.0)
        else "maybe not enough: then give the first half another hour on the small charger before joining"
    )
    return (
        f"{cold} Split it into halves, {first} and {second}, fuses in, and wake each on {small.name} at {volts:.1f} V "
        f"and up to {amps:.0f} A{cap}, up to 24 h each.",
        f"Small charger off at the wall, note the volts of each half and how far they lie apart, join them, and start "
        f"{whole.name} at once: expect {joined.value:.1f} to "
        f"{joined.high:.1f} V against {whole.starts_at:g} V, {again}; it stays above that for about "
        f"{lasts.value:.0f} to {lasts.high:.0f} h.",
    )


def settings_steps(found: Found, charger: Charger, figures: dict[str, Figure]) -> tuple[str, ...]:
    """Say what to set, what to expect, and when to raise it.

    Parameters
    ----------
    found : Found
        The bank as found.
    charger : Charger
        For the whole bank.
    figures : dict
        Name -> figure.

    Returns
    -------
    tuple of str
        In order.
    """
    bank = found.bank
    volts, amps, share = (
        figures[name].value for name in ("volts to set today", "amps to set today", "amps per string")
    )
    limit, equalise = figures["string limit"].value, figures["equalising volts"].value
    trips = figures["over-current in a string, from"].value
    acts = "the relay is opened" if bank.relay is not None else "switch the charger off at once"
    steps = [f"Set {min(volts, charger.volts):.1f} V and {amps:.0f} A on {charger.name} today."]
    if charger.volts > bank.limits.cell_voltage * bank.cells:
        steps.append(
            f"It can give {charger.volts:g} V, harmful from {bank.limits.cell_voltage * bank.cells:.1f} V: set it, "
            "and check with a multimeter, before it is connected."
        )
    if charger.amps > amps + 0.5:
        steps.append(
            f"It can give {charger.amps:g} A: cap it at {amps:.0f} A before it is connected, not after it wakes."
        )
    if len(bank.strings) > 1:
        steps.append(
            f"That is {share:.1f} A in each of {len(bank.strings)} strings if they share; measure each "
            "with a clip-on meter when it wakes, after 1 h and after 12 h, "
            f"and lower the charger if one takes more than {limit:.0f} A."
        )
    steps.append(
        f"A string may take {limit:.0f} A. Above that its flag says so: lower the amps; over {trips:.1f} A for "
        f"{OVER_CURRENT_SECONDS:.0f} s it is a danger, and {acts}."
    )
    if "outlet limit" in figures:
        steps += _outlet_step(figures)
    if charger.volts < (bank.equalise - REACHES) * bank.cells:
        steps.append(
            f"{charger.name} reaches only {charger.volts:g} V, equalising needs {equalise:.1f} V: another charger must "
            "finish the work, or the hard sulfate stays: the hold cannot begin. Where the bank is to be equalised at a "
            f'voltage that it reaches, write that: `revival setup --equalise "{charger.volts:g} V"`.'
        )
        return tuple(steps)
    enough = min(amps, figures["amps enough for equalising"].value)
    cool = _coolest(figures)
    most = cool * len(bank.strings)
    if most >= enough:
        bound = f"{enough:.0f} A is enough"
    elif cool < LEAST_HOLD * min(bank.string_capacities):
        bound = f"{enough:.0f} A would be enough, but not in so warm a room"
    else:
        bound = f"no more than {most:.1f} A (what would be enough, {enough:.0f} A, makes it too warm: see below)"
    there = min(volts, charger.volts) > equalise - SETTABLE
    steps.append(
        f"When volts have come up and amps taper, {'stay at' if there else 'raise to'} {equalise:.1f} V "
        f"({equalise / bank.cells:.2f} V per cell), {bound}, and hold it {hold_words(bank)}."
    )
    return tuple(steps)


def _coolest(figures: dict[str, Figure]) -> float:
    """Return the current per string [A] at which the hold stays under the temperature limit, if one is to be kept."""
    hot = figures.get("hottest electrolyte in the hold")
    if hot is None or (hot.high or hot.value) <= figures["temperature limit"].value:
        return math.inf
    return figures["amps per string that stay under the limit"].value


def _outlet_step(figures: dict[str, Figure]) -> list[str]:
    """Say what the outlet does not carry, for the lower of the usual mains where nobody said which it is."""
    assumed = f"AC draw on {min(MAINS):.0f} V mains"
    draw, limit = figures.get("AC draw") or figures[assumed], figures["outlet limit"].value
    if draw.value <= limit:
        return []
    at = f" on {min(MAINS):.0f} V mains, which is assumed while nobody says which it is," if assumed in figures else ""
    return [
        f"At full output it would draw {draw.value:.1f} A{at or ','} the outlet carries {limit:.1f} A for hours: stay "
        "at the amps above, nothing else on that circuit."
    ]


def room_steps(found: Found, figures: dict[str, Figure]) -> tuple[str, ...]:
    """Say what to do about air, water and warmth.

    Parameters
    ----------
    found : Found
        The bank as found.
    figures : dict
        Name -> figure.

    Returns
    -------
    tuple of str
        In order.
    """
    air, opening = figures["air"].value, figures["opening, in and out each"].value
    given = figures["air"].inputs
    set_, full = float(given["amps [A]"]), float(given["charger [A]"])
    left = (
        f"; at its full {full:g} A the charger needs {air * full / set_:.0f} m3/h, so cap it first"
        if full > set_ + 0.5
        else ""
    )
    steps = [
        f"Air: {air:.0f} m3/h, or an opening of {opening:.0f} cm2 low and another high, free all the time, at "
        f"{set_:.0f} A{left}."
    ]
    steps += _openings_step(figures)
    if "hours to 1 % if closed" in figures:
        steps.append(f"Closed, the room would reach 1 % hydrogen in {figures['hours to 1 % if closed'].value:.1f} h.")
    drop, lasts = figures["level falls over the hold"].value, figures["hours until topping up"].value
    enough = (
        "that lasts the hold"
        if lasts >= found.bank.hold.maximum
        else f"top up with distilled water after {lasts:.0f} h of it"
    )
    reserve = figures["hours until topping up"].inputs
    seen = "" if found.reserve is not None else ", if it is as usual: look first"
    steps.append(
        f"Water: the level may fall {drop:.1f} mm over the hold, {reserve['above plates [mm]']:.1f} mm stand above the "
        f"plates{seen}; {enough}. Have {figures['distilled water for the hold'].value:.4g} L of distilled water at "
        "hand."
    )
    if "temperature limit" in figures:
        hot, limit = figures["hottest electrolyte in the hold"], figures["temperature limit"].value
        cap = figures["amps per string that stay under the limit"].value
        if (hot.high or hot.value) > limit:
            may = "will" if hot.value > limit else "may, if the plates are old,"
            low, high = f"{hot.value:.0f}", f"{hot.high or hot.value:.0f}"
            warm = high if low == high else f"{low} to {high}"
            wished = figures["amps enough for equalising"].value / len(found.bank.strings)
            instead = f", not at the {wished:.0f} A that would be enough" if cap < wished else ""
            night = ", hold at night" if found.bank.hold.maximum <= NIGHT else ""
            begun = (
                "do not begin it in so warm a room"
                if cap < LEAST_HOLD * min(found.bank.string_capacities)
                else f"cap it at {cap:.1f} A per string{instead}{night}, space the blocks, move air over them"
            )
            steps.append(f"The hold {may} get too warm ({warm} degC, limit {limit:.1f} degC): {begun}.")
    if "room too warm for the hold, from" in figures:
        warm_room = figures["room too warm for the hold, from"].value
        steps.append(
            f"Warmth: nobody said how warm the room is. From about {warm_room:.0f} degC in it the hold may get too "
            'warm at the amps above; tell it with --ambient "20 degC", and the plan says at how many it stays under.'
        )
    return tuple(steps)


def _openings_step(figures: dict[str, Figure]) -> list[str]:
    """Say what the openings carry that the owner has, and what would let more flow, where they are what limits."""
    carry = figures.get("amps the openings carry")
    if carry is None:
        return []
    has, wished, air, opening = (
        float(carry.inputs[name])
        for name in (
            "opening [cm2]",
            "amps without them [A]",
            "air for these [m3/h]",
            "opening for these [cm2]",
        )
    )
    # An ampere more than they carry is one too many.
    said = f"Your openings of {has:.0f} cm2 each carry about {floor(carry.value)} A"
    if carry.value >= wished:
        return [f"{said}, no less than is set."]
    cap = "" if carry.inputs["charger"] == "fixed" else "cap the charger there, or "
    return [
        f"{said}: {cap}open the door, or add a fan; for {wished:.0f} A it takes {air:.0f} m3/h of air, or openings of "
        f"{opening:.0f} cm2."
    ]


def frost_step(found: Found, figures: dict[str, Figure]) -> str:
    """Return from which temperature on it may be charged, and where it freezes, in words.

    Parameters
    ----------
    found : Found
        The bank as found.
    figures : dict
        Name -> figure.

    Returns
    -------
    str
        One step.
    """
    from_, known = figures["coldest for charging"].value, "as its gravity says"
    if found.gravity is None:
        known = "with the weakest acid that is likely, because no gravity of its weakest cell is known"
    freezes = freezes_at(found.gravity)
    return (
        f"Frost: its acid freezes at about {freezes:.0f} degC ({known}); start it only from {from_:.1f} "
        "degC on. A frozen bank thaws slowly in a warm room, without heater or flame beside it; look for cracks and "
        "leaks in every case before any charge."
    )


def afterwards(bank: Bank, figures: dict[str, Figure]) -> str:
    """Say what the capacity test of this bank draws, and with what.

    Parameters
    ----------
    bank : Bank
        As configured.
    figures : dict
        Name -> figure.

    Returns
    -------
    str
        The last step.
    """
    end, draw = figures["end of the capacity test"].value, figures["amps of the capacity test"].value
    watts = 2.0 * bank.cells * draw
    return (
        f"Capacity test after the rest: draw {draw:.0f} A, about {watts:.0f} W (lamps or a resistor made for it, or a "
        f"heater behind an inverter, never an open coil in the room), down to {end:.1f} V."
    )
