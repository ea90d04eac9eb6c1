"""What strangers can send and what the installation may contain: fuzzed decoders, no code from data, known packages."""

from __future__ import annotations

import ast
import base64
import hashlib
import json
import queue
import re
import socket
import subprocess
import sys
import tomllib
from importlib import metadata
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from bridge.clock import ToldClock
from bridge.errors import BridgeError
from bridge.intake import Mapping, Routes
from bridge.intake.bus_commands import parse_arrangement
from bridge.intake.hand_record import parse_record
from bridge.intake.mapping import LARGEST_PAYLOAD
from bridge.intake.stamp import own_time
from bridge.mailbox import Asked
from bridge.message import Message
from bridge.outlets.homie import HomieOutlet
from bridge.runtime.control_socket import Control
from bridge.settings import Cabin
from bridge.words.catalogue import BANK
from rules.bank.model import Bank, Block
from rules.events import Command, Event, HandReading

ROOT = Path(__file__).parents[3]
AT = 1_795_590_000.0
#: Inputs per decoder and run: half of them arbitrary bytes, half of them nearly right.
INPUTS = 2000
FUZZ = settings(max_examples=INPUTS, deadline=None)

LEAVES = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=20),
    st.sampled_from(["nan", "1e400", "12,6", "1_2", "26.3 V", "unavailable", "\ufeff1", "9" * 500]),
)  # fmt: skip
TREES = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(st.sampled_from(["dc", "mv", "t", "n", "v", "u", "bn", "bt", "nodes", "properties"]), inner),
    ),
    max_leaves=12,
)
PAYLOADS = st.one_of(
    st.binary(max_size=200),
    LEAVES.map(lambda leaf: str(leaf).encode("utf-8", "surrogatepass")),
    TREES.map(lambda tree: json.dumps(tree).encode()),
)
ROUTES = Routes(
    [
        Mapping("north", "voltage", "voltage", "plain", "plain", unit="V"),
        Mapping("north", "fan", "fan", "contact", "plain"),
        Mapping("north", "voltage", "voltage", "json", "json", "/dc/mv", unit="mV", time="/t"),
        Mapping("north", "voltage", "voltage", "pairs", "pairs", "/V", unit="V", time="/t"),
        Mapping("north", "voltage", "voltage", "senml", "senml", name="shunt/v", unit="V", time="t"),
        Mapping("north", "voltage", "voltage", "homie/5/shunt/dc/voltage", "homie"),
    ]
)
BANK_NORTH = Bank("north", ((Block("N1", 12, 200.0),),))
OUTLET = HomieOutlet(Cabin("tarn-hut", {"north": BANK_NORTH}), lambda *_, **__: None)


@pytest.mark.parametrize(
    "topic", ["plain", "contact", "json", "pairs", "senml", "homie/5/shunt/dc/voltage", "homie/5/shunt/$description"]
)
def test_no_payload_breaks_a_decoder_or_gets_a_number_that_is_none_through(topic: str) -> None:
    @FUZZ
    @given(payload=PAYLOADS, retain=st.booleans())
    def run(payload: bytes, retain: bool) -> None:
        decoded = ROUTES.decode(Message(topic, payload, AT, retain))
        for reading in decoded.readings:
            assert isinstance(reading.value, float) and abs(reading.value) < float("inf")
            assert reading.at == AT and reading.measured_at <= AT + 120.0
        assert (
            decoded.readings
            or decoded.rejected
            or topic.endswith("$description")
            or topic == "homie/5/shunt/dc/voltage"
        )
        for rejected in decoded.rejected:
            assert len(rejected.reason) < 40, "from a small fixed set"

    run()


@FUZZ
@given(raw=st.one_of(LEAVES, st.dates().map(str), st.datetimes().map(str)))
def test_no_time_of_a_meter_is_believed_beyond_its_tolerance(raw: object) -> None:
    seconds = own_time(raw, AT)
    assert seconds is None or AT - 31 * 86400.0 < seconds <= AT + 120.0


