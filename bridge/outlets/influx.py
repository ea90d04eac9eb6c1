"""A time-series database behind the InfluxDB v2 write interface: it follows the journal, at its own pace.

The journal is the buffer, so nothing is lost while the database is away and nothing is queued in memory. Each row is
accepted, rejected (quarantined in the journal with the server's words) or kept (tried again). Every point carries its
own time, so a repeat overwrites.

After a long outage newest data comes first: the position splits in two, `live` goes on from the newest row while
`tail` drains what was missed at a limited rate, up to where `live` began.
"""

from __future__ import annotations

import json
import logging
import threading
import time
from collections import deque
from collections.abc import Callable

from bridge.errors import JournalError
from bridge.journal.reader import JournalReader
from bridge.journal.writer import Journal
from bridge.outlets.influx_writer import LONGEST, Answer, InfluxWriter, Point, point
from bridge.settings import InfluxSettings

log = logging.getLogger(__name__)

#: Events and states first: they are few, and what people wait for.
STREAMS = ("event", "state", "reading", "health")
#: Lines in one request.
LINES = 2000
#: So many rows behind, the newest go first and the rest is drained.
FAR = 10_000
#: What a server took so shortly before it was killed may not be on its disk [s]: assumed, a few times the seconds that
#: servers keep in memory. How often it is remembered where the outlet was [s].
STEP_BACK, MARK_EVERY = 120.0, 10.0
#: Pauses [s]: between looks at the journal, between requests of the drain, after a refusal.
LOOK, DRAIN, REFUSED = 2.0, 1.0, 60.0


