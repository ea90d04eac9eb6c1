"""`revival check`: what the cabin file means and what is wrong with it, on paper; with `--connect` also tried out."""

from __future__ import annotations

import argparse
import json
import logging
import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from dataclasses import asdict
from typing import Any, NamedTuple

from bridge.commands.files import add_config
from bridge.commands.notify import told_what
from bridge.commands.spoke_beside import spoke_beside
from bridge.commands.volts_of_cells import against_cells, no_such_cells, of_a_part, weak_part
from bridge.config import NOT_TOML, Loaded, load
from bridge.config.lacking import lacking
from bridge.config.time_budget import TRY_AUTO_OFF, losses, time_budget, worked_example
from bridge.errors import BridgeError, CannotReachError, ConfigError
from bridge.intake import Mapping
from bridge.journal.reader import JournalReader
from bridge.journal.snapshot import remembered
from bridge.listen.collect import Collector
from bridge.listen.guess import cells_of
from bridge.message import Message
from bridge.runtime.control_socket import ask
from bridge.settings import Cabin, InfluxSettings, JournalSettings, ParcelsSettings
from bridge.words.bank_status import figure
from bridge.words.equalising import beside
from bridge.words.folded import for_screen, in_columns, screen_width
from bridge.words.spoken import spoken
from rules.bank import Bank
from rules.safety import OVER_CURRENT_FACTOR, OVER_CURRENT_SECONDS, OwnOff

