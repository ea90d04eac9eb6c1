"""The one sentence: complete, worst first, and honest about who can cut the charger."""

import ast
import itertools
import re
from pathlib import Path

import pytest

import rules
from rules.advice.sentences import BY_HAND, FLAGS, PHASE_ADVICE, action, advice

PHASES = {"idle", "waking", "reviving", "bulk", "absorbing", "finishing", "holding", "resting", "testing", "finished"}
NAMES = {
    "hazard": "over-temperature over-voltage over-current thermal-runaway gas cell-short-suspected relay-disobeys",
    "permit": "meter-silent meter-suspect mapping-suspect frozen-risk water-reserve charge-limit not-started "
    "hold-complete journal-lost permit-exhausted resume-due",
    "start": "level-wrong polarity-reversed checklist-open proof-test-missing",
    "chore": "temperature-high temperature-rising-fast water-due level-due gravity-due string-currents-due "
    "presence-due look-again imbalance not-reviving hopeless charger-limit-low charger-still-high "
    "other-source proof-test-due "
    "sensors-disagree relay-unconfirmed closed-while-tripped journal-degraded clock-untrusted "
    "bypassed test-end after-round",
}


def test_every_phase_and_every_flag_has_its_words() -> None:
    assert set(PHASE_ADVICE) == PHASES
    expected = {name: kind for kind, names in NAMES.items() for name in names.split()}
    assert {name: text.kind for name, text in FLAGS.items()} == expected
    assert sorted(text.severity_rank for text in FLAGS.values()) == list(range(len(FLAGS)))


@pytest.mark.parametrize("name", [name for name, text in FLAGS.items() if text.kind == "hazard"])
def test_a_hazard_on_a_bank_without_a_relay_says_switch_it_off_yourself(name) -> None:
    words = advice("holding", False, ["gravity-due", name, "water-due"], True, True)
    assert "switch the charger off" in words.lower()
    assert "is cut off" not in words


@pytest.mark.parametrize("name", [name for name, text in FLAGS.items() if text.kind == "hazard"])
def test_a_hazard_outranks_every_other_kind(name) -> None:
    for other in (other for other, text in FLAGS.items() if text.kind != "hazard"):
        assert advice("bulk", False, [other, name], True, False) == action(name)


def test_falling_volts_are_encouraging_while_it_revives_whatever_chore_is_due() -> None:
    for due in NAMES["chore"].split():
        assert "falling volts are encouraging" in advice("reviving", False, [due], True, True)


def test_a_bank_that_blocks_is_left_alone_and_gets_no_acid() -> None:
    words = advice("waking", False, [], False, True)
    assert "Leave it alone" in words
    assert "no acid" in words


def test_the_reason_against_acid_is_given_where_the_level_is_put_right() -> None:
    assert "never add acid, the sulfate" in action("level-wrong")


def test_absorbing_below_the_equalising_voltage_asks_for_more_volts() -> None:
    assert advice("absorbing", False, [], True, False).startswith("Raise the charger to the equalising voltage")


def test_normal_states_leave_the_word_to_the_phase() -> None:
    assert advice("idle", False, ["not-started"], False, False) == PHASE_ADVICE["idle"]
    assert advice("resting", False, ["hold-complete"], True, False) == PHASE_ADVICE["resting"]
    assert advice("idle", False, ["not-started", "checklist-open"], False, False) == action("checklist-open")


def test_after_a_complete_hold_without_a_relay_a_person_switches_off() -> None:
    assert advice("resting", False, ["hold-complete"], True, True).startswith(BY_HAND["permit"])


def test_who_has_started_is_not_told_to_start() -> None:
    words = advice("idle", False, [], False, True, started=True)
    assert "switch the charger on" in words and "give start" not in words
    assert "give start" in advice("idle", False, [], False, True)
    assert advice("waking", False, [], False, True, started=True) == PHASE_ADVICE["waking"]


def test_an_interruption_is_told_apart_before_and_after_waking() -> None:
    before, after = (advice("bulk", True, [], woken, False) for woken in (False, True))
    assert "comes back on" in before
    assert "nothing is lost" in after
    assert advice("resting", True, [], True, False) == PHASE_ADVICE["resting"]


def test_the_order_of_flags_does_not_matter_and_unknown_names_are_refused() -> None:
    names = ["imbalance", "meter-silent", "checklist-open"]
    assert len({advice("bulk", False, list(order), True, False) for order in itertools.permutations(names)}) == 1
    with pytest.raises(KeyError):
        advice("bulk", False, ["no-such-flag"], True, False)


@pytest.mark.parametrize(
    "words", [*PHASE_ADVICE.values(), *(text.action for text in FLAGS.values())], ids=[*PHASE_ADVICE, *FLAGS]
)
def test_each_phase_and_each_flag_has_one_whole_sentence(words) -> None:
    assert words[0].isupper() and words.endswith(".")
    assert not re.search(r"[.!?]\s", words), "one sentence, not two"
    assert "  " not in words


def test_every_name_that_the_rules_raise_has_words_and_every_word_is_raised() -> None:
    folder = Path(next(iter(rules.__path__)))
    literals = {
        node.value
        for path in folder.rglob("*.py")
        if path.name != "sentences.py"
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    assert set(FLAGS) <= literals
    keyed = set()
    for path in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name) and isinstance(node.ctx, ast.Store):
                name = node.slice.value if isinstance(node.slice, ast.Constant) else None
                if node.value.id in ("found", "raised", "limits", "against", "chores") and isinstance(name, str):
                    keyed.add(name)
    assert keyed <= set(FLAGS)
    assert len(keyed) > 20
