"""What names say: words of topics and pointers, the quantity or unit in them, and whose value it is.

A name is evidence and no proof: `bridge.listen.evidence` says how much it counts beside physics.
"""

from __future__ import annotations

import re
from functools import lru_cache


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


#: Kind of quantity -> what people call it, in the languages that meters are named in; full words and letters apart.
_FULL: dict[str, str] = {
    "voltage": "volt volts voltage voltages mv millivolt millivolts vdc vac uac udc vbat vbatt ubat ubatt spannung "
    "tension tensione voltaje voltaggio voltagem spanning spaenning napeti napiecie",
    "current": "current currents amp amps ampere amperes ma milliamps ibat ibatt iac idc strom corriente corrente "
    "courant intensidad intensite stroom strom proud prad",
    "power": "power watt watts kw kilowatt kilowatts pac pdc leistung potencia puissance potenza vermogen effekt vykon",
    "temperature": "temp temps temperature temperatures celsius fahrenheit degc degf tempc tempf tbat tbatt "
    "temperatur temperatura temperaturen temperatuur teplota thermometer",
    "hydrogen": "hydrogen h2 wasserstoff hidrogeno hydrogene idrogeno waterstof hidrogenio",
    "gravity": "gravity sg hydrometer dichte densidad densite",
    "fan": "fan ventilator extractor blower luefter ventilador ventilateur ventola exhaust",
    "door": "door hatch dooropen tuer puerta porte porta deur",
    "level": "level",
}
_LETTERS_OF = {
    "voltage": "v u ub",
    "current": "a i ib shunt",
    "power": "w p pb",
    "temperature": "t probe air ambient outdoor outside",
    "fan": "vent",
}
#: Word -> kind of quantity.
WORDS: dict[str, str] = {
    word: kind for table in (_FULL, _LETTERS_OF) for kind, words in table.items() for word in words.split()
}
#: A full word decides against a letter; "shunt" and "probe" say only where something is measured.
WEAK = _set(" ".join(_LETTERS_OF.values()))
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
_DEGREE_LETTERS = {"c": "degC", "f": "degF"}
#: A letter counts as degrees right behind one of these only.
_DEGREES = frozenset({"temp", "temps", "temperature", "temperatures", "deg", "t"})
#: The last words of what is no measurement of a bank: settings, bounds, counters, the radio.
NOT_OURS = _set(
    "soc rssi lqi snr uptime humidity pressure energy kwh wh ah mah count counter version percent heap channel index "
    "illuminance linkquality frequency port ttl seq sequence firmware setpoint setpoints target targets limit limits "
    "max min maximum minimum low high alarm alarms threshold thresholds nominal rated offset calibration gain raw adc "
    "updated timestamp epoch seen interval duration resolution id error errors brightness progress total yield rpm "
    "speed hours hz frequenz frecuencia frequence vcc"
)
AIR = _set("air ambient room outdoor outside indoor ambiente raum luft zimmer ambiant aussen lucht aire aria")
#: What is filled with acid, told from a battery by name alone.
ELECTROLYTE = _set(
    "electrolyte acid cell elektrolyt saeure säure electrolito acido ácido acide elettrolita elektroliet zuur "
    "syra syre kwas"
)
#: Named after the liquid itself, which "cell" is not.
ACID_ITSELF = ELECTROLYTE - {"cell"}
BATTERY = _set(
    "battery batt bat bank akku batterie bateria baterias accu batteria accumulator lead plomo blei plomb "
    "tbat tbatt vbat vbatt ubat ubatt ibat ibatt"
)
ACID = ELECTROLYTE | BATTERY | {"probe", "case", "block"}
AC = _set(
    "ac mains grid generator outlet plug socket vac uac iac pac utility netz hausanschluss feed pontoon genset l1 l2 l3"
)
#: Other circuits: theirs, unless a battery is named as well ("solar/battery/voltage").
CIRCUITS = _set(
    "pv solar panel array load loads consumption charger supply usb dcdc converter inverter alternator wind turbine "
    "input output discharge rectifier rect rectificador wechselrichter wr1 rack psu ups motor laderegler "
    "ausgang eingang zwischenkreis dclink umrichter steuer"
)
#: Other things altogether, with or without a battery of their own.
THINGS = _set(
    "phone cpu board chip disk router modem fridge freezer stove boiler oven tank water car van vehicle starter engine "
    "remote button thermostat start starterbatterie arranque demarrage tractor truck accessory thruster bow coolant "
    "lithium li lfp lifepo lipo ebike printer nozzle bed motor bearing casing kitchen sea river pond teich"
)
#: Last parts of a topic that say nothing.
EMPTY = frozenset({"state", "value", "get", "status", "reading", "valor", "wert", "val", "sensor"})
CHARGER = _set("charger ladegeraet lader cargador chargeur caricatore lader charge feed chargerfeed")
ORDERS = _set("set cmnd command cmd switch order orden control befehl write")
STATES = _set("state stat status relaystate estado zustand feedback get etat")

