"""Which words stand in front of which others, for each thing that may be known of the charger."""

from __future__ import annotations

import pytest

from rules.advice.charger_now import ChargerNow
from rules.advice.flag_words import FLAGS, TURN_IT_BACK, action, lines, on_paper
from rules.advice.next_step import GONE, MOST_LINES, Steps, advice
from rules.advice.phase_words import IN_SERVICE, PHASE_ADVICE, START_NOW, STARTED, TEST_UNDER_CHARGE, phase_words
from rules.advice.situation import Situation

T = 1_795_590_000.0  # 07:00
#: How a hazard is ended.
END = (
    "When the cause is put right give `revival reset`, in a round then `revival resume`; both are buttons of the bench "
    "page."
)
BARE = ChargerNow()
BARE_OFF = ChargerNow(state="off", by="person", since=T)
ON = ChargerNow("closed", "on", "current", told="allow", told_at=T, flows=True, metered=True)
OFF = ChargerNow("open", "off", "relay", T, "cut", T, metered=True)
FED = OFF._replace(flows=True)
UNSEEN = ChargerNow("unknown", told="cut", told_at=T)
WELDED = ChargerNow("disobeys", "on", "relay", told="cut", told_at=T)
HELD = OFF._replace(open_until=T + 200.0, open_for="restart")
AIRED = OFF._replace(air_until=T + 1830.0)


def lowered(text: str) -> str:
    return text[0].lower() + text[1:]


def todo(name: str) -> str:
    return FLAGS[name].action


def told(phase: str, now: ChargerNow = ON, **known: object) -> str:
    return phase_words(Situation(phase, started=True, now=now, blocks=True)._replace(**known))  # type: ignore[arg-type]


def heard(now: ChargerNow, *flags: str, phase: str = "bulk", **known: object) -> Steps:
    return advice(Situation(phase, woken=True, started=True, now=now)._replace(**known), flags)  # type: ignore[arg-type]


# ------------------------------------------------------------------------------------ one flag


@pytest.mark.parametrize(
    ("now", "before"),
    [
        (BARE, "No relay here: switch the charger off now, at the wall, air the room for an hour, then "),
        (ON, "Switch the charger off at the wall, air the room for an hour, then "),
        (UNSEEN, "Switch the charger off at the wall, air the room for an hour, then "),
        (WELDED, "The charger is STILL ON: switch it off by hand now, at the wall, air the room for an hour, then "),
        (
            FED,
            "Switch off at the wall whatever still feeds the bank, the charger first, for the relay is open and "
            "current still flows, air the room for an hour, then ",
        ),
        (
            HELD,
            "Keep the charger off: pull its plug, for the relay may close by itself at 2026-11-25T07:03Z, air the "
            "room for an hour, then ",
        ),
        (AIRED, "Keep the charger off and air the room until 2026-11-25T07:31Z, then "),
    ],
)
@pytest.mark.parametrize("name", ["water-due", "case-damaged", "level-wrong", "current-step"])
def test_nobody_is_sent_to_the_posts_before_the_charger_is_off_and_the_room_was_aired(
    now: ChargerNow, before: str, name: str
) -> None:
    # IEC 62485-2: gas is given off for an hour after charging.
    assert lines(name, now)[0] == before + lowered(todo(name))


@pytest.mark.parametrize("name", ["water-due", "imbalance", "not-reviving", "after-round"])
def test_at_a_charger_that_is_off_in_an_aired_room_the_work_begins_at_once(name: str) -> None:
    for now in (OFF, BARE_OFF):
        assert lines(name, now) == (todo(name),)


@pytest.mark.parametrize(
    ("name", "until"),
    [
        ("imbalance", "When nothing charges any more"),
        ("not-reviving", "Switch the charger off at the wall when it suits"),
    ],
)
def test_what_can_wait_waits_for_the_next_time_that_the_charger_is_off(name: str, until: str) -> None:
    when = f"{until}, air the room for an hour, then {lowered(todo(name))}"
    for now in (BARE, ON, UNSEEN):
        assert lines(name, now) == (when,)
    assert lines(name, WELDED)[0].startswith("The charger is STILL ON")
    assert lines(name, FED)[0].startswith("Switch off at the wall whatever still feeds the bank")
    assert lines(name, HELD)[0].startswith("Keep the charger off: pull its plug")


@pytest.mark.parametrize("name", ["level-due", "gravity-due", "look-again"])
def test_over_the_cells_goggles_are_asked_for_whatever_the_charger_does(name: str) -> None:
    for now in (BARE, ON, OFF, WELDED):
        assert lines(name, now) == (f"{todo(name)} Goggles on, no metal tool over the cells, no spark.",)