@FUZZ
@given(payload=st.one_of(PAYLOADS, st.fixed_dictionaries({
    "kind": st.sampled_from(["gravity", "water", "note", "voltage", "x"]),
    "values": st.one_of(TREES, st.dictionaries(st.sampled_from(["N1.1", "", "x" * 50]), LEAVES)),
    "taken_at": LEAVES, "temperature": LEAVES, "undo": LEAVES}).map(lambda d: json.dumps(d).encode())))  # fmt: skip
def test_a_hand_reading_is_read_or_refused_in_words(payload: bytes) -> None:
    try:
        reading = parse_record("north", AT, payload)
    except ValueError as error:
        assert str(error)
    else:
        assert isinstance(reading, HandReading) and reading.taken_at <= AT


@FUZZ
@given(topic=st.sampled_from(OUTLET.command_topics()), payload=PAYLOADS, retain=st.booleans(), age=st.floats(0.0, 60.0))
def test_a_command_is_an_act_a_refusal_or_nothing_and_never_when_kept_or_old(
    topic: str, payload: bytes, retain: bool, age: float
) -> None:
    told = OUTLET.command(Message(topic, payload, AT - age, retain), AT)
    assert told is None or isinstance(told, Command | HandReading | Event)
    if retain or age > 10.0:
        assert told is None


@FUZZ
@given(text=st.one_of(st.text(), TREES.map(json.dumps), st.fixed_dictionaries({
    "act": LEAVES, "number": st.one_of(st.integers(), LEAVES), "volts": st.lists(LEAVES),
}).map(json.dumps)))  # fmt: skip
def test_an_arrangement_is_read_or_refused(text: str) -> None:
    try:
        told = parse_arrangement(text.encode("utf-8", "surrogatepass"))
        assert set(told) <= {"act", "number", "volts", "sure"} and type(told["number"]) is int
    except ValueError as error:
        assert str(error)


@FUZZ
@given(text=st.one_of(st.text(), st.floats().map(str), st.integers().map(str), st.datetimes().map(str)))
def test_a_time_told_on_the_bus_is_taken_only_when_it_can_be(text: str) -> None:
    clock = ToldClock()
    before = clock.now()
    clock.tell(text)
    clock.follow()
    assert clock.trusted or abs(clock.now() - before) < 60.0
    assert clock.now() < 4_102_444_800.0 + 60.0


def test_a_request_to_the_control_socket_is_answered_whatever_it_is(tmp_path: Path) -> None:
    asked: queue.SimpleQueue[Asked] = queue.SimpleQueue()

    def deliver(request: Asked) -> None:
        asked.put(request)
        request.reply.put({"ok": True})

    control = Control(tmp_path / "control", deliver, lambda: AT)

    @settings(max_examples=300, deadline=None)
    @given(payload=PAYLOADS.filter(lambda payload: b"\n" not in payload))
    def run(payload: bytes) -> None:
        with socket.socket(socket.AF_UNIX) as connection:
            connection.settimeout(20.0)
            connection.connect(str(control.path))
            connection.sendall(payload + b"\n")
            with connection.makefile("rb") as lines:
                answer = json.loads(lines.readline())
        assert answer == {"ok": True} or "error" in answer

    run()
    for payload in (b"[" * 90_000, b'"' + b"x" * 200_000):
        with socket.socket(socket.AF_UNIX) as connection:
            connection.settimeout(20.0)
            connection.connect(str(control.path))
            connection.sendall(payload + b"\n")
            with connection.makefile("rb") as lines:
                assert b"error" in lines.readline()
    assert (tmp_path / "control").stat().st_mode & 0o077 == 0, "for the user who runs the bridge alone"
    control.close()


def test_payloads_have_a_greatest_size_and_depth() -> None:
    assert LARGEST_PAYLOAD <= 64 * 1024
    for payload, reason in ((b"1" * (LARGEST_PAYLOAD + 1), "too large"), (b"[" * 1000, "nested too deeply")):
        assert [rejected.reason for rejected in ROUTES.decode(Message("json", payload, AT)).rejected] == [reason]


def test_what_can_be_set_over_the_bus_is_this_and_no_limit_among_it() -> None:
    settable = {one.path for one in BANK if one.settable}
    assert settable == {
        "revival/command", "revival/checklist", "revival/checklist-by", "revival/checklist-confirm",
        "revival/arrange", "cells/record", "safety/reset", "safety/prove", "safety/prove-auto-off",
    }  # fmt: skip
    assert not any(one.retained for one in BANK if one.settable)


