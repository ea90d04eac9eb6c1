"""`revival status`: how a running bridge and its banks are."""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections.abc import Mapping
from datetime import datetime
from math import ceil
from shutil import get_terminal_size
from types import MappingProxyType
from typing import Any

from bridge.commands.act import joined
from bridge.commands.files import add_config
from bridge.commands.record import lowest_words, off_scale_words, rise_words, unmixed_words
from bridge.commands.which_bank import which_bank
from bridge.config import load
from bridge.errors import CannotReachError
from bridge.report.found import trips
from bridge.runtime.control_socket import ask
from bridge.words.bank_status import air, cause, causes, gas_goes_on, hydrogen, place
from bridge.words.equalising import out_of_reach
from bridge.words.estimated import between, digits_of
from bridge.words.folded import folded as in_pieces
from bridge.words.spoken import SIGNS, spoken
from rules.advice import WARM
from rules.bank import Bank
from rules.events import Flag

#: A chore -> the command that notes it, with what is still to be filled in.
NOTED = {
    "heat-unwatched": "record temperature VALUE",
    "level-due": "record level VALUES",
    "gravity-due": "record gravity VALUES",
    "water-due": "record water VALUE",
    "string-currents-due": "record amps VALUE --string 1",
    "presence-due": 'record seen "WHAT YOU SAW"',
}
#: The same for what is to be recorded by a command that a next step names bare.
FILLED = {
    "gravity": "VALUES", "level": "VALUES", "water": "VALUE", "amps": "VALUE", "voltage": "VALUE",
    "temperature": "VALUE", "seen": '"WHAT YOU SAW"', "note": '"WHAT WAS DONE"',
}  # fmt: skip
#: Commands that a next step names and that are offered beneath it; it names none that would be refused now.
_TYPED = re.compile(r"`revival ((?:record(?! charger)|plan|checklist|prove|witness|start|resume|reset)\b[^`]*)`")
#: These may be typed before hands have done what stands in front of them.
_HARMLESS = ("record", "plan")
_HANDS_FIRST = re.compile(
    r"^[^`]*(switch (the charger|it) off|switch off|pull (the charger's|its) plug)", re.IGNORECASE
)

#: Before a command.
WITH = "  with:  "


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_config(parser)
    parser.add_argument("--bank", metavar="ID", help="only this bank")
    parser.add_argument("--json", action="store_true", help="for machines")


def run(arguments: argparse.Namespace) -> int:
    """Ask the running bridge; exit 4 where none answers, 5 where a danger stands or the broker is lost."""
    cabin = load(arguments.config).cabin
    only = None if arguments.bank is None else which_bank(cabin.banks, arguments.bank)
    try:
        answer = ask(cabin.journal.path, {"ask": "status"})
    except CannotReachError as error:
        kept = [spoken(line, cabin.degrees) for line in trips(cabin)]
        raise CannotReachError("\n".join([*kept, str(error)])) from None
    if only is not None:
        answer = {**answer, "banks": {name: bank for name, bank in answer["banks"].items() if name == only}}
    several = len(cabin.banks) > 1
    if arguments.json:
        print(json.dumps(answer, indent=2, sort_keys=True))
    else:
        scale = cabin.degrees
        width = get_terminal_size().columns if sys.stdout.isatty() else 0
        print(
            "\n".join(folded(line, width) for line in words(answer, scale, str(arguments.config), several, cabin.banks))
        )
    banks = answer.get("banks", {})
    danger = any(bank["tripped"] or bank["safe"] == "no" for bank in banks.values())
    return 5 if danger or not answer["bridge"]["connected"] else 0


def _parcels(parcels: dict[str, Any] | None) -> list[str]:
    """Say how sending parcels is, where they are configured."""
    if parcels is None:
        return []
    waiting = f"{parcels['backlog']} row{'' if parcels['backlog'] == 1 else 's'}"
    settled = parcels["state"] == "up to date"
    behind = f", {waiting} {'for the next parcels' if settled else 'wait'}" if parcels["backlog"] else ""
    state = "sent" if settled and behind else parcels["state"]
    lost = f", {parcels['missed']} rows thinned before they could go" if parcels["missed"] else ""
    said = f": {parcels['words']}" if parcels["words"] else ""
    return [f"  parcels: {state}{behind}, {parcels['month'] / 1e6:.1f} MB this month{lost}{said}"]


def folded(line: str, width: int) -> str:
    """Return a line in pieces that a terminal of this width shows, each under the first; a command stays whole."""
    return line if line.startswith(WITH) else in_pieces(line, width)


