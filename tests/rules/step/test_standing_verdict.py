"""The verdict with a person's word in front."""

from __future__ import annotations

from rules.bank.model import Bank, Block
from rules.step.current_verdict import standing
from rules.step.memory import initial
from rules.verdict import Given

BANK = Bank("north", ((Block("N1", 6, 200.0), Block("N2", 6, 200.0)),))
TESTED = {"N1": 190.0, "N2": 188.0}


def test_blocks_tested_alike_belong_in_one_string() -> None:
    assert standing(BANK, initial(), TESTED)[1].strings == (("N1", "N2"),)


def test_a_block_that_a_person_gives_as_scrap_goes_into_no_string_whatever_its_numbers_say() -> None:
    memory = initial()._replace(given=Given(0.0, "Ann", {"N2": "scrap"}, {}))
    verdicts, proposal = standing(BANK, memory, TESTED)
    assert {one.label: one.word for one in verdicts}["N2"] == "scrap"
    assert proposal.strings == ()
    assert proposal.spare == ("N1",)