def test_at_a_dead_charger_its_setting_is_turned_back_and_strings_wait_for_charging() -> None:
    assert lines("charger-still-high", OFF) == (TURN_IT_BACK,)
    for name in ("temperature-high", "temperature-rising-fast"):
        assert "lower the current" in lines(name, ON)[0] and "lower the current" not in lines(name, OFF)[0]
        assert "keep the charger off" in lines(name, OFF)[0]
    assert lines("charger-still-high", ON) == lines("charger-still-high", FED) == (todo("charger-still-high"),)
    (welded,) = lines("charger-still-high", WELDED)
    assert "only once it is off" in welded and "or back" not in welded, "a relay that does not open deserves no choice"
    assert lines("string-currents-due", OFF) == (f"As soon as charging goes on {lowered(todo('string-currents-due'))}",)
    assert lines("string-currents-due", ON) == (todo("string-currents-due"),)


def test_a_hazard_says_first_that_it_is_switched_off_then_what_to_do_and_how_it_is_ended() -> None:
    both = END
    alone = "When the cause is put right give `revival reset`; a button of the bench page."
    text = todo("over-temperature")
    assert lines("over-temperature", ON) == (
        "Switch the charger off at the wall: the charger is on: current flows into the bank.", text, both,
    )  # fmt: skip
    assert lines("over-temperature", OFF) == (
        text, "The charger is cut off: the relay reports open since 2026-11-25T07:00Z.", both,
    )  # fmt: skip
    assert lines("over-temperature", BARE) == ("No relay here: switch the charger off now, at the wall.", text, alone)
    assert lines("over-temperature", BARE_OFF) == (
        text, "The charger is off: so noted by a person at 2026-11-25T07:00Z.", alone,
    )  # fmt: skip
    assert lines("over-temperature", WELDED) == (
        "The charger is STILL ON: switch it off by hand now, at the wall.", text, both,
    )  # fmt: skip
    assert lines("over-temperature", FED)[0] == (
        "Switch off at the wall whatever still feeds the bank, the charger first, for the relay is open and current "
        "still flows."
    )
    assert lines("over-temperature", UNSEEN)[0].startswith("Switch the charger off at the wall: the relay was told")
    # A hazard at the posts is ended in the same way.
    assert lines("over-voltage", OFF) == (todo("over-voltage"), both)


@pytest.mark.parametrize("name", ["gas", "danger-noted"])
def test_in_a_room_with_gas_no_switch_is_touched(name: str) -> None:
    for now in (BARE, ON, UNSEEN, WELDED, FED):
        first = lines(name, now)[0]
        assert "from outside the room at the panel" in first and "at the wall" not in first
    assert "at the wall" in lines("over-current", ON)[0] and "at the panel" not in lines("over-current", ON)[0]


def test_a_permit_that_only_warns_switches_nothing_off_and_one_that_is_gone_does() -> None:
    text = todo("meter-silent")
    assert lines("meter-silent", ON) == (text,)
    assert lines("meter-silent", UNSEEN)[0].startswith("Switch the charger off at the wall: ")
    assert lines("meter-silent", UNSEEN)[1:] == (text,)
    assert lines("meter-silent", OFF) == (
        text, "The charger is cut off: the relay reports open since 2026-11-25T07:00Z.",
    )  # fmt: skip
    assert lines("meter-silent", BARE) == ("No relay here: switch the charger off now, at the wall.", text)
    # What blocks a start, and a chore, say nothing of the charger.
    assert lines("level-wrong", OFF) == (todo("level-wrong"),)
    assert lines("clock-untrusted", BARE) == (todo("clock-untrusted"),)
    for name in ("not-started", "hold-complete"):
        assert lines(name, UNSEEN) == lines(name, BARE) == (todo(name),)


@pytest.mark.parametrize("name", ["journal-degraded", "storage-unproved"])
def test_a_disk_that_stores_nothing_cuts_only_where_there_is_something_to_cut(name: str) -> None:
    assert lines(name, BARE) == (todo(name),)
    assert lines(name, UNSEEN)[0].startswith("Switch the charger off at the wall")


def test_one_flag_in_one_text_and_on_paper_where_nobody_knows_the_charger() -> None:
    assert action("over-temperature", BARE) == " ".join(lines("over-temperature", BARE))
    assert on_paper("water-due").startswith("Switch the charger off at the wall, air the room for an hour, then top")
    with pytest.raises(KeyError):
        lines("no-such-flag", BARE)


