"""One performance: a bridge that turns in its own thread, a recording played to it, and a person who looks on."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable

from rich.console import Console
from rich.live import Live

from bridge import clock as time_source
from bridge.clock import PacedClock
from bridge.demo.player import Player
from bridge.demo.view import View
from bridge.intake import Decoded
from bridge.message import Message
from bridge.runtime.service import Service
from bridge.words.spoken import spoken

#: The picture is drawn anew at most so often [s].
SHOW_EVERY = 0.25
#: Where there is no terminal, how far it has come is said at least so often [s].
SAY_EVERY = 20.0


class Performance:
    """What is played, and how far it has been heard.

    Attributes
    ----------
    arrived : Counter
        Messages that the bridge has taken in so far, by topic.
    seconds : float
        How long it took, once it is over [s].
    """

    def __init__(self, service: Service, player: Player, clock: PacedClock, scale: str) -> None:
        self.service, self.player, self.clock, self.scale = service, player, clock, scale
        self.arrived: Counter[str] = Counter()
        self.seconds = 0.0
        self._accept, service.engine.accept = service.engine.accept, self._take  # type: ignore[method-assign]  # stands between bus and engine
        self._thread = threading.Thread(target=service.run, name="bridge", daemon=True)

    def run(
        self,
        console: Console,
        pace: Callable[[], float],
        waits: Callable[[], bool] = lambda: False,
        flows: Callable[[Message], Message] = lambda message: message,
    ) -> None:
        """Play to the end, showing the live view where there is a terminal and a line per phase where there is none.

        Parameters
        ----------
        pace : callable
            How fast at this moment [recorded s per s].
        waits : callable
            Whether a relay still owes an answer.
        flows : callable
            What a message becomes as the relay stands.
        """
        messages = self.player.messages
        began, start, end = time_source.monotonic(), messages[0].at, messages[-1].at
        view = View((end - start) / 3600.0, self.scale)
        self._thread.start()
        while not self.service.bus.subscribed:
            time_source.sleep(0.01)
        said: dict[str, str] = {}
        steps: set[str] = set()
        shown_at, said_at = 0.0, began
        with Live(console=console, auto_refresh=False, transient=True) as live:

            def look() -> None:
                nonlocal shown_at, said_at
                moment = time_source.monotonic()
                if moment - shown_at < SHOW_EVERY:
                    return
                shown_at = moment
                latest = list(self.service.latest.values())
                if console.is_terminal:
                    hours = _hours(start, self.service.engine.at)
                    live.update(view.render(hours, latest, pace()), refresh=True)
                    return
                if moment - said_at > SAY_EVERY:
                    said_at = moment
                    hours = _hours(start, self.service.engine.at)
                    console.print(f"{hours:6.1f} h of {(end - start) / 3600.0:.1f} h have been played")
                for derived in latest:
                    if derived.phase + derived.trip_reason != said.get(derived.bank, ""):
                        said[derived.bank] = derived.phase + derived.trip_reason
                        said_at = moment
                        which = f"{derived.bank}  " if len(self.service.engine.banks) > 1 else ""
                        hours = _hours(start, derived.at)
                        # A step is printed once, however many phases it is due in; beside a trip it always is.
                        again = derived.next_step in steps and not derived.tripped
                        steps.add(derived.next_step)
                        words = spoken(f"{derived.trip_reason}  {'' if again else derived.next_step}", self.scale)
                        console.print(f"{hours:6.1f} h  {which}{derived.phase:10} {words}".rstrip())

            self.player.play(self.arrived, self._reached, pace, waits, flows, look)
            while self.service.engine.at < end - 1.0:
                look()
                time_source.sleep(0.01)
            time_source.sleep(0.2)
        self.seconds = time_source.monotonic() - began

    def _take(self, message: Message) -> Decoded | None:
        self.arrived[message.topic] += 1
        return self._accept(message)

    def _reached(self) -> float:
        self.service.mailbox.wake()
        return self.service.engine.at or self.clock.now()

    def stop(self) -> None:
        """End the bridge's loop, if it was begun: Ctrl-C may come before."""
        self.service.stop()
        if self._thread.ident is not None:
            self._thread.join(10.0)


def keep(console: Console, config: str) -> None:
    """Wait for Ctrl-C, saying where to look."""
    console.print(f"Everything keeps running. Ask it: revival status --config {config}   (Ctrl-C ends it)")
    try:
        threading.Event().wait()
    except KeyboardInterrupt:
        console.print("ended")


def _hours(start: float, at: float) -> float:
    """Return recorded hours since the beginning [h]; none before the first message has given the engine its time."""
    return max(0.0, at - start) / 3600.0
