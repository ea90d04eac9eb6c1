"""`revival status` in words: arrangement, gas, water, gravities, test and verdict, where there is something to say."""

from __future__ import annotations

import json
import re
import shlex
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from bridge.cli import build_parser, main
from bridge.commands.act import joined
from bridge.commands.record import rise_words
from bridge.commands.status import NOTED, folded, words
from bridge.words.catalogue import chores_json
from bridge.words.spoken import spoken
from rules.advice import ChargerNow
from rules.advice.flag_words import lines
from rules.advice.next_step import WITNESS
from rules.advice.phase_words import START_NOW
from rules.events import Derived, Flag
from tests.support.cabin import write_cabin

NOW = 1_795_590_000.0
DEAD = ChargerNow("open", "off", "relay", NOW)


def told(**known: Any) -> str:
    """What is said of one bank; `several` = as if there were others."""
    several: bool | None = known.pop("several", None)
    bridge = {
        "connected": True,
        "messages": 1,
        "journal_lag": 0.0,
        "journal_degraded": "",
        "unstored": 0,
        "dropped": 0,
        "rejected": {},
    }
    plain = Derived("north", NOW, **known)._asdict()
    plain["flags"] = [flag._asdict() for flag in plain["flags"]]
    return "\n".join(words({"bridge": bridge, "banks": {"north": plain}}, several=several))


