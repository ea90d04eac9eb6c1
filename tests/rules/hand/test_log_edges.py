"""What the log remembers of what was noted, for how long, and what a later look takes away."""

from __future__ import annotations

from typing import Any

import pytest

from rules.bank.model import Bank, Block
from rules.events import HandReading
from rules.hand.log import KEPT, Entry, HandLog, newest_voltages, record, rejoined

T = 1_795_590_000.0
MINUTE, HOUR, DAY = 60.0, 3600.0, 86400.0
NORTH = Bank("north", (tuple(Block(f"N{n}", 3, 225.0) for n in range(1, 5)),))
TWIN = Bank("south", tuple((Block(f"{name}1", 6, 150.0), Block(f"{name}2", 6, 150.0)) for name in "AB"))
CELLS = list(NORTH.every_cell)


def put(log: HandLog, kind: str, hour: float, values: dict[str, Any], **known: Any) -> HandLog:
    """The log with one more entry, of the fields of a reading and the counters of that moment."""
    told = {"charging_seconds": 0.0, "gassing": 0.0, "under_charge": True, "rested_hours": None, "bank": NORTH}
    for name in ("charging_seconds", "gassing", "under_charge", "rested_hours", "bank", "discharge", "gassing_seconds"):
        if name in known:
            told[name] = known.pop(name)
    at = T + hour * HOUR
    warmth = known.pop("temperature", 25.0 if kind == "gravity" else None)
    reading = HandReading("north", kind, known.pop("entered", at), at, values, warmth, **known)
    return record(log, reading, **told)  # type: ignore[arg-type]


def noted(*entries: tuple[str, float, dict[str, Any]], **known: Any) -> HandLog:
    log = HandLog()
    for kind, hour, values in entries:
        log = put(log, kind, hour, values, **known)
    return log


# ------------------------------------------------------------------------------- entries and undo


def test_an_entry_keeps_what_was_noted_and_what_was_counted_at_that_moment() -> None:
    log = put(
        HandLog(), "voltage", 1.0, {"": 25.0}, temperature=12.0, by="keeper", note="cold", charging_seconds=60.0,
        gassing=2.0, under_charge=False, rested_hours=7.0, discharge=3.0, gassing_seconds=4.0,
    )  # fmt: skip
    assert log.entries == (
        Entry("voltage", T + HOUR, {"": 25.0}, 12.0, "keeper", "cold", 60.0, 2.0, False, 7.0, 3.0, 4.0),
    )
    assert log.last_at == T + HOUR
    assert put(log, "level", -1.0, {"": "mark"}).last_at == T + HOUR, "typed in late, it is not the last look"
    plain = put(HandLog(), "voltage", 1.0, {"": 25.0}).entries[0]
    assert (plain.discharge, plain.gassing_seconds) == (0.0, 0.0)


def test_the_last_of_a_kind_is_taken_back_and_none_of_another_kind() -> None:
    log = noted(("voltage", 0.0, {"": 24.0}), ("voltage", 1.0, {"": 25.0}), ("level", 2.0, {"": "mark"}))
    once = put(log, "voltage", 3.0, {}, undo=True)
    assert [(entry.kind, entry.values) for entry in once.entries] == [("voltage", {"": 24.0}), ("level", {"": "mark"})]
    twice = put(once, "voltage", 3.0, {}, undo=True)
    assert [entry.kind for entry in twice.entries] == ["level"] and twice.voltage_at == 0.0
    assert [entry.kind for entry in put(log, "level", 3.0, {}, undo=True).entries] == ["voltage", "voltage"]
    for log_without in (twice, HandLog()):
        with pytest.raises(ValueError, match="no voltage entry to take back"):
            put(log_without, "voltage", 3.0, {}, undo=True)


