"""What people and their programs send: one type from every edge, or a refusal with key, value and fix."""

from __future__ import annotations

import json
import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.errors import RequestError, UsageError
from bridge.intake.bus_commands import WrittenName
from bridge.intake.bus_commands import parse_act as parse_bus_act
from bridge.intake.hand_record import parse_record
from bridge.intake.hand_words import understand
from bridge.intake.recorded import parse_recorded
from bridge.intake.request import ProofAsked, StatusAsked, parse_act, parse_request
from bridge.intake.strict_model import LONGEST_TEXT
from bridge.message import Message
from rules.bank import Bank, Block
from rules.events import Command, HandReading

NOW = 1795590001.0


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (b'{"bank": "north", "name": "zero"}', '"ask" is missing'),
        (b'{"ask": "wish"}', "cannot answer 'wish'"),
        (b'{"ask": "act", "name": "zero"}', "bank is missing: add it"),
        (b'{"ask": "act", "bank": "north", "name": "zero", "argument": 5}', "argument is an object"),
        (b'{"ask": "act", "bank": "north", "name": "zero", "by": "' + b"k" * 81 + b'"}', "at most 80 characters"),
        (b'{"ask": "act", "bank": "north", "name": "zero", "argument": {"name": "a\\nb"}}', "on one line"),
        (b'{"ask": "act", "bank": "north", "name": "boot"}', "boot is no command"),
        (b'{"ask": "act", "bank": "north", "bank": "south", "name": "zero"}', "'bank' stands there twice"),
        (b'{"ask": "status", "bank": "north"}', "unknown key 'bank'"),
        (b'{"ask": "record", "bank": "north", "kind": "level", "values": {"N1": ' + b"9" * 400 + b"}}", "too large"),
        (b'{"ask": "record", "bank": "north", "kind": "level", "values": {"N\\u0007": 1}}', "is no place"),
    ],
)
def test_a_request_is_refused_with_key_value_and_fix(line: bytes, why: str) -> None:
    with pytest.raises(RequestError, match=re.escape(why)):
        parse_request(line, NOW)


def test_water_is_poured_by_us_measures_at_every_edge() -> None:
    # 12 US fluid ounces of 29.5735 mL (NIST Handbook 44, Appendix C); a millilitre of water counts as a gram
    values = b'"kind": "water", "values": {"N1": "12 fl oz"}}'
    by_socket = parse_request(b'{"ask": "record", "bank": "north", ' + values, NOW)
    by_bus = parse_record("north", NOW, b"{" + values)
    assert isinstance(by_socket, HandReading)
    assert by_socket.values == by_bus.values == {"N1": pytest.approx(354.88, abs=0.01)}


def test_one_typed_request_leaves_every_edge() -> None:
    line = b'{"ask": "record", "bank": "north", "kind": "gravity", "values": {"N1.2": 1265}, "by": "Ann"}'
    record = b'{"kind": "gravity", "values": {"N1.2": 1265}, "by": "Ann"}'
    told = HandReading("north", "gravity", NOW, NOW, {"N1.2": 1.265}, by="Ann")
    bus = Message("homie/5/hut-north/cells/record/set", record, NOW)
    assert parse_request(line, NOW) == parse_record("north", NOW, record) == told
    assert parse_bus_act("north", "cells/record", bus, WrittenName(), "5") == told
    start = Command("north", "start", NOW, "Ann")
    assert parse_request(b'{"ask": "act", "bank": "north", "name": "start", "by": "Ann"}', NOW) == start
    assert parse_act("north", NOW, b'{"name": "start", "by": "Ann"}', frozenset({"start"})) == start
    pressed = Message("homie/5/hut-north/revival/command/set", b"start", NOW)
    assert parse_bus_act("north", "revival/command", pressed, WrittenName(), "5") == start._replace(by="bus")
    assert isinstance(parse_request(b'{"ask": "status"}', NOW), StatusAsked)
    assert parse_request(b'{"ask": "proof", "bank": "north"}', NOW) == ProofAsked("north")


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (b'{"t": NaN, "topic": "a", "payload": "x"}', "NaN is not a number"),
        (b'{"t": 1, "topic": "a", "payload": 26.3}', "payload is text in quotes"),
        (b'{"t": 1, "topic": "a", "payload": "\\ud800"}', "half a character"),
        (b'{"t": 1, "topic": "a", "payload_b64": "!"}', "no base64"),
        (b'{"t": 1, "topic": "a"}', "payload is missing"),
    ],
)
def test_a_recorded_line_that_is_no_message_is_refused_in_words(line: bytes, why: str) -> None:
    with pytest.raises(RequestError, match=why):
        parse_recorded(line)


LEAVES = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=20),
    st.sampled_from(["act", "record", "gravity", "1265", "low", "84 degF", "\ud800", "a\nb", "k" * 600, 10**400]),
)  # fmt: skip
TABLES = st.dictionaries(st.sampled_from(["N1.1", "", "name", "volts", "x" * 50]), LEAVES | st.lists(LEAVES))


@settings(max_examples=400, deadline=None)
@given(
    st.fixed_dictionaries(
        {"ask": st.sampled_from(["act", "record", "proof", "status"]) | LEAVES},
        optional={
            "bank": st.just("north") | LEAVES, "name": st.just("zero") | LEAVES, "by": LEAVES,
            "argument": TABLES | LEAVES,
            "kind": st.sampled_from(["gravity", "level", "note", "charger"]) | LEAVES, "values": TABLES | LEAVES,
            "temperature": LEAVES, "taken_at": LEAVES, "undo": LEAVES, "sure": LEAVES,
        },
    )
)  # fmt: skip
def test_whatever_is_asked_becomes_a_request_or_a_refusal_in_words(asked: dict[str, object]) -> None:
    try:
        request = parse_request(json.dumps(asked).encode(), NOW)
    except RequestError as error:
        assert str(error) and str(error).isprintable()
        return
    if isinstance(request, HandReading):
        assert request.at == NOW and request.taken_at <= NOW
        assert all(isinstance(value, str) or math.isfinite(value) for value in request.values.values())
    elif isinstance(request, Command):
        assert (request.bank.isprintable(), request.at) == (True, NOW)
        assert all(not isinstance(word, str) or len(word) <= LONGEST_TEXT for word in request.argument.values())


@pytest.mark.parametrize(
    ("words", "values"),
    [
        (["3/8", "in"], {"": 9.525}),
        (['1/2"'], {"": 12.7}),
        (["1", "1/4", "inch"], {"": 31.75}),
        (["N1=3/8", "in", "N2=1½", "in"], {"N1": 9.525, "N2": 38.1}),
        (["-1/4 in"], {"": -6.35}),
        (["N1=between", "N2=3/8in"], {"N1": "between", "N2": 9.525}),
    ],
)
def test_a_level_may_be_a_fraction_of_an_inch(words: list[str], values: dict[str, float | str]) -> None:
    bank = Bank("north", ((Block("N1", 3, 200.0), Block("N2", 3, 200.0)),))
    assert understand(bank, "level", words).values == pytest.approx(values)


@pytest.mark.parametrize("words", [["3/8"], ["3/0 in"], ["N1=1/2"]])
def test_a_fraction_of_nothing_or_of_no_unit_is_asked_back(words: list[str]) -> None:
    bank = Bank("north", ((Block("N1", 3, 200.0), Block("N2", 3, 200.0)),))
    with pytest.raises(UsageError, match="level: "):
        understand(bank, "level", words)
