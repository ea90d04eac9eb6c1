"""Acts of a person through the one door: blocks joined anew, a capacity test, a verdict, a new round."""

from __future__ import annotations

import pytest

from rules.bank.model import Bank, Block, ChargerSetting, Meter, Relay
from rules.events import Command, Derived, Event, HandReading, Incoming, Order, Reading, Tick
from rules.phase.memory import PhaseMemory
from rules.step import step
from rules.step.memory import initial
from rules.step.rewire import block_ledger
from tests.support.fold import ready

T = 1_795_590_000.0
HOUR = 3600.0
BLOCKS = tuple(Block(f"N{number}", 3, 200.0) for number in range(1, 5))
METERS = (Meter("voltage", "voltage", period=10.0), Meter("current", "current", period=10.0))
NORTH = Bank("north", (BLOCKS,), chargers=(ChargerSetting(28.8, 25.0),), meters=METERS)


class Site:
    """One bank, and what it said."""

    def __init__(self, bank: Bank) -> None:
        self.bank, self.memory, self.at = bank, initial(), T
        self.state = Derived(bank.id, T)
        self.events: list[Event] = []
        self.orders: list[Order] = []

    def give(self, event: Incoming) -> None:
        self.memory, outcomes = step(self.bank, self.memory, event)
        for outcome in outcomes:
            if isinstance(outcome, Derived):
                self.state = outcome
            elif isinstance(outcome, Order):
                self.orders.append(outcome)
            else:
                self.events.append(outcome)

    def act(self, name: str, /, **argument: object) -> str:
        """Why it was refused, or nothing."""
        before = len(self.events)
        self.give(Command(self.bank.id, name, self.at, "keeper", argument))
        return "; ".join(str(event.detail["why"]) for event in self.events[before:] if event.kind == "refused")

    def note(self, kind: str, values: dict[str, float | str], temperature: float | None = None) -> None:
        self.give(HandReading(self.bank.id, kind, self.at, self.at, values, temperature, "keeper"))

    def run(self, hours: float, volts: float, amps: float, every: float = 10.0, **more: float) -> Derived:
        """Meters speak, seconds pass."""
        end = self.at + hours * HOUR
        while self.at < end:
            self.at += 1.0
            if self.at % every == 0.0:
                for name, value in {"voltage": volts, "current": amps, **more}.items():
                    self.give(Reading(self.bank.id, name.replace("__", ":"), value, self.at, self.at))
            self.give(Tick(self.at))
        return self.state

    def rested(self) -> None:
        """As after a hold."""
        began = self.at - 40 * HOUR
        machine = PhaseMemory("resting", self.at - 7 * HOUR, woken=True, hold_complete=True, started_at=began)
        self.memory = self.memory._replace(phase=machine)


# --------------------------------------------------------------------------------- joined anew


def test_charge_and_hours_follow_the_block_through_split_swap_and_rejoin() -> None:
    site = Site(NORTH)
    assert site.act("arrange", act="split", number=1) == ""
    site.run(1.0, 14.4, 10.0)
    assert site.act("arrange", act="swap", sure=True) == ""
    site.run(2.0, 14.4, 5.0)
    assert site.act("arrange", act="rejoin", sure=True) == ""
    state = site.run(1.0, 28.0, 20.0)
    by_block = {row["block"]: row for row in state.blocks}
    for label, charge, hours in (("N1", 30.0, 2.0), ("N2", 30.0, 2.0), ("N3", 30.0, 3.0), ("N4", 30.0, 3.0)):
        assert by_block[label]["charge"] == pytest.approx(charge, rel=0.02)
        assert by_block[label]["hours"] == pytest.approx(hours, rel=0.02)
    ledger = block_ledger(NORTH, site.memory)
    assert {label: account.charge for label, account in ledger.items()} == {
        label: pytest.approx(row["charge"], abs=0.1) for label, row in by_block.items()
    }


def test_each_change_is_a_dated_event_with_the_strings_as_they_are() -> None:
    site = Site(NORTH)
    site.act("arrange", act="split")
    event = next(event for event in site.events if event.kind == "command")
    assert (event.at, event.detail["strings"], event.detail["by"]) == (T, [["N1", "N2"]], "keeper")
    assert site.act("arrange", act="isolate", number=1) != ""
    assert "say split" in site.act("arrange", act="weld")


