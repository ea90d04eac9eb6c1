"""What the words are made from: all that is known of a bank, its charger and its round when somebody asks."""

from __future__ import annotations

from typing import NamedTuple

from rules.advice.charger_now import ChargerNow


class Contradiction(NamedTuple):
    """Gravity of the weakest cell [1], volts per cell before the charge, and what such acid makes at rest [V]."""

    weakest: float
    rested: float
    expected: float


class Situation(NamedTuple):
    """What the words are made from.

    Attributes
    ----------
    phase : str
        A key of `PHASE_ADVICE`.
    interrupted : bool
        Charging stands still (generator off, power cut, relay open), or nobody can see that it goes on.
    woken : bool
        The bank has taken real charge in this round.
    started : bool
        A round was started; it stays ``idle`` until current flows.
    hold_complete : bool
        The hold was held to its end, and not finished early.
    hold_left : float
        Hold hours that are missing [h].
    now : ChargerNow
        What is known of the charger.
    doubt : str
        Why nothing may be turned up and nobody may be told to wait: warm, suspect, unseen, or empty.
    unseen : tuple of str
        Quantities that nobody knows now.
    gone : bool
        It tripped, and what tripped it is no longer seen: a reset would be taken.
    rest_ends, at, gravity_at : float
        From when on a resting bank tells the truth, now, and when gravity was last read [s since the epoch].
    blocks : bool
        The meters show covered plates: volts that only a charger holds, at its ceiling, and hardly any amps.
    checked : bool
        Somebody confirmed the start checklist for this round.
    seen_to : bool
        The round is over, and somebody noted something of the bank since.
    proving : str
        What a running proof test waits for: closing, opening or witness; empty where none runs.
    after_look : str
        The act that would be taken once a person has looked: reset, resume or start; empty where none would.
    full : float or None
        Gravity of the weakest cell, where rested readings of every cell show a charged bank [1].
    nearly : float or None
        The same, where they show one that is nearly charged [1].
    against : Contradiction or None
        Gravities of a charged bank that rested at volts which are not.
    hangs : bool
        The relay was not seen to open by its own auto-off, so no plain proof test is taken.
    charged_for : float
        How long a bank has been charged of late without a long stop [s].
    given_up : bool
        A round was given up, and what charges now is the same charge still.
    no_ammeter : bool
        No meter of the cabin file tells the current.
    unheard : tuple of str
        Thermometers of the cabin file that were not heard since the bridge came up.
    blind : str
        Nothing shows volts, amps or heat of a bank whose charge may go on: ``now``, or ``just-up`` while its meters may
        still speak after the bridge came up; else empty.
    """

    phase: str
    interrupted: bool = False
    woken: bool = False
    started: bool = False
    hold_complete: bool = True
    hold_left: float = 0.0
    now: ChargerNow = ChargerNow()
    doubt: str = ""
    unseen: tuple[str, ...] = ()
    gone: bool = False
    rest_ends: float = 0.0
    at: float = 0.0
    gravity_at: float = 0.0
    blocks: bool = False
    checked: bool = False
    seen_to: bool = False
    proving: str = ""
    after_look: str = ""
    full: float | None = None
    nearly: float | None = None
    against: Contradiction | None = None
    blind: str = ""
    hangs: bool = False
    charged_for: float = 0.0
    given_up: bool = False
    no_ammeter: bool = False
    unheard: tuple[str, ...] = ()
    proved: str = ""
