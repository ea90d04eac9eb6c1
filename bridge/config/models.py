"""The cabin file's tables for banks and meters. Quantities become canonical numbers while they are read."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, field_validator, model_validator

from bridge import units
from bridge.config.experience import ExperienceTable
from bridge.config.services import (
    BrokerTable,
    HubTable,
    InfluxTable,
    JournalTable,
    NotifyTable,
    PageTable,
    ParcelsTable,
    SiteTable,
)
from bridge.config.types import (
    AmpereHours,
    Amps,
    AutoOff,
    Celsius,
    Grams,
    HomieId,
    Hours,
    Seconds,
    Share,
    Table,
    Topic,
    Volts,
    VoltsPerKelvin,
    between,
    exact_topic,
    positive,
)
from rules.bank import LEAST_EQUALISE, QUANTITIES
from rules.laws import REFERENCE

#: Shortest and longest time after which a relay opens by itself [s]: shorter and one late permit opens it, longer and
#: it guards nothing.
AUTO_OFF = (15.0, 3600.0)
#: Warmth for which hydrometers are made [degC].
HYDROMETERS = (10.0, 30.0)
#: Longest time for which nobody need come by [h].
LONGEST_ABSENCE = 72.0
#: What a quantity is also called, in the singular -> its name in the cabin file.
_ALSO_CALLED = {
    **dict.fromkeys(("amp", "ampere", "amperage"), "current"),
    **dict.fromkeys(("temp", "temperature", "acid"), "electrolyte_temperature"),
    **dict.fromkeys(("h2", "gas"), "hydrogen"),
    "volt": "voltage",
    "watt": "power",
    "air": "ambient_temperature",
}
#: What can be at all, far outside of what is usual, so that a slip of the pen is told where it was made (common
#: practice, no source): acid in a case of plastic, amps of chargers, mains, the hours of a hold.
Acid = Annotated[Celsius, between(0.0, 80.0, "degC", "110 degF")]
ChargerAmps = Annotated[Amps, between(0.1, 2000.0, "A", "50 A")]
#: What an outlet may have [V].
OUTLETS = (80.0, 500.0)
Mains = Annotated[Volts, between(*OUTLETS, "V", "120 V")]
HoldHours = Annotated[Hours, between(0.01, 240.0, "h", "16 h")]


class BlocksTable(Table):
    """``blocks = { ... }``: what one string is made of, and the year in which its blocks were made."""

    per_string: Annotated[int, Field(strict=True, ge=1, le=64)]
    cells: Annotated[int, Field(strict=True, ge=1, le=24)]
    capacity: Annotated[AmpereHours, between(1.0, 20000.0, "Ah", "200 Ah")]
    labels: tuple[str, ...] | None = None
    made: Annotated[int, Field(strict=True, ge=1950, le=2100)] | None = None


class ChargerTable(Table):
    """One setting of the charger."""

    volts: Volts
    amps: ChargerAmps
    starts_at: Volts | None = None

    @field_validator("volts", "starts_at")
    @classmethod
    def _positive(cls, value: float | None) -> float | None:
        return value if value is None else positive(value)

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.starts_at is not None and self.starts_at > self.volts:
            raise ValueError(
                f"starts_at = {self.starts_at:g} V is above the setting's own {self.volts:g} V: write the lowest bank "
                "volts at which it starts"
            )
        return self


class HoldTable(Table):
    """``hold = { ... }``."""

    minimum: HoldHours = 16.0
    maximum: HoldHours = 24.0
    starts: Literal["at-voltage", "at-current"] = "at-voltage"
    tail: ChargerAmps | None = None

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if not 0 < self.minimum <= self.maximum:
            raise ValueError("minimum must be above zero and not above maximum")
        if self.starts == "at-current" and self.tail is None:
            raise ValueError('starts = "at-current" needs the current under which it starts: add tail = "9 A"')
        if self.tail is not None and self.starts == "at-voltage":
            raise ValueError('tail has no effect with starts = "at-voltage": remove it, or write starts = "at-current"')
        return self


class LimitsTable(Table):
    """``limits = { ... }``: what is left out takes the default."""

    temperature: Acid | None = None
    temperature_case: Acid | None = None
    temperature_warning: Acid | None = None
    temperature_resume: Acid | None = None
    temperature_absolute: Acid | None = None
    cell_voltage: Annotated[Volts, between(2.3, 3.5, "V", "2.75 V")] | None = None
    string_current: ChargerAmps | None = None
    hydrogen: Share | None = None


class ResumeTable(Table):
    """``automatic_resume = { ... }``."""

    allowed: Annotated[bool, Field(strict=True)] = False
    rest: Annotated[Seconds, between(60.0, 86400.0, "s", "30 min")] = 1800.0
    times: Annotated[int, Field(strict=True, ge=0, le=20)] = 3


class MeterTable(Table):
    """``[[bank.meter]]``, or ``[[meter]]`` with ``{bank}`` for every bank."""

    topic: Topic
    quantity: str
    style: Literal["plain", "json", "pairs", "senml", "homie"] = "plain"
    pointer: str | None = None
    name: str | None = None
    unit: str | None = None
    sign: Literal["charging", "discharging"] = "charging"
    offset: str | None = None
    scale: str | None = None
    decimal: Literal[".", ","] = "."
    time: str | None = None
    placed: Literal["cell", "case"] | None = None
    index: str | None = None
    every: Annotated[Seconds, between(0.001, 86400.0, "s", "5 s")] | None = None
    resolution: str | None = None
    on: str | None = None
    off: str | None = None

    @field_validator("quantity")
    @classmethod
    def _known(cls, value: str) -> str:
        if value == "relay_state":
            raise ValueError("a relay's state is no meter: write state_topic in [bank.relay]")
        if value not in QUANTITIES:
            meant = _ALSO_CALLED.get(value.strip().lower().rstrip("s"))
            near = f'; did you mean "{meant}"?' if meant else units.near(value, QUANTITIES)
            raise ValueError(f'"{value}" is not known{near}')
        return value

    @field_validator("topic")
    @classmethod
    def _exact(cls, value: str) -> str:
        return exact_topic(value)

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.style not in {"json", "pairs"} and self.pointer is not None:
            raise ValueError(f'pointer has no meaning with style = "{self.style}": write style = "json"')
        if self.style == "json" and self.pointer is None:
            raise ValueError('style = "json" needs a pointer to the value, such as pointer = "/dc/volts"')
        if self.style == "pairs" and (self.pointer or "").count("/") != 1:
            raise ValueError(
                'style = "pairs" needs a pointer to its key: of "V=26.31 A=9.2" pointer = "/V" is the first'
            )
        if (self.style == "senml") != (self.name is not None):
            raise ValueError('name belongs to style = "senml" and is needed there: the full name, base name included')
        if self.time is not None and self.style not in {"json", "pairs", "senml"}:
            raise ValueError(f'style = "{self.style}" carries no time of its own: remove time')
        if self.style == "senml" and self.time not in {None, "t"}:
            raise ValueError('the time of a SenML record is always its field t: write time = "t"')
        contact = QUANTITIES[self.quantity].unit == "boolean"
        if contact and (self.unit or self.offset or self.scale):
            raise ValueError(f"{self.quantity} is a contact and has no unit, scale or offset: remove it")
        if self.scale and self.style in {"senml", "homie"}:
            raise ValueError(f'style = "{self.style}" says its own unit: scale belongs to plain and json, and to pairs')
        if not contact and (self.on or self.off):
            raise ValueError(f"on and off are words of a contact; {self.quantity} is a number: remove them")
        if bool(self.on) != bool(self.off):
            raise ValueError("on and off belong together: give both words")
        if self.placed and self.quantity != "electrolyte_temperature":
            raise ValueError("placed says where an electrolyte_temperature probe sits: remove it here")
        return self


class RelayTable(Table):
    """``[bank.relay]``: the relay in the charger's AC feed. The same topic on several banks is one relay."""

    topic: Topic
    cut: str = "OFF"
    allow: str = "ON"
    state_topic: Topic | None = None
    state_pointer: str | None = None
    state_open: str | None = None
    state_closed: str | None = None
    auto_off: AutoOff | None = None
    power_on: Literal["open"] | None = None

    @field_validator("topic", "state_topic")
    @classmethod
    def _exact(cls, value: str | None) -> str | None:
        return value if value is None else exact_topic(value)

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.cut == self.allow:
            raise ValueError("cut and allow are the same payload: the relay could not tell them apart")
        if self.state_topic == self.topic:
            raise ValueError("state_topic is the command topic: name the topic on which the relay reports its state")
        if self.state_topic is None and (self.state_pointer or self.state_open or self.state_closed):
            raise ValueError("state_pointer, state_open and state_closed need a state_topic")
        if (self.state_open or self.cut).lower() == (self.state_closed or self.allow).lower():
            raise ValueError("state_open and state_closed are the same word")
        if self.auto_off and not AUTO_OFF[0] <= self.auto_off <= AUTO_OFF[1]:
            raise ValueError('auto_off must lie between "15 s" and "1 h"; "90 s" suits most; "none" where it has none')
        return self


