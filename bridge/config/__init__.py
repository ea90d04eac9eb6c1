"""The cabin file: read, checked in one go, and compiled into what the bridge runs on."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from pydantic import SecretStr, ValidationError

from bridge import intake, units
from bridge.config.build import build_banks, build_load_relays, build_relays
from bridge.config.experience import ExperienceFile, ExperienceTable, tables_of, taken
from bridge.config.further import also_wrong, syntax
from bridge.config.meters import Findings, check_shared
from bridge.config.models import CabinTable
from bridge.config.services import InfluxTable, NotifyTable, ParcelsTable
from bridge.config.topics import check_topics
from bridge.config.words import explain
from bridge.errors import ConfigError
from bridge.settings import (
    BrokerSettings,
    Cabin,
    Deadband,
    InfluxSettings,
    JournalSettings,
    NotifySettings,
    PageSettings,
    ParcelsSettings,
    within,
)
from bridge.words.spoken import spoken

#: Tables of the cabin file that may leave the cabin: what its banks are and what their meters say.
TOLD = ("site", "bank", "meter", "experience")
#: How a file is told of which not even the tables can be read.
NOT_TOML = "is not valid TOML"
#: Characters of a page's token: at ten guesses a minute nobody lives to find it (NIST SP 800-63B asks for 8 where
#: guesses are limited, from memory; here twice that, because nobody has to remember it).
SHORTEST_TOKEN = 16
#: Where a system keeps what it is told, and where it keeps data.
SYSTEM_FOLDER, SYSTEM_DATA = Path("/etc/revival"), Path("/var/lib/revival")
#: How a service's URL begins, and the whole of one that is fetched.
SERVICE_URL = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*://\S")
ALIVE_URL = re.compile(r"https?://[^/\s]+(/\S*)?$")


@dataclass(frozen=True)
class Loaded:
    """A cabin file that can be run.

    Attributes
    ----------
    cabin : Cabin
        Banks, broker, relays, journal, database.
    routes : intake.Routes
        Topics and their compiled decoders.
    model : CabinTable
        The file's tables as read.
    warnings : tuple of str
        What deserves a second look, in words.
    """

    cabin: Cabin
    routes: intake.Routes
    model: CabinTable
    warnings: tuple[str, ...] = ()


def load(path: Path, environment: Mapping[str, str] | None = None) -> Loaded:
    """Read and compile a cabin file. Relative paths in it are relative to the file's own folder.

    Parameters
    ----------
    path : Path
        The cabin file (TOML).
    environment : mapping, optional
        Where ``password_env`` and ``token_env`` are looked up; `os.environ` unless given.

    Raises
    ------
    ConfigError
        With one line for everything that is wrong: file, key, value (never a secret's) and the fix.
    """
    surroundings = os.environ if environment is None else environment
    tables = _tables(path)
    try:
        model = CabinTable.model_validate(tables)
    except ValidationError as error:
        problems = explain(error.errors(include_url=False), tables)
        problems += also_wrong(tables, error, partial(_wrong, path=path, surroundings=surroundings))
        raise ConfigError(_listed(path, list(dict.fromkeys(problems)))) from None
    return _compile(model, path, surroundings)


def _wrong(model: CabinTable, path: Path, surroundings: Mapping[str, str]) -> list[str]:
    """Return what does not fit together in tables that are right each by itself."""
    try:
        _compile(model, path, surroundings)
    except ConfigError as error:
        return [line.removeprefix(f"{path}: ") for line in str(error).splitlines()]
    return []


def compiled(tables: Mapping[str, object], source: Path) -> Loaded:
    """Compile tables that were a cabin file elsewhere, without secrets and without touching a disk.

    Parameters
    ----------
    tables : mapping
        As `told` returns them.
    source : Path
        Named in messages.

    Raises
    ------
    ConfigError
        As `load`.
    """
    try:
        model = CabinTable.model_validate(tables)
    except ValidationError as error:
        raise ConfigError(_listed(source, explain(error.errors(include_url=False), dict(tables)))) from None
    if model.experience is not None and model.experience.file is not None:
        raise ConfigError(f"{source}: [experience] file: a file of another place is not read here: send what it holds")
    return _compile(model, source, {})


def told(path: Path) -> dict[str, object]:
    """Return of a cabin file what another place needs to judge its banks by: site, banks, meters, experience.

    Broker, database, messages, page and every secret stay, and so do comments: what is not named here does not leave.

    Raises
    ------
    ConfigError
        As `read`.
    """
    model = read(path)
    tables = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    named = model.experience.file if model.experience is not None else None
    if named is not None:
        # Elsewhere there is no such file: what it holds goes along, so that the same hours are foretold.
        try:
            tables["experience"] = tables_of(path.parent / named).get("experience", {})
        except ValueError as error:
            raise ConfigError(f'{path}: [experience] file = "{named}": {error}') from None
    return {name: tables[name] for name in TOLD if name in tables}


def _compile(model: CabinTable, path: Path, surroundings: Mapping[str, str]) -> Loaded:
    """Compile tables that were validated."""
    found = Findings()
    check_shared(model, found)
    banks, mappings = build_banks(model, found)
    if model.experience is not None and model.experience.file is not None:
        model = model.model_copy(update={"experience": _experience(path.parent, model.experience.file, found)})
    experience = taken(model.experience)
    banks = {name: replace(bank, experience=experience) for name, bank in banks.items()}
    relays = build_relays(model, found)
    load_relays = build_load_relays(model, found)
    check_topics(model, found)
    broker = model.broker
    fetch = partial(_secret, folder=path.parent, environment=surroundings, found=found)
    password = fetch(("broker", "password"), broker.password_file, broker.password_env)
    influx = None
    if model.influxdb is not None:
        influx = _database(model.influxdb, fetch)
    notify = None if model.notify is None else _notify(model.notify, fetch, found)
    parcels = None if model.parcels is None else _parcels(model.parcels, path.parent)
    page = None
    if model.page is not None:
        if model.site.temperature is not None and model.page.temperature not in {None, model.site.temperature}:
            found.errors.append(
                f'[site] temperature = "{model.site.temperature}": [page] says "{model.page.temperature}": an owner '
                "reads one scale; take the line below [page] out"
            )
        host, _, port = model.page.listen.rpartition(":")
        token = fetch(("page", "token"), model.page.token_file, model.page.token_env)
        if token is not None:
            _check_page_token(token.get_secret_value(), found)
        files = (_beside(path.parent, model.page.certificate_file), _beside(path.parent, model.page.key_file))
        page = PageSettings(host.strip("[]"), int(port), token, *files)
    routes = None
    try:
        routes = intake.Routes(mappings)
    except ValueError as error:
        found.errors.append(str(error))
    if found.errors or routes is None:
        raise ConfigError(_listed(path, found.errors))
    folder = path.parent
    degrees = _degrees(model, mappings)
    cabin = Cabin(
        site=model.site.id,
        banks=banks,
        broker=BrokerSettings(
            host=broker.host,
            port=broker.port,
            protocol=broker.protocol,
            username=broker.username,
            password=password,
            tls=broker.tls,
            ca_file=_beside(folder, broker.ca_file),
            certificate_file=_beside(folder, broker.certificate_file),
            key_file=_beside(folder, broker.key_file),
            keepalive=round(broker.keepalive),
            client_prefix=broker.client_prefix,
            in_flight=broker.in_flight,
        ),
        relays=relays,
        load_relays=load_relays,
        journal=JournalSettings(_journal(folder, model.journal.path), model.journal.keep, round(model.journal.at_most)),
        influx=influx,
        notify=notify,
        parcels=parcels,
        page=page,
        discovery_prefix=None if model.hub is None else model.hub.discovery,
        root=model.site.root,
        time_source=model.site.time_source,
        openings=model.site.openings,
        degrees=degrees,
        deadband=Deadband(**model.site.deadband.model_dump()),
        source=str(path),
    )
    return Loaded(cabin, routes, model, tuple([spoken(line, degrees) for line in found.warnings]))


def read(path: Path) -> CabinTable:
    """Parse and validate the tables alone, without secrets or compiling.

    Raises
    ------
    ConfigError
        Not readable, not TOML, or tables that are wrong.
    """
    tables = _tables(path)
    try:
        return CabinTable.model_validate(tables)
    except ValidationError as error:
        raise ConfigError(_listed(path, explain(error.errors(include_url=False), tables))) from None


def _tables(path: Path) -> dict[str, Any]:
    """Read the tables as they stand there."""
    try:
        # Some editors put a byte order mark in front; it says nothing and harms nothing.
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise ConfigError(
            f"{path}: cannot be read ({error.strerror}): give the cabin file with --config, or make one: revival setup"
        ) from None
    except UnicodeDecodeError:
        raise ConfigError(f"{path}: is not UTF-8 text: save it as UTF-8") from None
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError("\n".join(_not_toml(path, one) for one in syntax(text, str(error)))) from None


def _not_toml(path: Path, error: str) -> str:
    """Return where the text stops being TOML, and what is usually the matter; not the line: it may hold a secret."""
    what, _, place = error.rstrip(")").rpartition(" (at ")
    fix = "text stands in quotes, a list in [ ], and every quote and bracket is closed"
    if "twice" in error or "overwrite" in error or "mutate" in error:
        fix = "what comes more than once has double brackets, [[bank]] and [[bank.meter]], and a key stands once"
    line, separator, column = place.partition(", ")
    return f"{path}: {line or 'somewhere'}: {NOT_TOML} ({what}{separator}{column}): {fix}"


def json_schema() -> dict[str, object]:
    """Return JSON Schema of the cabin file, for editors that complete and check TOML."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **CabinTable.model_json_schema(),
        "title": "Cabin file of the revival bridge",
    }