class InfluxOutlet:
    """A reader that follows the journal in a thread of its own and writes to the database.

    Attributes
    ----------
    state : str
        ``stopped``, ``waiting for the clock``, ``up to date``, ``draining``, ``busy``, ``refused`` or ``unreachable``.
    words : str
        What the server or the network said last, where it is not well.
    sent, rejected : int
        Rows settled, a repeated one each time; rows and single fields refused for good.
    undated, missed : int
        Rows left out because no trusted clock ever dated them; rows thinned before they could be sent.
    backlog : int
        Rows of the journal that the database does not have yet.
    """

    def __init__(
        self,
        settings: InfluxSettings,
        site: str,
        journal: Journal,
        trusted: Callable[[], bool],
        *,
        scale: str = "degC",
        look: float = LOOK,
        drain: float = DRAIN,
        refused: float = REFUSED,
        far: int = FAR,
        timeout: tuple[float, float] = (5.0, 15.0),
    ) -> None:
        self.state = "stopped"
        self.words = ""
        self.sent = self.rejected = self.undated = self.missed = 0
        self.backlog = 0
        self._settings, self._site, self._journal, self._trusted = settings, site, journal, trusted
        self._scale = scale
        self._look, self._drain, self._refused, self._far, self._timeout = look, drain, refused, far, timeout
        self._positions: dict[str, list[int]] = {}
        self._marks: deque[tuple[float, dict[str, list[int]]]] = deque()  # where it was, oldest first
        self._saved_at = self._away_since = float("-inf")
        self._away = False
        self._level = time.monotonic()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="influx", daemon=True)

    def start(self) -> None:
        """Begin to follow."""
        self._thread.start()

    def stop(self, timeout: float = 2.0) -> bool:
        """End after the request under way, waiting at most `timeout` [s]; the rest goes out after the next start."""
        self._stop.set()
        self._thread.join(timeout)
        return not self._thread.is_alive()

    @property
    def lag(self) -> float:
        """How long ago the newest row of the journal was last known to be written [s]."""
        return time.monotonic() - self._level

    def _run(self) -> None:
        writer = InfluxWriter(self._settings, self._timeout)
        pause, failures = 0.0, 0
        while not self._stop.wait(pause):
            if not self._trusted() or self._journal.undated:
                self.state, pause = "waiting for the clock", min(1.0, self._look)
                continue
            try:
                answer = self._turn(writer)
                self._watch(answer)
            except JournalError as error:  # degraded, or not yet made: the journal says so itself
                answer = Answer("unreachable", str(error))
            except Exception as error:
                log.debug("influxdb outlet", exc_info=True)
                answer = Answer("unreachable", f"{type(error).__name__}: {error}")
            failures = 0 if answer.kind == "accepted" else failures + 1
            self._note(answer)
            pause = self._pause(answer, failures)
        writer.let_go()
        if self._positions:
            self._journal.advance("influx", json.dumps(self._positions))  # left in good order: nothing to step back for
        self.state = "stopped"

    def status(self) -> dict[str, object]:
        """Return how the database is, for `status`, page and bus."""
        return {
            "state": self.state,
            "words": self.words,
            "backlog": self.backlog,
            "sent": self.sent,
            "rejected": self.rejected,
            "undated": self.undated,
            "missed": self.missed,
        }

    def _watch(self, answer: Answer) -> None:
        """Step back once when a server goes away: it may have been killed, with what it took in the last seconds.

        Points carry their own time, so that a repeat overwrites. Not twice in a row: a server that comes and goes
        would get the same two minutes for ever.
        """
        now = time.monotonic()
        if answer.kind != "unreachable":
            self._away = False
        elif not self._away:
            self._away = True
            if self._marks and now - self._away_since >= STEP_BACK:
                self._away_since = now
                self._positions = self._before(self._saved_at)
                self._marks.clear()
                self._save()

    def _before(self, at: float) -> dict[str, list[int]]:
        """Return where it was `STEP_BACK` before this moment [s, monotonic], or at the oldest that is remembered."""
        while len(self._marks) > 1 and self._marks[1][0] <= at - STEP_BACK:
            self._marks.popleft()
        return {stream: list(position) for stream, position in self._marks[0][1].items()}

    def _turn(self, writer: InfluxWriter) -> Answer:
        """Send what is new, then a piece of what was missed; return the first answer that was not ``accepted``."""
        with JournalReader(self._journal.path) as reader:
            if not self._positions:
                self._positions = _positions(reader.position("influx"))
                self._mark(time.monotonic())
            tops = {stream: reader.newest(stream) for stream in STREAMS}
            answer = self._catch_up(reader, writer, tops)
            self.backlog = sum(tops[name] - live + end - tail for name, (tail, end, live) in self._positions.items())
        if answer.kind == "accepted":
            self._level = time.monotonic()
        return answer

    def _catch_up(self, reader: JournalReader, writer: InfluxWriter, tops: dict[str, int]) -> Answer:
        """Send up to these row ids; return the first answer that was not ``accepted``."""
        for stream, newest in tops.items():
            position = self._positions[stream]
            if newest < max(position):  # another journal than the one this was read from
                position[:] = [0, 0, 0]
                self._marks.clear()
            if newest - position[2] > self._far:
                position[1] = position[2] = newest
            while position[2] < newest:
                answer = self._send(reader, writer, stream, 2, newest)
                if answer.kind != "accepted":
                    return answer
            if position[0] < position[1]:
                answer = self._send(reader, writer, stream, 0, position[1])
                if answer.kind != "accepted":
                    return answer
            if position[0] >= position[1]:
                position[0] = position[1] = position[2]
        return Answer("accepted")

    def _send(self, reader: JournalReader, writer: InfluxWriter, stream: str, which: int, until: int) -> Answer:
        """Send one request's worth after the live (2) or the tail (0) position; move that over what is settled."""
        position = self._positions[stream]
        rows = reader.after(stream, position[which], LINES, until)
        if not rows:
            position[which] = until
            return Answer("accepted")
        points = [point(stream, row, self._site, self._scale) for row in rows]
        done, answer = writer.deliver(points, self._reject)
        if done:
            self.missed += rows[0].id - position[which] - 1
            self.undated += sum(row.undated for row in rows[:done])
            position[which] = points[done - 1].row
            self.sent += done
            self._save()
        return answer

    def _reject(self, bad: Point, words: str, count: int) -> None:
        if self.rejected == 0 or (self.rejected + count) // 1000 > self.rejected // 1000:
            log.warning("influxdb refused points for good (%d so far): %s", self.rejected + count, words)
        self.rejected += count
        self._journal.reject("influx", bad.at, bad.line or "", words)

    def _save(self) -> None:
        """Keep where it is, and where to begin after an end that was none: the power may take both together."""
        self._saved_at = now = time.monotonic()
        if not self._marks or now - self._marks[-1][0] >= MARK_EVERY:
            self._mark(now)
        self._journal.advance("influx", json.dumps({**self._positions, "back": self._before(now)}))

    def _mark(self, now: float) -> None:
        self._marks.append((now, {stream: list(position) for stream, position in self._positions.items()}))

    def _note(self, answer: Answer) -> None:
        """Keep the state and, at its edges only, log a line."""
        state = answer.kind
        if state == "accepted":
            state = "draining" if self.backlog else "up to date"
        if state != self.state and answer.kind != "accepted":
            log.warning("influxdb %s: %s", state, answer.words)
        elif self.state in ("busy", "refused", "unreachable") and answer.kind == "accepted":
            log.warning("influxdb takes points again")
        self.state, self.words = state, answer.words

    def _pause(self, answer: Answer, failures: int) -> float:
        if answer.kind == "accepted":
            return self._drain if self.backlog else self._look
        if answer.kind == "refused":
            return self._refused
        return min(LONGEST, max(answer.wait, min(60.0, self._look * 2.0 ** min(failures - 1, 10))))


def _positions(text: str) -> dict[str, list[int]]:
    """Return per stream: tail, where the gap ends, live; as two minutes before an end that was not in good order."""
    known = json.loads(text) if text else {}
    known = known.get("back", known)
    return {stream: list(known.get(stream, (0, 0, 0))) for stream in STREAMS}
