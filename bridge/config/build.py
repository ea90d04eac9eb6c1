"""From the cabin file's tables to what the loop uses: banks for the rules, mappings for the intake, relays."""

from __future__ import annotations

from itertools import islice
from string import ascii_uppercase

from bridge.config.meters import Findings, build_meters, share_times
from bridge.config.models import BankTable, CabinTable, RelayTable
from bridge.intake import Mapping
from bridge.settings import LoadRelaySettings, RelaySettings
from bridge.words.equalising import mild, out_of_reach
from rules.bank import (
    CURRENT_QUANTITIES,
    HARD_SULFATE,
    AutomaticResume,
    Bank,
    Block,
    ChargerSetting,
    HoldRule,
    Limits,
    Relay,
)
from rules.laws import EXPLOSIVE_FRACTION

#: Relays that one bridge guards: each has a connection and a process of its own.
MOST_RELAYS = 8
#: What a limit in another unit may be off by its conversion [1].
ROUNDING = 1.0001


def build_banks(model: CabinTable, found: Findings) -> tuple[dict[str, Bank], list[Mapping]]:
    """Compile every bank and the mappings of all meters; what is wrong is added to `found`."""
    banks: dict[str, Bank] = {}
    mappings: list[Mapping] = []
    for table in model.bank:
        where = f'[[bank]] "{table.id}"'
        if table.id in banks:
            found.errors.append(f'{where}: id = "{table.id}" is used twice: give each bank its own id')
            continue
        labels = _labels(table, where, found)
        of_bank, meters = build_meters(model, table, labels, where, found)
        limits = _limits(table, where, found)
        size = table.blocks.per_string
        blocks = iter(Block(label, table.blocks.cells, table.blocks.capacity) for label in labels)
        try:
            banks[table.id] = Bank(
                id=table.id,
                strings=tuple(tuple(islice(blocks, size)) for _ in range(table.strings)),
                chargers=tuple(
                    ChargerSetting(charger.volts, charger.amps, charger.starts_at or 0.0) for charger in table.chargers
                ),
                equalise=table.equalise,
                hold=HoldRule(table.hold.minimum, table.hold.maximum, table.hold.starts, table.hold.tail),
                limits=limits,
                compensation=table.charger_compensation,
                full_gravity=table.full_gravity,
                zero_offset=table.zero_offset,
                automatic=AutomaticResume(
                    table.automatic_resume.allowed, table.automatic_resume.rest, table.automatic_resume.times
                ),
                meters=tuple(meters),
                relay=None
                if table.relay is None
                else Relay(reports_state=table.relay.state_topic is not None, auto_off=table.relay.auto_off or None),
                power_factor=table.power_factor,
                charger_efficiency=table.charger_efficiency,
                water_reserve=table.water_reserve,
                ac_voltage=table.ac_voltage,
                presence=table.presence,
                hydrometer_reference=table.hydrometer_reference,
                load_relay=table.load_relay is not None,
            )
        except ValueError as error:
            found.errors.append(f"{where}: {error}")
            continue
        mappings += of_bank
        _look_over(banks[table.id], where, found)
    return banks, share_times(mappings)


def _labels(table: BankTable, where: str, found: Findings) -> list[str]:
    """Return labels as given, or A1, A2 ... B1: a letter for the string, a number for the block."""
    count = table.strings * table.blocks.per_string
    given = table.blocks.labels
    lettered = table.strings <= len(ascii_uppercase)
    made = [
        f"{ascii_uppercase[string]}{block + 1}" if lettered else f"S{string + 1}B{block + 1}"
        for string in range(table.strings)
        for block in range(table.blocks.per_string)
    ]
    if given is None:
        return made
    if len(given) != count:
        found.errors.append(
            f"{where}: blocks.labels has {len(given)} labels for {table.strings} strings of "
            f"{table.blocks.per_string} blocks: give {count}, string after string"
        )
        return made
    twice = sorted({label for label in given if given.count(label) > 1})
    odd = [label for label in given if not label or "." in label or label.strip() != label]
    if twice or odd:
        found.errors.append(
            f"{where}: blocks.labels: {', '.join(repr(label) for label in twice or odd)} "
            + (
                "is used twice: each block needs its own"
                if twice
                else "may not be empty or hold a point or outer blanks"
            )
        )
        return made
    return list(given)


def _limits(table: BankTable, where: str, found: Findings) -> Limits:
    """Return given limits over the defaults, and whether they make sense together."""
    limits = Limits(**table.limits.model_dump(exclude_none=True))
    given = table.limits.model_fields_set
    for lower, upper in (
        ("temperature_warning", "temperature"),
        ("temperature_resume", "temperature"),
        ("temperature_case", "temperature"),
        ("temperature", "temperature_absolute"),
    ):
        low, high = getattr(limits, lower), getattr(limits, upper)
        if low > high or (low == high and lower != "temperature_case"):
            default = lower if lower not in given else upper
            hint = f"give {default} as well" if default not in given else "correct one of them"
            found.errors.append(
                f"{where}: limits.{lower} ({low:.1f} degC) must lie below limits.{upper} ({high:.1f} degC): {hint}"
            )
    if not 0.0 < limits.hydrogen < EXPLOSIVE_FRACTION:
        found.errors.append(
            f"{where}: limits.hydrogen ({100 * limits.hydrogen:g} percent) must lie below "
            f'{100 * EXPLOSIVE_FRACTION:g} percent, where hydrogen in air can explode: "1 percent" is usual'
        )
    usual = Limits()
    for key in sorted(given - {"string_current", "temperature_resume"}):
        if getattr(limits, key) > getattr(usual, key) * ROUNDING:
            found.warnings.append(
                f"{where}: limits.{key} = {getattr(limits, key):g} is above the usual {getattr(usual, key):g}: "
                "harm may begin before it trips"
            )
    if table.equalise >= limits.cell_voltage:
        found.errors.append(
            f"{where}: equalise = {table.equalise:g} V is not below limits.cell_voltage ({limits.cell_voltage:g} V): "
            'equalise is the voltage of ONE cell, such as "2.67 V"'
        )
    return limits