@pytest.mark.parametrize(
    ("kind", "values"),
    [("level", {"": "below-plates"}), ("voltage", {"": 25.0}), ("gravity", {"N1.1": 1.25}), ("water", {"": "full"}),
     ("seen", {"N1.1": "sulfated 2, cracked"}), ("temperature", {"N1": 30.0}), ("string_amps", {"1": 9.0})],
)  # fmt: skip
def test_what_was_taken_back_leaves_nothing_behind(kind: str, values: dict[str, Any]) -> None:
    noted_once = put(HandLog(), kind, 0.0, values, gassing=50.0)
    assert noted_once != HandLog() and put(noted_once, kind, 1.0, {}, undo=True) == HandLog()


def test_a_gravity_that_cannot_be_corrected_is_refused() -> None:
    with pytest.raises(ValueError, match=r"gravity|hydrometer|degC"):
        put(HandLog(), "gravity", 0.0, {"N1.1": 1.9})


def test_a_key_that_came_with_a_reading_is_known_again_also_after_it_was_taken_back() -> None:
    log = put(put(HandLog(), "level", 0.0, {"": "mark"}, key="a"), "level", 1.0, {"": "mark"})
    assert log.keys == ("a",)
    assert put(log, "level", 2.0, {}, undo=True, key="b").keys == ("a", "b")
    assert rejoined(log, T, NORTH).keys == ("a",)
    for number in range(KEPT):
        log = log._replace(keys=(*log.keys[-KEPT + 1 :], str(number)))
    assert len(put(log, "level", 3.0, {"": "mark"}, key="new").keys) == KEPT


def full_of(kind: str, values: dict[str, Any], first: tuple[str, dict[str, Any]]) -> HandLog:
    """A log with one entry more than is kept, of which the first is given."""
    log = put(HandLog(), first[0], 0.0, first[1])
    entries = [Entry(kind, T + n * MINUTE, values) for n in range(1, KEPT)]
    log = log._replace(entries=(*log.entries, *entries))
    assert len(log.entries) == KEPT
    return put(log, kind, 100.0, values)


@pytest.mark.parametrize(
    ("kind", "values"),
    [
        ("voltage", {"N2": -6.1}),
        ("voltage", {"N2": -0.51}),
        ("level", {"N1.1": "below-plates"}),
        ("level", {"N1.1": -0.1}),
        ("seen", {"N3": "case cracked"}),
        ("note", {"": "N3 leaks"}),
    ],
)
def test_what_forbids_charging_is_never_the_entry_that_is_forgotten(kind: str, values: dict[str, Any]) -> None:
    harmless: dict[str, dict[str, Any]] = {
        "voltage": {"N1": 6.0}, "level": {"N2": "mark"}, "seen": {"N1": "clean"}, "note": {"": "looked in"},
    }  # fmt: skip
    log = full_of(kind, harmless[kind], (kind, values))
    assert len(log.entries) == KEPT and log.entries[0].values == values
    ordinary = full_of(kind, harmless[kind], (kind, harmless[kind]))
    assert ordinary.entries[0].taken_at == T + MINUTE


@pytest.mark.parametrize(
    ("kind", "values"), [("voltage", {"N2": -0.5}), ("level", {"N1.1": 5.0}), ("seen", {"N3": "no cracks"})]
)
def test_what_does_not_forbid_charging_may_be_forgotten(kind: str, values: dict[str, Any]) -> None:
    assert full_of(kind, {"N1": 6.0} if kind == "voltage" else {"N2": "mark"}, (kind, values)).entries[0].taken_at > T


def test_the_newest_of_each_kind_stays_however_many_others_follow() -> None:
    log = full_of("level", {"": "mark"}, ("water", {"": "full"}))
    assert log.entries[0].kind == "water" and len(log.entries) == KEPT
    two = put(put(HandLog(), "charger", 0.0, {"volts": 28.8}), "water", 0.0, {"": "full"})
    two = two._replace(
        entries=(*two.entries, *[Entry("level", T + n * MINUTE, {"": "mark"}) for n in range(1, KEPT - 1)])
    )
    both = put(two, "level", 100.0, {"": "mark"})
    assert [entry.kind for entry in both.entries[:2]] == ["charger", "water"] and len(both.entries) == KEPT
    backward = full_of("voltage", {"N2": -6.0}, ("voltage", {"N2": -6.1}))
    assert backward.entries[0].values == {"N2": -6.0} and len(backward.entries) == KEPT, "then the oldest goes"
    full = log._replace(entries=log.entries[1:])
    assert len(put(full, "level", 200.0, {"": "mark"}).entries) == KEPT, "nothing goes before there are too many"