def words(
    answer: dict[str, Any],
    scale: str = "degC",
    config: str = "cabin.toml",
    several: bool | None = None,
    banks: Mapping[str, Bank] = MappingProxyType({}),
) -> list[str]:
    """Say for people: is it safe, where is it, how long, what now and by which command; in the owner's scale."""
    bridge = answer["bridge"]
    broker = "connected to the broker" if bridge["connected"] else "NOT connected to the broker"
    lines = [f"bridge: {broker}, {bridge['messages']} messages, journal {bridge['journal_lag']:.1f} s behind"]
    if bridge["journal_degraded"]:
        lines.append(f"  journal: {bridge['journal_degraded']}")
    if bridge.get("newer_file"):
        lines.append(f"  {bridge['newer_file']}")
    database = bridge.get("database")
    if database is not None:
        behind = f", {database['backlog']} rows behind" if database["backlog"] else ""
        said = f": {database['words']}" if database["words"] else ""
        lines.append(f"  database: {database['state']}{behind}{said}")
    lines.extend(_parcels(bridge.get("parcels")))
    lines.extend(_messages(bridge.get("messages_to_people")))
    if bridge["unstored"] or bridge["dropped"]:
        lines.append(f"  {bridge['unstored']} messages unstored, {bridge['dropped']} dropped")
    lines.extend(f"  rejected {count} x {what}" for what, count in bridge["rejected"].items())
    several = len(answer.get("banks", {})) > 1 if several is None else several
    for name, bank in sorted(answer.get("banks", {}).items()):
        lines.extend(safe(name, bank))
        if bank.get("proved"):
            lines.append(f"  the relay: {bank['proved']}")
        if bank.get("own_off"):
            lines.append(f"  the relay's own auto-off: {bank['own_off']}")
        phase = place(bank["phase"], bank["interrupted"], bank["charging"])
        lines.append(
            f"  {phase}; {_amount(bank, 'volts_per_cell', 'V per cell', 3)}, {_amount(bank, 'voltage', 'V', 2)}, "
            f"{_amount(bank, 'current', 'A', 1)}, {_amount(bank, 'temperature', 'degC', 1)}, "
            f"{_amount(bank, 'charge_returned', 'Ah returned', 1)}"
        )
        lines.extend(_heard(bank))
        if bank["remaining_hours"] is not None:
            lines.append(f"  {_left(bank)}: {bank['remaining_reason']}")
        else:
            lines.append(f"  hours left not known: {bank['remaining_reason']}")
        lines.extend(_cells(bank))
        lines.extend(f"  flag {_flag(Flag(**flag))}" for flag in bank["flags"])
        if name in banks and (why := out_of_reach(banks[name])):
            lines.append(f"  {why}")
        lines.append(f"  next: {bank['next_step']}")
        lines.extend(_command(bank, config, name if several else ""))
        lines.extend(f"    then: {line}" for line in bank["then"])
        coming = [
            f"{row['chore'].removesuffix('-due')} {_when(row['due_at'])}"
            for row in bank["chores"]
            if row["due_at"] >= bank["at"]
        ]
        lines.extend([f"  chores: {', '.join(coming)}"] if coming else [])
    return [spoken(line, scale).replace("? degC", f"? {SIGNS[scale]}") for line in lines]


def _left(bank: dict[str, Any]) -> str:
    """Say the hours left and their band, no finer than they are known."""
    low, high = bank["remaining_low"], bank["remaining_high"]
    middle = f"{bank['remaining_hours']:.{digits_of(low, high)}f}"
    return f"about {middle} h of charging left (likely {between(low, high)} h)"


def _messages(told: dict[str, Any] | None) -> list[str]:
    """Say how each service is that people are told through, and whether an outside watcher hears of us."""
    if told is None:
        return []
    lines = []
    for service in told["services"]:
        waiting = f", {service['waiting']} waiting" if service["waiting"] else ""
        said = f": {service['words']}" if service["words"] else ""
        lines.append(f"  messages by {service['scheme']}: {service['state']}, {service['told']} told{waiting}{said}")
    if told["alive"] is not None:
        said = f": {told['alive']['words']}" if told["alive"]["words"] else ""
        lines.append(f"  outside watcher: {told['alive']['state']}{said}")
    return lines


