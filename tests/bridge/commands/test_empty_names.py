"""A name that is given and empty is refused where it is typed: nobody is no name."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.cli import main
from tests.support.cabin import write_cabin

NOBODY = ["", "   "]


@pytest.mark.parametrize("name", NOBODY)
@pytest.mark.parametrize(
    "words",
    [
        ["checklist", "--read", "all", "--name"],
        ["witness", "--name"],
        ["record", "level", "low", "--by"],
        ["export", "--site"],
    ],
)
def test_a_person_without_a_name_is_refused(
    words: list[str], name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = write_cabin(tmp_path, 1)
    with pytest.raises(SystemExit) as ended:
        main([words[0], "--config", str(file), *words[1:], name])
    assert ended.value.code == 2
    assert f"{words[-1]}: is empty: say which, such as" in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize("option", ["site", "bank", "username", "broker"])
def test_setup_takes_no_empty_name_for_the_first_time(
    option: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    where = [] if option == "broker" else ["--broker", "127.0.0.1:1"]
    assert main(["setup", "--yes", *where, f"--{option}", "", "--output", str(tmp_path / "cabin.toml")]) == 2
    assert f"--{option}" in capsys.readouterr().err


@pytest.mark.parametrize("option", ["site", "bank", "username", "relay"])
def test_setup_takes_no_empty_name_in_a_file_that_is_there(
    option: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = write_cabin(tmp_path, 1)
    before = file.read_text()
    assert main(["setup", "--output", str(file), f"--{option}", ""]) == 2
    assert f"--{option}" in capsys.readouterr().err and file.read_text() == before
