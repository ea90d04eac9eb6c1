"""Moments m10 and m60 to m63: at the posts, a relay that obeys or not, other sources, watch-only banks, a hold's end.

Numbers are varied; thresholds are the trade's common practice, no source, unless said otherwise.
"""

from __future__ import annotations

from typing import Any

import pytest

from bridge.intake.mapping import Mapping
from bridge.intake.routes import Routes
from bridge.message import Message
from rules.bank.model import Limits, Relay
from rules.events import Command, HandReading, Reading, Tick
from rules.phase import PhaseMemory
from tests.support.fold import PROBE, START, Fold, make_bank, ready
from tests.support.moments import USUAL, Moment, bank_of

QUIET_RELAY = Relay(reports_state=False, auto_off=90.0)
OFF_FIRST = (
    "Switch the charger off at the wall, air the room for an hour, then ",
    "The charger is STILL ON: switch it off by hand now, at the wall, air the room for an hour, then ",
)


def cards(fold: Fold) -> dict[str, str]:
    """What each raised flag says."""
    assert fold.derived is not None
    return {flag.name: flag.action for flag in fold.derived.flags}


def everything(fold: Fold) -> str:
    """Next step, list and charger."""
    assert fold.derived is not None
    return " | ".join([fold.derived.next_step, *fold.derived.then, fold.derived.charger])


@pytest.mark.parametrize(
    ("flag", "noted"),
    [
        ("imbalance", None),
        ("not-reviving", None),
        ("hopeless", None),
        ("polarity-reversed", ("voltage", {"N02": -5.8})),
    ],
)
def test_m10_nobody_goes_to_the_posts_before_the_charger_is_off_and_the_room_aired(
    flag: str, noted: tuple[str, dict[str, float]] | None
) -> None:
    fold = ready(amps=18.0)
    if noted is not None:
        fold.fold(HandReading("north", noted[0], fold.at, fold.at, {**noted[1]}, sure=True))
    elif flag == "imbalance":
        fold.memory = fold.memory._replace(hand=fold.memory.hand._replace(spread=0.07))
    else:
        raised: dict[str, Any] = {flag.replace("-", "_"): True}
        stuck = fold.memory.phase._replace(finding="no growth", **raised)
        fold.memory = fold.memory._replace(phase=stuck)
    fold.wait(12, every=5, voltage=28.0, current=18.0, **{PROBE: 25.0})
    assert flag in fold.flags
    waits = {
        "imbalance": "When nothing charges any more",
        "not-reviving": "Switch the charger off at the wall when it suits",
    }
    first = (f"{waits[flag]}, air the room for an hour, then ",) if flag in waits else OFF_FIRST
    assert cards(fold)[flag].startswith((*first, "Keep the charger off and air the room until ")), cards(fold)[flag]


@pytest.mark.parametrize("closed", [True, False])
def test_m10_after_the_round_the_posts_wait_for_the_charger_and_the_air(closed: bool) -> None:
    fold = ready(amps=18.0)
    fold.act("finish", sure=True)
    fold.read("relay_state", 0.0)
    fold.memory = fold.memory._replace(
        phase=PhaseMemory("finished", fold.at, started_at=START, hold_complete=True), charged_at=fold.at - 7200.0
    )
    if closed:
        fold.wait(15)
        fold.read("relay_state", 1.0)
    fold.wait(20, every=5, voltage=25.0, current=0.0, **{PROBE: 25.0})
    words = cards(fold)["after-round"]
    if closed:
        assert words.startswith(OFF_FIRST), words
    else:
        assert words.startswith("Retorque and grease the posts"), words


@pytest.mark.parametrize(("before", "left"), [(22.0, 6.0), (18.0, 8.5), (40.0, 12.0)])
def test_m60_a_current_that_falls_by_most_and_stays_is_another_source(before: float, left: float) -> None:
    fold = ready(make_bank(relay=QUIET_RELAY, limits=Limits(string_current=60.0)), amps=before)
    fold.fold(Command("north", "finish", fold.at, argument={"sure": True}))
    fold.wait(60, every=5, voltage=27.0, current=left, **{PROBE: 25.0})
    assert "relay-disobeys" not in fold.flags
    assert "other-source" in fold.flags
    assert "still flows in from something else" in everything(fold)
    # A trip in this state can be reset.
    fold.wait(30, every=5, voltage=27.0, current=left, **{PROBE: 44.5})
    assert "over-temperature" in fold.lock.latched
    fold.wait(30, every=5, voltage=27.0, current=left, **{PROBE: 30.0})
    assert fold.act("reset") == ""


