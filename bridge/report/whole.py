"""The whole report of a round, in the order in which an owner asks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bridge.report import cells
from bridge.report.drawing import draw, panels
from bridge.report.owner import Units, lasting, moment, short, typeset
from bridge.report.paper import render
from bridge.report.round import PhaseTotal, Round
from bridge.report.sections import shared
from bridge.report.told import Episode, kind_of, taken_at, undone_after
from bridge.words.bank_name import called
from bridge.words.bank_status import event_words
from rules.events import Event, Flag
from rules.hand import GravityReading, spread
from rules.safety import AS_WRITTEN, READ_BACK


def report(made: Round, units: Units) -> str:
    """Return one HTML page that prints on A4 and on Letter."""
    return render(
        "report.html",
        title=f"Revival of {called(made.bank.id)}",
        came_in=_came_in(made, units),
        figures=[(figure.name, units.figure(figure), typeset(figure.source)) for figure in made.plan.figures],
        drawing=_curve(made, units),
        totals=_totals(made),
        account=_account(made, units),
        gravity=_gravities(made),
        raised=[
            (entry.flag, f"{entry.times} ×", moment(entry.first_at), short(entry.hours), units.words(entry.reason))
            for entry in made.raised
        ],
        tested=_tested(made, units),
        done=_done(made, units),
        **dangers(made, units),
        **shared(made, units),
    )


def _came_in(made: Round, units: Units) -> list[tuple[str, str]]:
    bank = made.bank
    strings = f"{len(bank.strings)} string{'s' if len(bank.strings) > 1 else ''} of {len(bank.strings[0])} blocks"
    rows = [("arrangement", f"{strings}, {bank.cells} cells in series, {bank.capacity:g} Ah at the 20-hour rate")]
    rows += [
        (f"string {number}", ", ".join(f"{block.label} ({block.cells} cells, {block.capacity:g} Ah)" for block in row))
        for number, row in enumerate(bank.strings, 1)
    ]
    rows += [(f"{kind_of(event)}, {moment(taken_at(event))}", entry_words(event, units)) for event in made.came]
    if not made.came:
        rows.append(("as found", "nothing was noted before the start"))
    return rows


def _curve(made: Round, units: Units) -> str:
    strips = panels(made.curve, made.bank.cells, made.hold_band, units.degrees, units.sign)
    return draw(
        strips,
        made.phases,
        [episode.at for episode in made.episodes if episode.at >= made.since],
        made.since,
        made.until,
    )


def _account(made: Round, units: Units) -> list[tuple[str, str]]:
    state = made.last
    rows: list[tuple[str, str]] = [("hours of charging", short(made.charging))]
    if state is not None:
        rows += [
            ("charge beyond the rated capacity", _ampere_hours(state.overcharge)),
            ("held at the equalising voltage", f"{state.hold_hours:.1f} of {state.hold_needed:.0f} h"),
            (
                "water split since the last top-up, reckoned",
                "not known without a current"
                if state.overcharge is None
                else units.words(f"{state.water_used:.0f} g per cell"),
            ),
        ]
    told = [units.warmth(made.hottest), *([moment(made.hottest_at)] if made.hottest_at else []), made.hottest_where]
    hottest = ", ".join(part for part in told if part)
    # As the cautions and the page write the same limit: in whole degrees Fahrenheit.
    warm = made.bank.limits.temperature_warning
    warned = units.words(f"{round(warm, 1):g} degC ({warm * 1.8 + 32.0:.0f} degF)")
    rows += [
        ("distilled water added, as noted", units.words(f"{made.water_added:.0f} mL")),
        (
            "hottest" if made.hottest_where.startswith("by hand on") else "hottest electrolyte",
            f"{hottest} (limit {units.warmth(made.bank.temperature_limit)})",
        ),
        (f"at {warned} and above, the warning", short(made.warm_hours)),
        ("time nobody measured", "not known" if made.unknown is None else short(made.unknown)),
    ]
    return rows


def _totals(made: Round) -> list[tuple[str, ...]]:
    totals = [_total_row(total) for total in made.totals]
    totals.append(("in all", short(sum(total.hours for total in made.totals)), "", *_back(made.charge, made.energy)))
    return totals


def _ampere_hours(charge: float | None) -> str:
    return "not measured" if charge is None else f"{charge:.0f} Ah"


def _total_row(total: PhaseTotal) -> tuple[str, ...]:
    still = "" if total.still is None else short(total.still)
    return total.phase, short(total.hours), still, *_back(total.charge, total.energy)


def _back(charge: float | None, energy: float | None) -> tuple[str, str]:
    return (
        "not known" if charge is None else f"{charge:.1f} Ah",
        "not known" if energy is None else f"{energy:.2f} kWh",
    )


def _gravities(made: Round) -> dict[str, Any]:
    """Return no rows where no cell was read."""
    rows = [
        (row.label, *(_from_to(made.gravities.get(cell, [])) for cell in row.cells), *[""] * row.empty)
        for row in cells.rows(made.bank)
    ]
    rise, state = "", made.last
    if state is not None and state.gravity_rise is not None and state.gravity_rise_by_water is not None:
        by_water = f"{state.gravity_rise_by_water:+.3f}"
        rise = f"Middle rise {state.gravity_rise:+.3f}, of which lost water alone explains {by_water}."
    return {
        "heads": ("block", *cells.heads(made.bank)),
        "rows": rows if made.gravities else [],
        "spread_first": _spread(made, 0),
        "spread_last": _spread(made, -1),
        "rise": rise,
    }


def _from_to(readings: list[GravityReading]) -> str:
    if not readings:
        return "–"
    first, last = readings[0], readings[-1]
    if len(readings) == 1:
        return _gravity(first)
    gain = ""
    if first.gravity_corrected is not None and last.gravity_corrected is not None:
        gain = f"\n{last.gravity_corrected - first.gravity_corrected:+.3f}"
    return f"{_gravity(first)} → {_gravity(last)}{gain}"


def _gravity(entry: GravityReading) -> str:
    if entry.gravity_corrected is None:
        return entry.mark
    told = f"{entry.gravity_corrected:.3f}{'' if entry.trusted else '*'}"
    return told if entry.corrected else f"{told} uncorrected"


def _spread(made: Round, place: int) -> str:
    """Return the spread of one walk round the bank as page and status say it: by the rules, not by what is printed."""
    chosen = [readings[place] for readings in made.gravities.values()]
    of_walk = spread(tuple(sorted(chosen)))
    left_out = "" if all(one.mixed for one in chosen) else " (without cells whose water was not mixed yet)"
    return ("not known" if of_walk is None else f"{of_walk:.3f}") + left_out


def dangers(made: Round, units: Units) -> dict[str, Any]:
    """Return every trip, what people noted of danger, and for which meters nobody watched."""
    noticed = [(event, entry_words(event, units)) for event in made.dangers]
    noticed += [(entry, f"{entry_words(entry, units)}; {_undone(undo)}") for entry, undo in made.taken_back]
    bypasses = [event for event in made.acts if event.kind == "command" and event.detail.get("excused")]
    return {
        "episodes": [_episode(episode, made, units) for episode in made.episodes],
        "noticed": [(moment(taken_at(event)), words) for event, words in sorted(noticed, key=lambda row: row[0].at)],
        "up": [f"{flag.name}: {units.words(flag.reason)}" for flag in made.up if not _at_posts(made, flag)],
        "bypassed": [(moment(event.at), _act(event, units)[1]) for event in bypasses],
        "own_off": _own_off(made),
    }


def _at_posts(made: Round, flag: Flag) -> bool:
    """Tell whether a flag says only what people noted at the posts, which stands there already."""
    by_hand = flag.name in ("case-damaged", "connection-bad")
    # A meter names its figure beside the place.
    by_hand |= flag.name in ("plates-bare", "polarity-reversed") and "(" not in flag.reason
    return bool(made.at_posts) and by_hand


def _own_off(made: Round) -> str:
    """Say what the last proof of the round knew of the relay's own auto-off; empty where there is none."""
    if made.bank.relay is None or not made.bank.relay.auto_off:
        return ""
    told = made.proofs[-1].detail.get("own") if made.proofs else ""
    return str(told or AS_WRITTEN)


