"""The commented starting file, and the three questions that fill it in."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import NamedTuple, TypeVar

from bridge import units

T = TypeVar("T")

#: Batteries are named by 2 V for each cell: a 6 V block has three.
NAMED_BY = 2.0


class Answers(NamedTuple):
    """What the three questions ask.

    Attributes
    ----------
    volts, block_volts : float
        What the bank, and what one block, is called [V].
    strings : int
        In parallel.
    capacity : float
        One block's rated capacity at the 20-hour rate [Ah].
    chargers : tuple of (float, float, float)
        Settings in the order of use: volts [V], amps [A], bank volts at which it starts [V] or 0.
    placed : str
        ``cell`` or ``case``.
    """

    volts: float = 24.0
    strings: int = 2
    block_volts: float = 6.0
    capacity: float = 200.0
    chargers: tuple[tuple[float, float, float], ...] = ((28.8, 50.0, 0.0), (32.0, 50.0, 0.0))
    placed: str = "cell"


def starting_file(answers: Answers | None = None) -> str:
    """Return a complete cabin file with every key explained; it loads as it stands, watch only."""
    chosen = answers or Answers()
    per_string = round(chosen.volts / chosen.block_volts)
    chargers = ", ".join(
        f'{{ volts = "{volts:g} V", amps = "{amps:g} A"' + (f', starts_at = "{start:g} V"' if start else "") + " }"
        for volts, amps, start in chosen.chargers
    )
    text = _TEMPLATE
    for key, value in {
        "<strings>": str(chosen.strings),
        "<per_string>": str(per_string),
        "<cells>": str(round(chosen.block_volts / NAMED_BY)),
        "<capacity>": f"{chosen.capacity:g} Ah",
        "<labels>": json.dumps([f"N{number}" for number in range(1, chosen.strings * per_string + 1)]),
        "<chargers>": f"[ {chargers} ]" if chargers else "[]",
        "<placed>": chosen.placed,
    }.items():
        text = text.replace(key, value)
    return text


def ask(answer: Callable[[str], str], say: Callable[[str], None]) -> Answers:
    """Put each of the three questions until its answer makes sense; an empty answer takes the example.

    Parameters
    ----------
    answer : callable
        Shows a question and returns what was typed.
    say : callable
        Shows a remark.
    """
    bank = _until(
        answer,
        say,
        "1. The bank: its volts, strings in parallel, volts and ampere-hours of one block\n"
        "   [24 V, 2 strings, 6 V, 200 Ah]: ",
        _read_bank,
    )
    chargers = _until(
        answer,
        say,
        "2. The charger: volts and amps of each setting in the order of use, or - if not known\n"
        "   [28.8 V 50 A, 32 V 50 A]: ",
        lambda text: read_chargers(text) if text else Answers().chargers,
    )
    placed = _until(
        answer,
        say,
        "3. The temperature probe: in the electrolyte of a cell, or outside on a case? [cell / case]: ",
        _read_placed,
    )
    return bank._replace(chargers=chargers, placed=placed)


def _until(answer: Callable[[str], str], say: Callable[[str], None], question: str, read: Callable[[str], T]) -> T:
    while True:
        try:
            return read(answer(question).strip())
        except ValueError as error:
            say(f"   {error}")


def _read_bank(text: str) -> Answers:
    if not text:
        return Answers()
    numbers = [float(number) for number in re.findall(r"\d+(?:\.\d+)?", text)]
    try:
        volts, strings, block_volts, capacity = numbers
    except ValueError:
        raise ValueError("four numbers, please: bank volts, strings, block volts, ampere-hours") from None
    if min(numbers) <= 0 or strings != int(strings) or volts % block_volts or block_volts % NAMED_BY:
        raise ValueError(
            f"{volts:g} V cannot be made of {block_volts:g} V blocks in {strings:g} strings: "
            "blocks are 2, 4, 6, 8 or 12 V, and the bank a multiple of them"
        )
    return Answers(volts, int(strings), block_volts, capacity)


def read_chargers(text: str) -> tuple[tuple[float, float, float], ...]:
    """Return charger settings as people write them: volts [V], amps [A], bank volts at which it starts [V] or 0.

    >>> read_chargers("28.8 V 50 A from 20 V, 32 50")
    ((28.8, 50.0, 20.0), (32.0, 50.0, 0.0))
    >>> read_chargers("28,8 V 50 A, 32 V 50 A")
    ((28.8, 50.0, 0.0), (32.0, 50.0, 0.0))
    >>> read_chargers("32 V, 30 A"), read_chargers("28,8 V,50 A, 32 V, 50 A")
    (((32.0, 30.0, 0.0),), ((28.8, 50.0, 0.0), (32.0, 50.0, 0.0)))
    """
    text = as_settings(text)
    if text == "-":
        return ()
    settings = []
    # between volts and the amps of the same setting a comma is none between two settings
    for part in re.sub(r"(?i)(?<=V)\s*,(?=\s*[\d.]+\s*m?A\b)", " ", text).split(","):
        found = re.fullmatch(
            r"\s*([\d.]+\s*m?V?)\s+([\d.]+\s*m?A?)(?:\s+from\s+([\d.]+\s*V?))?\s*", part, re.IGNORECASE
        )
        if found is None:
            raise ValueError(f'"{part.strip()}" is no charger setting: write volts and amps, as in 28.8 V 50 A')
        volts, amps, start = found.groups()
        settings.append((_with_unit(volts, "V"), _with_unit(amps, "A"), _with_unit(start, "V") if start else 0.0))
    return tuple(settings)


#: A number of a setting, and what stands between two volts of one charger that gives the same amps at both.
_ONE, _LATER = r"(\d+(?:\.\d+)?)", r"(?:and\s+then|and|then|later)"


def as_settings(text: str) -> str:
    """Return charger settings that were said in words or in quotes as they are written.

    >>> as_settings('"28.8 volts 30 amps"'), as_settings("28.8 volts and 32 volts equalise, 30 amps")
    ('28.8 V 30 A', '28.8 V 30 A, 32 V 30 A')
    """
    text = re.sub(r"(?<=\d),(?=\d)", ".", text.strip().strip("\"'").strip())  # between digits it is a decimal comma
    text = re.sub(r"(?i)(?<=[\d ])volts?\b", "V", text)
    text = re.sub(r"(?i)(?<=[\d ])amp(?:ere)?s?\b", "A", text)
    two = rf"{_ONE}\s*V,?\s+{_LATER}\s+{_ONE}\s*V(?:\s+equali[sz]e)?,?\s+{_ONE}\s*A"
    both = re.fullmatch(two, text, re.IGNORECASE)
    return text if both is None else f"{both[1]} V {both[3]} A, {both[2]} V {both[3]} A"


def _with_unit(word: str, unit: str) -> float:
    return units.parse(word if word[-1].isalpha() else word + unit, unit)


def _read_placed(text: str) -> str:
    placed = (text or "cell").lower()
    if placed not in {"cell", "case"}:
        raise ValueError("cell or case, please: it decides which temperature limit counts")
    return placed


_TEMPLATE = """\
# A cabin file: what the bridge watches and how. Check it with: revival check --config cabin.toml
# Quantities are written with their unit, "110 degF", "200 Ah"; relative paths start at this file's folder.
# Secrets never stand here: only the name of a file, or of an environment variable, that holds one.

