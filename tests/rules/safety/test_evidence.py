"""How much evidence is enough: at its limits, and what noise alone makes of it.

Noise of real meters: a digital probe steps by 1/16 K and is steady within one step of it (data sheet of a common
one-wire thermometer, from memory); a shunt or a voltmeter wanders by a few tenths of a percent of its value (common
practice, no source). False trips are reckoned for a bank that stands under a limit by 4.5 times the noise (0.28 K at
the probe) for a whole year, which no round does: what is asked is less than one.
"""

from __future__ import annotations

import math
import random
from typing import Any

import pytest

from rules.safety.evidence import CLEARED_BY, READINGS, STATES, Pending, confirmed, forget, lasting, note
from rules.safety.state import Finding

HOT = ("over-temperature", Finding(44.0, 43.3, "degC"), False)
KEY = "over-temperature|probe"
YEAR = 365.0 * 86400.0


def told(*readings: tuple[float, bool], hazard: str = "over-temperature") -> dict[str, Pending]:
    pending: dict[str, Pending] = {}
    for at, over in readings:
        found = (hazard, Finding(), False) if over else None
        pending = lasting(note(pending, f"{hazard}|probe", found, 1000.0 + at), {}, 1000.0 + at)
    return pending


@pytest.mark.parametrize(
    ("readings", "counts"),
    [
        ([(0, True)], False),
        ([(0, True), (5, True)], True),
        ([(0, True), (5, False), (60, True)], True),
        ([(0, True), (5, False), (61, True)], False),
        ([(0, True), (5, False), (66, False)], False),
        ([(0, True), (0, True)], False),
    ],
)
def test_so_many_within_a_minute_confirm_whatever_stands_between(
    readings: list[tuple[float, bool]], counts: bool
) -> None:
    assert bool(confirmed(told(*readings))) is counts


def test_a_voltmeter_needs_three_unless_they_come_in_a_row() -> None:
    assert READINGS["over-voltage"] == 3
    between = [(0, True), (1, False), (20, True), (21, False)]
    assert not confirmed(told(*between, hazard="over-voltage"))
    assert confirmed(told(*between, (40, True), hazard="over-voltage"))
    assert confirmed(told((0, True), (1, True), hazard="over-voltage"))


def test_silence_after_a_hot_reading_confirms_it_and_a_better_one_before_does_not() -> None:
    assert confirmed(lasting(told((0, True)), {}, 1060.0))
    assert not confirmed(lasting(told((0, True)), {}, 1059.9))
    assert lasting(told((0, True), (5, False)), {}, 1060.0), "still remembered"
    assert not lasting(told((0, True), (5, False)), {}, 1060.1), "and then forgotten"


def test_what_is_confirmed_is_gone_after_three_good_ones_in_a_row_and_what_a_person_saw_at_once() -> None:
    hot = [(0, True), (1, True)]
    for good in range(1, CLEARED_BY + 1):
        gone = told(*hot, *[(2 + n, False) for n in range(good)])
        assert bool(gone) is (good < CLEARED_BY)
    assert told(*hot, (2, False), (3, False), (4, True), (5, False), (6, False)), "in a row"
    assert forget(told(*hot), KEY) == {}


def state(name: str, pattern: str) -> dict[str, Pending]:
    """A state second by second: # where it is so."""
    pending: dict[str, Pending] = {}
    for second, sign in enumerate(pattern):
        found = {name: (Finding(), 30.0)} if sign == "#" else {}
        pending = lasting(pending, found, 1000.0 + second)
    return pending


def test_a_state_counts_after_more_than_its_seconds_out_of_its_window() -> None:
    assert STATES["over-current"] == (30, 60, 3)
    assert not confirmed(state("over-current", "#" * 30))
    assert confirmed(state("over-current", "#" * 31))
    assert confirmed(state("over-current", ("#" * 29 + ".") * 2))
    assert not confirmed(state("over-current", "#." * 200)), "half the time is not more than half"
    assert confirmed(state("over-current", "##." * 20))
    assert not state("over-current", "#" * 20 + "." * 60), "forgotten"
    assert confirmed(state("over-current", "#" * 40 + "..")) and not state("over-current", "#" * 40 + "...")


def test_seconds_in_which_nobody_looked_are_as_before_and_after() -> None:
    pending = lasting({}, {"gas": (Finding(), 30.0)}, 1000.0)
    assert confirmed(lasting(pending, {"gas": (Finding(), 30.0)}, 1040.0))
    interrupted = lasting(pending, {}, 1001.0)
    assert not confirmed(lasting(interrupted, {"gas": (Finding(), 30.0)}, 1040.0))