def _undone(undo: Event) -> str:
    """Say who took a reading back, and that the trip by it stood."""
    return ", ".join([f"taken back {moment(undo.at)}", *_by(undo)]) + "; what tripped by it ends by a reset alone"


def _episode(episode: Episode, made: Round, units: Units) -> tuple[str, str, str, str]:
    what = f"{episode.hazard}: {units.words(episode.reason)}"
    if episode.value is not None and episode.limit is not None:
        value, limit = units.measured(episode.value, episode.unit), units.measured(episode.limit, episode.unit)
        seen = units.words(episode.reason)  # it names the place, and mostly the value too
        seen = seen if value in seen else ", ".join(part for part in (seen, value) if part)
        what = f"{episode.hazard}: {seen}, limit {limit}"
    for gone in made.taken_back:
        if undone_after(episode, gone):
            what += f" (the entry was {', '.join([f'taken back {moment(gone.undo.at)}', *_by(gone.undo)])})"
    relay = "none to cut" if made.bank.relay is None else "no order in the journal"
    if episode.cut_at is not None:
        before = episode.cut_at < episode.at
        relay = f"told to open {'before it' if before else lasting(episode.cut_at - episode.at)}; "
        evidence = {"relay": "its own report", "current": "the fallen current"}.get(episode.cut_seen_by, "")
        late = "LATE, " if (episode.cut_seen_after or 0.0) > READ_BACK else ""
        relay += (
            "NEVER SEEN OPEN"
            if episode.cut_seen_after is None
            else f"seen open {late}{lasting(episode.cut_seen_after)}, by {evidence or episode.cut_seen_by}"
        )
    on = "not reset"
    if episode.reset_at is not None:
        on = f"reset {moment(episode.reset_at)} by {episode.reset_by or 'unknown'}"
    if episode.resumed_at is not None:
        on += f", resumed {moment(episode.resumed_at)}"
    return moment(episode.at), what, relay, on


