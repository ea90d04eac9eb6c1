"""What the interlock remembers, and what it may judge by."""

from __future__ import annotations

from typing import NamedTuple

from rules.events import Event, Order

Outcomes = list[Order | Event]
#: The newest value of a meter passes a limit: no trip yet, but nothing closes the relay on it.
OVER_NOW = "reading-over-limit"

#: Whether what happens is kept on the disk: a write has reached its surface since this start; none has yet; none does
#: any more. The permit needs the first, because a trip or an `abandon` that nobody keeps is undone by the next start.
PROVED, UNPROVED, DEGRADED = "proved", "unproved", "degraded"


class Latch(NamedTuple):
    """A hazard that was seen: when, the worst of it since, and where the limit was at that moment.

    `again_at` is when somebody last noted such a danger once more, or current last flowed in beside it
    [s since the epoch]; 0 = neither was.
    """

    at: float
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    reason: str = ""
    again_at: float = 0.0


class Finding(NamedTuple):
    """Something that is so now: value and limit in `unit`, and the reason in words."""

    value: float | None = None
    limit: float | None = None
    unit: str = ""
    reason: str = ""


#: Parts of a proof test in which the relay is told to be closed; in those of `NOT_REPEATED` it is told once only, to
#: see its own auto-off open it.
NOT_REPEATED = frozenset({"closing-once", "auto-off"})
TOLD_CLOSED = NOT_REPEATED | {"closing"}


class OwnOff(NamedTuple):
    """The relay's own auto-off, as it was last tried.

    Attributes
    ----------
    at : float
        When [s since the epoch]; 0 = never, it is as the cabin file says.
    seconds : float
        It opened by itself so long after its only order to close [s]; 0 = it was not seen to.
    written : float
        What the cabin file said then [s].
    why : str
        It was not seen to open by itself: what that means, and what to do.
    """

    at: float = 0.0
    seconds: float = 0.0
    written: float = 0.0
    why: str = ""


class Proof(NamedTuple):
    """The last proof test of the real path.

    Attributes
    ----------
    at : float
        When it ended [s since the epoch]; 0 = never.
    passed : bool
        The relay opened as ordered.
    seconds : float
        From order to evidence [s].
    current_proved : bool
        The current was seen to fall as well.
    note : str
        What was seen.
    kind : str
        What proves it: ``state`` (the relay reported open), ``current`` (it fell), ``person`` (who stood beside it).
    by : str
        That person's name.
    not_shown : str
        What it did not show; with the current among it the proof is a promise, due again at the first ampere.
    own : OwnOff
        The relay's own auto-off, as it was last tried, in this test or in one before it.
    """

    at: float = 0.0
    passed: bool = False
    seconds: float = 0.0
    current_proved: bool = False
    note: str = ""
    kind: str = ""
    by: str = ""
    not_shown: str = ""
    own: OwnOff = OwnOff()


class Excused(NamedTuple):
    """A meter whose silence a person excused: its topic, by which another of the same name is known for another."""

    source: str
    silent: bool = False


