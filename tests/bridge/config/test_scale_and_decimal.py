"""A bare shunt's millivolts, a converter's counts and a decimal comma, as people write them in the cabin file."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge import config
from bridge.errors import ConfigError
from bridge.message import Message

HEAD = """[site]
id = "tarn-hut"
[[bank]]
id = "north"
blocks = { per_string = 4, cells = 3, capacity = "200 Ah" }
[[bank.meter]]
topic = "cabin/x"
"""


def decoded(tmp_path: Path, meter: str, payload: str) -> list[float]:
    (tmp_path / "cabin.toml").write_text(HEAD + meter)
    routes = config.load(tmp_path / "cabin.toml").routes
    return [reading.value for reading in routes.decode(Message("cabin/x", payload.encode(), 1795590000.0)).readings]


CURRENT = 'quantity = "current"\n'


# IEC 60051 names 50, 60, 75 and 100 mV as shunts' usual drops (from memory); amps are volts over ohms in proportion.
@pytest.mark.parametrize(
    ("meter", "payload", "amps"),
    [
        ('scale = "50 mV = 100 A"', "12.5", 25.0),
        ('scale = "75 mV = 200 A"\nsign = "discharging"', "-15", 40.0),
        ('scale = "50 mV = 100 A"\nunit = "V"', "0.0125", 25.0),
        ('scale = "50 mV = 100 A"', "12500 uV", 25.0),
        ('scale = "60mV=500A"\noffset = "0.5 A"', "6", 50.5),
        ('scale = "4000 = 200 A"', "1000", 50.0),
        ('style = "json"\npointer = "/s"\nscale = "50 mV = 100 A"', '{"s": 12.5}', 25.0),
        ('unit = "A"\ndecimal = ","', "25,31", 25.31),
        ('unit = "A"\ndecimal = ","', "25,31 A", 25.31),
        ('unit = "A"\ndecimal = ","', "25.31", 25.31),
        ('style = "json"\npointer = "/s"\nunit = "A"\ndecimal = ","', '{"s": "-3,5"}', -3.5),
    ],
)
def test_raw_numbers_become_amps_as_the_file_says(tmp_path: Path, meter: str, payload: str, amps: float) -> None:
    assert decoded(tmp_path, CURRENT + meter, payload) == pytest.approx([amps])


def test_a_lone_f_is_fahrenheit_behind_the_number_of_a_thermometer_and_nowhere_else(tmp_path: Path) -> None:
    probe = 'quantity = "electrolyte_temperature"\nplaced = "cell"\n'
    assert decoded(tmp_path, probe + 'unit = "degF"', "77 F") == pytest.approx([25.0])
    assert decoded(tmp_path, probe + 'unit = "degC"', "77 F") == pytest.approx([25.0])  # it went over to the other
    assert decoded(tmp_path, probe + 'unit = "K"', "77 F") == []
    assert decoded(tmp_path, CURRENT + 'unit = "A"', "77 F") == []
    assert decoded(tmp_path, probe + 'unit = "degF"\ndecimal = ","', "77,9 F") == pytest.approx([25.5])


def test_a_comma_without_the_key_and_an_amp_where_millivolts_are_due_are_refused(tmp_path: Path) -> None:
    assert decoded(tmp_path, CURRENT + 'unit = "A"', "25,31") == []
    assert decoded(tmp_path, CURRENT + 'unit = "A"\ndecimal = ","', "1.025,31") == []
    assert decoded(tmp_path, CURRENT + 'scale = "50 mV = 100 A"', "12.5 A") == []


@pytest.mark.parametrize(
    ("meter", "words"),
    [
        ('scale = "50 mV"', 'write it as it is printed, "50 mV = 100 A"'),
        ('scale = "50 mV = 100 V"', 'unit "V" is no current'),
        ('scale = "0 mV = 100 A"', "cannot be read"),
        ('style = "homie"\nscale = "50 mV = 100 A"', "scale belongs to plain and json"),
    ],
)
def test_a_scale_that_cannot_be_is_named_with_the_fix(tmp_path: Path, meter: str, words: str) -> None:
    (tmp_path / "cabin.toml").write_text(HEAD + CURRENT + meter)
    with pytest.raises(ConfigError, match=words):
        config.load(tmp_path / "cabin.toml")
