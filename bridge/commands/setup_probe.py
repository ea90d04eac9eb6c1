"""Where a bank's thermometers sit, as its owner says it: of all of them, or of one by its topic."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from bridge.commands.setup_answers import Asker, read_probe
from bridge.config import Loaded
from bridge.config.edit import drop_meter, set_key
from bridge.errors import UsageError
from bridge.listen.guess import Guess, told

#: The quantity whose limit hangs on where it is measured.
PROBED = "electrolyte_temperature"
#: What a number of degrees at a bank may be.
TEMPERATURES = (PROBED, "ambient_temperature")


class Probe(NamedTuple):
    """A thermometer of the file.

    Attributes
    ----------
    place : str
        Topic, and where in the payload.
    number : int
        Its mapping in the file, from 0.
    placed : str
        ``cell`` or ``case``; empty where the file does not say it.
    """

    place: str
    number: int
    placed: str


class Said(NamedTuple):
    """One answer: the thermometer it is for, empty for all of them, and where it sits."""

    place: str
    placed: str


def read_said(text: str) -> Said:
    """Return where a thermometer sits; before an equals sign stands which one.

    >>> read_said("case"), read_said("hut/probe /acid=cell")
    (Said(place='', placed='case'), Said(place='hut/probe /acid', placed='cell'))
    """
    place, _, placed = text.rpartition("=")
    return Said(" ".join(place.split()), read_probe(placed))


def taken_out(asker: Asker) -> list[str]:
    """Return the thermometers of which `--probe TOPIC=no` says that they are none of the bank's any more."""
    given = [text.rpartition("=") for text in asker.arguments.probe or ()]
    return [" ".join(place.split()) for place, _, said in given if place and said.strip().lower() in {"no", "none"}]


def said_of(asker: Asker) -> list[Said]:
    """Return every `--probe` that was given and says where one sits.

    Raises
    ------
    UsageError
        One of them is neither cell nor case.
    """
    said = []
    for given in asker.arguments.probe or ():
        if " ".join(given.rpartition("=")[0].split()) in taken_out(asker):
            continue
        try:
            said.append(read_said(given))
        except ValueError as error:
            raise UsageError(f"--probe {given!r}: {error}") from None
    return said


def placed_by_option(asker: Asker, place: str) -> str:
    """Return where the thermometer there sits by `--probe`; empty where no option says it."""
    said = said_of(asker)
    own = [one.placed for one in said if one.place == place] or [one.placed for one in said if not one.place]
    return own[-1] if own else ""


def named_probe(asker: Asker, place: str) -> str:
    """Return where the thermometer there sits by a `--probe` that names it; its owner says so that it is one."""
    return next((one.placed for one in reversed(said_of(asker)) if one.place == place), "")


def as_named(asker: Asker, one: Guess) -> Guess:
    """Return a thermometer as one of the electrolyte where `--probe` names it, whatever its own name says."""
    return one._replace(quantity=PROBED) if one.quantity in TEMPERATURES and named_probe(asker, told(one)) else one


def probes_of(loaded: Loaded, place: int) -> list[Probe]:
    """Return the thermometers of the file's bank, the `place`-th from 0."""
    banks = loaded.model.bank
    first = sum(len(bank.meter) for bank in banks[:place])
    return [
        Probe(f"{meter.topic} {meter.pointer or meter.name or ''}".strip(), number, meter.placed or "")
        for number, meter in enumerate(banks[place].meter, first)
        if meter.quantity == PROBED
    ]


def placed_anew(asker: Asker, text: str, bank: str, probes: Sequence[Probe], taken: Sequence[str]) -> str:
    """Return the text with each thermometer where the options say that it sits; every change is told.

    Parameters
    ----------
    bank : str
        Whose they are.
    taken : sequence of str
        Places of what was just taken: an option that names no thermometer is for these alone, where there are any.
    """
    known = ", ".join(probe.place for probe in probes) or "none"
    for place in taken_out(asker):
        gone = next((probe for probe in probes if probe.place == place), None)
        if gone is None:
            raise UsageError(f'--probe "{place}=no": no thermometer of {bank} in the file; its own: {known}')
        text = drop_meter(text, gone.number)
        probes = [
            probe._replace(number=probe.number - (probe.number > gone.number)) for probe in probes if probe is not gone
        ]
        asker.console.print(f"{place} is taken out of the file: it counts no more", markup=False)
    if not said_of(asker):
        return text
    for said in said_of(asker):
        if said.place and said.place not in {probe.place for probe in probes}:
            raise UsageError(
                f'--probe "{said.place}={said.placed}": no thermometer of {bank} in the file; its own: {known}; a new '
                f'one is taken by `revival setup --take "{said.place}"`, or asked about by a plain `revival setup`'
            )
    if not probes:
        raise UsageError(f"--probe: {bank} has no electrolyte thermometer in the file")
    new = {probe.place for probe in probes if probe.place in taken}
    named = {said.place for said in said_of(asker)}
    for probe in probes:
        placed = placed_by_option(asker, probe.place)
        if not placed or placed == probe.placed or (new and probe.place not in new | named):
            continue
        text = place_anew(asker, text, probe, placed)
    return text


def place_anew(asker: Asker, text: str, probe: Probe, placed: str) -> str:
    """Return the text with one thermometer elsewhere, and say so: which limit counts hangs on it."""
    before = f"was {probe.placed}" if probe.placed else "was not said"
    asker.console.print(f"{probe.place} sits now: {placed} ({before})", markup=False)
    return set_key(text, "[[bank.meter]]", probe.number, f'placed = "{placed}"')
