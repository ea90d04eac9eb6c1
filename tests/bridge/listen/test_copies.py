"""`revival listen` where a hub says everything once more, and where two banks stand on one bus: one is no other."""

from __future__ import annotations

import json
import math
import random
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge import config
from bridge.listen.collect import Collector
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.write import OFFERED, Found, cabin_file, recognise, unrecognised
from bridge.message import Message
from bridge.settings import BrokerSettings

START = 1795600000.0
SECONDS = 300
Signal = Callable[[float], float]


def meter(topic: str, every: float, says: Callable[[float], object], *, first: float = 0.5) -> list[Message]:
    times = [first + every * n for n in range(int((SECONDS - first) / every))]
    return [Message(topic, str(says(t)).encode(), START + t) for t in times]


def noisy(signal: Signal, sigma: float, seed: str) -> Signal:
    """A meter's own noise: the same at the same second, another's at another meter."""
    return lambda t: signal(t) + random.Random(f"{seed}{t:.3f}").gauss(0.0, sigma)


def clouds(t: float) -> float:
    """Amps under clouds, another level every 23 seconds."""
    return random.Random(f"cloud{t // 23.0}").uniform(9.0, 30.0)


def bus(t: float) -> float:
    return 28.0 + 0.06 * clouds(t)


def acid(t: float) -> float:
    return 25.0 + 0.6 * t / 3600.0


def repeated(messages: list[Message], topic: str, every: float, write: Callable[[float], object]) -> list[Message]:
    """A hub that says every so often what it heard last, in its own way."""
    told = []
    for n in range(1, int(SECONDS / every)):
        last = [one for one in messages if one.at <= START + n * every]
        told += [Message(topic, str(write(float(last[-1].payload))).encode(), START + n * every + 0.2)] if last else []
    return told


VOLTS = meter("shed/bank/volts", 5.0, lambda t: f"{noisy(bus, 0.012, 'v')(t):.2f}")
AMPS = meter("shed/bank/amps", 5.0, lambda t: f"{noisy(clouds, 0.04, 'a')(t):.2f}", first=0.7)
ACID = meter("shed/bank/acid_temp", 10.0, lambda t: f"{noisy(acid, 0.02, 't')(t):.2f}")
BANK = VOLTS + AMPS + ACID


def found(messages: list[Message]) -> tuple[list[Found], Collector]:
    collector = Collector()
    for message in sorted(messages, key=lambda one: one.at):
        collector.take(message)
    return recognise(collector.sources), collector


def live(banks: list[Found]) -> dict[str, str]:
    return {
        f"{one.source.topic} {one.source.at}".strip(): one.quantity
        for bank in banks
        for one in bank.guesses
        if one.sure >= SURE_ENOUGH
    }


ALONE = {"shed/bank/volts": "voltage", "shed/bank/amps": "current", "shed/bank/acid_temp": "electrolyte_temperature"}


def tenths(value: float) -> str:
    return f"{value:.1f}"


@pytest.mark.parametrize(
    "copies",
    [
        # a hub with the same names below its own tree, rounded
        [
            *repeated(VOLTS, "hub/shed_bank_volts/value", 30.0, tenths),
            *repeated(AMPS, "hub/shed_bank_amps/value", 30.0, tenths),
            *repeated(ACID, "hub/shed_bank_acid_temp/value", 30.0, tenths),
        ],
        # renamed, and in documents
        [
            *repeated(VOLTS, "ponte/accu/spanning", 15.0, lambda v: json.dumps({"waarde": round(v, 2), "bron": "x"})),
            *repeated(AMPS, "ponte/accu/stroom", 15.0, lambda a: json.dumps({"waarde": round(a, 1), "bron": "x"})),
        ],
        # the other way of counting, and thousandths
        [
            *repeated(VOLTS, "relay2/house/dc_mv", 10.0, lambda v: round(1000.0 * v)),
            *repeated(AMPS, "relay2/house/dc_ma", 10.0, lambda a: round(-1000.0 * a)),
        ],
    ],
    ids=["rounded", "renamed", "scaled"],
)
def test_what_a_hub_says_once_more_is_no_second_bank_and_said_so_once(copies: list[Message], tmp_path: Path) -> None:
    banks, collector = found(BANK + copies)
    assert live(banks) == ALONE
    assert len(banks) == 1
    text = cabin_file(banks, BrokerSettings(), "", unrecognised(collector.sources, banks), collector.unread)
    assert text.count(" repeats shed/bank/volts") == 1
    assert not any(f'topic = "{one.topic}"' in text for one in copies)
    (tmp_path / "cabin.toml").write_text(text, "utf-8")
    assert len(config.load(tmp_path / "cabin.toml").routes.mappings) == len(ALONE)