# --------------------------------------------------------------------------------- what is first


def test_while_nothing_is_up_the_phase_has_the_word() -> None:
    assert heard(ON) == heard(ON, "not-started", "hold-complete") == Steps(PHASE_ADVICE["bulk"], ())


def test_chores_are_told_worst_first_with_the_phases_sentence_behind_them() -> None:
    said = heard(ON, "clock-untrusted", "presence-due", "session-lost")
    assert said.first == todo("session-lost")
    assert said.then == (todo("presence-due"), todo("clock-untrusted"), PHASE_ADVICE["bulk"])


def test_the_list_is_no_longer_than_five_and_never_loses_the_phases_sentence() -> None:
    many = ("session-lost", "meter-floods", "presence-due", "retained-order", "meter-clock-wrong", "clock-untrusted")
    said = heard(ON, *many, "sensors-disagree")
    assert said.first == todo("sensors-disagree")
    assert MOST_LINES == 5
    assert said.then == (*(todo(name) for name in many[:4]), PHASE_ADVICE["bulk"])
    withheld = heard(
        OFF,
        "plates-bare",
        "frozen-risk",
        "meter-silent",
        "journal-lost",
        "resume-due",
        "checklist-open",
        "charge-limit",
    )
    assert len(withheld.then) == 5


@pytest.mark.parametrize(
    "name",
    ["water-due", "hopeless", "other-source", "closed-while-tripped", "charger-still-high", "string-over-limit",
     "hydrogen-high", "current-step", "test-end"],
)  # fmt: skip
def test_what_asks_for_the_charger_off_is_never_followed_by_patience_while_it_may_run(name: str) -> None:
    assert PHASE_ADVICE["bulk"] not in heard(ON, name, "clock-untrusted").then
    assert PHASE_ADVICE["bulk"] not in heard(ON, "retained-order", name).then
    assert heard(OFF, name, "clock-untrusted").then[-1] == PHASE_ADVICE["bulk"]


def test_five_chores_that_ask_for_the_charger_off_are_five_lines() -> None:
    said = heard(ON, "closed-while-tripped", "retained-order", "session-lost", "meter-floods", "presence-due",
                 "charger-limit-low", "clock-untrusted")  # fmt: skip
    assert said.then == tuple(
        todo(name) for name in ("session-lost", "meter-floods", "presence-due", "retained-order", "charger-limit-low")
    )


def test_under_a_hazard_only_what_matters_with_the_charger_off_is_told() -> None:
    said = heard(OFF, "over-temperature", "gravity-due", "presence-due", "meter-silent", "test-end", "checklist-open")
    assert said.first == todo("over-temperature")
    assert said.then == (
        "The charger is cut off: the relay reports open since 2026-11-25T07:00Z.",
        END,
        todo("meter-silent"),
        todo("checklist-open"),
        todo("test-end"),
    )


def test_an_order_that_several_flags_give_is_given_once() -> None:
    said = heard(BARE, "over-temperature", "over-current", "meter-silent")
    assert said.first == "No relay here: switch the charger off now, at the wall."
    assert said.first not in said.then and len(set(said.then)) == len(said.then)


def test_a_welded_contact_is_looked_for_after_a_worse_hazard() -> None:
    said = heard(WELDED, "gas", "relay-disobeys", "thermal-runaway")
    outside = "from outside the room at the panel, or leave it on where that cannot be"
    assert said.first == f"The charger is STILL ON: switch it off by hand now, {outside}."
    assert said.then == (todo("gas"), END, "The charger is STILL ON: switch it off by hand now, at the wall.")
    assert heard(OFF, "gas", "relay-disobeys").then[-1] == END


def test_when_what_tripped_is_gone_and_the_charger_is_off_a_reset_is_asked_for_first() -> None:
    gone = heard(OFF, "over-temperature", gone=True)
    assert (gone.first, gone.then[0]) == (GONE, todo("over-temperature"))
    assert heard(OFF, "over-temperature").first == todo("over-temperature")
    assert heard(ON, "over-temperature", gone=True).first.startswith("Switch the charger off")
    assert heard(FED, "over-temperature", gone=True).first.startswith("Switch off at the wall whatever")
    assert heard(OFF, "meter-silent", gone=True).first == todo("meter-silent"), "no reset ends a permit"


