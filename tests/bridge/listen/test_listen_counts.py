"""Numbers whose unit or owner little tells: what is asked about, what is read, and what is no longer asked."""

from __future__ import annotations

import math
import random

import pytest

from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.guess import Guess
from bridge.listen.write import OFFERED
from bridge.message import Message
from tests.bench.households.homes_fresh_k import FRESH_K
from tests.bench.households.measure import score
from tests.bridge.listen.test_listen_company import bank, live
from tests.bridge.listen.test_listen_strange import by_place, say, wander

#: Loads that come and go, seen each second [A].
LOADS = [-(0.8 if place // 40 % 2 else 2.6) - 0.01 * (place % 4) for place in range(250)]


def offered(messages: list[Message]) -> dict[str, Guess]:
    return {place: one for place, one in by_place(messages).items() if one.sure >= OFFERED}


def counts(*, product: bool) -> list[Message]:
    """A bank of 12 V just off charge, in hundredths of V and A and tenths of W; nothing tells of what."""
    volts = [13.2 - 0.0004 * place + 0.03 * flow for place, flow in enumerate(LOADS)]
    watts = [v * i if product else -9.0 - place % 7 for place, (v, i) in enumerate(zip(volts, LOADS, strict=True))]
    return [
        *say("home/bat2/u", *(round(100 * one) for one in volts)),
        *say("home/bat2/i", *(round(100 * one) for one in LOADS)),
        *say("home/bat2/p", *(round(10 * one) for one in watts)),
    ]


def test_counts_of_volts_amps_and_watts_are_asked_about_where_their_product_holds_but_for_a_power_of_ten() -> None:
    found = by_place(counts(product=True))
    told = [(found[f"home/bat2/{key}"].unit, found[f"home/bat2/{key}"].sure >= SURE_ENOUGH) for key in "uip"]
    assert told == [("cV", False), ("cA", False), ("dW", False)]
    assert all(found[f"home/bat2/{key}"].sure >= 0.3 for key in "uip")
    assert any("cV, cA and dW?" in why for why in found["home/bat2/i"].reasons)


def test_counts_whose_product_does_not_hold_are_given_no_unit_by_it() -> None:
    found = by_place(counts(product=False))
    assert found["home/bat2/i"].unit == "A"
    assert not live(counts(product=False))


@pytest.mark.parametrize(("milliwatts", "is_read"), [(True, True), (False, False)], ids=["product", "another number"])
def test_milliwatts_are_watts_where_volts_times_amps_are_they(*, milliwatts: bool, is_read: bool) -> None:
    flows = [9.0 if place // 20 % 2 else 6.0 for place in range(80)]
    rows = [
        {
            "U_mV": round(1000 * (30.0 + 0.05 * flow)),
            "I_mA": round(1000 * flow),
            "P_mW": round((1000 if milliwatts else 700) * (30.0 + 0.05 * flow) * flow),
        }
        for flow in flows
    ]
    found = by_place(say("shed/battery", *rows))
    one = found.get("shed/battery /P_mW")
    assert one is not None
    assert one.unit == "mW"
    assert (one.sure >= SURE_ENOUGH) is is_read


def test_a_slow_number_that_says_c_is_a_temperature_and_one_that_jumps_is_a_charge() -> None:
    messages = bank("x/a", "x/b")
    warm = say("x/c", *(f"{47.6 - 0.1 * (place // 9):.1f} C" for place in range(40)))
    jumps = say("x/c", *(f"{9.0 if place % 2 else 47.6} C" for place in range(40)))
    assert by_place(messages + warm)["x/c"].quantity == "electrolyte_temperature"
    assert "x/c" not in by_place(messages + jumps)


def test_another_things_volts_are_no_sum_of_a_houses_batteries() -> None:
    some = {"home/bat1": 12.9, "home/bat2": 13.2, "home/bat3": 13.3}
    messages = [one for name, volt in some.items() for one in say(f"{name}/u", *wander(volt, 2, 40))]
    messages += say("home/ebike/u", *wander(39.4, 2, 40))
    found = by_place(messages)
    assert {found[f"{name}/u"].quantity for name in some} == {"voltage"}
    whole = [one for one in messages if "ebike" not in one.topic] + say("home/pack/u", *wander(39.4, 2, 40))
    assert "block_voltage" in {one.quantity for one in by_place(whole).values()}


@pytest.mark.parametrize("falls", [True, False], ids=["just off charge", "on charge"])
def test_amps_that_leave_a_bank_just_off_charge_do_not_turn_their_sign(*, falls: bool) -> None:
    noise = random.Random(4)
    volts = [13.4 - (0.0008 * place if falls else 0.0) + noise.uniform(-0.002, 0.002) for place in range(250)]
    messages = [
        *say("hut/battery/volts", *(f"{one:.3f} V" for one in volts)),
        *say("hut/battery/amps", *(f"{-1.7 + noise.uniform(-0.01, 0.01):.3f} A" for _ in volts)),
    ]
    amps = by_place(messages)["hut/battery/amps"]
    assert (amps.sign, amps.sure >= SURE_ENOUGH) == (("charging", False) if falls else ("discharging", True))


@pytest.mark.parametrize(
    ("way", "sign", "is_live"),
    [(1.0, "charging", True), (-1.0, "charging", False), (0.0, "charging", False)],
    ids=["volts rise with the amps", "volts fall with the amps", "a lamp"],
)
def test_volts_that_fall_as_less_flows_in_are_on_charge_however_briefly_they_were_heard(
    *, way: float, sign: str, is_live: bool
) -> None:
    noise = random.Random(5)
    # charge ends a little below its start, a load a little above
    swings = [8.0 + (way or 1.0) * 0.8 * math.sin(place / 7.0 + 1.4) for place in range(39)]
    volts = [
        13.45 - (0.0 if way else 0.0012 * place) + way * 0.06 * (flow - 8.0) + noise.uniform(-0.001, 0.001)
        for place, flow in enumerate(swings)
    ]
    amps = swings if way else [0.6 * volt for volt in volts]
    messages = [
        *say("hut/battery/volts", *(f"{one:.3f} V" for one in volts)),
        *say("hut/battery/amps", *(f"{one:.3f} A" for one in amps)),
    ]
    found = by_place(messages)["hut/battery/amps"]
    assert (found.sign, found.sure >= SURE_ENOUGH) == (sign, is_live), found.reasons


def registers(*, pairs: int) -> list[Message]:
    """A board of twelve registers: the volts in tenths, told by four blocks, and some pairs."""
    noise = random.Random(6)
    volts = [57.6 + 0.3 * (place // 20 % 2) + noise.uniform(-0.02, 0.02) for place in range(120)]
    messages = say("reg/7", *(round(10 * volt) for volt in volts))
    for block in range(4):
        messages += say(f"blocks/{block}", *(round(250 * volt) for volt in volts))
    for number in range(8, 20):
        flows = [20.0 + number + 3.0 * noise.uniform(-1.0, 1.0) for _ in volts]
        of_a_pair = 8 <= number < 8 + pairs
        messages += say(f"reg/{number}", *(round(10 * flow) for flow in flows))
        watts = [v * i if of_a_pair else 100.0 * noise.uniform(3.0, 9.0) for v, i in zip(volts, flows, strict=True)]
        messages += say(f"reg/{number + 20}", *(round(one) for one in watts))
    return messages


def test_of_many_registers_the_two_that_are_so_by_the_banks_volts_are_asked_about() -> None:
    found = offered(registers(pairs=1))
    assert (found["reg/8"].quantity, found["reg/8"].unit, found["reg/28"].quantity) == ("current", "dA", "power")
    assert max(found["reg/8"].sure, found["reg/28"].sure) < SURE_ENOUGH
    assert not {"reg/8", "reg/9", "reg/28"} & offered(registers(pairs=2)).keys()


def test_blocks_in_millivolts_that_no_unit_tells_are_read_as_such() -> None:
    found = by_place(registers(pairs=0))
    assert [(found[f"blocks/{n}"].unit, found[f"blocks/{n}"].part) for n in (0, 3)] == [("mV", "A1"), ("mV", "A4")]


def test_a_kept_list_that_names_a_cell_makes_its_number_acid_and_the_cooler_one_beside_it_air() -> None:
    rows = [{"s1": 29.8 + 0.1 * (n // 20), "s2": 16.4 + 0.1 * (n // 25), "s3": 55.0 * (n % 2)} for n in range(60)]
    messages = bank("well/battery/volts", "well/battery/amps") + say("hut/box", *rows)
    kept = say("hut/box/names", {"s1": "cell 3", "s2": "hut", "s3": "pump"}, retain=True)
    found = offered(messages + kept)
    assert found["hut/box /s1"].quantity == "electrolyte_temperature"
    assert found["hut/box /s2"].quantity == "ambient_temperature"
    assert max(found[f"hut/box /s{n}"].sure for n in (1, 2)) < SURE_ENOUGH
    assert "hut/box /s1" not in offered(messages)


def test_what_cannot_be_the_banks_is_no_longer_asked_about() -> None:
    flows = [9.0 if place // 50 % 2 else 3.0 for place in range(250)]
    messages = bank("yard/shed/battery/volts", "yard/shed/battery/amps")
    messages += say("yard/shed/temperature", *wander(14.0, 1, 40))
    assert "yard/shed/temperature" in offered(messages)
    strangers = [
        *say("house/study/temperature", *wander(21.0, 1, 40)),
        *say("house/dryer/watts", *wander(240.0, 0, 40)),
        *say("house/phase1/volts", *wander(231.0, 1, 250)),
        *say("house/phase1/amps", *(f"{flow / 3.0:.2f}" for flow in flows)),
        *say("outside/rain", *wander(0.4, 1, 40)),
    ]
    assert offered(messages + strangers).keys() == offered(messages).keys()
    # without a thermometer nearer to the bank, any may hang there
    assert "house/study/temperature" in offered(bank("yard/shed/battery/volts", "yard/shed/battery/amps") + strangers)


@pytest.mark.parametrize(("each", "is_asked"), [(3.33, False), (2.22, True)], ids=["lithium", "lead"])
def test_amps_beside_lithium_cells_are_not_asked_about(each: float, *, is_asked: bool) -> None:
    messages = registers(pairs=0) + say("garage/pack/volts", *wander(16 * each, 2, 120))
    messages += say("garage/pack/amps", *wander(-8.4, 2, 120))
    messages += [one for n in range(4) for one in say(f"garage/pack/c{n}", *wander(each, 3, 120))]
    assert ("garage/pack/amps" in offered(messages)) is is_asked


def test_the_houses_heard_for_the_first_time_last_have_nothing_wrong_live() -> None:
    scores = [score(make) for make in FRESH_K]
    assert not [one.wrong for one in scores if one.wrong]
    assert sum(one.equalised for one in scores) == len(scores) - 1, "which of the quay's batteries it is nobody tells"
    assert sum(one.offered for one in scores) <= 65
