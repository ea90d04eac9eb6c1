"""What people ask and do, over this host, the page or the bus, and what a running bridge answers."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from bridge.clock import Clock, PacedClock
from bridge.errors import RequestError
from bridge.intake.request import ProofAsked, Request, StatusAsked
from bridge.journal.snapshot import freeze
from bridge.mailbox import Asked
from bridge.message import Message
from bridge.outlets.homie import HomieOutlet
from bridge.outlets.relay import RelayOutlet
from bridge.runtime.commits import UNKEPT, Storing
from bridge.runtime.engine import Engine
from bridge.words.catalogue import FINISH_EARLY
from rules.events import Command, Derived, Event, HandReading
from rules.safety import Interlock

log = logging.getLogger("revival")

#: A command on the bus is one word: there is another for whoever means it.
EARLY_INSTEAD = f"send {FINISH_EARLY}"


class Requests:
    """Who carries out what people ask, one at a time, in the engine's thread.

    Parameters
    ----------
    engine : Engine
        Folds what is done.
    clock : Clock or PacedClock
        The bridge's time.
    storing : Storing
        An act is answered once it is kept.
    homie : HomieOutlet
        Where commands come and are answered on the bus.
    relays : dict of RelayOutlet
        By bank id.
    old_protocol : bool
        The bus speaks MQTT 3.1.1, where a command tells nothing of its age.
    status : callable
        How the bridge and every bank is.

    Attributes
    ----------
    unsure : list of Event
        Asked back by the rules of the act under way.
    """

    def __init__(
        self,
        engine: Engine,
        clock: Clock | PacedClock,
        storing: Storing,
        homie: HomieOutlet,
        relays: Mapping[str, RelayOutlet],
        old_protocol: bool,
        status: Callable[[], dict[str, Any]],
    ) -> None:
        self.engine, self.clock, self.storing, self.homie, self.relays = engine, clock, storing, homie, relays
        self.old_protocol, self.status = old_protocol, status
        self.unsure: list[Event] = []

    def answer(self, asked: Asked) -> None:
        """Answer what a command on this host or the page asks, an act once it is stored."""
        try:
            told = self._answer(asked.request)
        except RequestError as error:
            asked.reply.put({"error": str(error)})
            return
        except Exception as error:  # whoever asks may not end the watch, whatever the defect
            log.exception("a request could not be answered")
            asked.reply.put({"error": f"{type(error).__name__}: {error}"})
            return
        if told.get("refused") == [] and "unsure" not in told:
            self.storing.answer_after(
                lambda kept: asked.reply.put({**told, "stored": kept, **({} if kept else {"warning": UNKEPT})})
            )
        else:
            asked.reply.put(told)

    def _answer(self, wish: Request) -> dict[str, Any]:
        """Carry out what was asked, as of now: it was parsed when it came, and may have waited.

        Raises
        ------
        RequestError
            There is no such bank.
        """
        if isinstance(wish, StatusAsked):
            return self.status()
        if wish.bank not in self.engine.banks:
            raise RequestError(f"no bank {wish.bank[:40]!r}: there are {', '.join(sorted(self.engine.banks))}")
        now = self.clock.now()
        if isinstance(wish, ProofAsked):
            return proof_answer(self.engine.memories[wish.bank].interlock)
        if isinstance(wish, HandReading):
            return act_answer(self._do(wish._replace(at=now, taken_at=min(wish.taken_at, now))))
        return act_answer(self._do(wish._replace(at=now)))

    def obey(self, message: Message) -> None:
        """Carry out a command that came over the bus, and answer it there."""
        told = self.homie.command(message, self.clock.now())
        if isinstance(told, Command) and told.name == "start" and self._resumes_unseen(told.bank):
            why = "a reset waits for its resume, which over MQTT 3.1.1 comes from the command line or the page"
            self.homie.refused(message, why)
            told = Event(told.bank, "refused", told.at, {"name": "start", "by": "bus", "why": why})
        if isinstance(told, Event):
            self.storing.batch.events.append(told)
        elif told is not None:
            events = self._do(told)
            refusals = [str(event.detail.get("why")) for event in events if event.kind == "refused"]
            for event in events:
                if event.kind == "unsure":  # nobody can be asked over the bus: it is refused, with how to insist
                    insist = EARLY_INSTEAD if event.detail["name"] == "finish" else 'send it again with "sure": true'
                    if "meant" in event.detail:  # of words a letter beside a danger
                        insist = f"{insist} to keep the words only"
                    else:
                        insist = f"{insist} if it is meant"
                    why = f"{event.detail['why']}: {insist}"
                    self.storing.batch.events.append(
                        event._replace(kind="refused", detail={**event.detail, "why": why})
                    )
                    refusals.append(why)
            if refusals:
                self.homie.refused(message, "; ".join(refusals))
            else:
                # Published as done when it is done, and kept: who reads it may act on it.
                self.storing.answer_after(
                    lambda kept: self.homie.done(message) if kept else self.homie.refused(message, UNKEPT)
                )

    def _resumes_unseen(self, bank: str) -> bool:
        """Tell whether a start over this bus would be the second act after a reset that it may not bring."""
        return self.old_protocol and self.engine.memories[bank].interlock.needs_resume

    def _do(self, what: Command | HandReading) -> list[Event]:
        """Fold a person's act in; what the rules said of it. Stored at once."""
        self.engine.advance(what.at)
        before = len(self.storing.batch.events)
        self.storing.batch.urgent = True
        outlet = self.relays.get(what.bank)
        if isinstance(what, Command) and what.name == "prove" and outlet is not None:
            # Several banks behind one relay can only be proved together: it closes when all of them allow.
            argument = {**what.argument, **({"beside": True} if len(outlet.relay.banks) > 1 else {})}
            for bank in outlet.relay.banks:
                self.engine.fold(what._replace(bank=bank, argument=argument))
        else:
            self.engine.fold(what)
        unsure, self.unsure = self.unsure, []
        return [*self.storing.batch.events[before:], *unsure]


def status_answer(bridge: dict[str, Any], latest: Mapping[str, Derived]) -> dict[str, Any]:
    """Return how the bridge and every bank is."""
    return {"bridge": bridge, "banks": {bank: plain_state(derived) for bank, derived in latest.items()}}


def proof_answer(lock: Interlock) -> dict[str, Any]:
    """Return how the proof test of a bank's relay goes."""
    return {"proving": lock.proving, "proof": freeze(lock.proof)}


def act_answer(events: Sequence[Event]) -> dict[str, Any]:
    """Return what the rules said of an act or a hand reading.

    A reading that is strange, or a finish long before the hold is complete, that does not say that somebody is sure is
    answered ``{"unsure": why}`` and not taken; of misspelt words of danger ``meant`` holds those to send instead, and
    being sure keeps the words as they are.
    """
    unsure = [event.detail for event in events if event.kind == "unsure"]
    if unsure:
        meant = [{"meant": each["meant"]} for each in unsure if "meant" in each]
        why = "; ".join(str(each["why"]) for each in unsure)
        return {"unsure": why, **(meant[0] if meant else {}), "refused": [], "events": []}
    refused = [str(event.detail.get("why")) for event in events if event.kind == "refused"]
    return {"refused": refused, "events": [{"kind": event.kind, **event.detail} for event in events]}


def plain_state(derived: Derived) -> dict[str, Any]:
    """Return a bank's state as plain values."""
    plain = derived._asdict()
    plain["flags"] = [flag._asdict() for flag in derived.flags]
    return plain
