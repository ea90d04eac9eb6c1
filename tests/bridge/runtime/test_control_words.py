"""Where no bridge runs any more people are told so, and not of sockets."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest

from bridge.errors import CannotReachError
from bridge.runtime.control_socket import ask, socket_path


def test_a_bridge_that_was_killed_is_said_not_to_run(tmp_path: Path) -> None:
    journal = tmp_path / "revival.db"
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as left:
        left.bind(str(socket_path(journal)))
    with pytest.raises(CannotReachError, match=r"no bridge runs on .*: start it with `revival run`"):
        ask(journal, {"ask": "status"})
