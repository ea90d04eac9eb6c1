"""The control socket, fed what no command of ours would send: answered with an error, and nothing ends."""

from __future__ import annotations

import json
import socket
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

import bridge.runtime.control_socket
from bridge.runtime.control_socket import ask, socket_path
from bridge.runtime.service import Service
from tests.support.brokers import free_port
from tests.support.cabin import write_cabin
from tests.support.running_bridge import turning

STRANGE = {
    "list": b"[]\n",
    "number": b"5\n",
    "null": b"null\n",
    "too large for a number": b'{"ask": "act", "bank": "north", "name": "bypass", "argument": {"minutes": 1e400}}\n',
    "infinity": b'{"ask": "act", "bank": "north", "name": "bypass", "argument": {"minutes": Infinity}}\n',
    "a number of 5,000 digits": b'{"ask": "act", "bank": "north", "name": "zero", "argument": ' + b"9" * 5000 + b"}\n",
    "argument is a number": b'{"ask": "act", "bank": "north", "name": "zero", "argument": 5}\n',
    "minutes nobody can count": b'{"ask": "record", "bank": "north", "kind": "voltage", "values": {"": 1e300}}\n',
    "nested 60,000 deep": b"[" * 60_000 + b"\n",
    "10 MB": b'{"ask": "' + b"x" * 10_000_000 + b'"}\n',
    "10 MB without an end": b" " * 10_000_000,
    "no UTF-8": b'{"ask": "\xff"}\n',
    "nothing": b"",
}


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    with turning(write_cabin(tmp_path_factory.mktemp("asked"), free_port())) as turned:
        yield turned


def answer_to(path: Path, payload: bytes, *, close: bool) -> bytes:
    """What comes back; with `close` the sender says that it has no more."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
        connection.settimeout(60.0)
        connection.connect(str(path))
        connection.sendall(payload)
        if close:
            connection.shutdown(socket.SHUT_WR)
        told = b""
        while piece := connection.recv(65536):
            told += piece
        return told


@pytest.mark.parametrize("what", STRANGE)
def test_f80_what_no_command_would_ask_is_answered_with_an_error(what: str, service: Service) -> None:
    told = json.loads(answer_to(socket_path(service.journal.path), STRANGE[what], close=True))
    assert "error" in told or told["refused"], told
    assert "bridge" in ask(service.journal.path, {"ask": "status"}), "and the bridge goes on"


def test_f80_who_says_nothing_is_told_so_and_holds_up_nobody(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bridge.runtime.control_socket, "ANSWER_WITHIN", 0.5)
    path = socket_path(service.journal.path)
    silent = []
    for _ in range(bridge.runtime.control_socket.MOST_AT_ONCE // 2):
        silent.append(socket.socket(socket.AF_UNIX, socket.SOCK_STREAM))
        silent[-1].connect(str(path))
    assert "bridge" in ask(service.journal.path, {"ask": "status"})
    for one in silent:
        one.settimeout(30.0)
        assert "error" in json.loads(one.recv(65536))
        one.close()


def test_f80_a_defect_in_answering_is_told_and_ends_nothing(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    def defect(*_: object) -> dict[str, object]:
        raise AttributeError("no such thing")

    monkeypatch.setattr(service, "status", defect)
    assert ask(service.journal.path, {"ask": "status"}) == {"error": "AttributeError: no such thing"}
    monkeypatch.undo()
    assert "bridge" in ask(service.journal.path, {"ask": "status"})


def test_f84_journal_and_socket_can_be_read_by_nobody_else(service: Service) -> None:
    folder = service.journal.path.parent
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in folder.glob("revival.db*")}
    assert {"revival.db", "revival.db-wal", "revival.db-shm", "revival.db.sock"} <= modes.keys()
    assert set(modes.values()) == {0o600}, modes


def test_f84_a_journal_that_an_earlier_version_left_open_is_closed_to_others(tmp_path: Path) -> None:
    path = write_cabin(tmp_path, free_port())
    with turning(path):
        pass
    journal = tmp_path / "revival.db"
    journal.chmod(0o644)
    with turning(path):
        assert {stat.S_IMODE(one.stat().st_mode) for one in tmp_path.glob("revival.db*")} == {0o600}
