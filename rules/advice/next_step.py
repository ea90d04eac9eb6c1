"""What a person does next: one imperative line, then a list; made from what was seen, worst first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from rules.advice.charger_now import ChargerNow
from rules.advice.flag_words import (
    AT_THE_POSTS,
    AT_THE_WALL,
    FIRST_AID,
    FLAGS,
    NORMAL_COURSE,
    OUTSIDE,
    less_amps,
    lines,
    may_wait,
    switch_off,
    switch_place,
)
from rules.advice.phase_words import BLIND, phase_words
from rules.advice.situation import Situation


class Steps(NamedTuple):
    """One imperative line, and what comes after it."""

    first: str
    then: tuple[str, ...] = ()


#: After these nobody is told to be patient, though the charger may stay on.
_NO_PATIENCE = frozenset({"string-over-limit", "hydrogen-high"})
#: These wait for a person's resume.
_RESUMED = frozenset({"resume-due", "permit-exhausted", "opened-by-hand"})
#: Chores that matter while the charger must stay off.
_STILL_SAID = frozenset({"closed-while-tripped", "other-source", "relay-unconfirmed", "test-end", "charger-still-high"})
#: The same, and one that asks for no switching off now: by it a charger may come on that must stay off.
_SAID_WHILE_OFF = _STILL_SAID | {"retained-close", "string-over-limit"}
#: Longest list behind the first line; every flag is shown with its own words beside it.
MOST_LINES = 5
#: What tripped is no longer there, and the charger is off.
GONE = "Look at the bank and put the cause right, then give `revival reset`: what tripped it is no longer seen."
AIRED = (
    "Look from the door first, then find the block that smelled, smoked, sparked or was hot and take it out, it never "
    "goes back on charge; then give `revival reset`: the room had its hour of air."
)
JOINT_AIRED = (
    "Keep the charger off and see that the connection has cooled, clean and tighten it or replace what melted, note "
    'that it is done ("A2 post tightened") with `revival record seen`, then give `revival reset`: the room had its '
    "hour of air."
)
CHARGER_AIRED = (
    "Look from the door first, keep the charger off and its plug pulled until it has cooled, its air holes are free "
    "and nothing on it is melted or scorched, turn its amps down, then give `revival reset`: the room had its hour of "
    "air."
)
VENTS_AIRED = (
    "Look from the door first, with goggles and gloves and the charger off wipe the acid off the tops, read and note "
    "the level of every cell, add nothing where it stands at or over its mark, turn the charger's amps down, then give "
    "`revival reset`: the room had its hour of air."
)
_AIRED_OUTSIDE = {"connection": JOINT_AIRED, "charger": CHARGER_AIRED, "vents": VENTS_AIRED}
RETRACTED_AIRED = (
    "Look from the door first, and where nothing smells, smokes, sparks, hisses or is hot give `revival reset`: what "
    "was noted was taken back, and the room had its hour of air."
)
#: The journal was lost: what is given once somebody has looked, for a round under way or one that begins.
LOOKED = (
    "Look at the bank, and at the disk that the journal is on, then give `revival {act}`: what happened before is not "
    "known."
)
#: While the relay is being proved: nothing else is to be typed but a person's word, where nothing else can show it.
PROVING = "Keep clear of the posts and wait: the relay is being proved, and the charger may run until the test ends."
WITNESS = (
    "Say who heard the relay and saw the charger go out, with `revival witness --name YOU`: nothing else here can show "
    "it, and after three minutes the test has failed."
)
#: Where the relay was not seen to open by itself: which proof is taken, and the other way out with what it costs.
OWN_OFF = (
    "Set the auto-off in the relay itself and measure it with `revival prove --auto-off`, clear of the posts: it "
    "was not seen to open by itself, and a plain proof is refused. Where it has none, `revival setup --auto-off none`, "
    "start the bridge anew and prove it then: nothing opens it once broker or network are gone, and the charger runs "
    "on until somebody comes."
)
#: Chores that ask for the charger to be off, wherever they stand in the list: then nobody is told to let it run.
_ASK_OFF = AT_THE_POSTS | _STILL_SAID | _NO_PATIENCE


def advice(situation: Situation, flags: Sequence[str]) -> Steps:
    """Say what to do next: the worst flag first, else what the phase asks for; then the rest as a list.

    While a hazard, a withheld permit or a blocked start stands, nothing is said that belongs to charging on. A chore
    is followed by the phase's sentence, so that a due hydrometer reading never hides that falling volts are a good
    sign.

    Parameters
    ----------
    situation : Situation
        What is known.
    flags : sequence of str
        Raised flags, keys of `FLAGS`, any order.

    Returns
    -------
    Steps
        For people.

    Raises
    ------
    KeyError
        Unknown phase or flag.

    Examples
    --------
    >>> on = ChargerNow("closed", "on", "current", flows=True, metered=True, told="allow")
    >>> steps = advice(Situation("reviving", woken=True, started=True, now=on), ["gravity-due"])
    >>> steps.first[:4], "falling volts are encouraging" in steps.then[-1]
    ('Read', True)

    Where current flows on after a cut nothing stands in front of how it is stopped:

    >>> advice(Situation("resting", now=ChargerNow("open", "off", "relay", told="cut", flows=True)), ["bypassed"]).first
    'Switch off at the wall whatever still feeds the bank, the charger first, for the relay is open and current still \
flows.'
    """
    steps = _without_first_aid(situation, flags)
    return Steps(FIRST_AID, (steps.first, *steps.then)[:MOST_LINES]) if situation.now.hurt else steps


def _without_first_aid(situation: Situation, flags: Sequence[str]) -> Steps:
    """Say the same, where nobody is hurt."""
    now = situation.now
    if "fire-noted" in flags:  # nothing stands in front of it or beside it
        first, *then = lines("fire-noted", now)
        return Steps(first, tuple(then))
    steps = _proved_as_it_may(_steps(situation, flags), situation.hangs)
    flows_on = now.told == "cut" and now.state == "off" and now.flows and not situation.proving
    if not flows_on or steps.first.startswith((switch_off(now, AT_THE_WALL), switch_off(now, OUTSIDE))):
        return steps
    return Steps(f"{switch_off(now, switch_place(now))}.", (steps.first, *steps.then)[:MOST_LINES])


def _proved_as_it_may(steps: Steps, hangs: bool) -> Steps:
    """Return the steps with the proof that would be taken: a plain one is refused of a relay that `hangs`."""
    if not hangs:
        return steps
    plain = FLAGS["proof-test-missing"].action
    first, *then = [OWN_OFF if line == plain else line for line in (steps.first, *steps.then)]
    return Steps(first, tuple(then))


def _steps(situation: Situation, flags: Sequence[str]) -> Steps:
    """Say the same, where no current flows that was cut."""
    now = situation.now
    words = phase_words(situation)
    ordered = sorted(flags, key=lambda name: FLAGS[name].severity_rank)
    ordered = [name for name in ordered if name not in NORMAL_COURSE]
    for needed in ("proof-test-missing", "checklist-open", "level-wrong"):
        if needed in ordered and not _RESUMED.isdisjoint(ordered):
            ordered.remove(needed)  # no resume is taken before it
            ordered.insert(min(ordered.index(name) for name in _RESUMED.intersection(ordered)), needed)
    if situation.proving and not any(FLAGS[name].kind == "hazard" for name in ordered):
        return Steps(WITNESS if situation.proving == "witness" else PROVING)
    if situation.blind == "now" and all(_charges_on(name, now) for name in ordered):
        said = [lines(name, now)[0] for name in ordered if name != "heat-unwatched"]
        return Steps(BLIND, tuple(said[:MOST_LINES]))
    # What can wait until nothing charges never hides what the phase asks for: it stands last.
    waiting = [lines(name, now)[0] for name in ordered if may_wait(name, now)]
    ordered = [name for name in ordered if not may_wait(name, now)]
    if waiting and all(_charges_on(name, now) for name in ordered):
        steps = _worst_first(situation, ordered, words)
        return Steps(steps.first, (*steps.then[: MOST_LINES - 1], *waiting))
    return _worst_first(situation, ordered, words)


def _worst_first(situation: Situation, ordered: Sequence[str], words: str) -> Steps:
    """Say of flags, the worst first, what they ask for, and behind them what the phase does."""
    now = situation.now
    if not ordered:
        return Steps(words)
    worst, *others = ordered
    first, *then = lines(worst, now)
    if situation.gone and FLAGS[worst].kind == "hazard" and now.dead:
        # Who was sent out of the room is not sent out of it again beside being sent in.
        if worst != "danger-noted":
            first, then = GONE, [first, *then]
        elif not now.out_until:
            first = RETRACTED_AIRED if now.taken_back else _AIRED_OUTSIDE.get(now.outside, AIRED)
    if worst == "journal-lost" and situation.after_look and first == FLAGS[worst].action:
        first = LOOKED.format(act=situation.after_look)
    if _charges_on(worst, now):
        then += [lines(name, now)[0] for name in others]
        runs_on = (now.dead or _ASK_OFF.isdisjoint(ordered)) and words != first
        # What a flag says of ceiling or posts the phase does not say again.
        told = {"charger-limit-low": "absorbing", "after-round": "finished"}
        runs_on = runs_on and not any(name in ordered for name, phase in told.items() if phase == situation.phase)
        return Steps(first, (*then[: MOST_LINES - 1], words) if runs_on else tuple(then[:MOST_LINES]))
    then += [less_amps(now) if name == "string-over-limit" else lines(name, now)[-1 if name == "relay-disobeys" else 0]
             for name in others if FLAGS[name].kind != "chore" or name in _SAID_WHILE_OFF]  # fmt: skip
    return Steps(first, tuple(dict.fromkeys(line for line in then if line != first))[:MOST_LINES])


def _charges_on(name: str, now: ChargerNow) -> bool:
    """Tell whether it is charged on beside a flag: a chore, or one of the permit although the permit stands."""
    return FLAGS[name].kind == "chore" or (FLAGS[name].kind == "permit" and now.told == "allow")