def test_a_permit_that_stands_is_warned_of_and_the_phase_goes_on() -> None:
    assert heard(ON, "frozen-risk", "clock-untrusted").then == (todo("clock-untrusted"), PHASE_ADVICE["bulk"])
    assert PHASE_ADVICE["bulk"] not in heard(ON._replace(told="cut"), "frozen-risk").then
    assert PHASE_ADVICE["bulk"] not in heard(ON, "checklist-open").then
    assert PHASE_ADVICE["bulk"] not in heard(ON, "over-current").then


# ----------------------------------------------------------------------------------- the phase


@pytest.mark.parametrize("phase", ["waking", "reviving", "bulk", "absorbing", "finishing", "holding"])
def test_doubt_comes_before_the_phase_and_a_standstill_before_patience(phase: str) -> None:
    assert told(phase, woken=True) == PHASE_ADVICE[phase]
    assert told(phase, doubt="warm", interrupted=True).startswith("Turn nothing up while the bank is warm")
    assert told(phase, doubt="suspect").startswith("Turn nothing up while a meter is doubted")
    quiet = ON._replace(state="unseen", by="", flows=False)
    for hours, woken, words in (
        (2.0, True, "See when charging can go on: it stands still and so do the clocks, and nothing is lost."),
        (2.0, False, "See that charging goes on: it stands still, and a bank that has not woken yet falls back."),
    ):
        assert told(phase, quiet, interrupted=True, woken=woken, hold_left=hours) == words
    assert told(phase, quiet, woken=True) == PHASE_ADVICE[phase]
    assert told(phase, interrupted=True, woken=True) == PHASE_ADVICE[phase], "it flows again"


@pytest.mark.parametrize(
    ("quantity", "words"),
    [
        ("voltage", "Measure the voltage now and note it with `revival record voltage`: nobody sees it, "),
        (
            "electrolyte_temperature",
            'Measure the electrolyte temperature now and note it with `revival record temperature "25 degC"`: nobody ',
        ),
        ("current", "Measure the current now and note it with `revival record amps`: nobody sees it, "),
    ],
)
def test_the_first_quantity_that_nobody_sees_is_measured_by_hand(quantity: str, words: str) -> None:
    assert told("bulk", doubt="unseen", unseen=(quantity, "other")).startswith(words)


@pytest.mark.parametrize(
    ("left", "minutes"), [(0.99, "59 min"), (0.5, "30 min"), (0.02, "1 min"), (1.0, ""), (3.0, "")]
)
def test_a_hold_that_lacks_less_than_an_hour_may_be_ended_by_a_person(left: float, minutes: str) -> None:
    quiet = ON._replace(state="unseen", flows=False)
    words = told("holding", quiet, interrupted=True, woken=True, hold_left=left)
    assert (words.startswith("Charge on for the ") and "`revival finish`" in words) is bool(minutes)
    assert minutes in words
    assert "revival finish" not in told("finishing", quiet, interrupted=True, woken=True, hold_left=left)


def test_a_relay_that_closes_by_itself_in_minutes_is_waited_for_in_a_round() -> None:
    words = "Wait until 2026-11-25T07:03Z: the relay is told to stay open, for the bridge came back, and "
    for phase in ("bulk", "idle", "resting"):
        assert told(phase, HELD) == words + "may close by itself then."
    assert told("bulk", HELD, started=False) == PHASE_ADVICE["bulk"]


def test_before_the_first_current_it_depends_on_who_started_and_what_is_seen() -> None:
    assert told("idle", OFF, started=False) == START_NOW
    assert told("idle", OFF) == STARTED
    early = told("idle", ON, started=False)
    assert early.startswith("Switch the charger off at the wall until plan and checklist are done")
    assert early.endswith("it is on and no round was started.")
    bare = told("idle", BARE._replace(state="on", by="current", flows=True), started=False)
    assert bare.startswith("Switch the charger off at the wall until plan and checklist are done")
    assert "revival start" not in bare and bare.endswith("the round begins by itself with ten minutes of charging.")
    lit = BARE._replace(state="on", by="current", flows=True)
    assert told("idle", lit, started=False, checked=True).startswith("Let it charge and stay near")
    assert told("idle", lit, started=False, checked=True, doubt="warm").startswith("Turn nothing up")
    assert "before the charger comes on" in told("idle", BARE, started=False)
    assert told("idle", BARE, started=False, checked=True).startswith("Charge when you are ready")
    # Nobody is told to switch on a warm bank or one whose meter is doubted; what no meter sees is noted once it runs.
    assert told("idle", OFF, doubt="warm").startswith("Turn nothing up while the bank is warm")
    assert told("idle", OFF, doubt="suspect").startswith("Turn nothing up while a meter")
    assert told("idle", OFF, doubt="unseen", unseen=("current",)) == STARTED
    assert told("idle", OFF, doubt="warm", started=False) == START_NOW


