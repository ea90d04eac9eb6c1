"""What charging does to the room and to the cells: gas, air, water, warmth, frost."""

from __future__ import annotations

from math import ceil

from rules.bank import Bank
from rules.hand import reserve
from rules.laws import (
    AGED,
    EXCHANGE,
    finishing_current,
    gassing_current,
    gassing_heat,
    hours_to_fraction,
    hydrogen_rate,
    level_drop,
    opening_area,
    oxygen_rate,
    ventilation_needed,
    water_rate,
)
from rules.plan.input import COMMON, Charger, Figure, Found, PlanInput
from rules.safety import TOP_UP_AT, UNKNOWN_GRAVITY, coldest_to_charge

#: Free surface of acid over the plates, per ampere-hour of one cell [cm^2/Ah]; usual case, no source.
SURFACE = 0.6
#: A 6 V 200 Ah block among others: warming per watt [K/W] and time constant [h]; by parts of a usual block, no source.
WARMING, WARMING_TIME = 0.83, 6.9
#: Fewer amps than this in the hold are none, as a share of C20 per string [1/h]; common practice, no source.
LEAST_HOLD = 0.01
#: So much water and more is told in tenths [L].
IN_TENTHS = 10.0
#: No room is asked about that is colder [degC].
COLDEST_ROOM = -20


#: Where air and openings come from.
STATIONARY = "EN 50272-2 / IEC 62485-2, the whole current taken as gassing"


def gas(bank: Bank, amps: float, charger: Charger, given: PlanInput) -> list[Figure]:
    """Return hydrogen and air at the most that the charger is set to.

    The step beside it says what the charger's full current needs where that is more: whoever forgets to cap it must
    have read so.

    Parameters
    ----------
    bank : Bank
        As configured.
    amps : float
        Most that is set today [A].
    charger : Charger
        That will be used.
    given : PlanInput
        The room.

    Returns
    -------
    list of Figure
        In [L/h], [m^3/h], [cm^2] and [h].

    Raises
    ------
    ValueError
        A room without volume.
    """
    inputs = {"amps [A]": amps, "cells in series": bank.cells, "charger [A]": charger.amps}
    hydrogen = hydrogen_rate(amps, bank.cells)
    air = ventilation_needed(amps, bank.cells)
    oxygen, faraday = oxygen_rate(amps, bank.cells), "Faraday's law, CODATA"
    figures = [
        Figure("hydrogen", hydrogen, "L/h", "0.4564 L/Ah x cells x amps (25 degC)", inputs, faraday),
        Figure("oxygen", oxygen, "L/h", "half the hydrogen", inputs, faraday),
        Figure("air", air, "m^3/h", "0.0504 x cells x amps", inputs, STATIONARY),
        Figure("opening, in and out each", opening_area(air), "cm^2", "28 x air", {"air [m^3/h]": air}, STATIONARY),
    ]
    if given.shed_volume is not None:
        closed = hours_to_fraction(given.shed_volume, hydrogen)
        inputs = {"room [m^3]": given.shed_volume, "hydrogen [L/h]": hydrogen}
        figures.append(
            Figure(
                "hours to 1 % if closed", closed, "h", "0.01 x room / hydrogen, well mixed", inputs, "volume balance"
            )
        )
    return figures


def openings(bank: Bank, amps: float, charger: Charger, given: PlanInput) -> list[Figure]:
    """Return amps for which the openings that the owner has carry enough air.

    Parameters
    ----------
    bank : Bank
        As configured.
    amps : float
        That would be set without them [A].
    charger : Charger
        That will be used.
    given : PlanInput
        The room.

    Returns
    -------
    list of Figure
        In [A]; none where nobody said how large they are.

    Raises
    ------
    ValueError
        Never for a valid bank.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("n", (tuple(Block(f"N{n}", 3, 225.0) for n in range(8)),))
    >>> charger, given = Charger("charger", 64.0, 30.0), PlanInput((), opening=645.16)
    >>> [round(figure.value) for figure in openings(bank, 29.25, charger, given)]
    [19]
    """
    if given.opening is None:
        return []
    air = ventilation_needed(amps, bank.cells)
    return [
        Figure(
            "amps the openings carry",
            given.opening / opening_area(ventilation_needed(1.0, bank.cells)),
            "A",
            "opening / (28 x 0.0504 x cells), one low and one high",
            {
                "opening [cm2]": given.opening,
                "cells in series": bank.cells,
                "amps without them [A]": amps,
                "charger": "fixed" if charger.fixed else "can be set",
                "air for these [m3/h]": air,
                "opening for these [cm2]": opening_area(air),
            },
            STATIONARY,
        )
    ]