def test_a_bank_of_which_nothing_is_known_gets_no_empty_lines() -> None:
    assert [line.split(":")[0].strip() for line in told().splitlines()] == [
        "bridge", "north", "idle; ? V per cell, ? V, ? A, ? °C, ? Ah returned", "hours left not known", "next",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("safe", "tripped", "connected", "code"),
    [
        ("no", True, True, 5), ("no", False, True, 5), ("not-yet", False, True, 0), ("unknown", False, True, 0),
        ("yes", False, True, 0), ("yes", False, False, 5),
    ],
)  # fmt: skip
def test_whoever_reads_only_the_exit_code_hears_of_a_danger_that_is_no_trip(
    safe: str, tripped: bool, connected: bool, code: int, monkeypatch: pytest.MonkeyPatch, tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    plain = Derived("north", NOW, safe=safe, tripped=tripped, safe_why="seen")._asdict() | {"flags": []}
    bridge = {"connected": connected, "messages": 1, "journal_lag": 0.0, "journal_degraded": "", "unstored": 0,
              "dropped": 0, "rejected": {}}  # fmt: skip
    monkeypatch.setattr("bridge.commands.status.ask", lambda *_: {"bridge": bridge, "banks": {"north": plain}})
    path = write_cabin(tmp_path, 1883, relay=False)
    assert main(["status", "--config", str(path)]) == code
    assert ("DANGER" in (said := capsys.readouterr().out) or "TRIPPED" in said) is (safe == "no")
    assert main(["status", "--json", "--config", str(path)]) == code


def test_gas_water_and_when_to_approach_are_told_while_charging() -> None:
    said = told(
        gassing_share=0.42,
        hydrogen_rate=27.6,
        ventilation_needed=3.0,
        water_used=31.0,
        water_reserve=135.0,
        top_up_at=NOW + 7200.0,
        safe_to_approach_at=NOW + 3600.0,
        charging=True,
    )
    assert "gas: by estimate 42 % of the current, 27.6 L/h of hydrogen; 3.0 m3/h of air needed now" in said
    assert "water: 31 g of the 135 g above each cell's plates" in said
    assert "top up with distilled water at about" in said
    # While it charges that moment moves on with the clock; afterwards it stands.
    assert "no tool and no spark at the posts until an hour after charging has ended" in said
    stopped = told(safe_to_approach_at=NOW + 3500.0)
    assert "an hour after" not in stopped and "no tool and no spark at the posts until" in stopped
    aired = told(safe_to_approach_at=NOW + 1800.0)
    assert f"no tool and no spark at the posts until {datetime.fromtimestamp(NOW + 1800.0):%d %b %H:%M}" in aired
    hardly = told(gassing_share=0.003, hydrogen_rate=0.1, ventilation_needed=0.01)
    assert "gas: by estimate less than 1 % of the current" in hardly
    assert "hardly any air needed now; leave the openings open" in hardly
    # A flow of gas is never nought, in no measure.
    for rate, metric, customary in (
        (0.1, "0.1 L/h", "0.0035 cu ft/h"),
        (0.01, "less than 0.1 L/h", "less than 0.0035"),
    ):
        shown = told(gassing_share=0.003, hydrogen_rate=rate, ventilation_needed=0.01)
        assert f"{metric} of hydrogen" in shown and f"{customary}" in spoken(shown, "degF"), spoken(shown, "degF")


def test_paper_work_that_is_open_is_no_reason_why_a_bank_is_safe() -> None:
    papers = Flag("checklist-open", "start", NOW, reason="the start checklist is not confirmed")
    said = told(safe="yes", flags=(papers,))
    assert "north: safe, no danger seen; before a start: checklist-open: the start checklist is not confirmed" in said


def test_what_is_warm_is_told_with_its_figure_and_its_limit_and_what_falls_due_without() -> None:
    warm = Flag("temperature-high", "chore", NOW, 39.2, 38.0, "degC", "warm; the work stops at the limit")
    look = Flag("presence-due", "chore", NOW, 130.0, 30.0, "min", "first look")
    said = told(safe="warm", safe_why=warm.reason, flags=(warm, look))
    figure = "temperature-high: warm; the work stops at the limit, 39.2 °C, limit 38.0 °C"
    assert f"north: WARM, no danger seen: {figure}" in said and f"flag {figure}" in said
    assert "flag presence-due: first look\n" in said


def test_the_command_under_the_next_step_belongs_to_it() -> None:
    silent = Flag("meter-silent", "permit", NOW, reason="cabin/volts")
    again = Flag("resume-due", "permit", NOW, reason="a trip was reset")
    look = lines("resume-due", DEAD)[0]
    assert "with:" not in told(flags=(silent, again), next_step=lines("meter-silent", DEAD)[0])
    assert "with:  revival resume" in told(flags=(again, silent), next_step=look)
    looked = told(flags=(Flag("presence-due", "chore", NOW, reason="first look"),))
    assert 'with:  revival record seen "WHAT YOU SAW"' in looked
    rested = "Read every cell, note it with `revival record gravity`, and then test with `revival test`."
    complete = Flag("hold-complete", "permit", NOW, reason="the hold is complete")
    assert "with:  revival record gravity VALUES --config cabin.toml" in told(flags=(complete,), next_step=rested)
    assert "with:" not in told(next_step="Switch the charger off until all is done, then give `revival start`.")
    # An hour after the charger stopped there is nothing to wait for.
    assert "safe to approach" not in told(safe_to_approach_at=NOW - 1.0)


#: What else a next step can name, by the flag that stands for it.
ACTS = {
    **{name: lines(name, DEAD)[0] for name in ("resume-due", "permit-exhausted", "checklist-open", "proof-test-due")},
    "proof-test-missing": lines("proof-test-missing", DEAD)[0],
    "not-started": START_NOW,
    "retained-order": WITNESS,
}


@pytest.mark.parametrize("several", [False, True])
@pytest.mark.parametrize("flag", [*NOTED, *ACTS])
def test_every_command_that_is_offered_is_one_and_names_its_bank_where_there_are_several(
    flag: str, several: bool
) -> None:
    said = told(several=several, flags=(Flag(flag, "chore", NOW),), next_step=ACTS.get(flag, ""))
    (command,) = [line.partition("with:  revival ")[2] for line in said.splitlines() if "with:" in line]
    typed = shlex.split(command)
    options, behind = build_parser(typed[0]).parse_known_args(typed)
    words_of_it = [*getattr(options, "words", ()), *behind]
    assert not any(word.startswith("-") for word in words_of_it)
    assert (getattr(options, "bank", None) == "north" or words_of_it[:1] == ["north"]) == several


def test_a_terminal_shows_a_long_line_in_pieces_under_each_other_and_a_command_whole() -> None:
    line = "  next: " + "look at every cell " * 8
    assert folded(line, 0) == line
    first, *more = folded(line, 60).split("\n")
    assert first.startswith("  next: ") and all(piece.startswith("    look") or piece[:4] == " " * 4 for piece in more)
    assert max(map(len, (first, *more))) <= 60 and len(more) == 2
    command = '  with:  revival record seen "WHAT YOU SAW" --config /etc/revival/cabin.toml'
    assert folded(command, 40) == command


def test_a_split_bank_says_how_its_blocks_are_joined() -> None:
    blocks = tuple({"block": f"N{n}", "string": 1 if n < 3 else 0, "charge": 0.0, "hours": 0.0} for n in range(1, 5))
    assert "in the circuit: N1 N2; aside: N3 N4" in told(blocks=blocks)
    whole = tuple({**row, "string": 1} for row in blocks)
    assert "in the circuit" not in told(blocks=whole)
    assert joined({"blocks": whole}) == ["in the circuit: N1 N2 N3 N4"]
    assert joined({}) == []


def test_what_is_to_be_done_comes_with_its_time() -> None:
    said = told(chores=({"chore": "presence-due", "due_at": NOW}, {"chore": "level-due", "due_at": NOW + 86400.0}))
    here = [f"{datetime.fromtimestamp(at).astimezone():%d %b %H:%M}" for at in (NOW, NOW + 86400.0)]
    assert f"chores: presence {here[0]}, level {here[1]}" in said
    # On the bus to ten minutes, so that a foretold time does not publish every second.
    assert json.loads(chores_json(({"chore": "level-due", "due_at": 1_795_590_123.0},))) == [
        {"chore": "level-due", "due_at": "2026-11-25T07:00:00Z"}
    ]


@pytest.mark.parametrize(
    ("rise", "by_water", "said"),
    [
        (0.010, 0.004, "risen by 0.010, of which 0.004 is lost water and no recovery,"),
        (0.010, -0.0001, "risen by 0.010"),
        (-0.007, 0.004, "fallen by 0.007"),
        (0.0002, 0.0, ""),
        (None, None, ""),
    ],
)
def test_a_rise_is_told_with_what_lost_water_explains(rise: float | None, by_water: float | None, said: str) -> None:
    assert rise_words({"gravity_rise": rise, "gravity_rise_by_water": by_water}) == said


def test_gravities_test_and_verdict_are_told() -> None:
    said = told(
        lowest_gravity=1.241,
        gravity_spread=0.018,
        gravity_rise=0.012,
        capacity_delivered=164.2,
        capacity_percent=82.1,
        fell_first=("N2", "N1"),
        verdict=({"word": "keep", "reasons": ["82 % of its rated 200 Ah, sound"]},),
    )
    assert "gravity: lowest 1.241, spread 0.018, risen by 0.012" in said
    assert "test: 164.2 Ah, 82 % of what is rated" in said
    assert "fell first: N2, N1" in said
    assert "verdict: keep: 82 % of its rated 200 Ah, sound" in said


def test_ages_and_the_command_that_answers_the_worst_of_it_are_told() -> None:
    told_ages = {"voltage": 2.0, "electrolyte_temperature": 300.0}
    assert "heard: voltage 2 s ago, electrolyte temperature 5 min ago" in told(freshness=told_ages)
    tripped = {"tripped": True, "trip_reason": "over-temperature"}
    gone = "Look at the bank and put the cause right, then give `revival reset`: what tripped it is no longer seen."
    assert "with:  revival reset --config cabin.toml" in told(**tripped, next_step=gone)
    assert "revival reset" not in told(**tripped, next_step="Keep the charger off."), "it would be refused now"


def test_a_database_that_does_not_answer_is_told_with_what_waits_for_it() -> None:
    bridge = {"connected": True, "messages": 1, "journal_lag": 0.0, "journal_degraded": "", "unstored": 0, "dropped": 0}
    database = {"state": "unreachable", "words": "connection refused", "backlog": 51}
    said = words({"bridge": {**bridge, "rejected": {}, "database": database}, "banks": {}})
    assert said[1] == "  database: unreachable, 51 rows behind: connection refused"


def test_m55_a_cell_below_the_hydrometers_scale_stands_beside_the_lowest_number() -> None:
    cells = [
        {"cell": "N1.1", "gravity": 1.262, "mark": "", "corrected": True},
        {"cell": "N4.3", "gravity": None, "mark": "low", "corrected": True},
        {"cell": "N4.2", "gravity": None, "mark": "high", "corrected": True},
    ]
    said = told(lowest_gravity=1.1, cells=cells)
    assert "gravity: lowest at most 1.100, N4.3 too weak to float it, N4.2 above its scale" in said
    assert "too weak" not in told(lowest_gravity=1.262, cells=cells[:1])


def test_a_figure_that_rounds_to_nothing_has_no_sign() -> None:
    assert "0.0 A" in told(current=-0.04) and "-0.0 A" not in told(current=-0.04)


def test_a_day_far_ahead_is_told_with_its_year() -> None:
    assert re.search(r"top up with distilled water at about \d+ \w+ 20\d\d\b", told(top_up_at=NOW + 200 * 86400.0))
