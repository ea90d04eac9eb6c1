"""What both sheets of a round share: the verdict, what belongs together, the cautions."""

from __future__ import annotations

from bridge.report.markup import listed, paragraph, section, table
from bridge.report.owner import Units, day, moment
from bridge.report.round import Round
from rules.verdict import Verdict


def dates(made: Round) -> str:
    """From when to when, for the head of a sheet."""
    return f"{day(made.since)} to {day(made.until)}"


def bank_verdict(made: Round, units: Units) -> str:
    """Return the word in a box and its reasons; before the round is far enough there is none."""
    judged = made.judged
    whole = judged.verdicts[0]
    phase = "not known" if made.last is None else made.last.phase
    if judged.given_at is not None:
        by = f" by {judged.given_by}" if judged.given_by else ""
        title, word = f"Verdict on the bank, given{by} on {day(judged.given_at)}", spoken(whole)
    elif judged.ready:
        title, word = "Verdict on the bank, as things stand, not given yet", spoken(whole)
    else:
        title, word = f"No verdict yet: the round is {phase}", ""
    box = f'<p><span class="word">{word}</span></p>' if word else ""
    return section(title, box, listed(units.words(reason) for reason in whole.reasons))


def blocks_verdict(made: Round, units: Units) -> str:
    """Every block with what it came to, and which of them belong in one string."""
    charges = made.judged.charges
    heads = ("block", "verdict", "count on", *(["charge returned"] if charges else []), "why")
    rows = [
        (
            verdict.label,
            spoken(verdict) if made.judged.ready or verdict.word == "scrap" else "open",
            "" if verdict.capacity is None or verdict.word == "scrap" else f"{verdict.capacity:.0f} Ah",
            *([f"{charges.get(verdict.label, 0.0):.0f} Ah"] if charges else []),
            "; ".join(units.words(reason) for reason in verdict.reasons),
        )
        for verdict in made.judged.verdicts[1:]
    ]
    proposal = made.judged.matching
    together = [f"String {number}: {' '.join(labels)}" for number, labels in enumerate(proposal.strings, 1)]
    if proposal.spare:
        together.append(f"Left over: {' '.join(proposal.spare)}")
    return section(
        "Verdict on each block",
        table(heads, rows, numbers=range(2, len(heads) - 1)),
        '<div class="whole"><h3>What belongs together</h3>',
        listed([*together, *proposal.notes] or ["Nothing to put together."]),
        "</div>",
    )


def cautions(made: Round, units: Units) -> str:
    """As they travel with every output."""
    return f'<div class="whole">{section("Cautions", listed(units.words(line) for line in made.cautions))}</div>'


def spoken(verdict: Verdict) -> str:
    """Return the word of a verdict for people."""
    return verdict.word.replace("-", ", ").upper()


def in_words(made: Round) -> str:
    """Return what was done, in one sentence."""
    parts = [f"{made.charging:.0f} hours of charging between {day(made.since)} and {day(made.until)}"]
    if made.charge is not None:
        parts.append(f"{made.charge:.0f} Ah went back in")
    if made.last is not None:
        parts.append(f"held {made.last.hold_hours:.0f} h at the equalising voltage")
    times = len({episode.at for episode in made.episodes})
    if times:
        parts.append(f"charging was stopped for safety {'once' if times == 1 else f'{times} times'}")
    return ", ".join(parts) + "."


def tested(made: Round, units: Units) -> str:
    """The capacity test."""
    test = made.judged.tested
    if test is None:
        return section("Capacity test", paragraph("Not done in this round."))
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
    return section("Capacity test", table((), rows))