def test_no_code_comes_from_configuration_or_payload() -> None:
    forbidden = {"eval", "exec", "compile", "__import__"}
    modules = {"pickle", "marshal", "shelve", "code", "codeop"}
    for path in [*(ROOT / "bridge").rglob("*.py"), *(ROOT / "rules").rglob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id not in forbidden, f"{path}:{node.lineno}"
            if isinstance(node, ast.Import | ast.ImportFrom):
                named = {alias.name.split(".")[0] for alias in node.names} | {getattr(node, "module", None) or ""}
                assert not named & modules, f"{path}:{node.lineno}"
            if isinstance(node, ast.keyword) and node.arg == "shell":
                raise AssertionError(f"{path}:{node.value.lineno}: a shell")


# ------------------------------------------------- what is installed, as far as that can be told without a network


def declared() -> list[Requirement]:
    """Every dependency that the bridge itself runs with, extras included."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    extras = project["optional-dependencies"]
    return [Requirement(text) for text in (*project["dependencies"], *extras["demo"], *extras["page"])]


@pytest.mark.parametrize("requirement", declared(), ids=lambda requirement: requirement.name)
def test_every_dependency_is_within_its_range_and_its_files_are_those_that_were_installed(
    requirement: Requirement,
) -> None:
    distribution = metadata.distribution(requirement.name)
    assert requirement.specifier.contains(distribution.version), distribution.version
    for file in distribution.files or ():
        if file.hash is not None and file.suffix == ".py":
            digest = hashlib.new(file.hash.mode, Path(str(file.locate())).read_bytes()).digest()
            assert base64.urlsafe_b64encode(digest).rstrip(b"=").decode() == file.hash.value, file


def brought_along() -> dict[str, metadata.Distribution]:
    """The bridge and everything that it brings into an installation, by normalised name."""
    found: dict[str, metadata.Distribution] = {}
    waiting = [Requirement("revival-bridge[demo,page]")]
    while waiting:
        wanted = waiting.pop()
        name = canonicalize_name(wanted.name)
        if name in found and not wanted.extras:
            continue
        found[name] = metadata.distribution(wanted.name)
        for text in found[name].requires or ():
            needed = Requirement(text)
            if needed.marker is None or any(needed.marker.evaluate({"extra": extra}) for extra in wanted.extras | {""}):
                waiting.append(needed)
    return found


def test_every_range_has_both_ends() -> None:
    for requirement in declared():
        ends = {"exact" if one.operator == "==" else one.operator for one in requirement.specifier}
        assert ends in ({"exact"}, {">=", "<"}), requirement


def test_what_is_brought_along_is_all_there_and_agrees_with_each_other() -> None:
    words = [sys.executable, "-m", "pip", "check", "--disable-pip-version-check"]
    finished = subprocess.run(words, capture_output=True, text=True, timeout=120, check=False)
    assert finished.returncode in (0, 1), finished.stderr
    ours = brought_along().keys()
    assert len(ours) > len(declared())
    told = [line for line in finished.stdout.splitlines() if canonicalize_name(line.split()[0]) in ours]
    assert told == [], "of the test packages others may disagree; these may not"


def test_what_is_brought_along_may_be_passed_on_without_conditions_on_our_own_code() -> None:
    for name, distribution in brought_along().items():
        about = distribution.metadata
        classified = [one for one in about.get_all("Classifier") or () if one.startswith("License ::")]
        words = " ".join(
            [
                *about.get_all("License-Expression", []),
                *[one[:200] for one in about.get_all("License", [])],
                *classified,
            ]
        )
        assert re.search(r"MIT|BSD|Apache|PSF|Python Software Foundation|MPL-2\.0|Mozilla Public", words), (name, words)
        assert not re.search(r"(?<![A-Z])A?GPL|GNU (Affero )?General", words), (name, words)


def test_an_error_a_person_sees_is_one_of_ours() -> None:
    assert {error.exit_code for error in BridgeError.__subclasses__()} == {2, 4, 5, 70, 78}