@pytest.mark.parametrize(("before", "left"), [(22.0, 22.0), (12.0, 11.8), (40.0, 31.0)])
def test_m61_a_current_that_does_not_fall_says_first_that_the_charger_is_still_on(before: float, left: float) -> None:
    fold = ready(make_bank(relay=QUIET_RELAY, limits=Limits(string_current=60.0)), amps=before)
    fold.fold(Command("north", "finish", fold.at, argument={"sure": True}))
    fold.wait(60, every=5, voltage=28.0, current=left, **{PROBE: 25.0})
    assert fold.derived is not None and "relay-disobeys" in fold.lock.latched
    assert fold.derived.next_step.startswith("The charger is STILL ON: switch it off by hand now, at the wall")
    assert fold.derived.charger.startswith("The charger is STILL ON")
    assert "cut off" not in everything(fold)


@pytest.mark.parametrize(("degrees", "amps", "case"), [(44.0, 30.0, False), (43.5, 12.0, False), (41.0, 30.0, True)])
def test_m62_a_watch_only_bank_that_is_too_hot_is_switched_off_by_a_person_now(
    degrees: float, amps: float, case: bool
) -> None:
    bank = make_bank(relay=None, limits=Limits(temperature=degrees - 0.5 if case else 43.333, string_current=60.0))
    fold = Fold(bank)
    fold.wait(40, every=5, voltage=29.0, current=amps, **{PROBE: degrees})
    assert fold.derived is not None and "over-temperature" in fold.flags
    assert fold.derived.next_step.startswith("No relay here: switch the charger off now")
    assert "stopped" not in everything(fold) and "cut off" not in everything(fold)
    assert fold.derived.charger == "The charger is on: current flows into the bank."


def holding(relay: Relay | None, hours: float, needed: float = 20.0) -> Fold:
    """A bank whose hold has run for so long."""
    fold = ready(make_bank(relay=relay), amps=6.0) if relay is not None else Fold(make_bank(relay=None))
    machine = PhaseMemory(
        "holding", fold.at - 3600.0 * hours, woken=True, started_at=fold.at - 86400.0 * 3,
        hold_seconds=3600.0 * hours, hold_needed=3600.0 * needed,
    )  # fmt: skip
    fold.memory = fold.memory._replace(phase=machine)
    return fold


def test_m63_a_complete_hold_without_a_relay_says_what_a_person_does() -> None:
    fold = holding(None, 24.2)
    fold.wait(200, every=5, voltage=32.0, current=6.0, **{PROBE: 25.0})
    assert fold.derived is not None and fold.derived.phase == "resting"
    first = fold.derived.next_step
    assert "switch the charger off" in first.lower(), first
    assert fold.derived.charger == "The charger is on: current flows into the bank."


@pytest.mark.parametrize("missing", [0.5, 0.8])
def test_m63_a_charger_switched_off_shortly_before_the_end_does_not_hold_for_ever(missing: float) -> None:
    fold = holding(None, 16.0 - missing, 16.0)
    fold.wait(120, every=10, voltage=32.0, current=6.0, **{PROBE: 25.0})
    fold.wait(1500, every=60, voltage=25.4, current=0.0, **{PROBE: 25.0})
    assert fold.derived is not None and fold.derived.phase == "holding" and fold.derived.interrupted
    assert "`revival finish`" in everything(fold), everything(fold)
    # A day later nobody has gone on: it rests.
    track = fold.memory.phase.track._replace(off_seconds=86400.0)
    fold.memory = fold.memory._replace(phase=fold.memory.phase._replace(track=track))
    fold.wait(180, every=60, voltage=25.4, current=0.0, **{PROBE: 25.0})
    assert fold.derived.phase == "resting"


@pytest.mark.parametrize(("hours", "silent"), [(0.5, 1200.0), (3.0, 2400.0)])
def test_m62_a_note_that_the_charger_is_off_does_not_outlive_a_current_that_flowed_after_it(
    hours: float, silent: float
) -> None:
    fold = Fold(make_bank(relay=None))
    fold.wait(40, every=5, voltage=27.0, current=12.0, **{PROBE: 30.0})
    fold.note("charger", volts=0.0)
    fold.wait(700, every=10, voltage=25.0, current=0.0, **{PROBE: 30.0})
    assert fold.derived is not None
    assert fold.derived.charger.startswith("The charger is off: so noted by a person")
    # Somebody switches it on again, and later the current meter falls silent: nobody knows, and nobody says off.
    fold.wait(hours * 3600.0, every=60, voltage=26.4, current=12.0, **{PROBE: 30.0})
    fold.wait(silent, every=60, voltage=26.4, **{PROBE: 30.0})
    assert "meter-silent" in fold.flags
    assert fold.derived.charger.startswith("Whether the charger is on is not known"), fold.derived.charger
    assert fold.derived.next_step.startswith("No relay here: switch the charger off now"), fold.derived.next_step


