"""One conversation with a database that takes line protocol over HTTP: accepted, rejected, or kept for later.

Both write interfaces go through the one client: the one of InfluxDB 2 (also 1.8, VictoriaMetrics and others) and the
one of servers before 1.8, which Debian still carries.
"""

from __future__ import annotations

import json
import re
from base64 import b64encode
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from http import HTTPStatus
from time import monotonic
from typing import NamedTuple, cast

from influxdb_client.client.influxdb_client import InfluxDBClient
from influxdb_client.client.write_api import SYNCHRONOUS
from influxdb_client.domain.write_precision import WritePrecision
from influxdb_client.rest import ApiException
from urllib3.exceptions import HTTPError

from bridge.journal.rows import Row
from bridge.outlets.line_protocol import line, parts
from bridge.settings import InfluxSettings

#: No server is obeyed that asks for a longer wait [s].
LONGEST = 300.0


#: A column is left out beforehand once so many rows in a row were refused for it, and for so long [s]: a batch that has
#: to be split down to single fields each time would never keep up, and the owner may mend the column meanwhile.
TRIES, LEFT_OUT = 10, 3600.0


class Columns:
    """What a server refuses of which column, so that it costs a field and not the row, nor a request for each row."""

    def __init__(self) -> None:
        self._refused: dict[tuple[str, str], int] = {}
        self._until: dict[tuple[str, str], float] = {}

    def refused(self, measurement: str, field: str) -> None:
        """Count one more row of which it would not take this field."""
        key = (measurement, field)
        self._refused[key] = self._refused.get(key, 0) + 1
        if self._refused[key] >= TRIES:
            self._until[key] = monotonic() + LEFT_OUT

    def taken(self, lines: Sequence[str]) -> None:
        """Note that it took these: what was refused before was a value, not the column."""
        for written in lines if self._refused else ():
            row = parts(written)
            for field in row.fields:
                self._refused.pop((_measurement(row.head), field), None)

    def clean(self, point: Point) -> tuple[Point, Point | None]:
        """Return the point without the columns that are left out now, and what that is, if anything."""
        now = monotonic()
        self._until = {key: until for key, until in self._until.items() if until > now}
        if not self._until or point.line is None:
            return point, None
        row = parts(point.line)
        out = [field for field in row.fields if (_measurement(row.head), field) in self._until]
        if not out:
            return point, None
        rest = [field for field in row.fields if field not in out]
        return point._replace(line=row.line(rest) if rest else None), point._replace(line=row.line(out))


