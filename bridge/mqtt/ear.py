"""Overhears a broker: everything that comes on some topics for a while, and the protocol that the broker speaks."""

from __future__ import annotations

import contextlib
import logging
import os
import time
from collections.abc import Iterable, Iterator
from dataclasses import replace
from queue import Empty, SimpleQueue
from typing import Any

from paho.mqtt.client import Client

from bridge.errors import CannotReachError
from bridge.message import Message
from bridge.mqtt.bus import probe
from bridge.mqtt.refusals import REFUSALS
from bridge.mqtt.session import Session
from bridge.settings import BrokerSettings

#: Messages waiting to be looked at; more are dropped, since a glimpse of a busy broker is enough.
_WAITING = 20_000
#: Nothing came for so long: the listener gets a turn to show how far it is [s].
_TURN = 0.1


class LoginRefusedError(CannotReachError):
    """The broker wants another user name or password, or one at all."""


def spoken(settings: BrokerSettings) -> BrokerSettings:
    """Return the settings with the protocol that the broker speaks: MQTT 5, else 3.1.1.

    Raises
    ------
    CannotReachError
        Neither is let in; says why MQTT 5 is not.
    LoginRefusedError
        The broker asks for a login, or for another one.
    """
    try:
        _try(settings)
    except LoginRefusedError:
        raise
    except CannotReachError:
        if settings.protocol != "5":
            raise
        older = replace(settings, protocol="3.1.1")
        # The second failure would only say the same in other words.
        with contextlib.suppress(CannotReachError):
            _try(older)
            return older
        raise
    return settings


def _try(settings: BrokerSettings) -> None:
    logging.getLogger("revival").addHandler(logging.NullHandler())  # said once, by whoever asked
    try:
        probe(settings, f"{settings.client_prefix}-hear-{os.getpid()}")
    except CannotReachError as error:
        if any(REFUSALS[code] in str(error) for code in (0x86, 0x87)):
            raise LoginRefusedError(str(error)) from None
        raise


class Ear:
    """A connection that only listens; use it as a context.

    Parameters
    ----------
    topics : iterable of str
        Filters to subscribe to.
    """

    def __init__(self, settings: BrokerSettings, topics: Iterable[str]) -> None:
        self._topics = list(topics)
        self._waiting: SimpleQueue[Message] = SimpleQueue()
        logging.getLogger("revival").addHandler(logging.NullHandler())
        self._session = Session(
            settings,
            f"{settings.client_prefix}-listen-{os.getpid()}",
            opened=self._opened,
            received=self._receive,
        )

    def __enter__(self) -> Ear:
        self._session.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._session.stop()

    def hear(self, seconds: float) -> Iterator[tuple[float, Message | None]]:
        """Yield (seconds passed, message or None) for so long; None where nothing came for a moment.

        Raises
        ------
        CannotReachError
            The broker does not let us in, or the connection is lost.
        """
        begun = time.monotonic()
        while (passed := time.monotonic() - begun) < seconds:
            if self._session.failure and not self._session.connected:
                raise CannotReachError(f"broker: {self._session.failure}")
            try:
                yield passed, self._waiting.get(timeout=_TURN)
            except Empty:
                yield passed, None

    def _opened(self, session: Session, _present: bool) -> None:
        if session.link is not None:
            session.link[0].subscribe([(topic, 0) for topic in self._topics])

    def _receive(self, _client: Client, _data: Any, message: Any) -> None:
        if self._waiting.qsize() < _WAITING:
            self._waiting.put(Message(message.topic, message.payload, time.time(), message.retain))
