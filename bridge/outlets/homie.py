"""The bridge and its banks as a Homie 5 device tree: a root device, one child per bank, retained, only what changed."""

from __future__ import annotations

import json
import logging
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import compress, count
from operator import ne
from typing import Any

from bridge.errors import RequestError
from bridge.intake.bus_commands import WrittenName, parse_act, parse_name
from bridge.message import Message
from bridge.outlets.discovery import DiscoveryOutlet
from bridge.settings import Cabin, Deadband
from bridge.words.bank_name import headed
from bridge.words.bank_status import told_to
from bridge.words.catalogue import (
    COMMANDS,
    FIELD,
    FLAG_IDS,
    NODES,
    UNKNOWN,
    Property,
    Render,
    boolean,
    freshness,
    moment,
    number,
    of_bank,
    of_bridge,
    text,
)
from bridge.words.spoken import spoken
from rules.advice import FLAGS
from rules.bank import Bank
from rules.events import Command, Derived, Event, Flag, HandReading

log = logging.getLogger("revival.homie")

VERSION = "5.0"
#: What a recording says on the bridge's own `$state` where it went, and where it came up again.
GONE, BACK = b"disconnected", b"init"
STALE = 10.0  #: a command that waited so long [s] is not carried out any more
#: No description has a lower version (1 January 2026 [ms since the epoch]): above every checksum that stood there once,
#: and above what a clock says that nobody has set.
FIRST_VERSION = 1_767_225_600_000
HEALTH_EVERY = 30.0  #: ages and lags are published so often at most [s]: they always change

Publish = Callable[..., object]
_HAZARDS = tuple(name for name, flag in FLAGS.items() if flag.kind == "hazard")
#: Figure that may be told by hand: its unit, its digits, and the fields that are told with it.
_TOLD_WITH = {
    "voltage": ("V", 2, ("voltage", "volts_per_cell", "power")),
    "current": ("A", 1, ("current", "power")),
    "temperature": ("degC", 1, ("temperature",)),
}


def description(
    name: str, properties: Iterable[Property], *, root: str | None = None, children: Iterable[str] = ()
) -> str:
    """Return the `$description` document without its version, which `versioned` writes into it."""
    nodes: dict[str, dict[str, Any]] = {}
    for one in properties:
        node = nodes.setdefault(one.node, {"name": NODES[one.node], "properties": {}})
        entry: dict[str, object] = {"name": one.name, "datatype": one.datatype}
        entry |= {key: value for key, value in (("unit", one.unit), ("format", one.format)) if value}
        entry |= {"settable": True} if one.settable else {}
        entry |= {} if one.retained else {"retained": False}
        node["properties"][one.id] = entry
    document: dict[str, object] = {"homie": VERSION, "name": name, "nodes": nodes}
    children = list(children)
    document |= {"children": children} if children else {}
    # The convention lets the parent be left out where it is the root; not every controller fills it in.
    document |= {"root": root, "parent": root} if root else {}
    return json.dumps(document, ensure_ascii=False, separators=(",", ":"))


def versioned(document: str, version: int) -> str:
    """Return a description with its version in front.

    >>> versioned('{"homie":"5.0"}', 7)
    '{"version":7,"homie":"5.0"}'
    """
    return f'{{"version":{version},{document[1:]}'


def _beyond(before: Any, now: Any, band: float) -> bool:
    """Tell whether a value (or one of several) moved beyond `band`, or became known or unknown.

    >>> _beyond(26.31, 26.32, 0.02), _beyond(26.31, 26.34, 0.02), _beyond(26.31, None, 0.02)
    (False, True, True)
    >>> _beyond((1.0, 2.0), (1.0, 2.5), 0.1)
    True
    """
    if isinstance(before, tuple) and isinstance(now, tuple) and len(before) == len(now):
        return any(_beyond(one, other, band) for one, other in zip(before, now, strict=True))
    if not isinstance(before, float | int) or not isinstance(now, float | int):
        return bool(before != now)
    return abs(now - before) > band


