"""`revival service`: the unit it writes is one that systemd accepts, and it does nothing that it has not said."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.commands import service
from bridge.errors import UsageError
from tests.support.brokers import need
from tests.support.cabin import write_cabin


@pytest.fixture
def host(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A host whose service manager writes down what it is told."""
    (tmp_path / "units").mkdir()
    (tmp_path / "bin").mkdir()
    manager = tmp_path / "bin/systemctl"
    manager.write_text(f'#!/bin/sh\necho "$*" >> {tmp_path}/told\n')
    manager.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}/bin:{os.environ['PATH']}")
    monkeypatch.setattr(service, "UNITS", tmp_path / "units")
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    return tmp_path


def someones(path: Path, user: int = 1) -> Path:
    """Give the cabin file to somebody: `daemon`, whom every host has."""
    os.chown(path, user, user)
    return path


def verify(text: str, folder: Path) -> None:
    """Let systemd itself read the unit."""
    place = folder / service.NAME
    place.write_text(re.sub(r"(?m)^ExecStart=\S+", "ExecStart=/bin/true", text))
    done = subprocess.run([need("systemd-analyze"), "verify", str(place)], check=False, capture_output=True, text=True)
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


def test_install_says_and_does_the_same_and_uninstall_takes_it_away(
    host: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    config = someones(write_cabin(host, 1, extra='\n[page]\ntoken_file = "page-token"\n'))
    for beside in ("page-token", f".{config.name}.rehearsed"):
        (host / beside).write_text("abcdefghijklmnopqrstuvwx\n")
    assert main(["service", "install", "--config", str(config)]) == 0
    said = capsys.readouterr().out
    told = (host / "told").read_text().splitlines()
    assert told == ["daemon-reload", f"enable {service.NAME}", f"restart {service.NAME}"]
    assert f"as daemon, writing in {host} alone: {sys.prefix}/bin/revival run --config {config}" in said
    assert f"  how it is        {sys.prefix}/bin/revival status --config {config}" in said
    text = (host / "units" / service.NAME).read_text()
    for line in ("User=daemon", f"WorkingDirectory={host}", f"ReadWritePaths={host}", "ProtectSystem=strict"):
        assert line in text.splitlines()
    assert "DynamicUser" not in text and "LoadCredential" not in text
    verify(text, host)
    assert main(["service", "install", "--config", str(config)]) == 0, "the same once more is no overwriting"
    capsys.readouterr()
    assert main(["service", "uninstall"]) == 0
    said = capsys.readouterr().out
    assert f"the cabin file {config}" in said and f"the journal {host / 'revival.db'}" in said
    assert "told to open when the bridge ends" in said and f"remove its environment {sys.prefix}" in said
    assert f"it goes with: rm {host}/.{config.name}.rehearsed {host}/page-token" in said
    topics = "-t 'homie/5/tarn-hut/#' -t 'homie/5/tarn-hut-north/#'"
    assert f"mosquitto_sub -h 127.0.0.1 -p 1 {topics} --remove-retained" in said
    assert not (host / "units" / service.NAME).exists()
    assert config.exists()
    assert (host / "told").read_text().splitlines()[-2:] == [f"disable --now {service.NAME}", "daemon-reload"]
    assert main(["service", "uninstall"]) == 2


def test_print_does_nothing_and_needs_nobodys_leave(
    host: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    config = someones(write_cabin(host, 1))
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    assert main(["service", "install", "--print", "--config", str(config)]) == 0
    assert "Nothing was done." in capsys.readouterr().out
    assert not (host / "told").exists() and not list((host / "units").iterdir())
    assert main(["service", "install", "--config", str(config)]) == 2
    assert f"sudo {sys.prefix}/bin/revival service install --config {config}" in capsys.readouterr().err
    assert not (host / "told").exists()


def test_another_unit_is_not_overwritten_silently(host: Path, capsys: pytest.CaptureFixture[str]) -> None:
    config = someones(write_cabin(host, 1))
    (host / "units" / service.NAME).write_text("[Service]\nExecStart=/usr/bin/true\n")
    assert main(["service", "install", "--config", str(config)]) == 2
    assert "--force replaces it" in capsys.readouterr().err
    assert main(["service", "install", "--config", str(config), "--force"]) == 0


@pytest.fixture
def outside(monkeypatch: pytest.MonkeyPatch) -> None:
    """A program whose Python lies in nobody's home."""
    monkeypatch.setattr(sys, "base_prefix", "/usr")


@pytest.mark.usefixtures("outside")
def test_printing_says_what_stands_in_the_way_and_refuses_nobody(
    host: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    config = write_cabin(host, 1)  # root's own, with its journal beside it
    assert main(["service", "install", "--print", "--config", str(config)]) == 0
    said = capsys.readouterr().out
    assert f"by hand: {config} is root's, so its journal has to lie in /var/lib/revival" in said
    assert "systemctl enable revival-bridge" in said and said.rstrip().endswith("Nothing was done.")
    assert main(["service", "install", "--config", str(config)]) == 2, "and what was printed is so"
    assert "its journal has to lie in /var/lib/revival" in capsys.readouterr().err
    assert not (host / "told").exists() and not list((host / "units").iterdir())
    (host / "units" / service.NAME).write_text("[Service]\nExecStart=/usr/bin/true\n")
    assert main(["service", "install", "--print", "--config", str(someones(config))]) == 0
    assert "is another: --force replaces it" in capsys.readouterr().out


def test_a_service_without_a_home_is_not_installed_where_it_could_not_start(
    host: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "base_prefix", f"{service.HOMES[1]}python")
    with pytest.raises(UsageError, match=rf"sees no home, and {service.HOMES[1]}python lies in one"):
        service.unit(write_cabin(host, 1))


@pytest.mark.usefixtures("outside")
def test_roots_file_runs_as_nobody_special_with_its_secrets_handed_over(host: Path) -> None:
    config = write_cabin(host, 1)
    login = 'port = 1\nusername = "revival"\npassword_file = "{}"'
    (host / "broker").write_text("a-secret")
    with pytest.raises(UsageError, match=r'put path = "/var/lib/revival/revival\.db" below'):
        service.unit(config)
    text = config.read_text().replace('path = "revival.db"', 'path = "/var/lib/revival/revival.db"')
    config.write_text(text.replace("port = 1", login.format(host / "broker")))
    with pytest.raises(UsageError, match=f'name it "{service.CREDENTIALS}broker"'):
        service.unit(config)
    config.write_text(text)
    made = service.unit(config)
    assert "DynamicUser=yes" in made and "LoadCredential" not in made
    verify(made, host)
    handed = service._with_credentials(made, ["broker", "influx"])
    assert "LoadCredential=influx:/etc/revival/secrets/influx" in handed.splitlines()
    verify(handed, host)


def test_a_home_is_seen_by_the_service_only_where_something_of_the_bridge_lies_there(host: Path) -> None:
    shipped = (Path(service.__file__).parent / service.NAME).read_text()
    outside = service._for_person(shipped, 65534, Path("/srv/hut/cabin.toml"), Path("/srv/hut"))
    inside = service._for_person(shipped, 65534, Path("/home/ada/cabin.toml"), Path("/home/ada"))
    program_at_home = (sys.prefix + "/").startswith(service.HOMES) or (sys.base_prefix + "/").startswith(service.HOMES)
    assert "ProtectHome=read-only" in inside
    assert ("ProtectHome=yes" in outside) == (not program_at_home)


def test_a_bank_without_a_relay_is_told_of_none_when_its_service_goes(
    host: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    config = someones(write_cabin(host, 1, relay=False))
    assert main(["service", "install", "--config", str(config)]) == 0
    capsys.readouterr()
    assert main(["service", "uninstall"]) == 0
    said = capsys.readouterr().out
    assert "The relay" not in said and "Nobody watches the bank now" in said


def test_the_unit_of_the_package_is_the_packages_to_remove(
    host: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    own = host / "packaged"
    own.mkdir()
    (own / service.NAME).write_text("[Service]\n")
    monkeypatch.setattr(service, "PACKAGE_UNITS", (own,))
    assert main(["service", "uninstall"]) == 2
    assert "`sudo apt remove revival-bridge`" in capsys.readouterr().err
    config = someones(write_cabin(host, 1))
    assert main(["service", "install", "--config", str(config)]) == 2
    assert "has a unit of its own" in capsys.readouterr().err and not list((host / "units").iterdir())
    assert main(["service", "install", "--config", str(config), "--force"]) == 0


@pytest.mark.parametrize(
    ("prefix", "how"),
    [
        ("/home/ann/.local/share/pipx/venvs/revival-bridge", "`pipx uninstall revival-bridge`"),
        ("/opt/pipx/venvs/revival-bridge", "`sudo pipx uninstall --global revival-bridge`"),
        ("/usr/lib/revival-bridge", "`sudo apt remove revival-bridge`; `apt purge` takes /etc/revival"),
        ("/opt/revival", "remove its environment /opt/revival"),
    ],
)
def test_the_program_is_removed_as_it_was_installed(
    host: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, prefix: str, how: str
) -> None:
    assert main(["service", "install", "--config", str(someones(write_cabin(host, 1)))]) == 0
    monkeypatch.setattr(sys, "prefix", prefix)
    assert main(["service", "uninstall"]) == 0
    assert f"the program: {how}" in capsys.readouterr().out
    # who only wants the program gone is told how, though no service is there
    assert main(["service", "uninstall"]) == 2
    assert f"the program itself: {how}" in capsys.readouterr().err