def _command(bank: dict[str, Any], config: str, named: str) -> list[str]:
    """Return the command that answers the next step, where one does and would be taken now.

    With several banks, `named` says which: what is recorded has it before the values, all else as an option.
    """
    step = bank["next_step"]
    raised = [] if bank["tripped"] else [flag["name"] for flag in bank["flags"]]
    typed = _TYPED.findall(step)
    if _HANDS_FIRST.match(step):
        typed = [command for command in typed if command.startswith(_HARMLESS)]
    if raised and raised[0] in NOTED:
        typed = [NOTED[raised[0]]]
    elif "not-started" in raised and "start" in typed:
        typed = ["start"]  # the plan that the same sentence names first may have been made long ago
    if not typed:
        return []
    command = typed[0]
    act, kind, rest = (*command.split(" ", 2), "", "")[:3]
    if act == "record":
        command = " ".join([part for part in (act, kind, named, rest or FILLED.get(kind, "")) if part])
    option = f" --bank {named}" if named and act != "record" else ""
    return [f"{WITH}revival {command} --config {config}{option}"]


def _heard(bank: dict[str, Any]) -> list[str]:
    """Return how old each quantity is, the oldest last; and under it what is late, with when it counts as silent."""
    ages = sorted(bank["freshness"].items(), key=lambda item: (item[1], item[0]))
    told = [f"{quantity.replace('_', ' ')} {_age(age)} ago" for quantity, age in ages]
    late = [f"  late: {meter}: {how}" for meter, how in sorted(bank["late"].items())]
    return [*([f"  heard: {', '.join(told)}"] if told else []), *late]


#: Ages are told in seconds up to the first, in minutes up to the second [s]; spans with a tenth of an hour sooner [s].
SECONDS_UNTIL, MINUTES_UNTIL, SPAN_MINUTES_UNTIL = 120.0, 7200.0, 5400.0


def _age(seconds: float) -> str:
    if seconds < SECONDS_UNTIL:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < MINUTES_UNTIL else f"{seconds / 3600.0:.0f} h"


#: Answer to "is it safe?" -> how it is said behind a bank's name.
ANSWERED = {
    "no": "DANGER",
    "unknown": "NOT KNOWN whether it is safe",
    "not-yet": "NOT YET SAFE",
    "warm": "WARM, no danger seen",
    "yes": "safe, no danger seen",
}


#: So many causes stand beside a bank's name; of more only the worst, and the others each on its own line.
IN_A_HEADLINE = 2


def safe(name: str, bank: dict[str, Any]) -> list[str]:
    """Say cause, value and limit before anything else, then what is known of the charger."""
    flags = [Flag(**flag) for flag in bank["flags"]]
    answer = "TRIPPED" if bank["tripped"] else ANSWERED[bank["safe"]]
    found = causes(flags, bank["unsafe"])
    if bank["safe"] == "warm":
        found = [cause(flag) for flag in flags if flag.name in WARM]
    danger = bank["safe"] == "no"
    here = found if danger and len(found) <= IN_A_HEADLINE else found[:1]
    more = found[len(here) :] if danger else []
    counted = [f"and {len(more)} more"] if more else []
    said = "; ".join([*here, *counted]) or bank["safe_why"] or (bank["trip_reason"] if bank["tripped"] else "")
    # Beside "safe" stands no cause: what is open then is paper work, before anything charges.
    between = "; before a start: " if bank["safe"] == "yes" and not bank["tripped"] else ": "
    return [
        f"{name}: {answer}" + (f"{between}{said}" if said else ""),
        *[f"  and {each}" for each in more],
        *([f"  {bank['charger']}"] if bank["charger"] else []),
    ]


#: What a flag was seen by, where that is a figure of a meter; what falls due says its time itself.
SEEN_IN = frozenset({"degC", "K", "K/h", "V", "A"})


def _flag(flag: Flag) -> str:
    return cause(flag) if flag.unit in SEEN_IN else f"{flag.name}: {flag.reason}"


