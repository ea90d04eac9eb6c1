"""What names say: words of topics and pointers, the quantity or unit in them, and whose value it is."""

from __future__ import annotations

import re


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


#: Word -> kind of quantity.
WORDS: dict[str, str] = {
    **dict.fromkeys(("volt", "volts", "voltage", "voltages", "v", "u", "mv", "millivolt", "millivolts"), "voltage"),
    **dict.fromkeys(("vdc", "vac", "uac", "vbat", "vbatt", "ubat", "ubatt"), "voltage"),
    **dict.fromkeys(("current", "currents", "amp", "amps", "ampere", "amperes", "a", "i", "ma"), "current"),
    **dict.fromkeys(("milliamps", "shunt", "ibat", "ibatt", "iac"), "current"),
    **dict.fromkeys(("power", "watt", "watts", "w", "p", "kw", "kilowatt", "kilowatts", "pac"), "power"),
    **dict.fromkeys(("temp", "temps", "temperature", "temperatures", "celsius", "fahrenheit", "degc", "degf"),
                    "temperature"),
    **dict.fromkeys(("tempc", "tempf", "tbat", "tbatt", "probe", "t"), "temperature"),
    **dict.fromkeys(("air", "ambient", "outdoor", "outside"), "temperature"),
    **dict.fromkeys(("hydrogen", "h2"), "hydrogen"),
    **dict.fromkeys(("gravity", "sg", "hydrometer"), "gravity"),
    **dict.fromkeys(("level",), "level"),
    **dict.fromkeys(("fan", "ventilator", "vent"), "fan"),
    **dict.fromkeys(("door", "hatch"), "door"),
}  # fmt: skip
#: A full word decides against a letter; "shunt" and "probe" say only where something is measured.
WEAK = frozenset({"v", "u", "a", "i", "w", "p", "t", "shunt", "probe", "vent", "air", "ambient", "outdoor", "outside"})
#: Canonical unit -> word -> the unit that it names.
_UNITS: dict[str, dict[str, str]] = {
    "V": dict.fromkeys(("mv", "millivolt", "millivolts"), "mV"),
    "A": dict.fromkeys(("ma", "milliamps"), "mA"),
    "W": dict.fromkeys(("kw", "kilowatt", "kilowatts"), "kW"),
    "degC": {
        **dict.fromkeys(("celsius", "degc", "tempc"), "degC"),
        **dict.fromkeys(("fahrenheit", "degf", "tempf"), "degF"),
    },
}
_LETTERS = {"c": "degC", "f": "degF"}
#: A letter counts as degrees right behind one of these only.
_DEGREES = frozenset({"temp", "temps", "temperature", "temperatures", "deg", "t"})
#: The last words of what is no measurement of a bank: settings, bounds, counters, the radio.
NOT_OURS = _set(
    "soc rssi lqi snr uptime humidity pressure energy kwh wh ah mah count counter version percent heap channel index "
    "illuminance linkquality frequency port ttl seq sequence firmware setpoint setpoints target targets limit limits "
    "max min maximum minimum low high alarm alarms threshold thresholds nominal rated offset calibration gain raw adc "
    "updated timestamp epoch seen interval duration resolution id error errors"
)
AIR = frozenset({"air", "ambient", "room", "outdoor", "outside", "indoor"})
ACID = _set("cell probe battery batt bat bank electrolyte acid case block tbat tbatt vbat vbatt ubat ubatt ibat ibatt")
AC = frozenset({"ac", "mains", "grid", "generator", "outlet", "plug", "socket", "vac", "uac", "iac", "pac"})
#: Other circuits: theirs, unless a battery is named as well ("solar/battery/voltage").
CIRCUITS = _set(
    "pv solar panel array load loads consumption charger supply usb dcdc converter inverter alternator wind turbine "
    "input output discharge"
)
#: Other things altogether, with or without a battery of their own.
THINGS = _set(
    "phone cpu board chip disk router modem fridge freezer stove boiler oven tank water car van vehicle starter engine "
    "remote button thermostat"
)
#: Last parts of a topic that say nothing.
EMPTY = frozenset({"state", "value", "get", "status", "reading"})
_SUFFIX = re.compile(r"(.*?)(mV|mA|kW|degC|degF|kWh|mAh|Ah)")


def words_of(text: str) -> list[str]:
    """Lower-case words of a topic or pointer.

    >>> words_of("hut/cellTemp_1/dc-mV/currentmA/temp_degF")
    ['hut', 'cell', 'temp', '1', 'dc', 'mv', 'current', 'ma', 'temp', 'degf']
    """
    words: list[str] = []
    for part in re.split(r"[^A-Za-z0-9]+", text):
        unit = _SUFFIX.fullmatch(part)
        # "streamA" is no mA: what stands before a unit has to be a quantity, or nothing.
        stem, tail = unit.groups() if unit and (not unit[1] or unit[1].lower() in WORDS) else (part, "")
        words += re.sub(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Za-z])(?=\d)", " ", stem).lower().split()
        words += [tail.lower()] if tail else []
    return words


def unit_named(words: list[str], canonical: str) -> str | None:
    """The unit that a name says, of those that measure this canonical one.

    >>> unit_named(["temp", "f"], "degC"), unit_named(["current", "ma"], "A"), unit_named(["f", "temp"], "degC")
    ('degF', 'mA', None)
    """
    units = _UNITS.get(canonical, {})
    for before, word in zip(["", *words], words, strict=False):
        if word in units:
            return units[word]
        if canonical == "degC" and word in _LETTERS and before in _DEGREES:
            return _LETTERS[word]
    return None


def named(words: list[str]) -> tuple[str, bool] | None:
    """The word that names a quantity, and whether it is a full one; the last full one decides.

    "current" before a word that is nothing of the kind is the adjective (``current_page``).

    >>> named(["current", "temperature"]), named(["shunt", "v"]), named(["current", "page"]), named(["page"])
    (('temperature', True), ('v', False), ('current', False), None)
    """
    found = [place for place, word in enumerate(words) if word in WORDS]
    full = [place for place in found if words[place] not in WEAK]
    if not found:
        return None
    place = (full or found)[-1]
    after = words[place + 1 :]
    adjective = words[place] == "current" and bool(after) and not (len(after[0]) < 3 or after[0] in _NOUNS)
    return words[place], bool(full) and not adjective


#: What may follow a current as noun.
_NOUNS = ACID | AC | CIRCUITS | EMPTY | {"string", "total", "sensor", "net", "amps", "now", "avg", "average", "main"}
