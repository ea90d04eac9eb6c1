"""The bank as the owner describes it: blocks in series are a string, strings in parallel are a bank."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cached_property

from rules.bank.experience import NO_EXPERIENCE, Experience
from rules.bank.quantity import QUANTITIES
from rules.laws import COLDEST, REFERENCE, WARMEST, compensated_voltage, string_current_limit

#: Settings of a charger closer together than this are one [V per cell] (assumed).
SAME_SETTING = 0.02
#: A charger that stands this close to the equalising voltage reaches it [V per cell]: half a percent, as chargers
#: regulate, less a digit of the voltmeter; the hold counts as far below a ceiling that was seen (assumed).
REACHES = 0.010
#: Under the first no cell is equalised, it hardly gases; equalised below the second at 25 degC hard sulfate may stay
#: [V per cell]; common practice, no source.
LEAST_EQUALISE, HARD_SULFATE = 2.3, 2.55


@dataclass(frozen=True)
class Block:
    """One battery case.

    Attributes
    ----------
    label : str
        What is written on the case; ampere-hours, hours and gravities follow it.
    cells : int
        Cells in series inside the case (a 6 V block has 3).
    capacity : float
        Rated capacity at the 20-hour rate [Ah].
    """

    label: str
    cells: int
    capacity: float


@dataclass(frozen=True)
class ChargerSetting:
    """One setting of the charger, in the order in which the owner will use them: volts [V] at the bank, amps [A].

    `starts_at` is the lowest bank voltage at which the charger starts at all [V]; 0 where it starts on anything.
    """

    volts: float
    amps: float
    starts_at: float = 0.0


@dataclass(frozen=True)
class HoldRule:
    """How long the bank is held at the equalising voltage.

    Attributes
    ----------
    minimum, maximum : float
        Hold hours [h]; equal values make it a plain clock.
    starts : str
        ``"at-voltage"`` or ``"at-current"``.
    tail : float or None
        Current under which an ``at-current`` hold starts [A].
    """

    minimum: float = 16.0
    maximum: float = 24.0
    starts: str = "at-voltage"
    tail: float | None = None


@dataclass(frozen=True)
class Limits:
    """Where harm begins.

    Attributes
    ----------
    temperature : float
        Electrolyte temperature that trips [degC]; 43.3 is the trade's 110 degF.
    temperature_case : float
        The same where the probe sits on the case [degC].
    temperature_warning, temperature_resume, temperature_absolute : float
        Warning; automatic resume below; trips on a single sample [degC].
    cell_voltage : float
        Absolute ceiling per cell [V], never compensated upward.
    string_current : float or None
        Limit per string [A]; ``None`` takes the default of `Bank.string_current_limit`.
    hydrogen : float
        Fraction by volume that trips [1].
    """

    temperature: float = 43.333
    temperature_case: float = 40.0
    temperature_warning: float = 38.0
    temperature_resume: float = 37.8
    temperature_absolute: float = 51.7
    cell_voltage: float = 2.75
    string_current: float | None = None
    hydrogen: float = 0.01


@dataclass(frozen=True)
class AutomaticResume:
    """Whether an over-temperature trip may clear itself, and how often.

    Attributes
    ----------
    allowed : bool
        Only where the owner chose it.
    rest : float
        Least time open [s].
    times : int
        At most so often in one round.
    """

    allowed: bool = False
    rest: float = 1800.0
    times: int = 3


#: Quantities whose index is the number of a string, and not the label of a block.
_OF_A_STRING = ("string_current", "midpoint_voltage")


@dataclass(frozen=True)
class Meter:
    """One mapped source of one quantity.

    Attributes
    ----------
    name : str
        Unique in the bank: the quantity, then ``:index`` where it has one, then ``#2`` for a second source.
    quantity : str
        A name from `rules.bank.quantity.QUANTITIES`.
    index : str
        Block label, ``label.cell``, or string number ("1", "2"), or empty.
    source : str
        Where it comes from, for people: the topic.
    period : float or None
        How often it reports [s] where the owner says so; else it is learned.
    resolution : float
        Smallest step it can show, canonical unit; 0 where unknown.
    placed : str
        ``"cell"`` or ``"case"`` for an electrolyte temperature, else empty.
    """

    name: str
    quantity: str
    index: str = ""
    source: str = ""
    period: float | None = None
    resolution: float = 0.0
    placed: str = ""

    @property
    def whereabouts(self) -> str:
        """What stands behind a value that it showed, for people: its place, and which one of several there it is.

        Examples
        --------
        >>> Meter("electrolyte_temperature:N6#2", "electrolyte_temperature", "N6").whereabouts
        ' of N6 (meter 2)'
        >>> Meter("midpoint_voltage:1", "midpoint_voltage", "1").whereabouts, Meter("voltage", "voltage").whereabouts
        (' of string 1', '')
        """
        number = self.name.partition("#")[2]
        string = "string " if self.quantity in _OF_A_STRING else ""
        place = f" of {string}{self.index}" if self.index else ""
        return f"{place} (meter {number})" if number else place

    @property
    def words(self) -> str:
        """What it is called to people: its quantity and its place.

        Examples
        --------
        >>> Meter("electrolyte_temperature:N6", "electrolyte_temperature", "N6").words
        'electrolyte temperature of N6'
        """
        return f"{self.quantity.replace('_', ' ')}{self.whereabouts}"


@dataclass(frozen=True)
class Relay:
    """What the rules need to know of the charger relay.

    Attributes
    ----------
    reports_state : bool
        Whether it publishes open or closed.
    auto_off : float or None
        It opens by itself so long after the last `allow` [s].
    """

    reports_state: bool = False
    auto_off: float | None = None


@dataclass(frozen=True)
class Bank:
    """A bank as configured; frozen, and checked when it is made.

    Attributes
    ----------
    id : str
        Homie-conformant identifier.
    strings : tuple of tuple of Block
        Strings in parallel, each of blocks in series.
    chargers : tuple of ChargerSetting
        Settings the owner will use, in order; may be empty, then they are learned.
    equalise : float
        Equalising voltage per cell at 25 degC [V].
    compensation : float
        What the charger adds per kelvin and cell [V/K]; negative lowers it when warm, 0 = uncompensated.
    full_gravity : float
        Specific gravity of a full cell at the hydrometer's reference [1].
    zero_offset : float
        What the current meter shows at true zero [A]; subtracted.
    automatic : AutomaticResume
        Bounded automatic resume, over-temperature only.
    meters : tuple of Meter
        What reports.
    relay : Relay or None
        ``None`` is *watch only*.
    power_factor, charger_efficiency : float
        Of the charger, for banks whose current is only known from the AC side [1].
    ac_voltage : float or None
        Of the charger's outlet [V], for amps read at it by hand and for the plan; ``None`` where nobody said it.
    water_reserve : float or None
        Water above the plates per cell [g]; ``None`` takes 0.6 g per rated Ah of a string (common practice, no source).
    load_relay : bool
        A relay can take the load off at the end of a capacity test.
    presence : float
        Somebody looks in at least so often while it charges [h]; 12 h is common practice, no source.
    hydrometer_reference : float
        Temperature for which the hydrometer is made, and to which gravities are corrected [degC].
    aside : tuple of tuple of Block
        Strings, or parts of strings, that were taken out of the circuit: still the owner's, and still judged.
    experience : Experience
        What earlier rounds, of any bank, taught about the hours.

    Raises
    ------
    ValueError
        When strings differ in cells, or a value cannot be.
    """

    id: str
    strings: tuple[tuple[Block, ...], ...]
    chargers: tuple[ChargerSetting, ...] = ()
    equalise: float = 2.67
    hold: HoldRule = field(default_factory=HoldRule)
    limits: Limits = field(default_factory=Limits)
    compensation: float = 0.0
    full_gravity: float = 1.265
    zero_offset: float = 0.0
    automatic: AutomaticResume = field(default_factory=AutomaticResume)
    meters: tuple[Meter, ...] = ()
    relay: Relay | None = None
    power_factor: float = 0.99
    charger_efficiency: float = 0.88
    ac_voltage: float | None = None
    water_reserve: float | None = None
    load_relay: bool = False
    presence: float = 12.0
    hydrometer_reference: float = REFERENCE
    aside: tuple[tuple[Block, ...], ...] = ()
    experience: Experience = NO_EXPERIENCE

    def __post_init__(self) -> None:
        if not self.strings or not all(self.strings):
            raise ValueError(f"bank {self.id}: needs at least one string of at least one block")
        cells = {sum(block.cells for block in string) for string in self.strings}
        if len(cells) != 1:
            raise ValueError(f"bank {self.id}: strings in parallel must have equally many cells, found {sorted(cells)}")
        try:
            self.equalise_at(25.0)
        except ValueError as error:
            raise ValueError(f"bank {self.id}: {error}") from None
        for meter in self.meters:
            if meter.quantity not in QUANTITIES:
                raise ValueError(f"bank {self.id}: unknown quantity {meter.quantity!r}")

    @cached_property
    def cells(self) -> int:
        """Cells in series."""
        return sum(block.cells for block in self.strings[0])

    @cached_property
    def string_capacities(self) -> tuple[float, ...]:
        """Rated 20-hour capacity of each string [Ah]: that of its smallest block."""
        return tuple(min(block.capacity for block in string) for string in self.strings)

    @cached_property
    def capacity(self) -> float:
        """Rated 20-hour capacity of the bank [Ah]."""
        return sum(self.string_capacities)

    @cached_property
    def string_current_limit(self) -> float:
        """Bulk current per string [A]: the owner's, else min(30 A, 0.13 x C20) (common practice, no source)."""
        own = self.limits.string_current
        return string_current_limit(min(self.string_capacities)) if own is None else own

    @cached_property
    def by_name(self) -> dict[str, Meter]:
        """Meters by name."""
        return {meter.name: meter for meter in self.meters}

    @cached_property
    def by_quantity(self) -> dict[str, tuple[Meter, ...]]:
        """Meters by quantity, in the order of the cabin file."""
        grouped: dict[str, tuple[Meter, ...]] = {}
        for meter in self.meters:
            grouped[meter.quantity] = (*grouped.get(meter.quantity, ()), meter)
        return grouped

    @cached_property
    def spans(self) -> dict[str, int]:
        """Cells in series that each meter's voltage spans, by meter name (1 where it is no voltage)."""
        blocks = {block.label: block.cells for string in self.strings for block in string}
        spans = {}
        for meter in self.meters:
            if meter.quantity == "voltage":
                spans[meter.name] = self.cells
            elif meter.quantity == "midpoint_voltage":
                spans[meter.name] = max(1, self.cells // 2)
            elif meter.quantity == "block_voltage":
                spans[meter.name] = blocks.get(meter.index, self.strings[0][0].cells)
            else:
                spans[meter.name] = 1
        return spans

    @cached_property
    def labels(self) -> frozenset[str]:
        """Labels of the blocks in the circuit."""
        return frozenset([block.label for string in self.strings for block in string])

    @cached_property
    def places(self) -> dict[str, int]:
        """Every place that can be noted, and the cells in series there; ``""`` is the whole bank.

        Examples
        --------
        >>> Bank("north", ((Block("N1", 2, 200.0),),)).places
        {'': 2, 'N1': 2, 'N1.1': 1, 'N1.2': 1}
        """
        found = {"": self.cells}
        for block in [block for string in self.strings for block in string]:
            found[block.label] = block.cells
            found.update((f"{block.label}.{number}", 1) for number in range(1, block.cells + 1))
        return found

    @cached_property
    def every_cell(self) -> tuple[str, ...]:
        """Every cell in the circuit, as people write it."""
        return tuple([place for place in self.places if "." in place])

    @cached_property
    def probe(self) -> str:
        """Name of the first electrolyte thermometer, or empty."""
        probes = self.by_quantity.get("electrolyte_temperature", ())
        return probes[0].name if probes else ""

    @cached_property
    def temperature_limit(self) -> float:
        """Lowest temperature at which one of its probes trips [degC]; a probe on a case acts earlier.

        It is the limit to show, because it is the one that acts.
        """
        placed = {meter.placed for meter in self.by_quantity.get("electrolyte_temperature", ())}
        limits = self.limits
        return min(limits.temperature_case, limits.temperature) if "case" in placed else limits.temperature

    @cached_property
    def watched(self) -> Bank:
        """The same bank without its relay, for what only watches."""
        return replace(self, relay=None)

    @cached_property
    def out_of_reach(self) -> bool:
        """Whether every charger setting stays below the equalising voltage: the hold cannot begin then."""
        reached = (self.equalise - REACHES) * self.cells
        return bool(self.chargers) and all(charger.volts < reached for charger in self.chargers)

    @cached_property
    def below_equalise(self) -> float:
        """Half of the way from the equalising voltage down to the owner's next charger setting [V per cell]."""
        lower = [self.equalise - charger.volts / self.cells for charger in self.chargers]
        return min([0.5 * way for way in lower if way > SAME_SETTING], default=math.inf)

    def equalise_at(self, temperature: float) -> float:
        """Return the volts per cell [V] that the charger really regulates to at this electrolyte temperature [degC].

        Hold and ceiling are judged against what the charger does, not against an ideal it was never set to.
        """
        return compensated_voltage(self.equalise, min(WARMEST, max(COLDEST, temperature)), self.compensation)
