"""`revival service`: the bridge as a service of this host, begun with it and again whenever it ends."""

from __future__ import annotations

import argparse
import os
import pwd
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from importlib.resources import files
from pathlib import Path
from typing import NamedTuple

from bridge.commands.files import add_config
from bridge.commands.rehearse import played
from bridge.config import SYSTEM_DATA, SYSTEM_FOLDER, Loaded, load
from bridge.errors import BridgeError, UsageError
from bridge.runtime.control_socket import ask
from bridge.settings import Cabin

NAME = "revival-bridge.service"
UNITS = Path("/etc/systemd/system")
#: Where the Debian package lays the program, and units.
PACKAGED = Path("/usr/lib/revival-bridge")
PACKAGE_UNITS = (Path("/usr/lib/systemd/system"), Path("/lib/systemd/system"))
#: Where a service manager shows a secret to the service alone, and where its owner keeps it.
CREDENTIALS, SECRETS = f"/run/credentials/{NAME}/", Path("/etc/revival/secrets")
#: Folders that the unit hides from the service, unless something of the bridge lies in one.
HOMES = ("/home/", "/root/", "/run/user/")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_config(parser)
    parser.add_argument(
        "what",
        choices=("install", "uninstall"),
        help="install: begin it now and with this host; uninstall: end it and take its unit away, nothing else",
    )
    parser.add_argument("--print", action="store_true", dest="only_print", help="say what would be done, do nothing")
    parser.add_argument("--force", action="store_true", help="replace a unit that is there and is another")


def run(arguments: argparse.Namespace) -> int:
    """Install or remove the unit; every step is said before it is done."""
    stays = [] if arguments.what == "install" else _stays()
    steps = _install(arguments) if arguments.what == "install" else _uninstall(arguments)
    for step in steps:
        print(f"  {step.words}")
        if not arguments.only_print:
            step.do()
    if arguments.only_print:
        print("Nothing was done.")
    elif arguments.what == "install":
        config = Path(os.path.abspath(arguments.config))  # noqa: PTH100  (as in the unit)
        roots = "sudo " if config.stat().st_uid == 0 else ""
        print("It runs now and after every start of this host.")
        print(f"  how it is        {roots}{program()} status --config {config}")
        print("  its log          sudo journalctl -u revival-bridge")
        print(f"  to take it away  sudo {program()} service uninstall")
    else:
        print("\n".join(stays))
    return 0


class Step(NamedTuple):
    """What is done, in words, and how: a file to write, a file to remove, or a command."""

    words: str
    write: tuple[Path, str] | None = None
    remove: Path | None = None
    command: tuple[str, ...] = ()

    def do(self) -> None:
        """Do it.

        Raises
        ------
        UsageError
            The system refuses.
        """
        try:
            if self.write is not None:
                self.write[0].write_text(self.write[1], encoding="utf-8")
            if self.remove is not None:
                self.remove.unlink(missing_ok=True)
        except OSError as error:
            raise UsageError(f"{error.filename}: {error.strerror}: is this run by root (sudo)?") from None
        if self.command and subprocess.run(self.command, check=False).returncode:
            raise UsageError(f"`{' '.join(self.command)}` failed: its own words stand above")


def _install(arguments: argparse.Namespace) -> Iterator[Step]:
    config = Path(os.path.abspath(arguments.config))  # noqa: PTH100  (a link in it stays the owner's link)
    place = UNITS / NAME
    try:
        text = unit(config)
        _may(arguments, f"install --config {config}")
        known = place.read_text(encoding="utf-8") if place.exists() else None
        if known is None and not arguments.force and (own := packaged()):
            raise UsageError(
                f"the Debian package has a unit of its own, {own}: it runs on {SYSTEM_FOLDER / 'cabin.toml'} after "
                "`sudo systemctl restart revival-bridge`; --force puts another in front of it"
            )
        if known is not None and known != text and not arguments.force:
            raise UsageError(f"{place} is there already and is another: --force replaces it")
        if known is None:
            _nobody_else(config)
        yield Step(f"write {place}: {_said(text)}", write=(place, text))
    except UsageError as error:
        if not arguments.only_print:
            raise
        # Whoever only asks is told what stands in the way beside what would be done.
        yield Step(f"before anything else, by hand: {error}")
        yield Step(f"write {place}")
    yield Step("systemctl daemon-reload", command=("systemctl", "daemon-reload"))
    yield Step("systemctl enable revival-bridge", command=("systemctl", "enable", NAME))
    yield Step("systemctl restart revival-bridge", command=("systemctl", "restart", NAME))


