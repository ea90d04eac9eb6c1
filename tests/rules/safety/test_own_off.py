"""The relay's own auto-off, tried in a proof test: in time, too late, never, too early, or cut short."""

from __future__ import annotations

import pytest

from bridge.journal.snapshot import from_text, to_text
from rules.bank.model import Relay
from rules.events import Command, Incoming, Order
from rules.safety.own_off import AS_WRITTEN, NO_REPORT, NOTHING_TO_SEE, UNMOVED, own_off_words, window
from rules.safety.proof import NEVER_CLOSED
from rules.safety.state import OwnOff
from tests.support.fold import PROBE, START, Fold, make_bank, ready

SILENT = make_bank(relay=Relay(reports_state=False, auto_off=90.0))
USUAL = {"voltage": 25.4, "current": 20.0, PROBE: 25.0}


def walked(fold: Fold | None = None) -> Fold:
    """A bank that has booted and whose checklist is confirmed; the relay is open, no round is started."""
    fold = Fold() if fold is None else fold
    fold.fold(Command("north", "boot", fold.at))
    fold.wait(1, every=1, **{**USUAL, "current": 0.0})
    if fold.bank.relay is not None and fold.bank.relay.reports_state:
        fold.read("relay_state", 0.0)
    assert fold.act("checklist", name="the keeper") == ""
    return fold


def trying(fold: Fold | None = None) -> Fold:
    """The same, with the trial of the auto-off begun and the relay seen closed a second later."""
    fold = walked(fold)
    assert fold.act("prove", auto_off=True) == ""
    assert [order.action for order in fold.orders[-1:]] == ["allow-once"]
    fold.wait(1, every=1, **USUAL)
    if fold.bank.relay is not None and fold.bank.relay.reports_state:
        fold.read("relay_state", 1.0)
    fold.wait(1, every=1, **USUAL)
    assert fold.lock.proving == "auto-off"
    return fold


def next_step(fold: Fold) -> str:
    """What is to be done next, as it was last said."""
    fold.memory = fold.memory._replace(shown="")
    fold.wait(1, every=1, **{**USUAL, "current": 0.0})
    assert fold.derived is not None
    return " ".join((fold.derived.next_step, *fold.derived.then))


def opens(fold: Fold, amps: float = 0.0) -> None:
    """The relay opens now, and says so where it says anything; the current goes as it is said."""
    fold.at += 0.5
    if fold.bank.relay is not None and fold.bank.relay.reports_state:
        fold.read("relay_state", 0.0)
    fold.wait(3, every=1, **{**USUAL, "current": amps})


def proved_by_order(fold: Fold) -> None:
    """The usual proof that follows: it is closed again, seen closed, cut, and seen open."""
    assert fold.lock.proving == "closing" and fold.orders[-1].action == "allow"
    if fold.bank.relay is not None and fold.bank.relay.reports_state:
        fold.read("relay_state", 1.0)
    fold.wait(2, every=1, **USUAL)
    assert fold.lock.proving == "opening" and fold.orders[-1].action == "cut"
    opens(fold)


def told(fold: Fold, kind: str) -> dict[str, object]:
    """The last event of this kind."""
    return dict([event for event in fold.events if event.kind == kind][-1].detail)


def test_a_relay_that_opens_by_itself_in_time_is_measured_and_then_proved_by_order() -> None:
    fold = trying()
    before = len(fold.orders)
    fold.wait(85, every=1, **USUAL)
    assert fold.orders[before:] == [], "nothing is repeated while it is waited for"
    opens(fold)
    assert told(fold, "auto-off") == {"opened": True, "seconds": 87.5, "written": 90.0, "note": ""}
    proved_by_order(fold)
    proof = fold.lock.proof
    assert proof.passed and proof.current_proved and fold.lock.proving == ""
    assert (proof.own.seconds, proof.own.written, proof.own.why) == (87.5, 90.0, "")
    assert told(fold, "proof")["own"] == "opens by itself after 88 s, measured on 2026-11-25"
    assert fold.act("start") == "" and fold.lock.allowed


