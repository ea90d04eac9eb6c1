"""What the hand log and the capacity test say of each block."""

from __future__ import annotations

from typing import Any

from rules.bank.model import Bank, Block
from rules.events import HandReading
from rules.hand.log import HandLog, record
from rules.phase.memory import PhaseMemory
from rules.step.current_verdict import standing
from rules.step.memory import initial
from rules.verdict.capacity_test import CapacityTest
from rules.verdict.evidence import evidence_of
from rules.verdict.judgement import Evidence, judge

NORTH = Bank("north", (tuple(Block(f"N{n}", 3, 200.0) for n in range(1, 5)),))
DAY = 86400.0


def noted(*readings: Any, rested: float | None = 12.0) -> Any:
    log = HandLog()
    for kind, values in readings:
        reading = HandReading("north", kind, DAY, DAY, values, temperature=25.0)
        log = record(log, reading, 0.0, 0.0, rested is not None and rested < 6.0, rested)
    return log


def gravities(**odd: Any) -> Any:
    cells = {f"N{block}.{cell}": 1.262 for block in range(1, 5) for cell in range(1, 4)}
    return {**cells, **{name.replace("_", "."): value for name, value in odd.items()}}


def ended(*fell: Any, delivered: float = 172.0) -> Any:
    hours = delivered / 10.0
    return CapacityTest(0.0, 25.0, delivered=delivered, hours=hours, ended_at=1.0, reason="bank", fell_first=fell)


def words(whole: Evidence, blocks: tuple[Evidence, ...]) -> Any:
    return [judge(each).word for each in (whole, *blocks)]


def test_a_sound_bank_is_kept_block_by_block() -> None:
    # US Bureau of Reclamation FIST 3-6: replace under 80 percent; 172 of 200 Ah is 86 percent.
    assert words(*evidence_of(NORTH, noted(("gravity", gravities())), ended("N2"), {}, {})) == ["keep"] * 5


def test_a_block_that_never_came_down_gave_at_least_as_much_and_is_not_condemned() -> None:
    whole, blocks = evidence_of(NORTH, noted(("gravity", gravities())), ended("N2", delivered=90.0), {}, {})
    assert words(whole, blocks) == ["scrap", "repeat", "scrap", "repeat", "repeat"]
    assert "test it alone" in judge(blocks[0]).reasons[0]


def test_a_capacity_tested_alone_counts_before_that_of_the_bank() -> None:
    _, blocks = evidence_of(NORTH, noted(("gravity", gravities())), ended("N2", delivered=90.0), {"N1": 180.0}, {})
    assert judge(blocks[0]).word == "keep"


def test_one_weak_cell_is_named_and_its_block_repeated_or_scrapped() -> None:
    _, blocks = evidence_of(NORTH, noted(("gravity", gravities(N3_2=1.230))), ended("N3"), {}, {})
    assert "cell N3.2 low: gravity" in " ".join(judge(blocks[2]).reasons)
    whole, blocks = evidence_of(NORTH, noted(("gravity", gravities(N3_2=1.200))), ended("N3"), {}, {})
    assert judge(blocks[2]).word == judge(whole).word == "scrap"


def test_a_cell_that_does_not_float_the_hydrometer_is_never_kept() -> None:
    whole, blocks = evidence_of(NORTH, noted(("gravity", gravities(N4_1="low"))), ended("N4"), {}, {})
    assert judge(blocks[3]).word == judge(whole).word == "repeat"
    assert "N4.1 is too weak" in " ".join(judge(blocks[3]).reasons)


def test_readings_under_charge_or_too_early_do_not_count() -> None:
    hand = noted(("gravity", gravities()), ("voltage", {"N1": 4.2}), rested=1.0)
    whole, blocks = evidence_of(NORTH, hand, ended("N1"), {}, {})
    assert whole.gravities == () and blocks[0].resting is None
    assert judge(blocks[0]).word == "repeat"


def test_a_rested_block_two_volts_low_has_a_shorted_cell_and_so_has_its_bank() -> None:
    hand = noted(("gravity", gravities()), ("voltage", {"N1": 4.2, "N2": 6.3, "N3": 6.3, "N4": 6.3}))
    whole, blocks = evidence_of(NORTH, hand, ended("N1"), {}, {})
    assert words(whole, blocks) == ["scrap", "scrap", "keep", "keep", "keep"]
    assert judge(whole).reasons[0].startswith("N1: shorted cell")


