"""The verdict from all evidence; and none where nothing was measured."""

from __future__ import annotations

from typing import Any

from bridge.commands.verdict import as_text
from rules.step import standing
from tests.support.moments import Moment, bank_of, cells_of, labels

PROBE = "electrolyte_temperature"
HOUR = 3600.0


def after_a_round(bank: Any) -> Moment:
    """Held and rested for half a day; nothing was measured yet."""
    moment = Moment(bank)
    moment.begin(voltage=2.0 * bank.cells, current=0.0, **{PROBE: 25.0})
    moment.pass_time(600.0, voltage=2.3 * bank.cells, current=8.0)
    held = moment.memory.phase._replace(phase="resting", since=moment.at, hold_complete=True)
    moment.memory = moment.memory._replace(phase=held)
    moment.pass_time(12 * HOUR, every=60.0, current=0.0, voltage=2.1 * bank.cells)
    return moment


def words(moment: Moment) -> dict[str, str]:
    assert moment.derived is not None
    return {str(row["label"]): str(row["word"]) for row in moment.derived.verdict}


def test_an_untouched_bank_is_not_judged_and_nobody_is_sent_to_its_posts() -> None:
    for bank in (bank_of(), bank_of(strings=2, blocks=2, cells=6)):
        moment = after_a_round(bank)
        assert set(words(moment).values()) == {"not-judged"}
        said = as_text(*standing(bank, moment.memory))
        assert "NOT JUDGED: nothing was measured" in said and "grease" not in said and "REPEAT" not in said
        assert said.count("nothing was measured") == 1, "once is enough for a bank and all its blocks"
        assert f"  {', '.join(labels(bank))}  NOT JUDGED, for the same reason" in said


def test_what_was_read_under_charge_judges_nothing_whatever_stands_out_in_it() -> None:
    # A reading under charge is no figure for a verdict (stratified acid: common practice, no source).
    moment = Moment(bank_of(relay=False))
    moment.pass_time(HOUR, every=30.0, voltage=28.2, current=12.0, **{PROBE: 25.0})
    moment.act("start")
    weak: dict[str, float | str] = {**dict.fromkeys(cells_of(moment.bank), 1.250), "A1.2": "low"}
    moment.hand("gravity", weak, temperature=25.0)
    moment.pass_time(60.0)
    assert moment.act("finish", sure=True) == ""
    moment.pass_time(120.0)
    assert set(words(moment).values()) == {"not-judged"}
    said = as_text(*standing(moment.bank, moment.memory))
    assert "REPEAT" not in said and "which is no figure for a verdict" in said and "A1.2" in said
    moment.pass_time(12 * HOUR, every=60.0, current=0.0, voltage=25.3)
    moment.hand("gravity", dict.fromkeys(cells_of(moment.bank), 1.250), temperature=25.0)
    moment.pass_time(60.0)
    assert set(words(moment).values()) == {"repeat"}, "rested and read there is something to judge"


def test_blocks_that_are_not_judged_for_reasons_of_their_own_say_each_theirs() -> None:
    moment = after_a_round(bank_of())
    moment.hand("voltage", {"A1": 4.2})
    moment.hand("gravity", {f"A1.{n}": 1.262 for n in (1, 2, 3)}, temperature=26.7)
    said = as_text(*standing(moment.bank, moment.memory))
    assert "\n  A1  SCRAP: " in said and "\n  A2, A3, A4  NOT JUDGED: nothing was measured" in said
    assert said.count("nothing was measured") == 1


def test_what_was_measured_of_one_block_is_judged_and_the_others_are_not() -> None:
    moment = after_a_round(bank_of())
    moment.hand("voltage", {"A1": 4.2})
    moment.hand("gravity", {f"A1.{n}": 1.262 for n in (1, 2, 3)}, temperature=26.7)
    said = words(moment)
    assert (said["A1"], said["A2"], said["north"]) == ("scrap", "not-judged", "scrap")


def test_a_reversed_block_by_hand_is_scrap() -> None:
    moment = after_a_round(bank_of())
    moment.hand("voltage", {"A3": -5.8}, sure=True)
    assert words(moment)["A3"] == words(moment)["north"] == "scrap"


def test_gravities_read_after_topping_up_condemn_nothing_until_the_water_is_mixed() -> None:
    moment = after_a_round(bank_of())
    moment.hand("gravity", dict.fromkeys(cells_of(moment.bank), 1.262), temperature=26.7)
    moment.pass_time(HOUR, every=60.0)
    moment.hand("water", {"A2.1": 150.0})
    moment.pass_time(HOUR, every=60.0)
    moment.hand("gravity", {"A2.1": 1.205}, temperature=26.7)
    assert words(moment)["A2"] != "scrap"
    assert moment.derived is not None
    assert "water was added 1 h before" in str(moment.derived.verdict)
    moment.pass_time(48 * HOUR, every=60.0)
    moment.hand("gravity", {**dict.fromkeys(cells_of(moment.bank), 1.262), "A2.1": 1.205}, temperature=26.7)
    assert words(moment)["A2"] == "scrap", "mixed by now, it is a bad cell"


def test_every_block_is_in_the_verdict_whatever_stands_aside() -> None:
    bank = bank_of(strings=2, blocks=2, cells=6)
    moment = after_a_round(bank)
    assert moment.act("arrange", act="isolate", number=1, sure=True) == ""
    moment.hand("voltage", {"A1": -1.0}, sure=True)
    moment.pass_time(60.0)
    assert set(words(moment)) == {"north", *labels(bank)}
    assert (words(moment)["A1"], words(moment)["north"]) == ("scrap", "not-judged")


def test_m03_water_that_lies_unmixed_on_every_cell_is_told_once_and_not_cell_by_cell() -> None:
    for bank in (bank_of(), bank_of(strings=2, blocks=2, cells=6)):
        moment = after_a_round(bank)
        moment.hand("water", {"": 100.0})
        moment.pass_time(2 * HOUR, every=60.0)
        moment.hand("gravity", dict.fromkeys(cells_of(bank), 1.262), temperature=26.7)
        whole, *blocks = standing(bank, moment.memory)[0]
        told = [reason for reason in whole.reasons if "lies on the acid" in reason]
        assert len(told) == 1 and all(cell in told[0] for cell in cells_of(bank))
        for block in blocks:
            (mine,) = [reason for reason in block.reasons if "lies on the acid" in reason]
            assert f"{block.label}.1" in mine and all(
                other.label == block.label or f"{other.label}.1" not in mine for other in blocks
            )


def test_a_bank_that_was_tested_as_a_whole_names_no_block_that_fell() -> None:
    for bank in (bank_of(), bank_of(strings=2, blocks=2, cells=6)):
        moment = after_a_round(bank)
        assert moment.act("test") == ""
        moment.pass_time(15 * HOUR, every=60.0, voltage=2.0 * bank.cells, current=-0.05 * bank.capacity)
        moment.pass_time(600.0, every=60.0, voltage=1.74 * bank.cells)
        said = as_text(*standing(bank, moment.memory))
        assert "nobody watched its blocks: test it alone" in said and "another block fell" not in said, said
