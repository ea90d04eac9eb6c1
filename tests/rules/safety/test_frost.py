"""Which gravity tells how cold a cell may be, when it tells nothing any more, and how cold the bank may be.

Water freezes at 0 degC, acid of 1.150 at -15 degC and of 1.265 near -57 degC (published freezing points, see
`rules/SOURCES.md`); a rested cell stands near its gravity + 0.84 V, the trade's rule. A week, a tenth of the
rating drawn and 0.05 V are common practice, no source.
"""

from __future__ import annotations

import pytest

from rules.bank.model import Bank, Block
from rules.bank_view import View
from rules.hand import HandLog
from rules.hand.gravity import GravityReading
from rules.meters import Counters
from rules.safety import frozen_risk, known_acid, may_freeze
from rules.safety.frost import Acid, coldest_to_charge

AT = 1_795_590_000.0
DAY = 86400.0
BANK = Bank("north", ((Block("N1", 2, 200.0),),))  # two cells, 200 Ah


def view(
    volts: float | None = None, amps: float | None = None, *, probe: float | None = None, case: float | None = None
) -> View:
    return View(None if volts is None else 2 * volts, volts, amps, False, probe, case, None, (), None, 0.0)


def read(one: float = 1.25, other: float = 1.26, *, days: float = 1.0, **more: object) -> HandLog:
    """Both cells read so many days ago; what is said besides is said of the second."""
    first = GravityReading(AT - days * DAY, "N1.1", one)
    second = GravityReading(AT - days * DAY, "N1.2", other)
    return HandLog(gravities=(first, second._replace(**more)))  # type: ignore[arg-type]


def acid(hand: HandLog, seen: View | None = None, *, drawn: float = 0.0, rested: float = 0.0) -> Acid:
    return known_acid(BANK, hand, Counters(discharge=drawn), seen or view(), rested, AT)


def test_the_weakest_cell_counts() -> None:
    assert acid(read(1.25, 1.26)) == (1.25, "gravity 1.250")
    assert acid(read(1.25, 1.14)) == (1.14, "gravity 1.140")
    assert acid(read(1.29, 1.30)).gravity == 1.28, "the published points end there"


@pytest.mark.parametrize(
    ("hand", "drawn", "why"),
    [
        (HandLog(), 0.0, "no gravity of N1.1"),
        (HandLog(gravities=read().gravities[:1]), 0.0, "no gravity of N1.2"),
        (read(gravity_corrected=None, mark="low"), 0.0, "N1.2 could not be read"),
        (read(corrected=False), 0.0, "gravity of N1.2 was read without its temperature"),
        (read(days=7.0), 0.0, ""),
        (read(days=7.0 + 2.0 / DAY), 0.0, "gravity of N1.1 is 7 days old"),  # a week and two seconds
        (read(days=7.50003), 0.0, "gravity of N1.1 is 8 days old"),  # to the nearest day
        (read(days=30.0), 0.0, "gravity of N1.1 is 30 days old"),
        (read()._replace(watered={"N1.2": AT - DAY}), 0.0, ""),  # the same walk
        (read()._replace(watered={"N1.2": AT - DAY + 1.0}), 0.0, "water was added to N1.2 after its gravity was read"),
        (read()._replace(watered={"N1.1": AT - 2.0 * DAY}), 0.0, ""),
        (read(days=AT / DAY), 0.0, "gravity of N1.1 is 20782 days old"),
        (read(), 20.0, ""),
        (read(), 20.1, "20 Ah were drawn since the gravity of N1.1 was read"),
        (read(discharge=-7.0), 19.0, "26 Ah were drawn since the gravity of N1.2 was read"),
        (read(discharge=15.0), 20.0, ""),
    ],
)  # fmt: skip
def test_a_gravity_tells_while_it_is_young_whole_and_nothing_was_drawn_or_added(
    hand: HandLog, drawn: float, why: str
) -> None:
    found = acid(hand, drawn=drawn)
    assert found == ((None, why) if why else (1.25, "gravity 1.250"))


@pytest.mark.parametrize(
    ("gravity", "volts", "amps", "rested", "believed"),
    [
        (1.25, None, None, 0.0, True),
        (1.25, 2.05, 0.0, 0.0, True),  # gravity + 0.84 = 2.09 V at rest
        (1.25, 2.03, 0.0, 0.0, False),
        (1.25, 1.90, None, 0.0, False),
        (1.25, 2.03, -0.4, 0.0, False),  # a load that pulls nothing down
        (1.25, 2.03, -0.5, 0.0, True),  # a load pulls it down, which says nothing
        (1.25, 2.40, 20.0, 0.0, True),  # a charger lifts it
        (1.25, None, None, 2.03, False),  # it stood so low before the charger came on
        (1.25, 2.40, 20.0, 2.03, False),
        (1.25, 2.40, 20.0, 2.07, True),
        (1.25, None, None, 0.5, False),
        (1.02, 1.83, 0.0, 0.0, False),  # weaker than any formula: 1.035 counts, near 1.90 V
        (1.02, 1.88, 0.0, 0.0, True),
        (1.10, 1.92, 0.0, 0.0, True),
        (1.10, 1.88, 0.0, 0.0, False),
    ],
)
def test_volts_that_the_acid_cannot_give_contradict_it(
    gravity: float, volts: float | None, amps: float | None, rested: float, believed: bool
) -> None:
    found = acid(read(gravity), view(volts, amps), rested=rested)
    assert (found.gravity is not None) is believed
    if not believed:
        assert "V per cell contradict a gravity of" in found.why


def test_it_may_be_charged_three_kelvin_above_its_freezing_point() -> None:
    assert coldest_to_charge(1.0) == pytest.approx(3.0)
    assert coldest_to_charge(0.99) == coldest_to_charge(1.0), "thinner than water there is none"
    assert coldest_to_charge(1.15) == pytest.approx(-12.0)
    assert coldest_to_charge(1.30) == coldest_to_charge(1.28)
    assert coldest_to_charge(None) == coldest_to_charge(1.05), "where nobody knows, weak acid is assumed"


@pytest.mark.parametrize(
    ("probe", "case", "cold"),
    [
        (None, None, False),
        (3.1, None, False),
        (2.9, None, True),
        (20.0, 2.9, True),
        (2.9, 20.0, True),
        (None, -5.0, True),
        (20.0, 20.0, False),
    ],
)
def test_where_not_even_water_freezes_nothing_is_asked_of_the_acid(
    probe: float | None, case: float | None, cold: bool
) -> None:
    assert may_freeze(view(probe=probe, case=case)) is cold
    assert not may_freeze(view(probe=coldest_to_charge(1.0)))


def test_the_colder_of_two_probes_is_held_against_the_weakest_cell() -> None:
    known, unknown = Acid(1.15, "gravity 1.150"), Acid(None, "no gravity of N1.1")
    assert frozen_risk(view(), unknown) is None, "nobody knows how cold it is"
    assert frozen_risk(view(probe=-12.0), known) is None and frozen_risk(view(case=-12.0), known) is None
    found = frozen_risk(view(probe=-5.0, case=-12.5), known)
    assert found is not None and (found.value, found.unit, found.reason) == (-12.5, "degC", "gravity 1.150")
    assert found.limit == pytest.approx(-12.0)
    assert frozen_risk(view(case=-5.0, probe=-12.5), known) == found
    found = frozen_risk(view(probe=-5.0), unknown)
    assert found is not None and found.reason == "no gravity of N1.1, so weak acid is assumed"
