"""Every situation in which a sentence is read: phase, relay, meters, warmth, flag, scale; and all that is said in it.

Banks come from cabin text, states through `rules.step`; what is true of each is written down here, from what was fed
in, and never asked of the code that is judged.
"""

from __future__ import annotations

import html
import json
import re
import types
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, cast

from bridge.commands.status import words as status_words
from bridge.config import load
from bridge.journal.reader import Bucket, JournalReader
from bridge.journal.snapshot import to_text
from bridge.outlets.homie import HomieOutlet
from bridge.page.view import bank_view, site_view
from bridge.report.owner import Units
from bridge.report.round import gather
from bridge.report.whole import report
from bridge.runtime.service import Service
from bridge.settings import Cabin, PageSettings
from rules.advice import FLAGS, action
from rules.bank import Bank
from rules.bank_view import look
from rules.events import Command, Derived, Event, Flag, HandReading, Order, Reading, Tick
from rules.phase import PHASES, PhaseMemory
from rules.safety import Interlock, Proof
from rules.step import Memory, initial, step
from rules.step.charger_seen import charger
from rules.step.derived_state import derive

T = 1_795_590_000.0
#: none; open and held, or waiting for resume; closed; told to open, or to close, and never reporting; told and closed.
RELAYS = ("none", "open-held", "open-resume", "closed", "silent-cut", "silent-allow", "disobeys")
METERS = ("all", "no-current", "no-thermometer", "by-hand")
#: What else is so: nothing, warm, hot, silent for twenty minutes, cold, nothing flows, current from elsewhere as well.
CONDITIONS = ("calm", "warm", "hot", "silent", "cold", "quiet", "sun")
SCALES = ("degC", "degF")
#: Flags that say warm, or that a reading cannot be believed.
DOUBTED = frozenset(
    {"temperature-high", "temperature-rising-fast", "meter-suspect", "mapping-suspect", "sensors-disagree"}
)
UNITS = {"voltage": "V", "current": "A", "electrolyte_temperature": "degC"}
_PLACED = {"electrolyte_temperature": 'placed = "case"'}
#: Which meters speak.
SPEAKING = {
    "all": ("voltage", "current", "electrolyte_temperature"),
    "no-current": ("voltage", "electrolyte_temperature"),
    "no-thermometer": ("voltage", "current"),
    "by-hand": (),
}

CABIN = """
[site]
id = "tarn-hut"
[broker]
host = "127.0.0.1"
[page]
temperature = "{scale}"
[[bank]]
id = "north"
strings = 1
blocks = {{ per_string = 4, cells = 3, capacity = "200 Ah", labels = ["N1", "N2", "N3", "N4"] }}
chargers = [ {{ volts = "32 V", amps = "25 A" }} ]
{meters}
{relay}
"""
METER = """
[[bank.meter]]
topic = "cabin/{topic}"
style = "plain"
quantity = "{quantity}"
unit = "{unit}"
{more}
"""
RELAY = """
[bank.relay]
topic = "cabin/charger/set"
cut = "OFF"
allow = "ON"
auto_off = "90 s"
{state}
"""


