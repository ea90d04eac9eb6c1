"""What is told to people and when: trips at once and until somebody has acknowledged, all else once, chores daily."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.outlets.notices import (
    GONE_FOR,
    LASTS,
    MOST_WAITING,
    Ledger,
    again,
    begun,
    digest_day,
    due,
    folded,
    from_plain,
    only_of,
    plain,
    quiet,
    seen,
    told,
)
from bridge.settings import NotifySettings
from rules.events import Derived, Event, Flag

NOON = datetime(2026, 11, 25, 12, 0).timestamp()
MINUTE, HOUR, DAY = 60.0, 3600.0, 86400.0
USUAL = NotifySettings(repeat=900.0, digest=420, quiet=(1320, 390))
#: Every day's digest was told: what is due is something else.
TOLD = Ledger(digest="2999-01-01")


@pytest.fixture
def berlin(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A place whose clock is set forward in March and back in October."""
    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def tripped(at: float, hazard: str = "over-temperature", bank: str = "north") -> Event:
    return Event(bank, "trip", at, {"hazard": hazard, "value": 44.0, "limit": 43.3, "unit": "degC", "reason": "hot"})


def raised(at: float, flag: str = "meter-silent") -> Event:
    return Event("north", "flag-raised", at, {"flag": flag, "value": None, "limit": None, "reason": "no word"})


def cleared(at: float, flag: str = "meter-silent") -> Event:
    return Event("north", "flag-cleared", at, {"flag": flag, "after": 1.0})


def reset(at: float) -> Event:
    return Event("north", "command", at, {"name": "reset", "by": "Anna", "argument": {}})


def looked(at: float, taken_at: float, undo: bool = False) -> Event:
    return Event("north", "hand", at, {"kind": "seen", "taken_at": taken_at, "undo": undo})


def after(*events: Event, ledger: Ledger = TOLD) -> Ledger:
    for event in events:
        ledger = folded(ledger, event)
    return ledger


def next_due(ledger: Ledger, at: float, settled: bool = True) -> str:
    item = due(ledger, USUAL, at, settled)
    return "" if item is None else item.flag.name


def tell(ledger: Ledger, at: float, settled: bool = True) -> Ledger:
    item = due(ledger, USUAL, at, settled)
    assert item is not None
    return told(ledger, item, at)


def test_a_trip_is_due_at_once_with_value_and_limit_and_again_every_quarter_of_an_hour() -> None:
    ledger = after(tripped(NOON))
    item = due(ledger, USUAL, NOON, False)
    assert item is not None and (item.flag.value, item.flag.limit, item.flag.unit) == (44.0, 43.3, "degC")
    assert not again(ledger, item)
    ledger = told(ledger, item, NOON + 2)
    assert again(ledger, item)
    assert next_due(ledger, NOON + 2 + 899) == ""
    assert next_due(ledger, NOON + 2 + 900) == "over-temperature"


def test_a_reset_acknowledges() -> None:
    ledger = after(reset(NOON + MINUTE), ledger=tell(after(tripped(NOON)), NOON))
    assert next_due(ledger, NOON + DAY) == ""
    assert next_due(after(tripped(NOON + HOUR), ledger=ledger), NOON + HOUR) == "over-temperature", "the next is new"


def test_a_reset_that_was_refused_acknowledges_nothing() -> None:
    refused = Event("north", "refused", NOON + MINUTE, {"name": "reset", "why": "still there"})
    assert next_due(after(refused, ledger=tell(after(tripped(NOON)), NOON)), NOON + HOUR) == "over-temperature"


@pytest.mark.parametrize(
    ("taken", "undo", "acknowledged"), [(120.0, False, True), (-120.0, False, False), (0.0, False, False),
                                        (120.0, True, False)],
)  # fmt: skip
def test_only_a_look_taken_after_the_trip_acknowledges(taken: float, undo: bool, acknowledged: bool) -> None:
    ledger = tell(after(tripped(NOON)), NOON)
    ledger = after(looked(NOON + 300, NOON + taken, undo), ledger=ledger)
    assert (next_due(ledger, NOON + HOUR) == "") is acknowledged
    ledger = after(tripped(NOON + 2 * HOUR, "gas"), ledger=ledger)
    assert next_due(ledger, NOON + 2 * HOUR) in ("gas", "over-temperature"), "another hazard is told all the same"


