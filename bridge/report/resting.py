"""Volts at rest as the meters of a bank show them, for a plan of which nobody has typed or noted any."""

from __future__ import annotations

from rules.meters import GOOD
from rules.plan import Found
from rules.step import Memory

#: What a meter told so lately is so now [s] (assumed); after a charge the volts of the surface are gone so much later
#: [s] (common practice, no source).
HEARD, RESTED = 600.0, 6 * 3600.0
#: No cell rests above it: something charges, whatever else is known [V per cell] (common practice, no source).
NO_REST = 2.2
#: Said of it before the plan.
TAKEN = (
    "Volts: of {blocks} as the meters showed them just now, with nothing seen to charge for {hours:.0f} h, or since "
    "the bridge listens. Where the charger was on since let the bank rest and plan anew; --resting "
    "counts with others."
)


def with_metered(found: Found, memory: Memory | None, now: float) -> tuple[Found, str]:
    """Return what was found with the volts that the meters show at rest [s since the epoch], and that they do.

    Only where nobody noted any; nothing of a bank that charges, may charge, or charged of late.
    """
    if memory is None or memory.interlock.allowed or now - memory.charged_at < RESTED:
        return found, ""
    bank = found.bank
    blocks = {block.label: block for string in bank.strings for block in string}
    shown = {
        meter.index: volts
        for meter in bank.by_quantity.get("block_voltage", ())
        if meter.index in blocks and (volts := _heard(memory, meter.name, now)) is not None
    }
    told = [_heard(memory, meter.name, now) for meter in bank.by_quantity.get("voltage", ())]
    whole = next((volts for volts in told if volts is not None), None)
    if any(volts > NO_REST * blocks[label].cells for label, volts in shown.items()):
        return found, ""
    if whole is not None and whole > NO_REST * bank.cells:
        return found, ""
    new = [label for label in shown if label not in found.blocks]
    named = [_named(new)] if new else []
    if found.volts is None and not found.blocks and not shown and whole is not None:
        found, named = found._replace(volts=whole), ["the bank"]
    if not named:
        return found, ""
    return (
        found._replace(blocks={**shown, **found.blocks}),
        TAKEN.format(blocks=named[0], hours=RESTED / 3600.0),
    )


def _heard(memory: Memory, name: str, now: float) -> float | None:
    """Return what a meter told just now, if that is believed."""
    trace = memory.meters.get(name)
    if trace is None or trace.retained or trace.quality != GOOD or not 0.0 < trace.at <= now or now - trace.at > HEARD:
        return None
    return trace.value


def _named(labels: list[str]) -> str:
    return labels[0] if len(labels) == 1 else f"{', '.join(labels[:-1])} and {labels[-1]}"
