"""The cabin file's tables for what surrounds the banks: site, broker, journal, database, messages, page."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, SecretStr, field_validator, model_validator

from bridge.config.types import (
    Amps,
    Bytes,
    DayTime,
    HomieId,
    Kelvins,
    Seconds,
    SquareCentimetres,
    Table,
    Volts,
    between,
    positive,
)
from bridge.settings import Deadband

#: No user or password in it: they would be a secret in the cabin file.
HTTP_URL = r"^https?://[^/\s@]+(/\S*)?$"
PREFIX = r"^[^+#\s/]+(/[^+#\s/]+)*$"

#: Shortest and longest keepalive [s].
KEEPALIVE = (5.0, 600.0)
#: Shortest and longest time after which a trip is told again, and an outside watcher is answered [s].
REPEAT, ALIVE_EVERY = (60.0, 86400.0), (60.0, 86400.0)
#: Tables of the journal that parcels are made of; readings can be worked out of messages, and are sent where asked.
ParcelName = Literal["event", "hand", "state", "message", "reading"]
#: Shortest (for a trial: each is a file) and longest time between parcels [s]; least limit of a month [bytes].
PARCELS_EVERY, LEAST_MONTHLY = (60.0, 7 * 86400.0), 1e6
#: What names a secret in the options of a URL.
SECRET = re.compile(r"[?&][^=&]*(?:secret|password|token|key)[^=&]*=", re.IGNORECASE)
#: Highest port there is.
LAST_PORT = 65535


#: Smallest and largest opening for air that a place can have [cm^2] (assumed).
OPENINGS = (1.0, 200000.0)


class DeadbandTable(Table):
    """``[site] deadband``."""

    volts: Annotated[Volts, Field(ge=0)] = Deadband().volts
    amps: Annotated[Amps, Field(ge=0)] = Deadband().amps
    degrees: Annotated[Kelvins, Field(ge=0)] = Deadband().degrees


class SiteTable(Table):
    """``[site]``."""

    id: HomieId
    root: Annotated[str, Field(pattern=PREFIX)] = "homie/5"
    time_source: Annotated[str, Field(pattern=PREFIX)] = "auto"
    temperature: Literal["degC", "degF"] | None = None
    openings: Annotated[SquareCentimetres, between(*OPENINGS, "cm^2", "100 sq in")] | None = None
    deadband: DeadbandTable = DeadbandTable()


class BrokerTable(Table):
    """``[broker]``."""

    host: str = "localhost"
    port: Annotated[int, Field(strict=True, ge=1, le=65535)] = 1883
    protocol: Literal["5", "3.1.1"] = "5"
    username: str | None = None
    password_file: Path | None = None
    password_env: str | None = None
    tls: Annotated[bool, Field(strict=True)] = False
    ca_file: Path | None = None
    certificate_file: Path | None = None
    key_file: Path | None = None
    keepalive: Seconds = 15.0
    client_prefix: Annotated[str, Field(pattern=r"^[A-Za-z0-9_-]{1,32}$")] = "revival"
    in_flight: Annotated[int, Field(strict=True, ge=1, le=1000)] = 20

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.password_file and self.password_env:
            raise ValueError("password_file and password_env both given: keep one")
        if (self.ca_file or self.certificate_file or self.key_file) and not self.tls:
            raise ValueError("certificates are given but tls is off: write tls = true")
        if bool(self.certificate_file) != bool(self.key_file):
            raise ValueError("certificate_file and key_file belong together: give both or neither")
        if not KEEPALIVE[0] <= self.keepalive <= KEEPALIVE[1]:
            raise ValueError('keepalive must lie between "5 s" and "10 min"')
        return self


class JournalTable(Table):
    """``[journal]``."""

    path: Path = Path("revival.db")
    keep: Seconds = 90 * 86400.0
    at_most: Bytes = 2e9

    @field_validator("keep", "at_most")
    @classmethod
    def _positive(cls, value: float) -> float:
        return positive(value)


class InfluxTable(Table):
    """``[influxdb]``: `org`, `bucket` and a token, or for a server before 1.8 `database` and perhaps a login."""

    url: Annotated[str, Field(pattern=HTTP_URL)]
    org: str | None = None
    bucket: str | None = None
    token_file: Path | None = None
    token_env: str | None = None
    database: str | None = None
    username: str | None = None
    password_file: Path | None = None
    password_env: str | None = None

    @model_validator(mode="after")
    def _agree(self) -> Self:
        newer = (self.org, self.bucket, self.token_file, self.token_env)
        older = (self.username, self.password_file, self.password_env)
        if self.database is None:
            if any(older):
                raise ValueError("username and password go with database (a server before 1.8); else give a token")
            if not (self.org and self.bucket):
                raise ValueError('give org and bucket, or for a server before 1.8 database = "revival"')
            if bool(self.token_file) == bool(self.token_env):
                raise ValueError("give the token by exactly one of token_file and token_env")
            return self
        if any(newer):
            raise ValueError("database is for a server before 1.8, which knows no org, bucket or token: keep one kind")
        if self.password_file and self.password_env:
            raise ValueError("password_file and password_env both given: keep one")
        if bool(self.username) != bool(self.password_file or self.password_env):
            raise ValueError("username and password_file (or password_env) belong together: give both or neither")
        return self


class NotifyTable(Table):
    """``[notify]``: messages to people, through services that each are named by one URL."""

    urls_file: Path | None = None
    urls_env: str | None = None
    urls: tuple[SecretStr, ...] | None = None
    repeat: Seconds = 900.0
    digest: DayTime = 420
    quiet: tuple[DayTime, DayTime] | None = None
    alive_url: SecretStr | None = None
    alive_url_file: Path | None = None
    alive_url_env: str | None = None
    alive_every: Seconds = 600.0

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if sum(given is not None for given in (self.urls_file, self.urls_env, self.urls)) > 1:
            raise ValueError("urls_file, urls_env and urls: keep one")
        alive = sum(given is not None for given in (self.alive_url, self.alive_url_file, self.alive_url_env))
        if alive > 1:
            raise ValueError("alive_url, alive_url_file and alive_url_env: keep one")
        if not alive and self.urls_file is None and self.urls_env is None and self.urls is None:
            raise ValueError('nobody would be told: name a file with one service URL on each line, urls_file = "urls"')
        if not REPEAT[0] <= self.repeat <= REPEAT[1]:
            raise ValueError('repeat must lie between "1 min" and "24 h": "15 min" is usual')
        if not ALIVE_EVERY[0] <= self.alive_every <= ALIVE_EVERY[1]:
            raise ValueError('alive_every must lie between "1 min" and "24 h": "10 min" is usual')
        if self.quiet is not None and self.quiet[0] == self.quiet[1]:
            raise ValueError("quiet begins and ends at the same time: give two times, or leave it out")
        return self


class ParcelsTable(Table):
    """``[parcels]``: the journal as files in a folder or an object store, for who looks after many cabins."""

    where: str
    every: Seconds = 3600.0
    tables: Annotated[tuple[ParcelName, ...], Field(min_length=1)] = ("event", "hand", "state", "message")
    monthly: Bytes | None = None

    @field_validator("where")
    @classmethod
    def _no_secret(cls, value: str) -> str:
        scheme, separator, rest = value.partition("://")
        if not value.strip() or (separator and (not rest or not scheme.isalnum())):
            raise ValueError('must be a folder, or a URL such as "s3://bucket/prefix"')
        if separator and ("@" in rest or SECRET.search(rest)):
            raise ValueError(
                "holds a user or a key (not shown): leave them out and give them to the store's library by its "
                "environment, such as AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY in the unit's EnvironmentFile"
            )
        return value

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if not PARCELS_EVERY[0] <= self.every <= PARCELS_EVERY[1]:
            raise ValueError('every must lie between "1 min" and "7 days"')
        if self.monthly is not None and self.monthly < LEAST_MONTHLY:
            raise ValueError('monthly must be "1 MB" or more: a bank needs some 10 MB a month')
        return self


class HubTable(Table):
    """``[hub]``: a home-automation hub that reads MQTT discovery documents."""

    discovery: Annotated[str, Field(pattern=PREFIX)] = "homeassistant"


class PageTable(Table):
    """``[page]``."""

    listen: Annotated[str, Field(pattern=r"^(\[[0-9a-fA-F:.]+\]|[^:\s\[\]]+):\d{1,5}$")] = "127.0.0.1:8170"
    token_file: Path | None = None
    token_env: str | None = None
    temperature: Literal["degC", "degF"] | None = None
    certificate_file: Path | None = None
    key_file: Path | None = None

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.token_file and self.token_env:
            raise ValueError("token_file and token_env both given: keep one")
        if bool(self.certificate_file) != bool(self.key_file):
            raise ValueError("certificate_file and key_file belong together: give both or neither")
        if int(self.listen.rpartition(":")[2]) > LAST_PORT:
            raise ValueError(f'listen needs a port up to {LAST_PORT}, as in "127.0.0.1:8170"')
        return self
