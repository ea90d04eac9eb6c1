"""Every number behind the hours: value, unit, why, and where it comes from."""

from __future__ import annotations

from typing import NamedTuple

from rules.phase import Threshold


class Thresholds(NamedTuple):
    """The numbers of the estimate; `THRESHOLDS` holds them."""

    finishing_sound: Threshold = Threshold(6.0, "h", "3 to 12 h where it was never blocked", "RULES.md 5: 3 to 60 h")
    finishing_sulfated: Threshold = Threshold(16.0, "h", "5 to 60 h where it had to wake", "RULES.md 5: 3 to 60 h")
    finishing_spread: Threshold = Threshold(0.65, "1", "standard deviation of its logarithm", "RULES.md 5: 3 to 60 h")
    fit_error: Threshold = Threshold(0.06, "1", "by which a current strays from a smooth taper: warmth, cable, noise")
    fit_looks: Threshold = Threshold(4.0, "1", "independent looks that a whole past is worth against a smooth taper")
    kept_apart: Threshold = Threshold(0.06, "1", "points of a taper lie further apart as it grows longer")
    apart_least: Threshold = Threshold(0.4, "h", "and never closer than this")
    settled_run: Threshold = Threshold(3600.0, "s", "current of a run's first hour only puts back what leaked away")
    climbs_anew: Threshold = Threshold(1.25, "1", "over its lowest: more than warmth makes of it; another string wakes")
    looks: Threshold = Threshold(600.0, "s", "a taper of hours is followed anew so often")
    grows: Threshold = Threshold(120.0, "h", "farther ahead no taper is followed")
    learns: Threshold = Threshold(0.08, "1", "step of the band for each miss and hit", "Gibbs and Candes 2021")
    misses: Threshold = Threshold(0.20, "1", "share of misses that an 80 % band should have")
    judged_after: Threshold = Threshold(0.25, "1", "part of the hours foretold after which a prediction is judged")
    widest: Threshold = Threshold(1.2, "1", "most that misses may widen a band, in logarithms")
    narrowest: Threshold = Threshold(-0.4, "1", "most that hits may narrow it")
    hold_start: Threshold = Threshold(0.01, "1", "share of the hold by which its start at a current is uncertain")


THRESHOLDS = Thresholds()