def test_another_danger_noted_after_a_first_is_told_and_the_same_one_is_not_told_twice() -> None:
    def noted(at: float, reason: str) -> Event:
        told_of = {"hazard": "danger-noted", "value": None, "limit": None, "unit": "", "reason": reason}
        return Event("north", "trip", at, told_of)

    eggs, both = "somebody noted: smell of rotten eggs at A1", "somebody noted: smoke at A2; before: rotten eggs at A1"
    ledger = folded(TOLD, noted(NOON, eggs))
    item = due(ledger, USUAL, NOON, True)
    assert item is not None and item.flag.reason == eggs
    ledger = told(ledger, item, NOON)
    assert due(folded(ledger, noted(NOON + 5.0, eggs)), USUAL, NOON + 10.0, True) is None
    later = due(folded(ledger, noted(NOON + 60.0, both)), USUAL, NOON + 61.0, True)
    assert later is not None and later.kind == "trip" and later.flag.reason == both


def test_what_a_person_noted_and_tripped_by_it_is_no_look_after_it() -> None:
    ledger = after(looked(NOON, NOON), tripped(NOON, "danger-noted"))
    assert next_due(tell(ledger, NOON), NOON + HOUR) == "danger-noted"


def test_a_trip_that_is_over_before_it_could_be_told_is_told_once() -> None:
    ledger = after(tripped(NOON), reset(NOON + HOUR))
    item = due(ledger, USUAL, NOON + 2 * HOUR, True)
    assert item is not None and (item.kind, item.over) == ("trip", NOON + HOUR)
    assert next_due(told(ledger, item, NOON + 2 * HOUR), NOON + DAY) == ""


def test_a_bank_that_resumes_by_itself_is_told_of_no_longer_and_that_is_told_once() -> None:
    ledger = after(Event("north", "automatic-resume", NOON + HOUR, {}), ledger=tell(after(tripped(NOON)), NOON))
    assert next_due(ledger, NOON + 2 * HOUR) == "automatic-resume"
    assert next_due(tell(ledger, NOON + 2 * HOUR), NOON + 9 * HOUR) == ""


def test_a_permit_withdrawn_is_told_once_when_it_has_lasted_a_minute() -> None:
    ledger = after(raised(NOON))
    assert next_due(ledger, NOON + LASTS - 1) == ""
    assert next_due(ledger, NOON + LASTS) == "meter-silent"
    assert next_due(tell(ledger, NOON + LASTS), NOON + 9 * HOUR) == ""
    assert next_due(after(raised(NOON), cleared(NOON + 30)), NOON + HOUR) == "", "a start, or a beat that was missed"


def test_a_flag_that_comes_and_goes_is_told_again_only_after_an_hour_without_it() -> None:
    ledger = tell(after(raised(NOON)), NOON + LASTS)
    for turn in range(1, 20):
        ledger = after(cleared(NOON + turn * 300 + 100), raised(NOON + turn * 300 + 200), ledger=ledger)
        assert next_due(ledger, NOON + turn * 300 + 290) == ""
    ledger = after(cleared(NOON + 9000), raised(NOON + 9000 + GONE_FOR), ledger=ledger)
    assert next_due(ledger, NOON + 9000 + GONE_FOR + LASTS) == "meter-silent"


def test_what_went_while_the_link_was_lost_is_told_with_when_it_went() -> None:
    item = due(after(raised(NOON), cleared(NOON + HOUR)), USUAL, NOON + 2 * HOUR, True)
    assert item is not None and item.over == NOON + HOUR


@pytest.mark.parametrize("flag", ["not-started", "checklist-open", "gravity-due", "presence-due"])
def test_the_normal_course_and_chores_are_no_messages_of_their_own(flag: str) -> None:
    assert next_due(after(raised(NOON, flag)), NOON + HOUR) == ""


@pytest.mark.parametrize("flag", ["hydrogen-high", "other-source", "temperature-rising-fast", "test-end"])
def test_what_cannot_wait_for_the_digest_is_told_at_once(flag: str) -> None:
    assert next_due(after(raised(NOON, flag)), NOON) == flag


