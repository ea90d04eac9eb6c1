"""All that `revival setup` took without being told it, where nobody is asked, and how it is said otherwise."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from bridge.commands.setup_answers import Asker, Assumption
from bridge.config import Loaded
from bridge.listen.banks import Found
from bridge.listen.evidence import SURE_ENOUGH, TAKEN
from bridge.listen.guess import told
from bridge.listen.write import placed_by_name
from bridge.words.equalising import beside
from bridge.words.spoken import spoken
from rules.bank import Bank

#: How the list begins.
HEAD = "assumed, for nobody was asked; the option behind it, given to `revival setup`, says it otherwise:"
#: What speaks for a number whose unit nobody says.
_UNSAID = frozenset(
    {"unit assumed", "only as millivolts", "only as milliamperes", "only kelvin", "Celsius by size"}
    | {"Celsius or Fahrenheit", "others say Fahrenheit"}
)

#: Option -> what was taken for it, in words.
_WORDS: dict[str, Callable[[str], str]] = {
    "flooded": lambda usual: "every cell has a cap for water (a sealed, gel or AGM battery is refused)",
    "site": lambda usual: f"the place is called {usual}",
    "block": lambda usual: f"one block is printed {usual}",
    "strings": lambda usual: f"{usual} string{'' if usual == '1' else 's'} in parallel",
    "blocks": lambda usual: f"{usual} block{'' if usual == '1' else 's'} in series in one string, by the volts heard",
    "charger": lambda usual: "its charger is not known, so the plan says little of volts and hours",
    "ac-voltage": lambda usual: "the volts of the charger's outlet are not known",
    "relay": lambda usual: "no relay: it is only watched, and nothing here cuts its charger",
    "relay-state": lambda usual: (
        "the relay tells its state nowhere"
        if usual == "none"
        else f"the relay tells its state at {usual}, heard beside its orders"
    ),
    "auto-off": lambda usual: "when the relay opens by itself is not known, so nothing is permitted to charge",
    "power-on": lambda usual: "how the relay stands when its own power comes back is not known",
    "plug": lambda usual: f"{usual} is what the charger draws, for it is told where its relay is",
    "page": lambda usual: f"the live page is at {usual}",
    "token": lambda usual: "whoever types the page's token enters readings and acts on the page",
    "degrees": lambda usual: "whoever reads it reads °C, millimetres and litres",
    "broker": lambda usual: f"the broker is yours: {usual}",
    "bank": lambda usual: f"the bank is called {usual}",
}
#: What is said otherwise by another word than the option's own.
_HOW = {
    "bank": "id below [[bank]] in the file",
    "plug": "take its [[bank.meter]] out of the file",
    "flooded": "--flooded no",
    "page": "--page none",
    "degrees": "--degrees degF",
    "token": "--token no",
}


def assumptions(asker: Asker, loaded: Loaded, found: Iterable[Found] = ()) -> list[str]:
    """Return one line for everything that was assumed: answers, units and places that nobody said, the usual limits.

    Parameters
    ----------
    found : iterable of Found
        The banks as they were heard, where their meters were taken just now.
    """
    banks = loaded.cabin.banks
    # what a bank is made of comes first: the rest is harm where that is wrong
    answered = sorted(asker.assumed, key=lambda one: one.option != "flooded")
    lines = [_answered(one, len(banks) > 1) for one in answered if one.option in _WORDS]
    for bank in found:
        whose = f"{bank.name}: " if len(banks) > 1 else ""
        lines += [f"{whose}{line}" for line in _of_meters(asker, bank)]
        lines += [f"{whose}{line}" for line in _usual(asker, banks[bank.name], loaded)] if bank.name in banks else []
    return lines


def _answered(one: Assumption, several: bool) -> str:
    whose = f"{one.bank}: " if several and one.bank else ""
    return f"{whose}{_WORDS[one.option](one.usual)} ({_HOW.get(one.option, f'--{one.option}')})"


def _of_meters(asker: Asker, bank: Found) -> Iterable[str]:
    """Say of each meter what it does not say itself: its unit, its degrees, where a thermometer sits."""
    for one in (one for one in bank.guesses if one.sure >= SURE_ENOUGH):
        names = {evidence.name for evidence in one.evidence}
        if names & _UNSAID and TAKEN not in names and not one.source.unit:
            yield f"{told(one)} counts in {one.unit} (unit in its [[bank.meter]] of the file)"
        if one.quantity == "electrolyte_temperature" and told(one) not in asker.placed:
            where = placed_by_name(one)
            other = "case" if where == "cell" else "cell"
            sits = "in a cell's acid" if where == "cell" else "on a case, which is stricter"
            yield f'{told(one)} sits {sits}, by its name (--probe "{told(one)}={other}")'


def _usual(asker: Asker, bank: Bank, loaded: Loaded) -> Iterable[str]:
    """Say which of what nobody is asked in the first evening is as usual."""
    arguments, limits = asker.arguments, bank.limits
    if arguments.equalise is None:
        said = f"it is equalised at {bank.equalise:g} V per cell, {bank.equalise * bank.cells:.4g} V"
        yield f"{said}{beside(bank)} (--equalise)"
    usual = {
        "temperature_limit": (f"acid {limits.temperature:.1f} degC", "--temperature-limit"),
        "case_limit": (f"case {limits.temperature_case:.1f} degC", "--case-limit"),
        "voltage_limit": (f"{limits.cell_voltage:g} V per cell", "--voltage-limit"),
        "current_limit": (f"{bank.string_current_limit:g} A per string", "--current-limit"),
    }
    open_ = [words for option, words in usual.items() if getattr(arguments, option) is None]
    if open_:
        what, how = ", ".join(words for words, _ in open_), ", ".join(option for _, option in open_)
        yield spoken(f"the usual limits count: {what} ({how})", loaded.cabin.degrees)
    hold, reference = bank.hold, bank.hydrometer_reference
    rest = (
        f"the hold lasts {hold.minimum:g} to {hold.maximum:g} h (hold = ...), somebody looks in every "
        f"{bank.presence:g} h (presence = ...), the hydrometer is made for {reference:.1f} degC "
        "(hydrometer_reference = ...): below [[bank]] in the file"
    )
    yield spoken(rest, loaded.cabin.degrees)