def _up(value: float, digits: int) -> float:
    """Return a value rounded up, so that text and figure, in whatever measure, name one that is enough."""
    return ceil(round(value * 10.0**digits, 6)) / 10.0**digits


def water(found: Found) -> list[Figure]:
    """Return water each cell may lose in the longest hold, and how long the reserve above the plates lasts.

    Parameters
    ----------
    found : Found
        The bank as found, with its reserve where known.

    Returns
    -------
    list of Figure
        In [g], [mm] and [h].

    Raises
    ------
    ValueError
        Never for a valid bank.
    """
    bank = found.bank
    capacity = min(bank.string_capacities)
    rate = water_rate(finishing_current(capacity))
    inputs: dict[str, float | str] = {"C20 [Ah]": capacity, "longest hold [h]": bank.hold.maximum}
    lost = rate * bank.hold.maximum
    formula = "0.336 g/Ah x 0.06 x C20 x hours: every ampere makes gas, an upper bound"
    drop = round(level_drop(lost, SURFACE * capacity), 1)
    figures = [
        Figure("water per cell over the hold", lost, "g", formula, inputs, "Faraday's law, CODATA"),
        Figure(
            "level falls over the hold",
            drop,
            "mm",
            "water / free surface, 0.6 cm2 per Ah",
            {"water [g]": lost, "C20 [Ah]": capacity},
            "geometry of a usual case, no source",
        ),
    ]
    cells = bank.cells * len(bank.strings)
    litres = lost * cells / 1000.0
    figures.append(
        Figure(
            "distilled water for the hold",
            _up(litres, 2 if litres < IN_TENTHS else 1),
            "L",
            "water per cell x cells x strings / 1000 g/L, rounded up",
            {"water [g]": lost, "cells in all": cells},
            "Faraday's law, CODATA",
        )
    )
    surface = SURFACE * capacity
    if found.reserve is not None:
        above, known = max(0.0, found.reserve), "measured"
    else:
        above = level_drop(reserve(bank), surface)
        known = "counted as 0.6 g per Ah" if bank.water_reserve is None else "from the cabin file"
    figures.append(
        Figure(
            "hours until topping up",
            TOP_UP_AT * above / level_drop(rate, surface),
            "h",
            "50 % of the level above the plates / fall per hour",
            {"above plates [mm]": above, "known": known, "fall [mm/h]": level_drop(rate, surface)},
            "geometry of a usual case, no source",
        )
    )
    return figures


