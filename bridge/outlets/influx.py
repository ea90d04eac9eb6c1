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
import re
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from typing import NamedTuple, cast

from influxdb_client.client.influxdb_client import InfluxDBClient
from influxdb_client.client.write_api import SYNCHRONOUS
from influxdb_client.domain.write_precision import WritePrecision
from influxdb_client.rest import ApiException
from urllib3.exceptions import HTTPError

from bridge.errors import JournalError
from bridge.journal.reader import JournalReader
from bridge.journal.rows import Row
from bridge.journal.writer import Journal
from bridge.outlets.line_protocol import line
from bridge.settings import InfluxSettings

log = logging.getLogger(__name__)

#: Events and states first: they are few, and what people wait for.
STREAMS = ("event", "state", "reading", "health")
#: Lines in one request.
LINES = 2000
#: So many rows behind, the newest go first and the rest is drained.
FAR = 10_000
#: Pauses [s]: between looks at the journal, between requests of the drain, after a refusal, and longest of all.
LOOK, DRAIN, REFUSED, LONGEST = 2.0, 1.0, 60.0, 300.0


class Point(NamedTuple):
    """A line and the journal row it came from; `line` is None where the row holds nothing to write."""

    row: int
    at: float
    line: str | None


class Answer(NamedTuple):
    """What the server said.

    `kind` is accepted, bad, large, refused, busy or unreachable; `wait` [s] is what the server asked for, 0 if nothing.
    """

    kind: str
    words: str = ""
    wait: float = 0.0


class InfluxWriter:
    """One synchronous client; `InfluxOutlet` and the backfill write through it."""

    def __init__(self, settings: InfluxSettings, timeout: tuple[float, float] = (5.0, 15.0)) -> None:
        self._bucket, self._org = settings.bucket, settings.org
        self._client = InfluxDBClient(
            settings.url,
            token=settings.token.get_secret_value(),
            org=settings.org,
            enable_gzip=True,
            timeout=(timeout[0] * 1000.0, timeout[1] * 1000.0),
        )
        # The batching writer gives up, drops and keeps its queue in memory; the synchronous one does none of it.
        self._api = self._client.write_api(write_options=SYNCHRONOUS)

    def post(self, lines: Sequence[str]) -> Answer:
        """One request."""
        body = "\n".join(lines).encode()
        try:
            self._api.write(self._bucket, self._org, body, write_precision=cast(WritePrecision, WritePrecision.US))
        except ApiException as error:
            return _answer(error)
        except (HTTPError, OSError) as error:
            return Answer("unreachable", f"{type(error).__name__}: {error}")
        return Answer("accepted")

    def deliver(self, points: Sequence[Point], reject: Callable[[Point, str, int], None]) -> tuple[int, Answer]:
        """Write in order; split at a refused batch until the bad row is alone.

        Returns
        -------
        tuple
            How many of `points` are dealt with (accepted or rejected), and the last answer: its kind is ``accepted``
            where that is all of them, else what the rest has to wait for.
        """
        done = 0
        parts = [points]
        while parts:
            part = parts.pop()
            lines = [point.line for point in part if point.line is not None]
            answer = self.post(lines) if lines else Answer("accepted")
            if answer.kind in ("bad", "large") and len(part) > 1:
                half = len(part) // 2
                parts += [part[half:], part[:half]]
                continue
            if answer.kind in ("bad", "large"):
                reject(part[0], answer.words, 1)
            elif answer.kind != "accepted":
                return done, answer
            elif answer.words:  # accepted but for rows too old for the bucket: said once, never tried again
                dropped = re.search(r"dropped=(\d+)", answer.words)
                reject(part[0], answer.words, int(dropped[1]) if dropped else 1)
            done += len(part)
        return done, Answer("accepted")

    def let_go(self) -> None:
        """Drop the connections; the client's own close can wait for minutes and is never called."""
        self._client.api_client.rest_client.pool_manager.clear()


