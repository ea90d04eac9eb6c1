"""The hold as the trade counts it, on what really happened.

The hold clock runs in a woken bank while the charger regulates to its last setting: at once (at-voltage), or once the
10-minute current has been at or under the tail for 15 min, or after 10 uninterrupted hours there when it has been
steady within 5 % over 4 h at no more than 1.6 tails (a hold begun so is revoked when the current rises by a tenth over
that entry an hour or more after the charger came back).

Woken: never blocked, or the 10-minute current has trebled and then fallen by 12 % from its peak at a ceiling (looked at
an hour and a half after an interruption at the earliest), or the charger's amps or power limited for an hour and it has
fallen so since, or half the rating has been returned.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from .priors import Round

#: A bank that rested is looked at again after so long [s]; less than this of the charger's amps is no peak [1].
RESTED, FEW = 5400.0, 0.03


class HoldClock:
    """The trade's clock on true volts and amps."""

    def __init__(self, drawn: Round) -> None:
        self.drawn = drawn
        self.woken = self.done = self.started = False
        self.seconds = self.under = self.limited = self.unbroken = 0.0
        self.entry = 0.0
        self.peak, self.floor = 0.0, np.inf
        self.blocked: bool | None = None
        self.recent: deque[tuple[float, float]] = deque()
        self.means: deque[float] = deque(maxlen=24)
        self.wait = self.on_for = 0.0
        self.first_spell = True

    def _mean(self, current: float, seconds: float) -> float:
        self.recent.append((current, seconds))
        whole = sum(each for _, each in self.recent)
        while whole - self.recent[0][1] >= 600.0:
            whole -= self.recent.popleft()[1]
        return sum(value * each for value, each in self.recent) / whole

    def look(self, mode: int, current: float, charge: float, opened: float, last: bool, seconds: float) -> None:
        """One step: how the charger regulates, amps, charge returned [Ah], open share, last setting, [s]."""
        if mode == 0:
            self.recent.clear()
            self.unbroken = self.under = 0.0
            self.means.clear()
            self.first_spell = self.first_spell and self.on_for == 0.0
            self.on_for = 0.0
            return
        if self.blocked is None:
            self.blocked = opened < 0.5
        self.on_for += seconds
        mean = self._mean(current, seconds)
        make = self.drawn.make
        if not self.woken and not make.dead:
            self._wake(mode, mean, charge, make.capacity * make.strings, seconds)
        if not (self.woken and last and mode == 1):
            self.unbroken = self.under = 0.0
            self.means.clear()
            return
        if self.done:
            return
        tail = self.drawn.tail
        if tail is None:
            self.started = True
        else:
            self._settle(mean, tail, seconds)
        if self.started:
            self.seconds += seconds
            self.done = self.seconds >= self.drawn.hold * 3600.0

    def _wake(self, mode: int, mean: float, charge: float, rated: float, seconds: float) -> None:
        self.woken = not self.blocked or charge >= 0.5 * rated
        # A rested surface takes more for a while; that is no peak.
        if self.on_for < (1200.0 if self.first_spell else RESTED):
            return
        if mode == 1:
            self.floor = min(self.floor, mean)
            self.peak = max(self.peak, mean)
            enough = max(3.0 * self.floor, FEW * max(amps for _, amps in self.drawn.charger.settings))
            if self.peak >= enough and mean <= 0.88 * self.peak:
                self.woken = True
        else:
            self.limited += seconds
            if self.limited >= 3600.0:
                self.peak, self.floor = max(self.peak, mean), min(self.floor, mean / 3.0)

    def _settle(self, mean: float, tail: float, seconds: float) -> None:
        self.unbroken += seconds
        self.under = self.under + seconds if mean <= tail else 0.0
        self.wait += seconds
        if self.wait >= 600.0:
            self.wait = 0.0
            self.means.append(mean)
        if self.started:
            if self.entry and mean > 1.1 * self.entry and self.unbroken > 3600.0:
                self.started, self.seconds, self.entry = False, 0.0, 0.0
            return
        flat = False
        if self.unbroken >= 36_000.0 and len(self.means) == 24:
            flat = max(self.means) <= 1.05 * min(self.means) and mean <= 1.6 * tail
        if self.under >= 900.0 or flat:
            self.started, self.entry = True, 0.0 if self.under >= 900.0 else max(mean, tail)

    def stage(self, mode: int, last: bool) -> str:
        """Roughly where the round is, for the hazards' timing."""
        if self.done:
            return "resting"
        if not self.woken:
            return "waking" if self.peak < 2.0 * self.floor else "reviving"
        if mode == 1 and last:
            return "holding" if self.started and self.seconds > 0.0 else "finishing"
        return "reviving"