# -------------------------------------------------------------------------------------- by place


@pytest.mark.parametrize(
    ("value", "bare", "over"),
    [("below-plates", True, False), ("at-plates", True, False), ("over-mark", False, True), (-0.1, True, False),
     (0.0, True, False), (5.0, False, False), ("mark", False, False)],
)  # fmt: skip
def test_levels_at_the_plates_or_below_or_over_the_mark_are_named_by_place(value: Any, bare: bool, over: bool) -> None:
    log = noted(("level", 1.0, {"N1.1": value, "N2": "between"}))
    assert (log.plates_bare, log.level_wrong) == ("N1.1" if bare else "", "N1.1" if over else "")
    assert log.level_at == T + HOUR
    everywhere = noted(("level", 0.0, {"": value}))
    assert (everywhere.plates_bare, everywhere.level_wrong) == (
        "the bank" if bare else "", "the bank" if over else "",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("volts", "backward"), [(-6.1, True), (-0.51, True), (-0.5, False), (0.0, False), (6.1, False)]
)
def test_a_block_reads_backward_below_half_a_volt_under_nothing(volts: float, backward: bool) -> None:
    assert noted(("voltage", 0.0, {"N2": volts})).reversed_block == ("N2" if backward else "")
    assert noted(("voltage", 0.0, {"": volts})).reversed_block == ("the bank" if backward else "")


def test_a_look_at_the_whole_bank_ends_all_that_was_noted_of_its_parts() -> None:
    low = ("level", 0.0, {"N1.1": "below-plates", "N2.1": "over-mark"})
    assert noted(low, ("level", 1.0, {"": "between"})).plates_bare == ""
    late = noted(("level", 1.0, {"": "between"}), low)
    assert late.plates_bare == "", "typed in late, it was before"
    white = ("seen", 0.0, {"N1.1": "sulfated 2", "N2.1": "sulfated 3"})
    assert noted(white, ("seen", 1.0, {"": "clean"})).sulfated_where == ""
    assert noted(white, ("seen", 1.0, {"N1.1": "clean"})).sulfated_where == "N2.1"


def test_the_cell_longest_not_looked_at_says_when_deposits_are_looked_at_again() -> None:
    log = noted(("seen", 0.0, {"N1.1": "sulfated 2"}), ("seen", 1.0, {"N2.1": "sulfated 3"}))
    assert (log.sulfated_where, log.sulfated_at) == ("N1.1, N2.1", T)
    again = put(log, "seen", 2.0, {"N1.1": "sulfated 1"})
    assert again.sulfated_at == T + HOUR
    assert noted(("seen", 0.0, {"": "sulfated 2"})).sulfated_where == "the bank"
    assert noted(("note", 0.0, {"": "sulfated 2"})).sulfated_where == "" and HandLog().sulfated_at == 0.0


@pytest.mark.parametrize(
    ("later", "left"),
    [
        ({"N1": "no cracks"}, {"N1": "leak", "N1.2": "leak", "N2": "crack"}),
        ({"N1": "no cracks, no leaks"}, {"N2": "crack"}),
        ({"": "no cracks"}, {"N1": "leak", "N1.2": "leak"}),
        ({"": "no cracks, no leaks"}, {}),
        ({"N1.2": "no leaks"}, {"N1": "crack, leak", "N2": "crack"}),
        ({"N1": "bulging"}, {"N1": "bulge, crack, leak", "N1.2": "leak", "N2": "crack"}),
        ({"N3": "no cracks"}, {"N1": "crack, leak", "N1.2": "leak", "N2": "crack"}),
        ({"N3": "all well"}, {"N1": "crack, leak", "N1.2": "leak", "N2": "crack"}),
    ],
)
def test_damage_stands_where_it_was_seen_until_a_look_at_that_place_denies_it(
    later: dict[str, Any], left: dict[str, str]
) -> None:
    seen = ("seen", 0.0, {"N1": "cracked and leaks", "N1.2": "leaks", "N2": "cracked"})
    assert noted(seen, ("seen", 1.0, later)).damaged == left
    # Said in a note beside another reading it counts for the whole bank.
    beside = put(HandLog(), "level", 0.0, {"": "mark"}, note="a case is cracked")
    assert beside.damaged == {"": "crack"}


