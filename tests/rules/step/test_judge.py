"""A look at the bank: how often, what is said of its relay, what stands before a start, and how flags come and go.

How often and for how long are ours (assumed); 90 days between two proof tests are common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from rules.advice import FLAGS
from rules.bank.model import Meter, Relay
from rules.events import Derived, Event, Order, Tick, moment
from rules.hand import HandLog
from rules.laws import water_rate
from rules.meters import NEVER
from rules.phase import PhaseMemory
from rules.safety import Finding
from rules.safety.evidence import Pending
from rules.safety.state import Latch, Proof
from rules.step import step
from rules.verdict import CapacityTest
from tests.support.fold import PROBE, REPORTING, Fold, make_bank, ready

WARM = {"voltage": 28.0, "current": 20.0, PROBE: 25.0}
AT = ready().at  # when a bank that `ready` gives has been charged for twenty seconds
DAY = 86400.0


def told(memory: dict[str, Any] | None = None, /, relay: Relay | None = REPORTING, **lock: Any) -> dict[str, str]:
    """Flags and their reasons, of a bank that is being charged but for what is changed."""
    fold = ready(make_bank(relay=relay))
    fold.memory = fold.memory._replace(interlock=fold.lock._replace(**lock), **memory or {})
    fold.wait(1, every=1, **WARM)
    return {name: flag.reason for name, flag in fold.memory.flags.items()}


PROVED = Proof(at=AT - 60.0, passed=True, current_proved=True)
HOT = {"over-temperature": Latch(AT - 60.0, 44.0, 43.3, "degC", "probe")}

# ----------------------------------------------------------------------------------------------- the relay


@pytest.mark.parametrize(
    ("lock", "name", "said"),
    [
        ({}, "resume-due", None),
        ({"exhausted": True}, "permit-exhausted", "too often today"),
        ({}, "permit-exhausted", None),
        ({"lost": "the journal was set aside"}, "journal-lost", "the journal was set aside"),
        ({"lost": "the journal was set aside", "needs_resume": True}, "resume-due", None),
        ({"needs_resume": True}, "resume-due", "a trip was reset"),
        ({"needs_resume": True, "proof": PROVED._replace(passed=False)}, "resume-due", "a proof test failed"),
        ({"needs_resume": True, "proof": Proof()}, "resume-due", "a trip was reset"),
        ({"needs_resume": True, "latched": HOT}, "resume-due", None),
        ({"opened_by_hand": AT - 5.0}, "opened-by-hand", "reported open"),
        ({}, "opened-by-hand", None),
        ({"link": "relay-link-lost", "link_why": "no connection"}, "relay-link-lost", "no connection"),
        ({"kept_order_at": AT - 5.0, "kept_order": "on"}, "retained-order", "'on', which opens it, was left"),
        ({"kept_order_at": AT - 5.0, "kept_order": "on", "kept_closes": True}, "retained-order", None),
        (
            {"kept_order_at": AT - 5.0, "kept_order": "on", "kept_closes": True},
            "retained-close",
            "may close it, was left",
        ),
        ({"kept_order_at": AT + 1.0 - 600.0, "kept_order": "on"}, "retained-order", None),
        ({"kept_order_at": AT + 2.0 - 600.0, "kept_order": "on"}, "retained-order", "'on'"),
        ({}, "retained-order", None),
        ({"bypasses": {"voltage": AT + 60.0, "current": AT + 2.0}}, "bypassed", "silence of current excused until "),
        ({"bypasses": {"voltage": AT + 60.0, "current": AT + 1.0}}, "bypassed", "silence of voltage excused until "),
        ({"bypasses": {"voltage": AT + 1.0}}, "bypassed", None),
        ({"bypasses": {"fan": AT + 60.0}}, "bypassed", None),
        ({"latched": HOT, "closed_at": AT - 60.0}, "closed-while-tripped", "although the bank is tripped"),
        ({"latched": HOT, "closed_at": AT - 61.0}, "closed-while-tripped", None),
        ({"closed_at": AT - 60.0}, "closed-while-tripped", None),
    ],
)
def test_what_the_interlock_remembers_is_said(lock: dict[str, Any], name: str, said: str | None) -> None:
    found = told(**lock)
    assert found.get(name) is None if said is None else said in found[name]
    if name == "resume-due":
        assert found.get(name) == said
    if lock and said is not None:
        if name == "bypassed":  # what nobody watches is said of a bank without a relay too
            assert said in told(relay=None, **lock)[name]
            return
        assert name not in told(relay=None, **lock), "nothing is said of a relay that is not there"


def test_of_two_trips_the_first_says_since_when_the_relay_must_not_close() -> None:
    two = {**HOT, "gas": Latch(AT - 30.0, 0.02, 0.01, "1", "hydrogen")}
    assert "closed-while-tripped" in told(latched=two, closed_at=AT - 45.0)


def test_blocks_that_were_joined_anew_may_be_what_a_resume_is_due_for() -> None:
    fold = ready()
    assert fold.act("arrange", act="split", sure=True) == ""
    fold.wait(1)
    assert fold.memory.flags["resume-due"].reason == "a trip was reset, or blocks are joined anew"


def test_once_the_round_is_over_the_relay_belongs_open_whoever_opened_it() -> None:
    rests = {"phase": PhaseMemory("resting", AT - 60.0, started_at=AT - DAY, hold_complete=True)}
    assert "opened-by-hand" not in told(rests, opened_by_hand=AT - 5.0)


@pytest.mark.parametrize(
    ("proof", "more", "memory", "said"),
    [
        (PROVED, {}, {}, None),
        (PROVED._replace(passed=False, note="it stayed closed"), {}, {}, "it stayed closed"),
        (Proof(), {}, {}, "never proved"),
        (PROVED._replace(at=AT + 1.0 - 90.0 * DAY), {}, {}, None),
        # What it showed then is no reason to prove it now, and would read like a proof of now.
        (PROVED._replace(at=AT - 90.0 * DAY, note="seen open"), {}, {}, f"last proved {moment(AT - 90.0 * DAY)}, more"),
        (PROVED._replace(at=AT - 90.0 * DAY), {"started": False}, {}, None),
        (Proof(), {"started": False}, {}, None),
    ],
)
def test_a_proof_is_due_in_a_round_where_there_is_none_or_it_is_too_old(
    proof: Proof, more: dict[str, Any], memory: dict[str, Any], said: str | None
) -> None:
    found = told(memory, proof=proof, **more)
    here = "proof-test-due" if proof.passed else "proof-test-missing"
    assert found.get("proof-test-due") is None if said is None else said in found[here]
    assert not {"proof-test-due", "proof-test-missing"} <= found.keys(), "one flag for one thing"


def test_a_proof_without_current_is_a_promise_that_is_due_at_the_first_ampere() -> None:
    promise = PROVED._replace(current_proved=False, not_shown="that the current falls")
    due = "not yet shown: that the current falls"
    woken, asleep = PhaseMemory("bulk", AT, woken=True, started_at=AT), PhaseMemory("waking", AT, started_at=AT)
    assert told({"phase": woken}, proof=promise, tried_at=AT)["proof-test-due"] == due
    assert told({"phase": asleep}, proof=promise, tried_at=AT, flows_since=AT - 5.0)["proof-test-due"] == due
    plain = promise._replace(not_shown="")
    assert told({"phase": woken}, proof=plain, tried_at=AT)["proof-test-due"] == f"{due} with the relay"
    assert "proof-test-due" not in told({"phase": woken}, proof=promise._replace(current_proved=True))
    fold = ready(amps=0.0)
    fold.memory = fold.memory._replace(phase=asleep, interlock=fold.lock._replace(proof=promise, flows_since=0.0))
    fold.wait(1, every=1, **{**WARM, "current": 0.0})
    assert "proof-test-due" not in fold.flags, "nothing flows yet"


@pytest.mark.parametrize("phase", ["resting", "testing", "finished"])
def test_a_round_that_is_over_asks_for_no_proof_and_its_checklist_is_asked_anew(phase: str) -> None:
    ended = PhaseMemory(phase, AT - 5.0, woken=True, started_at=AT - DAY)
    for checked, still in ((AT - DAY, ""), (AT - 60.0, "the keeper")):
        fold = ready()
        lock = fold.lock._replace(proof=Proof(), checklist_at=checked)
        fold.memory = fold.memory._replace(phase=ended, interlock=lock)
        fold.wait(1, every=1, **WARM)
        assert fold.lock.checklist_by == still, "what was confirmed since is confirmed for the next round"
        assert not {"proof-test-due", "proof-test-missing", "checklist-open"} & fold.flags
    fold.memory = fold.memory._replace(
        phase=ended._replace(started_at=None), interlock=fold.lock._replace(checklist_by="the keeper", checklist_at=0.0)
    )
    fold.wait(1, every=1, **WARM)
    assert fold.lock.checklist_by == "", "of a round whose beginning nobody knows"


def test_while_a_round_goes_on_its_checklist_stays() -> None:
    fold = ready()
    fold.memory = fold.memory._replace(phase=PhaseMemory("bulk", AT, started_at=AT))
    fold.wait(60, every=5, **WARM)
    assert fold.lock.checklist_by == "the keeper"


def cut(reports: bool = True) -> Fold:
    """A bank whose person has paused it, so that the relay is told to open."""
    fold = ready(make_bank(relay=Relay(reports_state=reports, auto_off=90.0)))
    fold.memory = fold.memory._replace(interlock=fold.lock._replace(started=False))
    fold.wait(1, every=1, **WARM)
    assert fold.orders[-1].action == "cut"
    return fold


def test_a_cut_that_nothing_has_shown_is_said_after_ten_seconds() -> None:
    fold = cut(reports=False)
    fold.wait(8, every=1, voltage=28.0, **{PROBE: 25.0})
    assert "relay-unconfirmed" not in fold.flags
    fold.wait(3, every=1, voltage=28.0, **{PROBE: 25.0})
    assert "relay-unconfirmed" in fold.flags
    latch = {"relay-disobeys": Latch(fold.at, reason="it did not open")}
    fold.memory = fold.memory._replace(interlock=fold.lock._replace(latched=latch))
    fold.wait(1, every=1, **{PROBE: 25.0})
    assert "relay-disobeys" in fold.flags and "relay-unconfirmed" not in fold.flags, "which says more"


def test_current_that_flows_in_with_the_relay_open_is_another_source() -> None:
    fold = cut()
    fold.read("relay_state", 0.0)
    fold.wait(30, every=1, voltage=26.0, current=0.0, **{PROBE: 25.0})
    assert "other-source" not in fold.flags
    fold.wait(40, every=1, voltage=26.0, current=5.0, **{PROBE: 25.0})
    assert "other-source" in fold.flags


def test_a_relay_that_stays_closed_trips_after_its_ten_seconds() -> None:
    fold = cut()
    fold.wait(1, every=1, **WARM)
    fold.read("relay_state", 1.0)
    fold.wait(8, every=1, **WARM)
    assert "relay-disobeys" not in fold.lock.latched
    fold.wait(1, every=1, **WARM)
    assert "relay-disobeys" in fold.lock.latched and fold.at == fold.lock.latched["relay-disobeys"].at


# ----------------------------------------------------------------------------- how often, in which order


def looked(memory_at: float, **more: Any) -> list[float]:
    """Seconds after a look at which a bank without news is judged again."""
    fold = ready()
    fold.memory = fold.memory._replace(**more)
    fold.wait(1)
    began, seconds = fold.at, []
    while fold.at < began + memory_at:
        fold.at += 1.0
        before = fold.memory.judged_at
        fold.fold(Tick(fold.at))
        if fold.memory.judged_at != before:
            seconds.append(fold.at - began)
    return seconds


def test_without_news_a_bank_that_may_charge_is_judged_every_ten_seconds_and_one_that_waits_every_second() -> None:
    assert looked(25.0)[:2] == [10.0, 20.0]
    hot = Pending(AT + 1.0, 60.0, False, Finding(44.0, 43.3, "degC"), (AT + 1.0,))
    assert looked(5.0, pending={f"over-temperature|{PROBE}": hot}) == [1.0, 2.0, 3.0, 4.0, 5.0]
    lock = ready().lock
    assert looked(3.0, interlock=lock._replace(proving="opening", proving_since=AT + 1.0)) == [1.0, 2.0, 3.0]


def test_an_order_that_nothing_has_shown_is_looked_at_when_it_is_to_be_given_again() -> None:
    # The order was given a second before the first look: 1 s, 10 s and 300 s after it something may follow from time.
    lock = ready().lock._replace(allowed=False, started=False, order_at=AT, repeated_at=AT)
    seconds = looked(12.0, interlock=lock)
    assert seconds[0] == 1.0 and {9.0, 10.0} & set(seconds) and len(seconds) <= 4


def test_a_bank_without_a_relay_is_not_looked_at_until_a_meter_of_its_falls_silent() -> None:
    fold = Fold(make_bank(relay=None))
    fold.wait(1, every=1, **WARM)
    began = fold.memory.judged_at
    fold.wait(59)
    assert fold.memory.judged_at == began
    fold.wait(2)
    assert "meter-silent" in fold.flags, "in the second in which its silence has lasted too long, not up to ten later"


def test_a_bank_that_nobody_hears_is_observed_once_a_minute() -> None:
    fold = Fold(make_bank(relay=None))
    fold.wait(1, every=1, **WARM)
    began = fold.memory.observed_at
    fold.wait(59)
    assert fold.memory.observed_at == began
    fold.wait(1)
    assert fold.memory.observed_at == began + 60.0


def test_the_first_second_is_remembered_as_the_beginning() -> None:
    fold = Fold()
    fold.wait(1)
    began = fold.memory.began_at
    assert began == fold.at
    fold.wait(5)
    assert fold.memory.began_at == began


def test_a_state_goes_out_every_ten_seconds_and_at_once_when_something_changes() -> None:
    fold = ready()
    states: list[float] = []

    def second(**values: float) -> None:
        fold.derived = None
        fold.wait(1, every=1, **values)
        if fold.derived is not None:
            states.append(fold.at - AT)

    fold.memory = fold.memory._replace(shown_at=AT)
    for _ in range(21):
        second(**WARM)
    assert states == [10.0, 20.0]
    fold.fold(Tick(fold.at))
    fold.derived = None
    fold.note("level", **{"N00.1": -2.0})
    assert fold.derived is not None, "what somebody notes is shown at once"


def test_orders_stand_in_front_of_what_was_observed_in_the_same_second() -> None:
    # A capacity test ends at 1.75 V per cell in the second in which a latch orders the cut once more.
    bank = replace(make_bank(), load_relay=True)
    fold = ready(bank)
    fold.memory = fold.memory._replace(
        phase=PhaseMemory("testing", AT - 600.0, woken=True, started_at=AT - DAY),
        test=CapacityTest(AT - 600.0, 25.0, AT - 1.0, 20.0, low_samples=1),
        interlock=fold.lock._replace(latched=HOT),
    )
    fold.at += 1.0
    for name, value in {"voltage": 20.4, "current": -20.0, PROBE: 25.0}.items():
        fold.read(name, value)
    _, outcomes = step(bank, fold.memory, Tick(fold.at))
    kinds = [type(outcome) for outcome in outcomes]
    assert [each.action for each in outcomes if isinstance(each, Order)] == ["cut", "load-cut"]
    assert "test-end" in [each.kind for each in outcomes if isinstance(each, Event)]
    assert kinds == sorted(kinds, key=[Order, Event, Derived].index) and kinds[-1] is Derived


# ---------------------------------------------------------------------------------------- flags come and go


def test_a_flag_keeps_its_beginning_and_is_told_once_when_it_comes_and_once_when_it_goes() -> None:
    fold = ready()
    fold.memory = fold.memory._replace(counters=fold.memory.counters._replace(gassing=290.0))
    fold.wait(1, every=1, **WARM)
    since = fold.at
    first = fold.memory.flags["water-reserve"]
    assert first.since == since and first.unit == "g" and first.kind == FLAGS["water-reserve"].kind
    # 0.33609 g of water an ampere-hour (Faraday); 0.6 g a rated Ah, of which four fifths may go.
    assert first.value == pytest.approx(290.0 * 0.33609, rel=1e-3) and first.limit == pytest.approx(96.0)
    fold.memory = fold.memory._replace(counters=fold.memory.counters._replace(gassing=300.0))
    fold.wait(7, every=1, **WARM)
    later = fold.memory.flags["water-reserve"]
    assert later.since == since and later.value == pytest.approx(300.0 * 0.33609, rel=1e-3)
    fold.memory = fold.memory._replace(counters=fold.memory.counters._replace(gassing=0.0))
    fold.wait(1, every=1, **WARM)
    told = [
        (event.kind, event.at, event.detail.get("after"))
        for event in fold.events
        if event.detail.get("flag") == "water-reserve"
    ]
    assert told == [("flag-raised", since, None), ("flag-cleared", since + 8.0, 8.0)]


def test_a_flag_that_stands_says_what_is_so_now_in_the_unit_of_now_and_what_to_do_now() -> None:
    # The days of a round first, then the hours of its hold; the charger first on, then seen to be off.
    fold = ready()
    fold.memory = fold.memory._replace(phase=PhaseMemory("bulk", AT, woken=True, started_at=AT - 10.1 * DAY))
    fold.wait(1, every=1, **WARM)
    days = fold.memory.flags["charge-limit"]
    assert (days.limit, days.unit, days.reason) == (10.0, "d", "longest round") and "is on" in days.action
    fold.memory = fold.memory._replace(phase=fold.memory.phase._replace(hold_seconds=25.0 * 3600.0))
    fold.read("relay_state", 0.0)
    fold.wait(12, every=1, voltage=25.0, current=0.0, **{PROBE: 25.0})
    hours = fold.memory.flags["charge-limit"]
    assert hours.since == days.since
    assert (hours.value, hours.limit, hours.unit, hours.reason) == (25.0, 24.0, "h", "longest hold")
    assert "is on" not in hours.action and "cut off" in hours.action


def test_a_meter_that_fell_silent_is_named() -> None:
    fold = ready()
    fold.wait(65, every=5, voltage=28.0, current=20.0)
    since = moment(fold.memory.meters[PROBE].at)
    assert fold.memory.flags["meter-silent"].reason == f"electrolyte temperature (cabin/probe) not heard since {since}"
    assert not fold.lock.allowed


@pytest.mark.parametrize(
    ("values", "memory", "raised"),
    [
        ({}, {}, True),
        ({PROBE: 40.0}, {}, False),  # warm
        ({PROBE: None}, {}, False),  # nobody knows how warm
        ({}, {"hand": HandLog(damaged={"N01": "crack"})}, False),  # calm, and charging forbidden
    ],
)
def test_nobody_is_told_to_turn_the_charger_up_while_anything_is_in_doubt_or_forbidden(
    values: dict[str, float | None], memory: dict[str, Any], raised: bool
) -> None:
    fold = Fold(make_bank(relay=None))
    absorbing = PhaseMemory("absorbing", fold.at, woken=True, started_at=fold.at - DAY, ceiling=2.4)
    fold.memory = fold.memory._replace(phase=absorbing, **memory)
    shown = {name: value for name, value in {**WARM, "voltage": 28.8, **values}.items() if value is not None}
    fold.wait(1, every=1, **shown)
    assert fold.memory.phase.phase == "absorbing" and ("charger-limit-low" in fold.flags) is raised


@pytest.mark.parametrize(("grams", "withheld"), [(95.9, False), (96.1, True)])
def test_four_fifths_of_the_water_may_go_since_the_last_top_up(grams: float, withheld: bool) -> None:
    fold = ready()
    fold.memory = fold.memory._replace(
        counters=fold.memory.counters._replace(gassing=1000.0 + grams / 0.33609),
        hand=fold.memory.hand._replace(topped_up=1000.0),
    )
    fold.wait(1, every=1, **WARM)
    assert ("water-reserve" in fold.flags) is withheld


def test_at_four_fifths_of_it_the_water_is_used_up() -> None:
    fold = ready(replace(make_bank(), water_reserve=water_rate(290.0) / 0.8))
    fold.memory = fold.memory._replace(counters=fold.memory.counters._replace(gassing=290.0))
    fold.wait(1, every=1, **{**WARM, "voltage": 25.0})
    assert "water-reserve" in fold.flags


def test_a_danger_that_a_person_noted_latches_and_leaves_nothing_pending() -> None:
    fold = ready()
    fold.note("seen", **{"N00": "smoke"})
    assert "danger-noted" in fold.lock.latched
    assert not [key for key in fold.memory.pending if key.startswith("danger-noted")]


def test_a_note_that_names_its_block_trips_and_forbids_at_that_block() -> None:
    fold = ready()
    fold.note("seen", **{"": "a crack in N00"})
    assert fold.memory.hand.damaged == {"N00": "crack"} and "N00" in fold.memory.flags["case-damaged"].reason
    fold.note("seen", **{"": "block N01 is hot"})
    assert fold.lock.latched["danger-noted"].reason == "somebody noted: hot block at N01"


def test_a_bank_whose_current_nobody_ever_read_is_condemned_by_nothing() -> None:
    condemned = PhaseMemory("reviving", AT, started_at=AT - 5 * DAY, not_reviving=True, hopeless=True, finding="still")
    fold = ready()
    fold.memory = fold.memory._replace(phase=condemned)
    fold.wait(1, every=1, **WARM)
    assert fold.flags & {"not-reviving", "hopeless"}
    blind = Fold(make_bank(relay=None))
    blind.memory = blind.memory._replace(phase=condemned)
    blind.wait(1, every=1, voltage=28.0, **{PROBE: 25.0})
    assert not blind.flags & {"not-reviving", "hopeless"}


def test_the_end_of_a_capacity_test_is_said_while_the_round_stands_at_its_test() -> None:
    fold = ready()
    ended = CapacityTest(AT - 600.0, 20.0)._replace(ended_at=AT - 5.0, reason="1.75 V per cell")
    testing = PhaseMemory("testing", AT - 600.0, woken=True, started_at=AT - DAY)
    for test, phase, said in (
        (ended, testing, True),
        (ended._replace(ended_at=None), testing, False),
        (ended, testing._replace(phase="finished"), False),
        (None, testing, False),
    ):
        fold.memory = fold.memory._replace(test=test, phase=phase)
        fold.wait(1, every=1, voltage=21.0, current=0.0, **{PROBE: 25.0})
        assert ("test-end" in fold.flags) is said


def test_nothing_of_the_relay_or_a_start_is_asked_where_there_is_no_relay() -> None:
    fold = Fold(make_bank(relay=None))
    fold.wait(10, every=1, **WARM)
    assert not {"checklist-open", "proof-test-missing", "proof-test-due", "not-started"} & fold.flags
    fold.memory = fold.memory._replace(hand=fold.memory.hand._replace(level_wrong="N01.2"))
    fold.wait(1, every=1, **WARM)
    assert fold.memory.flags["level-wrong"].reason == "level over the mark at N01.2"


def test_before_a_start_everything_is_named_that_stands_against_it_and_nothing_of_it_afterwards() -> None:
    fold = Fold()
    fold.wait(2, every=1, **{**WARM, "current": 0.0})
    assert {"checklist-open", "proof-test-missing", "not-started"} <= fold.flags
    assert not {"checklist-open", "proof-test-missing", "not-started"} & ready().flags
    gone = ready()
    gone.memory = gone.memory._replace(interlock=gone.lock._replace(proof=Proof(), checklist_by=""))
    gone.wait(1, every=1, **WARM)
    assert {"checklist-open", "proof-test-missing"} <= gone.flags and not gone.lock.allowed


@pytest.mark.parametrize(("phase", "started"), [("bulk", False), ("idle", True)])
def test_only_a_bank_that_is_idle_and_not_started_is_asked_for_what_a_start_needs(phase: str, started: bool) -> None:
    fold = ready()
    lock = fold.lock._replace(started=started, proof=PROVED)
    hand = fold.memory.hand._replace(plates_bare="N00.1")
    fold.memory = fold.memory._replace(
        phase=PhaseMemory(phase, AT, started_at=AT), interlock=lock._replace(checklist_by=""), hand=hand
    )
    fold.wait(1, every=1, **{**WARM, "current": 0.0, "voltage": 25.0})
    assert fold.memory.phase.phase == phase and ("checklist-open" in fold.flags) is started


def test_a_doubted_sign_is_excused_by_no_bypass() -> None:
    fold = ready()
    lock = fold.lock._replace(sign_doubted=fold.at, bypasses={"current": fold.at + 600.0})
    fold.memory = fold.memory._replace(interlock=lock)
    fold.wait(1, every=1, **{**WARM, "current": -20.0})
    assert not fold.lock.allowed and fold.orders[-1].reason == "meter-suspect"


def test_a_current_whose_sign_is_doubted_is_suspect_and_the_permit_goes() -> None:
    fold = ready()
    fold.memory = fold.memory._replace(interlock=fold.lock._replace(sign_doubted=fold.at))
    fold.wait(1, every=1, **{**WARM, "current": -20.0})
    assert "sign (cabin/shunt)" in fold.memory.flags["meter-suspect"].reason
    assert not fold.lock.allowed and fold.orders[-1].reason == "meter-suspect"


@pytest.mark.parametrize(
    ("resolution", "learned", "amps", "shown"),
    [
        # A current shows that it fell from more than three of its meter's steps on; a step that was only ever seen,
        # and may be noise, counts as an ampere at most.
        (0.1, 5.0, 4.0, True),
        (5.0, 0.1, 4.0, False),
        (0.0, 0.1, 4.0, True),
        (0.0, 5.0, 4.0, True),
        (0.0, 1.0, 3.0, False),
    ],
)
def test_how_fine_the_shunt_is_says_whether_a_current_can_show_the_cut(
    resolution: float, learned: float, amps: float, shown: bool
) -> None:
    meters = make_bank().meters
    shunt = next(meter for meter in meters if meter.quantity == "current")
    others = tuple(meter for meter in meters if meter.quantity not in ("current", "relay_state"))
    plain = make_bank(relay=Relay(reports_state=False, auto_off=90.0))
    bank = replace(plain, meters=(*others, replace(shunt, resolution=resolution)))
    fold = ready(bank, amps=amps)
    trace = fold.memory.meters["current"]._replace(step=learned)
    fold.memory = fold.memory._replace(
        meters={**fold.memory.meters, "current": trace}, interlock=fold.lock._replace(started=False)
    )
    fold.wait(12, every=1, voltage=28.0, **{PROBE: 25.0})
    assert ("relay-unconfirmed" in fold.flags) is shown


@pytest.mark.parametrize(
    ("first", "second", "learned", "amps", "shown"),
    [
        (0.1, 5.0, 0.3, 4.0, True),
        (5.0, 0.1, 0.3, 4.0, False),
        (0.0, 5.0, 0.3, 2.5, True),  # nobody says how fine the first is: by what it has shown
        (0.0, 5.0, 5.0, 4.0, True),
        (5.0, 0.0, 5.0, 4.0, False),
    ],
)
def test_of_two_shunts_the_first_says_how_fine_the_current_is(
    first: float, second: float, learned: float, amps: float, shown: bool
) -> None:
    plain = make_bank(relay=Relay(reports_state=False, auto_off=90.0), more=(Meter("current#2", "current"),))
    fine = {"current": first, "current#2": second}
    meters = tuple(replace(each, resolution=fine.get(each.name, each.resolution)) for each in plain.meters)
    fold = ready(replace(plain, meters=meters), amps=amps)
    steps = {
        "current": fold.memory.meters["current"]._replace(step=learned),
        "current#2": NEVER._replace(step=5.0 - learned),
    }
    fold.memory = fold.memory._replace(
        meters={**fold.memory.meters, **steps}, interlock=fold.lock._replace(started=False)
    )
    fold.wait(12, every=1, voltage=28.0, **{PROBE: 25.0})
    assert ("relay-unconfirmed" in fold.flags) is shown


def test_a_current_reckoned_from_power_has_no_step_of_its_own() -> None:
    plain = make_bank(relay=Relay(reports_state=False, auto_off=90.0), more=(Meter("power", "power", period=10.0),))
    bank = replace(plain, meters=tuple(meter for meter in plain.meters if meter.quantity != "current"))
    fold = ready(plain)
    fold.bank = bank
    fold.wait(1, every=1, voltage=28.0, power=56.0, **{PROBE: 25.0})  # 2 A, whose fall can be seen
    assert fold.memory.counters.current == pytest.approx(2.0)
    fold.memory = fold.memory._replace(interlock=fold.lock._replace(started=False))
    fold.wait(12, every=1, voltage=28.0, **{PROBE: 25.0})
    assert "relay-unconfirmed" in fold.flags