def test_that_a_bank_grows_warm_is_not_said_beside_its_trip() -> None:
    ledger = tell(after(tripped(NOON), raised(NOON, "temperature-high"), raised(NOON, "other-source")), NOON)
    assert next_due(ledger, NOON + 60) == "other-source"
    assert next_due(tell(ledger, NOON + 60), NOON + 120) == ""


def test_a_withdrawal_that_is_no_flag_is_told_once_until_the_permit_is_back() -> None:
    withdrawn = Event("north", "permit-withdrawn", NOON, {"reason": "restart"})
    ledger = after(withdrawn, withdrawn._replace(at=NOON + 5))
    ledger = tell(ledger, NOON + LASTS)
    assert next_due(ledger, NOON + HOUR) == ""
    assert next_due(after(Event("north", "permit-withdrawn", NOON, {"reason": "meter-silent"})), NOON + HOUR) == "", (
        "its flag tells it"
    )


def test_in_quiet_hours_only_trips_pass_and_the_rest_comes_after_them() -> None:
    night = datetime(2026, 11, 25, 23, 30).timestamp()
    morning = datetime(2026, 11, 26, 6, 30).timestamp()
    assert quiet(night, USUAL) and quiet(morning - 1, USUAL) and not quiet(morning, USUAL)
    ledger = after(raised(night), tripped(night + 60))
    assert next_due(ledger, night + 120) == "over-temperature"
    ledger = tell(ledger, night + 120)
    assert next_due(ledger, night + 300) == ""
    assert next_due(after(reset(night + 400), ledger=ledger), morning) == "meter-silent"


def test_before_the_clock_is_trusted_and_all_banks_have_spoken_only_trips_are_told() -> None:
    assert next_due(after(raised(NOON)), NOON + HOUR, settled=False) == ""
    assert next_due(after(raised(NOON), tripped(NOON)), NOON + HOUR, settled=False) == "over-temperature"


def test_a_clock_that_was_set_back_silences_no_trip() -> None:
    assert next_due(tell(after(tripped(NOON)), NOON), NOON - 5 * HOUR) == "over-temperature"


def test_a_new_service_is_told_what_is_up_and_nothing_of_what_was() -> None:
    hot = Flag("over-temperature", "hazard", NOON - HOUR, 44.0, 43.3, "degC", "hot", "Let it cool.")
    state = Derived("north", NOON, tripped=True, flags=(hot, Flag("gravity-due", "chore", NOON)))
    ledger = begun(17, [state], NOON, USUAL)
    assert ledger.row == 17
    assert next_due(ledger, NOON) == "over-temperature"
    assert next_due(tell(ledger, NOON), NOON + 60) == "", "no digest before its hour"


def test_what_a_state_told_while_the_journal_did_not_store_is_not_told_again_from_its_events() -> None:
    hot = Flag("over-temperature", "hazard", NOON, 44.0, 43.3, "degC", "hot", "Let it cool.")
    full = Flag("journal-degraded", "permit", NOON, reason="disk full")
    ledger = seen(TOLD, [Derived("north", NOON, tripped=True, flags=(hot, full))])
    ledger = tell(tell(ledger, NOON + LASTS), NOON + LASTS)
    ledger = after(tripped(NOON), raised(NOON, "journal-degraded"), ledger=ledger)
    assert next_due(ledger, NOON + 2 * LASTS) == ""


def test_a_bank_that_is_watched_no_longer_is_forgotten() -> None:
    ledger = after(tripped(NOON), raised(NOON), tripped(NOON, bank="south"))
    assert next_due(only_of(ledger, ["south"]), NOON + HOUR) == "over-temperature"
    assert next_due(only_of(ledger, []), NOON + HOUR) == ""


def test_what_waits_is_bounded() -> None:
    ledger = TOLD
    for number in range(MOST_WAITING + 50):
        ledger = after(Event("north", "automatic-resume", NOON + number, {}), ledger=ledger)
    assert len(ledger.waiting) == MOST_WAITING
    assert ledger.waiting[-1].flag.since == NOON + MOST_WAITING + 49