def _uninstall(arguments: argparse.Namespace) -> Iterator[Step]:
    place = UNITS / NAME
    if not place.exists():
        own = packaged()
        hint = f"; the unit {own} is the Debian package's: `sudo apt remove revival-bridge` ends and removes it"
        program_too = hint if own else f"; the program itself: {_removal(Path(sys.prefix))}"
        raise UsageError(f"{place} is not there: this command installed no service on this host{program_too}")
    _may(arguments, "uninstall")
    yield Step("systemctl disable --now revival-bridge", command=("systemctl", "disable", "--now", NAME))
    yield Step(f"remove {place}", remove=place)
    yield Step("systemctl daemon-reload", command=("systemctl", "daemon-reload"))


def _stays() -> list[str]:
    """Return what an uninstalled service leaves behind, each by its place, and who watches from then on."""
    place = UNITS / NAME
    text = place.read_text(encoding="utf-8") if place.exists() else ""
    named = re.search(r"(?m)^ExecStart=.* --config (.*)$", text)
    lines = ["The service and its unit are gone, and nothing else. Still there, and yours to keep or to remove:"]
    relay = True  # where the file cannot be read, there may be one
    if named is not None:
        lines.append(f"  the cabin file {named[1]}, and the secrets that it names")
        with suppress(BridgeError):
            loaded = load(Path(named[1]))
            cabin = loaded.cabin
            relay = bool(cabin.relays)
            lines.append(f"  the journal {cabin.journal.path}, with all that was measured and noted")
            beside = [path for path in _beside(Path(named[1]), loaded) if path.exists()]
            if beside:
                files_too = " ".join(shlex.quote(str(path)) for path in beside)
                lines.append(f"  what lies beside the cabin file; it goes with: rm {files_too}")
            lines.append(f"  on the broker, what the bridge announced below {cabin.root}; it goes with:")
            lines.append(f"    {_clearing(cabin)}")
            if loaded.model.hub is not None:
                lines.append("    and the documents for a hub: run the bridge once with [hub] taken out of the file")
    lines.append(f"  the program: {_removal(Path(sys.prefix))}")
    told = "The relay is told to open when the bridge ends: see that it is open." if relay else ""
    return [*lines, f"{told} Nobody watches the bank now: is it charged, switch the charger off by hand.".strip()]


def _beside(config: Path, loaded: Loaded) -> list[Path]:
    """Return the small files that commands have put beside the cabin file."""
    page = loaded.model.page
    token = [config.parent / page.token_file] if page is not None and page.token_file is not None else []
    return [played(config), *token]


def _clearing(cabin: Cabin) -> str:
    """Return the command that clears what the bridge has left with the broker."""
    broker = cabin.broker
    login = f" -u {shlex.quote(broker.username)} -P PASSWORD" if broker.username else ""
    devices = [cabin.site, *(f"{cabin.site}-{bank}" for bank in cabin.banks)]
    topics = " ".join(f"-t '{cabin.root}/{device}/#'" for device in devices)
    return f"mosquitto_sub -h {broker.host} -p {broker.port}{login} {topics} --remove-retained --retained-only -W 5"


def _removal(prefix: Path) -> str:
    """Say how the program itself is removed, as it was installed."""
    if "pipx" in prefix.parts:
        everybodys = prefix.is_relative_to("/opt")
        return f"`{'sudo pipx uninstall --global' if everybodys else 'pipx uninstall'} revival-bridge`"
    if prefix.is_relative_to(PACKAGED):
        return (
            f"`sudo apt remove revival-bridge`; `apt purge` takes {SYSTEM_FOLDER} and the journal in {SYSTEM_DATA} too"
        )
    return f"remove its environment {prefix}, unless something else of yours lies in it"


def packaged() -> Path | None:
    """Return the unit that the Debian package brought, where there is one."""
    return next((folder / NAME for folder in PACKAGE_UNITS if (folder / NAME).exists()), None)


def _may(arguments: argparse.Namespace, words: str) -> None:
    """Refuse where it could not be done, with the line that can."""
    if arguments.only_print:
        return
    if shutil.which("systemctl") is None:
        raise UsageError("this host has no systemd; let its own service manager run `revival run --config FILE`")
    if os.geteuid() != 0:
        raise UsageError(f"a service is root's to install and to take away: sudo {program()} service {words}")


def _nobody_else(config: Path) -> None:
    """Refuse while a bridge that somebody started by hand runs on this file."""
    with suppress(BridgeError):
        ask(load(config).cabin.journal.path, {"ask": "status"})
        raise UsageError(f"a bridge runs on {config} already: end it first (Ctrl-C in its terminal)")