class Recorded(Fold):
    """Keeps what came in."""

    def __init__(self) -> None:
        super().__init__()
        self.came: list[Incoming] = []

    def fold(self, event: Incoming) -> list[Order]:
        self.came.append(event)
        return super().fold(event)


def test_the_same_events_folded_again_measure_the_same() -> None:
    first = Recorded()
    trying(first).wait(85, every=1, **USUAL)
    opens(first)
    proved_by_order(first)
    again = Fold()
    for event in first.came:
        again.fold(event)
    assert again.memory == first.memory and again.orders == first.orders and again.events == first.events
    assert again.lock.proof.own.seconds == 87.5


def test_what_was_measured_is_kept_by_a_plain_proof_and_by_a_restart() -> None:
    fold = trying()
    fold.wait(85, every=1, **USUAL)
    opens(fold)
    proved_by_order(fold)
    own = fold.lock.proof.own
    fold.memory = from_text(to_text(fold.memory)).memory
    fold.fold(Command("north", "boot", fold.at))
    fold.wait(1, every=1, **USUAL)
    assert fold.act("prove") == ""
    proved_by_order(fold)
    assert fold.lock.proof.passed and fold.lock.proof.own == own


def test_a_relay_that_never_opens_by_itself_is_cut_at_once_and_counts_as_not_proved_until_it_was_seen_to() -> None:
    fold = trying()
    fold.wait(103, every=1, **USUAL)
    assert fold.lock.proving == "auto-off", "not before the latest moment"
    orders = fold.wait(1, every=1, **USUAL)
    assert [order.action for order in orders] == ["cut"]
    proof = fold.lock.proof
    assert not proof.passed and proof.note == proof.own.why
    assert "was not seen to open by itself within 105 s" in proof.note and "set 90 s in the relay itself" in proof.note
    assert "`revival prove --auto-off`" in proof.note and "`revival setup --auto-off none`" in proof.note
    assert "then nothing opens it once broker or network are gone" in proof.note
    assert told(fold, "auto-off")["opened"] is False and "NOT seen to open" in str(told(fold, "proof")["own"])
    opens(fold)
    assert "open by itself" in fold.act("start") and not fold.lock.allowed
    said = next_step(fold)
    assert "`revival prove --auto-off`" in said and "`revival setup --auto-off none`" in said
    assert "with `revival prove`, clear" not in said, "a plain proof is refused"
    assert fold.act("prove") == proof.own.why, "a plain proof shows nothing of it"
    fold.memory = from_text(to_text(fold.memory)).memory
    fold.fold(Command("north", "boot", fold.at))
    fold.wait(1, every=1, **USUAL)
    assert fold.act("prove") == proof.own.why, "no restart forgets it"
    again = trying_again(fold)
    again.wait(85, every=1, **USUAL)
    opens(again)
    proved_by_order(again)
    assert again.lock.proof.passed and again.lock.proof.own.why == "" and again.act("start") == ""


def trying_again(fold: Fold) -> Fold:
    """The trial once more, from a relay that is open."""
    assert fold.act("prove", auto_off=True) == ""
    fold.wait(1, every=1, **USUAL)
    fold.read("relay_state", 1.0)
    fold.wait(1, every=1, **USUAL)
    assert fold.lock.proving == "auto-off"
    return fold


def test_another_relay_or_none_written_ends_what_a_stuck_auto_off_withholds() -> None:
    fold = trying()
    fold.wait(104, every=1, **USUAL)
    opens(fold)
    assert fold.act("prove") != ""
    without = Fold(make_bank(relay=Relay(reports_state=True, auto_off=None)), fold.memory, fold.at)
    assert without.act("prove") == "" and "nothing to try" in Fold(without.bank, fold.memory, fold.at).act(
        "prove", auto_off=True
    )
    # what was said of the 90 s is not said of a relay that has none, nor of other seconds
    bare = Fold(without.bank, fold.memory, fold.at)
    assert bare.act("start").endswith("it has no auto-off of its own") and "90 s" not in bare.act("start")
    assert "`revival prove`" in next_step(bare)
    shorter = Fold(make_bank(relay=Relay(reports_state=True, auto_off=60.0)), fold.memory, fold.at)
    assert "was not tried since with 60 s: `revival prove --auto-off`" in shorter.act("prove")
    assert "set 90 s" not in shorter.act("start")
    fold.fold(Command("north", "relay-changed", fold.at))
    assert fold.lock.proof.own == OwnOff() and fold.act("prove") == ""


