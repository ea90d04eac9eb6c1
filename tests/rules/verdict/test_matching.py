"""Blocks that belong together in one string."""

from __future__ import annotations

from typing import Any

import pytest

from rules.verdict.judgement import Evidence
from rules.verdict.matching import matching


def block(**known: Any) -> Any:
    return Evidence(**{"label": "N1", "cells": 3, "rated": 200.0, "gravities": (1.262, 1.265, 1.260), **known})


def test_blocks_go_together_by_capacity_and_the_rest_is_named() -> None:
    blocks = [
        block(label="N1", capacity=180.0),
        block(label="N2", capacity=100.0, previous=98.0),
        block(label="N3", capacity=178.0),
        block(label="N4", capacity=60.0),
        block(label="N5", capacity=104.0, previous=103.0),
        block(label="N6", capacity=100.0, gravities=(1.25, 1.25, 1.25), previous=98.0),
    ]
    proposal = matching(blocks, 6)
    assert proposal.strings == (("N1", "N3"), ("N5", "N2"))
    assert proposal.spare == ("N6",)
    assert any(note.startswith("N4 is left out: gives 30 %") for note in proposal.notes)
    dead = matching([block(label="N4", capacity=60.0, faults=("cell N4.1 reversed",))], 6)
    assert dead.notes == ("N4 is left out: cell N4.1 reversed",)
    assert "N1 N3: counts as 178 Ah" in proposal.notes


def test_blocks_of_different_size_never_share_a_string() -> None:
    blocks = [block(label=f"A{n}", capacity=190.0) for n in range(3)] + [block(label="B", cells=6, capacity=190.0)]
    proposal = matching(blocks, 12)
    assert proposal.strings == ()
    assert set(proposal.spare) == {"A0", "A1", "A2", "B"}
    odd = [block(label=name, cells=5, capacity=190.0) for name in "CD"]
    assert (matching(odd, 12).strings, matching(odd, 12).spare) == ((), ("C", "D"))


def test_an_uneven_or_untested_string_says_so() -> None:
    uneven = matching([block(label="N1", capacity=190.0), block(label="N2", capacity=165.0)], 6)
    assert uneven.notes == ("N1 N2: uneven, it gives what its weakest block gives, 165 Ah",)
    untested = matching([block(label="N1", capacity=190.0), block(label="N2")], 6)
    assert "N2 not tested yet" in untested.notes[0]


def test_blocks_of_which_nothing_is_known_are_not_placed_and_equals_keep_their_order() -> None:
    unread = [block(label=f"N{n}", gravities=()) for n in (1, 2)]
    nothing = matching(unread, 6)
    assert (nothing.strings, nothing.spare) == ((), ("N1", "N2"))
    assert nothing.notes == ("N1 N2: neither tested nor read at rest, so not placed yet",)
    alike = [block(label=f"N{n}", capacity=190.0) for n in (1, 2, 9, 10)]
    assert matching(alike, 6).strings == (("N1", "N2"), ("N9", "N10"))
    mixed = matching([*alike[:2], block(label="N3", gravities=())], 6)
    assert (mixed.strings, mixed.spare) == ((("N1", "N2"),), ("N3",))


def test_strings_are_cut_from_the_strongest_down_by_capacity_and_then_by_gravity() -> None:
    blocks = [
        block(label="A", capacity=170.0, gravities=(1.250, 1.252)),
        block(label="B", capacity=170.0, gravities=(1.262, 1.264)),
        block(label="C", capacity=190.0),
        block(label="D", capacity=180.0),
        block(label="E", capacity=165.0),
    ]
    proposal = matching(blocks, 6)
    assert (proposal.strings, proposal.spare) == ((("C", "D"), ("B", "A")), ("E",))
    assert proposal.notes == ("C D: counts as 180 Ah", "B A: counts as 170 Ah")
    assert matching(blocks, 9).strings == (("C", "D", "B"),) and matching(blocks, 9).spare == ("A", "E")
    assert matching(blocks, 3).strings == (("C",), ("D",), ("B",), ("A",), ("E",))
    assert matching(blocks, 18).strings == () and matching(blocks, 18).spare == ("C", "D", "B", "A", "E")


def test_the_strongest_string_is_the_one_whose_weakest_block_gives_most() -> None:
    # Three cells each and six cells each, for a bank of six: 175 in a string of its own beats 190 beside 165.
    blocks = [
        block(label="A", capacity=190.0),
        block(label="B", capacity=165.0),
        block(label="C", cells=6, capacity=175.0),
    ]
    assert matching(blocks, 6).strings == (("C",), ("A", "B"))
    assert matching([*blocks, block(label="D", capacity=60.0)], 6).strings == (("C",), ("A", "B"))


def test_a_block_that_was_read_but_not_tested_is_placed_behind_all_that_were() -> None:
    blocks = [
        block(label="A", gravities=(1.270, 1.270)),
        block(label="B", capacity=105.0, previous=104.0),
        block(label="C", gravities=(1.280, 1.280)),
        block(label="D", capacity=0.9, rated=1.0, gravities=()),
    ]
    proposal = matching(blocks, 6)
    assert proposal.strings == (("B", "D"), ("C", "A"))
    assert proposal.notes[-1] == "C A: C, A not tested yet, placed by gravity alone"
    tested = matching([block(label="A", capacity=170.0, gravities=()), block(label="B", gravities=())], 3)
    assert (tested.strings, tested.spare) == ((("A",),), ("B",)), "tested without a gravity is known well enough"


@pytest.mark.parametrize(("weakest", "uneven"), [(190.0, False), (171.0, False), (170.9, True), (160.0, True)])
def test_a_tenth_less_than_its_strongest_block_makes_a_string_uneven(weakest: float, uneven: bool) -> None:
    (note,) = matching([block(label="N1", capacity=190.0), block(label="N2", capacity=weakest)], 6).notes
    assert note == (
        f"N1 N2: uneven, it gives what its weakest block gives, {weakest:.0f} Ah"
        if uneven
        else f"N1 N2: counts as {weakest:.0f} Ah"
    )
