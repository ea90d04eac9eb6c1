"""The five general laws of the decisive moments, over every combination of phase, relay, meters, warmth, flag, scale.

States are made through `rules.step` from banks out of cabin text; every sentence that bus, status, page and report can
show in them is collected and judged by rule, so that one added next year is judged too. What is true of a state is
what was fed in, not what the code says of it. The laws are common practice of the trade, no source.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter, defaultdict
from functools import cache
from pathlib import Path

import pytest

from tests.support.every_moment import (
    CONDITIONS,
    METERS,
    RELAYS,
    SCALES,
    Situation,
    on_status,
    on_the_bus,
    on_the_page,
    on_the_report,
    page_texts,
    situations,
)

#: Where hands and metal go to the posts, or a cell is opened.
POSTS = re.compile(
    r"\b(spanners?|clamps?|caps?|joints?|wires?|retorque|grease|tighten|terminals?|top every cell up|take (?:the|that) "
    r"block|every cell to just over|the leads)\b",
    re.I,
)
OFF_FIRST = re.compile(
    r"^(No relay here: switch the charger off now, at the wall|Switch the charger off at the wall|Switch off at the "
    r"wall whatever still feeds|The charger is STILL ON: switch it off by hand now, at the wall|When nothing charges "
    r"any more)[^.]*, air the room for an hour, then "
)
STILL_AIRING = re.compile(r"^Keep the charger off and air the room until .*, then ")
OVER_CELLS = "oggles on, no metal tool over the cells, no spark"
#: What must not be said of something nobody saw.
NO_CURRENT = re.compile(r"\b0\.0 A\b|\b0(?:\.0)? Ah\b|nothing is charging|nothing flows|0\.0 kWh", re.I)
CUT_OFF = re.compile(r"charging (?:was |is )?stopped|charger is (?:cut )?off\b|is cut off|relay is open\b", re.I)
NO_RELAY = re.compile(r"charging (?:was |is )?stopped|cut off|charging (?:not )?allowed|relay (?:open|closed)\b", re.I)
#: More volts, more amps, or patience with a charge that goes on.
ENCOURAGING = re.compile(
    r"\braise\b|turn (?!nothing)[^.:;]* up\b|leave (?:it alone|the volts)|be glad|let it take|keep it at|"
    r"switch the charger (?:back )?on\b|comes back on|charge on\b|see that charging goes on|nothing is lost",
    re.I,
)
NEGATED = re.compile(r"(?:do not|never|nor) (?:raise|turn)[^.:;]*", re.I)

#: What two sentences of one screen may claim or ask; and which pairs cannot both be right.
CLAIMS = {
    "on": re.compile(r"charger is (?:STILL )?ON\b|charger is on:", re.I),
    "off": re.compile(r"charger is (?:cut )?off\b|keep the charger off", re.I),
    "switch-off": re.compile(r"switch (?:the charger|it) off", re.I),
    "switch-on": re.compile(r"switch the charger on|\braise the charger|turn the charger up", re.I),
    "leave": re.compile(r"leave it alone|let it take its amps|keep it at the equalising|leave the volts", re.I),
    "danger": re.compile(r"\bDanger\b"),
    "no-danger": re.compile(r"No danger seen"),
    "open": re.compile(r"relay reports open|relay was seen to open"),
    "closed": re.compile(r"relay reports closed|it reports closed"),
}
AGAINST = [
    ("on", "off"), ("off", "switch-off"), ("switch-off", "switch-on"), ("switch-off", "leave"), ("switch-on", "off"),
    ("danger", "no-danger"), ("danger", "leave"), ("danger", "switch-on"), ("open", "closed"),
]  # fmt: skip

#: With these up the answer to "is it safe?" is no: every danger, and what only asks a person to act because nothing
#: here can. With others it is not yes: whatever withholds the permit beside the course of a round and its papers.
NORMAL_OR_PAPER = frozenset({"not-started", "hold-complete", "checklist-open", "proof-test-missing"})
UNSAFE_CHORES = frozenset(
    {"other-source", "closed-while-tripped", "relay-unconfirmed", "hydrogen-high", "current-step"}
)
#: A string over its limit is no danger before it is so by a quarter, or is fed by others; safe is it never.
AMBER_CHORES = frozenset({"string-over-limit"})
#: So far over its limit it trips [1].
OVER_CURRENT = 1.25
#: What no screen says whose answer is yes: that current flows where it should not, that people keep away, or that a
#: charger which may be on is switched off.
NOT_BESIDE_YES = re.compile(
    r"switch (?:the charger |it )?off|end the capacity test|"
    r"STILL ON|whatever still feeds|still flows in|nothing here can stop|leave the room|"
    r"keep away|touch nothing electric|no switch in the room|pull the charger's plug|never charged again|"
    r"within its limit|how a shorted cell begins|\bnot safe\b|\bdanger\b(?! seen)",
    re.I,
)


@pytest.fixture(scope="module")
def every(tmp_path_factory: pytest.TempPathFactory) -> list[Situation]:
    """All of them, once."""
    return list(situations(tmp_path_factory.mktemp("cabins")))


@pytest.fixture(scope="module")
def said(every: list[Situation]) -> list[tuple[Situation, str, str]]:
    """Situation, surface, sentence; sentences in the scale of the situation on bus and status."""
    found = []
    for where in every:
        found += [(where, f"bus {key}", text) for key, text in on_the_bus(where).items()]
        found += [
            (where, "status", line.strip().removeprefix("next: ").removeprefix("then: ")) for line in on_status(where)
        ]
        if where.scale == "degC":
            found += [(where, "page", text) for text in page_texts(on_the_page(where))]
    # On paper the other scale's turn comes with every second state.
    plain = [one for one in every if not one.flag]
    for number, where in enumerate(plain):
        if number % 4 in (0, 3):
            found += [(where, "report", text) for text in on_the_report(where)]
    return found


@cache
def has(pattern: re.Pattern[str], text: str) -> bool:
    """Whether it is in the sentence; most sentences are read thousands of times."""
    return pattern.search(text) is not None


@cache
def encourages(text: str) -> bool:
    """Whether it speaks for more volts, more amps or patience."""
    return ENCOURAGING.search(NEGATED.sub("", text)) is not None


@cache
def contradictions(texts: tuple[str, ...]) -> tuple[int, tuple[str, ...]]:
    """Pairs looked at on one screen, and those that cannot both be right."""
    claims = [(text, {name for name, claim in CLAIMS.items() if has(claim, text)}) for text in texts]
    found = [
        f"{left}/{right}: {one} || {other}"
        for one, first in claims
        for other, second in claims
        for left, right in AGAINST
        if left in first and right in second
    ]
    return len(texts) ** 2, tuple(found)


def broken(complaints: list[str]) -> str:
    """A few of them, and how many."""
    return f"{len(complaints)} broken:\n" + "\n".join(complaints[:15])


def test_every_combination_is_there_and_counted(
    every: list[Situation], said: list[tuple[Situation, str, str]], capsys: pytest.CaptureFixture[str]
) -> None:
    combinations = {(one.phase, one.relay, one.meters, one.condition, one.scale) for one in every}
    assert len(combinations) == 10 * len(RELAYS) * len(METERS) * len(CONDITIONS) * len(SCALES)
    sentences = {text for _, _, text in said}
    with capsys.disabled():
        print(f"\n{len(every)} states, {len(said)} sentences read, {len(sentences)} of them different")
    assert len(every) > 9_000 and len(sentences) > 300


def test_law_1_nobody_is_sent_to_the_posts_while_current_may_flow(said: list[tuple[Situation, str, str]]) -> None:
    complaints = []
    asked: Counter[str] = Counter()
    for where, surface, text in said:
        if not has(POSTS, text) or OVER_CELLS in text:
            continue
        asked[surface.split()[0]] += 1
        if OFF_FIRST.match(text):
            continue
        aired = where.derived.safe_to_approach_at is None or where.derived.safe_to_approach_at <= where.derived.at
        if where.known_off and (aired or STILL_AIRING.match(text)):
            continue
        complaints.append(f"{where} {surface}: {text}")
    assert not complaints, broken(complaints)
    assert min(asked.values()) > 100 and len(asked) == 3


def test_law_2_no_text_claims_what_was_not_seen(said: list[tuple[Situation, str, str]]) -> None:
    complaints = []
    for where, surface, text in said:
        if not where.metered and where.meters != "by-hand" and where.condition != "silent" and has(NO_CURRENT, text):
            complaints.append(f"no current is seen: {where} {surface}: {text}")
        if where.relay == "none" and has(NO_RELAY, text):
            complaints.append(f"no relay: {where} {surface}: {text}")
        if not where.opened and has(CUT_OFF, text) and "whatever still feeds" not in text:
            complaints.append(f"nobody saw it open: {where} {surface}: {text}")
    assert not complaints, broken(complaints)


def test_law_2_a_relay_that_disobeys_is_said_to_leave_the_charger_on(every: list[Situation]) -> None:
    for where in (one for one in every if one.relay == "disobeys"):
        derived = where.derived
        assert derived.charger.startswith("The charger is STILL ON"), where
        if any(flag.kind == "hazard" and flag.name != "gas" for flag in derived.flags):
            assert derived.next_step.startswith("The charger is STILL ON: switch it off by hand now"), (
                where,
                derived.next_step,
            )


def test_law_3_no_advice_against_the_hazard(said: list[tuple[Situation, str, str]]) -> None:
    complaints = [
        f"{where} {surface}: {text}"
        for where, surface, text in said
        if not where.calm and where.flag != "charger-limit-low" and encourages(text)
    ]
    assert not complaints, broken(complaints)
    assert any(encourages(text) for where, _, text in said if where.calm), "it is said elsewhere"


def test_law_3_the_charger_is_not_called_low_while_anything_is_in_doubt(every: list[Situation]) -> None:
    raised = [
        one for one in every if not one.flag and any(flag.name == "charger-limit-low" for flag in one.derived.flags)
    ]
    assert raised and all(one.calm for one in raised)


def test_law_4_the_stricter_limit_is_the_one_shown(every: list[Situation]) -> None:
    hot = [one for one in every if one.condition == "hot" and one.meters == "all"]
    assert hot
    for where in hot:
        limit = "104.0 °F" if where.scale == "degF" else "40.0 °C"
        assert limit in on_the_bus(where)["safety/trip-reason"], where
        headline, *below = on_status(where)[1:]
        # Of more than two causes the others stand each on its own line, right under the headline.
        under = itertools.takewhile(lambda line: line.startswith("  and "), below)
        assert any(limit in line for line in (headline, *under)), where
        assert on_the_page(where)["site"]["hot"] == 40.0


def test_law_5_an_old_figure_is_shown_with_its_age(every: list[Situation]) -> None:
    by_hand = [one for one in every if one.meters == "by-hand" and one.condition == "calm" and not one.flag]
    assert by_hand
    for where in by_hand:
        figures = next(line for line in on_status(where) if "V per cell" in line)
        assert figures.count("60 min old)") == 3 and figures.count("(by hand at ") == 3, figures
        assert on_the_page(where)["freshness"]["electrolyte_temperature"] >= 3600.0
    for where in (one for one in every if one.condition == "silent" and not one.flag):
        figures = next(line for line in on_status(where) if "V per cell" in line)
        assert "? V per cell" in figures and "? A" in figures, figures


def test_no_sentence_contradicts_another_on_the_same_screen(said: list[tuple[Situation, str, str]]) -> None:
    screens: dict[tuple[str, str], list[str]] = defaultdict(list)
    for where, surface, text in said:
        screens[str(where), surface.split()[0]].append(text)
    complaints = []
    pairs = 0
    for (place, surface), texts in screens.items():
        looked, found = contradictions(tuple(dict.fromkeys(texts)))
        pairs += looked
        complaints += [f"{place} {surface}: {each}" for each in found]
    assert pairs > 100_000
    assert not complaints, broken(complaints)


def test_is_it_safe_agrees_with_flags_relay_and_current(every: list[Situation]) -> None:
    answers: Counter[str] = Counter()
    for where in every:
        shown = on_the_page(where)
        raised = {flag["name"]: flag["kind"] for flag in shown["flags"]}
        answers[shown["safe"]] += 1
        dangers = [name for name, kind in raised.items() if kind == "hazard" or name in UNSAFE_CHORES]
        by_far = [flag for flag in shown["flags"] if flag["name"] in AMBER_CHORES and (
            flag["value"] > OVER_CURRENT * flag["limit"] or "others feed it" in flag["reason"])]  # fmt: skip
        dangers += [flag["name"] for flag in by_far]
        against = dangers + [
            name for name, kind in raised.items()
            if (kind in ("permit", "start") and name not in NORMAL_OR_PAPER) or name in AMBER_CHORES
        ]  # fmt: skip
        if where.relay == "disobeys" or (where.opened and where.flows):
            # Amps that somebody read before the relay opened say nothing of what flows since.
            known = ("no", "not-yet") if where.meters == "by-hand" and where.relay.startswith("open") else ("no",)
            assert shown["safe"] in known, (where, "current flows that was to be cut")
        if against:
            assert shown["safe"] in ("no", "not-yet", "unknown"), (where, against)
        if dangers:
            assert shown["safe"] == "no", (where, dangers)
        if shown["safe"] == "not-yet":
            assert shown["level"] == "permit" and shown["safe_why"], where
        if shown["safe"] == "no" and shown["lock"]["latched"] == []:
            assert set(shown["unsafe"]) & set(against), (where, shown["unsafe"], against)
            assert "No danger seen" not in shown["standing"], where
        if shown["safe"] in ("yes", "warm"):
            assert shown["level"] in ("safe", "chore") and not shown["unsafe"], where
    assert min(answers[answer] for answer in ("yes", "warm", "not-yet", "no")) > 50, answers


def test_nothing_on_a_screen_speaks_against_its_answer_to_is_it_safe(every: list[Situation]) -> None:
    complaints = []
    for where in every:
        shown = on_the_page(where)
        if shown["safe"] in ("yes", "warm"):
            said = [*page_texts(shown), *on_status(where), *on_the_bus(where).values()]
            complaints += [f"{where}: {text}" for text in said if has(NOT_BESIDE_YES, text)]
    assert not complaints, broken(complaints)


def test_one_imperative_stands_first_and_the_rest_is_a_list(every: list[Situation]) -> None:
    for where in every:
        first, then = where.derived.next_step, where.derived.then
        assert first and not re.search(r"\. [A-Z]", first.replace("Goggles on", "goggles on")), (where, first)
        assert first not in then and len(set(then)) == len(then), (where, then)


def test_no_scale_but_the_owners(said: list[tuple[Situation, str, str]]) -> None:
    other = {"degC": re.compile(r"degC|degF|°F"), "degF": re.compile(r"degC|degF|°C")}
    wrong = [
        f"{where} {surface}: {text}"
        for where, surface, text in said
        if surface != "page" and "revival record" not in text and has(other[where.scale], text)
    ]
    assert not wrong, broken(wrong)


def test_a_moment_is_said_by_the_clock_of_the_place(said: list[tuple[Situation, str, str]], tmp_path: Path) -> None:
    wrong = [
        f"{where} {surface}: {text}"
        for where, surface, text in said
        if surface != "page" and re.search(r"T\d\d:\d\dZ", text)
    ]
    assert not wrong, broken(wrong)
