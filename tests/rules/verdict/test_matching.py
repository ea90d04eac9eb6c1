"""Blocks that belong together in one string."""

from __future__ import annotations

from typing import Any

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
    assert "N1 N3: counts as 178 Ah" in proposal.notes


def test_blocks_of_different_size_never_share_a_string() -> None:
    blocks = [block(label=f"A{n}", capacity=190.0) for n in range(3)] + [block(label="B", cells=6, capacity=190.0)]
    proposal = matching(blocks, 12)
    assert proposal.strings == ()
    assert set(proposal.spare) == {"A0", "A1", "A2", "B"}
    assert matching([block(label="C", cells=5, capacity=190.0)], 12).spare == ("C",)


def test_an_uneven_or_untested_string_says_so() -> None:
    uneven = matching([block(label="N1", capacity=190.0), block(label="N2", capacity=165.0)], 6)
    assert uneven.notes == ("N1 N2: uneven, it gives what its weakest block gives, 165 Ah",)
    untested = matching([block(label="N1", capacity=190.0), block(label="N2")], 6)
    assert "N2 not tested yet" in untested.notes[0]


def test_blocks_of_which_nothing_is_known_are_not_placed_and_equals_keep_their_order() -> None:
    unread = [block(label=f"N{n}", gravities=()) for n in (1, 2)]
    nothing = matching(unread, 6)
    assert (nothing.strings, nothing.spare) == ((), ("N1", "N2"))
    assert nothing.notes == ("N1 N2: neither tested nor read, so not placed yet",)
    alike = [block(label=f"N{n}", capacity=190.0) for n in (1, 2, 9, 10)]
    assert matching(alike, 6).strings == (("N1", "N2"), ("N9", "N10"))
    mixed = matching([*alike[:2], block(label="N3", gravities=())], 6)
    assert (mixed.strings, mixed.spare) == ((("N1", "N2"),), ("N3",))
