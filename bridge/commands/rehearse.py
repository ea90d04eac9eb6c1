"""`revival rehearse`: an overheating bank through the owner's own configuration, to the cut, without the real relay."""

from __future__ import annotations

import argparse
import hashlib
import json
import logging
import secrets
import tempfile
import threading
from collections.abc import Callable
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import Any

from bridge import clock as time_source
from bridge.app import running
from bridge.clock import Clock
from bridge.commands.files import add_config
from bridge.commands.which_bank import which_bank
from bridge.config import load
from bridge.demo.broker import embedded_broker
from bridge.errors import CannotReachError, UnsafeStateError, UsageError
from bridge.rehearsal.scratch import scratch
from bridge.rehearsal.stage import EVERY, Stage
from bridge.runtime.control_socket import ask
from bridge.runtime.service import Service
from bridge.words.folded import for_screen
from bridge.words.spoken import spoken
from rules.advice import FLAGS
from rules.meters import CONFIRM_WINDOW
from rules.safety import CURRENT_WAIT, PROOF_WAIT

#: How long one step may take: a broker's own time, and what the rules wait for [s].
PATIENCE = 20.0
#: The pretended electrolyte warms so much from one sample to the next [K]: fast, and still believed.
WARMING = 4.0
#: Said of a bank that cannot overheat in a play.
NO_PROBE = (
    "{bank} has no electrolyte thermometer in the cabin file, so overheating cannot be rehearsed, and without one no "
    "relay is permitted to charge: map one as quantity electrolyte_temperature (`revival setup --take` takes one that "
    "was offered), or name another bank by --bank; `revival prove` tries the real relay"
)
#: Kinds of flags that keep a relay open; so many of the words that it was told are shown.
WITHHOLDING, TOLD_SHOWN = frozenset({"hazard", "permit", "start"}), 4
#: Every topic of a rehearsal lies below this.
SCRATCH = "rehearsal"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_config(parser)
    parser.add_argument("--bank", metavar="ID", help="which bank; not needed where there is only one")
    parser.add_argument(
        "--embedded", action="store_true", help="on a broker of the rehearsal's own instead of yours (demo extra)"
    )