[site]
id = "tarn-hut"                  # lower case letters, digits and hyphens; part of every topic the bridge publishes
# root = "homie/5"               # where on the bus its states appear
# deadband = { volts = "0.02 V", amps = "0.1 A", degrees = "0.1 K" }   # what moves less waits for the next state
# temperature = "degF"           # or "degC": for people, on page, plan and paper; with "degF" water, room and air in US
                                 # units too; left out: as the thermometers below say it
# openings = "600 cm^2"          # each of the room's two for air, one low and one high, also "100 sq in": the plan caps
                                 # the charger at what they carry
# time_source = "auto"           # what makes the clock trusted: auto, ntp, rtc, or a topic on which the time is told

[broker]
host = "localhost"
port = 1883
# protocol = "5"                 # or "3.1.1" for a broker that speaks no MQTT 5; reset and resume then only by hand
# username = "revival"
# password_file = "/run/secrets/broker"        # or password_env = "NAME"
# tls = true
# ca_file = "ca.pem"             # only for a private certificate authority
# certificate_file = "client.pem"
# key_file = "client.key"
# keepalive = "15 s"
# client_prefix = "revival"      # a second bridge on the same broker needs another one; a part that no other
                                 # account can know is added, made of the password: with another password the
                                 # broker keeps what waits under the old name, so change it when nothing waits
