"""A memory survives its text, an older or newer version, and damage: nothing lost, or the whole refused with words."""

from __future__ import annotations

import json
import types
import typing
from typing import Any, NamedTuple, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.errors import JournalError
from bridge.journal import snapshot
from bridge.journal.positional import BEFORE_BLOCKS, BEFORE_STEPS, FIRST, LAST, by_name
from bridge.journal.snapshot import FORMAT, NEEDED, freeze, from_text, thaw, to_text
from rules.advice import FLAGS
from rules.bank import Bank, Block
from rules.events import Flag, Tick
from rules.safety import Finding, Interlock, Latch, Pending
from rules.step import Memory, initial, step

NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
WORDS = st.text(max_size=6)


def values_of(kind: Any) -> st.SearchStrategy[Any]:
    """Any value that this annotation allows; flags and hazards under names that there are."""
    origin, arguments = get_origin(kind), get_args(kind)
    if origin is typing.Annotated:
        return st.sampled_from(arguments[1])
    if origin in (typing.Union, types.UnionType):
        return st.one_of([values_of(each) for each in arguments])
    if origin is tuple and arguments[-1] is not Ellipsis:
        return st.tuples(*map(values_of, arguments))
    if origin is tuple:
        return st.lists(values_of(arguments[0]), max_size=2).map(tuple)
    if origin is dict:
        known = arguments[1] in (Flag, Latch, Pending)
        return st.dictionaries(st.sampled_from(sorted(FLAGS)) if known else WORDS, values_of(arguments[1]), max_size=2)
    if hasattr(kind, "_fields"):
        hints = get_type_hints(kind, include_extras=True)
        return st.builds(kind, **{name: values_of(hint) for name, hint in hints.items()})
    return {float: NUMBERS, int: st.integers(), str: WORDS, bool: st.booleans(), type(None): st.none()}[kind]


MEMORIES = values_of(Memory)


def sample(kind: Any) -> Any:
    """One value of this annotation in which no field is at its default."""
    origin, arguments = get_origin(kind), get_args(kind)
    if origin is typing.Annotated:
        return arguments[1][-1]
    if origin in (typing.Union, types.UnionType):
        return sample(arguments[0])
    if origin is tuple and arguments[-1] is not Ellipsis:
        return tuple([sample(each) for each in arguments])
    if origin is tuple:
        return (sample(arguments[0]), sample(arguments[0]))
    if origin is dict:
        return {"over-temperature": sample(arguments[1])}
    if hasattr(kind, "_fields"):
        return kind(*[sample(hint) for hint in get_type_hints(kind, include_extras=True).values()])
    return {float: 3.5, int: 3, str: "words", bool: True}[kind]


def records(kind: Any) -> set[Any]:
    """All named tuples that this annotation holds."""
    inner = get_type_hints(kind).values() if hasattr(kind, "_fields") else get_args(kind)
    return {kind for _ in [0] if hasattr(kind, "_fields")}.union(*map(records, inner))


def places(value: Any, where: tuple[Any, ...] = ()) -> list[tuple[tuple[Any, ...], Any]]:
    """Where each value of a memory stands in its plain form, and the value."""
    if hasattr(value, "_fields"):
        items = list(zip(value._fields, value, strict=True))
    elif isinstance(value, dict):
        items = list(value.items())
    else:
        items = list(enumerate(value)) if isinstance(value, tuple) else []
    return [(where, value), *[found for key, item in items for found in places(item, (*where, key))]]


def changed(plain: Any, where: tuple[Any, ...], value: Any) -> Any:
    """The same document with another value there."""
    whole = json.loads(json.dumps([plain]))
    *way, last = (0, *where)
    target = whole
    for key in way:
        target = target[key]
    target[last] = value
    return whole[0]


RECORDS = sorted(records(Memory), key=str)
SAMPLE: Memory = sample(Memory)
PLACES = places(SAMPLE)


def text_of(plain: Any) -> str:
    """As the journal keeps it."""
    return json.dumps({"format": FORMAT, "memory": plain})


@settings(max_examples=30)
@given(memory=MEMORIES)
def test_a_memory_comes_back_from_its_text_as_it_was(memory: Memory) -> None:
    text = to_text(memory)
    assert from_text(text) == (memory, ())
    assert to_text(from_text(text).memory) == text