def warming(found: Found, amps: float, given: PlanInput) -> list[Figure]:
    """Return hottest electrolyte expected in the longest hold; between a sound and an aged battery.

    Parameters
    ----------
    found : Found
        With the place of its probe.
    amps : float
        Highest the charger gives in the hold, all strings [A].
    given : PlanInput
        Air.

    Returns
    -------
    list of Figure
        In [degC] and [A]; where the air's temperature is unknown, the one from which on the hold would be too warm.

    Raises
    ------
    ValueError
        Equalising volts outside the gassing law.
    """
    bank = found.bank
    block = max((block for string in bank.strings for block in string), key=lambda block: block.cells * block.capacity)
    per_watt = WARMING * (600.0 / (block.cells * block.capacity)) ** (2.0 / 3.0)
    share = amps / len(bank.strings)

    def hottest(exchange: float, air: float) -> float:
        volts, temperature, step = bank.equalise_at(air), air, 0.1
        for _ in range(round(bank.hold.maximum / step)):
            law = gassing_current(volts, min(60.0, max(-20.0, temperature)), block.capacity, exchange)
            watts = block.cells * gassing_heat(min(share, law), volts)
            temperature += step * (per_watt * watts - (temperature - air)) / WARMING_TIME
        return temperature

    limit = bank.limits.temperature_case if found.probe == "case" else bank.limits.temperature
    if given.ambient is None:
        rooms = range(COLDEST_ROOM, ceil(limit) + 1)
        warm = next((air for air in rooms if hottest(AGED * EXCHANGE, float(air)) > limit), ceil(limit))
        return [
            Figure(
                "room too warm for the hold, from",
                float(warm),
                "degC",
                "the coldest room in which an aged block passes the limit at the amps that are enough",
                {"amps per string [A]": share, "K/W": per_watt, "limit [degC]": limit, "probe": found.probe},
                "J. Schiffer et al. 2007 for gassing; warming by parts of a usual block, no source",
            )
        ]
    volts = bank.equalise_at(given.ambient)
    heat_per_ampere = block.cells * gassing_heat(1.0, volts)
    cap = max(0.0, limit - 1.0 - given.ambient) / (per_watt * heat_per_ampere)
    inputs: dict[str, float | str] = {
        "air [degC]": given.ambient,
        "equalise [V/cell]": volts,
        "amps per string [A]": share,
        "K/W": per_watt,
    }
    law = "J. Schiffer et al. 2007 for gassing; warming by parts of a usual block, no source"
    return [
        Figure(
            "hottest electrolyte in the hold",
            hottest(EXCHANGE, given.ambient),
            "degC",
            "dT/dt = (K/W x cells x I x (V - 1.481) - (T - air)) / 6.9 h; I gassing at T, up to the amps set",
            inputs,
            law,
            hottest(AGED * EXCHANGE, given.ambient),
        ),
        Figure(
            "temperature limit",
            limit,
            "degC",
            "the lower one for a probe on the case, as the owner set them",
            {"probe": found.probe},
            "guide specification, 110 degF",
        ),
        Figure(
            "amps per string that stay under the limit",
            cap,
            "A",
            "(limit - 1 K - air) / (K/W x cells x (V - 1.481))",
            inputs,
            law,
        ),
    ]


def too_warm(found: Found, figures: dict[str, Figure], ambient: float | None) -> tuple[str, ...]:
    """Say that the room is too warm for any hold, where the amps that stay under the limit are too few to be one.

    Parameters
    ----------
    found : Found
        The bank as found.
    figures : dict
        Name -> figure.
    ambient : float or None
        Air in the room [degC].

    Returns
    -------
    tuple of str
        A reason not to begin, or nothing.
    """
    cap = figures.get("amps per string that stay under the limit")
    hot = figures.get("hottest electrolyte in the hold")
    if ambient is None or cap is None or hot is None:
        return ()
    limit = figures["temperature limit"].value
    if hot.value <= limit or cap.value >= LEAST_HOLD * min(found.bank.string_capacities):
        return ()
    return (
        f"the room at {ambient:.0f} degC is too warm: the hold would pass {limit:.1f} degC at any amps that are a "
        "hold. Do not begin; wait for cooler days or move the bank to a cooler room",
    )


def frost(found: Found) -> Figure:
    """Return coldest electrolyte at which charging may begin.

    Parameters
    ----------
    found : Found
        With the lowest gravity, where one was read.

    Returns
    -------
    Figure
        In [degC].
    """
    known: dict[str, float | str] = {"gravity": UNKNOWN_GRAVITY, "known": "no, counted as 1.05"}
    return Figure(
        "coldest for charging",
        # Up to a whole degree: sheet and step name one figure, and never a colder one.
        float(ceil(round(coldest_to_charge(found.gravity), 3))),
        "degC",
        "freezing point of the weakest cell + 3 K, up to a whole degC, not under the coldest that is charged",
        known if found.gravity is None else {"gravity": found.gravity, "known": "yes"},
        "US Army TM 5-1185; the margin and the coldest are " + COMMON,
    )