def _measurement(head: str) -> str:
    return head.partition(",")[0]


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
        self._settings = settings
        self._token = settings.token.get_secret_value()
        self._client = InfluxDBClient(
            settings.url,
            token="" if settings.before_1_8 else self._token,
            org=settings.org,
            enable_gzip=True,
            timeout=(timeout[0] * 1000.0, timeout[1] * 1000.0),
        )
        # The batching writer gives up, drops and keeps its queue in memory; the synchronous one does none of it.
        self._api = self._client.write_api(write_options=SYNCHRONOUS)
        self.columns = Columns()

    def post(self, lines: Sequence[str]) -> Answer:
        """Send one request and return its answer."""
        body = "\n".join(lines).encode()
        bucket, org = self._settings.bucket, self._settings.org
        try:
            if self._settings.before_1_8:
                self._client.api_client.call_api(*_older_write(bucket, self._token), body=body.decode())
            else:
                self._api.write(bucket, org, body, write_precision=cast(WritePrecision, WritePrecision.US))
        except ApiException as error:
            answer = read_answer(error)
            # Some token checks repeat the token they refuse.
            return answer._replace(words=answer.words.replace(self._token, "***")) if self._token else answer
        except (HTTPError, OSError) as error:
            return Answer("unreachable", f"{type(error).__name__}: {error}")
        return Answer("accepted")

    def deliver(self, points: Sequence[Point], reject: Callable[[Point, str, int], None]) -> tuple[int, Answer]:
        """Write in order; split at a refused batch until the bad row is alone, and that until its bad fields are.

        A server that answers 400 to everything (a proxy before it, a token check) is no judge of a row: a row is
        called bad only where the server has taken another one, if need be a point made for the purpose.

        Returns
        -------
        tuple
            How many of `points` are dealt with (accepted or rejected), and the last answer: its kind is ``accepted``
            where that is all of them, else what the rest has to wait for.
        """
        done, taken = 0, False
        batches = [points]
        while batches:
            whole = batches.pop()
            cleaned = [self.columns.clean(each) for each in whole]
            part = [kept for kept, _ in cleaned]
            lines = [point.line for point in part if point.line is not None]
            answer = self.post(lines) if lines else Answer("accepted")
            if answer.kind in ("bad", "large") and len(part) > 1:
                half = len(part) // 2
                batches += [whole[half:], whole[:half]]
                continue
            if answer.kind == "bad" and not (taken or self._takes_a_point(part[0].at)):
                return done, answer._replace(kind="refused")
            taken = taken or (answer.kind == "accepted" and bool(lines))
            mended = answer.kind in ("bad", "large")
            if mended:
                answer = self._by_field(part[0], answer, reject)
            if answer.kind != "accepted":
                return done, answer
            if answer.words:  # accepted but for rows too old for the bucket: said once, never tried again
                dropped = re.search(r"dropped=(\d+)", answer.words)
                reject(part[0], answer.words, int(dropped[1]) if dropped else 1)
            elif not mended:
                self.columns.taken(lines)
            out = [left for _, left in cleaned if left is not None]
            if out:
                reject(out[-1], f"left out for {LEFT_OUT:.0f} s: refused {TRIES} times in a row", len(out))
            done += len(part)
        return done, Answer("accepted")

    def _by_field(self, bad: Point, answer: Answer, reject: Callable[[Point, str, int], None]) -> Answer:
        """Send a refused row without what is refused: first without the fields that the server names, else by halves.

        Each part is the same point, so a repeat of the whole after an interruption overwrites.
        """
        row = parts(bad.line or "")
        names = list(row.fields)
        named = [name for name in names if re.search(rf"(?<![\w.]){re.escape(name)}(?![\w.])", answer.words)]
        rest = [name for name in names if name not in named]
        pieces = [named, rest] if named and rest else [names]
        first = True  # the whole row has been refused already
        while pieces:
            piece = pieces.pop()
            reply = answer if first and piece == names else self.post([row.line(piece)])
            first = False
            if reply.kind in ("bad", "large") and len(piece) > 1:
                half = len(piece) // 2
                pieces += [piece[half:], piece[:half]]
            elif reply.kind in ("bad", "large"):
                reject(bad._replace(line=row.line(piece)), reply.words, 1)
                self.columns.refused(_measurement(row.head), piece[0])
            elif reply.kind != "accepted":
                return reply
        return Answer("accepted")

    def _takes_a_point(self, at: float) -> bool:
        return self.post([f"bridge_health,source=bridge reachable=1.0 {round(at * 1e6)}"]).kind == "accepted"

    def let_go(self) -> None:
        """Drop the connections; the client's own close can wait for minutes and is never called."""
        self._client.api_client.rest_client.pool_manager.clear()


def _older_write(database: str, login: str) -> tuple[str, str, None, list[tuple[str, str]], dict[str, str]]:
    """Return path, method, path, query and header parameters of a request to a server before 1.8."""
    headers = {"Content-Type": "text/plain; charset=utf-8"}
    if login:
        headers["Authorization"] = "Basic " + b64encode(login.encode()).decode()
    return "/write", "POST", None, [("db", database), ("precision", "u")], headers


def point(stream: str, row: Row, site: str, scale: str = "degC") -> Point:
    """Return a journal row as a point; rows that no trusted clock ever dated have nothing to write."""
    return Point(row.id, row.at, None if row.undated else line(stream, row, site, scale))


def read_answer(error: ApiException) -> Answer:
    """Return the server's refusal as accept, reject or keep."""
    status = int(error.status or 0)
    words = f"{status} {_words(error)}"
    if status in (400, 422):
        # The one partial refusal that splitting cannot cure: the rest of the batch has been written.
        if "retention" in words and "dropped" in words:
            return Answer("accepted", words)
        return Answer("bad", words)
    if status == HTTPStatus.REQUEST_ENTITY_TOO_LARGE:
        return Answer("large", words)
    if status in (HTTPStatus.TOO_MANY_REQUESTS, HTTPStatus.SERVICE_UNAVAILABLE):
        return Answer("busy", words, _retry_after(error))
    redirected_or_wrong = HTTPStatus.MULTIPLE_CHOICES <= status < HTTPStatus.INTERNAL_SERVER_ERROR
    if redirected_or_wrong and status != HTTPStatus.REQUEST_TIMEOUT:
        return Answer("refused", words)
    return Answer("unreachable", words)


def _words(error: ApiException) -> str:
    body = error.body if isinstance(error.body, str) else ""
    with suppress(ValueError, KeyError, TypeError):
        told = json.loads(body)
        body = str(told["message"] if "message" in told else told["error"])  # servers before 1.8 say error
    return (body or str(error.reason or "")).strip()[:500]


def _retry_after(error: ApiException) -> float:
    """Return seconds the server asks for (RFC 9110, 10.2.3: a number, or a date, which a wrong clock would misread)."""
    headers: Mapping[str, str] = error.headers or {}
    value = headers.get("Retry-After", "").strip()
    if value.isdecimal():
        return min(LONGEST, float(value))
    return 0.0