def test_the_memory_of_a_new_bank_comes_back_as_well() -> None:
    assert from_text(to_text(initial())) == (initial(), ())


@pytest.mark.parametrize("kind", RECORDS, ids=lambda kind: str(kind.__name__))
def test_a_missing_field_begins_with_its_default_or_refuses_where_nobody_may_guess(kind: Any) -> None:
    whole = sample(kind)
    for name in kind._fields:
        plain: Any = freeze(whole)
        del plain[name]
        if name in kind._field_defaults and name not in NEEDED.get(kind, ()):
            assert thaw(kind, plain) == whole._replace(**{name: kind._field_defaults[name]})
        else:
            with pytest.raises(ValueError, match=f"{name} missing in {kind.__name__}"):
                thaw(kind, plain)


def test_what_no_version_may_be_without_are_fields_that_there_are() -> None:
    for kind, names in NEEDED.items():
        assert names <= set(kind._fields)  # type: ignore[attr-defined]


def test_a_trip_is_never_lost_by_a_missing_field() -> None:
    plain: Any = freeze(SAMPLE)
    for where in (("interlock",), ("interlock", "latched")):
        whole = json.loads(json.dumps(plain))
        (whole if len(where) == 1 else whole[where[0]]).pop(where[-1])
        with pytest.raises(ValueError, match=f"{where[-1]} missing"):
            from_text(text_of(whole))


def test_an_unknown_name_is_left_out_and_counted_wherever_it_stands() -> None:
    for where, value in PLACES:
        if hasattr(value, "_fields"):
            more = {**typing.cast(dict[str, Any], freeze(value)), "of_another_version": [1, {"x": None}]}
            restored = from_text(text_of(changed(freeze(SAMPLE), where, more)))
            assert restored == (SAMPLE, (f"{type(value).__name__}.of_another_version",))


def test_a_value_is_taken_as_it_stands_or_the_whole_is_refused_with_the_way_to_it() -> None:
    refused = 0
    for where, _ in PLACES[1:]:
        for value in (None, True, 7, 2.5, "no", [], [None]):
            plain = changed(freeze(SAMPLE), where, value)
            try:
                memory = from_text(text_of(plain)).memory
            except ValueError as error:
                assert str(where[0]) in str(error)
                refused += 1
            else:
                assert freeze(memory) == plain, where
    assert refused > 4 * len(PLACES)


def test_a_phase_that_there_is_not_is_refused_with_those_that_there_are() -> None:
    with pytest.raises(ValueError, match="phase: phase: 'boiling' is none of idle, waking"):
        from_text(text_of(changed(freeze(SAMPLE), ("phase", "phase"), "boiling")))


def test_a_renamed_field_is_read_under_its_old_name(monkeypatch: pytest.MonkeyPatch) -> None:
    class Later(NamedTuple):
        charge_returned: float
        hours: float = 0.0

    monkeypatch.setattr(snapshot, "RENAMED", {Later: {"charge": "charge_returned"}})
    globals()["Later"] = Later
    assert thaw(Later, {"charge": 12.5, "hours": 2}) == Later(12.5, 2.0)
    assert thaw(Later, {"charge_returned": 12.5}) == Later(12.5)


def test_a_latch_of_another_version_stays_a_latch_and_the_bank_is_judged_on() -> None:
    latch = Latch(1_795_600_000.0, 9.0, 8.0, "bar", "9 bar")
    memory = initial()._replace(
        interlock=Interlock(latched={"overpressure": latch}),
        flags={"overpressure": Flag("overpressure", "hazard", latch.at)},
        pending={"overpressure|gauge": Pending(latch.at, 60.0, True, Finding(9.0, 8.0, "bar"))},
    )
    restored = from_text(to_text(memory))
    assert restored.ignored == ("flag overpressure", "hazard overpressure|gauge", "hazard overpressure")
    (found,) = restored.memory.interlock.latched.items()
    assert found == ("journal-lost", latch._replace(reason="tripped by another version for overpressure: 9 bar"))
    bank = Bank("north", ((Block("N1", 12, 200.0),),))
    after, outcomes = step(bank, restored.memory, Tick(latch.at + 60.0))
    assert "journal-lost" in after.interlock.latched
    assert outcomes