def _of_database(database: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    return (
        ("health/database", text(str(database["state"]))),
        ("health/database-backlog", number(0)(database["backlog"])),
    )


def as_metered(derived: Derived) -> Derived:
    """Return the state with no figure that a person typed: a hub shows whatever stands on a topic as if it were live.

    What was typed goes into `not_live` beside the words that say by whom and when.
    """
    typed = {figure: value for figure in derived.not_live if (value := getattr(derived, figure)) is not None}
    if not typed:
        return derived
    withdrawn: dict[str, Any] = {field: None for figure in typed for field in _TOLD_WITH[figure][2]}
    told = dict(derived.not_live)
    for figure, value in typed.items():
        unit, digits, _ = _TOLD_WITH[figure]
        told[figure] = f"{value:.{digits}f} {unit} {told[figure]}"
    return derived._replace(**withdrawn, not_live=told)


class BankDevice:
    """One bank's device: remembers what was published and publishes only what differs."""

    def __init__(self, base: str, root: str, bank: Bank, publish: Publish, deadband: Deadband) -> None:
        self.base, self.bank, self._publish = base, bank, publish
        self.properties = of_bank(bank)
        self.description = description(headed(bank.id), self.properties, root=root)
        self.version = FIRST_VERSION
        self.last: Derived | None = None
        self._deadbands = {
            "voltage": deadband.volts,
            "volts_per_cell": deadband.volts / bank.cells,
            "current": deadband.amps,
            "string_currents": deadband.amps,
            "temperature": deadband.degrees,
            "ambient": deadband.degrees,
        }
        self._payloads: dict[str, str] = {f"{base}/{one.path}": UNKNOWN for one in self.properties if one.retained}
        self._followers: dict[int, list[tuple[str, Render]]] = {}
        for one in self.properties:
            if one.field:
                self._followers.setdefault(FIELD[one.field], []).append((f"{base}/{one.path}", one.render))
        self._flag_topics = {name: f"{base}/safety/{name}" for name in FLAG_IDS}
        self._ages = {quantity: f"{base}/{one.path}" for quantity, one in freshness(bank).items()}
        self._raised: frozenset[str] | None = None
        self._alerts: dict[str, str] = {}
        self._aged_at = float("-inf")
        self._announced = self._ready = False

    def announce(self) -> None:
        """Publish state and description, then every value as soon as there are any: only then is a device ready."""
        self._announced, self._ready = True, False
        self._publish(f"{self.base}/$state", "init")
        self._publish(f"{self.base}/$description", versioned(self.description, self.version))
        if self.last is not None:
            self._get_ready()

    def _get_ready(self) -> None:
        """Publish every value; what is not known is cleared, so that nothing of an earlier run stays."""
        self._ready = True
        self.repeat()
        for name in _HAZARDS:
            self._publish(f"{self.base}/$alert/{name}", self._alerts.get(name, UNKNOWN))
        self._publish(f"{self.base}/$state", "ready")

    def repeat(self) -> None:
        """Publish every value once more, if there is one yet."""
        for topic, payload in self._payloads.items() if self._ready else ():
            self._publish(topic, payload)

    def update(self, derived: Derived) -> None:
        """Publish what this changes."""
        last, followers = self.last, self._followers
        self.last = derived
        if last is None:
            changed: Iterable[int] = followers
        else:  # two passes in C: nearly all fields are the very same objects or equal, once a second for every bank
            changed = compress(count(), map(ne, derived, last))
        for position in changed:
            for topic, render in followers.get(position, ()):
                self.put(topic, render(derived[position]))
        if last is None or derived.flags is not last.flags:
            self._flags(derived.flags)
        if derived.at - self._aged_at >= HEALTH_EVERY:
            self._aged_at = derived.at
            for quantity, topic in self._ages.items():
                self.put(topic, number(0)(derived.freshness.get(quantity)))
        if self._announced and not self._ready:
            self._get_ready()

    def measure(self, values: Mapping[str, Any]) -> None:
        """Publish what moved beyond its deadband since it was published; the next state says all of it.

        Parameters
        ----------
        values : mapping
            Fields of a `Derived` as the meters show them now (`rules.step.measured`).
        """
        if self.last is None:
            return
        moved = {
            field: value
            for field, value in values.items()
            if _beyond(getattr(self.last, field), value, self._deadbands.get(field, 0.0))
        }
        if "power" in moved and not moved.keys() & {"voltage", "current"}:
            del moved["power"]  # the product of two that stand still
        if moved:
            self.last = self.last._replace(**moved)
        for field, value in moved.items():
            for topic, render in self._followers.get(FIELD[field], ()):
                self.put(topic, render(value))

    def put(self, topic: str, payload: str) -> None:
        """Publish unless it stands there already."""
        if self._payloads.get(topic) != payload:
            self._payloads[topic] = payload
            if self._ready:
                self._publish(topic, payload)

    def _flags(self, flags: tuple[Flag, ...]) -> None:
        names = frozenset(flag.name for flag in flags)
        if names != self._raised:
            for name in FLAG_IDS if self._raised is None else names ^ self._raised:
                if name in FLAG_IDS:
                    self.put(self._flag_topics[name], boolean(name in names))
            self._raised = names
        # What is to be done changes with what is seen of the charger, also while the flag stays up.
        alerts = {flag.name: flag.action for flag in flags if flag.kind == "hazard" and flag.name in FLAG_IDS}
        for name in alerts.keys() | self._alerts.keys() if self._ready else ():
            if alerts.get(name) != self._alerts.get(name):
                self._publish(f"{self.base}/$alert/{name}", alerts.get(name, UNKNOWN))
        self._alerts = alerts

    def topics(self) -> Iterator[str]:
        """Yield every retained topic this device owns, its state first: clearing that first removes a device."""
        yield f"{self.base}/$state"
        yield f"{self.base}/$description"
        yield from self._payloads
        yield from (f"{self.base}/$alert/{name}" for name in _HAZARDS)


class HomieOutlet:
    """The whole tree.

    Parameters
    ----------
    publish : callable
        ``publish(topic, payload, retain=True, qos=1)``.
    """

    def __init__(self, cabin: Cabin, publish: Publish) -> None:
        self.cabin, self._publish = cabin, publish
        self.base = f"{cabin.root}/{cabin.site}"
        self._scale = cabin.degrees
        self.state_topic = f"{self.base}/$state"  # the bus gives it the will `lost`
        self.banks = {
            name: BankDevice(f"{cabin.root}/{cabin.site}-{name}", cabin.site, bank, publish, cabin.deadband)
            for name, bank in cabin.banks.items()
        }
        own = of_bridge(cabin.influx is not None)
        children = [f"{cabin.site}-{name}" for name in cabin.banks]
        self._description = description(f"Revival of {cabin.site}", own, children=children)
        self._version = FIRST_VERSION
        self._names: dict[str, WrittenName] = {}  # by bank
        self._health: dict[str, str] = {f"{self.base}/{one.path}": UNKNOWN for one in own}
        self._health_at = float("-inf")
        self._ready = False
        self.discovery: DiscoveryOutlet | None = None
        if cabin.discovery_prefix:
            self.discovery = DiscoveryOutlet(cabin, cabin.discovery_prefix, publish)
        self._acts = {
            f"{device.base}/{path}/set": (name, path)
            for name, device in self.banks.items()
            for path in (one.path for one in device.properties if one.settable)
        }

    def number(self, known: Mapping[str, Sequence[int]], now: float) -> dict[str, tuple[int, int]]:
        """Give every description its version: the last one where nothing changed, else a higher one.

        Parameters
        ----------
        known : mapping
            What this returned at the last start; empty where nothing is known of it.
        now : float
            The present [s since the epoch], so that a version rises although the last one was lost.

        Returns
        -------
        dict
            Device -> checksum and version of its description, to be kept for the next start.
        """
        fresh = max(FIRST_VERSION, int(1000.0 * now))

        def of(device: str, document: str) -> tuple[int, int]:
            checksum = zlib.crc32(document.encode())
            before, version = known.get(device, (-1, 0))
            return checksum, version if before == checksum else max(fresh, version + 1)

        numbers = {self.cabin.site: of(self.cabin.site, self._description)}
        self._version = numbers[self.cabin.site][1]
        for name, device in self.banks.items():
            numbers[f"{self.cabin.site}-{name}"] = of(f"{self.cabin.site}-{name}", device.description)
            device.version = numbers[f"{self.cabin.site}-{name}"][1]
        return numbers

    def command_topics(self) -> list[str]:
        """Return what is to be subscribed with retain-as-published; with the own state, to see a late `lost`."""
        births = [self.discovery.birth_topic] if self.discovery is not None else []
        return [*self._acts, self.state_topic, *births]

    def announce(self) -> None:
        """Publish everything: after connecting, and after the broker came back empty."""
        self._ready = True
        self._publish(self.state_topic, "init")
        self._publish(f"{self.base}/$description", versioned(self._description, self._version))
        for device in self.banks.values():
            device.announce()
        for topic, payload in self._health.items():
            self._publish(topic, payload)
        self._publish(self.state_topic, "ready")
        if self.discovery is not None:
            self.discovery.announce()

    def update(self, derived: Derived) -> None:
        """Publish a bank's new state as its meters tell it, its sentences as the owner reads them."""
        self.banks[derived.bank].update(told_to(as_metered(derived), self._scale))

    def measured(self, bank: str, values: Mapping[str, Any]) -> None:
        """Publish what a bank's meters show now, between its states (`rules.step.measured`)."""
        self.banks[bank].measure(values)

    def health(
        self, at: float, journal_lag: float | None, clock_trusted: bool, database: Mapping[str, Any] | None = None
    ) -> None:
        """Publish the bridge's health [s since the epoch, s]; at most every half minute, trust in the clock at once.

        `database` is how a time-series database is (`state`, `backlog` [rows]), where the cabin has one.
        """
        if self.discovery is not None and self._ready:
            if self.discovery.due(at):  # a hub came up: what there is, then how it is
                self.discovery.announce()
                self._repeat(("", *self.banks))
            self._repeat(self.discovery.again(at))
        trusted = boolean(clock_trusted)
        if at - self._health_at < HEALTH_EVERY and self._health[f"{self.base}/health/clock-trusted"] == trusted:
            return
        self._health_at = at
        values = {"health/journal-lag": number(0)(journal_lag), "health/clock-trusted": trusted}
        for path, payload in values.items():
            self._own(path, payload)
            for device in self.banks.values():
                device.put(f"{device.base}/{path}", payload)
        for path, payload in () if database is None else _of_database(database):
            self._own(path, payload)

    def _own(self, path: str, payload: str) -> None:
        """Publish of the bridge itself what is not there already."""
        if self._health.get(f"{self.base}/{path}", payload) != payload:
            self._health[f"{self.base}/{path}"] = payload
            self._publish(f"{self.base}/{path}", payload)

    def _repeat(self, names: Iterable[str]) -> None:
        """Say again what these banks (and the bridge, by the empty name) said last."""
        for name in names:
            if name:
                self.banks[name].repeat()
            else:
                for topic, payload in self._health.items():
                    self._publish(topic, payload)

    def disconnect(self) -> None:
        """Leave the tree in good order."""
        self._ready = False
        for device in self.banks.values():
            self._publish(f"{device.base}/$state", "disconnected")
        self._publish(self.state_topic, "disconnected")

    def command(self, message: Message, now: float | None = None) -> Command | HandReading | Event | None:
        """Return what a message on one of `command_topics` asks for; an `Event` of kind ``refused`` where it is wrong.

        Only what is fresh and not retained counts. Without MQTT 5 a retained command cannot be told from a fresh one
        once subscribed, so `reset` and `resume` are not taken from such a broker. What is asked of the rules is told
        to whoever asked by `done` or `refused`, once they have said what became of it.
        """
        if message.topic == self.state_topic:
            if message.payload == b"lost" and self._ready:  # the will of an earlier connection came late
                self._publish(self.state_topic, "ready")
            return None
        if self.discovery is not None and message.topic == self.discovery.birth_topic:
            if not message.retain:
                self.discovery.birth(message.payload, message.at)
            return None
        found = self._acts.get(message.topic)
        if found is None or not message.payload:
            return None
        bank, path = found
        age = 0.0 if now is None else now - message.at
        if message.retain or age > STALE:
            why = "retained" if message.retain else f"{age:.0f} s old"
            log.warning("%s: ignored, %s", message.topic, why)
            self.refused(message, f"it was {why} when it came: only a fresh one counts")
            return None
        try:
            if path == "revival/checklist-by":
                self._write_name(bank, message)
                return None
            written = self._names.get(bank, WrittenName())
            return parse_act(bank, path, message, written, self.cabin.broker.protocol)
        except RequestError as error:
            log.warning("%s: refused, %s", message.topic, error)
            self.refused(message, str(error))
            return Event(bank, "refused", message.at, {"name": path, "by": "bus", "why": str(error)})

    def done(self, message: Message) -> None:
        """Publish a command as done, and only then: from any thread."""
        self._say(message.topic.removesuffix("/set"), message.payload)
        bank, path = self._acts[message.topic]
        if path == "revival/checklist-confirm":
            self._names.pop(bank, None)
            self._say(f"{self.banks[bank].base}/revival/checklist-by", text(""))

    def refused(self, message: Message, why: str) -> None:
        """Say where the command came from that it was refused, and why: from any thread."""
        bank, path = self._acts[message.topic]
        word = message.payload.decode("utf-8", "replace")
        what = word if path == "revival/command" and word in COMMANDS else path.partition("/")[2]
        told = json.dumps(
            {"what": what, "why": spoken(why, self._scale), "when": moment(1)(message.at)}, ensure_ascii=False
        )
        self._say(f"{self.banks[bank].base}/revival/refused", told)

    def _say(self, topic: str, payload: str | bytes) -> None:
        """Publish an event: not retained, and so at QoS 0, as the convention has it."""
        self._publish(topic, payload, retain=False, qos=0)

    def _write_name(self, bank: str, message: Message) -> None:
        """Keep who is about to confirm the checklist, until the button is pressed: writing it confirms nothing."""
        name = parse_name(message.payload)
        self._names[bank] = WrittenName(name, message.at)
        self._say(message.topic.removesuffix("/set"), text(name))

    def announced(self) -> list[str]:
        """Return every retained topic this cabin owns: the announcement record."""
        topics = [self.state_topic, f"{self.base}/$description", *self._health]
        topics += self.discovery.documents if self.discovery is not None else ()
        for device in self.banks.values():
            topics += device.topics()
        return topics

    def retire(self, old: Iterable[str]) -> int:
        """Clear what an earlier configuration announced and this one does not own; how many."""
        orphans = sorted(set(old) - set(self.announced()), key=lambda topic: (not topic.endswith("/$state"), topic))
        for topic in orphans:
            self._publish(topic, UNKNOWN)
        return len(orphans)