def _cells(bank: dict[str, Any]) -> list[str]:
    """Say arrangement, gas, water, gravities and capacity, as far as they are known and worth a line."""
    lines: list[str] = []
    if any(not row["string"] for row in bank["blocks"]):
        lines.extend(f"  {line}" for line in joined(bank))
    lines.extend(_gas(bank))
    if bank["water_used"] >= 1.0:
        used, above = bank["water_used"], bank["water_reserve"]
        lines.append(f"  water: {used:.0f} g of the {above:.0f} g above each cell's plates")
    if bank["lowest_gravity"] is not None:
        said = [f"lowest {lowest_words(bank)}"]
        said += [f"spread {bank['gravity_spread']:.3f}"] if bank["gravity_spread"] is not None else []
        said += off_scale_words(bank)
        said += [unmixed] if (unmixed := unmixed_words(bank)) else []
        said += [rise.rstrip(",")] if (rise := rise_words(bank)) else []
        if not all(row.get("corrected", True) for row in bank["cells"]):
            said.append("not all corrected: read without a temperature")
        lines.append(f"  gravity: {', '.join(said)}")
    if bank["capacity_percent"] is not None:
        lines.append(f"  test: {bank['capacity_delivered']:.1f} Ah, {bank['capacity_percent']:.0f} % of what is rated")
    if bank["fell_first"]:
        lines.append(f"  fell first: {', '.join(bank['fell_first'])}")
    if bank["verdict"]:
        lines.append(f"  verdict: {bank['verdict'][0]['word'].replace('-', ' ')}: {bank['verdict'][0]['reasons'][0]}")
    return lines


#: A smaller share of the current is told as less than that [1].
LEAST_SHARE = 0.01


def _share(share: float) -> str:
    """Say how much of the current is thought to gas: an estimate, and no bound."""
    if share >= 1.0:
        return "all of the current"
    return f"by estimate {'less than 1' if share < LEAST_SHARE else f'{100.0 * share:.0f}'} % of the current"


def _gas(bank: dict[str, Any]) -> list[str]:
    """Say what gasses, the air it needs, and from when the bank may be approached."""
    if any(flag["name"] == "fire-noted" for flag in bank["flags"]):
        return []  # beside a fire nobody airs anything, nor goes to the posts
    lines = []
    if bank["hydrogen_rate"]:
        needed = air(bank["ventilation_needed"], bank["gas_assumed_at"])
        lines.append(
            f"  gas: {_share(bank['gassing_share'])}, {hydrogen(bank['hydrogen_rate'])} of "
            f"hydrogen; {needed[0].lower()}{needed[1:]}"
        )
    elif bank["ventilation_needed"]:
        needed = air(bank["ventilation_needed"], None)
        lines.append(f"  gas: no volts are known, so all of the current counts; {needed[0].lower()}{needed[1:]}")
    elif bank["charging"] and bank["current"] is None:
        lines.append(f"  gas: {air(None, None)}")
    if bank["top_up_at"] is not None and bank["top_up_at"] > bank["at"]:
        far = bank["top_up_at"] - bank["at"] > FAR
        lines.append(f"  top up with distilled water at about {_when(bank['top_up_at'], day_only=far)}")
    safe = bank["safe_to_approach_at"]
    if safe is not None and safe > bank["at"]:
        up = 60.0 * ceil(safe / 60.0)  # never a minute too early
        goes_on = gas_goes_on(bank["at"], safe)
        from_when = "an hour after charging has ended" if goes_on else _when(up)
        lines.append(f"  no tool and no spark at the posts until {from_when}")
    return lines


#: What is foretold for longer ahead than this is told by its day [s]: nobody knows its hour.
FAR = 2.0 * 86400.0


def _when(at: float, day_only: bool = False) -> str:
    return datetime.fromtimestamp(at).astimezone().strftime("%d %b %Y" if day_only else "%d %b %H:%M")


#: What a figure's age is kept under.
_AGED = {"volts_per_cell": "voltage", "current": "current", "temperature": "electrolyte_temperature"}
#: Beside which figure it stands by whom it is told, where no living meter tells it.
_SAID_BY = {"volts_per_cell": "voltage"}
#: A figure older than this is shown with its age [s]: meters report more often, people do not.
OLD = 300.0


def _amount(bank: dict[str, Any], field: str, unit: str, digits: int) -> str:
    value, age = bank[field], bank["freshness"].get(_AGED.get(field, ""), 0.0)
    otherwise = bank["not_live"].get(_SAID_BY.get(field, field), "")
    # Where a meter was heard before, the age is that of what it told, and not of what a hand did.
    old = f"{_span(age)} old" if age > OLD and value is not None and "last heard" not in otherwise else ""
    beside = ", ".join([each for each in ("" if field in _SAID_BY else otherwise, old) if each])
    beside = f" ({beside})" if beside else ""
    if value is None:
        return f"? {unit}{beside}"
    return f"{round(value, digits) + 0.0:.{digits}f} {unit}{beside}"  # never -0.0


def _span(seconds: float) -> str:
    return f"{seconds / 60.0:.0f} min" if seconds < SPAN_MINUTES_UNTIL else f"{seconds / 3600.0:.1f} h"
