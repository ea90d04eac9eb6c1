"""The proof test at each of its limits; what it leaves behind when it passes and when it fails."""

from __future__ import annotations

from rules.bank.model import Relay
from rules.events import Event, Order
from rules.safety.proof import NOT_CURRENT, NOTHING_SHOWED, REPEAT, begin_proof, prove, try_by_itself
from rules.safety.state import Finding, Interlock, Latch, Outcomes, Proof, Seen
from tests.support.fold import START, make_bank

BANK = make_bank()
DUMB = make_bank(relay=Relay(reports_state=False))
CLOSING = Interlock(proving="closing", proving_since=START, order_at=START, repeated_at=START, allowed_at=START)
OPENING = Interlock(
    proving="opening",
    proving_since=START,
    order_at=START,
    repeated_at=START,
    allowed_at=START - 6.0,
    current_before=10.0,
)
WEAK = OPENING._replace(current_before=0.5)
MARKERS: Outcomes = [Order("north", "marker", START, "first"), Order("north", "marker", START, "second")]


def look(lock: Interlock, after: float, seen: Seen, bank: object = BANK) -> tuple[Interlock, Outcomes]:
    outcomes: Outcomes = list(MARKERS)
    return prove(bank, lock, START + after, seen, {}, outcomes), outcomes  # type: ignore[arg-type]


def seen(closed: bool | None = None, told: float = 0.0, amps: float | None = None, measured: float = 0.0) -> Seen:
    return Seen(amps, START + measured, 0.0, closed, START + told)


def test_it_begins_with_an_order_and_remembers_the_moment() -> None:
    before = Interlock(confirmed_at=5.0)
    lock, outcomes = begin_proof(BANK, before, START, Seen())
    assert [type(each).__name__ for each in outcomes] == ["Order", "Event"]
    assert isinstance(outcomes[0], Order) and outcomes[0].action == "allow"
    assert (lock.proving, lock.proving_since, lock.order_at, lock.repeated_at, lock.allowed_at) == (
        "closing",
        *(START,) * 4,
    )
    assert lock.confirmed_at == 0.0 and not lock.allowed
    lock, outcomes = begin_proof(BANK, before._replace(allowed=True), START, Seen(current=7.0))
    assert isinstance(outcomes[0], Order) and outcomes[0].action == "cut"
    assert (lock.proving, lock.order_at, lock.repeated_at, lock.current_before) == ("opening", START, START, 7.0)
    assert lock.confirmed_at == 0.0 and not lock.allowed
    assert begin_proof(BANK, before._replace(allowed=True), START, Seen())[0].current_before == 0.0


def test_a_closed_report_is_waited_on_for_five_seconds_and_flowing_current_not_at_all() -> None:
    assert look(CLOSING, 4.9, seen(True, 0.1))[0] == CLOSING
    lock, outcomes = look(CLOSING, 5.0, seen(True, 0.1))
    assert lock.proving == "opening" and isinstance(outcomes[0], Order) and outcomes[0].action == "cut"
    assert look(CLOSING, 0.5, seen(True, 0.1, 10.0, 0.4))[0].proving == "opening"
    assert look(CLOSING, 0.5, seen(True, 0.1, 10.0, 0.0))[0] == CLOSING, "measured before it closed"
    assert look(CLOSING, 5.0, seen(True, 0.0))[0] == CLOSING, "reported at the moment of the order"
    assert look(CLOSING, 5.0, seen(False, 0.1))[0] == CLOSING


def test_without_a_closed_report_it_fails_after_fifteen_seconds_and_a_silent_relay_goes_on() -> None:
    assert look(CLOSING, 14.9, seen())[0] == CLOSING
    lock, outcomes = look(CLOSING, 15.0, seen())
    assert not lock.proof.passed and lock.proof.note == "the relay never reported closed"
    assert isinstance(outcomes[0], Order) and outcomes[0].action == "cut"
    assert look(CLOSING, 14.9, seen(), DUMB)[0] == CLOSING
    assert look(CLOSING, 15.0, seen(), DUMB)[0].proving == "opening"


