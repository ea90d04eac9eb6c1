"""A probe that falls silent warm is not cooled by a thermometer elsewhere, and what a hand typed never looks live."""

from __future__ import annotations

import json

import pytest

from bridge.outlets.homie import HomieOutlet
from bridge.settings import Cabin
from bridge.words.bank_status import cause
from bridge.words.spoken import spoken
from rules.events import moment as written
from rules.step import measured
from tests.support.moments import Moment, bank_of

PROBE = "electrolyte_temperature"
#: A day has passed.
DAY = 86400.0


def fell_silent(shown: float = 38.4, index: str = "") -> tuple[Moment, str]:
    """A watched bank whose only probe, warm, says nothing any more for 70 s; and when it was last heard."""
    placed = f'unit = "degC"\nplaced = "cell"{chr(10) + "index = " + chr(34) + index + chr(34) if index else ""}'
    meters = (("voltage", 'unit = "V"'), ("current", 'unit = "A"'), (PROBE, placed))
    moment = Moment(bank_of(relay=False, meters=meters))
    probe = moment.bank.by_quantity[PROBE][0].name
    moment.flicker = {probe: 0.1}
    moment.pass_time(1800.0, voltage=28.2, current=10.0, **{probe.replace(":", "__"): 38.4})
    assert "temperature-high" in moment.flags
    moment.pass_time(600.0, **{probe.replace(":", "__"): shown})
    del moment.feed[probe]
    last = written(moment.at)
    moment.pass_time(70.0)
    return moment, last


@pytest.mark.parametrize("shown", [38.4, 37.3])
@pytest.mark.parametrize("how", ["hydrometer", "other cell"])
def test_a_silent_probe_that_was_warm_is_not_cooled_by_what_a_hand_reads_elsewhere(shown: float, how: str) -> None:
    # 38 degC warns, 37 degC ends the warning: what a meter raised no other place may lower (the interlock's own rule).
    moment, last = fell_silent(shown, index="A4.2")
    if how == "hydrometer":
        moment.hand("gravity", {"A1.1": 1.25}, temperature=28.9)
    else:
        moment.hand("temperature", {"A1.1": 28.9}, sure=True)
    noted = written(moment.at)
    moment.pass_time(240.0)
    assert "temperature-high" in moment.flags and not any(
        event.kind == "flag-cleared" and event.detail["flag"] == "temperature-high" for event in moment.events
    )
    flag = moment.memory.flags["temperature-high"]
    assert f"was last heard, at {last}, and nothing was read at that place since" in flag.reason
    assert flag.value is not None and abs(flag.value - shown) < 0.2
    assert f"28.9 degC (by hand at {noted}; last heard {flag.value:.1f} degC at {last})" in _canonical(moment)


def _canonical(moment: Moment) -> str:
    derived = moment.derived
    assert derived is not None
    return f"{derived.temperature:.1f} degC ({derived.not_live['temperature']})"


def test_on_the_bus_the_temperature_goes_with_its_probe_and_no_hand_brings_it_back() -> None:
    moment, last = fell_silent()
    moment.hand("temperature", {"": 28.9}, sure=True)
    noted = written(moment.at)
    moment.pass_time(6 * 3600.0, every=60.0)
    assert moment.derived is not None and moment.derived.temperature == 28.9, "rules and page go by it, and say so"
    told: dict[str, str] = {}
    outlet = HomieOutlet(
        Cabin("tarn-hut", {"north": moment.bank}), lambda topic, payload, **_: told.update({topic: payload})
    )
    outlet.announce()
    outlet.update(moment.derived)
    outlet.measured("north", measured(moment.bank, moment.memory, moment.at))
    of_bank = "homie/5/tarn-hut-north"
    assert told[f"{of_bank}/thermal/temperature"] == "", "a hub shows whatever stands there as live"
    why = json.loads(told[f"{of_bank}/health/not-live"])["temperature"]
    assert why.startswith(spoken(f"28.9 degC by hand at {noted}; last heard ")) and why.endswith(spoken(f"at {last}"))
    assert float(told[f"{of_bank}/health/freshness-electrolyte-temperature"]) > 6 * 3600.0
    assert told[f"{of_bank}/electrical/voltage"] == f"{moment.derived.voltage:.2f}"


def test_its_own_place_read_cooler_by_hand_or_heard_again_clears_it() -> None:
    moment, _ = fell_silent(index="A4.2")
    moment.hand("temperature", {"A4.2": 30.0}, sure=True)
    moment.pass_time(20.0)
    assert "temperature-high" not in moment.flags
    again, _ = fell_silent(index="A4.2")
    again.hand("gravity", {"A1.1": 1.25}, temperature=28.9)
    probe = again.bank.by_quantity[PROBE][0].name
    again.pass_time(60.0, **{probe.replace(":", "__"): 36.0})
    assert "temperature-high" not in again.flags
    assert again.derived is not None and again.derived.not_live == {}


def test_a_silence_that_a_person_excused_or_that_lasts_a_day_shows_no_warmth_of_then() -> None:
    moment, _ = fell_silent()
    assert moment.act("bypass", quantity=PROBE, minutes=30) == ""
    moment.pass_time(20.0)
    assert "temperature-high" not in moment.flags
    other, _ = fell_silent()
    other.pass_time(DAY, every=600.0)
    assert "temperature-high" not in other.flags


def test_a_silent_meter_is_told_with_its_verb_whatever_digits_its_name_has() -> None:
    moment, last = fell_silent(index="A4.2")
    flag = moment.memory.flags["meter-silent"]
    assert cause(flag).endswith(f" not heard since {last}, limit 60 s") and flag.value is not None
    shown = moment.memory.meters[moment.bank.by_quantity[PROBE][0].name].value
    assert spoken(f"? °C (last heard {shown:.1f} degC at {last})") in moment.now.texts


def test_volts_and_amps_that_only_a_hand_tells_say_so_and_when() -> None:
    moment = Moment(bank_of(relay=False, meters=()))
    moment.hand("voltage", {"": 25.3}, sure=True)
    moment.hand("amps", {"": 12.0}, sure=True)
    moment.pass_time(600.0)
    said = moment.now.texts
    assert said.count("by hand at") >= 2 and "25.30 V (by hand at" in said and "12.0 A (by hand at" in said