def test_where_only_the_hub_is_heard_the_hub_is_the_source() -> None:
    hub = [
        *repeated(VOLTS, "hub/shed_bank_volts/value", 10.0, tenths),
        *repeated(AMPS, "hub/shed_bank_amps/value", 10.0, tenths),
    ]
    banks, _ = found(hub)
    assert live(banks) == {"hub/shed_bank_volts/value": "voltage", "hub/shed_bank_amps/value": "current"}


def test_a_copy_is_told_by_its_whole_name_where_nothing_moves() -> None:
    steady = [
        meter("shed/bank/volts", 5.0, lambda t: f"{31.2 + 0.01 * (t % 3):.2f}"),
        meter("shed/bank/amps", 5.0, lambda t: f"{12.1 + 0.02 * (t % 4):.2f}"),
    ]
    names = ("hub/shed_bank_volts/value", "hub/shed_bank_amps/value")
    copies = [one for said, name in zip(steady, names, strict=True) for one in repeated(said, name, 30.0, tenths)]
    banks, collector = found([one for said in steady for one in said] + copies)
    assert set(live(banks)) == {"shed/bank/volts", "shed/bank/amps"}
    assert {source.topic for source in collector.sources if source.repeats} == set(names)


def second_bank(volts: Signal, amps: Signal, digits: int) -> list[Message]:
    return [
        *meter("barn/reserve/volts", 5.0, lambda t: f"{volts(t):.{digits}f}", first=1.1),
        *meter("barn/reserve/amps", 5.0, lambda t: f"{amps(t):.{digits}f}", first=1.3),
        *meter("barn/reserve/acid_temp", 10.0, lambda t: f"{noisy(acid, 0.02, 'w')(t) + 0.4:.2f}", first=1.5),
    ]


@pytest.mark.parametrize("digits", [1, 2])
def test_a_second_bank_on_the_same_bus_is_no_copy_for_its_amps_are_its_own(digits: int) -> None:
    """Both follow the same clouds; the older takes three fifths of what the other takes."""
    amps = noisy(lambda t: 0.6 * clouds(t) + 0.3, 0.05, "b")
    banks, collector = found(BANK + second_bank(noisy(bus, 0.012, "u"), amps, digits))
    assert not [source.topic for source in collector.sources if source.repeats]
    assert {"barn/reserve/volts", "barn/reserve/amps", "shed/bank/volts", "shed/bank/amps"} <= set(live(banks))


def halved(signal: Signal) -> Callable[[float], str]:
    return lambda t: f"{signal(t) / 2.0:.1f}"


def test_strings_that_share_alike_and_blocks_of_one_bank_are_no_copies_of_each_other() -> None:
    half = [meter(f"shed/bank/string_{n}/amps", 5.0, halved(noisy(clouds, 0.02, str(n)))) for n in (1, 2)]
    blocks = [meter(f"shed/bank/block_{n}/volts", 5.0, halved(noisy(bus, 0.004, f"b{n}"))) for n in (1, 2)]
    banks, collector = found(BANK + [one for said in half + blocks for one in said])
    assert not [source.topic for source in collector.sources if source.repeats]
    assert [one.quantity for bank in banks for one in bank.guesses].count("string_current") == 2


def test_numbers_that_are_alike_by_chance_are_no_copies() -> None:
    """Rooms as warm as each other, and a plug's volts beside the meter's."""
    rooms = [
        meter(f"house/{room}/temp", 20.0, drift(20.4, 0.1, 200.0 + len(room)))
        for room in ("kitchen", "parlour", "loft", "hallway", "office")
    ]
    _, collector = found(BANK + [one for said in rooms for one in said])
    assert not [source.topic for source in collector.sources if source.repeats]


def test_a_repeat_of_another_circuits_number_stays_where_it_alone_is_named_the_banks() -> None:
    """A charger in series with the bank shows the same amps: the bank's own shunt is not dropped for it."""
    shunt = repeated(AMPS, "shed/bank/shunt_amps", 10.0, tenths)
    charger = [Message("shed/charger/output_amps", one.payload, one.at) for one in AMPS]
    banks, _ = found(VOLTS + charger + shunt)
    assert live(banks).get("shed/bank/shunt_amps") == "current"


# ---- sums that are none, strings that no name tells, a battery told in another language --------------------------


def drift(middle: float, swing: float, period: float) -> Callable[[float], str]:
    return lambda t: f"{middle + swing * math.sin(t / period):.1f}"


def test_the_airs_pressure_is_no_banks_though_six_temperatures_add_up_to_a_tenth_of_it() -> None:
    """All seven drift alike; volts that six blocks share would move by as much as the blocks do together."""
    ground = [meter(f"plot/{n}/ground", 10.0, drift(15.3 + 0.3 * n, 0.3, 90.0), first=0.3 * n) for n in range(1, 7)]
    air = meter("weather/qfe", 10.0, drift(982.7, 0.4, 90.0))
    banks, _ = found(BANK + air + [one for said in ground for one in said])
    assert live(banks) == ALONE
    offered = [one for bank in banks for one in bank.guesses if one.sure >= OFFERED]
    assert "weather/qfe" not in {one.source.topic for one in offered}


