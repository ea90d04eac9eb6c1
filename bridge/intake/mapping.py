"""What ties a topic to a quantity, and what comes out of decoding one message."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from bridge.units import Linear, UnitError, compile_unit
from rules.bank import QUANTITIES
from rules.events import Reading, Unreadable

#: Larger payloads are refused undecoded: no meter needs them, and decoding time must stay bounded.
LARGEST_PAYLOAD = 64 * 1024

#: What contacts say, lower case -> value. A door is good when it stands open, as a fan is when it runs.
CONTACT_WORDS: dict[str, float] = {
    "true": 1.0, "on": 1.0, "1": 1.0, "open": 1.0, "running": 1.0,
    "false": 0.0, "off": 0.0, "0": 0.0, "closed": 0.0, "stopped": 0.0,
}  # fmt: skip


class Rejected(NamedTuple):
    """Why a message, or one of its mappings, gave no reading; `reason` is short and from a small fixed set."""

    topic: str
    reason: str


class Decoded(NamedTuple):
    """What one message says.

    Attributes
    ----------
    readings : tuple of Reading
        In canonical units.
    rejected : tuple of Rejected
        One for every mapping that got nothing, or one for the whole message.
    unreadable : tuple of Unreadable
        For every meter whose value stood there and could not be read: what it said, and the key that mends it.
    stamp : float or None
        The message's own time [s since the epoch] where trusted: the key that tells a redelivery from a new sample.
    """

    readings: tuple[Reading, ...] = ()
    rejected: tuple[Rejected, ...] = ()
    stamp: float | None = None
    unreadable: tuple[Unreadable, ...] = ()


class RejectError(Exception):
    """Raised while decoding; its only argument is the reason. Never leaves the intake."""


#: Why a value that stands there cannot be read -> what to change in its ``[[bank.meter]]``.
MENDS: dict[str, str] = {
    "decimal comma": 'write decimal = "," in its [[bank.meter]]',
    "wrong unit": "set unit in its [[bank.meter]] to what it says now",
    "no unit": "set unit in its [[bank.meter]]",
    "digit grouping": "let the meter write plain numbers",
    "not a number": "look at the meter, and at pointer and style in its [[bank.meter]]",
    "boolean": "look at the meter, and at pointer and style in its [[bank.meter]]",
    "not finite": "look at the meter",
    "not JSON": "look at the meter, and at style in its [[bank.meter]]",
    "not key=value": "look at the meter, and at style in its [[bank.meter]]",
}
#: The same of a relay's own report -> what to change in ``[bank.relay]``.
RELAY_MENDS: dict[str, str] = {
    "unknown word": "set state_pointer, state_open and state_closed in [bank.relay] to what it says",
    "not JSON": "leave state_pointer out of [bank.relay], or look at state_topic",
}


def unreadable(mapping: Mapping, at: float, reason: str, said: object) -> tuple[Unreadable, ...]:
    """Return what is told of a value that cannot be read; nothing where there was no value: that is silence."""
    mend = RELAY_MENDS.get(reason) if mapping.quantity == "relay_state" else MENDS.get(reason)
    if mend is None:
        return ()
    why = f'{mapping.topic} says "{str(said)[:40]}", {reason}: {mend}'
    return (Unreadable(mapping.bank, mapping.meter, at, why),)


@dataclass(frozen=True)
class Mapping:
    """One source of one quantity for one bank, as the cabin file gives it.

    Attributes
    ----------
    bank, meter, quantity : str
        Whose reading it becomes: bank id, `rules.bank.model.Meter.name`, a name from `rules.bank.quantity`.
    topic, style : str
        Exact topic; ``plain``, ``json``, ``pairs``, ``senml`` or ``homie``.
    pointer : str
        JSON Pointer (RFC 6901) to the value, for ``json``; for ``pairs`` one of a single part, its key.
    name : str
        Resolved SenML name (base name included), for ``senml``.
    unit : str or None
        Unit of the raw number where the payload does not say it.
    sign : float
        -1 where the meter counts discharge as positive.
    offset : float
        Added after conversion, canonical unit.
    time : str or None
        Where the meter's own time is: a JSON Pointer for ``json`` and ``pairs``, ``"t"`` for ``senml``.
    scale : tuple of (str, float) or None
        A shunt's or sensor's own scale: the unit that the raw number is in, and canonical units for each one of it.
    decimal : str
        The decimal sign of numbers written as text.
    words : tuple of (str, float)
        For contacts: what the payload says -> value; empty for the usual words.
    """

    bank: str
    meter: str
    quantity: str
    topic: str
    style: str = "plain"
    pointer: str = ""
    name: str = ""
    unit: str | None = None
    sign: float = 1.0
    offset: float = 0.0
    time: str | None = None
    words: tuple[tuple[str, float], ...] = ()
    scale: tuple[str, float] | None = None
    decimal: str = "."

    @property
    def canonical(self) -> str:
        """Canonical unit of the quantity."""
        return QUANTITIES[self.quantity].unit

    @property
    def is_contact(self) -> bool:
        """Whether it is a contact rather than a number."""
        return self.canonical == "boolean"

    def factor(self, unit: str | None, dialect: str = "cabin") -> Linear:
        """Fold unit, sign and offset into one factor and one offset.

        Raises
        ------
        UnitError
            The unit does not fit the quantity, or is missing.
        """
        if unit is None:
            raise UnitError(f"{self.quantity} needs its unit")
        if self.scale is None:
            linear = compile_unit(unit, self.canonical, dialect)
        else:
            raw = compile_unit(unit, self.scale[0], dialect)
            linear = Linear(raw.scale * self.scale[1], raw.offset * self.scale[1])
        return Linear(self.sign * linear.scale, self.sign * linear.offset + self.offset)