def program() -> Path:
    """Return the installed program that this is.

    Raises
    ------
    UsageError
        It runs without being installed.
    """
    found = Path(sys.prefix) / "bin" / "revival"
    if not found.exists():
        raise UsageError(f"{found} is not there: install the program first (pipx, pip or the package)")
    return found


def unit(config: Path) -> str:
    """Return the unit for a cabin file: run as the file's owner, or as nobody special where that is root.

    Raises
    ------
    UsageError
        Such a service could not read or write what the file names.
    """
    loaded = load(config)
    shipped = files("bridge.commands").joinpath(NAME).read_text(encoding="utf-8")
    owner = config.stat().st_uid
    start = f"ExecStart={program()} run --config {config}"
    text = re.sub(r"(?m)^ExecStart=.*$", lambda _: start, shipped)
    journal = loaded.cabin.journal.path.parent
    named = re.findall(r'(?m)^\s*\w+_file\s*=\s*"([^"]+)"', config.read_text(encoding="utf-8"))
    if owner == 0:
        return _for_nobody_special(text, config, journal, named)
    return _for_person(text, owner, config, journal)


def _for_nobody_special(text: str, config: Path, journal: Path, named: list[str]) -> str:
    """Return the unit whose user exists only while it runs: data in the system's folder, secrets handed over."""
    hidden = next((path for path in (config, program(), Path(sys.base_prefix)) if f"{path}/".startswith(HOMES)), None)
    if hidden is not None:
        mend = (
            f"put the file at {SYSTEM_FOLDER / 'cabin.toml'}"
            if hidden == config
            else "install the program outside of it (a venv in /opt/revival, or pipx with --global)"
        )
        raise UsageError(
            f"{config} is root's, so the service runs as a user of its own, which sees no home, and {hidden} lies in "
            f"one: {mend}, or give file and folder to the person whose service it is"
        )
    if not journal.is_relative_to(SYSTEM_DATA):
        path = SYSTEM_DATA / "revival.db"
        raise UsageError(
            f"{config} is root's, so its journal has to lie in {SYSTEM_DATA}, where the service may write: "
            f'put path = "{path}" below [journal] in that file'
        )
    shown = [name.removeprefix(CREDENTIALS) for name in named if name.startswith(CREDENTIALS)]
    other = [name for name in named if not name.startswith(CREDENTIALS)]
    if other:
        raise UsageError(
            f"{config} is root's, and the service could not read {other[0]}: put the secret into {SECRETS} "
            f'and name it "{CREDENTIALS}{Path(other[0]).name}"'
        )
    return _with_credentials(text, shown)


def _with_credentials(text: str, names: list[str]) -> str:
    """Exchange the shipped unit's credentials for these."""
    lines = [
        line for line in text.splitlines() if "LoadCredential=" not in line and "time-series database also" not in line
    ]
    behind = lines.index("WorkingDirectory=/var/lib/revival") + 1
    lines[behind:behind] = [f"LoadCredential={name}:{SECRETS / name}" for name in names]
    return "\n".join(lines) + "\n"


def _for_person(text: str, owner: int, config: Path, journal: Path) -> str:
    """Return the unit that runs as the cabin file's owner, in its folder, with the secrets where they are."""
    folders = dict.fromkeys((config.parent, journal))
    text = _with_credentials(text, [])
    text = re.sub(r"(?m)^DynamicUser=yes$", f"User={pwd.getpwuid(owner).pw_name}", text)
    text = re.sub(r"(?m)^StateDirectory(Mode)?=.*\n", "", text)
    text = re.sub(r"(?m)^# Secrets stay readable.*\n", "", text)
    writable = "".join(f"ReadWritePaths={folder}\n" for folder in folders)
    text = text.replace("WorkingDirectory=/var/lib/revival\n", f"WorkingDirectory={config.parent}\n{writable}")
    inside = [str(path) + "/" for path in (*folders, Path(sys.prefix), Path(sys.base_prefix))]
    if any(path.startswith(HOMES) for path in inside):
        text = text.replace("ProtectHome=yes", "ProtectHome=read-only")
    return text


def _said(text: str) -> str:
    """Return in a few words what a unit does."""
    command = re.search(r"(?m)^ExecStart=(.*)$", text)
    user = re.search(r"(?m)^User=(.*)$", text)
    folders = re.findall(r"(?m)^ReadWritePaths=(.*)$", text) or [str(SYSTEM_DATA)]
    who = user[1] if user else "a user of its own"
    return f"as {who}, writing in {' and '.join(folders)} alone: {command[1] if command else ''}"
