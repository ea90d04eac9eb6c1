"""What the cabin file shows to be missing around the bridge: names that can be taken, orders that wait, open files."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from stat import S_IRGRP, S_IROTH, S_IXOTH

from bridge.config.models import CabinTable
from bridge.settings import Cabin

#: A charger is set in whole amps [A], common practice, no source.
WHOLE = 0.5
#: What a container or the service manager mounts here is for this process alone, whatever its mode says.
MOUNTED = "/run/"


def lacking(model: CabinTable, cabin: Cabin) -> Iterator[str]:
    """Yield what should be there and is not, each with its fix; `check` says it, and nothing is refused for it.

    Parameters
    ----------
    model : CabinTable
        The file's tables, for the paths of secrets.
    cabin : Cabin
        What was compiled from them.
    """
    broker = cabin.broker
    if cabin.relays and broker.password is None and broker.key_file is None:
        yield (
            "[broker]: without a password or a certificate of its own the bridge's names on the broker are no secret, "
            "and anybody there can take its sessions over: give it a user, and write username and password_file"
        )
    if cabin.relays and broker.protocol != "5":
        yield (
            f'[broker] protocol = "{broker.protocol}": an order to close cannot expire on its way: let the relay '
            'connect with a clean session, or write protocol = "5" where the broker speaks it'
        )
    yield from _strong(cabin)
    folder = Path(cabin.source).parent
    secrets = {
        "[broker] password_file": model.broker.password_file,
        "[broker] key_file": model.broker.key_file,
        "[influxdb] token_file": model.influxdb.token_file if model.influxdb is not None else None,
        "[influxdb] password_file": model.influxdb.password_file if model.influxdb is not None else None,
        "[notify] urls_file": model.notify.urls_file if model.notify is not None else None,
        "[notify] alive_url_file": model.notify.alive_url_file if model.notify is not None else None,
        "[page] key_file": model.page.key_file if model.page is not None else None,
        "[page] token_file": model.page.token_file if model.page is not None else None,
        "[journal] path": cabin.journal.path,
    }
    for key, name in secrets.items():
        if name is not None and read_by_others(path := folder / name):
            yield f"{key}: {path} can be read by others on this machine: chmod 600 {path}"
    if cabin.parcels is not None and _missing("pyarrow"):
        yield '[parcels]: pyarrow is missing; install the extra "fleet" (pip install "revival-bridge[fleet]")'
    yield from _open_urls(model, Path(cabin.source))


def _strong(cabin: Cabin) -> Iterator[str]:
    """Yield each bank whose charger gives more than its strings take: `revival plan` sets it lower."""
    for bank in cabin.banks.values():
        highest = max((setting.amps for setting in bank.chargers), default=0.0)
        most = bank.string_current_limit * len(bank.strings)
        if highest > most + WHOLE:
            yield (
                f"{bank.id}: its charger is set to {highest:g} A and its {len(bank.strings)} "
                f"{'string takes' if len(bank.strings) == 1 else 'strings take'} {most:.0f} A at most: set its amps "
                "lower, as `revival plan` says"
            )


def _missing(module: str) -> bool:
    try:
        return find_spec(module) is None
    except ValueError:  # somebody has said that it is not to be found
        return True


def _open_urls(model: CabinTable, file: Path) -> Iterator[str]:
    """Say where service URLs stand in the cabin file itself, and others can read it."""
    notify = model.notify
    if notify is not None and (notify.urls or notify.alive_url) and read_by_others(file):
        yield (
            f"[notify]: URLs of services mostly hold a password, and {file} can be read by others on this machine: "
            f"move them into a file of their own and write urls_file, or chmod 600 {file}"
        )


def read_by_others(path: Path) -> bool:
    """Whether group or others may read a file that exists, in folders that everybody may enter."""
    path = path.resolve()
    try:
        if str(path).startswith(MOUNTED) or not path.stat().st_mode & (S_IRGRP | S_IROTH):
            return False
        return all(folder.stat().st_mode & S_IXOTH for folder in path.parents)
    except OSError:
        return False
