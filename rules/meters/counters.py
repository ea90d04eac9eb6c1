"""Ampere-hours, energy, water and hours: trapezoids between samples, bounded by the gap rule.

A gap longer than the meter's silence limit adds nothing and is kept as unknown time: what nobody measured is neither
charge nor rest.
"""

from __future__ import annotations

from typing import NamedTuple

from rules.bank import Bank

#: Up to this a current is a meter's offset or a small load [A] (common practice, no source).
FLOWS = 0.2
#: Below this share of the rated capacity (and never under `FLOWS`) a current is no charging (common practice, no
#: source).
CHARGING_SHARE = 0.0025
#: Share of a charging current from which gas stirs the acid [1]; common practice, no source.
STIRS = 0.5
#: Hand readings may be so far apart and still be joined by a straight line [s].
HAND_GAP = 24 * 3600.0


class Counters(NamedTuple):
    """What has gone in since the round began.

    Attributes
    ----------
    charge : float
        Returned [Ah].
    discharge : float
        Drawn [Ah]; goes on from round to round, since acid that was read before it is weaker now.
    energy : float
        Returned [kWh].
    gassing : float
        Part of all charge that split water, per string [Ah]; goes on from round to round, as lost water does.
    charging_seconds, unknown_seconds : float
        Time with current flowing in, and time nobody measured [s].
    string_charge : tuple of float
        Returned per string [Ah]; equal shares where strings are not measured.
    phase_seconds : dict of float
        Time per phase [s].
    current, current_at : float
        The newest current [A] and when it was true [s since the epoch]; 0 = never.
    estimated : bool
        That current came from power or the AC side.
    by_hand : bool
        That current was read by a person.
    zero : float
        Calibrated meter zero on top of the configured one [A].
    voltage : float
        The newest bank voltage [V], for energy.
    zero_before : float or None
        What `zero` was before it was last taken, to undo it [A]; None = never taken, or undone.
    settled_seconds : float
        Charging time already written to the blocks [s].
    gassing_seconds : float
        Time in which most of the current gassed, which stirs the acid [s]; goes on from round to round.
    """

    voltage: float = 0.0
    charge: float = 0.0
    discharge: float = 0.0
    energy: float = 0.0
    gassing: float = 0.0
    charging_seconds: float = 0.0
    gassing_seconds: float = 0.0
    string_charge: tuple[float, ...] = ()
    current: float = 0.0
    current_at: float = 0.0
    estimated: bool = False
    by_hand: bool = False
    unknown_seconds: float = 0.0
    phase_seconds: dict[str, float] = {}
    zero: float = 0.0
    settled_seconds: float = 0.0
    zero_before: float | None = None


#: What a sample of the current changes stands before the rest.
_REST = Counters._fields.index("by_hand") + 1


class Sample(NamedTuple):
    """One moment's current into the bank.

    Attributes
    ----------
    at : float
        When it was true [s since the epoch].
    current : float
        Positive = charging [A].
    gap : float
        Longest time that may be bridged from the sample before [s].
    shares : tuple of float
        Share of each string [1]; empty = equal.
    gassing_share : float
        Part of the current that splits water [1].
    idle : bool
        Nothing charges: a little current is the meter's offset, shown and not counted.
    """

    at: float
    current: float
    gap: float
    strings: int
    shares: tuple[float, ...] = ()
    gassing_share: float = 0.0
    estimated: bool = False
    by_hand: bool = False
    idle: bool = False


#: A larger current is no error of a meter's zero [C20/h] (common practice, no source).
LARGEST_ZERO = 0.02


def charging_threshold(capacity: float) -> float:
    """Return the current below which the bank counts as not charging [A], for a rated capacity [Ah].

    Examples
    --------
    >>> charging_threshold(200.0)
    0.5
    """
    return max(FLOWS, CHARGING_SHARE * capacity)