# --------------------------------------------------------------------------- instead of a meter


def test_volts_and_warmth_of_the_whole_bank_stand_for_a_meter_and_those_of_a_block_do_not() -> None:
    log = noted(("voltage", 0.0, {"": 25.0, "N1": 6.0}), ("temperature", 1.0, {"": 12.0}))
    assert (log.voltage, log.voltage_at, log.temperature, log.temperature_at) == (25.0, T, 12.0, T + HOUR)
    block = noted(("voltage", 0.0, {"N1": 6.0}), ("temperature", 1.0, {"N1": 30.0}))
    assert (block.voltage_at, block.temperature_at) == (0.0, 0.0)
    assert (block.case, block.case_at) == (30.0, T + HOUR)
    beside = noted(("gravity", 2.0, {"N1.1": 1.25}))
    assert (beside.temperature, beside.temperature_at) == (25.0, T + 2 * HOUR), "the acid's, read beside its gravity"
    for name in ("voltage_now", "temperature_now", "case_now"):
        assert getattr(HandLog(), name)(T) is None


@pytest.mark.parametrize(("after", "stands"), [(0.0, True), (DAY, True), (DAY + 1.0, False)])
def test_what_a_person_read_stands_for_a_day(after: float, stands: bool) -> None:
    log = noted(("voltage", 0.0, {"": 25.0}), ("temperature", 0.0, {"": 12.0, "N1": 30.0}))
    told = (log.voltage_now(T + after), log.temperature_now(T + after), log.case_now(T + after))
    assert told == ((25.0, 12.0, 30.0) if stands else (None, None, None))


@pytest.mark.parametrize(("minutes", "hottest"), [(1.0, 38.0), (59.0, 38.0), (60.0, 31.0), (120.0, 31.0)])
def test_cases_felt_in_one_walk_round_are_held_against_each_other(minutes: float, hottest: float) -> None:
    log = noted(("temperature", 0.0, {"N1": 38.0, "N2": 30.0}), ("temperature", minutes / 60.0, {"N3": 31.0}))
    assert (log.case, log.case_at) == (hottest, T + minutes * MINUTE)


def test_strings_clamped_within_an_hour_are_one_set_in_the_order_of_the_strings() -> None:
    def clamped(minutes: float) -> HandLog:
        log = put(HandLog(), "string_amps", 0.0, {"2": 20.0}, bank=TWIN, charging_seconds=100.0)
        return put(log, "string_amps", minutes / 60.0, {"1": 10.0}, bank=TWIN, charging_seconds=900.0)

    one = clamped(59.0)
    assert (one.string_amps, one.string_amps_after, one.string_amps_at) == ((10.0, 20.0), 100.0, T + 59 * MINUTE)
    other = clamped(60.0)
    assert (other.string_amps, other.string_amps_after, other.string_amps_at) == ((10.0,), 900.0, T + HOUR)
    assert (HandLog().string_amps, HandLog().string_amps_after) == ((), -1.0)
    ten = Bank("ten", tuple((Block(f"S{n}", 6, 100.0),) for n in range(1, 11)))
    walk = put(HandLog(), "string_amps", 0.0, {str(n): float(n) for n in (10, 2, 1)}, bank=ten)
    assert walk.string_amps == (1.0, 2.0, 10.0)