@pytest.mark.parametrize("amps", [6.0, 25.0])
def test_m60_a_current_read_before_the_relay_opened_is_no_other_source(amps: float) -> None:
    fold = ready(amps=amps)
    fold.act("finish", sure=True)
    fold.wait(2)
    fold.read("relay_state", 0.0)
    fold.wait(1)
    assert fold.derived is not None
    assert fold.derived.charger.startswith("The charger is cut off: the relay reports open"), fold.derived.charger
    fold.wait(10, every=5, voltage=26.0, current=amps / 2.0, **{PROBE: 25.0})
    assert "still flows in from something else" in everything(fold)


@pytest.mark.parametrize("phase", ["waking", "bulk"])
def test_m83_charging_that_goes_on_again_is_not_said_to_stand_still(phase: str) -> None:
    fold = ready(amps=12.0)
    machine = fold.memory.phase._replace(phase=phase, interrupted=True, started_at=fold.at - 86400.0)
    fold.memory = fold.memory._replace(phase=machine)
    fold.wait(5, every=5, voltage=28.0, current=12.0, **{PROBE: 25.0})
    assert fold.derived is not None and "The charger is on" in fold.derived.charger
    assert "stands still" not in everything(fold)


def come_up(moment: Moment, away: float) -> None:
    """The bridge was away so long [s] and comes up; the broker is not reached yet."""
    moment.at += away
    moment.fold(Command("north", "boot", moment.at, argument={"link": "relay-link-lost"} if moment.bank.relay else {}))
    moment.fold(Tick(moment.at))


def raised_since(moment: Moment, before: int) -> set[str]:
    """Flags that were raised after so many events."""
    return {str(event.detail["flag"]) for event in moment.events[before:] if event.kind == "flag-raised"}


@pytest.mark.parametrize("away", [8.0, 600.0, 86400.0])
@pytest.mark.parametrize("relay", [True, False])
@pytest.mark.parametrize("under_way", [True, False])
def test_a_bridge_that_was_restarted_alarms_nobody_by_its_own_silence(
    away: float, relay: bool, under_way: bool
) -> None:
    moment = Moment(bank_of(relay=relay))
    moment.flicker |= {"voltage": 0.02, "current": 0.1}
    if under_way:
        moment.begin(voltage=27.5, current=20.0, electrolyte_temperature=20.0)
        moment.pass_time(1200.0)
    else:
        moment.heard = relay
        moment.pass_time(120.0, voltage=25.4, current=0.0, electrolyte_temperature=20.0)
    if relay:
        moment.fold(Reading("north", "relay_state", 0.0, moment.at, moment.at))  # its guard cuts as the bridge goes
    before = len(moment.events)
    come_up(moment, away)
    assert not moment.lock.allowed, "the permit waits all the same"
    moment.at += 2.0
    moment.fold(Command("north", "relay-link", moment.at, argument={"link": ""}))
    moment.show(current=0.0 if relay else moment.feed["current"])
    moment.pass_time(120.0)
    new = raised_since(moment, before)
    assert new <= {"presence-due", "water-due", "gravity-due", "level-due", "string-currents-due"}, new


def test_what_stays_away_after_a_restart_is_told_after_two_minutes_and_what_was_told_before_stays_told() -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=27.5, current=20.0, electrolyte_temperature=20.0)
    come_up(moment, 600.0)
    for _ in range(13):
        moment.at += 10.0
        moment.fold(Tick(moment.at))
    assert {"meter-silent", "relay-link-lost"} <= moment.now.flags
    before = len(moment.events)
    come_up(moment, 600.0)
    stayed = {"meter-silent", "relay-link-lost"}
    assert stayed <= moment.now.flags and stayed.isdisjoint(raised_since(moment, before))


def test_of_a_relay_that_was_told_to_open_a_moment_ago_nobody_says_that_it_does_not_show_it() -> None:
    moment = Moment(bank_of())
    come_up(moment, 600.0)
    charger = moment.derived.charger if moment.derived is not None else ""
    assert "The bridge has no connection to the broker yet" in charger and "nothing shows whether it is open" in charger
    moment.at += 2.0
    moment.fold(Command("north", "relay-link", moment.at, argument={"link": ""}))
    assert moment.derived is not None and "has not had its time to show it" in moment.derived.charger
    assert moment.derived.safe != "yes" and "cut off" not in moment.derived.charger, "and nobody says that it has"
    for _ in range(12):
        moment.at += 1.0
        moment.fold(Tick(moment.at))
    assert "nothing has shown that it did" in moment.derived.charger
    moment.fold(Command("north", "relay-link", moment.at, argument={"link": "relay-link-lost", "why": "lost"}))
    assert "cannot be told so without the connection to the broker" in moment.derived.charger