def test_an_open_finding_or_a_test_stopped_by_hand_keeps_the_bank_in_doubt() -> None:
    hand = noted(("gravity", gravities()))
    whole, _ = evidence_of(NORTH, hand, ended("N1"), {}, {}, ["imbalance: string 2 takes 0.3 of its share"])
    assert judge(whole).word == "repeat"
    stopped = CapacityTest(0.0, 25.0, delivered=90.0, hours=9.0)
    whole, blocks = evidence_of(NORTH, hand, stopped, {}, {})
    assert whole.at_least and all(block.at_least for block in blocks)


def test_the_round_before_decides_between_repeat_and_derated() -> None:
    hand = noted(("gravity", gravities()))
    gained = evidence_of(NORTH, hand, ended("N1", delivered=130.0), {}, {"N1": 100.0})[1][0]
    settled = evidence_of(NORTH, hand, ended("N1", delivered=130.0), {}, {"N1": 129.0})[1][0]
    assert judge(gained).word == "repeat"
    assert judge(settled).word == "keep-derated"


def test_a_bank_known_only_as_a_whole_can_be_kept_derated() -> None:
    hand = noted(("gravity", gravities()))
    whole, blocks = evidence_of(NORTH, hand, ended(delivered=130.0), {}, {"north": 129.0})
    assert judge(whole).word == "keep-derated"
    assert {judge(block).word for block in blocks} == {"repeat"}


def test_hours_of_a_test_that_nobody_measured_condemn_nothing() -> None:
    hand = noted(("gravity", gravities()))
    gap = ended("N2", delivered=90.0)._replace(unknown_hours=6.0)
    whole, blocks = evidence_of(NORTH, hand, gap, {}, {})
    assert whole.at_least and all(block.at_least for block in blocks)
    verdict = judge(whole)
    assert verdict.word == "repeat"
    assert "while 6.0 h of the test were not measured: test it again" in verdict.reasons[0]
    # What it gave all the same is enough to keep it, and a minute missed is nothing.
    assert judge(evidence_of(NORTH, hand, ended("N2")._replace(unknown_hours=2.0), {}, {})[0]).word == "keep"
    assert not evidence_of(NORTH, hand, ended("N2")._replace(unknown_hours=0.02), {}, {})[0].at_least
    # A capacity that was tested on its own does not care.
    assert judge(evidence_of(NORTH, hand, gap, {"north": 80.0}, {})[0]).word == "scrap"


def test_a_test_that_was_stopped_is_told_apart_from_one_that_another_block_ended() -> None:
    stopped = ended(delivered=120.0)._replace(ended_at=None)
    assert (
        "until the test was stopped: test it to the end"
        in judge(evidence_of(NORTH, noted(("gravity", gravities())), stopped, {}, {})[0]).reasons[0]
    )


def test_how_a_bank_was_found_is_not_held_against_it_after_the_round() -> None:
    found = noted(("gravity", gravities(N1_1=1.150)), ("voltage", {"N1": 4.2}), rested=None)
    before, _ = evidence_of(NORTH, found, ended("N2"), {}, {})
    assert judge(before).word == "scrap", "read after the round it would be a bad cell"
    machine = PhaseMemory("resting", started_at=DAY + 1.0, hold_complete=True, hold_completed_at=DAY + 40 * 3600.0)
    memory = initial()._replace(hand=found, test=ended("N2"), phase=machine)
    verdicts, _ = standing(NORTH, memory)
    assert [verdict.word for verdict in verdicts] == ["repeat"] * 5
    assert "no rested gravity of its cells yet" in verdicts[0].reasons[0]
    # Nobody completed a hold: what was read while it stood still in between counts, what was found before does not.
    never = memory._replace(phase=machine._replace(hold_complete=False, hold_completed_at=None))
    assert standing(NORTH, never)[0][0].word == "repeat"
    assert (
        standing(NORTH, never._replace(phase=machine._replace(started_at=DAY - 1.0, hold_completed_at=None)))[0][0].word
        == "scrap"
    )
