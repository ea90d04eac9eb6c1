"""What every plan says in the same words: the start checklist, what to lay out, the cautions."""

from __future__ import annotations

from collections.abc import Iterable

from rules.bank import Bank, Limits

#: Key and line of the start checklist; a person confirms all of them before `start` is allowed.
CHECKLIST: tuple[tuple[str, str], ...] = (
    ("flooded", "Every cell has a filler cap and liquid inside: no sealed, gel or AGM battery in the bank."),
    ("whole", "No case is cracked, bulging, dry or frozen."),
    ("polarity", "Volts and polarity of every block measured and written down; none reads backwards."),
    ("joints", "Every joint clean, bare metal to bare metal, and tight."),
    ("tops", "Tops washed with plain water and wiped dry; no soda, nothing but water near the caps."),
    ("levels", "Level in every cell above the plates and below the mark; only distilled water was added, no acid."),
    ("caps", "Caps loosened, or vents clear and caps resting in place, so that no pressure builds."),
    ("loads", "Loads, inverters and electronics disconnected; equalising volts can destroy them."),
    ("fuses", "A fuse at every string, and a hardware thermal cut-out in the charger's feed that needs no software."),
    ("air", "Openings low and high are free, or the fan runs; they stay so for an hour after charging."),
    ("base", "The blocks stand on wood or another insulator that acid may spoil."),
    ("surroundings", "No vehicle, fuel, flame, heater or bed in the room; nobody will smoke there."),
    ("clothes", "Goggles, acid-proof gloves and old clothes on; rings and watch off; eye-wash water within reach."),
    ("probe", "The temperature probe sits where the plan assumes it, on the block in the warmest place."),
    ("meters", "Current meter reads zero with the charger off; volts agree with a multimeter at the posts."),
)

#: What to lay out before the first switch is turned.
LAY_OUT: tuple[str, ...] = (
    "goggles or face shield, acid-proof gloves, apron or old clothes",
    "15 minutes of clean running or stored water for the eyes",
    "distilled water and a small funnel that has touched nothing else",
    "hydrometer, thermometer, torch without open contacts, multimeter, clip-on meter for DC amps",
    "insulated spanners, wire brush, grease for the posts",
    "paper, pencil, and a marker for numbering blocks and cells",
    "baking soda in a bucket of water (about 120 g per litre, 1 lb per gallon) for spills on the floor, never on a "
    "battery",
    "spare fuses of the same rating",
)

#: From here on the trade calls a bank warm, and ends the day [degC]: 100 and 110 degF, as `rules.bank.Limits` has them.
WARM, HOT = Limits.temperature_warning, Limits.temperature
#: An owner's limit that is lower by less is the same one, written in the other scale [K].
LEAST_LOWER = 0.4
WARMTH = "Warm is normal, hot stops the work: 38 degC (100 degF) is a warning, 43 degC (110 degF) the end for today."


def _warmth(warm: float, hot: float) -> str:
    """Say at which temperatures [degC] more care is due, and the end."""
    said = [f"{round(each, 1):g} degC ({each * 1.8 + 32.0:.0f} degF)" for each in (warm, hot)]
    return f"Warm is normal, hot stops the work: {said[0]} is a warning, {said[1]} the end for today."


#: What travels with every plan, page and report.
CAUTIONS: tuple[str, ...] = (
    "Hydrogen: keep air moving low and high before, during and for at least an hour after charging; the gas is "
    "explosive from 4 % and gathers under the roof.",
    "No sparks, flames or smoking. Charger off at the wall before a post or a cable clamp is touched; no tool on top "
    "of the cells.",
    "Acid: goggles, gloves, clothes that may be ruined. Eyes: rinse for 15 minutes, then a doctor.",
    "Distilled water only. Never acid, never an additive: the missing acid sits in the sulfate and comes back; more "
    "acid leaves the sulfate nowhere to go.",
    "Level between plates and mark. Bare plates under charge can arc inside a case full of gas: stop and top up.",
    "A smell of rotten eggs means leave and air the room at once; the nose goes numb to it.",
    WARMTH,
    "Soda only for spills on the floor; a pinch of it in a cell ruins the cell.",
    "Vehicles, fuel and living space belong elsewhere; nobody sleeps in the room.",
    "Never charge a frozen, cracked, dry or bulging battery, nor a sealed, gel or AGM one at these volts.",
    "Local electrical and fire codes, the battery maker's sheet and licensed people overrule this plan; mains wiring "
    "is their work.",
)