def hundredths(signal: Signal) -> Callable[[float], str]:
    return lambda t: f"{signal(t):.2f}"


def test_six_blocks_that_no_name_tells_make_the_number_that_moves_as_much_as_they_do_a_banks() -> None:
    def share(t: float) -> float:
        return 2.0 * bus(t) / 6.0

    blocks = [
        meter(f"plot/{n}/ground", 5.0, hundredths(noisy(share, 0.004, f"g{n}")), first=0.1 * n) for n in range(1, 7)
    ]
    whole = meter("plot/sum", 5.0, lambda t: f"{noisy(lambda t: 2.0 * bus(t), 0.01, 's')(t):.2f}")
    banks, _ = found([one for said in blocks for one in said] + whole)
    assert live(banks).get("plot/sum") == "voltage"


def strings(*, apart: float = 0.0) -> list[Message]:
    one = meter("parc_rangee_a", 10.0, lambda t: f"{noisy(clouds, 0.03, 'ra')(t) * 0.54:.1f}")
    other = meter("parc_rangee_b", 10.0, lambda t: f"{noisy(clouds, 0.03, 'rb')(t) * (0.46 + apart):.1f}")
    whole = meter("parc_courant", 5.0, lambda t: f"{noisy(clouds, 0.04, 'a')(t):.1f}")
    return [*meter("parc_tension", 5.0, lambda t: f"{noisy(bus, 0.012, 'v')(t):.2f}"), *whole, *one, *other]


def test_numbers_called_alike_that_add_up_to_the_banks_amps_are_its_strings() -> None:
    banks, _ = found(strings())
    assert live(banks) == {
        "parc_tension": "voltage",
        "parc_courant": "current",
        "parc_rangee_a": "string_current",
        "parc_rangee_b": "string_current",
    }
    assert banks[0].shape.strings == 2


def test_numbers_called_alike_that_add_up_to_more_than_the_banks_amps_are_no_strings() -> None:
    banks, _ = found(strings(apart=0.2))
    assert "string_current" not in live(banks).values()


@pytest.mark.parametrize(
    ("volts", "amps"),
    [("voltios", "amperios"), ("volty", "ampery"), ("voltit", "ampeerit"), ("voltai", "amperai"), ("вольты", "амперы")],
)
def test_a_batterys_volts_and_amps_in_a_document_are_understood_by_the_units_words(volts: str, amps: str) -> None:
    messages = [
        Message("mast/kit", json.dumps({volts: round(bus(t) / 2.0, 2), amps: round(clouds(t), 1)}).encode(), START + t)
        for t in range(0, SECONDS, 10)
    ]
    banks, _ = found(messages)
    assert live(banks) == {f"mast/kit /{volts}": "voltage", f"mast/kit /{amps}": "current"}


# ---- what is worth asking --------------------------------------------------------------------------------------


def offered(banks: list[Found]) -> list[str]:
    return [one.source.topic for bank in banks for one in bank.guesses if OFFERED <= one.sure < SURE_ENOUGH]


AROUND = [
    *meter("house/parlour/temp", 20.0, drift(20.3, 0.2, 90.0)),
    *meter("house/store/temp", 20.0, drift(-19.0, 0.4, 80.0)),
    *meter("panels/volts", 5.0, drift(46.0, 1.0, 30.0)),
    *meter("panels/amps", 5.0, drift(4.0, 1.5, 20.0)),
    *meter("yard/hatch/door", 20.0, lambda t: "open" if t > 100 else "closed"),
]


def test_what_cannot_be_the_banks_is_not_asked_about() -> None:
    near = [
        *meter("shed/bank/air_temp", 20.0, drift(14.0, 0.2, 90.0)),
        *meter("shed/vent/door", 20.0, lambda t: "open" if t > 50 else "closed"),
    ]
    banks, _ = found(BANK + near + AROUND)
    assert set(ALONE) | {"shed/bank/air_temp"} == set(live(banks))
    assert offered(banks) == ["shed/vent/door"]


def test_what_may_be_the_banks_is_asked_about_the_likeliest_first() -> None:
    """No probe in the acid, no air named the bank's: rooms may be either; a starter battery may be a bank as well."""
    starter = meter("yard/tractor/battery_volts", 20.0, drift(12.6, 0.1, 70.0))
    banks, _ = found(VOLTS + AMPS + AROUND + starter)
    asked = offered(banks)
    assert {"house/parlour/temp", "yard/hatch/door", "yard/tractor/battery_volts"} <= set(asked)
    sure = [one.sure for bank in banks for one in bank.guesses]
    assert sure == sorted(sure, reverse=True)