@dataclass(frozen=True)
class Situation:
    """Where a sentence is read, and what is true there."""

    phase: str
    relay: str
    meters: str
    condition: str
    flag: str
    scale: str
    bank: Bank = field(compare=False)
    memory: Memory = field(compare=False)
    derived: Derived = field(compare=False)
    cabin: Cabin = field(compare=False)
    events: tuple[Event, ...] = field(compare=False)

    @property
    def metered(self) -> bool:
        """A current is seen, by a meter or by hand within the hour."""
        return self.meters in ("all", "no-thermometer", "by-hand") and self.condition != "silent"

    @property
    def seen(self) -> bool:
        """Voltage, current and temperature are known now."""
        return self.meters in ("all", "by-hand") and self.condition != "silent"

    @property
    def opened(self) -> bool:
        """The relay was seen open: by its report, or by the 20 A that stopped after it was told to open."""
        fell = self.relay == "silent-cut" and self.condition == "quiet" and "current" in SPEAKING[self.meters]
        return self.relay.startswith("open") or fell

    @property
    def known_off(self) -> bool:
        """The relay was seen open; nothing else feeds this bank."""
        return self.opened and not self.flows

    @property
    def flows(self) -> bool:
        """Current is seen to flow in although the relay reports open, or because it is closed."""
        return self.metered and (
            self.condition == "sun" or (self.condition != "quiet" and not self.relay.startswith("open"))
        )

    @property
    def calm(self) -> bool:
        """Nothing is warm, doubted, tripped or unseen."""
        doubted = self.flag in DOUBTED
        hazard = self.flag and FLAGS[self.flag].kind == "hazard"
        hazard = hazard or self.relay == "disobeys" or (self.relay == "silent-cut" and self.flows)
        return self.seen and self.condition in ("calm", "cold", "quiet", "sun") and not doubted and not hazard

    def __str__(self) -> str:
        return f"{self.phase}/{self.relay}/{self.meters}/{self.condition}/{self.flag or '-'}/{self.scale}"


def cabin(folder: Path, relay: str, meters: str, scale: str) -> Cabin:
    """A cabin file of this kind, as it is read at start-up."""
    # Behind a relay volts and a thermometer must be mapped; where nobody sees them their meters never speak.
    mapped = [quantity for quantity in UNITS if relay != "none" and quantity != "current"]
    mapped += [quantity for quantity in SPEAKING[meters] if quantity not in mapped]
    tables = [
        METER.format(topic=quantity, quantity=quantity, unit=UNITS[quantity], more=_PLACED.get(quantity, ""))
        for quantity in mapped
    ]
    reports = "" if relay.startswith("silent") else 'state_topic = "cabin/charger/state"'
    text = CABIN.format(
        scale=scale, meters="".join(tables), relay="" if relay == "none" else RELAY.format(state=reports)
    )
    path = folder / f"{relay}-{meters}-{scale}.toml"
    path.write_text(text)
    return load(path).cabin


def _lock(relay: str) -> Interlock:
    proof = Proof(T - 86400.0, True, 0.4, True, "the relay opened and the current fell")
    base = Interlock(started=True, checklist_by="the keeper", proof=proof)
    if relay == "none":
        return Interlock(started=True)
    told = base._replace(order_at=T - 60.0, repeated_at=T - 60.0, current_before=20.0)
    if relay in ("closed", "silent-allow"):
        return told._replace(allowed=True, allowed_at=T - 60.0)
    if relay.startswith("open"):
        told = told._replace(confirmed_at=T - 59.0)
        return (
            told._replace(needs_resume=True) if relay == "open-resume" else told._replace(withdrawn_for="meter-silent")
        )
    return told._replace(needs_resume=True)


def _round(phase: str) -> PhaseMemory:
    ended = phase in ("resting", "testing", "finished")
    began = None if phase == "idle" else T - 40 * 3600.0
    return PhaseMemory(
        phase,
        since=T - 7200.0,
        woken=phase not in ("idle", "waking", "reviving"),
        started_at=began,
        hold_seconds=16 * 3600.0 if ended else 3600.0 if phase == "holding" else 0.0,
        hold_needed=16 * 3600.0,
        hold_complete=ended,
        hold_completed_at=T - 7200.0 if ended else None,
    )


