"""The cabin as compiled at start-up: frozen, checked, ready for the loop. `bridge.config` makes it from the file."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from pydantic import SecretStr

from rules.bank import Bank


@dataclass(frozen=True)
class Deadband:
    """A value that moved less since it was published waits for the next whole state, at most ten seconds.

    `volts` of the bank [V], `amps` [A], `degrees` [K]: assumed, one or two steps of usual meters, so that their last
    digit does not keep a small network busy.
    """

    volts: float = 0.02
    amps: float = 0.1
    degrees: float = 0.1


@dataclass(frozen=True)
class BrokerSettings:
    """Where the bus is. `protocol` is "5" or "3.1.1"; times in [s].

    `in_flight` is how many messages the broker sends before it waits for an acknowledgement; it tells nobody, so the
    owner does.
    """

    host: str = "localhost"
    port: int = 1883
    protocol: str = "5"
    username: str | None = None
    password: SecretStr | None = None
    tls: bool = False
    ca_file: Path | None = None
    certificate_file: Path | None = None
    key_file: Path | None = None
    keepalive: int = 15
    client_prefix: str = "revival"
    in_flight: int = 20


@dataclass(frozen=True)
class RelaySettings:
    """One charger relay and the banks behind it.

    `cut` and `allow` are payloads as the relay understands them; `state_open` and `state_closed` are what it reports.
    `uncovered`: nothing opens it by itself, and the owner has not written that this is known. `opens_on_power`: it
    was set to be open when its own power comes back.
    """

    name: str
    banks: tuple[str, ...]
    topic: str
    cut: str = "OFF"
    allow: str = "ON"
    state_topic: str | None = None
    state_open: str = "OFF"
    state_closed: str = "ON"
    auto_off: float | None = None
    uncovered: bool = False
    opens_on_power: bool = False


@dataclass(frozen=True)
class LoadRelaySettings:
    """Where a load is taken off at the end of a capacity test, and the payload that does it."""

    topic: str
    cut: str = "OFF"


@dataclass(frozen=True)
class JournalSettings:
    """Path, age [s] and size [bytes] limits."""

    path: Path = Path("revival.db")
    keep: float = 90 * 86400.0
    at_most: int = 2_000_000_000


@dataclass(frozen=True)
class InfluxSettings:
    """A time-series database that speaks the InfluxDB v2 write interface, or the one of releases before 1.8.

    The older interface has no organisation: `bucket` is its database then, and `token` is ``user:password`` or empty.
    """

    url: str
    org: str
    bucket: str
    token: SecretStr
    before_1_8: bool = False


@dataclass(frozen=True)
class ParcelsSettings:
    """Where parcels of the journal go, how often at most [s], of which tables, and how much a month [bytes]."""

    where: str
    every: float = 3600.0
    tables: tuple[str, ...] = ("event", "hand", "state", "message")
    monthly: float | None = None


def within(minute: int, span: tuple[int, int]) -> bool:
    """Tell whether a minute of the day lies in a stretch of it, which may pass midnight; its end is outside.

    Examples
    --------
    >>> within(30, (1320, 390)), within(390, (1320, 390)), within(720, (1320, 390))
    (True, False, False)
    """
    begin, end = span
    return begin <= minute < end if begin < end else minute >= begin or minute < end


@dataclass(frozen=True)
class NotifySettings:
    """Who is told what cannot wait, and how often.

    `urls` are service URLs, each with its secrets in it. `repeat` is after how long a trip that nobody acknowledged is
    told again, `alive_every` how often `alive_url` is fetched [s]. `digest` is when chores are told, `quiet` from when
    until when nothing but trips is [minutes after midnight by the clock of the place].
    """

    urls: tuple[SecretStr, ...] = ()
    repeat: float = 900.0
    digest: int = 420
    quiet: tuple[int, int] | None = None
    alive_url: SecretStr | None = None
    alive_every: float = 600.0


@dataclass(frozen=True)
class PageSettings:
    """The live page. Without a token it only shows.

    With a certificate and its key it speaks TLS, and nothing else.
    """

    host: str = "127.0.0.1"
    port: int = 8170
    token: SecretStr | None = None
    certificate_file: Path | None = None
    key_file: Path | None = None


@dataclass(frozen=True)
class Cabin:
    """Everything from the cabin file, compiled. `source` is the file's name, for messages.

    `discovery_prefix` is where a home-automation hub looks for MQTT discovery documents; `None` publishes none.
    `time_source` is auto, ntp, rtc or a topic. `load_relays` by bank id.
    `degrees` is "degC" or "degF", for whatever people read.
    `openings` is what one opening low and one high are each, for the air of the plan [cm^2]; `None` where nobody said.
    """

    site: str
    banks: dict[str, Bank]
    broker: BrokerSettings = field(default_factory=BrokerSettings)
    relays: tuple[RelaySettings, ...] = ()
    journal: JournalSettings = field(default_factory=JournalSettings)
    influx: InfluxSettings | None = None
    notify: NotifySettings | None = None
    parcels: ParcelsSettings | None = None
    page: PageSettings | None = None
    root: str = "homie/5"
    source: str = ""
    discovery_prefix: str | None = None
    time_source: str = "auto"
    deadband: Deadband = field(default_factory=Deadband)
    load_relays: dict[str, LoadRelaySettings] = field(default_factory=dict)
    degrees: str = "degC"
    openings: float | None = None