def test_volts_and_string_amps_of_before_the_blocks_were_joined_anew_say_nothing() -> None:
    log = noted(
        ("voltage", 0.0, {"": 25.0, "N1": 6.0}), ("string_amps", 0.0, {"1": 9.0}), ("temperature", 0.0, {"": 12.0})
    )
    for joined, stands in ((T - 1.0, True), (T, False), (T + 1.0, False)):
        anew = rejoined(log, joined, NORTH)
        assert (anew.voltage_at > 0.0, anew.string_amps != (), anew.joined_at) == (stands, stands, joined)
        assert anew.temperature_at == T, "warmth is not joined"
        assert (newest_voltages(anew, T) != {}) is stands
    later = put(rejoined(log, T, NORTH), "voltage", 1.0, {"": 12.0})
    assert later.voltage == 12.0


def test_volts_of_one_walk_round_are_those_of_the_last_hour() -> None:
    log = noted(("voltage", 0.0, {"N1": 6.1, "N2": 6.2}), ("voltage", 0.5, {"N2": 6.3}), ("level", 0.6, {"N1": 5.0}))
    assert newest_voltages(log, T + HOUR) == {"N1": 6.1, "N2": 6.3}
    assert newest_voltages(log, T + HOUR + 1.0) == {"N2": 6.3}
    assert newest_voltages(log, T + 0.4 * HOUR) == {"N1": 6.1, "N2": 6.2}, "what is still to come says nothing yet"
    assert newest_voltages(log, T + HOUR / 2 - 0.5)["N2"] == 6.2
    late = noted(("voltage", 0.5, {"N2": 6.3}), ("voltage", 0.0, {"N2": 6.2}))
    assert newest_voltages(late, T + HOUR) == {"N2": 6.3}


# -------------------------------------------------------------------------------- water and gravity


def test_the_cell_that_needs_water_most_says_how_much_gas_was_made_good_for() -> None:
    # 0.33609 g/Ah (Faraday): 33.609 g make good for 100 Ah of gas.
    def topped(*pours: tuple[float, dict[str, Any]]) -> float:
        log = HandLog()
        for gassing, values in pours:
            log = put(log, "water", gassing, values, gassing=gassing)
        return log.topped_up

    assert topped((100.0, {"": "full"})) == 100.0
    assert topped((100.0, dict.fromkeys(CELLS, 33.609))) == pytest.approx(100.0, abs=0.01)
    assert topped((100.0, dict.fromkeys(CELLS, 99.0))) == 100.0, "more than was lost makes good for no more"
    assert topped((100.0, {"": 12 * 16.8045})) == pytest.approx(50.0, abs=0.01)
    assert topped((100.0, {"": 12 * 16.8045}), (200.0, {"": 12 * 16.8045})) == pytest.approx(100.0, abs=0.01)
    assert topped((100.0, {"N1": "full", "N2": "full", "N3": "full"})) == 0.0
    assert topped((100.0, {"": "full"}), (200.0, {"N1": "full"})) == 100.0
    assert topped((100.0, {"": "full"}), (200.0, {"N1.1": 5.0})) == 100.0
    assert put(HandLog(), "level", 0.0, {"": "mark"}, gassing=100.0).topped_up == 0.0
    # Where the blocks are not known every top-up counts for all.
    assert put(HandLog(), "water", 0.0, {"": 10.0}, gassing=70.0, bank=None).topped_up == 70.0


def test_cells_into_which_water_was_poured_are_remembered_and_none_else() -> None:
    log = noted(("water", 0.0, {"N1": 30.0, "N2.1": "full", "N3": 0.0}), ("water", 1.0, {"N1.2": 5.0}))
    assert log.watered == {"N1.1": T, "N1.2": T + HOUR, "N1.3": T, "N2.1": T}
    assert put(HandLog(), "water", 0.0, {"": 30.0}, bank=None).watered == {}
    assert put(HandLog(), "water", 0.0, {"N4": 0.5}).watered == {"N4.1": T, "N4.2": T, "N4.3": T}


