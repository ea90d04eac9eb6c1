"""`revival export`: a stretch of the journal as CSV, line protocol or recorded traffic."""

from __future__ import annotations

import argparse
import base64
import csv
import json
import math
import sys
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from datetime import datetime
from heapq import merge
from pathlib import Path
from typing import IO, Any, NamedTuple

from rich.console import Console
from rich.progress import Progress

from bridge.clock import instant, iso
from bridge.commands.act import a_name
from bridge.commands.files import add_force, fresh, output, usual_config
from bridge.commands.noted import EVER, numbered
from bridge.config import read
from bridge.errors import UsageError
from bridge.intake.hand_words import moment as spoken_moment
from bridge.journal.reader import JournalReader
from bridge.journal.rows import Row
from bridge.message import Message
from bridge.outlets.homie import BACK, GONE
from bridge.outlets.line_protocol import STATE_FIELDS, STATE_WORDS, field_name, line
from bridge.report.told import kind_of, taken_at
from bridge.words.catalogue import CHECKLIST_BACK, COMMANDS, FINISH_EARLY, OWN_TOO
from rules.events import Event
from rules.hand import KINDS
from rules.step import INTERNAL

#: Rows read in one short transaction.
PIECE = 5000
#: What the journal keeps of a reading by hand as the bus takes it.
HAND = ("kind", "values", "temperature", "taken_at", "by", "note", "undo", "key", "entry")
#: A proof test that somebody asked for is kept as this, with how it was begun; a refused one leaves nothing.
PROOF_BEGUN = "proof-begun"
STREAMS = {"readings": "reading", "states": "state", "events": "event"}
#: The table of what people read, one row for each value; and its columns.
BY_HAND = "hand"
HAND_COLUMNS = ("time", "bank", "kind", "where", "value", "unit", "temperature_c", "by", "note", "entered")
#: The column that says when the bridge was away, in a table of measurements.
BRIDGE = "bridge"
#: Volts and amps of a charger's setting are named by where they stand.
CHARGER_UNITS = {"volts": "V", "amps": "A"}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add which journal, which stretch of it, and as what."""
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--config", type=Path, metavar="FILE", help="the cabin file (TOML); left out: the usual one")
    where.add_argument("--journal", type=Path, metavar="FILE", help="the journal itself, also one set aside")
    parser.add_argument("--bank", metavar="ID", help="only this bank")
    add_range(parser)
    parser.add_argument(
        "--format",
        choices=("csv", "line", "messages"),
        default="csv",
        help="a table with its times in UTC, line protocol, or raw messages as `revival replay` reads them",
    )
    parser.add_argument(
        "--table",
        choices=(*STREAMS, BY_HAND),
        default="readings",
        help="what the CSV holds; hand: what people measured and saw, one row a value, without what was taken back",
    )
    parser.add_argument(
        "--site", default="cabin", type=a_name, help="site tag of line protocol where no cabin file names it"
    )
    parser.add_argument("--output", type=Path, metavar="FILE", help="gzipped where it ends in .gz; else shown")
    add_force(parser)


def add_range(parser: argparse.ArgumentParser) -> None:
    """Add `--since` and `--until`."""
    kind = (
        '20:45, "yesterday 20:45", yesterday or "2 h ago" by the clock of this host; 2026-11-20 or 2026-11-20T18:30 in '
        "UTC unless it says otherwise; or seconds since 1970"
    )
    parser.add_argument("--since", type=moment, default=0.0, metavar="TIME", help=f"from here on; {kind}")
    parser.add_argument("--until", type=moment, default=4e9, metavar="TIME", help="up to here")


def moment(text: str) -> float:
    """Return a time as people write it [s since the epoch].

    >>> moment("2026-11-25T08:00"), moment("2026-11-25T09:00+01:00"), moment("1795593600")
    (1795593600.0, 1795593600.0, 1795593600.0)
    """
    with suppress(ValueError):
        return float(text)
    with suppress(ValueError):
        return instant(text, "UTC")
    day = {"today": "today 00:00", "yesterday": "yesterday 00:00"}.get(text.strip().lower(), text)
    try:
        return spoken_moment(day, time.time())
    except UsageError:
        raise argparse.ArgumentTypeError(
            f'{text!r} is no time: write 20:45, "yesterday 20:45" or "2 h ago" by the clock of this host, '
            "2026-11-20T18:30 (UTC) or seconds"
        ) from None


def run(arguments: argparse.Namespace) -> int:
    """Write the stretch."""
    site, root = arguments.site, ""
    path = arguments.journal
    if path is None:
        config = arguments.config or usual_config()
        model = read(config)
        site, root, path = model.site.id, model.site.root, config.parent / model.journal.path
    fresh(arguments.output, arguments.force)
    console = Console(stderr=True)
    with (
        JournalReader(path) as reader,
        output(arguments.output) as out,
        Progress(console=console, transient=True, disable=not (arguments.output and console.is_terminal)) as progress,
    ):
        if arguments.bank is not None and arguments.bank not in reader.banks():
            raise UsageError(f"no bank {arguments.bank!r} in {path}: there are {', '.join(reader.banks()) or 'none'}")
        task = progress.add_task(f"export of {path.name}", total=None)
        if arguments.format == "messages":
            count = _write_messages(reader, arguments, out, f"{root}/{site}" if root else "")
        elif arguments.format == "line":
            count = 0
            for stream in STREAMS.values():
                for row in rows(reader, stream, arguments):
                    text = None if row.undated else line(stream, row, site)
                    if text is not None:
                        out.write(text + "\n")
                        count += 1
                        progress.update(task, completed=count)
        else:
            count = _write_csv(reader, arguments, out)
            if offset := datetime.now().astimezone().strftime("%z").replace("+0000", ""):
                print(f"times are UTC, as their Z says; the clock of this host is at UTC{offset}", file=sys.stderr)
    print(f"{count} rows", file=sys.stderr)
    return 0


class Restart(NamedTuple):
    """The bridge came up again: of which bank it was told, since when it was away, and when it was back.

    Times in [s since the epoch].
    """

    bank: str
    since: float
    at: float

    @property
    def words(self) -> str:
        """As a table says it, which has no row of that time."""
        return f"away since {iso(self.since, 'milliseconds')}, started again"


def restarts(reader: JournalReader, arguments: argparse.Namespace) -> list[Restart]:
    """Return when the bridge was away in the range of time, for each bank; of what an older version kept, nothing."""
    return [
        Restart(event.bank, away, event.at)
        for event in reader.events(arguments.bank, arguments.since, arguments.until, ["command"])
        if event.detail.get("name") == "boot" and isinstance(away := event.detail.get("away_since"), float)
    ]


def rows(reader: JournalReader, stream: str, arguments: argparse.Namespace) -> Iterator[Row]:
    """Yield rows of one stream in the range of time, of one bank where named, piece by piece."""
    after = 0
    while piece := reader.between(stream, arguments.since, arguments.until, after, PIECE):
        for row in piece:
            if arguments.bank is None or row.bank == arguments.bank:
                yield row
        after = piece[-1].id


def _write_messages(reader: JournalReader, arguments: argparse.Namespace, out: IO[str], site: str) -> int:
    """Write what was heard, and between it what people asked for, got and noted: no round is without it."""
    taken = reader.events(arguments.bank, arguments.since, arguments.until, ["command", "hand", PROOF_BEGUN])
    taken = [event for event in taken if event.detail.get("name") not in INTERNAL]
    # The test that a bridge tries by itself is tried by the one that replays, too.
    taken = [event for event in taken if not event.detail.get("by_itself")]
    asked = [list(_as_told(event, site)) if site else [] for event in taken]
    acts = (act for messages in asked for act in messages)
    _say_left_out([event for event, messages in zip(taken, asked, strict=True) if not messages], site)
    heard = (message for message, _ in reader.messages(arguments.since, arguments.until))
    away = _once(restarts(reader, arguments)) if site else []
    told = [Message(f"{site}/$state", word, at) for each in away for word, at in ((GONE, each.since), (BACK, each.at))]
    count = 0
    for message in merge(acts, heard, told, key=lambda message: message.at):
        record: dict[str, object] = {"t": message.at, "topic": message.topic}
        try:
            record["payload"] = message.payload.decode()
        except UnicodeDecodeError:
            record["payload_b64"] = base64.b64encode(message.payload).decode()
        record["retain"] = message.retain
        out.write(json.dumps(record, separators=(",", ":")) + "\n")
        count += 1
    return count


def _once(found: list[Restart]) -> list[Restart]:
    """Return each restart once, of the bank that it was told of first: every bank has a row of its own."""
    return [each for each in found if each.bank == found[0].bank]


def _say_left_out(events: list[Event], site: str) -> None:
    """Say what a replay of this recording will not know, and why."""
    if not events:
        return
    noted = sum(event.kind == "hand" for event in events)
    acts = sorted({str(event.detail.get("name", "prove")) for event in events if event.kind != "hand"})
    parts = [f"{noted} reading{'s' * (noted > 1)} by hand"] if noted else []
    many = len(events) - noted
    parts += [f"{many} act{'s' * (many > 1)} ({', '.join(acts)})"] if acts else []
    why = "the bus has no topic for them" if site else "only the cabin file knows their topics; export with --config"
    print(f"left out, and a replay will not know them: {' and '.join(parts)}: {why}", file=sys.stderr)


def _as_told(event: Event, site: str) -> Iterator[Message]:
    """Yield what a person told as it is told over the bus, by whatever way it came; nothing where it has none."""
    if event.kind == "hand":
        record = {name: event.detail[name] for name in HAND if event.detail.get(name) not in (None, "", False)}
        # What stands in the journal was taken: whoever was asked about it has said yes.
        payload = json.dumps({**record, "sure": True}, ensure_ascii=False)
        yield Message(f"{site}-{event.bank}/cells/record/set", payload.encode(), event.at)
        return
    if event.kind == PROOF_BEGUN:
        path = f"safety/{OWN_TOO if event.detail.get('auto_off') else 'prove'}"
        yield Message(f"{site}-{event.bank}/{path}/set", b"true", event.at)
        return
    name, argument = str(event.detail.get("name")), event.detail.get("argument")
    told = argument if isinstance(argument, Mapping) else {}
    if name in COMMANDS:
        path, payload = "revival/command", FINISH_EARLY if event.detail.get("early") else name
    elif name == "checklist" and told.get("undo"):
        path, payload = "revival/command", CHECKLIST_BACK
    elif name == "checklist":
        path, payload = "revival/checklist", str(told.get("name") or event.detail.get("by", ""))
    elif name == "arrange":
        path, payload = "revival/arrange", json.dumps(told)
    elif name == "reset":
        path, payload = "safety/reset", "true"
    else:
        return
    yield Message(f"{site}-{event.bank}/{path}/set", payload.encode(), event.at)


def _write_csv(reader: JournalReader, arguments: argparse.Namespace, out: IO[str]) -> int:
    """Write one line per row; readings first look for every meter there is, so that each has its column."""
    if arguments.table == BY_HAND:
        return _write_hand(reader, arguments, out)
    stream = STREAMS[arguments.table]
    writer = csv.writer(out, lineterminator="\n")
    count = 0
    if stream == "reading":
        meters = sorted({meter for row in rows(reader, stream, arguments) for meter in row.values})
        heads: list[object] = ["time", "bank", *map(field_name, meters)]
        lines = (
            (row.at, [_time(row), row.bank, *(row.values.get(meter, "") for meter in meters)])
            for row in rows(reader, stream, arguments)
        )
        count = _written(writer, _with_restarts(heads, lines, restarts(reader, arguments)))
        if noted := len(list(_by_hand(reader, arguments))):
            print(f"readings by hand have a table of their own, {noted} here: --table {BY_HAND}", file=sys.stderr)
    elif stream == "state":
        heads = ["time", "bank", *STATE_WORDS, *STATE_FIELDS.values(), "flags"]
        lines = ((row.at, _state_cells(row)) for row in rows(reader, stream, arguments))
        count = _written(writer, _with_restarts(heads, lines, restarts(reader, arguments)))
    else:
        writer.writerow(["time", "bank", "kind", "detail"])
        for row in rows(reader, stream, arguments):
            detail = json.dumps(row.values.detail, ensure_ascii=False)
            writer.writerow([_time(row), row.bank, row.values.kind, detail])
            count += 1
    return count


def _written(writer: Any, table: Iterable[list[object]]) -> int:
    """Write a table with its head; how many rows are below it."""
    count = -1
    for cells in table:
        writer.writerow(cells)
        count += 1
    return count


def _state_cells(row: Row) -> list[object]:
    state = row.values
    values = [getattr(state, name) for name in (*STATE_WORDS, *STATE_FIELDS)]
    return [_time(row), row.bank, *map(_cell, values), " ".join(flag.name for flag in state.flags)]


def _with_restarts(
    heads: list[object], rows_of: Iterable[tuple[float, list[object]]], away: list[Restart]
) -> Iterator[list[object]]:
    """Yield a table; where the bridge was away a row and a last column say so, for a gap tells nobody why."""
    yield [*heads, *([BRIDGE] if away else [])]
    empty: list[object] = [""] * (len(heads) - 2)
    # Readings are kept by the second: those of the second in which it came up again stand below.
    said = ((math.floor(each.at), [iso(each.at, "milliseconds"), each.bank, *empty, each.words]) for each in away)
    plain = ((at, [*cells, *([""] if away else [])]) for at, cells in rows_of)
    for _, cells in merge(said, plain, key=lambda line: line[0]):
        yield cells


def _by_hand(reader: JournalReader, arguments: argparse.Namespace) -> Iterator[tuple[Event, bool]]:
    """Yield what people noted in the range of time and did not take back, and whether its time was never trusted."""
    whole = argparse.Namespace(**{**vars(arguments), "since": 0.0, "until": EVER})
    found = [row for row in rows(reader, STREAMS["events"], whole) if row.values.kind == "hand"]
    undated = {(row.bank, row.at) for row in found if row.undated}
    for bank in sorted({row.bank for row in found}):
        for entry in numbered([row.values for row in found if row.bank == bank]):
            if entry.back is None and arguments.since <= entry.event.at < arguments.until:
                yield entry.event, (bank, entry.event.at) in undated


def _write_hand(reader: JournalReader, arguments: argparse.Namespace, out: IO[str]) -> int:
    """Write a row for each value that people noted, and one for words alone."""
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HAND_COLUMNS)
    count = 0
    for event, undated in _by_hand(reader, arguments):
        told, kind = event.detail, kind_of(event)
        values = told.get("values")
        for where, value in (values or {"": ""}).items() if isinstance(values, Mapping) else ():
            unit = "" if isinstance(value, str) else CHARGER_UNITS.get(where) or KINDS.get(kind, "")
            row = Row(0, taken_at(event), event.bank, undated, None)
            beside = [_cell(told.get(name)) for name in ("temperature", "by", "note")]
            entered = iso(event.at, "milliseconds")
            writer.writerow([_time(row), event.bank, kind, where, value, "" if unit == "1" else unit, *beside, entered])
            count += 1
    return count


def _time(row: Row) -> str:
    """Return UTC with milliseconds; of a clock nobody trusted, marked so."""
    text = iso(row.at, "milliseconds")
    return f"{text} (clock not set)" if row.undated else text


def _cell(value: object) -> object:
    if value is None:
        return ""
    return int(value) if isinstance(value, bool) else value
