"""What is said of each bank on the bus: at once when something happened, else at most once a second."""

from __future__ import annotations

from collections.abc import Callable

from bridge import clock as time_source
from rules.events import Derived

#: A state is published at most so often, unless something happened [s].
SAY_EVERY = 1.0


class Saying:
    """The publisher of states, which holds back those that come too soon after the last.

    Parameters
    ----------
    publish : callable
        Given each `Derived` whose time has come.

    Attributes
    ----------
    latest : dict of Derived
        By bank id; also those not published yet.
    """

    def __init__(self, publish: Callable[[Derived], None]) -> None:
        self.latest: dict[str, Derived] = {}
        self._publish = publish
        self._said_at: dict[str, float] = {}
        self._unsaid: set[str] = set()

    def say(self, derived: Derived) -> None:
        """Publish now when something happened or the last is a second old; else remember it."""
        before = self.latest.get(derived.bank)
        self.latest[derived.bank] = derived
        moment = time_source.monotonic()
        if before is None or _standing(before) != _standing(derived) or self._may(derived.bank, moment):
            self._now(derived, moment)
        else:
            self._unsaid.add(derived.bank)

    def late(self, moment: float) -> None:
        """Publish what came too soon as soon as its second is over [s, monotonic]."""
        for bank in [bank for bank in self._unsaid if self._may(bank, moment)]:
            self._now(self.latest[bank], moment)

    def again(self) -> None:
        """Publish everything again: the broker may have forgotten it."""
        for derived in self.latest.values():
            self._publish(derived)

    def _may(self, bank: str, moment: float) -> bool:
        return moment - self._said_at.get(bank, 0.0) >= SAY_EVERY

    def _now(self, derived: Derived, moment: float) -> None:
        self._said_at[derived.bank] = moment
        self._unsaid.discard(derived.bank)
        self._publish(derived)


def _standing(derived: Derived) -> tuple[object, ...]:
    return derived.phase, derived.relay, derived.charge_allowed, derived.tripped