@pytest.mark.parametrize(
    ("poured", "read", "gassed", "mixed"),
    [(0.0, 1.0, 0.0, False), (0.0, 47.9, 0.0, False), (0.0, 48.0, 0.0, True), (0.0, 2.0, 1.0, True),
     (0.0, 2.0, 0.9, False), (1.0, 0.5, 0.0, True), (1.0, 1.0, 0.0, False)],
)  # fmt: skip
def test_a_gravity_after_water_counts_when_the_water_is_mixed(
    poured: float, read: float, gassed: float, mixed: bool
) -> None:
    # US Bureau of Reclamation, FIST 3-6, 2.17.
    log = put(HandLog(), "water", poured, {"N1": 30.0}, gassing_seconds=500.0)
    log = put(log, "gravity", read, {"N1.1": 1.25, "N2.1": 1.25}, gassing_seconds=500.0 + gassed * HOUR, discharge=7.0)
    readings = {entry.cell: entry for entry in log.gravities}
    assert (readings["N1.1"].mixed, readings["N2.1"].mixed) == (mixed, True)
    assert readings["N1.1"].discharge == 7.0


def test_gravity_rises_from_each_cells_first_reading_and_lost_water_explains_some_of_it() -> None:
    # By hand: 225 Ah x 15 g = 3375 g of acid a cell; 100 Ah of gas take 33.609 g, a hundredth: 34.8 % of acid
    # become 35.15 %, at 0.0084 for each percent (density at 25 degC, 30 to 40 %, source 1) 0.0029.
    def risen(*values: tuple[float, dict[str, Any]]) -> HandLog:
        log = HandLog()
        for gassing, cells in values:
            log = put(log, "gravity", gassing / 10.0, cells, gassing=gassing)
        return log

    log = risen(
        (0.0, dict.fromkeys(CELLS, 1.260)), (50.0, dict.fromkeys(CELLS, 1.262)), (100.0, dict.fromkeys(CELLS, 1.27))
    )
    assert log.rise == pytest.approx(0.010)
    assert log.rise_by_water == pytest.approx(0.0029, abs=0.0003)
    middle = risen((0.0, {"N1.1": 1.20, "N1.2": 1.20, "N1.3": 1.20}), (9.0, {"N1.1": 1.21, "N1.2": 1.24, "N1.3": 1.19}))
    assert middle.rise == pytest.approx(0.010)
    alone = risen((0.0, {"N1.1": 1.260}), (100.0, {"N1.1": 1.270}))
    assert alone.rise_by_water == pytest.approx(0.0029, abs=0.0003)
    once = risen((0.0, dict.fromkeys(CELLS, 1.260)))
    assert (once.rise, once.rise_by_water) == (None, None)
    other = put(HandLog(), "gravity", 0.0, {"N1.1": 1.2}, bank=None)
    assert put(other, "gravity", 1.0, {"N1.1": 1.3}, bank=None).rise is None
    assert other.lowest == pytest.approx(1.2, abs=0.002)
    # A cell of a block that was taken out, and one that was read as a mark, rise nowhere.
    stranger = risen((0.0, {"X1.1": 1.20, "N1.1": "low"}), (9.0, {"X1.1": 1.25, "N1.1": 1.1}))
    assert stranger.rise is None


@pytest.mark.parametrize(("grams", "left"), [(33.609, 0.0), (16.8, 0.0015), (0.0, 0.0029)])
def test_water_that_was_poured_in_between_explains_none_of_the_rise(grams: float, left: float) -> None:
    log = put(HandLog(), "gravity", 0.0, dict.fromkeys(CELLS, 1.260))
    log = put(log, "water", 5.0, {f"N{n}": 3 * grams for n in range(1, 5)}, gassing=50.0)
    log = put(log, "gravity", 10.0, dict.fromkeys(CELLS, 1.270), gassing=100.0, gassing_seconds=HOUR)
    assert log.rise_by_water == pytest.approx(left, abs=0.0003)
    before = put(HandLog(), "water", 0.0, {"": 12 * grams})
    stirred = 2.0 * HOUR
    before = put(before, "gravity", 1.0, dict.fromkeys(CELLS, 1.260), gassing_seconds=stirred)
    before = put(before, "gravity", 10.0, dict.fromkeys(CELLS, 1.270), gassing=100.0, gassing_seconds=stirred)
    assert before.rise_by_water == pytest.approx(0.0029, abs=0.0003), "poured before the first reading"