def _look_over(bank: Bank, where: str, found: Findings) -> None:
    """Find what in the configuration does not fit together."""
    if bank.out_of_reach:
        found.warnings.append(f"{where}: {out_of_reach(bank)}")
    if bank.equalise < HARD_SULFATE:
        found.warnings.append(f"{where}: equalise = {mild(bank.equalise)}")
    ceiling = bank.limits.cell_voltage * bank.cells
    lowest = min((charger.volts for charger in bank.chargers), default=0.0)
    if lowest >= ceiling:
        found.errors.append(
            f"{where}: chargers: the lowest setting, volts = {lowest:g} V, is at or above limits.cell_voltage "
            f"({bank.limits.cell_voltage:g} V x {bank.cells} cells = {ceiling:.2f} V) and would harm this bank: list a "
            "lower setting, or use another charger"
        )
    for charger in bank.chargers:
        if lowest < ceiling <= charger.volts:
            found.warnings.append(
                f"{where}: charger volts = {charger.volts:g} V is at or above limits.cell_voltage "
                f"({bank.limits.cell_voltage:g} V x {bank.cells} cells = {ceiling:.2f} V): it would trip"
            )
    measured = {meter.quantity for meter in bank.meters}
    for quantity in ("voltage", "electrolyte_temperature"):
        if quantity not in measured:
            text = f"{where}: no meter for {quantity}"
            if bank.relay is None and quantity == "voltage":
                found.warnings.append(f"{text}: phase, hours, gas and over-voltage stay unknown; add a [[bank.meter]]")
            elif bank.relay is None:
                found.warnings.append(f"{text}: {NO_HEAT}")
            else:
                found.errors.append(f"{text}: without it the relay may never close; add a [[bank.meter]]")
    if measured.isdisjoint(CURRENT_QUANTITIES):
        found.warnings.append(f"{where}: no meter for current: phases and hours stay unknown; add a [[bank.meter]]")


#: What a bank without a thermometer must know.
NO_HEAT = (
    "nobody watches the heat, the main way to ruin a bank: put a probe into a cell (or on a case) and add a "
    "[[bank.meter]]; until then, while it charges, read the acid by hand every hour, note it with `revival record "
    "temperature`, and stop at 43.3 degC (110 degF)"
)


def build_relays(model: CabinTable, found: Findings) -> tuple[RelaySettings, ...]:
    """Return relays, each with the banks behind it; tables that name the same topic must agree."""
    by_topic: dict[str, tuple[RelayTable, list[str]]] = {}
    for table in model.bank:
        if table.relay is None:
            continue
        known, banks = by_topic.setdefault(table.relay.topic, (table.relay, []))
        banks.append(table.id)
        if known != table.relay:
            differ = [key for key in RelayTable.model_fields if getattr(known, key) != getattr(table.relay, key)]
            found.errors.append(
                f'[[bank]] "{table.id}", [bank.relay]: topic "{table.relay.topic}" is also the relay of "{banks[0]}", '
                f"but {', '.join(differ)} differ: one relay is described the same everywhere"
            )
    for topic, (relay, banks) in by_topic.items():
        where = f'[[bank]] "{banks[0]}", [bank.relay] {topic}'
        if relay.auto_off is None:
            found.warnings.append(
                f"{where}: auto_off is missing, so nothing is permitted to charge: give the relay an auto-off of its "
                'own and write auto_off = "90 s"; or "none" where it has none and you accept what nothing covers'
            )
        if relay.power_on is None:
            found.warnings.append(
                f"{where}: set the relay itself to be open when its power comes back, try it once by pulling its plug, "
                'and write power_on = "open"'
            )
    if len(by_topic) > MOST_RELAYS:
        found.errors.append(
            f"[bank.relay]: {len(by_topic)} relays; one bridge guards at most {MOST_RELAYS}: run a second bridge"
        )
    return tuple(
        RelaySettings(
            name="-".join(banks),
            banks=tuple(banks),
            topic=topic,
            cut=table.cut,
            allow=table.allow,
            state_topic=table.state_topic,
            state_open=table.state_open or table.cut,
            state_closed=table.state_closed or table.allow,
            auto_off=table.auto_off or None,
            uncovered=table.auto_off is None,
            opens_on_power=table.power_on is not None,
        )
        for topic, (table, banks) in by_topic.items()
    )


def build_load_relays(model: CabinTable, found: Findings) -> dict[str, LoadRelaySettings]:
    """Return the load relays by bank id; the charger's relay is never among them."""
    chargers = {table.relay.topic for table in model.bank if table.relay is not None}
    built = {}
    for table in model.bank:
        if table.load_relay is None:
            continue
        if table.load_relay.topic in chargers:
            found.errors.append(
                f'[[bank]] "{table.id}", [bank.load_relay]: topic "{table.load_relay.topic}" is a charger\'s relay: '
                "name the relay that the load hangs on"
            )
        built[table.id] = LoadRelaySettings(table.load_relay.topic, table.load_relay.cut)
    return built