def test_whoever_joins_the_blocks_anew_sees_at_once_how_they_stand() -> None:
    site = Site(NORTH)
    for act, circuit in (("split", {"N1", "N2"}), ("swap", {"N3", "N4"}), ("rejoin", {"N1", "N2", "N3", "N4"})):
        site.at += 0.5
        site.act("arrange", act=act)
        assert site.state.at == site.at
        assert {row["block"] for row in site.state.blocks if row["string"]} == circuit


@pytest.mark.parametrize("nobody", ["", "  "])
def test_a_name_that_is_given_and_empty_confirms_no_checklist(nobody: str) -> None:
    site = Site(NORTH)
    site.run(0.01, 25.0, 0.0)
    assert "confirmed by name" in site.act("checklist", name=nobody)
    assert site.memory.interlock.checklist_by == ""


def test_whoever_confirms_the_checklist_is_told_of_it_at_once() -> None:
    site = Site(NORTH)
    site.run(0.01, 25.0, 0.0)
    site.at += 0.5
    assert site.act("checklist", name="keeper") == ""
    assert site.state.at == site.at


def test_volts_of_before_are_not_read_as_those_of_half_the_cells() -> None:
    site = Site(NORTH)
    site.run(0.1, 28.8, 2.0)
    site.act("arrange", act="split", sure=True)
    site.at += 1.0
    site.give(Tick(site.at))
    assert site.state.volts_per_cell is None
    state = site.run(0.1, 14.4, 2.0)
    assert state.volts_per_cell == pytest.approx(2.4)
    assert not state.tripped


def test_an_isolated_string_gets_nothing_and_keeps_what_it_had() -> None:
    twin = Bank("south", (BLOCKS, tuple(Block(f"S{n}", 3, 200.0) for n in range(1, 5))), meters=METERS)
    site = Site(twin)
    site.run(1.0, 26.0, 20.0)
    site.act("arrange", act="isolate", number=2, sure=True)
    state = site.run(1.0, 26.0, 20.0)
    charges = {row["block"]: (row["string"], row["charge"]) for row in state.blocks}
    assert charges["N1"] == (1, pytest.approx(30.0, rel=0.02))
    assert charges["S1"] == (0, pytest.approx(10.0, rel=0.02))


def test_what_was_read_by_hand_is_counted_up_to_the_change_and_not_beyond() -> None:
    site = Site(Bank("north", (BLOCKS,)))
    site.note("voltage", {"": 28.0})
    site.note("amps", {"": 10.0})
    site.at += HOUR
    site.act("arrange", act="split", sure=True)
    assert block_ledger(site.bank, site.memory)["N1"].charge == pytest.approx(10.0)
    site.give(Tick(site.at + 1.0))
    assert (site.state.voltage, site.state.current) == (None, None)
    site.at += 5 * HOUR
    site.note("amps", {"": 4.0})
    assert block_ledger(site.bank, site.memory)["N1"].charge == pytest.approx(10.0)


def test_gas_of_what_was_read_by_hand_is_counted_up_to_the_change_too() -> None:
    site = Site(Bank("north", (BLOCKS,)))
    site.note("voltage", {"": 32.0})
    site.note("temperature", {"": 25.0})
    site.note("amps", {"": 4.0})
    site.at += HOUR
    site.act("arrange", act="split", sure=True)
    # At 2.67 V per cell a sound 200 Ah cell gasses with 5 A: all of the 4 A split water.
    assert site.memory.counters.gassing == pytest.approx(4.0, rel=0.01)


def test_a_second_start_is_answered_with_the_round_that_is_under_way() -> None:
    site = Site(Bank("north", (BLOCKS,)))
    assert site.act("start") == ""
    began = site.memory.phase.started_at
    assert "the round is under way" in site.act("start") and site.memory.phase.started_at == began


def test_charge_read_by_hand_before_the_start_is_not_counted_into_the_round() -> None:
    site = Site(Bank("north", (BLOCKS,)))
    site.note("voltage", {"": 28.0})
    site.note("amps", {"": 10.0})
    site.at += 2 * HOUR
    assert site.act("start") == ""
    assert site.state.charge_returned == 0.0
    assert site.state.phase == "waking", (site.state.next_step, site.state.then)
    site.at += HOUR
    site.note("amps", {"": 10.0})
    assert site.state.charge_returned == pytest.approx(10.0)


