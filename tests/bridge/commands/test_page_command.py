"""`revival page`: leads a phone to the page, and makes the token without showing it."""

from __future__ import annotations

import contextlib
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.config import load
from bridge.config.text import starting_file
from tests.support.cabin import write_cabin


def cabin(folder: Path, page: str) -> Path:
    return write_cabin(folder, 1883, relay=False, extra=f"\n[page]\n{page}\n")


def test_the_token_is_made_once_private_and_never_printed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = cabin(tmp_path, 'listen = "127.0.0.1:8170"\ntoken_file = "page-token"')
    assert main(["page", "--config", str(path)]) == 0
    file = tmp_path / "page-token"
    token = file.read_text().strip()
    assert len(token) >= 24 and stat.S_IMODE(file.stat().st_mode) == 0o600
    first = capsys.readouterr().out
    assert f"token made: {file}" in first and token not in first
    assert main(["page", "--config", str(path)]) == 0
    second = capsys.readouterr().out
    assert file.read_text().strip() == token and token not in second and "token made" not in second


def test_a_page_of_this_host_alone_says_how_a_phone_gets_at_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["page", "--config", str(cabin(tmp_path, 'listen = "127.0.0.1:8170"'))]) == 0
    told = capsys.readouterr().out
    assert "http://127.0.0.1:8170/" in told
    assert 'listen = "0.0.0.0:8170"' in told and "not encrypted" in told
    assert main(["page", "--config", str(cabin(tmp_path, 'listen = "127.0.0.1:9123"'))]) == 0
    assert 'listen = "0.0.0.0:9123"' in capsys.readouterr().out, "the port stays"
    assert "only shows" in told
    assert "\u2588" not in told, "no code that leads a phone to itself"


def test_an_open_page_is_told_with_an_address_of_this_host_and_a_code(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bridge.words.page_address.outward", lambda family: "192.0.2.7")
    assert main(["page", "--config", str(cabin(tmp_path, 'listen = "0.0.0.0:8170"'))]) == 0
    told = capsys.readouterr().out
    assert "page:   http://192.0.2.7:8170/" in told
    assert "0.0.0.0:8170/" not in told
    # 23 characters in byte mode at level M: version 2, 25 modules a side (ISO/IEC 18004, table 7), and two of border.
    picture = [line for line in told.splitlines() if line and set(line) <= set("\u2588\u2580\u2584 ")]
    assert {len(line) for line in picture} == {25 + 2 * 2}


def test_the_token_s_file_is_named_with_how_to_show_it_and_an_open_page_says_that_nothing_is_encrypted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bridge.words.page_address.outward", lambda family: "192.0.2.7")
    path = cabin(tmp_path, 'listen = "0.0.0.0:8170"\ntoken_file = "page-token"')
    assert main(["page", "--config", str(path)]) == 0
    told = capsys.readouterr().out
    assert f"show it with:  cat {tmp_path / 'page-token'}" in told and "is not encrypted, the token neither" in told
    monkeypatch.setenv("HUT_TOKEN", "0123456789abcdef-planted")
    path = cabin(tmp_path, 'listen = "127.0.0.1:8170"\ntoken_env = "HUT_TOKEN"')
    assert main(["page", "--config", str(path)]) == 0
    told = capsys.readouterr().out
    assert "in the environment, as HUT_TOKEN" in told and "planted" not in told and "the token neither" not in told


def test_without_a_page_table_it_says_what_to_write(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["page", "--config", str(write_cabin(tmp_path, 1883, relay=False))]) == 2
    assert "[page]" in capsys.readouterr().err


def test_the_starting_file_has_the_page_on_for_this_host(tmp_path: Path) -> None:
    assert '\n[page]\nlisten = "127.0.0.1:8170"' in starting_file()


@pytest.mark.parametrize("table", ['\n[page]\nlisten = "127.0.0.1:8171"   # home\ntemperature = "degF"\n', ""])
def test_phones_are_let_in_by_one_command(tmp_path: Path, capsys: pytest.CaptureFixture[str], table: str) -> None:
    path = write_cabin(tmp_path, 1883, relay=False, extra=table)
    for _ in range(2):  # and again changes nothing
        assert main(["page", "--phones", "--config", str(path)]) == 0
    cabin = load(path).cabin
    page = cabin.page
    assert page is not None and page.token is not None
    assert (page.host, page.port) == ("0.0.0.0", 8171 if table else 8170)
    assert cabin.degrees == "degF", "as the file says, or its only thermometer"
    told = capsys.readouterr().out
    assert told.count("token made") == told.count("stands now") == 1 and "\u2588" in told
    before = told.partition("stands now")[0]
    assert "every device in every network of this host can open the page" in before and "not encrypted" in before
    assert told.count(f"opens it at port {page.port}") == 1 and "http://0.0.0.0" not in told
    assert (tmp_path / "page-token").read_text().strip() not in told


def test_a_terminal_shows_the_code_white_on_black_whatever_its_own_colours(tmp_path: Path) -> None:
    path = cabin(tmp_path, 'listen = "0.0.0.0:8170"')
    shown, terminal = os.openpty()
    with subprocess.Popen([sys.executable, "-m", "bridge", "page", "--config", str(path)], stdout=terminal):
        os.close(terminal)
        told = b""
        with contextlib.suppress(OSError):  # how a terminal says that nobody writes any more
            while piece := os.read(shown, 4096):
                told += piece
    os.close(shown)
    rows = [line for line in told.decode().splitlines() if "\u2588" in line]
    assert len(rows) > 10 and all(row.startswith("\x1b[97;40m") and row.endswith("\x1b[0m") for row in rows)


def test_a_cabin_file_copied_without_its_token_says_which_command_makes_one_and_is_then_changed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = '\n[page]\nlisten = "127.0.0.1:8170"\ntoken_file = "page-token"\n'
    file = write_cabin(tmp_path, 1, relay=False, extra=page)
    change = ["setup", "--output", str(file), "--site", "mill", "--no-rehearse"]
    assert main(change) != 0
    told = " ".join(capsys.readouterr().err.split())
    assert (
        'token_file = "page-token": cannot be read' in told and "`revival page` makes it, or correct the path" in told
    )
    assert main(["page", "--config", str(file)]) == 0 and (tmp_path / "page-token").exists()
    assert main(change) == 0 and 'id = "mill"' in file.read_text()