def _listed(path: Path, problems: list[str]) -> str:
    return "\n".join(f"{path}: {problem}" for problem in problems)


def _beside(folder: Path, path: Path | None) -> Path | None:
    return None if path is None else folder / path


def _experience(folder: Path, file: Path, found: Findings) -> ExperienceTable | None:
    """Return what an experience file holds; what is wrong with it is added to `found`."""
    place = f'[experience] file = "{file}"'
    try:
        tables = tables_of(folder / file)
    except ValueError as error:
        found.errors.append(f"{place}: {error}")
        return None
    try:
        held = ExperienceFile.model_validate(tables).experience
    except ValidationError as error:
        found.errors += [f"{place}: {line}" for line in explain(error.errors(include_url=False), tables)]
        return None
    if held.file is not None:
        found.errors.append(f"{place}: names another file: name that one here")
        return None
    return held


def _degrees(model: CabinTable, mappings: Iterable[intake.Mapping]) -> str:
    """Return the scale for people: as the file says, else Fahrenheit where every thermometer that names one does."""
    said = model.site.temperature or (model.page.temperature if model.page is not None else None)
    if said is not None:
        return said
    named = {units.ALIASES.get(one.unit, one.unit) for one in mappings if one.canonical == "degC" and one.unit}
    return "degF" if named == {"degF"} else "degC"