def test_a_pour_of_nothing_changes_nothing_and_one_by_eye_leaves_the_rise_unexplained() -> None:
    def explained(*poured: tuple[float, Any]) -> float | None:
        log = HandLog()
        for hour, amount in poured:
            log = put(log, "water", hour, {"": amount}, gassing=10.0 * hour)
        for hour, value in ((1.0, 1.260), (10.0, 1.270)):
            log = put(log, "gravity", hour, dict.fromkeys(CELLS, value), gassing=10.0 * hour)
        return log.rise_by_water

    dry = explained()
    assert dry is not None and dry > 0.002
    assert explained((0.5, 0.0)) == explained((5.0, 0.0)) == pytest.approx(dry, abs=1e-12)
    assert explained((5.0, "full")) is None


def test_what_was_read_without_a_temperature_is_compared_with_nothing() -> None:
    # 30 degC warmer than the reference a hydrometer shows 0.007 for each 10 K too little.
    log = put(HandLog(), "gravity", 0.0, dict.fromkeys(CELLS, 1.260), temperature=35.0)
    log = put(log, "gravity", 2.0, dict.fromkeys(CELLS, 1.260), temperature=None)
    assert (log.rise, log.trend) == (None, None)
    log = put(log, "gravity", 4.0, dict.fromkeys(CELLS, 1.265), temperature=35.0)
    assert log.rise == pytest.approx(0.005)


def test_two_hundred_entries_are_remembered_and_no_more() -> None:
    log = HandLog(tuple(Entry("level", T + n * MINUTE, {"": "mark"}) for n in range(199)))
    for _ in range(3):
        log = put(log, "level", 100.0, {"": "mark"})
        assert len(log.entries) == 200


def test_cells_seen_not_to_gas_keep_a_bank_from_its_plateau_until_somebody_says_otherwise() -> None:
    flat = noted(*[("gravity", float(hour), dict.fromkeys(CELLS, 1.262)) for hour in range(4)])
    assert flat.plateau and flat.gravity_at == T + 3 * HOUR
    assert flat.rising is False and flat.trend == pytest.approx(0.0)
    for where in ("N2.1", "N2", ""):
        silent = put(flat, "seen", 3.1, {where: "does not gas"})
        assert not silent.plateau
        assert not put(silent, "seen", 3.2, {where: "brown"}).plateau
        assert put(silent, "seen", 3.2, {where: "gassing milky"}).plateau
        assert put(flat, "seen", 3.1, {where: "gassing"}).plateau
    assert not put(put(flat, "seen", 3.1, {"N2": "no gas"}), "seen", 3.2, {"N2.1": "gassing"}).plateau
    assert put(flat, "note", 3.1, {"": "does not gas"}).plateau, "a note is not a look into a cell"


def test_cells_that_stand_aside_no_longer_count_for_the_bank() -> None:
    log = noted(("gravity", 0.0, {"N1.1": 1.260, "N1.2": 1.262, "N4.1": 1.150}))
    assert log.lowest == pytest.approx(1.150, abs=0.002) and log.spread == pytest.approx(0.112)
    smaller = rejoined(log, T + HOUR, Bank("north", (NORTH.strings[0][:3],)))
    assert smaller.lowest == pytest.approx(1.260, abs=0.002) and smaller.spread == pytest.approx(0.002)
    assert (smaller.trend, smaller.rising, smaller.plateau) == (None, None, False)


def test_an_empty_notebook_knows_nothing_and_an_entry_counts_nothing_that_was_not_counted() -> None:
    known = {name: value for name, value in HandLog()._asdict().items() if value}
    assert known == {"string_amps_after": -1.0}, (
        "0 = never, empty = nowhere; no strings were clamped at any charging time"
    )
    assert {name for name, value in Entry("level", T, {"": "mark"})._asdict().items() if value} == {
        "kind", "taken_at", "values",
    }  # fmt: skip
