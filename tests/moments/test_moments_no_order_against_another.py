"""No list of orders holds two of which one forbids what the other asks, whatever was noted, in whatever order.

Every pair of dangers and damage, with a relay and without, before the checklist and in a round, and every sentence
that people read then: what each forbids and what each asks are told by marks. Common practice of the trade, no source.
"""

from __future__ import annotations

import itertools
import re

import pytest

from tests.support.moments import Moment, bank_of

NOTED = (
    "hot post at A2", "A2 sparks", "spark at post A1", "stinks of rotten eggs", "acid sprays from A3", "boiling over",
    "A3 leaks", "A4 cracked", "A3 bulges", "loose terminal on A2", "plates dry in A1", "A2 smokes",
    "the charger is hot",
    "hot post, spark, spray and smell at A2",
)  # fmt: skip
#: What forbids, what asks for it, and what makes an asking sentence one of later, or of one where that is allowed.
AGAINST = {
    "a switch in the room": (
        re.compile(r"touch no switch in (?:it|the room)|nobody goes in|let nobody in", re.I),
        re.compile(r"off(?: now,?)? at the wall|pull (?:the charger's|its) plug", re.I),
        re.compile(r"^From .* on, and not before"),
    ),
    "going in": (
        re.compile(r"nobody goes in|let nobody in", re.I),
        re.compile(
            r"walk round|read that cell|feel (?:every block|whether|from outside for)|measure every block", re.I
        ),
        re.compile(r"\bthen (?:look|walk)|from .* on\b|air the room (?:until|for an hour)", re.I),
    ),
    "the block back on charge": (
        re.compile(r"sparks or is hot: it never goes back on charge(?!, but where only a connection)"),
        re.compile(r"clean and tighten it"),
        re.compile(r"$^"),
    ),
}


def at_odds(sentences: list[str]) -> list[str]:
    found = []
    for what, (forbids, asks, later) in AGAINST.items():
        no = [each for each in sentences if forbids.search(each)]
        yes = [each for each in sentences if asks.search(each) and not later.search(each)]
        found += [f"{what}: {no[0]!r} against {yes[0]!r}"] if no and yes else []
    return found


@pytest.mark.parametrize("relay", [True, False])
@pytest.mark.parametrize("prepared", [True, False])
def test_no_list_holds_two_lines_of_which_one_forbids_what_the_other_asks(relay: bool, prepared: bool) -> None:
    complaints = []
    looked = 0
    for first, second in itertools.permutations(NOTED, 2):
        moment = Moment(bank_of(relay=relay))
        if prepared:
            moment.begin(voltage=24.8, current=0.0, electrolyte_temperature=25.0)
        moment.pass_time(120.0, every=30.0, voltage=28.0, current=6.0)
        for words in (first, second):
            moment.hand("seen", {"": words}, sure=True)
            moment.pass_time(20.0)
        last = [event.detail for event in moment.events if event.kind == "hand"][-1]
        heard = [str(each) for each in last.get("cautions", ())]  # type: ignore[attr-defined]
        assert moment.derived is not None
        sentences = [moment.derived.next_step, *moment.derived.then, *heard]
        looked += len(sentences)
        complaints += [f"{first!r}, {second!r}: {each}" for each in at_odds(sentences)]
    assert looked > 500
    assert not complaints, f"{len(complaints)} of {looked}:\n" + "\n".join(complaints[:12])


def test_lines_that_speak_against_each_other_are_found() -> None:
    assert at_odds(["Leave the room, touch no switch in it.", "Switch the charger off at the wall until it is done."])
    assert at_odds(["nobody goes in before 10:00", "read that cell's temperature and level"])
    assert at_odds(
        ["look for the block that smells, sparks or is hot: it never goes back on charge.", "clean and tighten it"]
    )
    assert not at_odds(["Let nobody in until 10:00.", "From 10:00 on, and not before, walk round with the checklist."])
