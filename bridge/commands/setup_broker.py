"""`revival setup --broker` on a file that is there: the broker in it changes, and what differs is shown first."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from bridge.commands.listen import broker_of, let_in
from bridge.commands.setup_answers import Asker, proved, read_yes
from bridge.config import Loaded
from bridge.config.edit import add_table, drop_key, set_key
from bridge.config.services import BrokerTable
from bridge.errors import CannotReachError
from bridge.listen.write import escaped

#: What says where a broker is, and who we are there.
_WHERE, _LOGIN = {"host", "port"}, {"username", "password_file", "password_env"}
#: Keys of which a file has one.
_EITHER = {"password_file": "password_env", "password_env": "password_file"}


def broker_said(asker: Asker, table: BrokerTable) -> dict[str, str]:
    """Return key -> value, as the file writes it, of what the options say of the broker otherwise than the file.

    Raises
    ------
    UsageError
        An option makes no sense.
    """
    arguments = asker.arguments
    settings, secret = broker_of(arguments)
    said: dict[str, str] = {}
    if arguments.broker is not None:
        said |= {"host": f'"{escaped(settings.host)}"', "port": str(settings.port)}
    if arguments.username is not None:
        said["username"] = f'"{escaped(arguments.username)}"'
    if secret:
        key, _, value = secret.partition(" = ")
        said[key] = value
    if arguments.protocol is not None:
        said["protocol"] = f'"{arguments.protocol}"'
    if settings.tls:
        said["tls"] = "true"
    if settings.ca_file is not None:
        said["ca_file"] = f'"{escaped(str(settings.ca_file))}"'
    return {key: value for key, value in said.items() if value != _present(table, key)}


def moved(asker: Asker, file: Path, loaded: Loaded, text: str, said: Mapping[str, str]) -> str:
    """Return the text with another broker, if somebody who is asked agrees; says what differs.

    One that does not let us in is written only where somebody says so.

    Parameters
    ----------
    said : mapping
        From `broker_said`, not empty.

    Raises
    ------
    CannotReachError
        It does not let us in, nobody is asked, and nobody has said `--yes`.
    """
    table = loaded.model.broker
    differs = ", ".join(f"{key} {_present(table, key) or 'not said'} becomes {value}" for key, value in said.items())
    sent = ""
    if (
        {"host", "port"} & said.keys()
        and table.username
        and not {"username", "password_file", "password_env"} & said.keys()
    ):
        sent = f"; the login of {table.username} goes there from now on"
    asker.console.print(f"[broker] of {file}: {differs}{sent}", markup=False)
    if not asker.agreed("Change it?"):
        asker.console.print("the broker stays as it was", markup=False)
        return text
    now = text if "broker" in loaded.model.model_fields_set else add_table(text, "[broker]", [])
    for key, value in said.items():
        now = set_key(now, "[broker]", 0, f"{key} = {value}")
        if key in _EITHER:
            now = drop_key(now, "[broker]", _EITHER[key])
    settings = proved(file, now).cabin.broker
    try:
        heard = let_in(settings, asker.arguments.protocol, asker.console)
    except CannotReachError as error:
        if asker.asks:
            asker.console.print(f"it does not let us in now: {error}", markup=False)
            if asker.asked("Write it all the same?", "no", read_yes):
                return now
            asker.console.print("the broker stays as it was", markup=False)
            return text
        if not asker.arguments.yes:
            raise CannotReachError(
                f"{error}; {file} stays as it was: correct --broker, or say --yes to write it all the same"
            ) from None
        asker.console.print(f"written all the same, though it does not let us in now: {error}", markup=False)
        return now
    if heard.protocol != settings.protocol:
        now = set_key(now, "[broker]", 0, f'protocol = "{heard.protocol}"')
    return now


def _present(table: BrokerTable, key: str) -> str:
    """Return a key's value as the file writes it; empty where it says none."""
    value = getattr(table, key)
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    return str(value) if isinstance(value, int) else f'"{escaped(str(value))}"'