class LoadRelayTable(Table):
    """``[bank.load_relay]``: takes the load off at the end of a capacity test. It never closes anything."""

    topic: Topic
    cut: str = "OFF"

    @field_validator("topic")
    @classmethod
    def _exact(cls, value: str) -> str:
        return exact_topic(value)


def _of_one_cell(value: float) -> float:
    """Refuse volts at which no cell is equalised; the upper end is the owner's own limit, in `build_banks`."""
    if value < LEAST_EQUALISE:
        raise ValueError(f'{value:g} V equalises no cell: it is the voltage of ONE cell, such as "2.67 V"')
    return value


class BankTable(Table):
    """``[[bank]]``."""

    id: HomieId
    kind: str = "flooded"
    strings: Annotated[int, Field(strict=True, ge=1, le=32)] = 1
    blocks: BlocksTable
    chargers: tuple[ChargerTable, ...] = ()
    equalise: Annotated[Volts, AfterValidator(_of_one_cell)] = 2.67
    hold: HoldTable = HoldTable()
    limits: LimitsTable = LimitsTable()
    charger_compensation: VoltsPerKelvin = 0.0
    full_gravity: Annotated[float, Field(ge=1.21, le=1.3, allow_inf_nan=False)] = 1.265
    zero_offset: Annotated[Amps, between(-100.0, 100.0, "A", "0.3 A")] = 0.0
    automatic_resume: ResumeTable = ResumeTable()
    power_factor: Annotated[float, Field(gt=0, le=1, allow_inf_nan=False)] = 0.99
    charger_efficiency: Annotated[float, Field(gt=0, le=1, allow_inf_nan=False)] = 0.88
    # Cells that a watering system keeps full have no end of it.
    water_reserve: Annotated[Grams, between(1.0, 1.0e6, "g", "120 g")] | None = None
    ac_voltage: Mains | None = None
    presence: Hours = 12.0
    hydrometer_reference: Celsius = REFERENCE
    meter: tuple[MeterTable, ...] = ()
    relay: RelayTable | None = None
    load_relay: LoadRelayTable | None = None

    @field_validator("hydrometer_reference")
    @classmethod
    def _indoors(cls, value: float) -> float:
        if not HYDROMETERS[0] <= value <= HYDROMETERS[1]:
            raise ValueError(
                f'no hydrometer is made for {value:.0f} degC ({value * 1.8 + 32:.0f} degF): "80 degF", '
                '"25 degC" and "20 degC" are usual'
            )
        return value

    @field_validator("presence")
    @classmethod
    def _not_left_alone(cls, value: float) -> float:
        if not 0 < value <= LONGEST_ABSENCE:
            raise ValueError('must lie above zero and within "72 h": nobody leaves a charging bank alone for longer')
        return value

    @field_validator("kind")
    @classmethod
    def _flooded(cls, value: str) -> str:
        if value != "flooded":
            raise ValueError(
                f'"{value}" is refused: equalising voltages are for flooded (vented) cells only. A sealed, gel or AGM '
                "battery cannot be refilled with the water that the hold drives out, and may vent or burn"
            )
        return value


class CabinTable(Table):
    """The whole cabin file."""

    site: SiteTable
    broker: BrokerTable = BrokerTable()
    bank: Annotated[tuple[BankTable, ...], Field(min_length=1)]
    meter: tuple[MeterTable, ...] = ()
    journal: JournalTable = JournalTable()
    influxdb: InfluxTable | None = None
    notify: NotifyTable | None = None
    parcels: ParcelsTable | None = None
    hub: HubTable | None = None
    experience: ExperienceTable | None = None
    page: PageTable | None = None
