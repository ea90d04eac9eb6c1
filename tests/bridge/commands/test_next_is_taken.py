"""What `revival status` names as next is taken in that very situation: over many of them, and from a terminal.

The page and `--json` show the same sentence, and the buttons that the page offers hang on the same memory.
"""

from __future__ import annotations

import copy
import shlex
import time
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.cli import main
from bridge.commands.status import WITH
from rules.bank.model import Relay
from rules.events import Command, HandReading
from rules.safety import PROVED
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import RelayStandIn, shunt, write_cabin
from tests.support.fold import PROBE, make_bank
from tests.support.next_steps import TYPED, House, refusals
from tests.support.running_bridge import turning

RELAYS = (Relay(reports_state=True, auto_off=90.0), Relay(reports_state=False, auto_off=90.0), None)
ACTS = ("start", "resume", "reset", "finish", "abandon", "prove", "test", "zero", "checklist", "witness")
WAITS = ((1.0, 1.0), (10.0, 1.0), (30.0, 1.0), (120.0, 10.0), (400.0, 10.0), (4000.0, 60.0), (25000.0, 120.0))

story = st.one_of(
    st.tuples(st.just("act"), st.sampled_from(ACTS)),
    st.tuples(st.just("act"), st.sampled_from(ACTS)),
    st.tuples(st.just("wait"), st.sampled_from(WAITS)),
    st.tuples(st.sampled_from(("wall", "obeys", "speaks")), st.booleans()),
    st.tuples(st.just("warm"), st.sampled_from((25.0, 25.0, 50.0, -5.0))),
    st.tuples(st.just("draws"), st.sampled_from((0.0, 3.0))),
    st.tuples(st.just("sun"), st.sampled_from((0.0, 9.0))),
    st.tuples(st.just("offset"), st.sampled_from((0.0, 0.9))),
    st.tuples(st.just("says"), st.sampled_from(("rotten eggs", "a crack in N00", "all well"))),
    st.tuples(st.just("level"), st.sampled_from(("between", "over-mark", "below-plates"))),
    st.tuples(st.just("arrange"), st.sampled_from(("isolate", "add", "split", "rejoin"))),
    st.tuples(st.just("journal-lost"), st.booleans()),
    st.tuples(st.just("health"), st.sampled_from(("degraded", PROVED))),
    st.tuples(st.just("relay-link"), st.sampled_from(("relay-link-lost", "nobody-listens", ""))),
    st.tuples(st.sampled_from(("relay-changed", "boot")), st.none()),
    st.tuples(st.just("pushed"), st.booleans()),
    st.tuples(st.just("silences"), st.just(5)),
)


def play(house: House, what: str, detail: Any) -> None:
    """One thing happens to the house."""
    told = {
        "journal-lost": {"why": "it was damaged", "tripped": detail},
        "health": {"storage": detail},
        "relay-link": {"link": detail, "why": "no connection"},
    }
    if what == "act":
        named = {"name": "Ann"} if detail in ("checklist", "witness") else {}
        house.act(detail, **named, **({"sure": True} if detail == "finish" else {}))
    elif what == "wait":
        house.pass_time(*detail)
    elif what == "warm":
        house.feed[PROBE] = detail
    elif what in ("wall", "obeys", "speaks", "draws", "sun", "offset"):
        setattr(house, what, detail)
    elif what == "says":
        house.fold(HandReading("north", "note", house.at, house.at, {}, None, "Ann", detail))
    elif what == "level":
        house.note("level", N00=detail)
    elif what == "arrange":
        house.act("arrange", act=detail, sure=True)
    elif what == "pushed":  # somebody at the relay's own button
        house.obeys, house.closed = False, detail
        house.pass_time(30.0)
        house.obeys = True
    elif what == "silences":  # a permit that was withdrawn and came back too often
        for _ in range(detail):
            house.speaks = False
            house.pass_time(200.0, 10.0)
            house.speaks = True
            house.pass_time(420.0, 5.0)
    else:
        house.fold(Command("north", what, house.at, argument=told.get(what, {})))
    house.pass_time(1.0)


def under_way(relay: Relay | None, strings: int = 1) -> House:
    """A round that charges."""
    house = House(make_bank(relay=relay, strings=strings))
    house.pass_time(30.0)
    for what, detail in (("act", "checklist"), ("act", "prove"), ("wait", (60.0, 1.0)), ("act", "witness")):
        play(house, what, detail)
    play(house, "act", "start")
    house.pass_time(60.0)
    return house


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(RELAYS), st.sampled_from((1, 2)), st.booleans(), st.lists(story, max_size=14))
def test_whatever_has_happened_what_is_named_as_next_is_not_refused(
    relay: Relay | None, strings: int, begun: bool, happens: list[tuple[str, Any]]
) -> None:
    house = under_way(relay, strings) if begun else House(make_bank(relay=relay, strings=strings))
    house.pass_time(1.0)
    assert refusals(house) == []
    for what, detail in happens:
        play(house, what, detail)
        assert refusals(house) == [], (what, detail)


def _prepared(*acts: str) -> House:
    house = House(make_bank())
    house.pass_time(30.0)
    for act in acts:
        play(house, "act", act)
        house.pass_time(40.0)
    return house


def _failed_proof() -> House:
    house = _prepared("checklist")
    house.obeys = False
    play(house, "act", "prove")
    house.pass_time(40.0)
    house.obeys = True
    house.pass_time(10.0)
    return house


def _hot(*more: str) -> House:
    house = under_way(RELAYS[0])
    house.feed[PROBE] = 50.0
    house.pass_time(60.0)
    house.feed[PROBE] = 30.0
    house.pass_time(400.0, 5.0)
    for act in more:
        play(house, "act", act)
    return house


