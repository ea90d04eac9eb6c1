"""What both sheets of a round share: the verdict, what belongs together, the round in one sentence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from bridge.report.gravity_drawing import draw_gravities
from bridge.report.owner import Units, day, days, short
from bridge.report.round import Round
from bridge.report.told import Episode, caused
from bridge.words.verdict_words import apart, spoken
from rules.step import so_far
from rules.verdict import NO_TEST, NOT_JUDGED, Verdict

#: Smaller numbers are told with their tenths.
TENTHS_BELOW = 10.0


def shared(made: Round, units: Units) -> dict[str, Any]:
    """Return what the templates of both sheets ask for."""
    return {
        "site": made.site,
        "made": made,
        "units": units,
        "dates": days(made.since, made.until),
        "summary": _in_words(made),
        "verdict": _bank_verdict(made),
        "blocks": _blocks_verdict(made, units),
        "gravities": draw_gravities(
            [
                (block.label, [made.gravities.get(f"{block.label}.{cell + 1}", []) for cell in range(block.cells)])
                for string in made.bank.strings
                for block in string
            ]
        ),
    }


def _bank_verdict(made: Round) -> dict[str, Any]:
    judged = made.judged
    whole = judged.verdicts[0]
    phase = "not known" if made.last is None else made.last.phase
    if judged.missing:
        return _before_all_is_measured(whole, judged.missing, phase)
    if judged.given_at is not None:
        by = f" by {judged.given_by}" if judged.given_by else ""
        title, word = f"Verdict on the bank, given{by} on {day(judged.given_at)}", spoken(whole.word)
    elif judged.ready:
        title, word = "Verdict on the bank, as things stand, not given yet", spoken(whole.word)
    else:
        where = _where(phase)
        title = f"No verdict yet: {where}" if whole.word == NOT_JUDGED else f"Seen so far, no verdict yet: {where}"
        word = spoken(whole.word)
    beside = apart(judged.verdicts)
    return {"title": title, "word": word, "reasons": (*whole.reasons, *([beside] if beside else []))}


def _before_all_is_measured(whole: Verdict, missing: Sequence[str], phase: str) -> dict[str, Any]:
    """Say that there is no verdict, what it waits for, and what was found: no word before all is known."""
    said = [reason for reason in whole.reasons if reason != NO_TEST]
    shown = [f"what was found so far: {'; '.join(said)}"] if said and whole.word != NOT_JUDGED else said
    lacks = [f"still to be measured: {'; '.join(missing)}"]
    return {"title": f"No verdict yet: {_where(phase)}", "word": spoken(NOT_JUDGED), "reasons": (*lacks, *shown)}


def _where(phase: str) -> str:
    return "no round is under way" if phase == "idle" else f"the round is {phase}"


def _blocks_verdict(made: Round, units: Units) -> dict[str, Any]:
    charges = made.judged.charges
    heads = ("block", "verdict", "count on", *(["charge returned"] if charges else []), "why")
    rows = [
        (
            verdict.label,
            spoken(verdict.word),
            "" if verdict.capacity is None or verdict.word == "scrap" else f"{verdict.capacity:.0f} Ah",
            *([f"{charges.get(verdict.label, 0.0):.0f} Ah"] if charges else []),
            "; ".join(units.words(reason) for reason in verdict.reasons),
        )
        for verdict in (so_far(made.judged.verdicts) if made.judged.missing else made.judged.verdicts)[1:]
    ]
    proposal = made.judged.matching
    together = [f"String {number}: {' '.join(labels)}" for number, labels in enumerate(proposal.strings, 1)]
    if proposal.spare:
        together.append(f"Left over: {' '.join(proposal.spare)}")
    return {
        "title": "Each block so far, no verdict yet" if made.judged.missing else "Verdict on each block",
        "heads": heads,
        "rows": rows,
        "numbers": range(2, len(heads) - 1),
        "together": [*together, *proposal.notes],
    }


def _in_words(made: Round) -> str:
    """Return what was done, in one sentence."""
    first, last = day(made.since), day(made.until)
    when = f"on {first}" if first == last else f"between {first} and {last}"
    charging = f"{_few(made.charging)} hours" if made.charging >= 1.0 or not made.charging else short(made.charging)
    parts = [f"{charging} of charging {when}"]
    if made.charge is not None:
        parts.append(f"{_few(made.charge)} Ah went back in")
    if made.last is not None:
        parts.append(f"held {_few(made.last.hold_hours)} h at the equalising voltage")
    return ", ".join([*parts, *_stopped(made)]) + "."


def _few(value: float) -> str:
    """Write a number as the tables below it do where it is small; nought stands for nothing alone."""
    return f"{value:.1f}".removesuffix(".0") if value < TENTHS_BELOW else f"{value:.0f}"


def _stopped(made: Round) -> list[str]:
    """Return how often there was danger; that charging stopped is said where the relay was seen to open."""
    trips = {episode.at: episode for episode in made.episodes if episode.at >= made.since}
    alone = [event for event in made.dangers if not any(caused(trip, event) for trip in made.episodes)]
    alone = [event for event in alone if event.at >= made.since]
    noted = []
    if alone:
        times = "once" if len(alone) == 1 else f"{len(alone)} times"
        noted = [
            f"danger was noted by hand {times}{' more' if trips else ''}, without {'another' if trips else 'a'} trip"
        ]
    return [*_cut(made, trips), *noted]


def _cut(made: Round, trips: dict[float, Episode]) -> list[str]:
    """Return how often it tripped, and whether the relay was seen to open for it."""
    if not trips:
        return []
    times = "once" if len(trips) == 1 else f"{len(trips)} times"
    if made.bank.relay is None:
        return [f"danger was seen {times}, and only a person could stop the charger"]
    if all(episode.cut_seen_after is not None for episode in trips.values()):
        return [f"charging was stopped for safety {times}"]
    unseen = sum(episode.cut_seen_after is None for episode in trips.values())
    failed = "once" if unseen == 1 else f"{unseen} times"
    return [f"danger was seen {times}, and {failed} the relay was not seen to open for it"]
