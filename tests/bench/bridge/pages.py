"""Order latency with fifty live pages open, beside the same with none.

`python -m tests.bench.bridge.pages 60 50` trips sixty times with no page open, then sixty times with fifty, on one
bridge each, under the 2,000 voltages a second of `.order`. A page here is what a browser asks the bridge for, from an
address of its own as every phone has one: the page and all it names, the site, the curve and the days, then the
stream, kept and read; the curve is asked for again every minute, as a page does that follows. Browsers themselves run
elsewhere in a house, so none is started here: fifty of them would measure this machine, not the bridge.
"""

from __future__ import annotations

import asyncio
import json
import re
import subprocess
import sys
from collections import Counter
from collections.abc import AsyncIterator

from tests.bench.bridge.drain import free_port
from tests.bench.bridge.order import measure

#: A page asks for the curve anew after so long [s].
AGAIN = 60.0
#: Settings for a page in the cabin file of the bench.
PAGE = '\n[page]\nlisten = "127.0.0.1:{port}"\n'


async def get(number: int, port: int, path: str) -> bytes:
    """One answer, whole."""
    return b"".join([piece async for piece in stream(number, port, path)])


async def stream(number: int, port: int, path: str) -> AsyncIterator[bytes]:
    """The body of one answer, piece by piece."""
    own = f"127.0.{1 + number // 200}.{1 + number % 200}"
    reader, writer = await asyncio.open_connection("127.0.0.1", port, local_addr=(own, 0))
    try:
        asks = f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nAccept-Encoding: gzip\r\nConnection: close\r\n\r\n"
        writer.write(asks.encode())
        head = await reader.readuntil(b"\r\n\r\n")
        if b" 200 " not in head.split(b"\r\n", 1)[0]:
            raise ConnectionError(f"{path}: {head[:60]!r}")
        while piece := await reader.read(65536):
            yield piece
    finally:
        writer.close()


async def page(number: int, port: int, seen: Counter[str]) -> None:
    """What one browser does for as long as it is open."""
    for path in ("/?bank=hot", *await _named(number, port), "/api/site", "/api/curve/hot", "/api/days/hot"):
        await get(number, port, path)
    curve = asyncio.create_task(_curve(number, port))
    first = True
    async for piece in stream(number, port, "/api/news"):
        seen["ready"] += first
        first = False
        seen["events"] += piece.count(b"event: ")
        seen["bytes"] += len(piece)
    curve.cancel()


async def _named(number: int, port: int) -> list[str]:
    """Every file of ours that the page names."""
    text = (await get(number, port, "/?bank=hot")).decode(errors="ignore")
    return sorted(set(re.findall(r"/static/[\w.-]+", text)))


async def _curve(number: int, port: int) -> None:
    while True:
        await asyncio.sleep(AGAIN)
        await get(number, port, "/api/curve/hot")


async def together(count: int, port: int) -> None:
    """Open so many pages; say when all are ready, and at the end what they were told."""
    seen: Counter[str] = Counter()
    watching = [asyncio.create_task(page(number, port, seen)) for number in range(count)]
    while seen["ready"] < count and not any(one.done() for one in watching):
        await asyncio.sleep(0.05)
    print("ready" if seen["ready"] == count else f"only {seen['ready']} ready", flush=True)
    ended = await asyncio.gather(*watching, return_exceptions=True)
    refused = [str(one) for one in ended if isinstance(one, Exception)]
    print(json.dumps({**seen, "refused": len(refused), "first refused": refused[:1]}), flush=True)


def main(trials: int, count: int) -> dict[str, object]:
    """Measure both; each with what the pages were told."""
    found: dict[str, object] = {}
    for so_many in (0, count):
        port = free_port()
        # A process of its own, so that reading the streams takes no time from the bench's clock.
        command = [sys.executable, "-m", "tests.bench.bridge.pages", "open", str(so_many), str(port)]
        opened: list[subprocess.Popen[str]] = []

        def begin(command: list[str] = command, opened: list[subprocess.Popen[str]] = opened) -> None:
            opened.append(subprocess.Popen(command, stdout=subprocess.PIPE, text=True))
            assert opened[0].stdout is not None
            print(opened[0].stdout.readline().strip(), file=sys.stderr)

        measured = measure(trials, extra=PAGE.format(port=port), first=begin)
        assert opened[0].stdout is not None
        found[f"{so_many} pages"] = measured | json.loads(opened[0].stdout.read())
        opened[0].wait()
    return found


if __name__ == "__main__":
    if sys.argv[1:2] == ["open"]:
        asyncio.run(together(int(sys.argv[2]), int(sys.argv[3])))
    else:
        given = [int(word) for word in sys.argv[1:3]]
        print(json.dumps(main(*[*given, *(60, 50)[len(given) :]]), indent=2))