def test_it_passes_when_the_relay_opened_and_the_current_fell() -> None:
    lock, outcomes = look(OPENING, 1.0, seen(False, 0.4, 0.1, 0.8))
    assert lock.proof == Proof(START + 1.0, True, 0.4, True, "the relay opened and the current fell", "state")
    assert (lock.proving, lock.confirmed_at, lock.withdrawn_for) == ("", START + 1.0, "")
    told = outcomes[-1]
    assert isinstance(told, Event) and told.detail["passed"] is True
    assert look(OPENING._replace(withdrawn_for="x"), 1.0, seen(False, 0.4, 0.1, 0.8))[0].withdrawn_for == ""
    weak, _ = look(WEAK, 1.0, seen(False, 0.4))
    assert weak.proof == Proof(START + 1.0, True, 0.4, False, REPEAT, "state", "", NOT_CURRENT)


def test_current_alone_is_no_proof_of_a_relay_that_reports() -> None:
    assert look(OPENING, 1.0, seen(None, 0.0, 0.1, 0.8))[0] == OPENING
    assert look(OPENING, 1.0, seen(True, -5.0, 0.1, 0.8))[0] == OPENING
    assert look(OPENING, 1.0, seen(False, 0.0, 0.1, 0.8))[0] == OPENING, "reported before the order"
    assert look(OPENING, 15.0, seen(None, 0.0, 0.1, 0.8))[0].proof.note == "the relay was not seen to open"
    assert look(OPENING, 1.0, seen(None, 0.0, 0.1, 0.8), DUMB)[0].proof.passed


def test_a_slow_meter_is_waited_for_a_quarter_of_an_hour_at_most_and_a_silent_one_not() -> None:
    unmeasured = seen(False, 0.4, 10.0, -30.0)
    assert look(OPENING, 14.9, unmeasured)[0] == OPENING and look(OPENING, 899.9, unmeasured)[0] == OPENING
    assert look(OPENING, 900.0, unmeasured)[0].proof.note == "the current did not fall"
    assert look(OPENING, 15.0, seen(False, 0.4))[0].proof.note == "the current did not fall"
    assert look(OPENING, 14.9, seen(False, 0.4))[0] == OPENING


def test_it_fails_with_its_reason_when_nothing_opened_or_nothing_fell() -> None:
    assert look(OPENING, 14.9, seen(True, 1.0, 10.0, 5.0))[0] == OPENING
    stuck, _ = look(OPENING, 15.0, seen(True, 1.0, 10.0, 5.0))
    assert stuck.proof.note == "the relay was not seen to open" and stuck.proof.seconds == 15.0
    assert look(OPENING, 15.0, seen(False, 0.4, 10.0, 5.0))[0].proof.note == "the current did not fall"
    assert look(OPENING, 15.0, seen(None, 0.0, 10.0, 5.0), DUMB)[0].proof.note == "the current did not fall"
    waiting, _ = look(WEAK, 15.0, seen(), DUMB)
    assert (waiting.proving, waiting.proving_since, waiting.proof) == ("witness", START + 15.0, Proof())
    assert look(waiting, 194.9, seen(), DUMB)[0] == waiting
    assert look(waiting, 195.0, seen(), DUMB)[0].proof == Proof(START + 195.0, False, 180.0, False, NOTHING_SHOWED)
    assert look(WEAK, 15.0, seen())[0].proof.note == "the relay was not seen to open"


def test_a_failure_leaves_the_relay_ordered_open_watched_and_a_person_asked_for() -> None:
    before = OPENING._replace(confirmed_at=START + 1.0, withdrawn_for="x", allowed=True)
    lock, outcomes = look(before, 15.25, seen(True, 1.0, 10.0, 5.0))
    assert isinstance(outcomes[0], Order) and outcomes[0].action == "cut"
    assert not lock.allowed and lock.needs_resume and lock.proving == "" and lock.withdrawn_for == ""
    assert (lock.order_at, lock.repeated_at, lock.confirmed_at) == (START + 15.25, START + 15.25, 0.0)
    assert lock.current_before == 10.0, "what flowed before the test's own cut"
    assert lock.proof == Proof(START + 15.25, False, 15.25, False, "the relay was not seen to open")
    closing, _ = look(CLOSING, 15.0, seen(None, 0.0, 0.9, -1.0))
    assert closing.current_before == 0.9
    assert look(CLOSING, 15.0, seen())[0].current_before == 0.0