_SUFFIX = re.compile(r"(.*?)(mV|mA|kW|degC|degF|kWh|mAh|Ah)")
#: Two words written as one are split only where both are known and long enough to be no accident.
_SHORTEST = 3
_GLUE = frozenset(
    word
    for table in (WORDS, ACID, AIR, AC, CIRCUITS, THINGS, NOT_OURS, {"string", "pack", "mid", "out", "in", "mitte"})
    for word in table
    if len(word) >= _SHORTEST
)


#: Behind anything at all these are a word of their own (``cellartemp``); shorter or commoner ends are not.
#: So do these, which German glues to whatever they belong to (``LADERAUMLUFTTEMP``).
_GERMAN = (
    "spannung",
    "strom",
    "leistung",
    "temperatur",
    "luft",
    "saeure",
    "säure",
    "batterie",
    "batt",
    "mitten",
    "netz",
    "wasserstoff",
    "lade",
)
_TAILS = ("volts", "volt", "amps", "watts", "temp", "temperature")


@lru_cache(maxsize=4096)
def words_of(text: str) -> list[str]:
    """Return the lower-case words of a topic or pointer, glued and cut ones taken apart.

    >>> words_of("hut/cellTemp_1/dc-mV/currentmA/temp_degF")
    ['hut', 'cell', 'temp', '1', 'dc', 'mv', 'current', 'ma', 'temp', 'degf']
    >>> words_of("barn/battvolt/string2amps/page"), words_of("streamA/probe_a")
    (['barn', 'batt', 'volt', 'string', '2', 'amps', 'page'], ['stream', 'a', 'probe', 'a'])
    """
    words: list[str] = []
    for part in re.split(r"[^A-Za-z0-9ÄÖÜäöüßáéíóúñçèà]+", text):
        unit = _SUFFIX.fullmatch(part)
        # "streamA" is no mA: what stands before a unit has to be a quantity, or nothing.
        stem, tail = unit.groups() if unit and (not unit[1] or unit[1].lower() in WORDS) else (part, "")
        for word in re.sub(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Za-z]{2})(?=\d)|(?<=\d)(?=[A-Za-z]{3})", " ", stem).split():
            words += _unglued(word.lower())
        words += [tail.lower()] if tail else []
    return words


def _unglued(word: str) -> list[str]:
    """Return the known words that a word is made of without remainder, else the word itself."""
    if word in _GLUE or len(word) < 2 * _SHORTEST:
        return [word]
    tail = next((tail for tail in _TAILS if word.endswith(tail) and len(word) - len(tail) >= _SHORTEST), None)
    german = next((end for end in _GERMAN if word.endswith(end) and len(word) - len(end) >= _SHORTEST), None)
    for cut in range(len(word) - _SHORTEST, _SHORTEST - 1, -1):
        if word[:cut] in _GLUE and word[cut:] in _GLUE:
            return [word[:cut], word[cut:]]
    if german is not None or tail == "temp":
        end = german or "temp"
        return [*_unglued(word[: -len(end)]), end]
    return [word[: -len(tail)], tail] if tail else [word]


def unit_named(words: list[str], canonical: str) -> str | None:
    """Return the unit that a name says, of those that measure this canonical one.

    >>> unit_named(["temp", "f"], "degC"), unit_named(["current", "ma"], "A"), unit_named(["f", "temp"], "degC")
    ('degF', 'mA', None)
    """
    units = _UNITS.get(canonical, {})
    for before, word in zip(["", *words], words, strict=False):
        if word in units:
            return units[word]
        if canonical == "degC" and word in _DEGREE_LETTERS and before in _DEGREES:
            return _DEGREE_LETTERS[word]
    return None


def named(words: list[str]) -> tuple[str, bool] | None:
    """Return the word that names a quantity, and whether it is a full one; the last full one decides.

    "current" before a word that is nothing of the kind is the adjective (``current_page``), and a letter behind a
    place is its label (``probe_a``, ``string_b``).

    >>> named(["current", "temperature"]), named(["shunt", "v"]), named(["current", "page"]), named(["page"])
    (('temperature', True), ('v', False), ('current', False), None)
    >>> named(["probe", "a"])
    ('probe', False)
    """
    found = [
        place
        for place, word in enumerate(words)
        if word in WORDS and not (word in {"a", "i"} and place and words[place - 1] in _LABELLED)
    ]
    full = [place for place in found if words[place] not in WEAK]
    if not found:
        return None
    place = (full or found)[-1]
    after = words[place + 1 :]
    adjective = words[place] == "current" and bool(after) and not (len(after[0]) < _SHORTEST or after[0] in _NOUNS)
    return words[place], bool(full) and not adjective


#: What carries a letter as its label.
_LABELLED = frozenset({"probe", "string", "sensor", "bank", "block", "tank", "stream", "lamp", "phase", "channel"})
#: What may follow a current as noun.
_NOUNS = ACID | AC | CIRCUITS | EMPTY | {"string", "total", "sensor", "net", "amps", "now", "avg", "average", "main"}