def _tested(made: Round, units: Units) -> list[tuple[str, str]]:
    """Return the capacity test; nothing where none was done."""
    test = made.judged.tested
    if test is None:
        return []
    begun = "not known when" if test.started_at is None else moment(test.started_at)
    warmth = "" if test.temperature is None else f", acid at {units.warmth(test.temperature)}"
    ended = "stopped before its end, so this is a lower bound"
    if test.ended_at is not None:
        ended = f"{moment(test.ended_at)}: {test.reason}"
    hours = "" if test.hours is None else f" in {test.hours:.1f} h"
    rows = [("begun", f"{begun}{warmth}"), ("ended", ended), ("delivered", f"{test.delivered:.1f} Ah{hours}")]
    if test.unknown_hours:
        rows.append(("not measured", f"{test.unknown_hours:.1f} h"))
    if test.corrected is not None and test.rated_at_rate is not None:
        rows.append((f"as it would be at {units.warmth(25.0, 0)}", f"{test.corrected:.1f} Ah"))
        rows.append(("rated at this current", f"{test.rated_at_rate:.1f} Ah"))
    if test.percent is not None:
        rows.append(("of its rated capacity", f"{test.percent:.0f} %"))
    if test.refused:
        rows.append(("against its rating", units.words(test.refused)))
    if test.fell_first:
        rows.append(("fell first", ", ".join(test.fell_first)))
    return rows


def _done(made: Round, units: Units) -> list[tuple[str, str, str]]:
    told = [(taken_at(event), kind_of(event), entry_words(event, units)) for event in made.noted]
    told += [(event.at, *_act(event, units)) for event in made.acts]
    return [(moment(at), what, words) for at, what, words in sorted(told)]


def _act(event: Event, units: Units) -> tuple[str, str]:
    told = event.detail
    if event.kind == "limit-changed":
        unit = "degC" if "temperature" in str(told.get("limit")) else ""
        ends = [units.measured(float(str(end)), unit) for end in (told["before"], told["after"])]
        return "limit moved", f"{told.get('limit')}: {ends[0]} before, {ends[1]} from then on"
    if event.kind != "command":
        return event.kind, units.words((event_words(event) or "").removeprefix(f"{event.kind} "))
    argument = told.get("argument")
    given = argument if isinstance(argument, Mapping) and told.get("name") != "verdict" else {}
    if "gone" in told:
        said = (event_words(event) or "").partition(": ")[2]
        return "start checklist" if told.get("name") == "checklist" else "verdict", ", ".join(
            [units.words(said), *_by(event)]
        )
    if told.get("name") == "checklist":
        many = f"{told['lines']} lines" if told.get("lines") else "every line"
        against = [f"yet seen or noted was: {units.words(str(told['against']))}"] if told.get("against") else []
        by = given.get("name") or told.get("by") or "nobody named"
        return "start checklist", "; ".join([f"{many} confirmed by {by}", *against])
    if told.get("excused"):
        return "bypass", ", ".join([units.words(str(told["excused"])), *_by(event)])
    if "act" in given and "number" in given:
        return f"{given['act']}", ", ".join([f"string {given['number']}", *_by(event)])
    words = [f"{name} {value}" for name, value in given.items() if name != "sure"]
    words += [f"early: {told['early']}"] if told.get("early") else []
    words += [f"in place of the one that {told['replaces']} gave"] if told.get("replaces") else []
    return str(told.get("name")), ", ".join(words + _by(event))


def entry_words(event: Event, units: Units) -> str:
    """Return what was noted: block by block for cells, with units, and with who and what they wrote."""
    told = event.detail
    values, kind = told.get("values"), kind_of(event)
    found: dict[str, dict[str, str]] = {}
    for where, value in values.items() if isinstance(values, Mapping) else ():
        block, _, cell = str(where).rpartition(".")
        place, inside = (block, cell) if cell.isdigit() and block else (str(where), "")
        found.setdefault(place, {})[inside] = units.noted(kind, str(where), value)
    words = [words for place, shown in found.items() for words in _of_cells(place, shown)]
    temperature = told.get("temperature")
    words += [f"acid at {units.warmth(temperature)}"] if isinstance(temperature, int | float) else []
    words += [str(told["note"])] if told.get("note") else []
    return ", ".join(words + _by(event))


def _of_cells(block: str, shown: Mapping[str, str]) -> list[str]:
    """Return what was noted of a block: its cells in one row where they were read in order, else each by its name."""
    if len(shown) > 1 and list(shown) == [str(number) for number in range(1, len(shown) + 1)]:
        return [f"{block} {' '.join(shown.values())}"]
    return [f"{block}{'.' if cell else ''}{cell} {value}".strip() for cell, value in shown.items()]


def _by(event: Event) -> list[str]:
    return [f"by {event.detail['by']}"] if event.detail.get("by") else []