def _check_page_token(token: str, found: Findings) -> None:
    """Refuse a token that can be guessed; never show it."""
    if len(token) < SHORTEST_TOKEN or len(set(token)) < SHORTEST_TOKEN // 2 or not token.isascii() or " " in token:
        found.errors.append(
            f"[page] token: can be guessed, or typed wrongly: it needs {SHORTEST_TOKEN} characters or more, most of "
            "them different, without blanks; remove the file and let `revival page` make one"
        )


def _journal(folder: Path, named: Path) -> Path:
    """Return where the journal lies: beside the cabin file; of one in the system's folder, where systems keep data."""
    beside = folder / named
    return SYSTEM_DATA / named if folder == SYSTEM_FOLDER and not beside.exists() else beside


def _database(table: InfluxTable, fetch: Callable[..., SecretStr | None]) -> InfluxSettings:
    """Return how to reach the time-series database, its secret fetched from where the table says."""
    token = fetch(("influxdb", "token"), table.token_file, table.token_env)
    if table.database is None:
        return InfluxSettings(table.url, table.org or "", table.bucket or "", token or SecretStr(""))
    password = fetch(("influxdb", "password"), table.password_file, table.password_env)
    login = f"{table.username}:{password.get_secret_value()}" if table.username and password else ""
    return InfluxSettings(table.url, "", table.database, SecretStr(login), before_1_8=True)