# in_flight = 1000               # the broker's max_inflight_messages, if you know it: from 500 on the card is spared;
                                 # one that sends fewer than 10 before it waits (some send 1) needs its number here,
                                 # or stamped readings come later and later

[[bank]]
id = "north"
kind = "flooded"                 # sealed, gel and AGM are refused: they must not be equalised like this
strings = <strings>                      # in parallel
# One string: blocks in series, cells in each block, rated ampere-hours at the 20-hour rate, and what is written on the
# cases, string after string (A1, A2 ... B1 where left out).
blocks = { per_string = <per_string>, cells = <cells>, capacity = "<capacity>", labels = <labels> }
# Charger settings in the order in which you will use them; an empty list means: learn them. Many a charger starts only
# on a bank that still shows some volts: starts_at = "20 V" beside volts and amps tells the plan.
chargers = <chargers>
equalise = "2.67 V"              # per cell, at 25 degC
hold = { minimum = "16 h", maximum = "24 h", starts = "at-voltage" }     # or starts = "at-current", tail = "9 A"
# Where harm begins; what is left out takes the trade's value.
limits = { temperature = "110 degF", cell_voltage = "2.75 V" }
# further limits: temperature_case = "40 degC", temperature_warning = "38 degC", temperature_resume = "37.8 degC",
#                 temperature_absolute = "51.7 degC", string_current = "30 A", hydrogen = "1 percent"
# charger_compensation = "-4 mV/K"             # per cell, if the charger corrects for temperature
# full_gravity = 1.265
# zero_offset = "0.0 A"          # what the current meter shows at true zero; subtracted
# hydrometer_reference = "80 degF"             # for which the hydrometer is made; "20 degC" is printed on others
# water_reserve = "120 g"        # water above the plates, per cell
# presence = "12 h"              # somebody looks in at least so often; after 15 min and 1 h in any case
# automatic_resume = { allowed = true, rest = "30 min", times = 3 }      # after an over-temperature trip only
# power_factor = 0.99            # for an AC meter: 0.65 and 0.80 for a plain charger without correction
# charger_efficiency = 0.88
# ac_voltage = "120 V"           # mains at the charger's outlet ("230 V" elsewhere): for the plan, and for amps read at
                                 # it by hand, which are not taken without; nothing is assumed

# Meters: which topic carries what. style: plain (26.31 or 26.31 V), json (with a JSON Pointer), pairs (of
# V=26.31 A=9.2, with a pointer such as "/V"; of 26.31;9.2 "/0" is the first), senml (with the full name), homie (unit
# from the device's own description). Exact topics, no wildcards.
[[bank.meter]]
topic = "cabin/shunt"
style = "json"
pointer = "/dc/mv"
quantity = "voltage"
unit = "mV"
time = "/t"                      # the meter's own time, where it sends one: late samples then keep their place
# every = "5 s"                  # how often it reports; learned where left out
# resolution = "10 mV"           # the smallest step it shows

[[bank.meter]]
topic = "cabin/shunt"
style = "json"
pointer = "/dc/a"
quantity = "current"
unit = "A"
sign = "charging"                # what a positive number means; "discharging" turns it round
# offset = "0.0 A"               # added after conversion

[[bank.meter]]
topic = "cabin/probe1"
style = "plain"
quantity = "electrolyte_temperature"
unit = "degF"
placed = "<placed>"                  # "cell": in the electrolyte; "case": outside, with a stricter limit

