"""What the cabin file says of charger and probe, as plan and report need it."""

from __future__ import annotations

from bridge import units
from bridge.errors import JournalError, NoJournalError
from bridge.journal.reader import JournalReader
from bridge.journal.snapshot import remembered
from bridge.settings import Cabin
from rules.bank import Bank, too_much_for_the_part
from rules.plan import Charger
from rules.step import trip_kept


def configured(bank: Bank, start: str | None) -> tuple[Charger, ...]:
    """Return the charger behind the cabin file's settings: its highest volts and amps."""
    if not bank.chargers:
        return ()
    volts, amps = (max(values) for values in zip(*((s.volts, s.amps) for s in bank.chargers), strict=True))
    # A charger of which nobody has said where it starts is asked about; 0 V is a number like any other.
    starts_at = units.parse(start, "V") if start else max(setting.starts_at for setting in bank.chargers) or None
    return (Charger("the charger", volts, amps, starts_at, bank.power_factor, bank.charger_efficiency),)


def of_the_part(whole: Bank, part: Bank, start: str | None) -> tuple[Charger, ...]:
    """Return the charger behind the cabin file's settings, for a part of the bank with fewer cells in series.

    They are written for the whole bank: where even the lowest harms the part, nothing says it could be set lower.
    """
    known = configured(whole, start)
    if known and too_much_for_the_part(whole, part):
        return (known[0]._replace(volts=min(setting.volts for setting in whole.chargers), fixed=True),)
    return known


def trips(cabin: Cabin) -> list[str]:
    """Return the trips that stand by the journal, for where no bridge runs that could tell of them."""
    found = []
    try:
        with JournalReader(cabin.journal.path) as journal:
            for name in sorted(cabin.banks.keys() & journal.snapshots().keys()):
                if tripped := trip_kept(remembered(journal, name)):
                    found.append(f"{name}: {tripped}, once a bridge runs.")
    except NoJournalError:
        return []  # before the first `revival run`
    except JournalError as error:
        found.append(str(error))
    return found


def placed(bank: Bank) -> str:
    """Return where the file says the probe sits; on the case, the lower limit, unless all sit in cells."""
    places = {meter.placed for meter in bank.meters if meter.quantity == "electrolyte_temperature"}
    return "cell" if places == {"cell"} else "case"