def test_too_late_is_as_never_and_much_too_early_is_no_measurement() -> None:
    late = trying()
    late.wait(104, every=1, **USUAL)
    opens(late)
    assert late.lock.proof.own.why and late.lock.proof.own.seconds == 0.0
    early = trying()
    early.wait(40, every=1, **USUAL)
    opens(early)
    proof = early.lock.proof
    assert not proof.passed and proof.own == OwnOff() and early.orders[-1].action == "cut"
    assert "the relay opened by itself after 42 s, long before the 90 s" in proof.note
    assert "between them" not in proof.note
    assert early.act("prove") == "", "it hung on nothing, so a plain proof is taken"


def test_one_that_opens_between_two_repeats_is_told_so() -> None:
    fold = trying()
    fold.wait(10, every=1, **USUAL)
    opens(fold)
    assert "orders to stay closed come every 30 s, so it would open between them" in fold.lock.proof.note


def test_without_a_state_the_falling_current_measures_it_and_nothing_else_does() -> None:
    fold = trying(Fold(SILENT))
    fold.wait(86, every=1, **USUAL)
    opens(fold)
    assert told(fold, "auto-off")["opened"] is True and 85.0 <= fold.lock.proof.own.seconds <= 91.0
    proved_by_order(fold)
    assert fold.lock.proof.passed and fold.lock.proof.kind == "current"
    hung = trying(Fold(SILENT))
    hung.wait(146, every=1, **USUAL)
    assert hung.lock.proving == "auto-off", "a meter of the current has its time"
    hung.wait(4, every=1, **USUAL)
    assert not hung.lock.proof.passed and hung.lock.proof.own.why
    early = trying(Fold(SILENT))
    early.wait(60, every=1, **USUAL)
    opens(early)
    assert "the current fell by itself after" in early.lock.proof.note, "a charger that ends by itself is no relay"


def test_where_nothing_could_show_it_nothing_is_measured_and_the_plain_proof_goes_on() -> None:
    fold = walked(Fold(SILENT))
    assert fold.act("prove", auto_off=True) == ""
    fold.wait(15, every=1, **{**USUAL, "current": 0.0})
    assert told(fold, "auto-off") == {"opened": False, "seconds": 0.0, "written": 90.0, "note": NOTHING_TO_SEE}
    assert fold.lock.proving == "closing" and fold.orders[-1].action == "allow"
    fold.wait(30, every=1, **{**USUAL, "current": 0.0})
    assert fold.lock.proving == "witness" and fold.act("witness", name="the keeper") == ""
    assert fold.lock.proof.passed and fold.lock.proof.own == OwnOff()
    assert told(fold, "proof")["own"] == AS_WRITTEN


def test_what_hung_before_and_cannot_be_seen_now_stays_unproved() -> None:
    fold = trying(Fold(SILENT))
    fold.wait(150, every=1, **USUAL)
    why = fold.lock.proof.own.why
    fold.wait(2, every=1, **{**USUAL, "current": 0.0})
    assert why and fold.act("prove", auto_off=True) == ""
    fold.wait(16, every=1, **{**USUAL, "current": 0.0})
    assert fold.lock.proving == "" and not fold.lock.proof.passed and fold.lock.proof.own.why == why
    assert "cannot be tried" in fold.lock.proof.note


def test_a_relay_that_never_reports_closed_fails_as_in_a_plain_proof() -> None:
    fold = walked()
    assert fold.act("prove", auto_off=True) == ""
    fold.wait(15, every=1, **USUAL)
    assert fold.lock.proof.note == NEVER_CLOSED and fold.lock.proof.own == OwnOff()