def test_a_state_without_a_row_counts_at_once_or_after_the_time_of_its_finder() -> None:
    at_once = lasting({}, {"relay-disobeys": (Finding(), 0.0)}, 1000.0)
    assert confirmed(at_once)
    assert not confirmed(state("mapping-suspect", "#" * 30)) and confirmed(state("mapping-suspect", "#" * 31))


@pytest.mark.parametrize(
    ("name", "need", "of"),
    [("over-current", 30, 60), ("gas", 30, 60), ("cell-short-suspected", 60, 90), ("mapping-suspect", 30, 45)],
)
def test_each_state_counts_by_the_seconds_of_its_own_window_and_by_no_older_ones(name: str, need: int, of: int) -> None:
    # The last is not in the table: its finder's half minute, out of half as much again.
    assert not confirmed(state(name, "#" * need)) and confirmed(state(name, "#" * (need + 1)))
    early, rest = need - 10, 11
    gap = of - early - rest
    assert confirmed(state(name, "#" * early + "." * gap + "#" * rest))
    assert not confirmed(state(name, "#" * early + "." * (gap + 1) + "#" * rest))
    assert confirmed(state(name, "#" * (need + 1) + ".."))
    assert not state(name, "#" * (need + 1) + "...")
    assert state(name, "#" + "." * (of - 1)) and not state(name, "#" + "." * of)


def test_what_counts_at_once_is_gone_after_three_seconds_and_remembers_when_it_began() -> None:
    finding = Finding(1.0, 2.0, "A", "still closed")
    pending = lasting({}, {"relay-disobeys": (finding, 0.0)}, 1000.0)
    pending = lasting(pending, {"relay-disobeys": (finding._replace(value=3.0), 0.0)}, 1001.0)
    entry = pending["relay-disobeys"]
    assert (entry.since, entry.confirmed, entry.finding.value, entry.window) == (1000.0, True, 3.0, 0.0)
    for second, stands in ((1002.0, True), (1003.0, True), (1004.0, False)):
        pending = lasting(pending, {}, second)
        assert bool(confirmed(pending)) is stands


def test_a_second_that_is_looked_at_twice_counts_once() -> None:
    pending: dict[str, Pending] = {}
    for second in range(30):
        for part in (0.0, 0.4):
            pending = lasting(pending, {"gas": (Finding(), 30.0)}, 1000.0 + second + part)
    assert not confirmed(pending)
    assert confirmed(lasting(pending, {"gas": (Finding(), 30.0)}, 1030.0))
    # A second that was well at its first look and not at its second was not well.
    mixed = lasting(lasting({}, {"gas": (Finding(), 30.0)}, 1000.0), {}, 1001.0)
    mixed = lasting(mixed, {"gas": (Finding(), 30.0)}, 1001.4)
    assert mixed["gas"].marks.bit_count() == 2


def test_what_nobody_looked_at_for_longer_than_the_window_is_as_long_as_the_window() -> None:
    pending = lasting({}, {"gas": (Finding(), 30.0)}, 1000.0)
    later = lasting(pending, {"gas": (Finding(), 30.0)}, 9000.0)
    assert later["gas"].marks.bit_count() == 60 and later["gas"].marked_at == 9000.0
    assert not lasting(pending, {}, 9000.0)


def test_one_reading_that_is_certain_counts_alone() -> None:
    sure = ("over-temperature", Finding(51.7, 43.3, "degC"), True)
    first = note({}, KEY, sure, 1000.0)
    assert confirmed(first) == {"over-temperature": sure[1]}
    doubtful = note({}, KEY, HOT, 1000.0)
    assert not confirmed(doubtful)
    assert confirmed(note(note(doubtful, KEY, None, 1030.0), KEY, sure, 1090.0))
    once = note(first, KEY, None, 1010.0)
    again = note(once, KEY, HOT, 1100.0)
    assert again[KEY].confirmed and again[KEY].good == 0 and again[KEY].since == 1000.0, "still there"


def test_a_good_reading_says_nothing_where_nothing_was_seen_and_ends_only_its_own() -> None:
    pending = note({}, KEY, HOT, 1000.0)
    assert note(pending, "over-temperature|other", None, 1001.0) is pending
    assert forget(pending, "gas|nose") is pending
    two = note(pending, "gas|nose", ("gas", Finding(), False), 1000.0)
    assert set(note(two, KEY, None, 1061.0)) == {"gas|nose"}
    assert set(note(two, KEY, None, 1060.0)) == {KEY, "gas|nose"}, "a minute is not over"
    assert set(forget(two, KEY)) == {"gas|nose"}


