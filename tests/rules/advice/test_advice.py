"""The one sentence: complete, worst first, and honest about who can cut the charger."""

from __future__ import annotations

import ast
import itertools
import re
from pathlib import Path
from typing import Any

import pytest

import rules
from rules.advice.charger_now import ChargerNow
from rules.advice.flag_words import AT_THE_POSTS, FLAGS, action
from rules.advice.next_step import advice
from rules.advice.phase_words import NOT_SETTLED, PHASE_ADVICE, START_NOW
from rules.advice.situation import Situation

NONE = ChargerNow()
CLOSED = ChargerNow("closed", "on", "current", told="allow", told_at=1795590000.0, flows=True, metered=True)
OPEN = ChargerNow("open", "off", "relay", 1795590000.0, "cut", 1795589990.0, metered=True)
PHASES = {"idle", "waking", "reviving", "bulk", "absorbing", "finishing", "holding", "resting", "testing", "finished"}
NAMES = {
    "hazard": "over-temperature over-voltage over-current thermal-runaway gas cell-short-suspected relay-disobeys "
    "fire-noted danger-noted",
    "permit": "meter-silent meter-suspect mapping-suspect frozen-risk water-reserve charge-limit not-started "
    "hold-complete journal-lost permit-exhausted resume-due polarity-reversed plates-bare case-damaged connection-bad "
    "journal-degraded storage-unproved opened-by-hand relay-link-lost nobody-listens "
    "auto-off-missing reading-over-limit",
    "start": "charging-unprepared level-wrong checklist-open proof-test-missing",
    "chore": "temperature-high temperature-rising-fast water-due level-due gravity-due string-currents-due "
    "presence-due look-again imbalance not-reviving hopeless charger-limit-low charger-still-high "
    "other-source proof-test-due "
    "sensors-disagree relay-unconfirmed closed-while-tripped retained-order retained-close clock-untrusted "
    "session-lost meter-floods "
    "bypassed test-end after-round hydrogen-high "
    "string-over-limit current-step zero-due meter-clock-wrong "
    "checklist-unconfirmed heat-unwatched gravities-doubted",
}


def test_every_phase_and_every_flag_has_its_words() -> None:
    assert set(PHASE_ADVICE) == PHASES
    expected = {name: kind for kind, names in NAMES.items() for name in names.split()}
    assert {name: text.kind for name, text in FLAGS.items()} == expected
    assert sorted(text.severity_rank for text in FLAGS.values()) == list(range(len(FLAGS)))


def situation(
    phase: str,
    now: ChargerNow,
    *,
    woken: bool = True,
    interrupted: bool = False,
    started: bool = True,
    complete: bool = True,
    doubt: str = "",
    unseen: Any = (),
    blocks: bool = False,
) -> Any:
    """A round under way, seen in full unless said otherwise."""
    return Situation(phase, interrupted, woken, started, complete, 2.0, now, doubt, unseen, blocks=blocks)


def said(flags: Any, phase: str = "bulk", now: ChargerNow = CLOSED, **more: Any) -> Any:
    """Everything that is said, in order."""
    steps = advice(situation(phase, now, **more), flags)
    return [steps.first, *steps.then]


@pytest.mark.parametrize("name", [name for name, text in FLAGS.items() if text.kind == "hazard"])
def test_a_hazard_on_a_bank_without_a_relay_says_switch_it_off_yourself(name: str) -> None:
    lines = said(["gravity-due", name, "water-due"], "holding", NONE)
    assert lines[0].startswith("No relay here: switch the charger off now")
    assert "is cut off" not in " ".join(lines)


@pytest.mark.parametrize("name", [name for name, text in FLAGS.items() if text.kind == "hazard"])
def test_a_hazard_outranks_every_other_kind(name: str) -> None:
    for other in (other for other, text in FLAGS.items() if text.kind != "hazard"):
        assert said([other, name], now=OPEN)[0] == said([name], now=OPEN)[0]


def test_falling_volts_are_encouraging_while_it_revives_whatever_chore_is_due() -> None:
    asks_off = {"other-source", "closed-while-tripped", "charger-still-high", "relay-unconfirmed", "test-end"}
    asks_off |= {"string-over-limit", "hydrogen-high"}
    for due in set(NAMES["chore"].split()) - AT_THE_POSTS - asks_off:
        assert "falling volts are encouraging" in said([due], "reviving")[-1]


def test_a_bank_that_blocks_is_left_alone_and_gets_no_acid() -> None:
    words = said([], "waking", woken=False, blocks=True)[0]
    assert "Leave it alone" in words
    assert "no acid" in words


def test_nobody_is_told_of_covered_plates_that_the_meters_deny() -> None:
    words = said([], "waking", woken=False)[0]
    assert words == NOT_SETTLED and "hardly any" not in words and "no acid" in words


def test_the_reason_against_acid_is_given_where_the_level_is_put_right() -> None:
    assert "never add acid, the sulfate" in action("level-wrong", OPEN)