def _silenced(*more: str) -> House:
    house = under_way(RELAYS[0])
    play(house, "silences", 5)
    for act in more:
        play(house, "act", act)
    return house


def _opened(*more: tuple[str, Any]) -> House:
    house = under_way(RELAYS[0], strings=2)
    play(house, "pushed", False)
    for what, detail in more:
        play(house, what, detail)
    return house


def _proving() -> House:
    house = _prepared("checklist")
    play(house, "act", "prove")
    return house


def _lost(house: House, tripped: bool = False) -> House:
    play(house, "journal-lost", tripped)
    house.pass_time(30.0)
    return house


#: Situation -> how it comes about, and what is typed next in it; nothing where hands come first.
SITUATIONS: dict[str, tuple[Callable[[], House], list[str]]] = {
    "nothing confirmed": (_prepared, ["checklist --name YOU"]),
    "not proved": (lambda: _prepared("checklist"), ["prove"]),
    "being proved": (_proving, []),
    "proof failed": (_failed_proof, ["prove"]),
    "not started": (lambda: _prepared("checklist", "prove"), ["plan", "start"]),
    "tripped": (_hot, ["reset"]),
    "reset, not resumed": (lambda: _hot("reset"), ["resume"]),
    "reset, then given up": (lambda: _hot("reset", "abandon"), ["checklist --name YOU"]),
    "too often": (_silenced, ["resume"]),
    "too often, finished": (lambda: _silenced("finish"), []),
    "opened by hand": (_opened, ["resume"]),
    "opened by hand, joined anew": (lambda: _opened(("arrange", "isolate")), ["checklist --name YOU"]),
    "journal lost before": (lambda: _lost(_prepared("checklist", "prove")), ["start"]),
    "journal lost, nothing confirmed": (lambda: _lost(_prepared()), []),
    "journal lost in a round": (lambda: _lost(under_way(RELAYS[0])), ["resume"]),
    "journal damaged": (lambda: _lost(under_way(RELAYS[0]), tripped=True), ["reset"]),
}


@pytest.mark.parametrize("situation", SITUATIONS)
def test_in_each_of_these_situations_the_next_command_is_this_and_it_is_taken(situation: str) -> None:
    make, typed = SITUATIONS[situation]
    house = make()
    step = house.status()["banks"]["north"]["next_step"]
    assert TYPED.findall(step) == typed, step
    assert refusals(house) == []


def test_a_proof_that_waits_for_a_persons_word_asks_for_it() -> None:
    house = House(make_bank(relay=RELAYS[1]))
    house.wall = False
    house.pass_time(30.0)
    play(house, "act", "checklist")
    play(house, "act", "prove")
    house.pass_time(45.0)
    assert house.lock.proving == "witness"
    assert TYPED.findall(house.status()["banks"]["north"]["next_step"]) == ["witness --name YOU"]
    assert refusals(house) == []


def test_from_an_empty_start_to_the_round_each_command_that_status_names_is_taken(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port)

    def revival(*words: str) -> tuple[int, str]:
        capsys.readouterr()
        code = main([*words])
        captured = capsys.readouterr()
        return code, captured.out + captured.err

    def named() -> str:
        said = revival("status", "--config", str(path))[1]
        return next((line.removeprefix(WITH) for line in said.splitlines() if line.startswith(WITH)), said)

    def give(expected: str, *more: str) -> str:
        command = named()
        assert command.startswith(f"revival {expected}"), command
        code, said = revival(*shlex.split(command)[1:], *more)
        assert "refused" not in said, (command, code, said)
        return said

    relay = RelayStandIn(broker.port)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        for _ in _fed(broker, lambda: "north" in service.latest and service.latest["north"].temperature is not None):
            pass
        give("checklist --name YOU", "--read", "all")
        relay.obeys = False
        assert "FAILED" in give("prove", "--sure")
        relay.obeys = True
        relay.push(False)
        time.sleep(0.5)
        assert "passed" in give("prove", "--sure")
        assert "charging allowed" in give("start")
        assert relay.wait_for(True)
    relay.close()


def _fed(broker: Broker, until: Callable[[], object]) -> Iterator[None]:
    """Publish until it is so."""
    end = time.monotonic() + 20.0
    while not until():
        assert time.monotonic() < end
        broker.publish("cabin/shunt", shunt(time.time(), 25.4, 0.0), "-q", "1")
        broker.publish("cabin/probe", "77.0", "-q", "1")
        time.sleep(0.2)
        yield


@pytest.mark.parametrize("relay", RELAYS)
def test_a_reset_that_is_refused_for_an_hour_is_named_with_its_hour_until_then_and_taken_from_then_on(
    relay: Relay | None,
) -> None:
    house = under_way(relay)
    play(house, "says", "rotten eggs")
    house.wall = False
    if relay is None:
        house.pass_time(60.0)
        house.note("charger", volts=0.0)
    hours = set()
    for _ in range(60):
        house.pass_time(70.0, 5.0)
        refused = copy.copy(house).act("reset")
        bank = house.status()["banks"]["north"]
        said = [bank["next_step"], *bank["then"], *(flag["action"] for flag in bank["flags"])]
        named = [text for text in said if "`revival reset`" in text]
        assert named
        if refused:
            hours.add(refused.partition("until ")[2][:17])
            assert all(f"until {hour}" in text for text in named for hour in hours), named
        else:
            assert TYPED.findall(bank["next_step"]) == ["reset"]
            assert not any("from then on" in text for text in named), named
            assert house.at >= datetime.fromisoformat(next(iter(hours))).timestamp()
    assert len(hours) == 1 and not refused
