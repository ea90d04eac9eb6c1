"""SenML against RFC 8428's own examples (sections 5.1.1 to 5.1.6) and rules; numbers of 5.1.5 and 5.1.6 from memory."""

from __future__ import annotations

import json

import pytest

from bridge.intake import Mapping, Routes
from bridge.intake.mapping import RejectError
from bridge.intake.senml import Record, resolved
from bridge.message import Message
from bridge.units import compile_unit

DEVICE = "urn:dev:ow:10e2073a01080063"
DEVICE_6 = "urn:dev:ow:10e2073a0108006"


def test_single_datapoint() -> None:
    # RFC 8428, 5.1.1
    pack = json.loads('[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]')
    assert resolved(pack) == [Record(DEVICE, 23.1, "Cel", 0.0)]


def test_multiple_datapoints_share_the_base_name() -> None:
    # RFC 8428, 5.1.2, first pack
    pack = json.loads(
        '[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},{"n":"current","u":"A","v":1.2}]'
    )
    assert resolved(pack) == [
        Record(DEVICE + ":voltage", 120.1, "V", 0.0),
        Record(DEVICE + ":current", 1.2, "A", 0.0),
    ]


def test_base_time_and_base_unit_reach_the_following_records() -> None:
    # RFC 8428, 5.1.2, second pack: current at Tue Jun 8 18:01:16.001 UTC 2010 and in the five seconds before.
    pack = json.loads(
        '[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,'
        '"n":"voltage","u":"V","v":120.1},{"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},'
        '{"n":"current","t":-3,"v":1.4},{"n":"current","t":-2,"v":1.5},{"n":"current","t":-1,"v":1.6},'
        '{"n":"current","v":1.7}]'
    )
    records = resolved(pack)
    assert records[0] == Record(DEVICE_6 + ":voltage", 120.1, "V", 1276020076.001)
    assert [record.value for record in records[1:]] == [1.2, 1.3, 1.4, 1.5, 1.6, 1.7]
    assert [record.unit for record in records[1:]] == ["A"] * 6
    assert [record.time for record in records[1:]] == pytest.approx(
        [1276020076.001 + t for t in (-5, -4, -3, -2, -1, 0)]
    )


def test_several_samples_of_one_name_become_readings_in_order_of_time() -> None:
    # The pack of 5.1.2 with a base time of this decade; RFC 8428, 4.6 puts resolved records in chronological order.
    pack = '[{"bn":"s/","bt":1795590000,"bu":"A","n":"i","v":1.7},{"n":"i","t":-5,"v":1.2},{"n":"i","t":-1,"v":1.6}]'
    routes = Routes([Mapping("north", "current", "current", "t", "senml", name="s/i", time="t")])
    decoded = routes.decode(Message("t", pack.encode(), 1795590001.0))
    assert [(r.value, r.measured_at) for r in decoded.readings] == [
        (1.2, 1795589995.0),
        (1.6, 1795589999.0),
        (1.7, 1795590000.0),
    ]
    assert {r.at for r in decoded.readings} == {1795590001.0}
    assert decoded.stamp == 1795590000.0


def test_multiple_data_types() -> None:
    # RFC 8428, 5.1.5; a data value ("vd") is no measurement.
    pack = json.loads(
        '[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},{"n":"label","vs":"Machine Room"},'
        '{"n":"open","vb":false},{"n":"nfc-reader","vd":"aGkgCg"}]'
    )
    assert resolved(pack) == [
        Record(DEVICE + ":temp", 23.1, "Cel", 0.0),
        Record(DEVICE + ":label", "Machine Room", "", 0.0),
        Record(DEVICE + ":open", False, "", 0.0),
    ]


def test_the_last_record_takes_a_later_base_name_and_the_first_base_time() -> None:
    # RFC 8428, 5.1.6
    pack = json.loads(
        '[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},'
        '{"n":"humidity","u":"%RH","v":30},{"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},'
        '{"n":"humidity","u":"%RH","v":67}]'
    )
    assert resolved(pack)[-1] == Record("2001:db8::1/humidity", 67.0, "%RH", 1320078429.0)


def test_base_value_and_value_are_added_and_a_missing_one_is_zero() -> None:
    # RFC 8428, 4.5.4
    records = resolved([{"bn": "a", "bv": 20.0, "v": 3.5}, {"v": -1.5}, {"bv": 7}])
    assert [record.value for record in records] == [23.5, 18.5, 7.0]


def test_times_below_two_to_the_28_are_relative_to_now() -> None:
    # RFC 8428, 4.5.3
    routes = Routes([Mapping("north", "current", "current", "t", "senml", name="i")])
    decoded = routes.decode(Message("t", b'[{"n":"i","u":"A","v":1,"t":-30}]', 1795590030.0))
    assert decoded.readings[0].measured_at == 1795590000.0
    assert decoded.stamp is None


@pytest.mark.parametrize(
    "pack",
    [
        {"n": "a", "v": 1},  # the root is an array (section 5)
        [],
        [1],
        [{"n": "a", "v": 1, "bver": 11}],  # a later version (4.4)
        [{"n": "a", "v": 1, "limit_": 3}],  # ends in "_": must be understood (4.4)
        [{"n": "_a", "v": 1}],  # names start with a letter or digit (4.5.1)
        [{"n": "a b", "v": 1}],
        [{"v": 1}],  # a record needs a name
        [{"n": "a", "v": True}],
        [{"n": "a", "v": "1"}],
        [{"n": 5, "v": 1}],
    ],
)
def test_packs_against_the_rules_are_refused_whole(pack: object) -> None:
    with pytest.raises(RejectError):
        resolved(pack)


@pytest.mark.parametrize(
    ("unit", "canonical", "raw", "value"),
    [
        ("Cel", "degC", 23.1, 23.1),
        ("K", "degC", 296.25, 23.1),
        ("V", "V", 120.1, 120.1),
        ("A", "A", 1.2, 1.2),
        ("W", "W", 40.0, 40.0),
        ("%", "1", 0.5, 0.5),  # registry note 2: NOT a percentage but the ratio
        ("/", "1", 0.5, 0.5),
        ("mV", "V", 26310.0, 26.31),  # secondary units of RFC 8798
        ("mA", "A", 1200.0, 1.2),
        ("kW", "W", 1.5, 1500.0),
        ("ppm", "1", 4000.0, 0.004),
        ("/100", "1", 50.0, 0.5),
    ],
)
def test_registered_units_convert(unit: str, canonical: str, raw: float, value: float) -> None:
    assert compile_unit(unit, canonical, "senml")(raw) == pytest.approx(value, abs=1e-9)
