"""`revival rehearse`: an overheating bank through the owner's own configuration, to the cut, without the real relay."""

from __future__ import annotations

import argparse
import logging
import secrets
import tempfile
import threading
from collections.abc import Callable
from contextlib import ExitStack
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

    def __init__(self, service: Service, stage: Stage, bank: str, journal: Path) -> None:
        self.service, self.stage, self.bank, self.journal = service, stage, bank, journal
        self.failed = 0
        self._began = time_source.monotonic()

    def step(self, words: str, came_out: bool, seconds: float | None = None) -> None:
        """Print one line."""
        self.failed += not came_out
        took = "" if seconds is None else f" ({seconds:.2f} s)"
        moment = time_source.monotonic() - self._began
        print(f"{moment:7.1f} s  {'ok    ' if came_out else 'FAILED'}  {words}{took}", flush=True)

    def wait(self, condition: Callable[[], object], timeout: float = PATIENCE) -> float | None:
        """Return seconds until it is so, or None."""
        began = time_source.monotonic()
        while not condition():
            if time_source.monotonic() - began > timeout:
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
            self.step(f"no reading of {', '.join(missing())}: {refused}; {hint}", False)
            return False
        self.step(f"{len(meters)} meters in your own styles and units are understood", True, took)
        return True

    def permit(self) -> None:
        """Take checklist, proof and start: the relay closes."""
        self.act("checklist", name="rehearsal")
        refused = self.act("prove")
        if refused:
            self.step(f"proof test refused: {'; '.join(refused)}", False)
        elif self.wait(lambda: self.lock().proof.at, PROOF_WAIT + CURRENT_WAIT + PATIENCE) is None:
            self.step("the proof test does not end", False)
        else:
            proof = self.lock().proof
            self.step(f"proof test: {proof.note}", proof.passed, proof.seconds)
        refused = self.act("start")
        closed = self.stage.wait_for(True, PATIENCE)
        self.step("; ".join(refused) or "start: the relay closes, current flows", closed and not refused)
        self.stage.per_cell = 2.4
        time_source.sleep(2 * EVERY)

    def overheat(self) -> None:
        """Warm the bank until it trips; take the time from the first sample over the limit to the cut."""
        stage, limits = self.stage, self.service.engine.banks[self.bank].limits
        placed = {meter.placed for meter in stage.bank.by_quantity.get("electrolyte_temperature", ())}
        limit = limits.temperature_case if placed == {"case"} else limits.temperature
        while stage.temperature + WARMING < limit:
            stage.temperature += WARMING
            stage.show()
            time_source.sleep(0.3)
        self.step(f"the electrolyte has warmed to {stage.temperature:.1f} degC, the limit is {limit:.1f}", True)
        stage.temperature = limit + 0.5
        over = stage.show()
        took = self.wait(lambda: "over-temperature" in self.lock().latched, CONFIRM_WINDOW + PATIENCE)
        self.step("two samples over the limit: tripped by over-temperature", took is not None, took)
        if stage.relay is None:
            return
        opened = stage.wait_for(False, PATIENCE)
        after = stage.told[-1][1] - over if stage.told else None
        self.step(
            f"the relay was told {stage.relay.cut!r} and opened, counted from the first hot sample", opened, after
        )
        took = self.wait(lambda: self.lock().confirmed_at)
        self.step("the cut is confirmed by relay or current", took is not None, took)

    def after(self) -> None:
        """Show that reset is not resume, and that losing the bridge cuts."""
        stage = self.stage
        refused = self.act("reset")
        self.step(f"reset while hot is refused: {'; '.join(refused)}", bool(refused))
        stage.temperature = 30.0
        # Such a fall is believed only at its second sample.
        took = self.wait(lambda: not self.lock().latched or not self.act("reset"), PATIENCE)
        self.step("cool again: reset, and the relay stays open", took is not None and not stage.closed, took)
        refused = self.act("resume")
        self.step("; ".join(refused) or "resume: the relay closes", stage.wait_for(True, PATIENCE) and not refused)
        relay = self.service.relays[self.bank]
        began = time_source.monotonic()
        relay.guard.session.drop("rehearsed")
        opened = stage.wait_for(False, PATIENCE)
        self.step(
            "the bridge's connection is lost: the broker itself told the relay to open", opened,
            time_source.monotonic() - began,
        )  # fmt: skip


def run(arguments: argparse.Namespace) -> int:
    """Play; exit 5 when a step failed, 4 where the broker cannot be reached."""
    logging.basicConfig(level=logging.CRITICAL)
    loaded = load(arguments.config)
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
        rehearsal = Rehearsal(service, stage, bank, copy.cabin.journal.path)
        try:
            rehearsal.play()
        finally:
            service.stop()
            thread.join(10.0)
            stage.forget(service.homie.announced(), f"{copy.cabin.site}-history")
    print("every step came out" if not rehearsal.failed else f"{rehearsal.failed} steps FAILED")
    return UnsafeStateError.exit_code if rehearsal.failed else 0