@pytest.mark.parametrize("amps", [20.0, 6.0])
@pytest.mark.parametrize("reports", [True, False])
@pytest.mark.parametrize("obeys", [True, False])
def test_whoever_gives_a_round_up_is_told_of_a_charger_that_is_on_only_where_the_cut_does_not_show(
    amps: float, reports: bool, obeys: bool
) -> None:
    fold = ready(make_bank(relay=Relay(reports_state=reports, auto_off=90.0)), amps=amps)
    before = len(fold.events)
    assert fold.act("abandon") == ""
    fold.wait(9.0)  # the meters have not spoken since
    assert "charging-unprepared" not in fold.flags
    if reports:
        fold.read("relay_state", 0.0 if obeys else 1.0)
    fold.wait(60.0, every=10, voltage=25.9 if obeys else 28.0, current=0.0 if obeys else amps, **{PROBE: 25.0})
    told = {str(event.detail["flag"]) for event in fold.events[before:] if event.kind == "flag-raised"}
    assert ("charging-unprepared" in told) is not obeys


def test_never_two_quantities_may_be_silent_at_once_and_a_bypass_can_be_ended() -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=28.0, current=5.0, **{PROBE: 25.0})
    assert moment.act("bypass", quantity="voltage", minutes=20.0) == ""
    refused = moment.act("bypass", quantity="current", minutes=20.0)
    assert "voltage is excused until" in refused and "never of two at once" in refused
    moment.feed.clear()
    moment.pass_time(200.0)
    assert not moment.now.allowed
    assert moment.act("bypass", quantity="voltage", minutes=0) == ""
    assert moment.act("bypass", quantity="current", minutes=20.0) == ""
    moment.pass_time(1.0, every=1.0)
    assert "voltage" not in next(flag.reason for flag in moment.derived.flags if flag.name == "bypassed")  # type: ignore[union-attr]


def test_while_the_amps_still_fall_after_a_cut_nobody_is_sent_after_another_source() -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=25.0, current=0.0, **{PROBE: 25.0})
    moment.pass_time(60.0, voltage=28.2, current=10.0)
    assert moment.now.allowed
    moment.heard = False
    assert moment.act("finish", sure=True) == ""
    cut = moment.at
    for seconds, amps in ((1.0, 9.0), (2.0, 0.9), (5.0, 0.9)):
        moment.at = cut + seconds
        moment.read("relay_state", 0.0)
        moment.read("current", amps)
        moment.fold(Tick(moment.at))
        said = moment.now.texts
        assert "something else" not in said and "whatever still feeds" not in said, seconds
    for seconds in (20.0, 40.0):
        moment.at = cut + seconds
        moment.read("relay_state", 0.0)
        moment.read("current", 4.0)
        moment.fold(Tick(moment.at))
    assert "current still flows in from something else" in moment.now.texts


@pytest.mark.parametrize("excused", [True, False])
@pytest.mark.parametrize("seconds", [3.0, 8.0, 12.0, 20.0, 29.0])
def test_amps_that_flow_on_after_an_open_relay_are_answered_with_the_switch_and_no_excuse_stands_before_it(
    seconds: float, excused: bool
) -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=25.0, current=0.0, **{PROBE: 25.0})
    moment.pass_time(60.0, voltage=28.2, current=10.0)
    if excused:
        assert moment.act("bypass", quantity=PROBE, minutes=20.0) == ""
    moment.heard = False
    assert moment.act("finish", sure=True) == ""
    cut = moment.at
    for after in range(1, int(seconds) + 1):
        moment.at = cut + after
        moment.read("relay_state", 0.0)
        moment.read("current", 10.0)
        moment.fold(Tick(moment.at))
    derived = moment.derived
    assert derived is not None and ("bypassed" in moment.flags) is excused
    assert derived.next_step.startswith(("Switch the charger off at the wall", "Switch off at the wall whatever"))
    assert "charger" in derived.next_step.partition(".")[0]
    headline = moment.now.texts.splitlines()[1]
    assert "current" in headline and "excused" not in headline, headline
    assert ("at its own switch or at the breaker" in derived.charger) is (seconds < 10.0)


