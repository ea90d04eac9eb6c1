"""What `revival listen` finds where names fail: by sums, products, warmth, and what stands beside."""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import partial

import pytest

from bridge.listen.evidence import SURE_ENOUGH, Evidence, sure
from bridge.listen.guess import Guess
from bridge.listen.names import words_of
from bridge.listen.vocabulary import folded
from bridge.listen.write import cabin_file
from bridge.message import Message
from bridge.settings import BrokerSettings
from tests.bench.households.homes_dev import DEVELOPMENT
from tests.bench.households.homes_fresh import FRESH_A
from tests.bench.households.homes_fresh_c import FRESH_C
from tests.bench.households.homes_fresh_hard import FRESH_B
from tests.bench.households.homes_fresh_ordinary import FRESH_D
from tests.bench.households.homes_strangers import STRANGERS
from tests.bench.households.measure import score
from tests.bench.households.variants import Change, flat, turned, wrapped
from tests.bench.households.world import House
from tests.bridge.listen.test_listen_strange import by_place, heard, say, wander


def cells(count: int, each: float, volts: list[float]) -> list[list[int]]:
    """Millivolts of cells that share the volts among them, each a little off its due."""
    off = [random.Random(number).uniform(-0.004, 0.004) for number in range(count)]
    return [[round(1000.0 * volt / count * (1.0 + one)) for one in off] for volt in volts]


