"""m86 to m95: what is answered to "is it safe?", and that nothing on the same screen speaks against it.

Common practice, no source: danger that was seen is told apart from a precaution that is missing, and nobody is told
yes beside an order to switch the charger off.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

import pytest

from bridge.commands.status import words as status_words
from bridge.config import load
from bridge.fleet.board import bank_told
from bridge.outlets.homie import HomieOutlet
from bridge.runtime.newer_file import NewerFile
from bridge.words.bank_status import gas, standing
from bridge.words.palette import ANSWER_LEVELS, LEVELS
from rules.events import Tick
from rules.meters import silence_limit
from rules.step.derived_state import derive
from rules.step.memory import view_of
from tests.support.moments import METER, RELAY, USUAL, Moment, bank_of, cells_of

#: Volts per cell that only a charger holds, and amps of a bank that is charged [V], [A].
ON = {"voltage": 28.2, "current": 9.0}
WARMTH = {"electrolyte_temperature": 24.0}
PROBE = "electrolyte_temperature"
COLD_METERS = USUAL[:2]
OFF_ORDER = re.compile(r"switch (?:the charger |it )?off|pull its plug", re.I)
CABIN = """
[site]
id = "orchard"
[broker]
host = "127.0.0.1"
[[bank]]
id = "barn"
strings = 1
blocks = { per_string = 4, cells = 3, capacity = "200 Ah" }
"""


def plain(moment: Moment) -> dict[str, Any]:
    """The state as `status --json` gives it."""
    derived = moment.derived
    assert derived is not None
    return derived._asdict() | {"flags": [flag._asdict() for flag in derived.flags]}


def head(moment: Moment) -> str:
    """The line of `revival status` that answers."""
    bridge = {"connected": True, "messages": 0, "journal_lag": 0.0, "journal_degraded": "", "unstored": 0,
              "dropped": 0, "rejected": {}}  # fmt: skip
    return status_words({"bridge": bridge, "banks": {"barn": plain(moment)}})[1]


def agreed(moment: Moment, tmp_path: Path) -> str:
    """The answer, the same for page, board, status, and the bus; and none of them says yes beside an order to end."""
    derived = moment.derived
    assert derived is not None
    said: dict[str, str] = {}
    path = tmp_path / "cabin.toml"
    path.write_text(CABIN + "".join(METER.format(topic=name, quantity=name, more=more) for name, more in USUAL))
    outlet = HomieOutlet(load(path).cabin, lambda topic, payload, **_: said.update({topic: payload}))
    outlet.announce()
    outlet.update(derived._replace(bank="barn"))
    on_the_bus = next(payload for topic, payload in said.items() if topic.endswith("safety/answer"))
    begins = {
        "no": ("DANGER", "TRIPPED"), "not-yet": ("NOT YET SAFE",), "warm": ("WARM",), "yes": ("safe,",),
        "unknown": ("NOT KNOWN",),
    }[derived.safe]  # fmt: skip
    assert on_the_bus == bank_told(derived, "degC")["safe"] == plain(moment)["safe"] == derived.safe
    assert head(moment).removeprefix("barn: ").startswith(begins)
    if derived.safe in ("yes", "warm"):
        assert not OFF_ORDER.search(moment.now.texts), moment.now.texts
    else:
        assert standing(derived).level not in ("safe", "chore") and derived.safe_why
    return derived.safe


def test_the_answers_differ_by_more_than_colour_and_only_yes_is_green() -> None:
    tones = {answer: LEVELS[level] for answer, level in ANSWER_LEVELS.items()}
    assert [answer for answer, tone in tones.items() if tone == tones["yes"]] == ["yes"]
    assert tones["no"] != tones["not-yet"]


def test_m86_a_watched_bank_that_is_charged_before_plan_and_checklist_is_not_called_safe(tmp_path: Path) -> None:
    moment = Moment(bank_of(relay=False))
    moment.pass_time(60.0, voltage=25.2, current=0.0, **WARMTH)
    assert agreed(moment, tmp_path) == "yes"
    moment.pass_time(60.0, **ON)
    assert agreed(moment, tmp_path) == "not-yet"
    assert moment.now.advice.startswith("Switch the charger off at the wall until plan and checklist are done")
    assert "revival start" not in moment.now.advice, "that half is for a bank with a relay"
    assert "charging, phase not known yet" in moment.now.texts and "idle;" not in moment.now.texts
    assert moment.act("checklist", name="the keeper") == ""
    moment.pass_time(20.0)
    assert agreed(moment, tmp_path) == "yes", "who has confirmed the list may switch it on"
    assert moment.now.advice.startswith("Let it charge and stay near")
    moment.pass_time(900.0)
    assert moment.now.phase != "idle" and agreed(moment, tmp_path) == "yes"


def test_m86_a_round_that_began_by_itself_without_the_checklist_is_not_called_safe(tmp_path: Path) -> None:
    moment = Moment(bank_of(relay=False))
    moment.pass_time(1200.0, **ON, **WARMTH)
    assert moment.now.phase != "idle" and "checklist-unconfirmed" in moment.now.flags
    assert agreed(moment, tmp_path) == "not-yet"
    assert not OFF_ORDER.search(moment.now.advice), "a bank that wakes falls back when it is interrupted"
    moment.act("checklist", name="the keeper")
    moment.pass_time(20.0)
    assert agreed(moment, tmp_path) == "yes"


@pytest.mark.parametrize("reported", [None, 1.0])
def test_m87_current_into_a_bank_with_a_relay_that_nobody_started_is_not_called_safe(
    reported: float | None, tmp_path: Path
) -> None:
    moment = Moment(bank_of(relay=True))
    feed = {**ON, **WARMTH} | ({} if reported is None else {"relay_state": reported})
    answers = set()
    for _ in range(30):
        moment.at += 10.0
        for name, value in feed.items():
            moment.read(name, value)
        moment.wait(1.0)
        answers.add(agreed(moment, tmp_path))
    assert answers <= {"no", "not-yet"} and re.search(r"switch (the charger|it) off", moment.now.advice, re.I)


def test_m88_a_bank_without_a_thermometer_says_at_once_that_nobody_watches_the_heat(tmp_path: Path) -> None:
    moment = Moment(bank_of(relay=False, meters=COLD_METERS))
    moment.pass_time(30.0, voltage=25.2, current=0.0)
    assert "heat-unwatched" in moment.now.flags and moment.now.advice.startswith("Put a thermometer into")
    assert "main way to ruin a bank" in moment.now.texts and "43.3 °C" in moment.now.texts
    assert agreed(moment, tmp_path) == "yes", "nothing warms it yet"
    moment.act("checklist", name="the keeper")
    moment.pass_time(60.0, **ON)
    assert agreed(moment, tmp_path) == "not-yet"
    assert moment.now.advice.startswith("Read the acid of the warmest cell by hand now, and every hour")
    moment.hand("temperature", {"": 26.0})
    moment.pass_time(20.0)
    assert "heat-unwatched" not in moment.now.flags and agreed(moment, tmp_path) == "yes"
    moment.pass_time(3600.0)
    assert "heat-unwatched" in moment.now.flags and agreed(moment, tmp_path) == "not-yet"
    moment.hand("temperature", {"": 39.0})
    moment.pass_time(20.0)
    assert agreed(moment, tmp_path) == "warm"
    moment.pass_time(900.0)
    assert agreed(moment, tmp_path) == "not-yet", "warm acid is read every quarter of an hour"


def test_m88_the_cabin_file_of_such_a_bank_is_checked_with_the_same_warning(tmp_path: Path) -> None:
    path = tmp_path / "cabin.toml"
    path.write_text(CABIN + "".join(METER.format(topic=name, quantity=name, more=more) for name, more in COLD_METERS))
    warned = next(line for line in load(path).warnings if "electrolyte_temperature" in line)
    assert "main way to ruin a bank" in warned and "every hour" in warned and "43.3 °C" in warned


@pytest.mark.parametrize("volts", [26.4, 27.6, 28.2, 31.0])
def test_m89_gas_without_a_thermometer_is_the_most_it_may_be_and_never_jumps_up(volts: float) -> None:
    blind, seeing = Moment(bank_of(relay=False, meters=COLD_METERS)), Moment(bank_of(relay=False))
    blind.pass_time(60.0, voltage=volts, current=8.7)
    unseen = blind.derived
    assert unseen is not None and unseen.ventilation_needed is not None and unseen.gas_assumed_at is not None
    assert "reckoned for acid at 43.3 °C, for nobody measures it" in blind.now.texts
    for warmth in (0.0, 20.0, 30.0, 43.0):
        seeing.pass_time(60.0, voltage=volts, current=8.7, electrolyte_temperature=warmth)
        seen = seeing.derived
        assert seen is not None and seen.ventilation_needed is not None and seen.gas_assumed_at is None
        assert seen.ventilation_needed <= unseen.ventilation_needed + 1e-9
    assert "reckoned for" not in seeing.now.texts


def test_m90_a_charger_seen_by_volts_alone_is_not_called_safe_and_its_gas_is_not_known(tmp_path: Path) -> None:
    moment = Moment(bank_of(relay=False, meters=(USUAL[0], USUAL[2])))
    moment.act("checklist", name="the keeper")
    moment.pass_time(900.0, voltage=31.0, **WARMTH)
    assert agreed(moment, tmp_path) == "not-yet" and moment.derived is not None
    assert moment.derived.safe_why == "it charges and nobody sees the current"
    remedy = [line for line in (moment.derived.next_step, *moment.derived.then) if "clip-on meter" in line]
    assert len(remedy) == 1 and '`revival setup --take "TOPIC as charging"`' in remedy[0] and "fit a shunt" in remedy[0]
    moment.hand("seen", {"": "all well"})
    moment.pass_time(20.0)
    assert moment.derived.next_step == remedy[0] and "with:  revival record amps VALUE" in moment.now.texts
    assert "How much is not known" in gas(moment.derived)
    moment.hand("amps", {"": 9.0})
    moment.pass_time(20.0)
    assert agreed(moment, tmp_path) == "yes" and "of air needed now" in gas(moment.derived)


def test_m90_in_the_first_minutes_of_a_charge_without_an_ammeter_the_remedy_is_the_next_step() -> None:
    moment = Moment(bank_of(relay=False, meters=(USUAL[0], USUAL[2])))
    moment.act("checklist", name="the keeper")
    moment.pass_time(60.0, voltage=31.0, **WARMTH)
    assert moment.derived is not None and moment.derived.phase == "idle" and moment.derived.safe == "not-yet"
    assert moment.now.advice.startswith("Measure the amps now with a clip-on meter, touching nothing bare")


@pytest.mark.parametrize("amps", [None, 9.0])
def test_before_the_thermometer_was_heard_it_is_not_known_whether_a_bank_that_may_charge_is_safe(
    amps: float | None, tmp_path: Path
) -> None:
    moment = Moment(bank_of(relay=False))
    moment.act("checklist", name="the keeper")
    heard = {"voltage": 26.5} if amps is None else {"voltage": 26.5, "current": amps}
    for _ in range(60):
        moment.pass_time(1.0, every=1.0, **heard)
        derived = derive(moment.bank, moment.memory, view_of(moment.bank, moment.memory, moment.at), moment.at)
        assert derived.safe == "unknown", derived.safe_why
    moment.pass_time(10.0)
    assert agreed(moment, tmp_path) == "unknown"
    assert "NOT KNOWN whether it is safe: the electrolyte temperature was not heard yet" in head(moment)
    assert "late: electrolyte temperature: not heard since the bridge came up" in moment.now.texts
    moment.pass_time(120.0)
    assert agreed(moment, tmp_path) == "not-yet", "then it is silent"
    moment.pass_time(60.0, current=9.0, **WARMTH)
    assert agreed(moment, tmp_path) == "yes" and "late:" not in moment.now.texts


def test_a_bank_in_which_nothing_flows_waits_for_its_thermometer_at_its_ease(tmp_path: Path) -> None:
    moment = Moment(bank_of(relay=False))
    moment.pass_time(30.0, voltage=25.2, current=0.0)
    assert agreed(moment, tmp_path) == "yes" and "late: electrolyte temperature: not heard since" in moment.now.texts


def test_a_thermometer_that_is_late_is_told_with_the_silence_at_which_it_is_cut_and_why_that_is_longer() -> None:
    moment = Moment(bank_of(relay=False))
    moment.pass_time(1200.0, **ON, **WARMTH)
    trace = moment.memory.meters[PROBE]
    lossy = trace._replace(period=20.0, lost=0.08)
    moment.memory = moment.memory._replace(meters={**moment.memory.meters, PROBE: lossy})
    del moment.feed[PROBE]
    moment.pass_time(30.0)
    assert "late:" not in moment.now.texts
    moment.pass_time(50.0)
    line = next(line for line in moment.now.texts.splitlines() if "late:" in line)
    told = re.search(
        r"late: electrolyte temperature: nothing since .*; silent from (\d+) s on: it is known to miss", line
    )
    assert told is not None and float(told[1]) == silence_limit(moment.bank.by_quantity[PROBE][0], lossy) > 60.0, line
    assert "electrolyte temperature 80 s ago" in moment.now.texts


def test_m91_a_meter_that_falls_silent_is_a_missing_precaution_and_heat_that_is_seen_a_danger(tmp_path: Path) -> None:
    moment = Moment(bank_of(relay=False))
    moment.act("checklist", name="the keeper")
    moment.pass_time(1200.0, **ON, **WARMTH)
    assert agreed(moment, tmp_path) == "yes"
    del moment.feed["electrolyte_temperature"]
    moment.pass_time(300.0)
    assert agreed(moment, tmp_path) == "not-yet" and ANSWER_LEVELS["not-yet"] == "permit"
    moment.pass_time(120.0, electrolyte_temperature=45.0)
    assert agreed(moment, tmp_path) == "no" and ANSWER_LEVELS["no"] == "hazard"


def test_m92_a_rest_is_called_safe_once_somebody_knows_that_the_charger_is_off(tmp_path: Path) -> None:
    moment = Moment(bank_of(relay=False))
    moment.act("checklist", name="the keeper")
    moment.act("start")
    moment.pass_time(1200.0, **ON, **WARMTH)
    moment.act("finish", sure=True)
    moment.pass_time(300.0, voltage=25.6, current=0.0)
    assert moment.now.phase == "resting" and agreed(moment, tmp_path) == "not-yet"
    assert "`revival record charger off`" in moment.now.advice
    moment.hand("charger", {"volts": 0.0})
    moment.pass_time(30.0)
    assert agreed(moment, tmp_path) == "yes"


def test_m93_a_bridge_whose_file_was_given_a_relay_says_that_it_cuts_nothing_until_it_is_restarted(
    tmp_path: Path,
) -> None:
    path = tmp_path / "cabin.toml"
    text = CABIN + "".join(METER.format(topic=name, quantity=name, more=more) for name, more in USUAL)
    path.write_text(text)
    file = NewerFile(load(path).cabin)
    assert file.look() == file.words == ""
    written(path, text + RELAY)
    told = file.look()
    assert "restart the bridge" in told and "no relay cuts for barn" in told
    assert file.look() == "" and file.words == told, "it is told once, and stands"
    bridge = {"connected": True, "messages": 0, "journal_lag": 0.0, "journal_degraded": "", "unstored": 0,
              "dropped": 0, "rejected": {}, "newer_file": told}  # fmt: skip
    assert f"  {told}" in status_words({"bridge": bridge, "banks": {}})
    written(path, text + "\n[nonsense]\n")
    assert "mend it first" in file.look()
    written(path, text)
    assert file.look() == "" and file.words == "", "as it runs"


def test_m93_a_bridge_whose_file_names_another_ammeter_says_by_which_it_judges_until_it_is_restarted(
    tmp_path: Path,
) -> None:
    path = tmp_path / "cabin.toml"
    text = CABIN + "".join(METER.format(topic=name, quantity=name, more=more) for name, more in USUAL)
    path.write_text(text)
    file = NewerFile(load(path).cabin)
    written(path, text.replace('topic = "cabin/current"', 'topic = "shed/new-shunt"'))
    told = file.look()
    assert "restart the bridge, it runs by the old one" in told
    old = "barn's current from cabin/current in A"
    assert told.endswith(f"until then it judges by what the file no longer names: {old}")
    written(path, text + "# a remark\n")
    assert "judges" not in file.look()


def written(path: Path, text: str) -> None:
    """As an editor does it later on."""
    before = path.stat().st_mtime_ns
    path.write_text(text)
    os.utime(path, ns=(before + 10**9, before + 10**9))


@pytest.mark.parametrize("rested", [False, True])
def test_gravities_that_tell_nothing_for_a_verdict_are_looked_into_and_are_no_missing_precaution(
    rested: bool, tmp_path: Path
) -> None:
    bank = bank_of(relay=False)
    moment = Moment(bank)
    moment.pass_time(60.0, voltage=25.2, current=0.0, **WARMTH)
    assert moment.act("checklist", name="the keeper") == ""
    if not rested:
        moment.pass_time(1200.0, **ON)
    cells = cells_of(bank)
    moment.hand("gravity", {**dict.fromkeys(cells, 1.262), cells[1]: 1.212}, temperature=24.0)
    moment.pass_time(60.0)
    if rested:
        assert "imbalance" in moment.now.flags and "gravities-doubted" not in moment.now.flags
        moment.pass_time(1200.0, **ON)
        assert "imbalance" in moment.now.flags and agreed(moment, tmp_path) == "yes", "a difference is looked at, later"
        derived = moment.derived
        assert derived is not None and derived.phase == "waking"
        # Where nothing else is due the phase's own advice stands first, and behind a chore it is not hidden.
        moment.hand("seen", {"": "all well"})
        moment.pass_time(20.0)
        derived = moment.derived
        assert derived is not None and derived.next_step.startswith(("Leave it alone", "Let it charge")), derived
        assert derived.then[-1].startswith(
            "When nothing charges any more, air the room for an hour, then tighten every joint"
        )
    else:
        assert "gravities-doubted" in moment.now.flags and "imbalance" not in moment.now.flags
        assert agreed(moment, tmp_path) == "yes"
        assert "not for a verdict: under charge" in moment.now.texts and f"{cells[1]} at 1.21" in moment.now.texts


def test_m95_between_the_limit_of_a_string_and_its_trip_nothing_is_called_safe(tmp_path: Path) -> None:
    moment = Moment(bank_of(relay=False))
    limit = moment.bank.string_current_limit
    moment.act("checklist", name="the keeper")
    moment.pass_time(600.0, voltage=26.0, current=limit, **WARMTH)
    assert agreed(moment, tmp_path) == "yes", "at its limit"
    moment.pass_time(120.0, current=1.13 * limit)
    assert "string-over-limit" in moment.now.flags and agreed(moment, tmp_path) != "yes"
    assert f"over {1.25 * limit:.1f} A it is a danger" in moment.now.texts
    moment.pass_time(120.0, current=0.9 * limit)
    assert "string-over-limit" not in moment.now.flags and agreed(moment, tmp_path) == "yes"


def golf_cart(more: tuple[tuple[str, str], ...] = USUAL) -> Moment:
    """A watched bank of eight blocks of 6 V and 225 Ah in one string: its limit is 29.25 A, its charger gives 30."""
    moment = Moment(bank_of(relay=False, blocks=8, capacity=225.0, meters=more))
    moment.pass_time(30.0, voltage=49.0, current=0.0, **WARMTH)
    assert moment.act("checklist", name="the keeper") == ""
    return moment


def flickers(moment: Moment, low: float, high: float, seconds: int) -> set[tuple[str, bool]]:
    """The ammeter goes to and fro once a second; the answers and whether the string is over its limit, each second."""
    told = set()
    for second in range(seconds):
        moment.pass_time(1.0, every=1.0, current=high if second % 3 else low)
        derived = derive(moment.bank, moment.memory, view_of(moment.bank, moment.memory, moment.at), moment.at)
        told.add((derived.safe, "string-over-limit" in moment.flags))
    return told


def test_a_steady_current_just_over_the_limit_of_a_string_is_one_amber_story(tmp_path: Path) -> None:
    moment = golf_cart()
    assert flickers(moment, 29.1, 29.5, 180) == {("yes", False)}, "no more than a shunt may be off"
    flickers(moment, 29.9, 30.2, 40)
    assert flickers(moment, 29.9, 30.2, 180) == {("not-yet", True)}
    assert agreed(moment, tmp_path) == "not-yet" and "DANGER" not in head(moment)
    assert "takes 30." in head(moment) and "lower the charger to 29 A; over 36.6 A it is a danger" in head(moment)
    assert moment.now.advice.startswith("Lower the charger's amps now, to 29 A or less, until")
    cleared = [event for event in moment.events if event.kind == "flag-cleared"]
    assert not [event for event in cleared if event.detail["flag"] == "string-over-limit"]
    flickers(moment, 28.9, 29.3, 60)
    assert agreed(moment, tmp_path) == "yes" and "string-over-limit" not in moment.now.flags


def test_one_wild_reading_of_the_ammeter_raises_nothing_and_a_real_danger_is_told_at_once(tmp_path: Path) -> None:
    moment = golf_cart()
    flickers(moment, 28.0, 28.0, 60)
    assert flickers(moment, 31.0, 31.0, 1) | flickers(moment, 28.0, 28.0, 60) == {("yes", False)}
    assert flickers(moment, 38.0, 38.0, 2) == {("no", True)}
    assert agreed(moment, tmp_path) == "no"
    assert flickers(moment, 32.0, 32.0, 60) == {("not-yet", True)}


def test_beside_a_silent_thermometer_the_charger_goes_off_first_and_the_amps_are_lowered_then() -> None:
    moment = golf_cart()
    moment.pass_time(120.0, current=30.2, voltage=55.0)
    del moment.feed[PROBE]
    moment.pass_time(240.0)
    assert {"meter-silent", "string-over-limit"} <= moment.now.flags and moment.derived is not None
    assert moment.derived.next_step.startswith("No relay here: switch the charger off now, at the wall")
    silent, amps = (
        next(n for n, line in enumerate(moment.derived.then) if words in line)
        for words in ("why the meter is silent", "Set the charger's amps lower, to 29 A at most, before it comes on")
    )
    assert silent < amps


def test_strings_that_differ_make_nothing_unsafe_until_one_is_over_its_limit(
    tmp_path: Path,
) -> None:
    meters = [("string_current", f'unit = "A"\nindex = "{n}"') for n in (1, 2)]
    moment = Moment(bank_of(*meters, strings=2))
    low, high = "string_current:1", "string_current:2"
    moment.begin(voltage=26.0, current=20.0, **WARMTH, **{low: 4.0, high: 16.0})
    moment.pass_time(300.0)
    assert "imbalance" in moment.now.flags and agreed(moment, tmp_path) == "yes"
    limit = moment.bank.string_current_limit
    moment.pass_time(120.0, current=4.0 + 1.1 * limit, **{low: 4.0, high: 1.1 * limit})
    assert agreed(moment, tmp_path) != "yes" and "string-over-limit" in moment.now.flags


def silence(moment: Moment, seconds: float) -> None:
    """Nobody and nothing speaks for so long; the bank is looked at every minute."""
    until = moment.at + seconds
    while moment.at < until:
        moment.at += 60.0
        moment.fold(Tick(moment.at))


def test_a_bank_read_by_hand_alone_that_nobody_reads_any_more_is_gone_to_and_its_charger_switched_off() -> None:
    moment = Moment(bank_of(relay=False, meters=()))
    assert moment.act("checklist", name="the keeper") == "" == moment.act("start")
    moment.hand("voltage", {"": 28.0})
    moment.hand("amps", {"": 20.0})
    silence(moment, 1800.0)
    assert moment.derived is not None and moment.derived.phase == "reviving"
    silence(moment, 86400.0)
    assert moment.derived.safe == "unknown"
    assert moment.derived.next_step.startswith("Go and look now, and switch the charger off at the wall")
    assert not any(line.startswith(("Leave", "Measure", "Let")) for line in moment.derived.then)
    moment.hand("charger", {"volts": 0.0})
    silence(moment, 60.0)
    assert "switch the charger off" not in moment.derived.next_step


@pytest.mark.parametrize("relay", [False, True])
def test_meters_that_have_not_spoken_since_the_bridge_came_up_are_waited_for_two_minutes_then_the_charger_goes_off(
    relay: bool,
) -> None:
    moment = Moment(bank_of(relay=relay))
    moment.begin(voltage=24.6, current=0.0, **WARMTH)
    moment.pass_time(1800.0, **ON)
    moment.hand("seen", {"": "all well"})
    moment.heard = False
    moment.later(7200.0)
    silence(moment, 60.0)
    words = " ".join([moment.derived.next_step, *moment.derived.then]) if moment.derived else ""
    assert "go and look whether the charger is on, and switch it off at the wall" in words or relay
    silence(moment, 240.0)
    assert moment.derived is not None and "witch the charger off" in moment.derived.next_step


def tripped_by_heat() -> Moment:
    """A bank that tripped at 45 degC, whose relay opened, and in which nothing flows any more."""
    moment = Moment(bank_of())
    moment.begin(voltage=25.0, current=0.0, **{PROBE: 25.0})
    moment.pass_time(60.0, voltage=28.2, current=10.0)
    moment.pass_time(60.0, **{PROBE: 45.0})
    assert moment.now.latched == {"over-temperature"} and not moment.now.allowed
    return moment


@pytest.mark.parametrize(
    ("kind", "values", "named", "first"),
    [
        ("seen", {"A2": "smoke"}, "danger-noted: somebody noted: smoke at A2", "danger-noted"),
        ("seen", {"A2": "cracked"}, "case-damaged: somebody noted: crack at A2", "over-temperature"),
        ("level", {"A2": "below-plates"}, "plates-bare: level at or below the plates at A2", "over-temperature"),
        ("voltage", {"A2": -6.1}, "polarity-reversed: polarity of A2", "over-temperature"),
    ],
)
def test_a_danger_noted_after_a_trip_joins_its_headline_and_the_worst_stands_first(
    kind: str, values: dict[str, float | str], named: str, first: str
) -> None:
    moment = tripped_by_heat()
    assert named.partition(":")[0] not in moment.now.texts.splitlines()[1]
    moment.hand(kind, values, sure=True)
    headline = moment.now.texts.splitlines()[1]
    assert headline.startswith(f"north: TRIPPED: {first}: ") and named in headline and "over-temperature" in headline
    derived = moment.derived
    assert derived is not None and derived.unsafe[0] == first and len(derived.unsafe) == 2


def test_a_second_danger_of_the_same_name_joins_the_first_is_told_and_the_hour_of_air_begins_again() -> None:
    moment = Moment(bank_of())
    moment.prepare(voltage=25.0, current=0.0, **{PROBE: 25.0})
    assert "trip" in moment.hand("seen", {"A1": "smells of rotten eggs"})
    first = moment.at
    moment.pass_time(1800.0, every=60.0)
    assert "trip" in moment.hand("seen", {"A2": "smoke"})
    assert "smoke at A2; before: smell of rotten eggs at A1" in moment.now.texts.splitlines()[1]
    moment.pass_time(1860.0, every=60.0)
    assert moment.at > first + 3600.0 and "air the room" in moment.act("reset"), "the hour is that of the smoke"
    moment.pass_time(1800.0, every=60.0)
    assert moment.act("reset") == ""


def test_the_same_danger_noted_once_more_is_no_second_trip() -> None:
    moment = Moment(bank_of())
    moment.prepare(voltage=25.0, current=0.0, **{PROBE: 25.0})
    moment.hand("seen", {"A2": "smoke"})
    moment.pass_time(600.0, every=60.0)
    assert "trip" not in moment.hand("seen", {"A2": "smoke"})
    assert moment.now.texts.splitlines()[1].count("smoke") == 1


def test_a_bank_that_grows_hotter_after_its_trip_is_told_by_how_hot_it_is_and_cooling_takes_nothing_back() -> None:
    moment = tripped_by_heat()
    moment.pass_time(60.0, **{PROBE: 58.0})
    assert "58." in moment.now.texts.splitlines()[1] and "45." not in moment.now.texts.splitlines()[1]
    moment.pass_time(600.0, **{PROBE: 30.0})
    assert "58." in moment.now.texts.splitlines()[1]


def test_plates_noted_bare_of_a_bank_at_rest_are_work_and_no_danger() -> None:
    moment = Moment(bank_of())
    moment.prepare(voltage=25.0, current=0.0, **{PROBE: 25.0})
    moment.hand("level", {"A2": "below-plates"})
    assert moment.derived is not None and moment.derived.safe != "no"


@pytest.mark.parametrize(("last", "off"), [(7.0, False), (0.0, True)])
def test_a_note_of_off_counts_for_nothing_where_the_ammeter_fell_silent_while_amps_flowed(
    last: float, off: bool
) -> None:
    moment = Moment(bank_of(relay=False))
    moment.pass_time(1200.0, voltage=26.0, current=7.0, **WARMTH)
    moment.hand("charger", {"volts": 0.0})
    moment.pass_time(120.0, voltage=26.0, current=7.0, **WARMTH)
    moment.pass_time(60.0, voltage=25.6, current=last, **WARMTH)
    del moment.feed["current"]
    moment.pass_time(1800.0, voltage=25.6, **WARMTH)
    assert moment.derived is not None and moment.derived.current is None
    assert moment.derived.charger.startswith("The charger is off: so noted") is off, moment.derived.charger