def test_a_current_that_goes_on_while_the_relay_reports_open_and_one_that_falls_without_a_report() -> None:
    hangs = trying()
    hangs.wait(85, every=1, **USUAL)
    opens(hangs, amps=20.0)
    hangs.wait(12, every=1, **USUAL)
    assert hangs.lock.proof.note == UNMOVED and hangs.lock.proof.own == OwnOff() and hangs.orders[-1].action == "cut"
    mute = trying()
    mute.wait(85, every=1, **USUAL)
    mute.wait(20, every=1, **{**USUAL, "current": 0.0})
    assert mute.lock.proof.note == NO_REPORT and mute.lock.proof.own == OwnOff()


@pytest.mark.parametrize("begun", [1.0, 40.0])
def test_a_hazard_in_the_middle_trips_and_opens_at_once(begun: float) -> None:
    fold = trying()
    fold.wait(begun, every=1, **USUAL)
    orders = fold.read(PROBE, 61.0) + fold.read(PROBE, 61.2) + fold.wait(1, every=1, **{**USUAL, PROBE: 61.3})
    assert "cut" in [order.action for order in orders] and fold.lock.latched
    assert fold.lock.proving == "" and fold.lock.proof.note.startswith("stopped") and not fold.lock.proof.passed


def test_a_meter_that_goes_silent_stops_it_and_what_was_measured_before_stands() -> None:
    fold = trying()
    measured = OwnOff(START - 86400.0, 88.0, 90.0)
    fold.memory = fold.memory._replace(interlock=fold.lock._replace(proof=fold.lock.proof._replace(own=measured)))
    fold.wait(80)
    assert fold.lock.proving == "" and fold.lock.proof.note.startswith("stopped")
    assert fold.orders[-1].action == "cut" and fold.lock.proof.own == measured


def test_whoever_ends_the_round_or_takes_the_checklist_back_opens_it() -> None:
    fold = ready()
    assert fold.act("prove", auto_off=True) == "" and fold.lock.proving == "auto-off", "it is closed and has said so"
    fold.wait(10, every=1, **USUAL)
    fold.at += 1.0
    assert fold.act("abandon") == ""
    assert fold.orders[-1].action == "cut" and fold.lock.proving == "" and not fold.lock.proof.passed
    other = trying()
    assert other.act("checklist", undo=True) == ""
    assert other.orders[-1].action == "cut" and other.lock.proving == ""


def test_tried_in_a_round_it_gives_the_permit_back_once_all_is_proved() -> None:
    fold = ready()
    assert fold.act("prove", auto_off=True) == ""
    fold.wait(86, every=1, **USUAL)
    assert fold.lock.proving == "auto-off" and not fold.lock.allowed
    opens(fold)
    proved_by_order(fold)
    assert fold.lock.proof.passed and fold.lock.proof.own.seconds == 86.5 and fold.lock.allowed


def test_a_restart_in_the_middle_measures_nothing_and_leaves_the_relay_cut() -> None:
    fold = trying()
    fold.wait(30, every=1, **USUAL)
    fold.memory = from_text(to_text(fold.memory)).memory
    fold.fold(Command("north", "boot", fold.at))
    fold.wait(1, every=1, **USUAL)
    assert fold.lock.proving == "" and fold.orders[-1].action == "cut" and fold.lock.proof.own == OwnOff()
    opens(fold)
    assert "never proved" in fold.act("start")


def test_a_link_that_is_lost_ends_it_before_its_will_could_pass_for_the_relay() -> None:
    fold = trying()
    fold.wait(86, every=1, **USUAL)
    fold.fold(Command("north", "relay-link", fold.at, argument={"link": "relay-link-lost", "why": "lost"}))
    opens(fold)
    assert not fold.lock.proof.passed and fold.lock.proof.own == OwnOff() and fold.lock.proof.note == "lost"


def test_an_auto_off_of_an_hour_has_its_share_of_slack_and_one_of_fifteen_seconds_no_less_than_the_repeats() -> None:
    assert window(Relay(reports_state=True, auto_off=3600.0)) == (3240.0, 3960.0)
    assert window(Relay(reports_state=True, auto_off=15.0)) == (7.0, 30.0)
    assert own_off_words(15.0, OwnOff(START, 14.6, 15.0)) == "opens by itself after 15 s, measured on 2026-11-25"