def test_a_rest_begins_with_the_charger_off_and_says_when_the_hold_was_cut_short() -> None:
    rest = "let the bank rest 6 h at least, better 24 h, and read every cell"
    short = " (the round was finished before its hold was complete)."
    assert told("resting", OFF) == PHASE_ADVICE["resting"]
    assert told("resting", OFF, hold_complete=False) == PHASE_ADVICE["resting"][:-1] + short
    assert told("resting", ON) == f"Switch the charger off at the wall, then {rest}."
    assert told("resting", BARE, hold_complete=False) == (
        "No relay here: switch the charger off now, at the wall, note it with `revival record charger off`, then "
        f"{rest}{short}"
    )
    assert told("resting", FED).startswith("Switch off at the wall whatever still feeds the bank")
    assert told("resting", OFF, doubt="warm", interrupted=True) == PHASE_ADVICE["resting"]


def test_a_test_measures_nothing_while_the_charger_is_on() -> None:
    assert told("testing", ON) == TEST_UNDER_CHARGE
    assert told("testing", OFF) == told("testing", BARE, doubt="unseen") == PHASE_ADVICE["testing"]


def test_after_the_round_the_posts_are_seen_to_with_the_charger_off() -> None:
    assert told("finished", OFF, doubt="unseen") == PHASE_ADVICE["finished"]
    assert told("finished", ON).startswith(
        "Switch the charger off at the wall, air the room for an hour, then retorque"
    )
    assert told("finished", AIRED).startswith("Keep the charger off and air the room until 2026-11-25T07:31Z, then ")
    # Once somebody has seen to them nobody is sent there again, and a bank in service need not be switched off.
    assert told("finished", ON, seen_to=True) == told("finished", BARE, seen_to=True) == IN_SERVICE


def test_a_situation_of_which_nothing_is_said_is_an_untouched_bank_with_nothing_in_doubt() -> None:
    assert advice(Situation("idle", now=OFF), []) == Steps(START_NOW, ())
    assert advice(Situation("resting", now=OFF), []).first == PHASE_ADVICE["resting"]
    assert advice(Situation("bulk", interrupted=True), []).first.startswith("See that charging goes on")
    assert advice(Situation("bulk", now=OFF), ["over-temperature"]).first == todo("over-temperature")


@pytest.mark.parametrize(
    ("ends", "gravity", "words"),
    [
        (0.0, 0.0, "Keep the charger off"),
        (T + 1.0, 0.0, "Keep the charger off"),
        (T + 1.0, T, "Keep the charger off"),
        (T, 0.0, "Read the gravity of every cell"),
        (T - 3600.0, T - 3601.0, "Read the gravity of every cell"),
        (T - 3600.0, T - 3600.0, "Test the capacity"),
        (T - 3600.0, T, "Test the capacity"),
    ],
)
def test_a_bank_that_has_rested_is_read_and_then_tested(ends: float, gravity: float, words: str) -> None:
    assert told("resting", OFF, rest_ends=ends, at=T, gravity_at=gravity).startswith(words)
    assert told("resting", ON, rest_ends=ends, at=T, gravity_at=gravity).startswith("Switch the charger off")
    if words.startswith("Read"):
        assert told("resting", OFF, rest_ends=ends, at=T).endswith(
            "Goggles on, no metal tool over the cells, no spark."
        )


def test_of_a_rest_of_which_nothing_is_told_nobody_says_that_it_is_over() -> None:
    assert advice(Situation("resting", now=OFF, at=T), []).first == PHASE_ADVICE["resting"]
    assert advice(Situation("resting", now=OFF, rest_ends=T, at=T), []).first.startswith("Read the gravity")
    assert advice(Situation("resting", now=OFF, rest_ends=T), []).first == PHASE_ADVICE["resting"]


def test_who_was_sent_out_of_the_room_is_not_sent_out_of_it_beside_being_sent_in() -> None:
    after = heard(OFF, "danger-noted", gone=True)
    assert after.first.startswith("Look from the door first") and todo("danger-noted") not in after.then
    other = heard(OFF, "over-temperature", gone=True)
    assert (other.first, other.then[0]) == (GONE, todo("over-temperature"))
    assert heard(OFF, "danger-noted").first == todo("danger-noted")


def test_what_nothing_was_told_of_did_not_happen() -> None:
    untold = {name: value for name, value in Situation("idle")._asdict().items() if value}
    assert untold == {"phase": "idle", "hold_complete": True, "now": ChargerNow()}