def _notify(table: NotifyTable, fetch: Callable[..., SecretStr | None], found: Findings) -> NotifySettings:
    """Return whom to tell. A service's URL is a secret as a whole: only its place and its scheme are ever said."""
    told = fetch(("notify", "urls"), table.urls_file, table.urls_env)
    lines = told.get_secret_value().split("\n") if told is not None else []
    written = [line.strip() for line in lines] or [url.get_secret_value().strip() for url in table.urls or ()]
    urls = [url for line in written if not line.startswith("#") for url in line.split()]
    for number, url in enumerate(urls, 1):
        if SERVICE_URL.match(url) is None:
            found.errors.append(
                f"[notify] urls: the {number}. of {len(urls)} (not shown, it may hold a secret) is no service URL: "
                "it begins with the service's name, as in mailto://..."
            )
    if not urls and (told is not None or table.urls is not None):
        found.errors.append("[notify] urls: there is none in it: write one service URL on each line")
    alive = table.alive_url or fetch(("notify", "alive_url"), table.alive_url_file, table.alive_url_env)
    if alive is not None and ALIVE_URL.match(alive.get_secret_value()) is None:
        found.errors.append("[notify] alive_url: must be http:// or https://, and a host")
    if table.quiet is not None and within(table.digest, table.quiet):
        found.errors.append("[notify] digest lies in the quiet hours: let it come after them, or move quiet")
    return NotifySettings(
        urls=tuple(SecretStr(url) for url in dict.fromkeys(urls)),
        repeat=table.repeat,
        digest=table.digest,
        quiet=table.quiet,
        alive_url=alive,
        alive_every=table.alive_every,
    )


def _parcels(table: ParcelsTable, folder: Path) -> ParcelsSettings:
    where = table.where if "://" in table.where else str(folder / table.where)
    return ParcelsSettings(where, table.every, table.tables, table.monthly)


def _secret(
    key: tuple[str, str],
    file: Path | None,
    variable: str | None,
    *,
    folder: Path,
    environment: Mapping[str, str],
    found: Findings,
) -> SecretStr | None:
    """Fetch a secret from where the file says; the file itself never holds one."""
    table, what = key
    if file is not None:
        place = f'[{table}] {what}_file = "{file}"'
        try:
            text = (folder / file).read_text("utf-8").rstrip("\r\n")
        except (OSError, UnicodeDecodeError) as error:
            reason = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
            made = "`revival page` makes it" if (table, what) == ("page", "token") else "create it"
            found.errors.append(f"{place}: cannot be read ({reason}): {made}, or correct the path")
            return None
        if not text:
            found.errors.append(f"{place}: is empty: write the {what} into it")
            return None
        return SecretStr(text)
    if variable is not None:
        if not environment.get(variable):
            found.errors.append(f'[{table}] {what}_env = "{variable}": is not set in the environment: set it')
            return None
        return SecretStr(environment[variable])
    return None
