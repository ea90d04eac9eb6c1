"""One conversation with a database behind the InfluxDB v2 write interface: accepted, rejected, or kept for later."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from typing import NamedTuple, cast

from influxdb_client.client.influxdb_client import InfluxDBClient
from influxdb_client.client.write_api import SYNCHRONOUS
from influxdb_client.domain.write_precision import WritePrecision
from influxdb_client.rest import ApiException
from urllib3.exceptions import HTTPError

from bridge.journal.rows import Row
from bridge.outlets.line_protocol import line
from bridge.settings import InfluxSettings

#: No server is obeyed that asks for a longer wait [s].
LONGEST = 300.0


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
        self._token = settings.token.get_secret_value()
        self._client = InfluxDBClient(
            settings.url,
            token=self._token,
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
            answer = read_answer(error)
            # Some token checks repeat the token they refuse.
            return answer._replace(words=answer.words.replace(self._token, "***")) if self._token else answer
        except (HTTPError, OSError) as error:
            return Answer("unreachable", f"{type(error).__name__}: {error}")
        return Answer("accepted")

    def deliver(self, points: Sequence[Point], reject: Callable[[Point, str, int], None]) -> tuple[int, Answer]:
        """Write in order; split at a refused batch until the bad row is alone.

        A server that answers 400 to everything (a proxy before it, a token check) is no judge of a row: a row is
        called bad only where the server has taken another one, if need be a point made for the purpose.

        Returns
        -------
        tuple
            How many of `points` are dealt with (accepted or rejected), and the last answer: its kind is ``accepted``
            where that is all of them, else what the rest has to wait for.
        """
        done, taken = 0, False
        parts = [points]
        while parts:
            part = parts.pop()
            lines = [point.line for point in part if point.line is not None]
            answer = self.post(lines) if lines else Answer("accepted")
            if answer.kind in ("bad", "large") and len(part) > 1:
                half = len(part) // 2
                parts += [part[half:], part[:half]]
                continue
            if answer.kind == "bad" and not (taken or self._takes_a_point(part[0].at)):
                return done, answer._replace(kind="refused")
            taken = taken or (answer.kind == "accepted" and bool(lines))
            if answer.kind in ("bad", "large"):
                reject(part[0], answer.words, 1)
            elif answer.kind != "accepted":
                return done, answer
            elif answer.words:  # accepted but for rows too old for the bucket: said once, never tried again
                dropped = re.search(r"dropped=(\d+)", answer.words)
                reject(part[0], answer.words, int(dropped[1]) if dropped else 1)
            done += len(part)
        return done, Answer("accepted")

    def _takes_a_point(self, at: float) -> bool:
        return self.post([f"bridge_health,source=bridge reachable=1.0 {round(at * 1e6)}"]).kind == "accepted"

    def let_go(self) -> None:
        """Drop the connections; the client's own close can wait for minutes and is never called."""
        self._client.api_client.rest_client.pool_manager.clear()


def point(stream: str, row: Row, site: str) -> Point:
    """A journal row as a point; rows that no trusted clock ever dated have nothing to write."""
    return Point(row.id, row.at, None if row.undated else line(stream, row, site))


def read_answer(error: ApiException) -> Answer:
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
