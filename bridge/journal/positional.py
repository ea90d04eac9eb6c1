"""The first format of a snapshot: values in the order in which the fields stood in the code that wrote them.

The orders are frozen here, because the code has moved on and a journal of that time may lie on any board. Nothing is
added to this module: since format 2 the names of the fields stand in the text itself.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

#: Record -> its fields in order. `name=Record` holds a record or nothing, `name=[Record]` a list of them,
#: `name={Record}` a mapping to them; every other field is a plain value. So wrote the last version of the format, ...
LAST: Mapping[str, str] = {
    "Memory": """
        began_at meters={Trace} counters=Counters thermal=Thermal phase=PhaseMemory
        remaining=RemainingMemory interlock=Interlock hand=HandLog pending={Pending} flags={Flag} sampled
        observed_at judged_at shown_at shown charged_at arrangement=Arrangement ledger={BlockLedger}
        test=CapacityTest given=Given previous
    """,
    "Trace": "value at quality reason doubtful doubtful_at suspect_since changed_at step period late retained",
    "Counters": """
        charge discharge energy gassing charging_seconds unknown_seconds string_charge phase_seconds current
        current_at estimated by_hand zero settled_seconds voltage
    """,
    "Thermal": "steps=[Step] opened_at excess current volts looks with_ambient lowest rate",
    "Step": "at excess current volts",
    "PhaseMemory": """
        phase since interrupted woken started_at hold_seconds hold_needed hold_complete hold_completed_at
        ceiling set_current stuck_seconds not_reviving hopeless finding live=Live track=Track
    """,
    "Live": """
        at period noise volts moved smooth good_at good_volts good_last pending owed opened volt_seconds
        volt_time amp_seconds amp_time
    """,
    "Track": """
        blocks cells capacity awake base rested temperature volts amps bins=[Bin] volt_seconds amp_seconds
        seconds hold_bins hold_amp_seconds hold_bin_seconds faint_seconds on_seconds off_seconds setting
        learned strong_amps strong_seconds blocked_seconds peak highest floor growth growth_cool stuck_since
        low_seconds shorted hog_seconds entered candidate candidate_seconds below_seconds tail_seconds
        finishing_seconds
    """,
    "Bin": "at volts amps temperature",
    "RemainingMemory": """
        estimate=Estimate at pattern=Pattern source before spread parts phase lowest why why_until
    """,
    "Estimate": "hours low high clock_hours clock_low clock_high reason energy",
    "Pattern": "on known off_seconds stops climb fade seen useless of_use",
    "Interlock": """
        latched={Latch} started needs_resume exhausted allowed order_at repeated_at withdrawn_for returns
        resumes current_before confirmed_at bypasses checklist_by proof=Proof proving proving_since
        allowed_at closed_at lost conditions
    """,
    "Latch": "at value limit unit reason",
    "Proof": "at passed seconds current_proved note",
    "HandLog": """
        entries=[Entry] gravities=[GravityReading] lowest spread trend rising gravity_at level_at last_at
        topped_up string_amps string_amps_after sulfated_at sulfated_where level_wrong reversed_block keys
        string_amps_at weakest plateau rise rise_by_water voltage voltage_at temperature temperature_at case
        case_at counted=Counters joined_at
    """,
    "Entry": "kind taken_at values temperature by note charging_seconds gassing under_charge rested_hours",
    "GravityReading": "taken_at cell gravity_corrected mark under_charge trusted",
    "Pending": "since window confirmed finding=Finding",
    "Finding": "value limit unit reason",
    "Flag": "name kind since value limit unit reason action",
    "Arrangement": "strings aside",
    "BlockLedger": "charge hours",
    "CapacityTest": """
        started_at temperature at current delivered hours unknown_hours low_samples ended_at reason
        fell_first
    """,
    "Given": "at by words capacities",
}
#: ... the one before it knew no latest step of the voltage, ...
BEFORE_STEPS: Mapping[str, str] = {
    **LAST,
    "Live": """
        at period noise volts smooth good_at good_volts good_last pending owed opened volt_seconds volt_time
        amp_seconds amp_time
    """,
}
#: ... the one before that did not know which blocks had woken, ...
BEFORE_BLOCKS: Mapping[str, str] = {
    **BEFORE_STEPS,
    "Track": """
        cells capacity temperature volts amps bins=[Bin] volt_seconds amp_seconds seconds hold_bins
        hold_amp_seconds hold_bin_seconds faint_seconds on_seconds off_seconds setting learned strong_amps
        strong_seconds blocked_seconds peak highest floor growth stuck_since hog_seconds entered candidate
        candidate_seconds below_seconds tail_seconds finishing_seconds
    """,
}
#: ... and so wrote the first version that stored anything.
FIRST: Mapping[str, str] = {
    **BEFORE_BLOCKS,
    "Memory": """
        began_at meters={Trace} counters=Counters thermal=Thermal phase=PhaseMemory
        remaining=RemainingMemory interlock=Interlock hand=HandLog pending={Pending} flags={Flag} sampled
        observed_at judged_at shown_at shown charged_at arrangement=Arrangement ledger={BlockLedger}
        test=CapacityTest
    """,
    "Counters": """
        charge discharge energy gassing charging_seconds unknown_seconds string_charge phase_seconds current
        current_at estimated by_hand zero voltage settled_seconds
    """,
    "Live": "at period noise volts good_at good_volts pending opened volt_seconds volt_time amp_seconds amp_time",
    "Track": """
        cells capacity temperature volts amps bins=[Bin] volt_seconds amp_seconds seconds hold_bins
        hold_amp_seconds hold_bin_seconds on_seconds off_seconds setting learned strong_seconds
        blocked_seconds accepted peak floor growth stuck_since candidate candidate_seconds below_seconds
        tail_seconds finishing_seconds
    """,
    "Bin": "at volts amps",
    "RemainingMemory": "estimate=Estimate at pattern=Pattern mean_amps before_hold phase why why_until",
    "Pattern": "on known on_seconds off_seconds stops lost outside",
    "Interlock": """
        latched={Latch} started needs_resume exhausted allowed order_at repeated_at withdrawn_for returns
        resumes current_before confirmed_at bypasses checklist_by proof=Proof proving proving_since
    """,
    "HandLog": """
        entries=[Entry] gravities=[GravityReading] lowest spread trend rising gravity_at level_at last_at
        topped_up string_amps string_amps_after sulfated_at sulfated_where level_wrong reversed_block
    """,
}
_FIELD = re.compile(r"(\w+)(?:=([\[{]?)(\w+)[\]}]?)?")


def by_name(plain: object) -> object:
    """Return the plain values of a memory with the names of its fields, as the newest layout that fits has them.

    Raises
    ------
    ValueError
        No version wrote values in such an order.

    Examples
    --------
    >>> by_name([1, 2, 3])
    Traceback (most recent call last):
    ...
    ValueError: Memory: 3 values, 19 fields
    """
    reasons = []
    for layout in (LAST, BEFORE_STEPS, BEFORE_BLOCKS, FIRST):
        try:
            return _record(layout, "Memory", plain)
        except ValueError as error:
            reasons.append(str(error))
    raise ValueError(reasons[-1])


def _record(layout: Mapping[str, str], record: str, plain: object) -> dict[str, object]:
    fields = _FIELD.findall(layout[record])
    if not isinstance(plain, list) or len(plain) != len(fields):
        found = f"{len(plain)} values" if isinstance(plain, list) else f"{plain!r:.40}"
        raise ValueError(f"{record}: {found}, {len(fields)} fields")
    return {
        name: _value(layout, many, inner, item) if inner else item
        for (name, many, inner), item in zip(fields, plain, strict=True)
    }


def _value(layout: Mapping[str, str], many: str, record: str, plain: object) -> object:
    if many == "[" and isinstance(plain, list):
        return [_record(layout, record, item) for item in plain]
    if many == "{" and isinstance(plain, dict):
        return {name: _record(layout, record, item) for name, item in plain.items()}
    return None if plain is None else _record(layout, record, plain)