class Interlock(NamedTuple):
    """State of the interlock.

    Attributes
    ----------
    latched : dict of Latch
        Hazards seen and not yet reset.
    started : bool
        A person started the round.
    needs_resume : bool
        A latch was reset, a proof test failed, or somebody noted a danger at the posts; a second act is still missing.
    noted : str
        What was noted at the posts that this act answers; it may be noted gone since.
    exhausted : bool
        The permit came back too often today; a person must act.
    allowed : bool
        The last order was `allow`.
    order_at : float
        When the last change of order left [s since the epoch]; 0 = none yet.
    repeated_at : float
        When that order was last repeated [s since the epoch].
    withdrawn_for : str
        Why the permit was last withdrawn.
    returns : tuple of float
        When it came back by itself during the last day [s since the epoch].
    resumes : int
        Automatic resumes used in this round.
    current_before : float
        Current when the cut was ordered [A].
    confirmed_at : float
        When something outside showed the last cut [s since the epoch]; 0 = not yet.
    bypasses : dict of float
        Meter -> until when its silence is excused [s since the epoch].
    excused : dict of Excused
        The same meters: which each was, and whether it has been silent since.
    checklist_by : str
        Who confirmed the start checklist for this round and as the blocks are joined; empty = to be confirmed.
    checklist_at : float
        When [s since the epoch].
    proof : Proof
        The last proof test.
    proving : str
        "" or which part of a proof test runs: closing-once, auto-off (the relay's own is tried), closing, opening,
        witness (it waits for a person's word).
    proving_since : float
        [s since the epoch].
    proving_beside : bool
        Other banks behind the same relay are tried with this one: what one of them sees is known of all.
    proving_by_itself : bool
        Nobody asked for the test that runs.
    flows_since : float
        Since when a current flows that could prove the relay [s since the epoch]; 0 = none does.
    tried_at : float
        When a test was last tried that nobody asked for [s since the epoch].
    allowed_at : float
        When the last `allow` left [s since the epoch]; a relay that reported open before it may be closed now.
    closed_at : float
        When the relay was last seen to close without a permit [s since the epoch]; 0 = never.
    storage : str
        `PROVED`, `UNPROVED` or `DEGRADED`. A memory that no bridge has booted (a replay) keeps nothing and needs
        nothing kept.
    lost : str
        Why nobody knows what happened before this start; a person starts or resumes.
    closings : int
        How often the relay was ordered to close, by whatever cause.
    seen_closed : bool
        The relay has reported closed since the last `allow`.
    opened_by_hand : float
        When somebody was seen to open the relay although it might be closed [s since the epoch]; 0 = nobody.
    opened_for : str
        What else may have opened it since the last `allow`; judged at the next look.
    held_by : str
        Another bank behind the same relay that holds it open.
    link, link_why : str
        What stands between the bridge and the relay now, as a flag, and in words.
    kept_order_at, kept_order : float, str
        When somebody's retained order was last found on the relay's topic [s since the epoch], and what it was.
    kept_closes : bool
        Another than to open: a relay that reconnects may close by it.
    closed_report_at : float
        The last report of closed that was answered or counted while the relay is to be open [s since the epoch].
    extended_until : float
        Until when a person let this round go on beyond its days or its charge [s since the epoch]; 0 = nobody did.
    sign_doubted : float
        When the current was found to have the wrong sign [s since the epoch]; 0 = it is believed.
    conditions : dict of str
        What the bridge says of itself: flag -> reason.
    """

    latched: dict[str, Latch] = {}
    started: bool = False
    needs_resume: bool = False
    noted: str = ""
    exhausted: bool = False
    allowed: bool = False
    order_at: float = 0.0
    repeated_at: float = 0.0
    withdrawn_for: str = ""
    returns: tuple[float, ...] = ()
    resumes: int = 0
    current_before: float = 0.0
    confirmed_at: float = 0.0
    bypasses: dict[str, float] = {}
    checklist_by: str = ""
    proof: Proof = Proof()
    proving: str = ""
    proving_since: float = 0.0
    proving_beside: bool = False
    allowed_at: float = 0.0
    closed_at: float = 0.0
    lost: str = ""
    conditions: dict[str, str] = {}
    storage: str = PROVED
    closings: int = 0
    seen_closed: bool = False
    opened_by_hand: float = 0.0
    opened_for: str = ""
    held_by: str = ""
    link: str = ""
    link_why: str = ""
    kept_order_at: float = 0.0
    kept_order: str = ""
    kept_closes: bool = False
    closed_report_at: float = 0.0
    proving_by_itself: bool = False
    flows_since: float = 0.0
    tried_at: float = 0.0
    checklist_at: float = 0.0
    extended_until: float = 0.0
    sign_doubted: float = 0.0
    excused: dict[str, Excused] = {}


class Seen(NamedTuple):
    """What the interlock may judge by at this moment.

    Attributes
    ----------
    current : float or None
        Fresh current [A].
    current_at : float
        When it was true [s since the epoch].
    current_step : float
        Smallest step of its meter [A].
    relay_closed : bool or None
        As last reported.
    relay_at : float
        When [s since the epoch]; 0 where that report is of unknown age.
    temperature : float or None
        Hottest probe [degC].
    off_at : float
        When meters last showed that the charger is certainly off: no watts at its outlet, or no amps into a bank that
        stands at volts of rest [s since the epoch]; 0 = they do not.
    """

    current: float | None = None
    current_at: float = 0.0
    current_step: float = 0.0
    relay_closed: bool | None = None
    relay_at: float = 0.0
    temperature: float | None = None
    off_at: float = 0.0