#: So long each topic is waited for [s].
WAIT = 20.0
#: So long what speaks beside a silent topic is listened for [s].
BESIDE = 10.0
#: The broker's own limits do not travel over MQTT, so nobody but its owner can check them.
UNSEEN = (
    "max_queued_messages: the usual 1000 silently drops what comes while the bridge is away; 100000 does not",
    "max_inflight_messages 1000, and then in_flight = 1000 under [broker]: with the usual 20 nothing is lost either, "
    "but the journal writes 0.9 GB a day to the card instead of 0.15 GB",
    "autosave_on_changes true with autosave_interval 1: without it a broker that dies forgets what it was keeping",
)
#: A broker of MQTT 5 answers a message that nobody takes with "no matching subscribers" (0x10), but only once it was
#: published: any payload on an order topic, an empty one too, is an order to some relay (one that toggles on whatever
#: comes), a logger that hears everything counts as somebody, and a broker may leave the answer out. So `check` sends
#: nothing there, and says so; the running bridge raises it from the answers to its own orders.
UNTRIED = (
    "whether anybody takes the orders on {topic} is not tried here, for whatever is sent there may switch; "
    "`revival prove` shows it, by the relay's state and the current"
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add `--config`, `--connect` and `--json`."""
    add_config(parser)
    parser.add_argument(
        "--connect", action="store_true", help="also try broker, database and journal, and each topic once"
    )
    parser.add_argument(
        "--wait", type=float, default=WAIT, metavar="SECONDS", help=f"for topics that have not spoken, default {WAIT:g}"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON document instead of text")


def run(arguments: argparse.Namespace) -> int:
    """Print the report; 0, 4 where something cannot be reached, 78 where the file is wrong."""
    try:
        loaded = load(arguments.config)
        messages = told_what(loaded.cabin) if loaded.cabin.notify is not None else None
    except ConfigError as error:
        problems = str(error).splitlines()
        if arguments.json:
            print(json.dumps({"ok": False, "errors": problems}, indent=2))
        else:
            print("\n".join(problems), file=sys.stderr)
            print(f"{len(problems)} {'thing is' if len(problems) == 1 else 'things are'} wrong.", file=sys.stderr)
            if NOT_TOML in problems[0]:
                lines = "this line is" if len(problems) == 1 else "these lines are"
                print(f"The rest of the file is looked at once {lines} mended.", file=sys.stderr)
        return error.exit_code
    report = {**describe(loaded), "messages": messages}
    if arguments.connect:
        report["connect"] = try_out(loaded.cabin)
        report["heard"] = hear_once(loaded, arguments.wait) if report["connect"][0]["ok"] else []
        unread, unlike = list(_unread(report["heard"])), list(_unlike(report["heard"], loaded))
        report["connect"] += unread + unlike
        report["doubted"] = list(_doubted(report["heard"], loaded))
        report["ok"], report["fits"] = all(step["ok"] for step in report["connect"]), not (unread or unlike)
    if arguments.json:
        print(json.dumps(report, indent=2, ensure_ascii=False))
    else:
        print(for_screen("\n".join(as_text(report, screen_width()))))
    if arguments.connect and unlike:
        return ConfigError.exit_code
    return 0 if report["ok"] else CannotReachError.exit_code


def describe(loaded: Loaded) -> dict[str, Any]:
    """Return everything `check` says, as plain data."""
    cabin = loaded.cabin
    stamped = set(loaded.routes.history_topics)
    banks = []
    tables = {table.id: table for table in loaded.model.bank}
    for bank in cabin.banks.values():
        table = tables[bank.id]
        relay = next((relay for relay in cabin.relays if bank.id in relay.banks), None)
        budget = time_budget(bank)
        banks.append(
            {
                "bank": bank.id,
                "cells": bank.cells,
                "strings": len(bank.strings),
                "capacity_ah": bank.capacity,
                "equalise_v": round(bank.equalise * bank.cells, 3),
                "charger_beside": beside(bank),
                "string_current_a": bank.string_current_limit,
                "over_current_a": OVER_CURRENT_FACTOR * bank.string_current_limit,
                "own_limits": _own_limits(bank, set(table.limits.model_fields_set)),
                "ac_voltage_v": bank.ac_voltage,
                "watch_only": relay is None,
                "meters": [
                    {
                        "topic": mapping.topic,
                        "style": mapping.style,
                        "at": mapping.pointer or mapping.name,
                        "meter": mapping.meter,
                        "example": worked_example(mapping, bank),
                        "session": "history" if mapping.topic in stamped else "live",
                    }
                    for mapping in loaded.routes.mappings
                    if mapping.bank == bank.id
                ],
                "time_budget": None
                if budget is None
                else {**budget._asdict(), "needed": budget.needed, "words": budget.lines()},
                "untried": None if relay is None else UNTRIED.format(topic=relay.topic),
                "try_auto_off": None
                if relay is None or relay.auto_off is None
                else TRY_AUTO_OFF.format(seconds=relay.auto_off),
                "losses": []
                if relay is None
                else [loss._asdict() for loss in losses(cabin.broker, relay, _tried(cabin, bank.id))],
            }
        )
    return {
        "ok": True,
        "file": cabin.source,
        "site": cabin.site,
        "degrees": cabin.degrees,
        "broker": f"{cabin.broker.host}:{cabin.broker.port}",
        "banks": banks,
        "parcels": None if cabin.parcels is None else asdict(cabin.parcels),
        "experience_rounds": max((bank.experience.rounds for bank in cabin.banks.values()), default=0),
        "warnings": [*loaded.warnings, *lacking(loaded.model, cabin)],
        "missing_folder": None if cabin.journal.path.parent.is_dir() else str(cabin.journal.path.parent),
        "cannot_be_seen": list(UNSEEN),
    }


def _tried(cabin: Cabin, bank: str) -> OwnOff:
    """Return how the relay's own auto-off was last tried: as a bridge that runs knows it, or its journal."""
    path = cabin.journal.path
    with suppress(BridgeError, KeyError, TypeError):
        return OwnOff(**ask(path, {"ask": "proof", "bank": bank})["proof"]["own"])
    with suppress(BridgeError, OSError, sqlite3.Error):
        if path.exists():
            with JournalReader(path) as journal:
                return remembered(journal, bank).interlock.proof.own
    return OwnOff()


def as_text(report: dict[str, Any], width: int = 0) -> Iterator[str]:
    """Write the report for people, for lines of so many characters; 0 = as many as it takes."""
    scale = report["degrees"]
    yield f"{report['file']}: site {report['site']}, broker {report['broker']}"
    for bank in report["banks"]:
        yield ""
        yield (
            f"{'' if bank['bank'] == 'bank' else 'bank '}{bank['bank']}: {bank['cells']} cells in {bank['strings']} "
            f"{'string' if bank['strings'] == 1 else 'strings'}, {bank['capacity_ah']:g} Ah, "
            f"equalise at {bank['equalise_v']:g} V{bank['charger_beside']}, "
            f"at most {bank['string_current_a']:g} A per string "
            f"(flagged above it; over {figure(round(bank['over_current_a'], 1))} A for "
            f"{OVER_CURRENT_SECONDS:.0f} s it is a danger"
            f"{'' if bank['watch_only'] else ' and the relay is opened'})"
            + (", watch only" if bank["watch_only"] else "")
        )
        yield from _as_its_owner_says(bank, scale)
        yield "  meters, each with an example made up here and not heard:"
        yield from in_columns([_meter(meter, scale) for meter in bank["meters"]], width)
        if bank["watch_only"]:
            continue
        if bank["time_budget"] is not None:
            yield "  safety time budget"
            for line in bank["time_budget"]["words"]:
                yield f"    {spoken(line, scale)}"
        yield "  what opens the relay when something is lost"
        for loss in bank["losses"]:
            after = "" if loss["after"] is None else f" (within {loss['after']:g} s)"
            yield f"    {loss['lost']}: {loss['covered_by']}{after}"
        yield f"  {bank['untried']}"
        if bank["try_auto_off"]:
            yield f"  {bank['try_auto_off']}"
    yield from _beside(report)
    yield ""
    yield "cannot be seen from here; look at the broker's own configuration"
    for line in report["cannot_be_seen"]:
        yield f"  {line}"
    for step in report.get("connect", ()):
        yield f"{step['what']}: {'ok' if step['ok'] else 'FAILED'}, {step['words']}"
    yield from in_columns([_heard(heard) for heard in report.get("heard", ())], width)
    for line in (*report["warnings"], *report.get("doubted", ())):
        yield f"look again: {line}"
    yield from _verdict(report)


def _meter(meter: dict[str, Any], scale: str) -> tuple[tuple[str, str, str], tuple[str, str]]:
    """Return a meter, where it is read and an example, as columns and in two lines."""
    where = f"{meter['topic']} {meter['at']}".strip()
    sent, arrow, read = meter["example"].rpartition(" → ")  # what the meter sends stays as it sends it
    example = f"{sent}{arrow}{spoken(read, scale)}" + ("  (own time)" if meter["session"] == "history" else "")
    return (f"  {meter['meter']}", where, example), (f"  {meter['meter']}: {example}", f"    from {where}")


def _heard(heard: dict[str, Any]) -> tuple[tuple[str, str], tuple[str, str]]:
    """Return what was heard of a meter as columns and in two lines."""
    spoke = "heard" if heard["value"] is not None else "SILENT"
    which = f"{spoke:<6} {heard['bank']} {heard['meter']}"
    return (which, str(heard["words"])), (which, f"  {heard['words']}")


#: Key of the file -> how an owner's limit is called.
_LIMITS = {
    "temperature": "acid {:.1f} degC",
    "temperature_case": "case {:.1f} degC",
    "temperature_warning": "a warning from {:.1f} degC",
    "temperature_resume": "charged on below {:.1f} degC",
    "temperature_absolute": "at once from {:.1f} degC",
    "cell_voltage": "{:.4g} V per cell",
    "string_current": "{:g} A per string",
    "hydrogen": "hydrogen {:.2%}",
}


def _own_limits(bank: Bank, given: set[str]) -> dict[str, float]:
    """Return key -> limit that stands in the file, in canonical units."""
    return {key: getattr(bank.limits, key) for key in _LIMITS if key in given}


def _as_its_owner_says(bank: dict[str, Any], scale: str) -> Iterator[str]:
    """Say the limits that are the owner's own, and the volts of the mains."""
    if own := bank["own_limits"]:
        told = ", ".join(_LIMITS[key].format(value) for key, value in own.items())
        yield f"  limits of your own: {spoken(told, scale)}"
    if bank["ac_voltage_v"] is not None:
        yield f"  the charger's outlet: {bank['ac_voltage_v']:g} V"


def _beside(report: dict[str, Any]) -> Iterator[str]:
    """Say who is told, what leaves the cabin, and what earlier rounds weigh."""
    if report.get("messages") is not None:
        yield f"{report['messages']}; `revival notify --try` sends one"
    if (parcels := report["parcels"]) is not None:
        most = "" if parcels["monthly"] is None else f", at most {parcels['monthly'] / 1e6:g} MB a month"
        each = f"every {parcels['every'] / 60.0:g} min{most}"
        yield f"parcels: {', '.join(parcels['tables'])} to {parcels['where']} {each}"
    if report["experience_rounds"]:
        yield f"experience: hours are weighed against {report['experience_rounds']} earlier rounds"


def _verdict(report: dict[str, Any]) -> Iterator[str]:
    """Say whether the file can be run."""
    if report["missing_folder"] is not None:
        yield (
            f"look again: [journal] path: the folder {report['missing_folder']} is missing here: create it, or name "
            "another; `revival run` refuses without it"
        )
    if not report.get("fits", True):
        yield "The file does not fit what was heard: correct what FAILED above."
    elif not report["ok"]:
        yield "The file is right, but not everything can be reached and read."
    elif report.get("doubted"):
        yield "The file can be run once its cells are counted: the last line above says why."
    elif report["missing_folder"] is None:
        yield "The file can be run."


def try_out(cabin: Cabin) -> list[dict[str, Any]]:
    """Try broker, database and journal once each."""
    return [
        _step("broker", lambda: _broker(cabin)),
        *([_step("database", lambda: _database(cabin.influx))] if cabin.influx is not None else []),
        *([_step("parcels", lambda: _store(cabin.parcels))] if cabin.parcels is not None else []),
        _step("journal", lambda: _journal(cabin.journal)),
    ]


def hear_once(loaded: Loaded, wait: float) -> list[dict[str, Any]]:
    """Return the first value of every mapping as the bridge reads it, or why none; wait at most so long [s]."""
    from bridge.mqtt.ear import Ear  # noqa: PLC0415  (only here is a network library needed)

    routes = loaded.routes
    first: dict[tuple[str, str], tuple[str, float]] = {}
    refused: dict[str, tuple[str, Message]] = {}
    wanted = {(mapping.bank, mapping.meter) for mapping in routes.mappings}
    with suppress(CannotReachError), Ear(loaded.cabin.broker, [*routes.live_topics, *routes.history_topics]) as ear:
        for _, message in ear.hear(wait):
            if message is None:
                continue
            decoded = routes.decode(message)
            for reading in decoded.readings:
                first.setdefault((reading.bank, reading.meter), (_shortened(message.payload), reading.value))
            refused |= {one.topic: (one.reason, message) for one in decoded.rejected}
            if first.keys() >= wanted:
                break
    told = [
        _first_value(mapping, first.get((mapping.bank, mapping.meter)), refused, wait, loaded)
        for mapping in routes.mappings
    ]
    silent = {one["topic"] for one in told if one["value"] is None and not one["refused"]}
    near = _beside_silent(loaded, silent, min(wait, BESIDE)) if silent else {}
    return [{**one, "words": f"{one['words']}{_as_near(one, near)}"} for one in told]


def _beside_silent(loaded: Loaded, silent: set[str], wait: float) -> dict[str, str]:
    """Return what speaks beside each silent topic; listened for so long [s]."""
    from bridge.mqtt.ear import Ear  # noqa: PLC0415  (only here is a network library needed)

    folders = {topic.rpartition("/")[0] for topic in silent} - {""}
    heard: set[str] = set()
    with suppress(CannotReachError), Ear(loaded.cabin.broker, [f"{folder}/+" for folder in sorted(folders)]) as ear:
        heard.update(message.topic for _, message in ear.hear(wait) if message is not None)
    return {topic: near for topic in silent if (near := spoke_beside(topic, heard - silent))}


def _as_near(one: dict[str, Any], near: dict[str, str]) -> str:
    if one["topic"] not in near:
        return ""
    named = near[one["topic"]]
    first = named.partition(", ")[0]
    again = f": `revival setup --relay-state {first}` takes it" if one["meter"] == "relay_state" else ""
    return f" Beside it speaks {named}{again}"


def _first_value(
    mapping: Mapping,
    first: tuple[str, float] | None,
    refused: dict[str, tuple[str, Message]],
    wait: float,
    loaded: Loaded,
) -> dict[str, Any]:
    told = {"bank": mapping.bank, "meter": mapping.meter, "topic": mapping.topic}
    if first is None:
        why = refused.get(mapping.topic)
        words = f"said nothing in {wait:g} s: slow, off, or another topic?"
        if why is not None:
            words = f"cannot be read: {_why(mapping, *why)}"
        return {**told, "value": None, "refused": why is not None, "words": words}
    payload, value = first
    return {
        **told,
        "value": value,
        "refused": False,
        "words": f"{payload} → {_in_owners_scale(value, mapping.canonical, loaded)}",
    }


def _why(mapping: Mapping, reason: str, message: Message) -> str:
    """Return why a message gave nothing; where the place in it is missing, which places it has."""
    at = mapping.pointer or mapping.name
    if reason != "missing" or not at:
        return f"{reason}: {_shortened(message.payload)}"
    collector = Collector()
    collector.take(message)
    there = sorted({one.at for one in collector.switches if one.at})
    more = f" and {len(there) - _PLACES_SHOWN} more" if len(there) > _PLACES_SHOWN else ""
    return f"{at} is missing; there is {', '.join(there[:_PLACES_SHOWN]) or 'nothing to read'}{more}"


#: So many places of a document are named.
_PLACES_SHOWN = 12


def _unread(heard: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Say of each meter and relay's state that was heard and cannot be read as what it is; the bridge could not."""
    for one in heard:
        if not one["refused"]:
            continue
        if one["meter"] == "relay_state":
            what, mend = (
                "relay",
                "correct state_topic, state_pointer, state_open and state_closed under [bank.relay], or "
                f"`revival setup --relay-state {one['topic']}` hears it again",
            )
        else:
            what, mend = one["meter"], f"correct its [[bank.meter]] with topic {one['topic']}"
        yield {"what": f"{what} of {one['bank']}", "ok": False, "words": f"{one['topic']} {one['words']}; {mend}"}


def _unlike(heard: list[dict[str, Any]], loaded: Loaded) -> Iterator[dict[str, Any]]:
    """Say of each bank whose volts no such number of cells shows, not even dead ones."""
    for bank, volts in _volts(heard, loaded):
        if no_such_cells(volts, bank.cells):
            mend = "correct blocks, or topic, pointer and unit of its voltage, in the file"
            yield {"what": f"cells of {bank.id}", "ok": False, "words": f"{against_cells(volts, bank.cells)}; {mend}"}
    for part in _parts(heard, loaded):
        if why := of_a_part(part.volts, part.cells):
            mend = f"in its {part.table} correct {part.otherwise}, unit or pointer; or in blocks cells = {part.block}"
            what = f"{part.called} of {part.bank}"
            yield {"what": what, "ok": False, "words": f"{part.topic} shows {why}; {mend}, where the case says another"}


def _doubted(heard: list[dict[str, Any]], loaded: Loaded) -> Iterator[str]:
    """Say of each bank whose volts are those of another number of cells, or of a bank that is nearly dead."""
    for bank, volts in _volts(heard, loaded):
        why = against_cells(volts, bank.cells)
        if why and not no_such_cells(volts, bank.cells):
            usual = " or ".join(map(str, cells_of(volts)))
            rather = f": they are those of {usual} cells, or the bank is nearly dead" if usual else ""
            yield (
                f"{bank.id} has {why}{rather}; every voltage limit hangs on that number: count them before you run it, "
                "and correct blocks in the file where it is another"
            )
    for part in _parts(heard, loaded):
        if why := weak_part(part.volts, part.cells):
            yield (
                f"{part.called} of {part.bank}: {part.topic} shows {why}: it is nearly dead, or {part.table} is of "
                f"another part: correct {part.otherwise} there, or blocks cells = {part.block}"
            )


class _Part(NamedTuple):
    """A block or cell whose volts were heard: its cells, what the file says of it, and what else it may be."""

    bank: str
    called: str
    topic: str
    volts: float
    cells: int
    block: int
    table: str
    otherwise: str


def _parts(heard: list[dict[str, Any]], loaded: Loaded) -> Iterator[_Part]:
    """Return each single block and cell whose volts were heard."""
    for one in heard:
        bank = loaded.cabin.banks.get(one["bank"])
        meter = next((each for each in bank.meters if each.name == one["meter"]), None) if bank is not None else None
        if bank is None or meter is None or meter.quantity not in _PART_OTHERWISE or one["value"] is None:
            continue
        labels = {block.label: block.cells for string in (*bank.strings, *bank.aside) for block in string}
        block = labels[meter.index.partition(".")[0]]
        table = f'[[bank.meter]] topic = "{one["topic"]}", index = "{meter.index}"'
        called = f"{'block' if meter.quantity == 'block_voltage' else 'cell'} {meter.index}"
        cells = block if meter.quantity == "block_voltage" else 1
        yield _Part(bank.id, called, one["topic"], one["value"], cells, block, table, _PART_OTHERWISE[meter.quantity])


#: Quantity of a part -> what its table may say instead.
_PART_OTHERWISE = {
    "block_voltage": 'quantity (of the whole bank: "voltage")',
    "cell_voltage": 'quantity (of a whole block: "block_voltage", index without the cell)',
}


def _volts(heard: list[dict[str, Any]], loaded: Loaded) -> Iterator[tuple[Bank, float]]:
    """Return each bank whose volts were heard, and the volts [V]."""
    for one in heard:
        if one["value"] is not None and one["meter"] == "voltage":
            yield loaded.cabin.banks[one["bank"]], one["value"]


def _in_owners_scale(value: float, canonical: str, loaded: Loaded) -> str:
    if canonical == "degC":
        return spoken(f"{value:.1f} degC", loaded.cabin.degrees)
    return f"{value:.6g}" + ("" if canonical in {"1", "boolean"} else f" {canonical}")


def _shortened(payload: bytes) -> str:
    text = "".join(c if c.isprintable() else " " for c in payload.decode("utf-8", "replace"))
    return text if len(text) <= _PAYLOAD_SHOWN else text[:_PAYLOAD_SHOWN] + "..."


#: So much of a payload is shown.
_PAYLOAD_SHOWN = 40


def _step(what: str, attempt: Callable[[], str]) -> dict[str, Any]:
    try:
        return {"what": what, "ok": True, "words": attempt()}
    except BridgeError as error:
        return {"what": what, "ok": False, "words": str(error).removeprefix(f"{what}: ")}


def _broker(cabin: Cabin) -> str:
    from bridge.mqtt.bus import probe  # noqa: PLC0415  (only here is a network library needed)

    logging.getLogger("revival").addHandler(logging.NullHandler())  # the report says it once, in its own place
    probe(cabin.broker, f"{cabin.broker.client_prefix}-{cabin.site}-check")
    return f"{cabin.broker.host}:{cabin.broker.port} lets us in"


def _store(settings: ParcelsSettings | None) -> str:
    """Write nothing: what can be listed is there."""
    assert settings is not None
    try:
        from bridge.outlets.parcel_file import Store  # noqa: PLC0415  (a large library, only for who sends parcels)

        sites = Store(settings.where).folders()
    except ImportError as error:
        raise CannotReachError(f"{error.name} is missing: install the extra fleet, '.[fleet]'") from None
    except (OSError, ValueError) as error:
        raise CannotReachError(f"{settings.where}: {error}") from None
    return f"{settings.where} answers, parcels of {len(sites)} {'site' if len(sites) == 1 else 'sites'} lie there"


def _database(settings: InfluxSettings | None) -> str:
    """Write nothing but a comment: that tells a database which is down from a token or bucket which is wrong."""
    from bridge.outlets.influx_writer import InfluxWriter  # noqa: PLC0415  (only for a database)

    assert settings is not None
    url = settings.url
    if settings.before_1_8:
        refused = {
            "401": "does not accept the login: correct username and password_file",
            "403": f'does not let this user write to database "{settings.bucket}": give it that right',
            "404": f'has no database "{settings.bucket}": create it, or correct the name',
        }
    else:
        refused = {
            "401": "does not accept the token: renew it in token_file or token_env",
            "403": f'does not let the token write to bucket "{settings.bucket}": give it that right',
            "404": f'has no bucket "{settings.bucket}" in org "{settings.org}": create it, or correct the names',
        }
    writer = InfluxWriter(settings)
    answer = writer.post(["# revival check"])
    writer.let_go()
    status = answer.words.partition(" ")[0]
    if status in refused:
        raise CannotReachError(f"{url} {refused[status]}")
    if answer.kind not in ("accepted", "bad"):  # bad is: let in, and there was nothing to write
        if status.isdecimal():
            raise CannotReachError(f"{url} answers {status}: look at its log")
        raise CannotReachError(f"no database answers at {url}: is it running, and the url right?")
    return f"{url} lets us write"


def _journal(settings: JournalSettings) -> str:
    path = settings.path
    if not path.parent.is_dir():
        raise CannotReachError(f"folder {path.parent} does not exist: create it, or change [journal] path")
    existed = path.exists()
    try:
        with closing(sqlite3.connect(path, timeout=2.0)) as database:
            database.execute("BEGIN IMMEDIATE")
            database.rollback()
    except sqlite3.Error as error:
        if "locked" in str(error):
            return f"{path} is in use by a running bridge"
        raise CannotReachError(f"{path}: {error}: look at the folder's permissions and the disk") from None
    if not existed:
        path.unlink(missing_ok=True)
        return f"{path} can be created"
    return f"{path} can be written"