@pytest.mark.parametrize(
    ("between", "counts"), [([20.0, 40.0], True), ([20.0, 60.0], True), ([20.0, 61.0], False), ([10.0, 61.0], False)]
)
def test_three_of_a_voltmeter_must_come_within_a_minute(between: list[float], counts: bool) -> None:
    readings = [(0.0, True), *[(at, over) for after in between for at, over in ((after - 1.0, False), (after, True))]]
    assert bool(confirmed(told(*readings, hazard="over-voltage"))) is counts


def test_two_of_a_nose_are_enough_and_three_of_a_voltmeter_that_speaks_twice_a_second() -> None:
    assert confirmed(told((0, True), (5, False), (30, True), hazard="gas"))
    quick = [(0, True), (0.2, False), (0.5, True), (0.7, False), (0.9, True)]
    assert confirmed(told(*quick, hazard="over-voltage"))


def test_two_good_readings_clear_nothing_and_the_third_does() -> None:
    hot = [(0, True), (1, True)]
    assert told(*hot, (2, False), (3, False)) and not told(*hot, (2, False), (3, False), (4, False))


def test_silence_is_reckoned_from_the_newest_reading_that_showed_it() -> None:
    pending = note(told((0, True), (5, False), hazard="over-voltage"), "over-voltage|probe",
                   ("over-voltage", Finding(), False), 1030.0)  # fmt: skip
    assert not confirmed(lasting(pending, {}, 1089.0)) and confirmed(lasting(pending, {}, 1090.0))
    bare = Pending(1000.0, 60.0, False, Finding())
    assert bare.last == 1000.0 and bare._replace(hits=(1005.0, 1030.0)).last == 1030.0
    assert not any(bare[4:]), "of what was never seen nothing is counted"


# ------------------------------------------------------------------------------------------ false trips

#: Hazard, seconds between readings, how far under the limit in units of the meter's noise.
METERS = [("over-temperature", 10.0, 4.5), ("over-voltage", 1.0, 4.5), ("gas", 10.0, 4.5)]


def tail(sigmas: float) -> float:
    """Share of normal noise beyond so many standard deviations [1]."""
    return 0.5 * math.erfc(sigmas / math.sqrt(2.0))


def false_trips(hazard: str, every: float, sigmas: float) -> float:
    """A year's false trips of a bank that stands just under a limit: an upper bound [1/year].

    In a row: n p². Within the window, m of k readings: n p C(k-1, m-1) p^(m-1), the union bound.
    """
    share, count, window = tail(sigmas), YEAR / every, int(60.0 / every)
    most = READINGS[hazard]
    return count * (share**2 + share * math.comb(window, most - 1) * share ** (most - 1))


@pytest.mark.parametrize(("hazard", "every", "sigmas"), METERS)
def test_noise_alone_trips_less_than_once_a_year_so_far_under_the_limit(
    hazard: str, every: float, sigmas: float
) -> None:
    assert false_trips(hazard, every, sigmas) < 1.0


def test_the_bound_holds_for_noise_that_was_drawn() -> None:
    """A seeded week of a probe read every 10 s, only 2.5 sigmas (0.15 K) under its limit, where trips are many."""
    noise, trips = random.Random(12), 0
    pending: dict[str, Any] = {}
    readings = int(7 * 86400 / 10.0)
    for number in range(readings):
        at = 10.0 * number
        found = HOT if noise.gauss(0.0, 1.0) > 2.5 else None
        pending = note(pending, KEY, found, at)
        if confirmed(pending):
            trips, pending = trips + 1, {}
    expected = false_trips("over-temperature", 10.0, 2.5) * 7.0 / 365.0
    assert 0.4 * expected < trips <= 1.3 * expected


def test_current_just_under_its_limit_never_counts_by_noise() -> None:
    """A state needs more than half of a minute: half a sigma under the limit (31 % of the seconds over it) is not it.

    The chance that more than 30 of 60 seconds are over it is the tail of a binomial distribution.
    """

    def beyond(share: float) -> float:
        return sum(math.comb(60, k) * share**k * (1.0 - share) ** (60 - k) for k in range(31, 61))

    assert beyond(tail(0.5)) < 1e-3
    assert beyond(tail(1.0)) * YEAR < 0.01, "once in a hundred years at one sigma"