def test_absorbing_below_the_equalising_voltage_asks_for_more_volts_unless_something_is_in_doubt() -> None:
    assert said([], "absorbing")[0].startswith("Raise the charger to the equalising voltage")
    for doubt in ("warm", "suspect"):
        assert said([], "absorbing", doubt=doubt)[0].startswith("Turn nothing up")
    assert "`revival record amps`" in said([], "absorbing", doubt="unseen", unseen=("current",))[0]


def test_normal_states_leave_the_word_to_the_phase() -> None:
    assert said(["not-started"], "idle", OPEN, started=False) == [START_NOW]
    assert said(["hold-complete"], "resting", OPEN) == [PHASE_ADVICE["resting"]]
    assert said(["not-started", "checklist-open"], "idle", OPEN, started=False)[0] == action("checklist-open", OPEN)


def test_after_a_complete_hold_without_a_relay_a_person_switches_off() -> None:
    assert said([], "resting", NONE)[0].startswith("No relay here: switch the charger off now")


def test_who_has_started_is_not_told_to_start() -> None:
    waiting = ChargerNow(metered=True)
    words = said([], "idle", waiting)[0]
    assert "charger is switched on at the wall" in words and "revival start" not in words
    assert "revival start" not in said([], "idle", waiting, started=False)[0], "without a relay it begins by itself"
    assert "revival start" in said([], "idle", waiting._replace(relay="open"), started=False)[0]
    assert said([], "waking", waiting, woken=False, blocks=True)[0] == PHASE_ADVICE["waking"]


def test_an_interruption_is_told_apart_before_and_after_waking() -> None:
    quiet = CLOSED._replace(state="unseen", by="", flows=False)
    before, after = (said([], "bulk", quiet, woken=woken, interrupted=True)[0] for woken in (False, True))
    assert "falls back" in before
    assert "nothing is lost" in after
    assert said([], "resting", OPEN, interrupted=True) == [PHASE_ADVICE["resting"]]
    assert said([], "bulk", interrupted=True)[0] == PHASE_ADVICE["bulk"], "it flows again: nothing stands still"


def test_the_order_of_flags_does_not_matter_and_unknown_names_are_refused() -> None:
    names = ["imbalance", "meter-silent", "checklist-open"]
    assert len({tuple(said(list(order))) for order in itertools.permutations(names)}) == 1
    with pytest.raises(KeyError):
        said(["no-such-flag"])


def test_what_is_done_at_the_posts_is_known_by_name() -> None:
    assert set(FLAGS) >= AT_THE_POSTS


@pytest.mark.parametrize(
    "words", [*PHASE_ADVICE.values(), *(text.action for text in FLAGS.values())], ids=[*PHASE_ADVICE, *FLAGS]
)
def test_each_phase_and_each_flag_has_one_whole_sentence(words: str) -> None:
    assert words[0].isupper() and words.endswith(".")
    assert not re.search(r"[.!?]\s", words), "one sentence, not two"
    assert "  " not in words


def test_every_name_that_the_rules_raise_has_words_and_every_word_is_raised() -> None:
    folder = Path(next(iter(rules.__path__)))
    literals = {
        node.value
        for path in folder.rglob("*.py")
        if path.name not in ("flag_words.py", "phase_words.py", "next_step.py")
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


def test_a_permit_that_only_warns_hides_neither_the_chores_nor_what_the_phase_asks_for() -> None:
    warns = said(["frozen-risk", "gravity-due"], "bulk", CLOSED._replace(told="allow"))
    assert warns[0].startswith("Warm the bank") and warns[-1] == PHASE_ADVICE["bulk"]
    assert any(line.startswith("Read the gravity") for line in warns)
    withheld = said(["frozen-risk", "gravity-due"], "bulk", CLOSED._replace(told="cut"))
    assert PHASE_ADVICE["bulk"] not in withheld and not any(line.startswith("Read the gravity") for line in withheld)


@pytest.mark.parametrize(
    ("now", "first"),
    [
        (CLOSED, "Switch the charger off at the wall: the charger is on: current flows into the bank."),
        (NONE, "No relay here: switch the charger off now, at the wall."),
        (
            ChargerNow("closed", told="cut", told_at=1795590000.0, metered=True),
            "Switch the charger off at the wall: the relay reports closed, so the charger may be on; no current is "
            "seen to flow.",
        ),
        (
            ChargerNow("disobeys", "on", "relay", told="cut", told_at=1795590000.0),
            "The charger is STILL ON: switch it off by hand now, at the wall.",
        ),
        (
            ChargerNow("unknown", told="cut", told_at=1795590000.0),
            "Switch the charger off at the wall: the relay was told to open at 2026-11-25T07:00Z and nothing has shown "
            "that it did; no meter shows the current.",
        ),
    ],
)
def test_the_order_to_switch_off_says_how_it_is_known_where_a_relay_might_have_done_it(
    now: ChargerNow, first: str
) -> None:
    assert said(["over-temperature"], "bulk", now)[0] == first
