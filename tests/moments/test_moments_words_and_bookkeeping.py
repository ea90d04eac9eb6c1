"""Moments m80, m81, m83 and m85, the acts that are guarded, and what is said after a restart."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path

import pytest

from bridge.commands.checklist import printed
from bridge.commands.status import words as status_words
from bridge.outlets.homie import HomieOutlet
from bridge.words.bank_status import causes, event_words, standing
from rules.bank.model import Limits, Meter
from rules.events import Command, Derived, moment
from rules.plan import checklist
from tests.support.every_moment import cabin
from tests.support.fold import CASE, PROBE, Fold, make_bank, ready
from tests.support.made_round import report, whole_round
from tests.support.moments import Moment, bank_of

HOUR = 3600.0
REFUSED_ZERO = "not known to be off|not seen open|only a charger holds"


def proved(fold: Fold) -> Fold:
    """With a proof test behind it."""
    proof = fold.lock.proof._replace(at=fold.at, passed=True, current_proved=True)
    fold.memory = fold.memory._replace(interlock=fold.lock._replace(proof=proof))
    return fold


def feed(fold: Fold, seconds: float, volts: float = 25.2, amps: float = 0.0) -> None:
    """Quiet seconds."""
    fold.wait(seconds, every=5, voltage=volts, current=amps, **{PROBE: 25.0})


@pytest.mark.parametrize("end", ["finish", "abandon"])
def test_m80_the_checklist_is_asked_anew_for_every_round(end: str) -> None:
    fold = ready(amps=10.0)
    assert fold.act(end, sure=True) == ""
    fold.at += 200 * 86400.0
    proved(fold)
    feed(fold, 10)
    assert "checklist is not confirmed" in fold.act("start")
    assert fold.act("checklist", name="the keeper") == ""
    assert fold.act("start") == ""


def test_m80_a_hold_that_ended_by_itself_uses_the_checklist_up() -> None:
    fold = ready(amps=10.0)
    fold.memory = fold.memory._replace(
        phase=fold.memory.phase._replace(phase="resting", hold_complete=True, started_at=fold.at)
    )
    feed(fold, 15)
    assert fold.lock.checklist_by == ""


def test_m80_after_a_rearrangement_the_checklist_is_asked_anew() -> None:
    fold = ready(amps=10.0)
    assert fold.act("arrange", act="split", sure=True) == ""
    assert fold.lock.checklist_by == ""
    feed(fold, 10)
    assert "checklist" in fold.act("resume")
    assert fold.act("checklist", name="the keeper") == "" and fold.act("resume") == ""


def test_m80_checklist_prints_what_it_confirms_and_who_confirms_it() -> None:
    lines = printed(make_bank())
    assert all(any(text in line for line in lines) for _, text in checklist([make_bank()]))
    assert "this round and the blocks as they are joined now" in lines[0]
    fold = Fold()
    feed(fold, 5)
    fold.act("checklist", name="the keeper")
    told = next(event for event in fold.events if event.kind == "command" and event.detail["name"] == "checklist")
    assert event_words(told) == f"checklist by the keeper, confirmed: {len(checklist([fold.bank]))} lines by the keeper"


def test_m83_an_early_finish_says_so_and_raises_no_hold_complete() -> None:
    fold = ready(amps=10.0)
    assert fold.act("finish", sure=True) == ""
    feed(fold, 15)
    told = next(event for event in fold.events if event.kind == "command" and event.detail["name"] == "finish")
    assert "early: held 0.0 of at least 16 h: the hold is not complete" in str(event_words(told))
    assert "hold-complete" not in fold.flags and fold.memory.phase.phase == "resting"
    assert fold.derived is not None
    assert "finished before its hold was complete" in " ".join([fold.derived.next_step, *fold.derived.then])


@pytest.mark.parametrize(("held", "asked"), [(0.0, True), (14.0, True), (14.5, False), (16.0, False)])
def test_m83_an_early_finish_is_asked_back_and_leaves_no_trace(held: float, asked: bool) -> None:
    fold = ready(amps=10.0)
    fold.memory = fold.memory._replace(phase=fold.memory.phase._replace(phase="holding", hold_seconds=3600.0 * held))
    why = fold.act("finish")
    assert why.startswith(f"the hold is not complete: held {held:.1f} of at least 16 h") is asked
    assert fold.lock.started is asked
    assert fold.act("finish", sure=True) == ("" if asked else "no round runs")
    assert not fold.lock.started


@pytest.mark.parametrize("amps", [30.0, 4.0])
def test_m83_nobody_says_that_nothing_flows_beside_a_current(amps: float) -> None:
    fold = Fold(make_bank(relay=None, limits=Limits(string_current=60.0)))
    feed(fold, 20, 27.0, amps)
    assert fold.act("start") == ""
    feed(fold, 20, 27.0, amps)
    assert fold.derived is not None
    said = " ".join([fold.derived.next_step, *fold.derived.then, fold.derived.charger])
    assert "nothing flows" not in said and "none are seen" not in said
    assert "current flows into the bank" in said


def test_m83_a_verdict_while_it_wakes_is_refused_and_water_due_is_never_in_the_past() -> None:
    fold = ready(amps=10.0)
    assert "not while" in fold.act("verdict", words={"north": "keep"})
    used = fold.memory.counters._replace(gassing=400.0)
    fold.memory = fold.memory._replace(counters=used)
    feed(fold, 15, 28.0, 10.0)
    assert fold.derived is not None and fold.derived.top_up_at is not None
    assert fold.derived.top_up_at >= fold.derived.at
    assert not [line for line in status_of(fold.derived) if "top up with distilled water at about" in line]


def status_of(derived: Derived, scale: str = "degC") -> list[str]:
    """Lines of `revival status` about the bank."""
    plain = {**derived._asdict(), "flags": [flag._asdict() for flag in derived.flags]}
    bridge = {"connected": True, "messages": 0, "journal_lag": 0.0, "journal_degraded": "", "unstored": 0,
              "dropped": 0, "rejected": {}}  # fmt: skip
    return status_words({"bridge": bridge, "banks": {"north": plain}}, scale)[1:]


@pytest.mark.parametrize(
    ("degrees", "scale", "value", "limit"),
    [
        (44.0, "degC", "44.0 °C", "43.3 °C"),
        (44.0, "degF", "111.2 °F", "110.0 °F"),
        (46.5, "degF", "115.7 °F", "110.0 °F"),
    ],
)
def test_m85_a_trip_names_cause_value_limit_and_probe_first_in_the_owners_scale(
    degrees: float, scale: str, value: str, limit: str, tmp_path: Path
) -> None:
    fold = ready(amps=10.0)
    fold.wait(20, every=5, voltage=28.0, current=10.0, **{PROBE: degrees})
    assert fold.derived is not None and fold.derived.tripped
    first = status_of(fold.derived, scale)[0]
    for part in ("over-temperature", f"{value} in the electrolyte", limit):
        assert part in first, first
    said: dict[str, str] = {}
    made = cabin(tmp_path, "closed", "all", scale)
    outlet = HomieOutlet(made, lambda topic, payload, **_: said.update({topic: payload}))
    outlet.update(fold.derived)
    outlet.announce()
    hub = next(payload for topic, payload in said.items() if topic.endswith("safety/trip-reason"))
    assert hub.startswith("over-temperature: ") and f"{value} in the electrolyte" in hub and limit in hub
    assert causes(fold.derived.flags, fold.derived.unsafe)[0].startswith("over-temperature: ")
    assert standing(fold.derived).level == "hazard"


def test_m85_a_case_probe_names_its_own_stricter_limit() -> None:
    probe = Meter(CASE, "electrolyte_temperature", source="cabin/case", period=10.0, placed="case")
    fold = ready(make_bank(more=(probe,)), amps=10.0, **{CASE: 25.0})
    fold.wait(20, every=5, voltage=28.0, current=10.0, **{PROBE: 30.0, CASE: 40.6})
    assert fold.derived is not None and fold.derived.tripped
    assert "40.6 °C on the case (meter 2), limit 40.0 °C" in status_of(fold.derived)[0]


def test_zero_is_taken_only_when_nothing_can_flow_shows_its_value_and_can_be_undone() -> None:
    fold = ready(amps=1.2)
    assert re.search(REFUSED_ZERO, fold.act("zero")), "under charge"
    fold.act("abandon")
    fold.read("relay_state", 0.0)
    feed(fold, 15, 25.2, 0.7)
    assert fold.act("zero") == ""
    told = next(event for event in reversed(fold.events) if event.kind == "command")
    assert "the 0.7 A that it showed count as zero" in str(event_words(told))
    feed(fold, 10, 25.2, 0.7)
    assert fold.memory.counters.current == pytest.approx(0.0)
    assert fold.act("zero", undo=True) == ""
    feed(fold, 10, 25.2, 0.7)
    assert fold.memory.counters.current == pytest.approx(0.7)
    assert "no zero was taken" in fold.act("zero", undo=True)


def test_zero_without_a_relay_needs_a_person_who_says_that_the_charger_is_off() -> None:
    fold = Fold(make_bank(relay=None))
    feed(fold, 15, 25.2, 0.6)
    assert "revival record charger off" in fold.act("zero")
    fold.note("charger", volts=0.0)
    feed(fold, 10, 25.2, 0.6)
    assert fold.act("zero") == ""
    fold = Fold(make_bank(relay=None))
    fold.note("charger", volts=0.0)
    feed(fold, 15, 28.9, 0.6)
    assert "only a charger holds" in fold.act("zero"), "a gassing voltage contradicts the note"


def test_a_test_before_its_rest_is_refused_with_the_time_from_which_it_is_allowed() -> None:
    fold = ready(amps=10.0)
    fold.act("finish", sure=True)
    fold.read("relay_state", 0.0)
    feed(fold, 60)
    why = fold.act("test")
    allowed = datetime.fromisoformat(re.findall(r"\d{4}-\d\d-\d\dT\d\d:\d\dZ", why)[0]).timestamp()
    assert 5.9 * HOUR < allowed - fold.at < 6.1 * HOUR
    fold.at = allowed
    feed(fold, 15)
    assert fold.act("test") == ""


@pytest.mark.parametrize("away", [20.0, 3000.0])
def test_after_a_restart_every_surface_says_until_when_the_relay_is_held_open(away: float) -> None:
    fold = ready(amps=10.0)
    fold.wait(20, every=5, voltage=28.0, current=10.0, **{PROBE: 25.0})
    fold.at += away
    fold.fold(Command("north", "boot", fold.at))
    opened = fold.at
    feed(fold, 20, 26.0)
    fold.read("relay_state", 0.0)
    feed(fold, 10, 26.0)
    assert fold.derived is not None
    until = moment(opened + 300.0)
    said = " ".join([fold.derived.next_step, *fold.derived.then, fold.derived.charger, standing(fold.derived).words])
    assert f"told to stay open until {until}, for the bridge came back" in said, said
    here = datetime.fromisoformat(until).astimezone()
    assert any(f"until {here.day} {here:%b %H:%M}" in line for line in status_of(fold.derived))
    assert not re.search(r"switch (?:the charger|it) (?:back )?on|comes back on", said)


def test_m81_the_sheet_for_the_next_owner_gives_volts_duration_and_end_and_the_makers_sheet_first(
    tmp_path: Path,
) -> None:
    sheet = report(whole_round(tmp_path), "--handover")
    parts = ("sheet comes first", "V per cell)", "until gravity has stopped")
    maker, volts, end = (sheet.index(part) for part in parts)
    assert maker < volts < end and "2 to 4 h" in sheet


@pytest.mark.parametrize("early", [False, True])
def test_m83_a_round_that_is_over_is_not_called_unstarted(early: bool) -> None:
    fold = ready(amps=6.0)
    machine = fold.memory.phase._replace(phase="holding", hold_seconds=3600.0 if early else 16 * 3600.0)
    fold.memory = fold.memory._replace(phase=machine)
    assert fold.act("finish", sure=True) == ""
    fold.wait(20, every=5, voltage=25.4, current=0.0, **{PROBE: 25.0})
    assert fold.derived is not None and fold.derived.phase == "resting" and not fold.lock.allowed
    why = {flag.name: flag.reason for flag in fold.derived.flags}
    assert "no round was started" not in why.values(), why
    assert ("hold-complete" in why) is not early
    assert (why.get("not-started") == "the round was finished before its hold was complete") is early


@pytest.mark.parametrize("failed", [False, True])
def test_m83_a_second_act_says_what_it_is_missing_for(failed: bool) -> None:
    fold = ready(amps=18.0)
    if failed:
        proof = fold.lock.proof._replace(at=fold.at, passed=False, note="the relay was not seen to open")
        fold.memory = fold.memory._replace(interlock=fold.lock._replace(proof=proof, needs_resume=True))
    else:
        fold.wait(40, every=5, voltage=28.0, current=18.0, **{PROBE: 45.0})
        fold.wait(40, every=5, voltage=25.4, current=0.0, **{PROBE: 30.0})
        assert fold.act("reset") == ""
    fold.wait(12, every=5, voltage=25.4, current=0.0, **{PROBE: 30.0})
    assert fold.memory.flags["resume-due"].reason == ("a proof test failed" if failed else "a trip was reset")


@pytest.mark.parametrize("hours", [0.2, 3.0])
def test_m83_levels_that_were_noted_yesterday_are_not_said_never_to_have_been(hours: float) -> None:
    fold = ready(amps=18.0)
    machine = fold.memory.phase._replace(phase="bulk", woken=True, started_at=fold.at - 2 * 86400.0)
    fold.memory = fold.memory._replace(phase=machine)
    fold.note("level", N00=12.0)
    fold.memory = fold.memory._replace(hand=fold.memory.hand._replace(level_at=fold.at - 86400.0 - 3600.0 * hours))
    fold.wait(12, every=5, voltage=28.0, current=18.0, **{PROBE: 25.0})
    assert fold.memory.flags["level-due"].reason == "nobody has noted the levels for 24 h"


def test_a_checklist_that_is_caught_up_with_under_charge_and_the_status_tell_one_story() -> None:
    moment = Moment(bank_of(relay=False))
    moment.pass_time(120.0, voltage=28.2, current=9.0, electrolyte_temperature=24.0)
    assert "Switch the charger off at the wall until plan and checklist are done" in moment.now.advice
    assert moment.act("checklist", name="Ann") == ""
    moment.pass_time(10.0)
    said = next(words for event in reversed(moment.events) if "checklist" in (words := event_words(event) or ""))
    assert "lines by Ann; yet seen or noted is: meters: 9.0 A flow into the bank" in said, said
    assert "until the charger is off nobody touches the posts" in said
    assert "witch the charger off" not in said and moment.now.advice.startswith("Let it charge and stay near"), said