def _fed(
    bank: Bank, memory: Memory, relay: str, meters: str, condition: str
) -> tuple[Memory, Derived, tuple[Event, ...]]:
    """Readings for a minute, as they come; the last state that went out, and what happened."""
    warmth = {"warm": 39.0, "hot": 44.0, "cold": -5.0}.get(condition, 25.0)
    flowing = condition != "quiet" and not relay.startswith("open")
    volts, amps = (29.0, 20.0) if flowing else (25.0, 6.0 if condition == "sun" else 0.0)
    told: list[Derived] = []
    events: list[Event] = []

    def fold(event: Any) -> None:
        nonlocal memory
        memory, outcomes = step(bank, memory, event)
        told.extend(outcome for outcome in outcomes if type(outcome) is Derived)
        events.extend(outcome for outcome in outcomes if type(outcome) is Event)
        # The journal keeps orders as events.
        events.extend(
            Event("north", "order", outcome.at, {"action": outcome.action, "reason": outcome.reason})
            for outcome in outcomes
            if type(outcome) is Order
        )

    if meters == "by-hand":
        for kind, value in (("voltage", volts), ("amps", amps), ("temperature", warmth)):
            taken = T - (30 * 3600.0 if condition == "silent" else 3600.0)
            fold(HandReading("north", kind, T, taken, {"": value}, by="the keeper"))
    state = {"closed": 1.0, "open-held": 0.0, "open-resume": 0.0, "disobeys": 1.0}.get(relay)
    values = {"voltage": volts, "current": amps, "electrolyte_temperature": warmth, "relay_state": state}
    for second in (0.0, 10.0, 20.0):
        for name, shown in values.items():
            speaks = name == "relay_state" or name in SPEAKING[meters]
            if speaks and name in bank.by_name and shown is not None:
                fold(Reading("north", name, shown, T + second, T + second))
        fold(Tick(T + second))
    if condition == "silent":
        fold(Tick(T + 20.0 + 1200.0))
    return memory, told[-1], tuple(events)


def situations(folder: Path, phases: tuple[str, ...] = PHASES) -> Iterator[Situation]:
    """Every combination, each once as it comes, and once with every flag up by itself."""
    for relay in RELAYS:
        for meters in METERS:
            cabins = {scale: cabin(folder, relay, meters, scale) for scale in SCALES}
            bank = cabins["degC"].banks["north"]
            for phase in phases:
                start = initial()._replace(began_at=T - 3600.0, phase=_round(phase), interlock=_lock(relay))
                for condition in CONDITIONS:
                    memory, derived, events = _fed(bank, start, relay, meters, condition)
                    first = Situation(
                        phase, relay, meters, condition, "", "degC", bank, memory, derived, cabins["degC"], events
                    )
                    yield first
                    yield replace(first, scale="degF", cabin=cabins["degF"])
                    if condition == "calm" and meters in ("all", "no-current"):
                        yield from _flagged(first)


def _flagged(first: Situation) -> Iterator[Situation]:
    bank, at = first.bank, first.derived.at
    view = look(bank, first.memory.meters, first.memory.counters, at, first.memory.hand)
    now = charger(bank, first.memory, first.memory.interlock, view, at)
    for name in FLAGS:
        if name == "charger-limit-low" and (first.phase != "absorbing" or first.opened or not first.calm):
            continue  # that is what absorbing is
        if name in ("other-source", "charging-unprepared") and first.opened:
            continue  # raised by a current that is seen: the condition called sun
        flag = Flag(name, FLAGS[name].kind, at, 44.0, 40.0, "degC", "44.0 degC on the case", action(name, now))
        standing = {each: up for each, up in first.memory.flags.items() if up.kind == "hazard"}
        memory = first.memory._replace(flags={**standing, name: flag})
        yield replace(first, flag=name, memory=memory, derived=derive(bank, memory, view, at))


_OUTLETS: dict[tuple[str, str, str], tuple[dict[str, str], HomieOutlet]] = {}


def _outlet(relay: str, meters: str, scale: str, cabin: Cabin) -> tuple[dict[str, str], HomieOutlet]:
    """One announced tree for each cabin; what it published last by the end of the topic."""
    key = (relay, meters, scale)
    if key not in _OUTLETS:
        said: dict[str, str] = {}

        def publish(topic: str, payload: str, **_: Any) -> None:
            said[topic.partition("tarn-hut-north/")[2]] = payload

        _OUTLETS[key] = said, HomieOutlet(cabin, publish)
        _OUTLETS[key][1].announce()
    return _OUTLETS[key]


