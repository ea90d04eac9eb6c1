"""What whoever notes something hears at once, whatever follows from it: warmth, gas, plates that are hardly covered."""

from __future__ import annotations

from rules.bank import Bank
from rules.events import HandReading
from rules.hand.checks import BARELY_COVERED, SAME_MINUTES, measured_at
from rules.hand.level_words import level_put_right
from rules.hand.seen_words import boils, dangers, located
from rules.hand.tongues import PUSHED_OUT

#: A thermometer in the hand and a probe in the acid of the same minutes agree up to so much [K]; two cells of one bank
#: differ by less, and a probe that hangs in air or a slip of the pen by more (common practice, no source).
WARMTH_APART = 10.0
#: One figure for the whole bank is none of a single hot cell: it stands no farther from the probe than this [K] (common
#: practice, no source).
WHOLE_APART = 5.0
#: Less acid than this above the plates is soon gassed away [mm]: half of the lowest mark (assumed).
HARDLY_COVERED = 5.0
#: The marks of this trade's cells lie so far above their plates [mm] (common practice, no source; as `HIGH_LEVEL`).
LOWEST_MARK, HIGHEST_MARK = 10.0, 20.0
#: Kinds that are read, or poured, over open cells.
_OVER_OPEN_CELLS = ("gravity", "water", "level")


def cautions(
    bank: Bank, reading: HandReading, probes: tuple[float, ...], posts: str, keep_out: str = ""
) -> tuple[str, ...]:
    """Return what is to be said beside the answer to a reading; nothing of what was taken long ago.

    Parameters
    ----------
    bank : Bank
        Its limits.
    reading : HandReading
        Canonical units, taken.
    probes : tuple of float
        What probes in the electrolyte show now [degC].
    posts : str
        What whoever opens a cell now has to know of charger and gas; empty where nothing is to be said.
    keep_out : str
        Until when nobody goes in, in words; empty where people may.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 3, 200.0),),))
    >>> cautions(bank, HandReading("north", "temperature", 0.0, 0.0, {"": 40.5}), (), "")
    ('warm: the acid at 40.5 degC, from 38.0 degC on it needs more air or less current',)
    >>> cautions(bank, HandReading("north", "level", 0.0, 0.0, {"N1.1": 12.0}), (), "it charges")
    ('it charges',)
    """
    if reading.undo or reading.at - reading.taken_at > SAME_MINUTES:
        return ()
    said = []
    if posts and reading.kind in _OVER_OPEN_CELLS:
        said.append(posts)
    boiling = _boiling(bank, reading)
    if boiling:
        places = ", ".join(where or "the bank" for where in boiling)
        look = (
            "from outside feel whether the case is warmer than the others, read that cell's temperature and level, and "
            "lower the amps where it is warm"
        )
        look = f"nobody goes in to look {keep_out}, and nothing charges meanwhile" if keep_out else look
        said.append(f"boiling at {places}: violent gassing, or acid that is hot: {look}")
    said += _levels(reading)
    said += _only_words(bank, reading)
    warmths = dict(reading.values) if reading.kind == "temperature" else {"": reading.temperature}
    for where, value in warmths.items():
        if not isinstance(value, float | int):
            continue
        limit = bank.limits.temperature_case if measured_at(where) == "case" else bank.limits.temperature
        if bank.limits.temperature_warning <= value < limit:
            warning = bank.limits.temperature_warning
            what = f"{where or 'the acid'} at {value:.1f} degC, from {warning:.1f} degC on"
            said.append(f"warm: {what} it needs more air or less current")
        apart = WARMTH_APART if where or reading.kind != "temperature" else WHOLE_APART
        if probes and max(abs(value - probe) for probe in probes) > apart:
            probe = max(probes, key=lambda each: abs(value - each))
            said.append(
                f"{where or 'the acid'} at {value:.1f} degC by hand stands far from the probe at {probe:.1f} degC: "
                "read both again, and see that the probe hangs in the acid"
            )
    return tuple(said)


def _levels(reading: HandReading) -> list[str]:
    """Say of levels in figures which cells are nearly bare, and which stand above any mark; bare plates are a flag."""
    if reading.kind != "level":
        return []
    told = {where or "the bank": value for where, value in reading.values.items() if not isinstance(value, str)}
    low = [f"{where} at {value:g} mm" for where, value in told.items() if BARELY_COVERED <= value < HARDLY_COVERED]
    high = [f"{where} at {value:g} mm" for where, value in told.items() if value > HIGHEST_MARK]
    marks = f"the mark mostly lies {LOWEST_MARK:g} mm to {HIGHEST_MARK:g} mm above the plates"
    said = []
    if low:
        said.append(
            f"{', '.join(low)}: the plates are hardly covered, {marks}: add distilled water, no acid, until they are "
            "well covered, and fill to the mark only after the charge"
        )
    if high:
        said.append(
            f"{', '.join(high)}: {marks}: add nothing, and where it stands above its own mark note it as over-mark: "
            "acid expands as it charges and would spill"
        )
    return said


def _only_words(bank: Bank, reading: HandReading) -> list[str]:
    """Say to whoever tells in words that water was added, or that plates are covered, how that is noted to count."""
    told: dict[str, list[str]] = {}
    for where, words in _in_words(bank, reading):
        for kind in level_put_right(words):
            told.setdefault(kind, []).append(where)
    if not told:
        return []
    as_in = {"level": "10mm", "water": "300ml"}
    shown = []
    for kind, places in told.items():
        values = " ".join(f"{where}={as_in[kind]}" if where else as_in[kind] for where in dict.fromkeys(places))
        shown.append(f"`revival record {kind} {bank.id} {values}`")
    return [f"of level and water only figures count: note what you read or poured as in {' and '.join(shown)}"]


def _boiling(bank: Bank, reading: HandReading) -> list[str]:
    """Return where somebody saw a cell boil, whether it was noted as seen or in a sentence."""
    # Of acid that boils over the trip says what is done.
    return [w for w, words in _in_words(bank, reading) if boils(words) and PUSHED_OUT not in dangers(words)]


def _in_words(bank: Bank, reading: HandReading) -> list[tuple[str, str]]:
    """Return what was seen or noted, by the places that it names."""
    if reading.kind not in ("seen", "note"):
        return []
    said = [*((where, str(words)) for where, words in reading.values.items()), ("", reading.note)]
    return [part for where, words in said if words for part in located(where, words, bank.places)]
