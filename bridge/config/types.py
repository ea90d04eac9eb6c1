"""What the cabin file's values are made of: quantities with units, identifiers, topics."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema

from bridge import units


def _quantity(
    canonical: str, example: str, *, difference: bool = False, bare: bool = True
) -> tuple[BeforeValidator, WithJsonSchema]:
    schema = {"type": "string", "description": f"A quantity with its unit, such as {example!r}.", "examples": [example]}
    return (
        BeforeValidator(lambda written: units.parse(written, canonical, difference=difference, bare=bare)),
        WithJsonSchema(schema),
    )


Volts = Annotated[float, *_quantity("V", "28.8 V")]
Amps = Annotated[float, *_quantity("A", "50 A")]
AmpereHours = Annotated[float, *_quantity("Ah", "200 Ah")]
Celsius = Annotated[float, *_quantity("degC", "110 degF")]
Hours = Annotated[float, *_quantity("h", "16 h")]
Seconds = Annotated[float, *_quantity("s", "90 s")]
#: What the file says of a relay that nothing opens by itself; in figures that is 0 s.
NO_AUTO_OFF = "none"
AutoOff = Annotated[
    float,
    BeforeValidator(lambda written: 0.0 if written == NO_AUTO_OFF else positive(units.parse(written, "s"))),
    WithJsonSchema({"type": "string", "description": "A time such as '90 s', or 'none'.", "examples": ["90 s"]}),
]
#: Last minute of a day, and how it is written.
_LAST_MINUTE = 24 * 60 - 1
_DAYTIME = r"^([01]\d|2[0-3]):[0-5]\d$"


def _daytime(written: object) -> int:
    """Return the minute of the day that a clock shows as ``07:30``."""
    if isinstance(written, int) and not isinstance(written, bool) and 0 <= written <= _LAST_MINUTE:
        return written
    if not isinstance(written, str) or re.match(_DAYTIME, written) is None:
        raise ValueError('must be a time of the day from "00:00" to "23:59", in quotes, such as "07:00"')
    hour, minute = written.split(":")
    return 60 * int(hour) + int(minute)


#: Minutes after midnight by the clock of the place.
DayTime = Annotated[
    int, BeforeValidator(_daytime), WithJsonSchema({"type": "string", "pattern": _DAYTIME, "examples": ["07:00"]})
]
Bytes = Annotated[float, *_quantity("byte", "2 GB")]
#: A share must say its unit: a bare 1 is 100 percent to us and 1 percent to most writers.
Share = Annotated[float, *_quantity("1", "1 percent", bare=False)]
Kelvins = Annotated[float, *_quantity("degC", "0.1 K", difference=True)]
Grams = Annotated[float, *_quantity("g", "120 g")]
SquareCentimetres = Annotated[float, *_quantity("cm^2", "100 sq in")]
VoltsPerKelvin = Annotated[float, *_quantity("V/K", "-4 mV/K", difference=True)]

#: Homie identifiers: lower case letters, digits and hyphens, not at the ends.
HOMIE_ID = r"^[a-z0-9]([a-z0-9-]*[a-z0-9])?$"
HomieId = Annotated[str, Field(pattern=HOMIE_ID, max_length=64)]
Topic = Annotated[str, Field(min_length=1, max_length=1024)]


class Table(BaseModel):
    """A table of the cabin file: an unknown key is an error, because a misspelt limit must not be silently ignored."""

    model_config = ConfigDict(extra="forbid", frozen=True, hide_input_in_errors=True)


def positive(value: float) -> float:
    """Refuse zero and below."""
    if value <= 0:
        raise ValueError("must be above zero")
    return value


def between(low: float, high: float, unit: str, usual: str) -> AfterValidator:
    """Return what refuses a value that no bank, charger or room can have.

    Parameters
    ----------
    low, high : float
        Ends that are still taken.
    unit : str
        Of the value, as it is named.
    usual : str
        A value as most write it.
    """

    def read(value: float) -> float:
        if not low <= value <= high:
            ends = f"{_named(low, unit)} and {_named(high, unit)}"
            raise ValueError(f'{_named(value, unit)} cannot be: it lies between {ends}; "{usual}" is usual')
        return value

    return AfterValidator(read)


def _named(value: float, unit: str) -> str:
    """Return a value with its unit; a temperature in both scales."""
    if unit != "degC":
        return f"{value:g} {unit}"
    return f"{round(value, 1):g} degC ({round(value * 1.8 + 32.0, 1):g} degF)"


def exact_topic(value: str) -> str:
    """Refuse wildcards, and what MQTT forbids in a topic name."""
    if "+" in value or "#" in value:
        raise ValueError(f'"{value}" has a wildcard: name one exact topic for each meter')
    if "\0" in value or value.startswith("$"):
        raise ValueError(f'"{value}" is no topic that a meter can publish on')
    return value
