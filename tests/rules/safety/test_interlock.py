"""Permit and latch, read-back, proof and resume, through the one door. The rules of interlocks: common practice."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import pytest

from bridge.journal.snapshot import freeze, thaw
from rules.advice import FLAGS
from rules.bank.model import AutomaticResume, Bank, Limits, Meter, Relay
from rules.events import Command, Event, Order, moment
from rules.safety import DEGRADED, PROVED, UNPROVED, interlock
from rules.safety.interlock import DAY, RETURNS_PER_DAY, Finding, Interlock, Latch, Seen, decide
from rules.safety.read_back import REPEAT_SLOWLY
from rules.step.memory import Memory
from rules.step.on_command import INTERNAL
from tests.support.fold import CASE, PROBE, START, Fold, make_bank, ready

GOOD = {"voltage": 28.0, "current": 20.0, PROBE: 25.0}
AT_REST = {"voltage": 26.0, "current": 0.0, PROBE: 25.0}
SILENT_RELAY = Relay(reports_state=False, auto_off=90.0)


def actions(orders: Sequence[Order]) -> list[str]:
    return [order.action for order in orders]


def hot(fold: Fold, meter: str = PROBE) -> list[str]:
    """Two hot samples: a trip."""
    fold.read(meter, 43.4)
    fold.at += 5.0
    return actions(fold.read(meter, 43.4))


def cool(fold: Fold, minutes: float = 1, *, closed: float = 0.0, **values: float) -> list[str]:
    """Time passes with the relay open and everything well."""
    fold.read("relay_state", closed)
    return actions(fold.wait(60 * minutes, every=10, **{**AT_REST, **values}))


# -------------------------------------------------------------------------------------- the permit


def test_the_first_order_is_the_cut_whatever_is_known() -> None:
    fold = Fold()
    assert actions(fold.wait(1, every=1, **GOOD)) == ["cut"]


def test_nothing_charges_before_a_person_starts() -> None:
    fold = Fold()
    assert actions(fold.wait(900, every=10, **GOOD)).count("allow") == 0
    assert fold.derived is not None and not fold.derived.charge_allowed


def test_a_start_needs_the_checklist_and_a_proof() -> None:
    fold = Fold()
    fold.wait(1, every=1, **AT_REST)
    assert fold.act("start") == "the start checklist is not confirmed; the relay was never proved"


@pytest.mark.parametrize("quantity", ["voltage", PROBE, "current"])
def test_silence_of_a_needed_meter_withdraws_the_permit_within_its_limit_and_ten_seconds(quantity: str) -> None:
    fold = ready()
    rest = {name: value for name, value in GOOD.items() if name != quantity}
    silent_since = fold.at
    while fold.lock.allowed:
        fold.wait(1, every=1, **rest)
        assert fold.at < silent_since + 100.0
    assert 60.0 < fold.at - silent_since <= 60.0 + 10.0 + 5.0
    assert fold.orders[-1].reason == "meter-silent"
    assert "meter-silent" in fold.flags


def test_a_withdrawn_permit_comes_back_by_itself_after_five_minutes_at_least() -> None:
    fold = ready()
    fold.wait(90)
    cut_at = fold.lock.order_at
    assert not fold.lock.allowed
    assert cool(fold, 10) == ["allow"]
    assert 300.0 <= fold.lock.order_at - cut_at <= 301.0


def test_the_permit_comes_back_at_most_four_times_a_day_then_a_person_must_act() -> None:
    fold = ready()
    for _ in range(4):
        fold.wait(90)
        assert not fold.lock.allowed
        assert cool(fold, 6) == ["allow"]
        fold.read("relay_state", 1.0)
        fold.wait(10, every=5, **GOOD)
    fold.wait(90)
    assert cool(fold, 6) == []
    assert fold.lock.exhausted and "permit-exhausted" in fold.flags
    assert cool(fold, 60) == []
    assert fold.act("resume") == ""
    assert fold.lock.allowed


def test_the_day_of_the_four_returns_slides() -> None:
    fold = ready()
    old = fold.at - 86_400.0 + 700.0
    fold.memory = fold.memory._replace(interlock=fold.lock._replace(returns=(old,) * 4))
    fold.wait(90)
    assert cool(fold, 6) == []
    assert fold.lock.exhausted
    assert fold.act("reset") == ""
    assert "resume-due" in fold.flags
    assert fold.act("resume") == ""
    assert fold.lock.allowed


def test_an_exhausted_permit_is_told_once_only() -> None:
    fold = ready()
    fold.memory = fold.memory._replace(interlock=fold.lock._replace(returns=(fold.at,) * 4))
    fold.wait(90)
    cool(fold, 20)
    assert fold.kinds().count("permit-exhausted") == 1


def test_the_relay_opens_when_the_round_is_finished() -> None:
    fold = ready()
    assert fold.act("finish", sure=True) == ""
    assert fold.orders[-1].action == "cut" and fold.orders[-1].reason == "not-started"
    assert not fold.lock.latched


def test_the_end_of_the_hold_opens_the_relay_without_a_trip() -> None:
    fold = ready()
    fold.memory = fold.memory._replace(phase=fold.memory.phase._replace(hold_complete=True))
    assert actions(fold.wait(10, every=5, **GOOD)) == ["cut"]
    assert fold.orders[-1].reason == "hold-complete"
    assert not fold.lock.latched
    fold.read("current", 0.0)
    assert cool(fold, 10) == []


# ---------------------------------------------------------------------------------------- the latch


def test_two_hot_samples_trip_and_the_cut_leaves_in_the_same_step() -> None:
    fold = ready()
    assert hot(fold) == ["cut"]
    assert fold.lock.latched["over-temperature"].limit == pytest.approx(43.333)
    assert fold.derived is not None and fold.derived.tripped and fold.derived.trip_reason == "over-temperature"


def test_a_reset_is_not_a_restart() -> None:
    fold = ready()
    hot(fold)
    assert fold.act("reset").startswith(
        "over-temperature is still there: 3 more readings in a row within the limit of "
    )
    missing = "3 more readings in a row within the limit of 43.3 degC are missing (43.4 degC was the last over it)"
    assert fold.act("reset") == f"over-temperature is still there: {missing}"
    assert fold.act("resume").startswith("still tripped by over-temperature")
    assert cool(fold, 40) == []
    assert fold.act("reset") == ""
    assert cool(fold, 10) == []
    assert "resume-due" in fold.flags
    assert fold.act("resume") == ""
    assert fold.lock.allowed and "resume-due" not in fold.flags


def test_there_is_nothing_to_reset_when_nothing_tripped() -> None:
    fold = ready()
    assert fold.act("reset") == "nothing to reset"


def test_a_start_while_tripped_is_refused() -> None:
    fold = ready()
    hot(fold)
    assert "reset first" in fold.act("start")


def test_f37_a_temperature_that_hovers_at_the_limit_trips_once() -> None:
    fold = ready()
    for _ in range(30):
        hot(fold)
        fold.at += 5.0
        fold.read(PROBE, 43.2)
    assert fold.kinds().count("trip") == 1


def test_a_second_hazard_joins_the_latch() -> None:
    fold = ready()
    hot(fold)
    for _ in range(2):
        fold.at += 1.0
        fold.read("voltage", 12 * 2.76)
    assert list(fold.lock.latched) == ["over-temperature", "over-voltage"]


def test_f39_a_limit_raised_while_tripped_leaves_it_tripped_with_the_limit_of_that_moment() -> None:
    fold = ready()
    hot(fold)
    raised = Fold(make_bank(limits=Limits(temperature=50.0)), fold.memory, fold.at)
    raised.fold(Command("north", "boot", raised.at))
    cool(raised, 10)
    assert raised.lock.latched["over-temperature"].limit == pytest.approx(43.333)
    assert not raised.lock.allowed


def test_f33_a_trip_survives_a_snapshot_and_a_restart() -> None:
    fold = ready()
    hot(fold)
    kept = thaw(Memory, freeze(fold.memory))
    assert kept == fold.memory
    again = Fold(fold.bank, kept, fold.at + 3600.0)
    again.fold(Command("north", "boot", again.at))
    assert again.orders[0].action == "cut"
    assert "over-temperature" in again.lock.latched
    assert cool(again, 60) == []


# ----------------------------------------------------------------------------------------- restarts


def test_after_a_restart_the_permit_comes_back_like_any_other() -> None:
    fold = ready()
    again = Fold(fold.bank, fold.memory, fold.at + 10.0)
    assert actions(again.fold(Command("north", "boot", again.at))) == ["cut"]
    assert again.orders[0].reason == "restart"
    assert cool(again, 4) == []
    assert cool(again, 2) == ["allow"]
    assert again.lock.returns == (again.lock.order_at,)


def test_a_restart_with_a_clock_that_is_not_trusted_takes_nothing_remembered_as_fresh() -> None:
    fold = ready()
    again = Fold(fold.bank, fold.memory, fold.at + 1.0)
    again.fold(Command("north", "boot", again.at, argument={"clock_trusted": False}))
    again.wait(1)
    assert again.derived is not None
    assert again.derived.temperature is None and again.derived.current is None
    again.wait(400)
    assert not again.lock.allowed


def test_a_damaged_journal_comes_up_tripped_and_an_unreadable_one_waits_for_a_person() -> None:
    damaged = Fold()
    damaged.fold(Command("north", "journal-lost", damaged.at, argument={"why": "set aside", "tripped": True}))
    assert damaged.lock.latched["journal-lost"].reason == "set aside"
    fold = ready()
    fold.fold(Command("north", "journal-lost", fold.at, argument={"why": "read-only"}))
    assert fold.orders[-1].reason == "journal-lost" and not fold.lock.latched
    assert fold.memory.flags["journal-lost"].reason == "read-only"
    assert cool(fold, 10) == []
    assert fold.act("resume") == ""
    assert fold.lock.allowed and "journal-lost" not in fold.flags


def test_a_meter_that_the_cabin_file_no_longer_has_cannot_hold_a_trip_for_ever() -> None:
    fold = ready(make_bank(more=(Meter(CASE, "electrolyte_temperature", placed="case"),)))
    fold.read(CASE, 41.0)
    fold.at += 1.0
    fold.read(CASE, 41.0)
    again = Fold(make_bank(), fold.memory, fold.at + 5.0)
    again.fold(Command("north", "boot", again.at))
    cool(again)
    assert again.act("reset") == ""


def test_another_relay_has_to_be_proved_anew() -> None:
    fold = ready()
    fold.fold(Command("north", "relay-changed", fold.at))
    assert not fold.lock.proof.passed
    assert "proof-test-missing" in fold.flags and "proof-test-due" not in fold.flags, "one flag for one thing"


def test_of_a_relay_that_was_never_proved_nobody_says_that_it_was() -> None:
    fold = Fold()
    fold.fold(Command("north", "boot", fold.at))
    fold.fold(Command("north", "relay-changed", fold.at))
    fold.wait(2)
    assert fold.lock.proof.note == "" and fold.memory.flags["proof-test-missing"].reason == "the relay was never proved"
    was = ready()
    for _ in range(2):  # changed twice before anybody proves it
        was.fold(Command("north", "relay-changed", was.at))
    assert was.memory.flags["proof-test-missing"].reason == "the relay was changed since it was proved"


def test_a_retained_order_to_close_is_told_before_one_to_open_and_in_other_words() -> None:
    told = {}
    for payload, closes in (("ON", True), ("OFF", False), ("7", None)):
        fold = ready()
        argument: dict[str, object] = {"payload": payload} | ({} if closes is None else {"closes": closes})
        fold.fold(Command("north", "retained-order", fold.at, argument=argument))
        fold.wait(2)
        told[payload] = next(flag for name, flag in fold.memory.flags.items() if name.startswith("retained"))
    assert [told[payload].name for payload in told] == ["retained-close", "retained-order", "retained-close"]
    assert FLAGS["retained-close"].severity_rank < FLAGS["other-source"].severity_rank
    assert (
        FLAGS["retained-close"].severity_rank < FLAGS["water-due"].severity_rank < FLAGS["retained-order"].severity_rank
    )
    assert "'ON', which may close it" in told["ON"].reason and "the charger comes on" in told["ON"].action
    assert "'OFF', which opens it" in told["OFF"].reason and "nothing comes on by it" in told["OFF"].action


def test_an_order_to_open_that_is_found_later_does_not_hide_one_to_close() -> None:
    fold = ready()
    for payload, closes in (("ON", True), ("OFF", False)):
        fold.fold(Command("north", "retained-order", fold.at, argument={"payload": payload, "closes": closes}))
        fold.wait(2)
    assert "retained-close" in fold.flags and "'ON'" in fold.memory.flags["retained-close"].reason
    fold.wait(620, every=10, voltage=25.4, current=20.0, **{PROBE: 25.0})
    fold.fold(Command("north", "retained-order", fold.at, argument={"payload": "OFF", "closes": False}))
    fold.wait(2)
    assert "retained-close" not in fold.flags and "retained-order" in fold.flags


def test_a_retained_order_is_over_with_its_topic_and_ten_minutes_after_it_was_cleared() -> None:
    fold = ready()
    fold.fold(Command("north", "retained-order", fold.at, argument={"payload": "OFF", "closes": False}))
    fold.wait(590, every=10, voltage=25.4, current=20.0, **{PROBE: 25.0})
    assert "retained-order" in fold.flags
    fold.fold(Command("north", "retained-order", fold.at, argument={"payload": "OFF", "closes": False}))
    fold.wait(590, every=10, voltage=25.4, current=20.0, **{PROBE: 25.0})
    assert "retained-order" in fold.flags, "it came back, so it is still somebody's habit"
    fold.wait(20, every=10, voltage=25.4, current=20.0, **{PROBE: 25.0})
    assert "retained-order" not in fold.flags
    fold.fold(Command("north", "retained-order", fold.at, argument={"payload": "OFF", "closes": False}))
    assert "retained-order" in fold.flags
    # The next start may have another topic; what is kept on it the broker tells at once.
    fold.fold(Command("north", "boot", fold.at))
    fold.wait(2)
    assert "retained-order" not in fold.flags
    fold.fold(Command("north", "retained-order", fold.at, argument={"payload": "OFF", "closes": False}))
    assert "retained-order" in fold.flags


def test_what_the_bridge_says_of_itself_is_a_flag_with_its_reason() -> None:
    fold = ready()
    told = {"clock-untrusted": "no time server", "storage": DEGRADED, "why": "disk full"}
    fold.fold(Command("north", "health", fold.at, argument=told))
    assert fold.memory.flags["journal-degraded"].reason == "disk full"
    assert fold.memory.flags["clock-untrusted"].reason == "no time server"
    fold.fold(Command("north", "health", fold.at, argument={}))
    assert fold.flags.isdisjoint({"clock-untrusted", "journal-degraded"})
    assert fold.kinds()[-2:] == ["flag-cleared", "flag-cleared"]


@pytest.mark.parametrize(("storage", "flag"), [(DEGRADED, "journal-degraded"), (UNPROVED, "storage-unproved")])
def test_f61_the_permit_needs_storage_that_is_proved(storage: str, flag: str) -> None:
    fold = ready()
    cut = fold.fold(Command("north", "health", fold.at, argument={"storage": storage, "why": "disk full"}))
    assert [order.action for order in cut] == ["cut"] and flag in fold.flags
    fold.wait(700, every=5, **AT_REST)
    assert fold.act("resume") == "" and not fold.lock.allowed
    fold.fold(Command("north", "health", fold.at, argument={"storage": PROVED}))
    assert fold.lock.allowed and flag not in fold.flags
    again = Fold(memory=fold.memory, at=fold.at)
    again.fold(Command("north", "boot", again.at, argument={"storage": None}))
    assert again.lock.storage == UNPROVED, "every start has to prove it anew"


def test_acts_of_the_bridge_itself_are_named() -> None:
    of_the_relay = {"relay-changed", "relay-link", "relay-held", "auto-off-seen", "retained-order"}
    assert of_the_relay | {"boot", "journal-lost", "health"} == INTERNAL


# --------------------------------------------------------------------------------- automatic resume

AUTOMATIC = AutomaticResume(allowed=True, rest=1800.0, times=3)


def test_over_temperature_clears_itself_only_where_the_owner_chose_it() -> None:
    fold = ready()
    hot(fold)
    assert cool(fold, 120) == []


def test_automatic_resume_waits_until_it_is_cool_and_half_an_hour_has_passed() -> None:
    fold = ready(make_bank(automatic=AUTOMATIC))
    hot(fold)
    cut_at = fold.lock.order_at
    assert cool(fold, 40, **{PROBE: 37.9}) == []
    assert cool(fold, 1, **{PROBE: 37.7}) == ["allow"]
    assert fold.lock.order_at - cut_at >= 1800.0
    assert fold.lock.resumes == 1


def test_automatic_resume_works_at_most_three_times_in_a_round() -> None:
    fold = ready(make_bank(automatic=AUTOMATIC))
    for _ in range(3):
        hot(fold)
        assert cool(fold, 32) == ["allow"]
        fold.read("relay_state", 1.0)
        fold.wait(10, every=5, **GOOD)
    hot(fold)
    assert cool(fold, 120) == []
    assert fold.kinds().count("automatic-resume") == 3


def test_automatic_resume_never_clears_another_hazard_nor_an_owed_resume() -> None:
    fold = ready(make_bank(automatic=AUTOMATIC))
    hot(fold)
    fold.memory = fold.memory._replace(
        interlock=fold.lock._replace(
            latched={**fold.lock.latched, "over-voltage": Latch(fold.at, 2.8, 2.75, "V", "2.8 V")}
        )
    )
    assert cool(fold, 60) == []
    fold = ready(make_bank(automatic=AUTOMATIC))
    hot(fold)
    fold.memory = fold.memory._replace(interlock=fold.lock._replace(needs_resume=True))
    assert cool(fold, 60) == []
    assert not fold.lock.latched and "resume-due" in fold.flags


def test_automatic_resume_waits_for_evidence_that_the_relay_opened() -> None:
    fold = ready(make_bank(automatic=AUTOMATIC, relay=Relay(reports_state=True)), amps=0.5)
    hot(fold)
    fold.wait(3600, every=10, voltage=26.0, current=0.0, **{PROBE: 25.0})
    assert fold.lock.latched
    assert cool(fold, 32) == ["allow"]


def test_a_hot_probe_that_falls_silent_keeps_the_trip() -> None:
    fold = ready(make_bank(automatic=AUTOMATIC, more=(Meter(CASE, "electrolyte_temperature", placed="cell"),)))
    fold.read(CASE, 30.0)
    hot(fold)
    fold.read("relay_state", 0.0)
    fold.wait(7200, every=10, voltage=26.0, current=0.0, **{CASE: 25.0})
    assert fold.lock.latched
    assert fold.act("reset").startswith(
        "over-temperature is still there: 3 more readings in a row within the limit of "
    )


def test_watch_only_latches_and_clears_without_any_order() -> None:
    fold = ready(make_bank(relay=None, automatic=AUTOMATIC))
    fold.read(PROBE, 43.4)
    fold.at += 1.0
    fold.read(PROBE, 43.4)
    assert fold.lock.latched
    fold.wait(1900, every=10, **AT_REST)
    assert not fold.lock.latched and fold.orders == []


# ---------------------------------------------------------------------------------------- read-back


def test_the_cut_is_confirmed_by_the_relays_own_report_with_its_time() -> None:
    fold = ready()
    hot(fold)
    fold.at += 0.25
    fold.read("relay_state", 0.0)
    confirmed = [event for event in fold.events if event.kind == "cut-confirmed"][-1]
    assert confirmed.detail == {"seconds": 0.25, "by": "relay"}
    assert not fold.lock.needs_resume


def test_the_cut_is_confirmed_by_the_falling_current_where_the_relay_says_nothing() -> None:
    fold = ready(make_bank(relay=SILENT_RELAY))
    hot(fold)
    fold.at += 8.0
    fold.read("current", 0.1)
    fold.wait(1)
    assert [event.detail["by"] for event in fold.events if event.kind == "cut-confirmed"][-1] == "current"
    assert "relay-disobeys" not in fold.lock.latched


def test_a_retained_report_is_no_evidence() -> None:
    fold = ready()
    hot(fold)
    fold.at += 1.0
    fold.read("relay_state", 0.0, retained=True)
    assert not fold.lock.confirmed_at


def test_an_open_report_from_before_the_permit_is_no_evidence() -> None:
    lock = Interlock(order_at=START + 10.0, repeated_at=START + 10.0, allowed_at=START)
    old = Seen(relay_closed=False, relay_at=START - 5.0)
    assert interlock.shows_open(lock, old) == 0.0
    assert interlock.shows_open(lock, Seen(relay_closed=False, relay_at=START + 5.0)) == START + 10.0


def test_a_current_too_small_to_tell_proves_nothing() -> None:
    fold = ready(make_bank(relay=SILENT_RELAY), amps=0.9)
    hot(fold)
    fold.wait(60, every=5, **AT_REST)
    assert not fold.lock.confirmed_at
    assert "relay-unconfirmed" not in fold.flags, "nothing could have shown it"


@pytest.mark.parametrize(("step", "proves"), [(0.1, True), (1.0, True), (4.0, False)])
def test_current_proves_a_cut_above_three_steps_of_its_meter(step: float, proves: bool) -> None:
    lock = Interlock(order_at=START, current_before=10.0)
    seen = Seen(current=0.0, current_at=START + 1.0, current_step=step)
    assert bool(interlock.shows_open(lock, seen)) is proves


@pytest.mark.parametrize(("left", "proves"), [(2.0, True), (5.0, True), (5.1, False)])
def test_the_charger_has_gone_when_half_of_the_current_is_left_at_most(left: float, proves: bool) -> None:
    lock = Interlock(order_at=START, current_before=10.0)
    assert bool(interlock.shows_open(lock, Seen(current=left, current_at=START + 1.0))) is proves
    assert interlock.shows_open(lock, Seen(current=left, current_at=START)) == 0.0


def test_f30_a_lost_cut_is_repeated_soon_then_slowly_and_flagged_until_resolved() -> None:
    fold = ready()
    hot(fold)
    cut_at = fold.at
    fold.wait(1800, every=10, voltage=28.0, **{PROBE: 43.4})
    repeats = [order.at - cut_at for order in fold.orders if order.reason.startswith("no evidence")]
    assert repeats[:5] == [10.0, 20.0, 40.0, 80.0, 160.0]
    assert max(b - a for a, b in itertools.pairwise(repeats)) <= REPEAT_SLOWLY
    assert "relay-unconfirmed" in fold.flags
    fold.read("relay_state", 0.0)
    assert "relay-unconfirmed" not in fold.flags


def test_f31_a_relay_that_reports_closed_after_the_cut_disobeys() -> None:
    fold = ready()
    hot(fold)
    fold.at += 1.0
    fold.read("relay_state", 1.0)
    fold.wait(9)
    assert "relay-disobeys" in fold.lock.latched
    assert "relay-unconfirmed" not in fold.flags
    orders = fold.wait(600, every=10, **GOOD)
    assert 3 <= len(orders) <= 10 and set(actions(orders)) == {"cut"}


def test_f31_a_current_that_does_not_fall_shows_disobedience_where_the_relay_says_nothing() -> None:
    fold = ready(make_bank(relay=SILENT_RELAY))
    hot(fold)
    fold.wait(12, every=3, **GOOD)
    assert fold.lock.latched["relay-disobeys"].value == 20.0


def test_other_source_is_told_apart_from_a_welded_relay() -> None:
    solar = ready()
    hot(solar)
    solar.read("relay_state", 0.0)
    solar.wait(60, every=5, **{**AT_REST, "current": 6.0})
    assert "other-source" in solar.flags and "relay-disobeys" not in solar.lock.latched
    welded = ready()
    hot(welded)
    welded.read("relay_state", 0.0)
    welded.wait(60, every=5, **GOOD)
    assert welded.lock.latched["relay-disobeys"].reason == "the relay reports open but the current has not fallen"
    unproved = ready()
    unproved.memory = unproved.memory._replace(
        interlock=unproved.lock._replace(proof=unproved.lock.proof._replace(current_proved=False))
    )
    hot(unproved)
    unproved.read("relay_state", 0.0)
    unproved.wait(60, every=5, **GOOD)
    assert "other-source" in unproved.flags and "relay-disobeys" not in unproved.lock.latched


def test_current_that_comes_back_without_a_permit_is_answered_slowly() -> None:
    fold = ready(make_bank(relay=SILENT_RELAY))
    assert fold.act("finish", sure=True) == ""
    fold.wait(20, every=5, **AT_REST)
    assert fold.lock.confirmed_at
    orders = fold.wait(900, every=5, **GOOD)
    assert 2 <= len(orders) <= 4 and set(actions(orders)) == {"cut"}
    assert "other-source" in fold.flags


def test_f36_a_relay_closed_by_somebody_while_tripped_is_opened_again_without_ping_pong() -> None:
    fold = ready()
    hot(fold)
    fold.at += 1.0
    fold.read("relay_state", 0.0)
    began, count = fold.at, 0
    while fold.at < began + 60.0:
        fold.at += 0.2
        count += len(fold.read("relay_state", 1.0))
        fold.at += 0.2
        fold.read("relay_state", 0.0)
    assert 40 <= count <= 60, "at most one order a second, although it closes five times in two"
    assert "closed-while-tripped" in fold.flags
    cool(fold)
    assert fold.act("reset") == ""
    assert "closed-while-tripped" not in fold.flags


# -------------------------------------------------------------------------------------- proof test


def proving(bank: Bank | None = None, **values: float) -> Fold:
    fold = Fold(bank)
    fold.fold(Command("north", "boot", fold.at))
    fold.wait(2, every=1, **{**AT_REST, **values})
    assert fold.act("checklist", name="the keeper") == ""
    return fold


def test_no_charger_comes_on_for_a_proof_before_the_checklist_is_confirmed() -> None:
    fold = Fold()
    fold.fold(Command("north", "boot", fold.at))
    fold.wait(2, every=1, **AT_REST)
    why = fold.act("prove")
    assert "the start checklist is not confirmed" in why and "`revival checklist --name YOU`" in why
    assert "allow" not in actions(fold.orders)
    assert fold.act("checklist", name="the keeper") == "" and fold.act("prove") == ""
    assert fold.orders[-1].action == "allow"


def test_a_proof_test_closes_opens_and_measures() -> None:
    fold = proving()
    assert fold.act("prove") == ""
    assert fold.orders[-1].action == "allow"
    fold.at += 0.2
    fold.read("relay_state", 1.0)
    fold.wait(5)
    assert fold.lock.proving == "opening" and fold.orders[-1].action == "cut"
    fold.at += 0.3
    fold.read("relay_state", 0.0)
    proof = fold.lock.proof
    assert proof.passed and not proof.current_proved
    assert proof.seconds == pytest.approx(0.3, abs=1.0)
    assert "repeat once the bank takes charge" in proof.note
    assert not fold.lock.allowed


def test_a_proof_test_sees_the_current_fall() -> None:
    fold = proving()
    fold.act("prove")
    fold.at += 0.2
    fold.read("relay_state", 1.0)
    fold.wait(3, every=1, voltage=28.0, current=10.0)
    fold.at += 0.2
    fold.read("relay_state", 0.0)
    assert fold.lock.proving == "opening", "the current has still to fall"
    fold.wait(3, every=1, voltage=26.0, current=0.0)
    assert fold.lock.proof.passed and fold.lock.proof.current_proved


def test_a_proof_test_during_a_round_gives_the_permit_back_at_once() -> None:
    fold = ready()
    fold.at += 1.0
    assert fold.act("prove") == ""
    fold.at += 0.5
    fold.read("relay_state", 0.0)
    orders = fold.wait(3, every=1, voltage=26.0, current=0.0)
    assert actions(orders) == ["allow"]
    assert fold.lock.proof.seconds == pytest.approx(0.5)
    assert fold.lock.returns == ()


def test_f40_a_failing_proof_test_leaves_the_relay_open_and_asks_for_a_person() -> None:
    fold = ready()
    fold.at += 1.0
    fold.act("prove")
    fold.wait(20, every=5, **GOOD)
    assert not fold.lock.proof.passed
    assert fold.orders[-1].action == "cut"
    assert not fold.lock.allowed and fold.lock.needs_resume
    assert "resume-due" in fold.flags or fold.lock.latched


def test_f40_a_relay_that_opens_while_the_current_goes_on_fails_the_test() -> None:
    fold = ready()
    fold.at += 1.0
    fold.act("prove")
    fold.at += 0.1
    fold.read("relay_state", 0.0)
    fold.wait(20, every=5, **GOOD)
    assert fold.lock.proof.note == "the current did not fall"
    assert not fold.lock.proof.passed


def test_a_slow_current_meter_is_waited_for_in_a_proof_test() -> None:
    fold = ready()
    fold.at += 1.0
    fold.act("prove")
    fold.at += 1.0
    fold.read("relay_state", 0.0)
    fold.wait(40, every=10, voltage=28.0, **{PROBE: 25.0})
    assert fold.lock.proving == "opening"
    fold.read("current", 0.0)
    fold.wait(1)
    assert fold.lock.proof.passed and fold.lock.proof.current_proved


def test_a_relay_that_never_closes_fails_the_test() -> None:
    fold = proving()
    fold.act("prove")
    fold.wait(16, every=5, **AT_REST)
    assert fold.lock.proof.note == "the relay never reported closed"
    assert fold.orders[-1].action == "cut"


def test_f63_a_silent_relay_without_current_proves_nothing_unless_a_person_says_so_by_name() -> None:
    fold = proving(make_bank(relay=SILENT_RELAY))
    fold.act("prove")
    fold.wait(40, every=5, **AT_REST)
    assert fold.lock.proving == "witness" and not fold.lock.proof.passed
    told = Fold(fold.bank, fold.memory, fold.at)
    assert "by name" in told.act("witness", name="")
    assert told.act("witness", name="the keeper") == ""
    proof = told.lock.proof
    assert (proof.passed, proof.kind, proof.by, proof.current_proved) == (True, "person", "the keeper", False)
    assert proof.not_shown == "that the current falls with the relay"
    fold.wait(180, every=5, **AT_REST)
    assert not fold.lock.proving and not fold.lock.proof.passed
    assert fold.lock.proof.note.startswith("nothing showed that the relay opened")


def test_no_relay_is_closed_for_a_test_while_blind_frozen_or_tripped() -> None:
    blind = Fold()
    blind.wait(1, every=1, voltage=26.0)
    assert "electrolyte_temperature" in blind.act("prove")
    frozen = proving(None, **{PROBE: -10.0})
    assert "too cold" in frozen.act("prove")
    tripped = ready()
    hot(tripped)
    assert "tripped" in tripped.act("prove")
    assert all("proof" not in order.reason for order in [*blind.orders, *frozen.orders, *tripped.orders])


def test_a_hazard_during_a_proof_test_ends_it_with_the_relay_open() -> None:
    fold = proving()
    fold.act("prove")
    assert hot(fold) == ["cut"]
    assert fold.lock.proof.note == "stopped: not safe to go on"
    assert fold.lock.latched


def test_f40_an_overdue_proof_test_is_flagged() -> None:
    fold = ready()
    assert "proof-test-due" not in fold.flags
    old = fold.lock.proof._replace(at=fold.at - 90 * 86400.0 - 1.0)
    fold.memory = fold.memory._replace(interlock=fold.lock._replace(proof=old))
    fold.wait(10, every=5, **GOOD)
    assert fold.memory.flags["proof-test-due"].reason == f"last proved {moment(old.at)}, more than 90 days ago"
    assert fold.lock.allowed


# ------------------------------------------------------------------------------------------- bypass


def test_a_bypass_excuses_silence_for_its_time_and_is_flagged() -> None:
    fold = ready()
    assert fold.act("bypass", quantity="current", minutes=10) == ""
    rest = {"voltage": 28.0, PROBE: 25.0}
    fold.wait(590, every=10, **rest)
    assert fold.lock.allowed and {"bypassed", "meter-silent"} <= fold.flags
    fold.wait(30, every=10, **rest)
    assert not fold.lock.allowed and "bypassed" not in fold.flags


@pytest.mark.parametrize("minutes", [-1, 60.1, "10", None, True, float("nan")])
def test_a_bypass_is_refused_beyond_an_hour(minutes: object) -> None:
    fold = ready()
    assert "at most 60" in fold.act("bypass", quantity="current", minutes=minutes)


def test_a_bypass_needs_a_mapped_quantity() -> None:
    fold = ready()
    assert fold.act("bypass", quantity="hydrogen", minutes=10) == "no meter of 'hydrogen' is mapped"


def test_a_bypass_does_not_excuse_a_meter_that_cannot_be_believed() -> None:
    fold = ready()
    assert fold.act("bypass", quantity="electrolyte_temperature", minutes=60) == ""
    fold.wait(90, every=10, voltage=28.0, current=20.0, **{PROBE: -127.0})
    assert not fold.lock.allowed and "meter-suspect" in fold.flags


def test_a_bypass_never_excuses_a_hazard() -> None:
    fold = ready()
    fold.act("bypass", quantity="electrolyte_temperature", minutes=60)
    assert hot(fold) == ["cut"]


# --------------------------------------------------------------------------------------- decide alone


def test_the_order_leaves_before_the_events_that_explain_it() -> None:
    bank = make_bank()
    lock = Interlock(started=True, allowed=True, order_at=START, allowed_at=START)
    _, outcomes = decide(bank, lock, START + 5.0, {"gas": Finding(0.02, 0.01, "1", "2 %")}, {}, Seen(current=7.0))
    assert [type(outcome).__name__ for outcome in outcomes] == ["Order", "Event", "Event"]


def test_what_stands_against_the_permit_is_named_worst_first() -> None:
    finding = {"meter-silent": Finding()}
    latch = {"gas": Latch(START, None, None, "", "")}
    assert interlock.blocked_by(Interlock(latched=latch, lost="x", needs_resume=True, exhausted=True), finding) == "gas"
    assert interlock.blocked_by(Interlock(lost="x", needs_resume=True, exhausted=True), finding) == "journal-lost"
    assert interlock.blocked_by(Interlock(needs_resume=True, exhausted=True), finding) == "resume-due"
    assert interlock.blocked_by(Interlock(exhausted=True), finding) == "permit-exhausted"
    assert interlock.blocked_by(Interlock(), finding) == "meter-silent"
    assert interlock.blocked_by(Interlock(), {}) == ""


def test_the_order_stands_before_all_hazards_that_it_answers() -> None:
    lock = Interlock(started=True, allowed=True, order_at=START, allowed_at=START)
    hazards = {"gas": Finding(), "over-voltage": Finding()}
    _, outcomes = decide(make_bank(), lock, START + 5.0, hazards, {}, Seen())
    assert isinstance(outcomes[0], Order) and len(outcomes) == 4


def test_what_a_person_or_the_hold_ended_waits_no_five_minutes() -> None:
    allowed = Interlock(started=True, allowed=True, order_at=START, allowed_at=START)
    complete, _ = decide(make_bank(), allowed, START + 5.0, {}, {"hold-complete": Finding()}, Seen())
    assert complete.withdrawn_for == "" and not complete.allowed
    never, _ = decide(make_bank(), Interlock(), START + 5.0, {"gas": Finding()}, {}, Seen())
    assert never.withdrawn_for == "", "nothing was given that could come back by itself"
    silent, _ = decide(make_bank(), allowed, START + 5.0, {}, {"meter-silent": Finding()}, Seen())
    assert silent.withdrawn_for == "meter-silent"


def test_a_return_counts_for_exactly_one_day() -> None:
    lock = Interlock(started=True, order_at=START, withdrawn_for="meter-silent", returns=(START,) * RETURNS_PER_DAY)
    still, outcomes = decide(make_bank(), lock, START + DAY - 0.5, {}, {}, Seen())
    assert still.exhausted and not any(isinstance(each, Order) and each.action == "allow" for each in outcomes)
    again, _ = decide(make_bank(), lock, START + DAY, {}, {}, Seen())
    assert again.allowed and again.returns == (START + DAY,)


def test_automatic_resume_begins_below_its_temperature_and_at_its_time() -> None:
    bank = make_bank(automatic=AUTOMATIC)
    lock = Interlock(
        latched={"over-temperature": Latch(START, 44.0, 43.3, "degC", "")},
        started=True, order_at=START, allowed_at=START - 1.0, confirmed_at=START + 1.0, resumes=1,
    )  # fmt: skip
    at = START + 1801.0
    assert decide(bank, lock, at, {}, {}, Seen(temperature=37.8))[0].latched
    assert decide(bank, lock, at - 0.5, {}, {}, Seen(temperature=37.7))[0].latched
    after, outcomes = decide(bank, lock, at, {}, {}, Seen(temperature=37.7))
    assert not after.latched and after.resumes == 2
    assert [each.detail["use"] for each in outcomes if isinstance(each, Event) and each.kind == "automatic-resume"] == [
        2
    ]


def test_an_open_report_from_before_the_last_permit_does_not_confirm_a_later_cut() -> None:
    fold = ready()
    assert fold.lock.allowed_at > 0.0
    given_at = fold.lock.allowed_at
    assert given_at == next(order.at for order in fold.orders if order.action == "allow")
    fold.act("finish", sure=True)
    assert interlock.shows_open(fold.lock, Seen(relay_closed=False, relay_at=given_at - 1.0)) == 0.0