def charging(count: int = 60, low: float = 31.0, step: float = 0.4) -> list[float]:
    return [low + (step if place // 15 % 2 else 0.0) + 0.004 * (place % 3) for place in range(count)]


def test_cells_that_add_up_to_an_unnamed_number_make_it_the_banks_voltage() -> None:
    volts = charging()
    found = by_place(
        say("n/7/0", *(f"{volt:.3f}" for volt in volts)) + say("n/9", *({"x": one} for one in cells(12, 2.6, volts)))
    )
    assert (found["n/7/0"].quantity, found["n/7/0"].sure >= SURE_ENOUGH) == ("voltage", True)
    assert [found[f"n/9 /x/{n}"].part for n in (0, 4, 11)] == ["A1.1", "A2.2", "A4.3"]


def test_numbers_that_add_up_by_chance_do_not_go_live() -> None:
    still = [f"{7.9 + 0.01 * n:.2f}" for n in range(4)]
    messages = say("hut/battery/volts", *wander(31.8, count=40))
    for number, value in enumerate(still, start=1):
        messages += say(f"hut/tank{number}/x", *wander(float(value), count=40))
    assert all(one.sure < SURE_ENOUGH for place, one in by_place(messages).items() if "tank" in place)


def test_a_bank_that_counts_in_hundredths_and_tenths_tells_itself_by_its_product() -> None:
    flows = [20.0 if place // 15 % 2 else 8.0 for place in range(60)]
    rows = [
        {"vo": round(2750 + 5 * flow), "am": round(10 * flow), "wt": round((27.5 + 0.05 * flow) * flow)}
        for flow in flows
    ]
    found = by_place(say("mlm/b1", *rows))
    assert {place[-2:]: (one.quantity, one.unit) for place, one in found.items()} == {
        "vo": ("voltage", "cV"),
        "am": ("current", "dA"),
        "wt": ("power", "W"),
    }


def test_topics_beside_a_value_say_its_unit_and_name_in_any_language() -> None:
    about = say("s/07/nombre", "Bateria vieja tension", retain=True) + say("s/07/unidad", "mV", retain=True)
    (one,) = by_place(about + say("s/07/valor", *wander(25200.0, 0))).values()
    assert (one.quantity, one.unit, one.sure >= SURE_ENOUGH) == ("voltage", "mV", True)


def test_a_decimal_comma_is_read_and_written_down() -> None:
    _, found = heard(say("hof/akku/spannung", *(text.replace(".", ",") for text in wander(25.2))))
    assert 'decimal = ","' in cabin_file(found, BrokerSettings())


def test_acid_is_told_from_air_by_warmth_and_asked() -> None:
    bank = say("hut/bank/volts", *wander(26.4)) + say("hut/bank/amps", *wander(9.0))
    found = by_place(bank + say("x/temp/1", *wander(12.1)) + say("x/temp/2", *wander(31.4)))
    assert (found["x/temp/1"].quantity, found["x/temp/2"].quantity) == (
        "ambient_temperature",
        "electrolyte_temperature",
    )
    assert max(found["x/temp/1"].sure, found["x/temp/2"].sure) < SURE_ENOUGH


def test_what_is_asked_stays_asked_however_much_else_is_known() -> None:
    strong = (Evidence("unit said", ""), Evidence("watts agree", ""), Evidence("sign not known", ""))
    assert sure(strong) < SURE_ENOUGH <= sure(strong[:2])


def test_of_two_looks_at_one_bank_the_one_with_its_parts_under_it_is_the_banks() -> None:
    volts = charging()
    bank = say("k/b1", *({"vo": round(100.0 * volt)} for volt in volts))
    bank += say("k/b1/parts", *({f"k{n}": one for n, one in enumerate(row)} for row in cells(4, 7.8, volts)))
    charger = say("k/ch", *({"mv": round(1000.0 * volt) + 30, "ma": 12000 + 40 * n} for n, volt in enumerate(volts)))
    found = by_place(bank + charger)
    assert found["k/b1 /vo"].sure >= SURE_ENOUGH > found["k/ch /mv"].sure


#: Two devices that nothing tells from banks or from supplies by name; nothing moves that the volts would answer [V, A].
_TWO = (("k/p1", 14.2, 3.0), ("k/p2", 28.4, 9.0))


def two(count: int = 60) -> list[Message]:
    """Volts and amps of two devices that could be banks, or supplies."""
    return [
        message
        for topic, volts, amps in _TWO
        for message in say(
            topic,
            *(
                {"u": float(u), "i": float(i)}
                for u, i in zip(wander(volts, count=count), wander(amps, count=count), strict=True)
            ),
        )
    ]


@pytest.mark.parametrize(("amps", "live"), [(9.0, True), (18.0, False)])
def test_whose_ampere_hours_are_counted_is_a_bank(amps: float, live: bool) -> None:
    found = by_place(two() + say("k/p2/Ah", *(f"{61.0 + amps * 2.0 * n / 3600.0:.3f}" for n in range(60))))
    assert (found["k/p2 /u"].sure >= SURE_ENOUGH) == live
    assert found["k/p1 /u"].sure < SURE_ENOUGH


def test_a_count_of_charge_that_stands_nearer_to_other_volts_is_theirs_though_the_same_flows() -> None:
    found = by_place(two() + say("k/p1/Ah", *(f"{61.0 + 9.0 * 2.0 * n / 3600.0:.3f}" for n in range(60))))
    assert found["k/p2 /u"].sure < SURE_ENOUGH


def test_what_is_called_as_two_banks_are_but_for_its_number_is_one_too_though_it_rests() -> None:
    def with_counts(*posts: int) -> dict[str, Guess]:
        messages = two() + say("k/p3", *({"u": float(u), "i": 0.01 * (n % 2)} for n, u in enumerate(wander(6.3))))
        for post in posts:
            amps = _TWO[post - 1][2]
            messages += say(f"k/p{post}/Ah", *(f"{5.0 + amps * 2.0 * n / 3600.0:.4f}" for n in range(60)))
        return by_place(messages)

    assert with_counts(1, 2)["k/p3 /u"].sure >= SURE_ENOUGH > with_counts(1)["k/p3 /u"].sure


@pytest.mark.parametrize(("off", "live"), [(0.0, True), (0.4, False)])
def test_what_is_called_blocks_and_adds_up_to_the_point_shows_which_voltage_is_the_banks(
    off: float, live: bool
) -> None:
    """Nothing moves; the blocks stand elsewhere, and one of the two voltages is theirs."""
    messages = two()
    for block in range(1, 5):
        messages += say(f"k/block_{block}", *(f"{value} V" for value in wander((28.4 + off) / 4.0, digits=3)))
    found = by_place(messages)
    assert (found["k/p2 /u"].sure >= SURE_ENOUGH) == live


def test_two_letters_name_volts_and_amps_only_beside_their_counterpart() -> None:
    halves = [{"vt": 2.0 * u, "v1": u - 0.1, "v2": u + 0.1} for u in charging(low=14.0)]
    flows = [4.0 + (2.0 if place // 15 % 2 else 0.0) for place in range(60)]
    pair = by_place([m for n, row in enumerate(halves) for m in say("x/b", row | {"ic": flows[n]})])
    assert pair["x/b /vt"].quantity == "voltage"
    assert pair["x/b /ic"].quantity == "current"
    alone = by_place(say("x/b/vt", *wander(28.4)) + say("x/b/ip", *wander(4.0)))
    assert "x/b/vt" not in alone


def test_a_hydrometer_reading_that_is_kept_is_offered_and_never_live() -> None:
    found = by_place(say("hut/bank/volts", *wander(26.4)) + say("hut/bank/gravity", "1.243", retain=True))
    assert 0.02 <= found["hut/bank/gravity"].sure < SURE_ENOUGH


@pytest.mark.parametrize(
    ("texts", "known"), [(("24.19", "24.25", "24.31"), True), (("24.20", "24.25", "24.33"), False)]
)
def test_sixteenths_of_a_degree_written_in_hundredths_are_a_thermometers(texts: tuple[str, ...], known: bool) -> None:
    found = by_place(say("hut/bank/volts", *wander(26.4)) + say("bus/28-k3", *texts * 8))
    assert any(e.name == "sixteenths" for e in found["bus/28-k3"].evidence) == known


def test_thermometers_of_one_board_are_told_by_warmth_though_another_quantity_has_the_number_of_one() -> None:
    board = say("hut/b2/e1", *(f"{one} V" for one in wander(15.6))) + say(
        "hut/b2/i1", *(f"{one} A" for one in wander(1.4))
    )
    board += say("hut/b2/t1", *(f"{one} F" for one in wander(72.3))) + say(
        "hut/b2/t2", *(f"{one} F" for one in wander(62.4))
    )
    found = by_place(board)
    assert (found["hut/b2/t1"].quantity, found["hut/b2/t2"].quantity) == (
        "electrolyte_temperature",
        "ambient_temperature",
    )


def test_what_is_called_as_a_banks_own_but_for_its_number_is_offered_where_no_name_tells() -> None:
    bank = say("s/ba1", *({"vt": u, "vs1": u / 2.0 - 0.1, "vs2": u / 2.0 + 0.1, "ib": 9.0} for u in charging()))
    found = by_place(bank + [m for n, u in enumerate(wander(31.4)) for m in say("s/ba2", {"vt": float(u), "x": n})])
    assert found["s/ba1 /vt"].sure >= SURE_ENOUGH
    assert (found["s/ba2 /vt"].quantity, found["s/ba2 /vt"].sure <= 0.5) == ("voltage", True)


def test_a_machines_own_battery_is_offered_and_never_live() -> None:
    def one(topic: str) -> Guess:
        (guess,) = by_place(say(topic, *(f"{text} V" for text in wander(12.7)))).values()
        return guess

    assert 0.02 <= one("farm/tractor/battery").sure < SURE_ENOUGH <= one("farm/big/battery").sure


def counts(volts: float, amps: float, *, watts: bool = False) -> dict[str, Guess]:
    """Whole numbers of a bank, no unit anywhere; amps in decimals; the watts beside, where asked for."""
    messages = say("hut/bank/voltage", *(f"{volts + place % 3:.0f}" for place in range(40)))
    messages += say("hut/bank/current", *(f"{amps + 0.1 * (place % 3):.1f}" for place in range(40)))
    told = say("hut/bank/power", *(f"{volts * (amps + 0.1 * (place % 3)) / 1000.0:.1f}" for place in range(40)))
    return by_place(messages + (told if watts else []))


@pytest.mark.parametrize("volts", [6132.0, 1285.0, 2640.0, 58.0])
def test_a_whole_number_that_fits_several_powers_of_ten_or_only_hundredths_is_asked_about(volts: float) -> None:
    assert 0.02 <= counts(volts, 9.4)["hut/bank/voltage"].sure < SURE_ENOUGH


def test_the_watts_settle_the_power_of_ten() -> None:
    found = counts(6132.0, 9.4, watts=True)["hut/bank/voltage"]
    assert (found.unit, found.sure >= SURE_ENOUGH) == ("mV", True)


def test_a_whole_number_that_fits_one_power_of_ten_alone_is_not_asked_about() -> None:
    found = counts(26_400.0, 9.4)["hut/bank/voltage"]
    assert (found.unit, found.sure >= SURE_ENOUGH) == ("mV", True)


def test_half_of_a_banks_volts_and_a_cell_of_it_are_asked_about_by_their_share_whatever_they_are_called() -> None:
    volts = charging()
    shares = {"lower": 0.498, "pilot": 1.01 / 12, "other": 0.37}
    messages = say("hut/bank/volts", *(f"{volt:.2f}" for volt in volts))
    messages += say("hut/bank/amps", *(f"{(volt - 30.0) * 10.0:.1f}" for volt in volts))
    for name, share in shares.items():
        messages += say(f"hut/bank/{name}_volts", *(f"{share * volt:.3f}" for volt in volts))
    found = by_place(messages)
    assert [found[f"hut/bank/{name}_volts"].quantity for name in shares] == [
        "midpoint_voltage",
        "cell_voltage",
        "voltage",
    ]
    assert all(found[f"hut/bank/{name}_volts"].sure < SURE_ENOUGH for name in shares)


def test_of_several_airs_the_one_that_stands_nearest_to_the_bank_is_the_banks() -> None:
    messages = say("hall/bay4/bank/volts", *(f"{one} V" for one in wander(25.9)))
    messages += say("hall/bay4/bank/amps", *(f"{one} A" for one in wander(9.0)))
    for bay in (1, 4):
        messages += say(f"hall/bay{bay}/air/temp", *(f"{one} °C" for one in wander(13.0 + bay)))
    found = by_place(messages)
    assert found["hall/bay4/air/temp"].sure >= SURE_ENOUGH > found["hall/bay1/air/temp"].sure


def test_accents_and_joints_of_names_do_not_matter() -> None:
    assert folded("Säure") == "saure"
    assert words_of("Napięcie_i1/LADERAUMTUERZU") == ["napiecie", "i", "1", "laderaum", "tuer", "zu"]


@pytest.mark.parametrize(
    "makes", [STRANGERS, FRESH_A, FRESH_C, FRESH_D], ids=["strangers", "fresh", "fresh c", "fresh ordinary"]
)
def test_houses_written_by_strangers_are_understood(makes: tuple[Callable[[], House], ...]) -> None:
    scores = [score(make) for make in makes]
    assert not [one.wrong for one in scores if one.wrong]
    assert all(one.equalised for one in scores)
    assert sum(one.found for one in scores) >= 0.9 * sum(one.true for one in scores)


def test_in_hard_houses_the_bank_is_live_and_nothing_wrong_is() -> None:
    scores = [score(make) for make in FRESH_B]
    assert not [one.wrong for one in scores if one.wrong]
    assert all(one.equalised for one in scores)


@pytest.mark.parametrize("change", [flat, turned, wrapped], ids=lambda change: change.__name__)
def test_the_same_house_told_otherwise_gains_no_wrong_mapping(change: Change) -> None:
    for make in DEVELOPMENT:
        assert not score(partial(_told_otherwise, make, change)).wrong


def _told_otherwise(make: Callable[[], House], change: Change) -> House:
    return change(make())