class InfluxOutlet:
    """Follows the journal in a thread of its own.

    Attributes
    ----------
    state : str
        ``stopped``, ``waiting for the clock``, ``up to date``, ``draining``, ``busy``, ``refused`` or ``unreachable``.
    words : str
        What the server or the network said last, where it is not well.
    sent, rejected : int
        Rows settled; rows refused for good.
    undated, missed : int
        Rows left out because no trusted clock ever dated them; rows thinned before they could be sent.
    backlog : int
        Rows still to be drained after an outage.
    """

    def __init__(
        self,
        settings: InfluxSettings,
        site: str,
        journal: Journal,
        trusted: Callable[[], bool],
        *,
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
        self._look, self._drain, self._refused, self._far, self._timeout = look, drain, refused, far, timeout
        self._positions: dict[str, list[int]] = {}
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
            except JournalError as error:  # degraded, or not yet made: the journal says so itself
                answer = Answer("unreachable", str(error))
            except Exception as error:
                log.debug("influxdb outlet", exc_info=True)
                answer = Answer("unreachable", f"{type(error).__name__}: {error}")
            failures = 0 if answer.kind == "accepted" else failures + 1
            self._note(answer)
            pause = self._pause(answer, failures)
        writer.let_go()
        self.state = "stopped"

    def _turn(self, writer: InfluxWriter) -> Answer:
        """What is new, then a piece of what was missed; the answer is the first that was not ``accepted``."""
        with JournalReader(self._journal.path) as reader:
            if not self._positions:
                self._positions = _positions(reader.position("influx"))
            backlog = 0
            for stream in STREAMS:
                position = self._positions[stream]
                newest = reader.newest(stream)
                if newest < max(position):  # another journal than the one this was read from
                    position[:] = [0, 0, 0]
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
                backlog += position[1] - position[0]
        self.backlog = backlog
        self._level = time.monotonic()
        return Answer("accepted")

    def _send(self, reader: JournalReader, writer: InfluxWriter, stream: str, which: int, until: int) -> Answer:
        """One request's worth after the live (2) or the tail (0) position; moves that position over what is settled."""
        position = self._positions[stream]
        rows = reader.after(stream, position[which], LINES, until)
        if not rows:
            position[which] = until
            return Answer("accepted")
        self.missed += rows[0].id - position[which] - 1
        points = [point(stream, row, self._site) for row in rows]
        self.undated += sum(row.undated for row in rows)
        done, answer = writer.deliver(points, self._reject)
        if done:
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
        self._journal.advance("influx", json.dumps(self._positions))

    def _note(self, answer: Answer) -> None:
        """State and, at its edges only, a line in the log."""
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


def point(stream: str, row: Row, site: str) -> Point:
    """A journal row as a point; rows that no trusted clock ever dated have nothing to write."""
    return Point(row.id, row.at, None if row.undated else line(stream, row, site))


def _positions(text: str) -> dict[str, list[int]]:
    """Per stream: tail, where the gap ends, live."""
    known = json.loads(text) if text else {}
    return {stream: list(known.get(stream, (0, 0, 0))) for stream in STREAMS}


def _answer(error: ApiException) -> Answer:
    """The server's refusal as accept, reject or keep."""
    status = int(error.status or 0)
    words = f"{status} {_words(error)}"
    if status in (400, 422):
        # The one partial refusal that splitting cannot cure: the rest of the batch has been written.
        if "retention" in words and "dropped" in words:
            return Answer("accepted", words)
        return Answer("bad", words)
    if status == 413:
        return Answer("large", words)
    if status in (429, 503):
        return Answer("busy", words, _retry_after(error))
    if 300 <= status < 500 and status != 408:
        return Answer("refused", words)
    return Answer("unreachable", words)


def _words(error: ApiException) -> str:
    body = error.body if isinstance(error.body, str) else ""
    with suppress(ValueError, KeyError, TypeError):
        body = str(json.loads(body)["message"])
    return (body or str(error.reason or "")).strip()[:500]


def _retry_after(error: ApiException) -> float:
    """Seconds the server asks for (RFC 9110, 10.2.3: a number, or a date, which a wrong clock would misread)."""
    headers: Mapping[str, str] = error.headers or {}
    value = headers.get("Retry-After", "").strip()
    if value.isdecimal():
        return min(LONGEST, float(value))
    return 0.0
