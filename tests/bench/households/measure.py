"""How well `listen` does on the invented houses: `python -m tests.bench.households.measure [dev] [-v]`.

Live mappings right, bank quantities found (live, or offered with the right quantity), and the bank being equalised.
A live mapping is right when place, quantity, unit, sign and bank agree with the house's own truth; everything else that
goes live is wrong, a second look at the same bank included. In houses whose truth tells no power none is counted.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import partial
from typing import NamedTuple

from bridge.listen.banks import Found, recognise
from bridge.listen.collect import Collector
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.guess import Guess
from bridge.listen.relays import relays
from bridge.listen.write import OFFERED
from bridge.message import Message
from bridge.units import compile_unit
from rules.bank import QUANTITIES
from tests.bench.households.homes_dev import DEVELOPMENT
from tests.bench.households.homes_fresh import FRESH_A
from tests.bench.households.homes_fresh_c import FRESH_C
from tests.bench.households.homes_fresh_e import FRESH_E
from tests.bench.households.homes_fresh_f import FRESH_F
from tests.bench.households.homes_fresh_g import FRESH_G
from tests.bench.households.homes_fresh_h import FRESH_H
from tests.bench.households.homes_fresh_hard import FRESH_B
from tests.bench.households.homes_fresh_i import FRESH_I
from tests.bench.households.homes_fresh_j import FRESH_J
from tests.bench.households.homes_fresh_k import FRESH_K
from tests.bench.households.homes_fresh_l import FRESH_L
from tests.bench.households.homes_fresh_m import FRESH_M
from tests.bench.households.homes_fresh_n import FRESH_N
from tests.bench.households.homes_fresh_o import FRESH_O
from tests.bench.households.homes_fresh_ordinary import FRESH_D
from tests.bench.households.homes_fresh_p import FRESH_P
from tests.bench.households.homes_fresh_q import FRESH_Q
from tests.bench.households.homes_held import HELD
from tests.bench.households.homes_mixed import MIXED_DEVELOPMENT, MIXED_HELD
from tests.bench.households.homes_strangers import STRANGERS
from tests.bench.households.variants import CHANGES, Change
from tests.bench.households.world import House, Truth


class Score(NamedTuple):
    """Counts of one house."""

    name: str
    live: int
    right: int
    true: int
    found: int
    found_live: int
    offered: int
    equalised: bool
    wrong: tuple[str, ...]
    missed: tuple[str, ...]


def hear(house: House) -> tuple[list[Found], set[str]]:
    """What is recognised, and where the likeliest relay tells its state."""
    collector = Collector()
    for row in house.messages():
        collector.take(
            Message(str(row["topic"]), str(row["payload"]).encode(), float(str(row["t"])), bool(row["retain"]))
        )
    found = recognise(collector.sources)
    likeliest = relays(collector.switches, found)[:1]
    return found, {f"{one.state_topic} {one.state_pointer}".strip() for one in likeliest}


def score(make: Callable[[], House]) -> Score:
    """One house."""
    house = make()
    truths = house.truths()
    power_told = any(truth.quantity == "power" for truth in truths.values())
    found, relay = hear(house)
    owner = {}
    for bank in found:
        voltage = bank.voltage
        truth = None if voltage is None else truths.get(_place(voltage))
        owner[bank.name] = truth.bank if truth is not None and truth.quantity == "voltage" else None
    right, live, wrong, got, got_live, offered = 0, 0, [], set(), set(), 0
    for bank in found:
        for one in bank.guesses:
            truth = truths.get(_place(one))
            if one.quantity == "power" and not power_told:
                continue
            good = truth is not None and _alike(truth.quantity) == _alike(one.quantity)
            if one.sure >= SURE_ENOUGH:
                live += 1
                if good and truth is not None and owner[bank.name] == truth.bank and _same(one, truth):
                    right += 1
                    got_live.add(_place(one))
                else:
                    wrong.append(f"{_place(one)} as {one.quantity} {one.unit} {one.sign}: {'; '.join(one.reasons)}")
            elif one.sure >= OFFERED:
                offered += 1
            if good and one.sure >= OFFERED:
                got.add(_place(one))
    for place, truth in truths.items():
        if truth.quantity == "relay_state" and place in relay:
            got.add(place)
    equalised = any(
        owner[bank.name] == house.equalised and bank.voltage is not None and bank.voltage.sure >= SURE_ENOUGH
        for bank in found
    )
    missed = tuple(place for place in truths if place not in got)
    return Score(
        house.name, live, right, len(truths), len(got), len(got_live), offered, equalised, tuple(wrong), missed
    )


def _alike(quantity: str) -> str:
    """A cell of two volts and half of a bank are blocks as well: whoever wrote the truth chose the word."""
    return "block_voltage" if quantity in {"cell_voltage", "midpoint_voltage"} else quantity


def _place(one: Guess) -> str:
    return f"{one.source.topic} {one.source.at}".strip()


def _same(one: Guess, truth: Truth) -> bool:
    """Unit and sign as the truth has them; Homie and SenML bring their own unit."""
    if one.sign != truth.sign:
        return False
    if not truth.unit or not one.unit or one.source.style in {"homie", "senml"}:
        return True
    canonical = QUANTITIES[one.quantity].unit
    return compile_unit(one.unit, canonical) == compile_unit(truth.unit, canonical)


def _changed(make: Callable[[], House], change: Change) -> House:
    return change(make())


def main(words: list[str]) -> None:
    """Print totals; with -v the houses one by one (never for those held out)."""
    groups = {
        "dev": DEVELOPMENT,
        "mixed": MIXED_DEVELOPMENT,
        "strangers": STRANGERS,
        "fresh": FRESH_A,
        "fresh hard": FRESH_B,
        "fresh c": FRESH_C,
        "fresh ordinary": FRESH_D,
        "fresh e": FRESH_E,
        "fresh f": FRESH_F,
        "fresh g": FRESH_G,
        "fresh h": FRESH_H,
        "fresh i": FRESH_I,
        "fresh j": FRESH_J,
        "fresh k": FRESH_K,
        "fresh l": FRESH_L,
        "fresh m": FRESH_M,
        "fresh n": FRESH_N,
        "fresh o": FRESH_O,
        "fresh p": FRESH_P,
        "fresh q": FRESH_Q,
        "held": HELD,
        "mixed held": MIXED_HELD,
    }
    groups |= {
        change.__name__: tuple(
            partial(_changed, make, change) for make in (*DEVELOPMENT, *STRANGERS, *FRESH_A, *MIXED_DEVELOPMENT[:8])
        )
        for change in CHANGES
    }
    for name, makes in groups.items():
        if words and words[0] in groups and name not in words:
            continue
        scores = [score(make) for make in makes]
        if "-v" in words and "held" not in name:
            for one in scores:
                print(f"{one.name}: live {one.right}/{one.live}, found {one.found}/{one.true} ({one.found_live} live)")
                print(
                    *(f"  WRONG {line}" for line in one.wrong), *(f"  MISSED {line}" for line in one.missed), sep="\n"
                )
        live, right = sum(one.live for one in scores), sum(one.right for one in scores)
        true, found = sum(one.true for one in scores), sum(one.found for one in scores)
        by_itself = sum(one.found_live for one in scores)
        print(
            f"{name}: {len(scores)} houses, live right {right} of {live} ({100 * right / max(live, 1):.1f} %), "
            f"found {found} of {true} ({100 * found / true:.1f} %; {by_itself} of them live), "
            f"the bank being equalised in {sum(one.equalised for one in scores)}, "
            f"offered {sum(one.offered for one in scores)}"
        )


if __name__ == "__main__":
    main(sys.argv[1:])