def integrate(counters: Counters, sample: Sample, capacity: float) -> Counters:
    """Add the trapezoid from the last current to this one.

    Parameters
    ----------
    counters : Counters
        So far.
    sample : Sample
        The new current [A].
    capacity : float
        Rated capacity of the bank [Ah], for what counts as charging.

    Returns
    -------
    Counters
        With the new sample as the newest.

    Examples
    --------
    Ten amps for six minutes are one ampere-hour:

    >>> start = integrate(Counters(voltage=25.0), Sample(1000.0, 10.0, 600.0, 1), 200.0)
    >>> round(integrate(start, Sample(1360.0, 10.0, 600.0, 1), 200.0).charge, 6)
    1.0
    """
    at, current, last_at = sample.at, sample.current, counters.current_at
    elapsed = at - last_at
    if last_at == 0.0 or elapsed <= 0.0 or elapsed > sample.gap:
        unknown = elapsed if last_at and elapsed > sample.gap else 0.0
        return counters._replace(
            current=current,
            current_at=max(at, last_at),
            estimated=sample.estimated,
            by_hand=sample.by_hand,
            unknown_seconds=counters.unknown_seconds + unknown,
        )
    mean = 0.5 * (current + counters.current)
    hours = elapsed / 3600.0
    charge, discharge, energy, gassing = counters.charge, counters.discharge, counters.energy, counters.gassing
    charging_seconds, string_charge = counters.charging_seconds, counters.string_charge
    gassing_seconds = counters.gassing_seconds
    if mean > 0.0 and sample.idle:
        pass
    elif mean > 0.0:
        added, strings, shares, gases = mean * hours, sample.strings, sample.shares, sample.gassing_share
        charge += added
        energy += added * counters.voltage / 1000.0
        gassing += added * gases / strings
        if len(string_charge) != strings:
            string_charge = (0.0,) * strings
        if shares:
            string_charge = tuple([before + added * share for before, share in zip(string_charge, shares, strict=True)])
        else:
            equal = added / strings
            string_charge = tuple([before + equal for before in string_charge])
        if mean >= FLOWS and mean >= CHARGING_SHARE * capacity:
            charging_seconds += elapsed
            gassing_seconds += elapsed if gases > STIRS else 0.0
    else:
        discharge -= mean * hours
    changed = (
        counters.voltage,
        charge,
        discharge,
        energy,
        gassing,
        charging_seconds,
        gassing_seconds,
        string_charge,
        current,
        at,
        sample.estimated,
        sample.by_hand,
    )
    return tuple.__new__(Counters, changed + counters[_REST:])


def with_voltage(counters: Counters, volts: float) -> Counters:
    """Return the same counters with a new bank voltage [V]; built by hand, because it happens with every sample."""
    return tuple.__new__(Counters, (volts,) + counters[1:])  # noqa: RUF005  (a third faster)


def up_to(counters: Counters, at: float, bank: Bank, share: float = 0.0) -> Counters:
    """Count charge and gas of what was read by hand up to now: it stands until somebody reads again.

    Parameters
    ----------
    counters : Counters
        So far; those of a meter are up to date already.
    at : float
        Now [s since the epoch].
    bank : Bank
        As it was joined meanwhile.
    share : float
        Part of the current that splits water [1].

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> by_hand = Counters(current=10.0, current_at=1000.0, by_hand=True, voltage=25.0)
    >>> round(up_to(by_hand, 4600.0, Bank("north", ((Block("N1", 12, 200.0),),))).charge, 6)
    10.0
    """
    if not counters.by_hand:
        return counters
    last = Sample(at, counters.current, HAND_GAP, len(bank.strings), (), share, counters.estimated, True)
    return integrate(counters, last, bank.capacity)


def restarted(counters: Counters) -> Counters:
    """Return the counters at the start of a new round.

    They stand at zero but for the newest current, the meter's zero, the charge drawn, and the gassing charge, since the
    water it cost is still missing from the cells.
    """
    return Counters(
        discharge=counters.discharge,
        gassing=counters.gassing,
        gassing_seconds=counters.gassing_seconds,
        current=counters.current,
        current_at=counters.current_at,
        estimated=counters.estimated,
        by_hand=counters.by_hand,
        zero=counters.zero,
        zero_before=counters.zero_before,
        voltage=counters.voltage,
    )