# What else a meter can measure: power, ambient_temperature, block_voltage (index = "N1"), midpoint_voltage,
# cell_voltage (index = "N1.2"), string_current (index = "1"), ac_voltage, ac_current, ac_power, hydrogen, fan, door,
# gravity, level.
# [[bank.meter]]
# topic = "homie/5/room/air/temperature"
# style = "homie"
# quantity = "ambient_temperature"
#
# [[bank.meter]]
# topic = "cabin/bare-shunt"
# quantity = "current"
# scale = "50 mV = 100 A"        # a bare shunt whose millivolts are sent: as printed on it, instead of unit
# decimal = ","                  # for a meter that writes 12,5 as text
#
# [[bank.meter]]
# topic = "cabin/string1"
# style = "senml"
# name = "string1/current"       # base name included
# quantity = "string_current"
# index = "1"
# time = "t"
#
# [[bank.meter]]
# topic = "cabin/fan"
# quantity = "fan"               # a contact: on/off, true/false, 1/0, or words of its own
# on = "RUN"
# off = "STOP"

# The charger's relay. Leave it out for the first round: without it the bridge only watches. The relay switches the
# charger's AC feed; a hardware thermal cut-out and fuses are the protection, this is an extra layer.
# [bank.relay]
# topic = "cabin/charger/set"
# cut = "OFF"
# allow = "ON"
# state_topic = "cabin/charger/state"
# state_pointer = "/state"       # where the state is inside a JSON document
# state_open = "OFF"             # the words it reports, where they differ from cut and allow
# state_closed = "ON"
# auto_off = "90 s"              # it opens by itself so long after the last allow: covers loss of broker and network
#                                # "none" where it has none; left out, nothing is permitted to charge
# power_on = "open"              # what you set in the relay itself: open when its own power comes back

# A relay that takes the load off at the end of a capacity test; it is told to cut and never to close.
# [bank.load_relay]
# topic = "cabin/load/set"
# cut = "OFF"

# One meter for all banks: outside any bank, with {bank} where the topics differ.
# [[meter]]
# topic = "cabin/{bank}/power"
# quantity = "power"
# unit = "W"

[journal]
path = "revival.db"              # beside this file; beside one in /etc/revival it would be /var/lib/revival/revival.db
keep = "90 days"
at_most = "2 GB"

# [influxdb]
# url = "http://localhost:8086"
# org = "hut"
# bucket = "revival"
# token_file = "/run/secrets/influx"           # or token_env = "NAME"
# A server before 1.8 (Debian's influxdb) knows neither; instead of these three:
# database = "revival"                         # and, where it asks for one, username and password_file

# Messages to people, with the extra "notify" installed: one service URL on each line of a file of its own, because it
# holds a password. A message may come late or never: it replaces no thermal cut-out and nobody who looks in.
# [notify]
# urls_file = "/run/secrets/notify"            # or urls_env = "NAME"; mailto://..., ntfy://..., mqtt://... and others
# repeat = "15 min"              # a trip is told again until it is reset or a look is noted
# digest = "07:00"               # chores, once a day
# quiet = ["22:00", "06:30"]     # only trips pass
# alive_url_file = "/run/secrets/alive"        # fetched while the bridge is well, so that an outside watcher can
# alive_every = "10 min"                       # tell that the cabin is gone

# For who looks after many cabins, with the extra "fleet" installed: the journal as files, for `revival fleet`. The keys
# of a store stand in the environment, never here. Nothing comes back, and nobody there can order a relay.
# [parcels]
# where = "parcels"              # a folder, or a URL such as "s3://bucket/parcels?region=..."
# every = "1 h"                  # one file of each table at most so often; "1 min" for a trial
# tables = ["event", "hand", "state", "message"]                # and "reading", which costs a third more
# monthly = "300 MB"             # no more a month; a bank needs some 10 MB

# What `revival fleet learn` made of many rounds: a prior for the remaining hours, and for nothing else.
# [experience]
# file = "experience.toml"       # beside this file

# A home-automation hub that reads MQTT discovery documents: where it looks for them.
# [hub]
# discovery = "homeassistant"

# The live page, with the extra "page" installed. Without a token it only shows; with one, whoever holds it may enter
# readings and act. It listens to this host alone unless you say otherwise; on a network give it a certificate.
[page]
listen = "127.0.0.1:8170"        # "0.0.0.0:8170" for phones on this network; `revival page` prints the address
# token_file = "page-token"      # `revival page` makes it; or token_env = "NAME"; at least 16 characters
# certificate_file = "page.crt"  # then it speaks TLS alone, and phones keep it where there is no signal:
# key_file = "page.key"          # bridge/page/TLS.md makes both, step by step
"""