class Rehearsal:
    """One play: each step says what was done, whether it came out, and how long it took."""

    def __init__(self, service: Service, stage: Stage, bank: str, journal: Path, prefix: str) -> None:
        self.service, self.stage, self.bank, self.journal, self.prefix = service, stage, bank, journal, prefix
        self.scale = service.homie.cabin.degrees
        self.failed, self._open_for = 0, ""
        self._began = time_source.monotonic()

    def step(self, words: str, came_out: bool, seconds: float | None = None) -> None:
        """Print one line."""
        self.failed += not came_out
        took = "" if seconds is None else f" ({seconds:.2f} s)"
        moment = time_source.monotonic() - self._began
        said = spoken(words, self.scale)
        print(for_screen(f"{moment:7.1f} s  {'ok    ' if came_out else 'FAILED'}  {said}{took}"), flush=True)

    def wait(self, condition: Callable[[], object], timeout: float | None = None) -> float | None:
        """Return seconds until it is so, or None."""
        began = time_source.monotonic()
        while not condition():
            if time_source.monotonic() - began > (PATIENCE if timeout is None else timeout):
                return None
            time_source.sleep(0.01)
        return time_source.monotonic() - began

    def act(self, what: str, /, **argument: object) -> list[str]:
        """Do a person's act and return why it was refused."""
        answer = ask(
            self.journal,
            {"ask": "act", "bank": self.bank, "name": what, "by": "rehearsal", "argument": argument},
        )
        return list(answer.get("refused", [answer.get("error")]))

    def lock(self) -> Any:
        """Return the interlock's state."""
        return self.service.engine.memories[self.bank].interlock

    def play(self) -> None:
        """Play every step to the cut."""
        service, stage = self.service, self.stage
        took = self.wait(lambda: service.bus.subscribed)
        if took is None:
            raise CannotReachError(f"the broker does not answer: {service.bus.live.failure or 'no connection'}")
        self.step("connected; every topic is scratch, the real relay is not touched", True, took)
        if not self.readings():
            return
        if stage.relay is None:
            self.step("watch only: there is no relay in the cabin file, so nothing can be cut", True)
        else:
            self.permit()
        self.overheat()
        if stage.relay is not None:
            self.after()

    def readings(self) -> bool:
        """Tell whether every mapping, as the owner wrote it, gives a value: else nothing else can be played."""
        meters = {mapping.meter for mapping in self.stage.mappings}

        def missing() -> list[str]:
            return sorted(meters - self.service.engine.memories[self.bank].meters.keys())

        took = self.wait(lambda: not missing())
        if took is None:
            refused = "; ".join(sorted({reason for _, reason in self.service.engine.rejected})) or "nothing came"
            who = self.stage.user or "everybody"
            hint = (
                f"does the broker's access list say `topic readwrite {SCRATCH}/#` for {who}? Add it, or use --embedded"
            )
            silent = " and ".join(
                f"{one.meter} from {self.real(one.topic)} {one.pointer or one.name}".strip()
                for one in self.stage.mappings
                if one.meter in missing()
            )
            self.step(f"no reading of {silent}: {refused}; {hint}", False)
            return False
        self.step(f"{len(meters)} meters in your own styles and units are understood", True, took)
        return True

    def withheld(self) -> str:
        """Return what keeps the relay open, in the running bridge's own words, and what is done about it."""
        state = ask(self.journal, {"ask": "status"}).get("banks", {}).get(self.bank, {})
        against = [flag for flag in state.get("flags", ()) if flag["kind"] in WITHHOLDING]
        words = [f"{flag['name']}: {flag['reason']}. {FLAGS[flag['name']].action}" for flag in against]
        return self.real("; ".join(words))

    def mapped(self, *quantities: str) -> str:
        """Return by which mappings these quantities come in, and what the bridge last read from each."""
        last = self.service.engine.memories[self.bank].meters
        places = [
            f"{self.real(one.topic)} {one.pointer or one.name}".strip()
            + (f" (read as {last[one.meter].value:g} {one.canonical})" if one.meter in last else " (never read)")
            for one in [*self.stage.mappings, *self.stage.states]
            if one.quantity in quantities
        ]
        return " and ".join(places) or f"no mapping of {' or '.join(quantities)}"

    def unseen(self) -> str:
        """Return why nothing can show that the relay opened, and what would; empty where something can."""
        relay = self.stage.relay
        if relay is None or relay.state_topic is not None or self.stage.bank.by_quantity.get("current"):
            return ""
        return (
            f"nothing in the file can show that the relay on {self.real(relay.topic)} opened: [bank.relay] has no "
            f"state_topic, and no [[bank.meter]] of {self.bank} is its current. Write state_topic where the relay "
            "tells its state, or map the current (`revival setup` hears both); without either each `revival prove` "
            "waits for a person's word (`revival witness`), and no cut is ever seen"
        )

    def real(self, topic: str) -> str:
        """Return scratch topics, alone or in a sentence, as they stand in the owner's file."""
        return topic.replace(f"{self.prefix}/", "")

    def permit(self) -> None:
        """Take checklist, proof and start: the relay closes."""
        self.act("checklist", name="rehearsal")
        refused = self.act("prove")
        patience = 2 * PROOF_WAIT + CURRENT_WAIT + PATIENCE  # it closes first, then opens
        if refused:
            self.step(f"proof test refused: {'; '.join(refused)}", False)
        elif self.wait(lambda: self.lock().proof.at or self.lock().proving == "witness", patience) is None:
            self.step(f"the proof test does not end: {self.mapped('relay_state', 'current')}", False)
        elif not self.lock().proof.at:
            self.step(f"proof test: {self.unseen() or self.mapped('relay_state', 'current')}", False)
            self.act("witness", name="rehearsal")
        else:
            proof = self.lock().proof
            where = "" if proof.passed else f"; it was looked for on {self.mapped('relay_state', 'current')}"
            self.step(f"proof test: {proof.note}{where}", proof.passed, proof.seconds)
        self.closes("start", self.act("start"))
        self.stage.per_cell = 2.4
        time_source.sleep(2 * EVERY)

    def closes(self, act: str, refused: list[str]) -> None:
        """Show whether the relay closes after a person's act, and else what keeps it open."""
        closed = not refused and self.stage.wait_for(True, PATIENCE)
        if closed:
            self.step(f"{act}: the relay closes" + (", current flows" if act == "start" else ""), True)
            return
        words = "; ".join(word for word in (*refused, self.withheld()) if word) or self.told()
        same, self._open_for = words == self._open_for, words
        self.step(f"{act}: the relay does not close: {'for the same reason' if same else words}", False)

    def told(self) -> str:
        """Return what the pretended relay was told, for who has to find out why it did nothing."""
        relay = self.stage.relay
        if relay is None:
            return "there is no relay"
        words = ", ".join(repr(word) for word, _ in self.stage.told[-TOLD_SHOWN:]) or "nothing"
        return f"on {self.real(relay.topic)} it was told {words}; allow is {relay.allow!r}, cut is {relay.cut!r}"

    def overheat(self) -> None:
        """Warm the bank until it trips; take the time from the first sample over the limit to the cut."""
        stage, limits = self.stage, self.service.engine.banks[self.bank].limits
        placed = {meter.placed for meter in stage.bank.by_quantity.get("electrolyte_temperature", ())}
        limit = limits.temperature_case if "case" in placed else limits.temperature
        while stage.temperature + WARMING < limit:
            stage.temperature += WARMING
            stage.show()
            time_source.sleep(0.3)
        self.step(f"the electrolyte has warmed to {stage.temperature:.1f} degC, the limit is {limit:.1f} degC", True)
        closed = stage.closed
        stage.temperature = limit + 0.5
        over = stage.show()
        took = self.wait(lambda: "over-temperature" in self.lock().latched, CONFIRM_WINDOW + PATIENCE)
        words = "two samples over the limit: tripped by over-temperature"
        if took is None:
            words = f"two samples over the limit, and no trip: {self.mapped('electrolyte_temperature')}"
        self.step(words, took is not None, took)
        if stage.relay is None:
            return
        if not closed:
            self.step(f"the relay, which never closed, stays open: {self.told()}", stage.wait_for(False, PATIENCE))
            return
        opened = stage.wait_for(False, PATIENCE)
        words = f"the relay was told {stage.relay.cut!r} and opened, counted from the first hot sample"
        self.step(
            words if opened else f"the relay did not open: {self.told()}",
            opened,
            stage.told[-1][1] - over if opened and stage.told else None,
        )
        took = self.wait(lambda: self.lock().confirmed_at)
        why = self.unseen() or f"it was looked for on {self.mapped('relay_state', 'current')}"
        self.step(
            "the cut is confirmed by relay or current" if took is not None else f"the cut is not confirmed: {why}",
            took is not None,
            took,
        )

    def after(self) -> None:
        """Show that reset is not resume, and that losing the bridge cuts."""
        stage = self.stage
        refused = self.act("reset")
        self.step(f"reset while hot is refused: {'; '.join(refused) or 'it was not'}", bool(refused))
        stage.temperature = 30.0
        # Such a fall is believed only at its second sample.
        took = self.wait(lambda: not self.lock().latched or not self.act("reset"), PATIENCE)
        words = "cool again: reset, and the relay stays open"
        if took is None:
            words = f"cool again, and the reset is refused: {'; '.join(self.act('reset'))}"
        self.step(words, took is not None and not stage.closed, took)
        self.closes("resume", self.act("resume"))
        if not stage.closed:
            return
        relay = self.service.relays[self.bank]
        began = time_source.monotonic()
        relay.guard.session.drop("rehearsed")
        opened = stage.wait_for(False, PATIENCE)
        words = "the bridge's connection is lost: the broker itself told the relay to open"
        if not opened:
            words = (
                f"the bridge's connection is lost, and the broker did not tell the relay to open: {self.told()}; does "
                "its access list let this user write there?"
            )
        self.step(words, opened, time_source.monotonic() - began)


