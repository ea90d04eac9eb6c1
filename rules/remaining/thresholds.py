"""Every number behind the hours: value, unit, why, and where it comes from."""

from __future__ import annotations

from typing import NamedTuple

from rules.phase import Threshold


class Thresholds(NamedTuple):
    """The numbers of the estimate; `THRESHOLDS` holds them."""

    finishing_sound: Threshold = Threshold(
        6.0, "h", "3 to 12 h where it was never blocked", "3 to 60 h: common practice, no source"
    )
    finishing_sulfated: Threshold = Threshold(
        10.0,
        "h",
        "the middle where it had to wake, under the 13 h of 3 to 60 h",
        "common practice, no source; simulated families: 6 h",
    )
    finishing_spread: Threshold = Threshold(
        1.0,
        "1",
        "standard deviation of its logarithm: 3 to 60 h are 1.2",
        "common practice, no source; simulated families: 0.9",
    )
    fit_error: Threshold = Threshold(0.06, "1", "by which a current strays from a smooth taper: warmth, cable, noise")
    fit_looks: Threshold = Threshold(4.0, "1", "independent looks that a whole past is worth against a smooth taper")
    kept_apart: Threshold = Threshold(0.06, "1", "points of a taper lie further apart as it grows longer")
    apart_least: Threshold = Threshold(0.4, "h", "and never closer than this")
    settled_run: Threshold = Threshold(3600.0, "s", "current of a run's first hour only puts back what leaked away")
    climbs_anew: Threshold = Threshold(1.25, "1", "over its lowest: more than warmth makes of it; another string wakes")
    looks: Threshold = Threshold(600.0, "s", "a taper of hours is followed anew so often")
    grows: Threshold = Threshold(120.0, "h", "farther ahead no taper is followed")
    learns: Threshold = Threshold(
        0.08, "1", "step of the band for each miss and hit", "source 25: Gibbs and Candes 2021"
    )
    misses: Threshold = Threshold(0.20, "1", "share of misses that an 80 % band should have")
    judged_after: Threshold = Threshold(0.25, "1", "part of the hours foretold after which a prediction is judged")
    widest: Threshold = Threshold(1.2, "1", "most that misses may widen a band, in logarithms")
    narrowest: Threshold = Threshold(0.0, "1", "hits narrow no band below its calibration: they did not earn it there")
    foretold_share: Threshold = Threshold(0.25, "1", "part of that after which the next one is written down")
    of_no_use: Threshold = Threshold(0.4, "1", "share of the charger's current under which charging gets nowhere")
    renewed: Threshold = Threshold(60.0, "s", "the estimate is renewed so often, and at every new phase")
    no_gap: Threshold = Threshold(1800.0, "s", "a longer silence teaches nothing of the charger's day")
    clear_of_top: Threshold = Threshold(0.05, "V", "so far below its ceiling a woken bank shows the charger's source")
    source_over: Threshold = Threshold(18000.0, "s", "over which the source's current is averaged")
    another_charger: Threshold = Threshold(
        1.5, "1", "times the charger's current so far: another charger, of whose source nothing was seen yet"
    )
    after_stop: Threshold = Threshold(1200.0, "s", "of charging after a stop that say little of the bank")
    named_part: Threshold = Threshold(0.05, "h", "shorter parts are not named")
    little_source: Threshold = Threshold(0.85, "1", "share of the charger's current under which its source is the sun")
    goes_up: Threshold = Threshold(1.08, "1", "times the fewest hours so far, and then it is said why")
    goes_up_least: Threshold = Threshold(0.05, "h", "and at least by so much")
    said_for: Threshold = Threshold(7200.0, "s", "it is said for so long")
    just_on: Threshold = Threshold(3600.0, "s", "charging for less than this, it was interrupted of late")
    own_amps: Threshold = Threshold(
        0.9, "1", "share of the charger's current from which the bank's own is reckoned with"
    )
    grown: Threshold = Threshold(1.08, "1", "times the first third of six hours, else nothing grows")
    grown_share: Threshold = Threshold(0.004, "1", "share of the charger's current by which it must have grown")
    grown_from: Threshold = Threshold(0.025, "1", "share of the charger's current from which growth is seen")
    stands_out: Threshold = Threshold(3.0, "1", "standard errors by which growth stands out of a meter's scatter")
    weak: Threshold = Threshold(0.6, "1", "share of the charger's current under which a hold is waited for, not left")
    left_for: Threshold = Threshold(3600.0, "s", "below the ceiling for so long, a hold has been left")
    past_peak: Threshold = Threshold(0.9, "1", "share of its peak under which a reviving bank is past it")
    lifts_not: Threshold = Threshold(
        2.30, "V", "below this a voltage that stands is a blocked bank's, no gassing one's"
    )
    lifts_not_pieces: Threshold = Threshold(13, "1", "ten-minute pieces whose ends lie two hours apart")
    lifts_not_full: Threshold = Threshold(0.9, "1", "share of the charger's current that is all it gives")
    lifts_not_below: Threshold = Threshold(0.05, "V", "and so far from the equalising voltage")
    at_top: Threshold = Threshold(0.06, "V", "below its ceiling, and a waking current is still the bank's own")
    stuck: Threshold = Threshold(21600.0, "s", "without growth for so long, no hours are foretold")
    comes_round: Threshold = Threshold(
        0.3, "1", "share of the charger's current from which a reviving bank comes round"
    )
    pace_from: Threshold = Threshold(2.42, "V", "above this the pace of the voltage tells as much as the charge")
    pace_least: Threshold = Threshold(0.005, "V/h", "a slower pace is noise")
    bulk_pieces: Threshold = Threshold(
        4, "1", "ten-minute pieces of this bulk before its own charge tells the capacity"
    )
    sealed_for: Threshold = Threshold(3600.0, "s", "blocked for longer, it was a sulfated bank")
    rested_low: Threshold = Threshold(2.0, "V", "rested below this, half its charge was gone at least", "Source 3")
    found_flat: Threshold = Threshold(
        1.80, "V", "found below this a cell was empty: its discharge ends at 1.75 V", "source 15; the margin assumed"
    )
    rounds_weigh: Threshold = Threshold(
        8.0, "1", "so many rounds weigh as much as what is known without them", "assumed; simulated families"
    )
    moves_most: Threshold = Threshold(
        0.25,
        "1",
        "share of a part's own spread by which experience moves it at most: a wrong file must not hurt much",
        "simulated families, seeds 0 to 20, each round left out in turn: 0.5 and 1.0 help no more and harm more",
    )
    trusted_first: Threshold = Threshold(0.8, "1", "trust in an experience before a round has told anything", "assumed")
    trusted_most: Threshold = Threshold(0.95, "1", "and however often it was right", "assumed")
    tells_least: Threshold = Threshold(0.3, "h", "a shorter stage says nothing of a ratio: it begins within minutes")
    tells_within: Threshold = Threshold(
        0.3, "1", "spread of one stage's ratio besides that of rounds (logarithm)", "assumed"
    )
    tells_most: Threshold = Threshold(
        12.0, "1", "times for which one stage speaks for or against an experience", "assumed"
    )
    raised_after: Threshold = Threshold(
        3.0, "h", "until somebody, or the charger, goes on to its next voltage: on most chargers in a few hours"
    )
    raised_again: Threshold = Threshold(
        0.4, "1", "the longer nobody came, the longer it may take: hours still to go over hours waited"
    )
    falls_after: Threshold = Threshold(
        1.0, "h", "at the voltage until a current falls by a tenth: the start of a taper of 3 to 60 h"
    )
    falls_again: Threshold = Threshold(0.2, "1", "and of the hours of bulk before it, where those are many")
    raised_spread: Threshold = Threshold(1.3, "1", "a moment that nobody knows: its 90 % point lies 2.7 times as far")
    raised_down: Threshold = Threshold(0.7, "1", "and its 10 % point is nearly now")
    lifts_pieces: Threshold = Threshold(6, "1", "ten-minute pieces in each half of a run whose pace is taken")
    lifts_spread: Threshold = Threshold(
        0.8, "1", "spread of hours from such a pace: it slackens, and warmth takes it back"
    )


THRESHOLDS = Thresholds()