def on_the_bus(where: Situation) -> dict[str, str]:
    """Texts as a hub or a plain subscriber reads them, by the end of their topic."""
    said, outlet = _outlet(where.relay, where.meters, where.scale, where.cabin)
    outlet.update(where.derived)
    flags = json.loads(said["safety/flags"])
    texts = {f"flag {flag['name']}": flag["action"] for flag in flags}
    texts |= {f"then {number}": line for number, line in enumerate(json.loads(said["advice/then"] or "[]"))}
    texts |= {key: said[key] for key in ("advice/next-step", "advice/charger", "safety/trip-reason")}
    return {key: text for key, text in texts.items() if text.strip("\0")}


def on_status(where: Situation) -> list[str]:
    """Lines of `revival status`."""
    bridge = {"connected": True, "messages": 1, "journal_lag": 0.0, "journal_degraded": "", "unstored": 0,
              "dropped": 0, "rejected": {}}  # fmt: skip
    plain = where.derived._asdict()
    plain["flags"] = [flag._asdict() for flag in where.derived.flags]
    return status_words({"bridge": bridge, "banks": {"north": plain}}, where.scale)


def on_the_page(where: Situation) -> dict[str, Any]:
    """What the page is sent of this bank."""
    engine = types.SimpleNamespace(memories={"north": where.memory}, banks={"north": where.bank})
    service = types.SimpleNamespace(engine=engine)
    shown = bank_view(cast(Service, service), "north", where.derived, where.scale)
    site = site_view(where.cabin, PageSettings())
    return {**shown, "site": site["banks"]["north"]}


def page_texts(shown: dict[str, Any]) -> list[str]:
    """The sentences in it."""
    return [
        shown["standing"],
        shown["next_step"],
        shown["charger"],
        *shown["then"],
        *(flag["action"] for flag in shown["flags"]),
        *(latch["action"] for latch in shown["lock"]["latched"] if latch["action"]),
    ]


class _Kept:
    """What the journal holds of one situation, as the report asks for it."""

    path = Path("revival.db")

    def __init__(self, where: Situation) -> None:
        self.where = where

    def snapshots(self) -> dict[str, str]:
        return {"north": to_text(self.where.memory)}

    def latest_state(self, _: str) -> Derived:
        return self.where.derived

    def states(self, _: str, since: float, until: float) -> list[Derived]:
        return [self.where.derived] if since <= self.where.derived.at < until else []

    def states_at(self, _: str, moments: list[float]) -> list[Derived | None]:
        return [self.where.derived if at >= self.where.derived.at else None for at in moments]

    def events(self, *_: object) -> list[Event]:
        return list(self.where.events)

    def readings(self, *_: object) -> list[Bucket]:
        return []


def on_the_report(where: Situation) -> list[str]:
    """What the report of this round says, without its plan and its cautions: those are said before any round."""
    made = gather(where.cabin, cast(JournalReader, _Kept(where)), "north")
    page = report(made, Units.of(where.cabin))
    body = re.sub(
        r"<h2>The plan</h2>.*?(?=<div class=.whole.><h2>The curve)|<svg.*?</svg>|<style.*?</style>",
        "",
        page,
        flags=re.S,
    )
    body = body.partition("<h2>Cautions")[0]
    found = re.findall(r"<(?:p|li|td|h2|th)[^>]*>(.*?)</(?:p|li|td|h2|th)>", body, re.S)
    return [text for each in found if (text := " ".join(html.unescape(re.sub(r"<[^>]+>", " ", each)).split()))]


def booted(fold_bank: Bank, memory: Memory, at: float) -> Memory:
    """The memory after the bridge came up again."""
    return step(fold_bank, memory, Command("north", "boot", at))[0]