def passed(config: Path) -> frozenset[str]:
    """Return the banks whose rehearsal came out with the cabin file as it stands now."""
    try:
        kept = json.loads(played(config).read_text("ascii"))
        return frozenset(kept["banks"]) if kept["file"] == _digest(config) else frozenset()
    except (OSError, ValueError, TypeError, KeyError):
        return frozenset()


def _remember(config: Path, digest: str, bank: str) -> None:
    """Keep that a bank's rehearsal came out with a file: nobody is asked for it again before the file is changed."""
    banks = sorted({bank, *(passed(config) if digest == _digest(config) else ())})
    with suppress(OSError):  # where nothing may be written it is only proposed again
        played(config).write_text(json.dumps({"file": digest, "banks": banks}), "ascii")


def played(config: Path) -> Path:
    """Return where it is kept beside the cabin file that rehearsals of it came out well."""
    return config.with_name(f".{config.name}.rehearsed")


def _digest(config: Path) -> str:
    return hashlib.sha256(config.read_bytes()).hexdigest()


def run(arguments: argparse.Namespace) -> int:
    """Play; exit 5 when a step failed, 4 where the broker cannot be reached."""
    logging.basicConfig(level=logging.CRITICAL)
    loaded = load(arguments.config)
    played = _digest(arguments.config)
    bank = which_bank(loaded.cabin.banks, arguments.bank)
    if not loaded.cabin.banks[bank].probe:
        raise UsageError(NO_PROBE.format(bank=bank))
    prefix = f"{SCRATCH}/{secrets.token_hex(4)}"
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="rehearsal")))
        broker = ("127.0.0.1", stack.enter_context(embedded_broker(folder))) if arguments.embedded else None
        copy = scratch(loaded, bank, prefix, folder, broker)
        where = f"{copy.cabin.broker.host}:{copy.cabin.broker.port}"
        print(f"rehearsal of {bank} on {where}, below {prefix}/")
        clock = Clock()
        try:
            stage = Stage(copy, copy.cabin.banks[bank], clock.now)
        except OSError as error:
            raise CannotReachError(f"the broker at {where}: {error}") from None
        stack.callback(stage.close)
        service = stack.enter_context(running(copy, clock))
        thread = threading.Thread(target=service.run, daemon=True)
        thread.start()
        rehearsal = Rehearsal(service, stage, bank, copy.cabin.journal.path, prefix)
        try:
            rehearsal.play()
        finally:
            service.stop()
            thread.join(10.0)
            stage.forget(service.homie.announced(), f"{copy.cabin.site}-history")
    if not rehearsal.failed:
        _remember(arguments.config, played, bank)
    print("every step came out" if not rehearsal.failed else f"{rehearsal.failed} steps FAILED")
    return UnsafeStateError.exit_code if rehearsal.failed else 0