#: Who switches the charger off, with a relay and without one.
RELAY = (
    "A relay behind this program switches the charger's AC feed; it is an extra layer. A hardware thermal cut-out and "
    "fuses are the protection."
)
NO_RELAY = (
    "No relay stands in the cabin file: this program switches nothing off, a person does. A hardware thermal cut-out "
    "and fuses are the protection."
)

#: From this voltage on touching both poles can kill, and an arc does not go out by itself [V DC]: limit of extra-low
#: voltage without further protection, source 24.
SHOCK_ABOVE = 60.0
SHOCK = (
    "Above 60 V DC touching both poles can kill and an arc stays lit: one hand only, nobody alone, covers over the "
    "posts, insulated tools, and fuses, switches and relays that are rated for that DC voltage."
)
SHOCK_LINE = ("shock", "Over 60 V DC: posts covered, insulated tools, fuses and switches rated for that DC voltage.")


def dangerous_to_touch(banks: Iterable[Bank]) -> bool:
    """Tell whether any bank stands above 60 V DC while it is equalised, or by a setting of its charger.

    Examples
    --------
    >>> from rules.bank import Block
    >>> [dangerous_to_touch([Bank("b", ((Block("N1", cells, 200.0),),))]) for cells in (12, 24)]
    [False, True]
    """
    return any(
        max(bank.cells * bank.equalise, *(charger.volts for charger in bank.chargers), 0.0) > SHOCK_ABOVE
        for bank in banks
    )


def cautions(banks: Iterable[Bank]) -> tuple[str, ...]:
    """Return the cautions that travel with these banks; where an owner's limit is lower than the trade's, that one."""
    banks = tuple(banks)
    hot = min((bank.temperature_limit for bank in banks), default=HOT)
    warm = min((bank.limits.temperature_warning for bank in banks), default=WARM)
    lower = hot < HOT - LEAST_LOWER or warm < WARM - LEAST_LOWER
    warmth = _warmth(min(warm, WARM), min(hot, HOT)) if lower else WARMTH
    relay = RELAY if any(bank.relay is not None for bank in banks) else NO_RELAY
    return (
        *((SHOCK,) if dangerous_to_touch(banks) else ()),
        *[warmth if each == WARMTH else each for each in CAUTIONS],
        relay,
    )


def checklist(banks: Iterable[Bank]) -> tuple[tuple[str, str], ...]:
    """Return the start checklist of these banks."""
    return (*CHECKLIST, SHOCK_LINE) if dangerous_to_touch(banks) else CHECKLIST


#: The steps that are the same for every bank.
COMMON_STEPS: tuple[str, ...] = (
    "Go through the start checklist; write down volts and polarity of every block.",
    "Earth the charger's case as its leaflet and the local code ask, and earth no pole of the bank that was not "
    "before.",
    "Charger off at the wall before anything is joined or parted; switch it on only when nobody is at the posts.",
    "Then wait: full volts and hardly any amps may last hours or two days; amps that climb while volts fall are the "
    "good sign.",
    "Look in after 15 minutes, after 1 hour, then hourly while somebody is up: smell, touch, listen, levels.",
    "After the hold: charger off, air on for another hour, rest 6 h at least and better 24 h, then read every cell, "
    "test the capacity, and only then judge.",
)
NO_CHARGER = (
    "No charger is known, so neither its amps nor hours can be planned: name its settings as chargers in the cabin "
    "file, or with --charger."
)
COLD = (
    "It is cold: a cold bank may take nothing for many hours even if it is sound; warm it above 10 degC (50 degF) if "
    "you can, and do not call it dead before."
)