def test_what_is_not_safe_stops_it_at_once() -> None:
    for name in ("meter-silent", "meter-suspect", "frozen-risk", "water-reserve"):
        lock = prove(BANK, OPENING, START + 2.5, Seen(), {name: Finding()}, [])
        assert lock.proof == Proof(START + 2.5, False, 2.5, False, "stopped: not safe to go on"), name
    assert prove(BANK, OPENING, START + 2.5, Seen(), {"not-started": Finding()}, []) == OPENING
    latched = OPENING._replace(latched={"gas": Latch(START, None, None, "", "")})
    assert not prove(BANK, latched, START + 2.5, Seen(), {}, []).proving


def test_it_tells_how_the_relay_stood_and_how_long_it_took_to_the_millisecond() -> None:
    for allowed, stood in ((True, "closed"), (False, "open")):
        _, outcomes = begin_proof(BANK, Interlock(allowed=allowed), START, Seen())
        assert [each.detail for each in outcomes if isinstance(each, Event)] == [{"from": stood}]
    assert look(WEAK, 3.0, seen(False, 1.23456))[0].proof.seconds == 1.235
    assert look(CLOSING, 15.23456, seen())[0].proof.seconds == 15.235


def test_a_failure_is_followed_up_from_the_current_before_it_was_opened() -> None:
    assert look(OPENING, 15.0, seen(None, 0.0, 4.0, 1.0))[0].current_before == 10.0
    assert look(CLOSING, 15.0, seen(None, 0.0, 0.4, 1.0))[0].current_before == 0.4


PROMISED = Interlock(allowed=True, allowed_at=START - 600.0, proof=Proof(START - 700.0, True))
FLOWING = Seen(20.0, START)


def tried(lock: Interlock, after: float, seen: Seen = FLOWING, *, safe: bool = True) -> tuple[Interlock, Outcomes]:
    outcomes: Outcomes = list(MARKERS)
    return try_by_itself(BANK, lock, START + after, seen, safe, outcomes), outcomes


def test_f63_a_promise_is_kept_at_the_first_ampere_once_it_has_flowed_for_two_minutes() -> None:
    flowing, outcomes = tried(PROMISED, 0.0)
    assert flowing == PROMISED._replace(flows_since=START) and outcomes == MARKERS
    assert tried(flowing, 119.9)[0] == flowing
    assert tried(flowing, 60.0, Seen(0.9, START))[0].flows_since == 0.0, "the current went away in between"
    trying, outcomes = tried(flowing, 120.0)
    assert (trying.proving, trying.proving_by_itself, trying.allowed) == ("opening", True, False)
    assert isinstance(outcomes[0], Order) and outcomes[0].action == "cut" and trying.current_before == 20.0
    done = prove(BANK, trying, START + 121.0, Seen(0.0, START + 120.9, 0.0, False, START + 120.4), {}, [])
    assert done.proof.current_proved and done.proof.not_shown == ""
    assert done.withdrawn_for == "proof-test", "it comes back like after a fault: timed and counted"


def test_f63_nothing_is_tried_by_itself_when_it_is_not_safe_not_promised_twice_a_day_or_not_to_come_back() -> None:
    flowing = PROMISED._replace(flows_since=START)
    assert tried(flowing, 300.0, safe=False)[0] == flowing
    assert tried(flowing._replace(tried_at=START - 86_000.0), 300.0)[0].proving == ""
    assert tried(flowing._replace(tried_at=START - 86_200.0), 300.0)[0].proving == "opening"
    assert tried(flowing._replace(returns=(START - 10.0,) * 4), 300.0)[0].proving == ""
    for other in (Proof(START, True, 0.1, True), Proof(START, False)):
        assert tried(flowing._replace(proof=other), 300.0)[0].proving == ""
    assert tried(flowing._replace(allowed=False), 300.0)[0].proving == ""


def test_f63_a_test_ends_when_nobody_listens_or_the_connection_is_lost() -> None:
    deaf = OPENING._replace(link="nobody-listens", link_why="the broker says that nobody listens on cabin/x")
    assert prove(BANK, deaf, START + 0.9, Seen(), {}, []) == deaf, "it may have been said before the relay came"
    assert prove(BANK, deaf, START + 1.0, Seen(), {}, []).proof.note == "the broker says that nobody listens on cabin/x"
    cut_off = OPENING._replace(opened_for="its auto-off passed")
    assert prove(BANK, cut_off, START + 0.1, Seen(), {}, []).proof.note == "interrupted: its auto-off passed"