def test_a_bypass_is_the_headline_again_once_the_amps_are_gone() -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=25.0, current=0.0, **{PROBE: 25.0})
    moment.pass_time(60.0, voltage=28.2, current=10.0)
    assert moment.act("bypass", quantity=PROBE, minutes=20.0) == ""
    assert moment.act("finish", sure=True) == ""
    moment.pass_time(60.0, voltage=26.0)
    assert moment.derived is not None and moment.derived.unsafe == ("bypassed",)
    assert moment.derived.next_step.startswith("Stay with the bank and mend the meter")


def test_a_relay_state_that_cannot_be_read_takes_back_what_was_reported_before_and_names_key_and_topic() -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=25.0, current=0.0, **{PROBE: 25.0})
    moment.pass_time(60.0, voltage=28.2, current=10.0)
    assert moment.now.allowed
    assert moment.act("finish", sure=True) == ""
    moment.pass_time(400.0, current=0.0, voltage=25.0)
    assert "reports open" in moment.now.texts
    moment.heard = False
    moment.later(60.0)
    mapped = Mapping(
        "north", "relay_state", "relay_state", "cabin/charger/state", "plain", words=(("ON", 1.0), ("OFF", 0.0))
    )
    told = Routes([mapped]).decode(Message("cabin/charger/state", b'{"state": "ON"}', moment.at, False))
    assert told.readings == ()
    for lost in told.unreadable:
        moment.fold(lost)
    moment.pass_time(30.0)
    whole = moment.now
    assert "reports open" not in whole.texts and "relay-unconfirmed" in whole.flags
    assert "cabin/charger/state says" in whole.texts and "set state_pointer" in whole.texts
    assert "[bank.relay]" in whole.texts and "north: safe" not in whole.texts
    assert moment.derived is not None and moment.derived.relay == "unknown"
    moment.read("relay_state", 0.0)
    moment.pass_time(20.0)
    assert "reports open" in moment.now.texts and "relay-unconfirmed" not in moment.now.flags


def test_a_charger_that_goes_down_after_finish_is_not_called_still_high() -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=24.6, current=0.0, electrolyte_temperature=24.0)
    moment.pass_time(1800.0, voltage=31.4, current=9.0)
    assert moment.act("finish", sure=True) == ""
    for _ in range(8):
        moment.pass_time(1.0, every=1.0)
        assert "charger-still-high" not in moment.now.flags
    moment.pass_time(30.0)
    assert "charger-still-high" in moment.now.flags, "it has not come down"
    moment.pass_time(10.0, voltage=27.0)
    assert "charger-still-high" not in moment.now.flags


def test_a_meter_that_speaks_every_five_minutes_has_its_time_to_speak_after_a_restart() -> None:
    slow = [("electrolyte_temperature", 'unit = "degC"\nplaced = "cell"\nevery = "5 min"')]
    moment = Moment(bank_of(meters=(*USUAL[:2], *slow), relay=False))
    moment.begin(voltage=24.6, current=0.0, electrolyte_temperature=24.0)
    moment.pass_time(600.0, voltage=27.4, current=9.0)
    moment.later(1200.0)
    del moment.feed["electrolyte_temperature"]
    moment.pass_time(280.0)
    assert "meter-silent" not in moment.now.flags, "it speaks every five minutes"
    assert moment.derived is not None and moment.derived.temperature is None, "and its old value counts for nothing"
    moment.pass_time(700.0)
    assert "meter-silent" in moment.now.flags
    fresh = Moment(bank_of(meters=(*USUAL[:2], *slow), relay=False))
    fresh.pass_time(290.0, voltage=24.6, current=0.0)
    assert "meter-silent" not in fresh.now.flags, "nor is it before it can have spoken for the first time"
    # The time that a slow one has hides none that fell silent.
    moment = Moment(bank_of(meters=(slow[0], *USUAL[:2]), relay=False))
    moment.begin(voltage=24.6, current=0.0, electrolyte_temperature=24.0)
    moment.later(1200.0)
    moment.feed = {"voltage": 24.6}
    moment.pass_time(200.0)
    assert "meter-silent" in moment.now.flags and "current (cabin" in moment.now.texts


def test_without_the_broker_nobody_is_promised_that_a_relay_opens_by_itself() -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=27.5, current=20.0, electrolyte_temperature=20.0)
    moment.fold(Command("north", "relay-link", moment.at, argument={"link": "relay-link-lost", "why": "lost"}))
    moment.pass_time(30.0)
    said = moment.now.texts
    assert "relay-link-lost" in moment.now.flags and "without them the relay opens" not in said
    assert "only an auto-off of its own opens it, so where it has none pull the plug of the charger" in said