@settings(max_examples=200)
@given(data=st.data())
def test_damaged_text_is_refused_or_still_a_memory_and_never_anything_else(data: st.DataObject) -> None:
    text = to_text(SAMPLE)
    place = data.draw(st.integers(0, len(text) - 1))
    put = data.draw(st.sampled_from(["", "0", "9" * 400, "1e999", "-", *'[]{}",', "null", "é"]))
    try:
        memory = from_text(text[:place] + put + text[place + data.draw(st.integers(0, 3)) :]).memory
    except (ValueError, JournalError):
        return
    assert isinstance(memory, Memory)


@pytest.mark.parametrize("text", ["", "null", "[1, 2, 3]", "{}", '{"format": true}', '{"format": 2}', "[" * 100_000])
def test_what_is_no_memory_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        from_text(text)


def test_a_newer_format_is_another_thing_than_damage() -> None:
    with pytest.raises(JournalError, match=f"format {FORMAT + 1}, known here: {FORMAT}"):
        from_text(json.dumps({"format": FORMAT + 1, "memory": {}}))


# ------------------------------------------------------------------------------------------------ the first format


def in_order(layout: Any, record: str, plain: Any) -> Any:
    """What a version with this layout would have written; fields it had alone are 0."""
    if plain is None:
        return None
    told = []
    for field in layout[record].split():
        name, _, inner = field.partition("=")
        item = plain.get(name, 0)
        if inner[:1] == "[":
            item = [in_order(layout, inner[1:-1], each) for each in item]
        elif inner[:1] == "{":
            item = {key: in_order(layout, inner[1:-1], each) for key, each in item.items()}
        elif inner:
            item = in_order(layout, inner, item)
        told.append(item)
    return told


def then_known(layout: Any, record: Any) -> dict[str, object]:
    """The fields of a record that a version with this layout knew."""
    known = {field.partition("=")[0] for field in layout[type(record).__name__].split()}
    return {name: value for name, value in record._asdict().items() if name in known}


@settings(max_examples=10)
@given(memory=MEMORIES)
def test_lists_of_the_last_version_that_wrote_them_lose_nothing(memory: Memory) -> None:
    """Whatever that version knew is there again; what came later takes its default."""
    written = in_order(LAST, "Memory", freeze(memory))
    again = from_text(json.dumps(written)).memory
    assert in_order(LAST, "Memory", freeze(again)) == written


@pytest.mark.parametrize("layout", [BEFORE_STEPS, BEFORE_BLOCKS, FIRST])
def test_lists_of_earlier_versions_keep_clock_charge_hand_log_and_latch(layout: Any) -> None:
    memory = from_text(json.dumps(in_order(layout, "Memory", freeze(SAMPLE)))).memory
    assert memory.phase.hold_seconds == SAMPLE.phase.hold_seconds
    assert memory.phase.phase == SAMPLE.phase.phase
    assert then_known(layout, memory.counters) == then_known(layout, SAMPLE.counters)
    assert [then_known(layout, entry) for entry in memory.hand.entries] == [
        then_known(layout, entry) for entry in SAMPLE.hand.entries
    ]
    assert memory.interlock.latched.keys() == SAMPLE.interlock.latched.keys()
    for name, latch in memory.interlock.latched.items():
        assert then_known(layout, latch) == then_known(layout, SAMPLE.interlock.latched[name])
    assert then_known(layout, memory.interlock.proof) == then_known(layout, SAMPLE.interlock.proof)


def test_lists_in_no_known_order_say_where() -> None:
    plain: Any = in_order(LAST, "Memory", freeze(SAMPLE))
    plain[4].append(1.0)
    with pytest.raises(ValueError, match="fields"):
        by_name(plain)


def test_a_row_of_fixed_length_comes_back_as_it_was_and_no_other_length_does() -> None:
    assert thaw(tuple[float, float], freeze((0.5, 2.0))) == (0.5, 2.0)
    with pytest.raises(ValueError, match="no row of 2"):
        thaw(tuple[float, float], [0.5])
