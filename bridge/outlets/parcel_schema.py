"""What a parcel is: its tables, names and the clock of a site, for who writes and who reads them.

`bridge/fleet/PARCELS.md` is the document of this; a test compares the two.
"""

from __future__ import annotations

import math


class SiteClock:
    """The clock that the banks of one bridge share, as its engine keeps it over messages in order.

    Parameters
    ----------
    at : float
        Where it stands [s since the epoch]; 0 before the first message.
    """

    def __init__(self, at: float = 0.0) -> None:
        self.at = at

    def take(self, at: float) -> tuple[float, float]:
        """Return when the message counts as arrived, and up to where every second has passed [s since the epoch]."""
        if at < self.at:
            at = self.at
        elif not self.at or at >= math.floor(self.at) + 1:
            self.at = at
        return at, self.at
