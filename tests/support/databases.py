"""Real time-series databases on free loopback ports: what the tests write into and ask in its own language."""

from __future__ import annotations

import json
import subprocess
from abc import ABC, abstractmethod
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.parse import quote, urlencode
from urllib.request import Request, urlopen

from tests.support.brokers import free_port, need, wait_until


class Server(ABC):
    """A database's process on a folder and a port that it keeps over its restarts."""

    health = ""

    def __init__(self, folder: Path) -> None:
        self.port, self.folder = free_port(), folder
        self.url = f"http://127.0.0.1:{self.port}"
        self.log = folder / "database.log"
        self.start()

    @abstractmethod
    def command(self) -> Sequence[str]:
        """How it is started."""

    def start(self) -> None:
        """On the same folder and port as before."""
        with self.log.open("ab") as log:
            self.process = subprocess.Popen([*self.command()], stdout=log, stderr=log)
        wait_until(self._answers, 30.0, f"the database answers: {self.log}")

    def _answers(self) -> bool:
        try:
            with urlopen(f"{self.url}{self.health}", timeout=1.0) as reply:
                return bool(reply.status < 300)
        except OSError:
            return False

    def stop(self) -> None:
        """End it in good order and wait."""
        self.process.terminate()
        self.process.wait(20)

    def kill(self) -> None:
        """End it as a power cut would: what it only had in memory is gone."""
        self.process.kill()
        self.process.wait(20)


class Metrics(Server):
    """victoria-metrics: a metric store that takes line protocol by the v2 interface and is asked in PromQL."""

    health = "/health"

    def command(self) -> Sequence[str]:
        """How it is started; it would remember for half a minute what an earlier question found."""
        return [
            need("victoria-metrics"), f"-storageDataPath={self.folder / 'data'}", "-memory.allowedBytes=64MB",
            f"-httpListenAddr=127.0.0.1:{self.port}", "-search.latencyOffset=0s", "-search.disableCache",
            "-retentionPeriod=10y",
        ]  # fmt: skip

    def series(self, selector: str) -> dict[tuple[str, str], list[tuple[int, float]]]:
        """(name, bank) -> (time [ms], value), by the database's own export."""
        found: dict[tuple[str, str], list[tuple[int, float]]] = {}
        self.flush()
        with urlopen(f"{self.url}/api/v1/export?match[]={selector}", timeout=5.0) as reply:
            for text in reply.read().decode().splitlines():
                one = json.loads(text)
                key = (one["metric"]["__name__"], one["metric"].get("bank", ""))
                found.setdefault(key, []).extend(zip(one["timestamps"], one["values"], strict=True))
        return found

    def flush(self) -> None:
        """Make new points visible now instead of after some seconds."""
        with urlopen(f"{self.url}/internal/force_flush", timeout=5.0):
            pass

    def ask(self, query: str, begin: float, end: float, step: float) -> list[dict[str, Any]]:
        """Return the series that a query finds between two moments [s since the epoch]."""
        asked = urlencode({"query": query, "start": begin, "end": end, "step": step})
        with urlopen(f"{self.url}/api/v1/query_range?{asked}", timeout=10.0) as reply:
            found: list[dict[str, Any]] = json.loads(reply.read())["data"]["result"]
        return found


class OlderInflux(Server):
    """InfluxDB before 1.8, as Debian has it: its own write interface, and InfluxQL."""

    health = "/ping"

    def command(self) -> Sequence[str]:
        """How it is started, with a configuration of its own."""
        configuration = self.folder / "influxdb.conf"
        configuration.write_text(
            f'reporting-enabled = false\nbind-address = "127.0.0.1:{free_port()}"\n'
            f'[meta]\ndir = "{self.folder}/meta"\n'
            f'[data]\ndir = "{self.folder}/data"\nwal-dir = "{self.folder}/wal"\n'
            f'[http]\nbind-address = "127.0.0.1:{self.port}"\nlog-enabled = false\n'
            "[monitor]\nstore-enabled = false\n"
        )
        return [need("influxd"), "-config", str(configuration)]

    def ask(self, query: str, database: str = "revival") -> list[dict[str, Any]]:
        """Return the series that a statement finds; times in milliseconds."""
        asked = urlencode({"db": database, "q": query, "epoch": "ms"}, quote_via=quote)
        request = Request(f"{self.url}/query", asked.encode())
        try:
            with urlopen(request, timeout=10.0) as reply:
                (result,) = json.loads(reply.read())["results"]
        except HTTPError as error:
            raise AssertionError(f"{query}: {error.read().decode()}") from None
        assert "error" not in result, f"{query}: {result}"
        found: list[dict[str, Any]] = result.get("series", [])
        return found

    def write(self, lines: str, database: str = "revival") -> None:
        """Write as another program would."""
        with urlopen(Request(f"{self.url}/write?db={database}", lines.encode()), timeout=10.0):
            pass