def test_gravities_follow_the_block() -> None:
    site = Site(NORTH)
    site.note("gravity", {"N3.1": 1.21, "N1.1": 1.25}, 25.0)
    site.act("arrange", act="split")
    site.note("gravity", {"N3.1": 1.22}, 25.0)
    site.give(Tick(site.at + 1.0))
    assert {row["cell"]: row["gravity"] for row in site.state.cells} == {
        "N1.1": pytest.approx(1.249, abs=0.001), "N3.1": pytest.approx(1.219, abs=0.001),
    }  # fmt: skip


def test_in_a_started_round_the_relay_stays_open_after_a_change_until_a_person_resumes() -> None:
    probe = Meter("electrolyte_temperature", "electrolyte_temperature", placed="cell")
    site = Site(Bank("north", (BLOCKS,), meters=(*METERS, probe), relay=Relay()))
    lock = site.memory.interlock
    site.memory = site.memory._replace(
        interlock=lock._replace(
            checklist_by="keeper", proof=lock.proof._replace(at=T, passed=True, current_proved=True)
        )
    )
    site.run(0.1, 25.0, 0.0, electrolyte_temperature=20.0)
    assert site.act("start") == ""
    site.run(0.1, 26.0, 20.0, electrolyte_temperature=20.3)
    assert site.orders[-1].action == "allow"
    site.act("arrange", act="split", sure=True)
    assert site.orders[-1].action == "cut"
    site.run(0.2, 12.5, 0.0, electrolyte_temperature=20.6)
    assert site.orders[-1].action == "cut"
    assert "resume-due" in {flag.name for flag in site.state.flags}
    assert "checklist" in site.act("resume")
    assert site.act("checklist", name="keeper") == "" and site.act("resume") == ""
    site.run(0.2, 13.0, 20.0, electrolyte_temperature=20.9)
    assert site.orders[-1].action == "allow"


# ------------------------------------------------------------------------------- test and verdict

TESTED = Bank(
    "north",
    (BLOCKS,),
    meters=(*METERS, *(Meter(f"block_voltage:N{n}", "block_voltage", f"N{n}", period=10.0) for n in range(1, 5))),
    load_relay=True,
)


def discharged(site: Site) -> Derived:
    """10 A for 16 h, then the second block comes down first and the bank follows."""
    site.rested()
    site.note("temperature", {"": 15.0})
    assert site.act("test") == ""
    good = {f"block_voltage__N{n}": 6.0 for n in range(1, 5)}
    site.run(16.0, 24.0, -10.0, every=60.0, **good)
    site.run(0.1, 22.0, -10.0, every=60.0, **{**good, "block_voltage__N2": 5.1})
    return site.run(0.1, 20.9, -10.0, every=60.0, **{**good, "block_voltage__N2": 4.9, "block_voltage__N4": 5.2})


def test_a_capacity_test_ends_at_the_end_voltage_takes_the_load_off_and_is_corrected() -> None:
    site = Site(TESTED)
    state = discharged(site)
    assert "test-end" in {flag.name for flag in state.flags}
    assert "switch the load off" in state.next_step
    assert state.fell_first == ("N2", "N4")
    cuts = [order for order in site.orders if order.action == "load-cut"]
    assert cuts and "1.74 V per cell" in cuts[0].reason
    assert site.memory.test is not None
    assert cuts[0].at == site.memory.test.ended_at
    # By hand: 161 Ah at 15 degC are 161 / 0.94 = 171 Ah at 25 degC; 200 Ah at 20 h are 200 Ah at 10 A: 86 %.
    assert state.capacity_delivered == pytest.approx(161.5, abs=1.0)
    assert state.capacity_delivered is not None
    assert state.capacity_percent == pytest.approx(state.capacity_delivered / 0.94 / 2.0, abs=0.2)
    told = next(event for event in site.events if event.kind == "test-end")
    assert told.detail["fell_first"] == ["N2", "N4"]