@pytest.mark.usefixtures("berlin")
@pytest.mark.parametrize("first", [datetime(2026, 3, 27), datetime(2026, 10, 23)])
def test_the_digest_comes_once_a_day_also_where_an_hour_is_left_out_or_comes_twice(first: datetime) -> None:
    settings = NotifySettings(digest=150)  # half past two: not there in March, twice in October
    ledger = begun(0, [], first.timestamp(), settings)
    told_on = []
    for step in range(5 * 24 * 12):
        at = first.timestamp() + step * 300.0
        item = due(ledger, settings, at, True)
        if item is not None:
            told_on.append(item.flag.name)
            ledger = told(ledger, item, at)
    assert told_on == [(first + timedelta(days=day)).date().isoformat() for day in range(5)]


def test_days_without_a_link_leave_one_digest_and_a_clock_set_back_none_twice() -> None:
    ledger = begun(0, [], NOON, USUAL)
    late = NOON + 5 * DAY
    assert next_due(ledger, late) == digest_day(late, USUAL.digest)
    ledger = tell(ledger, late)
    assert next_due(ledger, late + 60) == ""
    assert next_due(ledger, NOON + DAY) == ""


EVENTS = st.one_of(
    st.builds(lambda name: ("trip", name), st.sampled_from(["gas", "over-temperature"])),
    st.builds(lambda name: ("up", name), st.sampled_from(["meter-silent", "frozen-risk", "hydrogen-high"])),
    st.builds(lambda name: ("down", name), st.sampled_from(["meter-silent", "frozen-risk", "hydrogen-high"])),
    st.sampled_from([("reset", ""), ("look", ""), ("restart", ""), ("withdrawn", ""), ("given", "")]),
)


def made(kind: str, name: str, at: float) -> Event:
    return {
        "trip": lambda: tripped(at, name),
        "up": lambda: raised(at, name),
        "down": lambda: cleared(at, name),
        "reset": lambda: reset(at),
        "look": lambda: looked(at, at),
        "withdrawn": lambda: Event("north", "permit-withdrawn", at, {"reason": "restart"}),
        "given": lambda: Event("north", "permit-given", at, {}),
    }[kind]()


@given(st.lists(st.tuples(EVENTS, st.floats(1.0, 4 * HOUR), st.booleans()), max_size=40))
def test_whatever_happens_trips_are_told_all_else_once_and_nothing_but_trips_in_quiet_hours(
    story: list[tuple[tuple[str, str], float, bool]],
) -> None:
    at, link = NOON, True
    ledger = begun(0, [], at, USUAL)
    once: list[tuple[str, float]] = []
    days: list[str] = []
    unacknowledged: dict[str, float] = {}
    for (kind, name), pause, link in story:
        at += pause
        if kind == "restart":
            ledger = from_plain(json.loads(json.dumps(plain(ledger))))
        else:
            ledger = folded(ledger, made(kind, name, at))
        if kind == "trip":
            unacknowledged.setdefault(name, at)
        elif kind == "reset" or (kind == "look" and unacknowledged and at > max(unacknowledged.values()) + 1.0):
            unacknowledged.clear()
        heard = set()
        while link and (item := due(ledger, USUAL, at, True)) is not None:
            assert item.kind == "trip" or not quiet(at, USUAL)
            if item.kind == "digest":
                days.append(item.flag.name)
            elif item.kind != "trip":
                once.append((item.flag.name, item.flag.since))
            heard.add(item.flag.name)
            ledger = told(ledger, item, at)
        assert not link or all(name in heard for name, since in unacknowledged.items() if since == at)
        if not link and unacknowledged and kind == "trip" and unacknowledged.get(name) == at:
            waits = due(ledger, USUAL, at, True)
            assert waits is not None and waits.kind == "trip"
    assert len(once) == len(set(once)), "never twice"
    assert len(days) == len(set(days)) and days == sorted(days)


@given(st.lists(st.tuples(EVENTS, st.floats(1.0, HOUR)), max_size=30))
def test_a_ledger_is_kept_word_for_word(story: list[tuple[tuple[str, str], float]]) -> None:
    at, ledger = NOON, begun(3, [], NOON, USUAL)
    for (kind, name), pause in story:
        at += pause
        if kind != "restart":
            ledger = folded(ledger, made(kind, name, at))
        item = due(ledger, USUAL, at, True)
        if item is not None and pause > HOUR / 2:
            ledger = told(ledger, item, at)
        kept = from_plain(json.loads(json.dumps(plain(ledger))))
        assert kept == ledger
        assert due(kept, USUAL, at, True) == due(ledger, USUAL, at, True)
