"""Where one phase ends and another begins: every number of this room, with its unit, its why and its source."""

from __future__ import annotations

from typing import NamedTuple


class Threshold(NamedTuple):
    """A number that decides: value, unit, why it is this one, and where it comes from."""

    value: float
    unit: str
    why: str
    source: str = "assumed"


class Thresholds(NamedTuple):
    """The numbers of the phase rules; `THRESHOLDS` holds them."""

    # charger
    least_ceiling: Threshold = Threshold(
        2.25,
        "V",
        "only a charger holds a cell above this for long: rest volts of the strongest acid are below 2.17",
        "Bode 1977",
    )
    stands: Threshold = Threshold(0.006, "V", "spread of ten-minute volts per cell that still stand")
    stands_steps: Threshold = Threshold(1.2, "1", "the same in steps of a coarse voltmeter")
    with_current: Threshold = Threshold(
        0.0015, "V", "in twenty minutes, the same way as the current: the sun's or the load's doing, no charger's"
    )
    with_current_steps: Threshold = Threshold(0.3, "1", "the same in steps of a coarse voltmeter")
    creeps: Threshold = Threshold(
        0.025, "V", "a cable gives back its drop as the current falls: a ceiling seen behind it may creep so much"
    )
    current_moves: Threshold = Threshold(
        8.0,
        "1",
        "at a ceiling current moves by many times the share by which voltage does; at constant power by the same",
    )
    moved: Threshold = Threshold(0.05, "1", "share by which a current has moved and is neither the charger's nor noise")
    compensates: Threshold = Threshold(
        0.006, "V/K", "chargers that compensate lower their voltage by 3 to 5 mV a kelvin", "common practice, no source"
    )
    compensation_seen: Threshold = Threshold(
        8.0, "K", "a charger that compensates goes 24 mV lower over so many: twice what is still at its ceiling"
    )
    low_current: Threshold = Threshold(0.5, "1", "share of the charger's current under which the bank is what limits")
    limited: Threshold = Threshold(0.95, "1", "share of the charger's current from which the charger is what limits")
    meter_gain: Threshold = Threshold(
        0.03, "1", "voltmeters and chargers are off by 1 to 3 %", "common practice, no source"
    )
    cable_drop: Threshold = Threshold(0.08, "V", "cables drop 20 to 80 mV per cell", "common practice, no source")
    ceiling_band: Threshold = Threshold(0.04, "V", "how far one ceiling may be from where another one foretells it")
    raised: Threshold = Threshold(0.02, "V", "above a learned ceiling by so much, the charger was turned up")
    below_ceiling: Threshold = Threshold(
        0.03, "V", "nearer than this a bank is at its ceiling", "common practice, no source"
    )
    strange_pieces: Threshold = Threshold(18, "1", "ten-minute pieces for which a voltage nobody configured must stand")
    pieces: Threshold = Threshold(4, "1", "ten-minute pieces for which any ceiling must stand")
    current_flat: Threshold = Threshold(0.012, "1", "share by which the charger's own current drifts at most")
    current_range: Threshold = Threshold(0.03, "1", "share within which its pieces lie")
    current_half_step: Threshold = Threshold(0.5, "1", "steps of the ammeter that are no drift")
    current_pieces: Threshold = Threshold(9, "1", "ten-minute pieces of a current that replaces one already known")
    current_first: Threshold = Threshold(4, "1", "ten-minute pieces of a current where none is known yet")
    current_fallen: Threshold = Threshold(1.03, "1", "times the present current: the piece before was the charger's")
    current_kept: Threshold = Threshold(0.25, "1", "share of the known current under which a flat one is the bank's")
    current_least: Threshold = Threshold(1.0, "A", "a smaller flat current is a meter's offset")
    current_free: Threshold = Threshold(0.04, "V", "so far below the ceiling the charger's current is what limits")
    no_ceiling: Threshold = Threshold(2.6, "V", "below this where no ceiling is known yet")
    volts_move: Threshold = Threshold(0.012, "V", "and then the voltage must move by so much, else it may be a ceiling")
    # waking
    strong: Threshold = Threshold(
        0.8, "1", "share of the charger's current which no blocking bank takes", "common practice, no source"
    )
    all_but: Threshold = Threshold(0.97, "1", "the same at its ceiling: only all that it can give is a limit there")
    left_floor: Threshold = Threshold(3.0, "1", "times its lowest current: more than a day 12 K warmer makes of a leak")
    comes_round: Threshold = Threshold(
        0.1,
        "1",
        "share of the charger's current from which a bank comes round: 4 A of 50 A still are covered plates",
        "common practice, no source",
    )
    fallen: Threshold = Threshold(
        0.90, "1", "a current this far under its kept peak has passed it", "10 to 15 %: common practice, no source"
    )
    peak_least: Threshold = Threshold(
        0.03,
        "C20/h",
        "blocking banks take 0.2 to 2 % of C20, a living one a finishing rate of 3 to 6 %",
        "common practice, no source",
    )
    grew_least: Threshold = Threshold(
        0.005, "C20/h", "least peak of a current that trebled at one ceiling: a blocked one may be as large, but stays"
    )
    zero_hides: Threshold = Threshold(
        0.3, "A", "of a floor that an ammeter's zero may hide: Hall sensors stray by half"
    )
    tapered: Threshold = Threshold(
        0.5, "1", "share of a late peak to which a current falls that was charge, at the same warmth"
    )
    taken_settled: Threshold = Threshold(
        0.08, "C20", "taken at a ceiling beyond what still flows there: blocked plates take a hundredth in days"
    )
    taken_empty: Threshold = Threshold(
        0.2, "C20", "the same in one that rested empty: the few plates that a dead bank has left take up to a fifth"
    )
    hump: Threshold = Threshold(
        1.3, "1", "times its floor that a small peak rises to, if it was charge: three times a day's scatter of a leak"
    )
    under_floor: Threshold = Threshold(
        0.8, "1", "share of that floor below which it then ends: no cooler day takes a leak there"
    )
    taken_free: Threshold = Threshold(
        0.05, "C20", "charge taken below the ceiling in one run: a blocking bank is at it"
    )
    returned: Threshold = Threshold(0.5, "C20", "charge after which a bank is awake", "common practice, no source")
    settles: Threshold = Threshold(
        5400.0, "s", "a rested bank first takes back what leaked away: no peak, and no growth"
    )
    charged_least: Threshold = Threshold(
        0.008, "C20/h", "a full bank begins its fall at the ceiling from a finishing current"
    )
    charged_fall: Threshold = Threshold(
        0.80, "1", "and falls to this share without a rise: a blocking one stays or climbs"
    )
    charged_pieces: Threshold = Threshold(6, "1", "ten-minute pieces of that fall")
    charged_long: Threshold = Threshold(
        12, "1", "such pieces without a rise, in a bank that rested full: nothing is left in it that could block"
    )
    surface: Threshold = Threshold(1800.0, "s", "in which a rested surface fills: nothing is held so soon")
    rested_charged: Threshold = Threshold(2.05, "V", "acid of a bank that is half charged at least (1.19)", "Source 3")
    rested_full: Threshold = Threshold(
        2.10, "V", "acid of a bank that rested full (1.26): no sulfate is missing from it that could block", "Source 3"
    )
    rests_most: Threshold = Threshold(
        2.15, "V", "no sound cell rests higher: what stands above was charged just now", "common practice, no source"
    )
    woken_gassing: Threshold = Threshold(0.05, "C20/h", "a current once taken by a bank that may have been empty")
    owed_lost: Threshold = Threshold(0.6, "1", "share of the charger's current under which time owed is forfeited")
    charged_kept: Threshold = Threshold(0.95, "1", "share of its last current below which none of that fall may dip")
    charged_scatter: Threshold = Threshold(
        1.03, "1", "times the piece before: more is a rise and no scatter of a meter"
    )
    filling_least: Threshold = Threshold(
        0.1, "C20/h", "current that a bank which rested empty takes if it fills at all"
    )
    # whether it charges, minute by minute
    flows_least: Threshold = Threshold(0.8, "A", "less than this is a meter's offset", "common practice, no source")
    flows_share: Threshold = Threshold(0.004, "C20/h", "and less than this is a leak")
    flows_steps: Threshold = Threshold(1.2, "1", "and less than so many steps of the ammeter is one flickering digit")
    faint: Threshold = Threshold(2.5, "1", "times that least current, under which a current is faint")
    faint_seconds: Threshold = Threshold(180.0, "s", "a faint current after a stop must last so long to be believed")
    held_under: Threshold = Threshold(
        0.04, "V", "below its ceiling, or its last minute, and still kept up by a charger"
    )
    held_alone: Threshold = Threshold(2.30, "V", "kept up by a charger where no ceiling has been learned")
    held_blind: Threshold = Threshold(2.22, "V", "the same where nobody measures current; rest volts are below 2.17")
    off_seconds: Threshold = Threshold(120.0, "s", "without charge for so long, a round is interrupted")
    stay_lost: Threshold = Threshold(300.0, "s", "without charge for so long, a stay at the equalising voltage is over")
    zero_weight: Threshold = Threshold(0.1, "1", "weight of one minute off charge in the ammeter's learned zero")
    zero_first: Threshold = Threshold(0.3, "1", "the same before the charger is first on, when nobody knows it yet")
    zero_moves: Threshold = Threshold(
        0.2, "A", "by which one ammeter's zero wanders in a round with the warmth: more is a load that draws"
    )
    first_minutes: Threshold = Threshold(180.0, "s", "of charging that are a mixture of before and after: not smoothed")
    smoothed: Threshold = Threshold(240.0, "s", "time constant of a minute's volts and amps")
    sign_doubted: Threshold = Threshold(4.0, "1", "times a meter's offset below zero before its sign is doubted")
    # what a meter cannot show
    reversed_seconds: Threshold = Threshold(
        600.0, "s", "negative current for so long at a voltage only a charger holds"
    )
    offset_seen: Threshold = Threshold(-0.15, "A", "a mean below zero at a charger's voltage is the meter's offset")
    # hold
    hold_band: Threshold = Threshold(
        0.03, "V", "below the equalising voltage and still held", "common practice, no source"
    )
    stands_below: Threshold = Threshold(
        0.012, "V", "below a ceiling that has been seen and still at it: chargers regulate within half a percent"
    )
    stands_noise: Threshold = Threshold(2.0, "1", "times the voltmeter's noise, and still at it")
    tail_seconds: Threshold = Threshold(900.0, "s", "under the tail for so long", "common practice, no source")
    tail_steps: Threshold = Threshold(
        0.5,
        "1",
        "steps of the ammeter by which it may show too little: in doubt the hold begins later",
        "common practice, no source",
    )
    tail_gain: Threshold = Threshold(
        0.01,
        "1",
        "share by which a good ammeter may show too little: in doubt the hold begins later",
        "common practice, no source",
    )
    zero_most: Threshold = Threshold(
        -0.6, "A", "Hall sensors stray by half an ampere; more than that flows", "common practice, no source"
    )
    flat_after: Threshold = Threshold(
        36000.0, "s", "of uninterrupted charging before a flat current counts", "common practice, no source"
    )
    flat_within: Threshold = Threshold(0.05, "1", "steady over four hours", "common practice, no source")
    flat_noise: Threshold = Threshold(
        4.0, "1", "range of 24 pieces of pure noise, in standard deviations (normal: 3.9)"
    )
    flat_seconds: Threshold = Threshold(1800.0, "s", "seen flat for so long: noise makes it so for a moment")
    flat_tails: Threshold = Threshold(1.6, "1", "times the tail a flat current may be", "common practice, no source")
    rising: Threshold = Threshold(0.97, "1", "share of its peak from which a waking current still rises, not tapers")
    tail_share: Threshold = Threshold(
        0.03, "C20/h", "the tail where the owner sets none: 0.5 to 3 % at the end", "common practice, no source"
    )
    revoked: Threshold = Threshold(
        1.08, "1", "times its entry from which a flat hold was none; the flat rule's 5 % and a little"
    )
    revoked_peak: Threshold = Threshold(
        1.5, "1", "times its peak, or its current under the tail, from which a hold was none: weather explains less"
    )
    revoked_seconds: Threshold = Threshold(2400.0, "s", "for so long")
    folded: Threshold = Threshold(
        0.10, "V", "below the ceiling with the current gone: the charger has folded back by itself"
    )
    nearly_held: Threshold = Threshold(
        0.95, "1", "share of the hold after which a charger's own end is its end", "common practice, no source"
    )
    nearly_there: Threshold = Threshold(
        0.006, "V", "so near the equalising voltage, as near as a voltage that stands, a charger at its limit is at it"
    )
    filling_pieces: Threshold = Threshold(4, "1", "ten-minute pieces, half an hour from the first to the last")
    filling_rise: Threshold = Threshold(
        0.003, "V", "half of what still stands, in that half hour: slower than that, the ceiling is near enough"
    )
    all_but_held: Threshold = Threshold(0.98, "1", "share of the hold after which ten minutes off are its end")
    ended_off: Threshold = Threshold(1800.0, "s", "for which the charger must then be off, or back at a float voltage")
    long_stop: Threshold = Threshold(3600.0, "s", "without charge, after which a run of the charger is over")
    as_before: Threshold = Threshold(
        0.8, "1", "share of the run before a long stop, after which another stop is expected: days and tanks are alike"
    )
    # a bank that has stopped responding
    growth_least: Threshold = Threshold(0.0005, "C20/h", "a smaller rise of the current is no growth")
    growth_steps: Threshold = Threshold(0.6, "1", "and none is smaller than so many steps of the ammeter")
    growth_pieces: Threshold = Threshold(18, "1", "latest ten-minute pieces at the ceiling whose mean is followed")
    growth_first: Threshold = Threshold(6, "1", "such pieces before growth is judged at all")
    blocked_share: Threshold = Threshold(0.15, "1", "share of the charger's current under which a bank is blocked")
    floor_after: Threshold = Threshold(
        1200.0, "s", "blocked for so long, its lowest current is a floor and no settling"
    )
    keeps: Threshold = Threshold(0.97, "1", "share of an earlier current that has not fallen: 3 % is a meter's scatter")
    hour_pieces: Threshold = Threshold(7, "1", "ten-minute pieces whose ends lie an hour apart")
    unseen_pieces: Threshold = Threshold(6, "1", "latest ten-minute pieces whose mean shows where a meter's zero is")
    takes_charge: Threshold = Threshold(0.02, "C20/h", "under this current a low voltage says nothing about a cell")
    low_returned: Threshold = Threshold(0.15, "C20", "charge before which a low voltage says nothing about a cell")
    low_returned_most: Threshold = Threshold(0.5, "C20", "charge up to which the acid's voltage is followed")
    hogs: Threshold = Threshold(0.8, "1", "share of the bank's current that one string takes and the others feed")
    hog_least: Threshold = Threshold(1.0, "A", "a smaller current of that string is a meter's offset")
    swallows_below: Threshold = Threshold(2.35, "V", "a full sound bank gasses, and stands above this unless it is hot")
    still_volts: Threshold = Threshold(0.012, "V", "volts per cell that are no movement in a day")
    still_amps: Threshold = Threshold(0.08, "1", "share of the current that is none")
    still_gravity: Threshold = Threshold(
        0.003, "1", "gain of gravity that two readings to the point, by two people, may show where none is"
    )


THRESHOLDS = Thresholds()