def test_the_load_is_told_again_once_a_minute_while_it_is_still_on() -> None:
    site = Site(TESTED)
    discharged(site)
    before = len(site.orders)
    site.run(0.1, 20.0, -10.0, every=60.0)
    assert len(site.orders) - before == 6
    before = len(site.orders)
    site.run(0.1, 23.0, 0.0, every=60.0)
    assert len(site.orders) - before <= 1


def test_without_a_load_relay_only_the_alarm_sounds() -> None:
    site = Site(Bank("north", (BLOCKS,), meters=TESTED.meters))
    state = discharged(site)
    assert "test-end" in {flag.name for flag in state.flags}
    assert site.orders == []


def test_a_test_begins_after_the_rest_and_not_before() -> None:
    site = Site(TESTED)
    assert "not while idle" in site.act("test")
    assert site.memory.test is None


def test_a_test_that_is_refused_names_the_phase_that_people_see() -> None:
    site = Site(Bank("north", (BLOCKS,), meters=METERS))
    site.run(0.01, 25.0, 7.0)
    assert "not while it charges: charge, hold and rest come first" in site.act("test")
    assert "not while it charges" in site.act("verdict", words={"north": "keep"})
    begun = ready()
    assert begun.derived is not None and begun.derived.phase == "waking"
    assert "not while waking" in begun.act("test")
    assert "idle" not in begun.act("verdict", words={"north": "keep"})


def test_blocks_found_empty_by_hand_count_as_fallen() -> None:
    site = Site(Bank("north", (BLOCKS,), meters=METERS))
    site.rested()
    site.act("test")
    site.run(0.1, 23.0, -10.0)
    site.note("voltage", {"N1": 6.0, "N3": 5.2, "N4": 5.0})
    assert site.run(0.1, 23.0, -10.0).fell_first == ("N4", "N3")


def test_the_verdict_stands_after_the_test_and_a_person_s_word_replaces_it() -> None:
    site = Site(TESTED)
    discharged(site)
    site.note("gravity", {f"N{block}.{cell}": 1.262 for block in range(1, 5) for cell in range(1, 4)}, 26.7)
    site.run(0.01, 24.0, 0.0)
    words = {row["label"]: row["word"] for row in site.state.verdict}
    assert list(words) == ["north", "N1", "N2", "N3", "N4"]
    assert words["north"] == words["N2"] == "keep"
    assert [sorted(string) for string in site.state.matching] == [["N1", "N2", "N3", "N4"]]
    assert site.act("verdict", words={"N1": "scrap"}, capacities={"north": 171.0, "N2": 171.0}) == ""
    site.run(0.01, 24.0, 0.0)
    row = next(row for row in site.state.verdict if row["label"] == "N1")
    assert (row["word"], row["reasons"][0]) == ("scrap", "given by keeper")  # type: ignore[index]
    assert site.state.phase == "finished"
    assert "after-round" in {flag.name for flag in site.state.flags}


def test_a_verdict_is_refused_while_the_bank_charges_and_in_words_that_are_none() -> None:
    site = Site(NORTH)
    assert "comes after the rest" in site.act("verdict", words={"N1": "keep"})
    site.rested()
    assert "one of scrap" in site.act("verdict", words={"N1": "fine"})
    assert "number" in site.act("verdict", words={}, capacities={"N1": "much"})


def test_the_next_round_starts_at_nothing_but_remembers_what_was_found() -> None:
    site = Site(NORTH)
    site.run(1.0, 26.0, 20.0)
    site.rested()
    site.act("test")
    site.act("verdict", words={"north": "repeat"}, capacities={"north": 120.0})
    gassed = site.memory.counters.gassing
    site.act("start")
    assert (site.memory.test, site.memory.given, site.memory.ledger) == (None, None, {})
    assert site.memory.previous == {"north": 120.0}
    assert site.memory.counters.charge == 0.0
    assert site.memory.counters.gassing == gassed, "lost water is lost from round to round"


# ------------------------------------------------------------------------------ the way back, and what is asked back

TWIN = Bank("south", (BLOCKS, tuple(Block(f"S{n}", 3, 200.0) for n in range(1, 5))), meters=METERS)


