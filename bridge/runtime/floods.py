"""Topics that send more than can be read: they are named, and for a while not listened to."""

from __future__ import annotations

import logging
from collections import Counter

from bridge.mailbox import Mailbox
from bridge.mqtt.bus import Bus
from bridge.runtime.log_limit import one_line

log = logging.getLogger("revival")

#: So long a topic that floods is not listened to [s].
SHED_FOR = 600.0
#: So many topics at most are named as floods, each with a tenth of what was left out or more [1].
WORST, WORST_PART = 3, 10


class Floods:
    """What the mailbox had to leave out, by topic.

    Parameters
    ----------
    mailbox : Mailbox
        Tells which topic floods, and counts what it dropped.
    bus : Bus
        Listens to a topic no more, and again.

    Attributes
    ----------
    topics : set of str
        Those of which messages were left out at the last look, or which are not listened to.
    words : str
        The same for people; empty where there are none.
    """

    def __init__(self, mailbox: Mailbox, bus: Bus) -> None:
        self.mailbox, self.bus = mailbox, bus
        self.topics: set[str] = set()
        self.words = ""
        self._dropped: Counter[str] = Counter()
        self._shed: dict[str, float] = {}

    def shed(self, moment: float) -> None:
        """Listen to no topic that floods for a while: what the broker has queued of it goes with the connection.

        Else the hot reading would wait behind it in the broker, where no order of ours helps.

        Parameters
        ----------
        moment : float
            Of the host's clock [s, monotonic].
        """
        if not (self.mailbox.floods or self._shed):
            return
        floods, self.mailbox.floods = self.mailbox.floods, set()
        for topic in sorted(floods - self._shed.keys()):
            log.warning("%s: sends more than can be read; not listened to for %.0f s", one_line(topic), SHED_FOR)
        kept = {topic: until for topic, until in self._shed.items() if until > moment}
        for topic in sorted(self._shed.keys() - kept.keys()):
            log.info("%s: listened to again", one_line(topic))
        shed = kept | dict.fromkeys(floods - kept.keys(), moment + SHED_FOR)
        if shed.keys() != self._shed.keys():
            self.bus.shed(frozenset(shed))
        self._shed = shed

    def look(self) -> None:
        """Name the topics of which messages were left out since the last look, or which are not listened to."""
        dropped = Counter(self.mailbox.dropped)  # copied: the network threads go on counting
        since, self._dropped = dropped - self._dropped, dropped
        # The whole box is bounded as well, so a topic may lose a message for another's flood: the worst are named.
        floods = {
            topic for topic, number in since.most_common(WORST) if number * WORST_PART >= since.total()
        } | self._shed.keys()
        for topic in sorted(floods - self.topics - self._shed.keys()):
            log.warning("%s: sends more than can be read; what is beyond is left out and counted", one_line(topic))
        self.topics = floods
        self.words = f"{', '.join(sorted(floods))}: more than can be read, the rest is left out" if floods else ""