def test_after_split_isolate_and_rejoin_the_bank_of_the_file_can_be_joined_again() -> None:
    site = Site(TWIN)
    assert site.act("arrange", act="split") == ""
    assert site.act("arrange", act="isolate", number=2) == ""
    assert site.act("arrange", act="rejoin") == ""
    assert "comes back with `revival arrange add`" in site.act("arrange", act="rejoin")
    assert site.act("arrange", act="add", number=1, volts=[25.2, 25.2]) == ""
    assert site.memory.arrangement is not None and not site.memory.arrangement.aside
    assert {row["block"]: row["string"] for row in site.state.blocks}["S4"] == 2


def test_a_string_that_fits_only_the_whole_names_the_act_that_makes_it_fit() -> None:
    site = Site(TWIN)
    assert site.act("arrange", act="isolate", number=2) == ""
    assert site.act("arrange", act="split") == ""
    refused = [site.act("arrange", act="add", number=n, volts=[12.6, 25.2]) for n in (1, 2)]
    assert any("`revival arrange rejoin`" in each for each in refused), refused


def test_blocks_are_joined_anew_under_charge_only_by_who_says_that_it_is_meant() -> None:
    site = Site(NORTH)
    site.run(0.1, 28.8, 2.5)
    for act in ("split", "isolate"):
        site.act("arrange", act=act)
    assert site.memory.arrangement is None
    asked = [event.detail["why"] for event in site.events if event.kind == "unsure"]
    first = "switch the charger off at the wall, air the room for an hour, and bring no tool to the posts before"
    assert asked == [f"2.5 A flow: {first}"]
    assert site.act("arrange", act="split", sure=True) == "" and site.memory.arrangement is not None


def test_a_voltmeter_that_still_spans_the_whole_bank_is_named_after_a_split_and_none_is_called_silent() -> None:
    site = Site(NORTH)
    site.run(0.1, 25.6, 0.0)
    assert site.act("arrange", act="split") == ""
    site.give(Tick(site.at + 2.0))
    flags = {flag.name: flag for flag in site.state.flags}
    assert "before the blocks were joined anew" in flags["meter-silent"].reason and flags["meter-silent"].limit is None
    flags = {flag.name: flag for flag in site.run(0.1, 25.6, 0.0).flags}
    assert "still measures the whole bank" in flags["meter-suspect"].reason
    assert "N1 N2" in flags["meter-suspect"].reason and "check unit" not in flags["meter-suspect"].reason


def test_a_resume_that_nothing_waits_for_is_refused() -> None:
    site = Site(NORTH)
    site.run(0.1, 28.8, 2.5)
    assert site.act("resume") == "nothing waits for a resume"


def test_a_round_that_was_charged_for_seconds_is_not_told_as_one_that_never_began() -> None:
    site = Site(NORTH)
    site.run(0.02, 25.2, 0.0)
    assert site.act("start") == ""
    site.run(0.006, 28.8, 5.0)
    state = site.run(0.01, 25.4, 0.0)
    assert (state.phase, state.interrupted) == ("waking", True)
    assert "has not begun" not in state.remaining_reason and "stands still" in state.remaining_reason


def test_while_it_runs_it_is_said_that_no_charger_reaches_the_hold() -> None:
    site = Site(NORTH)
    assert site.act("start") == ""
    said = site.run(0.05, 28.0, 5.0).remaining_reason
    assert said.startswith("the hold cannot begin: the charger reaches 28.8 V, equalising needs 32.0 V; "), said
    reaching = Site(Bank("north", (BLOCKS,), chargers=(ChargerSetting(32.0, 25.0),), meters=METERS))
    assert reaching.act("start") == ""
    assert "cannot begin" not in reaching.run(0.05, 28.0, 5.0).remaining_reason


@pytest.mark.parametrize(("lowest", "nearly"), [(1.250, True), (1.200, False)])
def test_hardly_any_amps_may_be_those_of_a_bank_that_is_nearly_charged(lowest: float, nearly: bool) -> None:
    site = Site(NORTH)
    site.run(0.02, 25.4, 0.0)
    site.note("gravity", {f"{block.label}.{n}": lowest for block in BLOCKS for n in (1, 2, 3)}, 25.0)
    assert site.act("start") == ""
    state = site.run(1.0, 28.8, 1.8)
    said = " ".join((state.next_step, *state.then))
    assert state.phase == "waking" and ("simply nearly charged" in said) is nearly, said
    assert ("Leave it alone: covered plates" in said) is not nearly
