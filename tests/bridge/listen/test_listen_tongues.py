"""What owners of other tongues call rows, taps, rooms, relays and fans, and what they ride: heard, or left alone."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from bridge import config
from bridge.listen.collect import Collector
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.guess import Guess
from bridge.listen.names import words_of
from bridge.listen.relays import relays
from bridge.listen.vocabulary import folded
from bridge.listen.write import OFFERED, cabin_file, recognise
from bridge.message import Message
from bridge.settings import BrokerSettings
from tests.bridge.listen.test_listen_company import FLOWS, bank, late, live
from tests.bridge.listen.test_listen_strange import by_place, say, wander
from tests.bridge.listen.test_listen_words import told

VOLTS = late(FLOWS)
#: A charger that holds its volts: nothing moves but the meters' own noise.
STILL = [31.96 + random.Random(place).uniform(-0.01, 0.01) for place in range(60)]
#: What two rows of a bank carry when its charger is held.
WHOLE = [19.6 + random.Random(place).uniform(-0.06, 0.06) for place in range(60)]


def likeliest_relay(messages: list[Message]) -> str:
    collector = Collector()
    for message in messages:
        collector.take(message)
    found = relays(collector.switches, recognise(collector.sources))
    return found[0].state_topic if found else ""


@pytest.mark.parametrize(
    "names",
    [
        ("batterij/spanning", "batterij/stroom", "batterij/vermogen", "batterij/zuur"),
        ("akkumulátor/feszültség", "akkumulátor/áram", "akkumulátor/teljesítmény", "akkumulátor/elektrolit"),
        ("baterie/tensiune", "baterie/curent", "baterie/putere", "baterie/electrolit"),
        ("baterija/napon", "baterija/struja", "baterija/snaga", "baterija/kiselina"),
        ("batéria/napätie", "batéria/prúd", "batéria/výkon", "batéria/kyselina"),
        ("akü/gerilim", "akü/akım", "akü/güç", "akü/elektrolit"),
        ("aku/pinge", "aku/vool", "aku/võimsus", "aku/hape"),
        ("akumulators/spriegums", "akumulators/strāva", "akumulators/jauda", "akumulators/skābe"),
        ("baterija/įtampa", "baterija/srovė", "baterija/galia", "baterija/elektrolitas"),
        ("akumulatorów/napięcie", "akumulatorów/prąd", "akumulatorów/moc", "akumulatorów/elektrolitem"),
        ("μπαταρίες/τάση", "μπαταρίες/ένταση", "μπαταρίες/ισχύς", "μπαταρίες/ηλεκτρολύτες"),
        ("μπαταρία/τάση", "μπαταρία/ρεύμα", "μπαταρία/ισχύς", "μπαταρία/ηλεκτρολύτης"),
        ("акб/напруга", "акб/струм", "акб/потужність", "акб/електроліт"),
        ("батерия/напрежение", "батерия/ток", "батерия/мощност", "батерия/електролит"),
        ("mpataria/tasi", "mpataria/revma", "mpataria/isxys", "mpataria/hlektrolyths"),
        ("mpatarias/tash", "mpatarias/reuma", "mpatarias/ischys", "mpatarias/ygra"),
        ("akkumulyator/napryazhenie", "akkumulyator/tok", "akkumulyator/moshchnost", "akkumulyator/kislota"),
        ("akumuliator/napruga", "akumuliator/strum", "akumuliator/potuzhnist", "akumuliator/elektrolit"),
        ("bateria/tentsioa", "bateria/korrontea", "bateria/potentzia", "bateria/azidoa"),
        ("baterai/tegangan", "baterai/arus", "baterai/daya", "baterai/asam"),
        ("bateria/tensioni", "bateria/rryma", "bateria/fuqia", "bateria/acidi"),
        ("rafgeymir/spenna", "rafgeymir/straumur", "rafgeymir/afl", "rafgeymir/sýra"),
        ("batri/foltedd", "batri/cerrynt", "batri/pŵer", "batri/asid"),
        ("батерија/напон", "батерија/струја", "батерија/снага", "батерија/киселина"),
        ("акумулятар/напружанне", "акумулятар/ток", "акумулятар/магутнасць", "акумулятар/кіслата"),
        ("بطارية/جهد", "بطارية/تيار", "بطارية/قدرة", "بطارية/حمض"),
        ("باتری/ولتاژ", "باتری/جریان", "باتری/توان", "باتری/اسید"),
        ("סוללה/מתח", "סוללה/זרם", "סוללה/הספק", "סוללה/חומצה"),
        ("蓄電池/電圧", "蓄電池/電流", "蓄電池/電力", "蓄電池/電解液"),
    ],
    ids=lambda names: names[0],
)
def test_a_bank_is_heard_in_any_tongue(names: tuple[str, ...]) -> None:
    volts, amps, watts, acid = (f"hut/{name}" for name in names)
    messages = told(volts, amps, watts) + say(acid, *(f"{27.1 + 0.1 * (n % 3):.1f} °C" for n in range(60)))
    found = by_place(messages)
    assert [found[one].quantity for one in (volts, amps, watts)] == ["voltage", "current", "power"]
    assert found[acid].quantity == "electrolyte_temperature"
    assert min(found[one].sure for one in (volts, amps, watts, acid)) >= SURE_ENOUGH


@pytest.mark.parametrize(
    "row", ["fila_{}", "hilera_{}", "rij_{}", "reihe_{}", "rangee_{}", "rzad_{}", "rivi_{}", "retezec_{}", "гілка_{}"]
)
@pytest.mark.parametrize("whole", [True, False], ids=["both are the whole", "one is a load"])
def test_rows_are_strings_in_any_tongue_where_they_are_the_whole_together(row: str, *, whole: bool) -> None:
    rng = random.Random(5)
    one = [0.53 * flow + rng.uniform(-0.05, 0.05) for flow in WHOLE]
    other = [flow - each if whole else rng.uniform(2.0, 9.0) for flow, each in zip(WHOLE, one, strict=True)]
    rows = [f"hut/battery/{row.format(letter)}" for letter in "ab"]
    found = by_place(
        [
            *say("hut/battery/volts", *(f"{volt:.2f} V" for volt in STILL)),
            *say("hut/battery/amps", *(f"{flow:.2f} A" for flow in WHOLE)),
            *say("hut/battery/watts", *(f"{v * i:.1f} W" for v, i in zip(STILL, WHOLE, strict=True))),
            *say(rows[0], *(f"{flow:.2f} A" for flow in one)),
            *say(rows[1], *(f"{flow:.2f} A" for flow in other)),
        ]
    )
    assert (found["hut/battery/amps"].quantity, found["hut/battery/amps"].sure >= SURE_ENOUGH) == ("current", True)
    assert [found[name].sure >= SURE_ENOUGH for name in rows] == [whole, whole]
    assert {found[name].quantity for name in rows} == {"string_current"}


@pytest.mark.parametrize("apart", [True, False], ids=["each by itself", "side by side"])
def test_two_rows_with_volts_of_their_own_are_two_banks_and_side_by_side_they_are_rows(*, apart: bool) -> None:
    rng = random.Random(8)
    messages = []
    for row, volts, amps in (("a", late(FLOWS), FLOWS), ("b", [25.4] * 250 if apart else late(FLOWS), [0.4] * 250)):
        messages += say(f"hut/bateria/serie_{row}/tensao", *(f"{v + rng.uniform(-0.01, 0.01):.2f} V" for v in volts))
        messages += say(f"hut/bateria/serie_{row}/corrente", *(f"{i + rng.uniform(-0.01, 0.01):.2f} A" for i in amps))
    one = by_place(messages)["hut/bateria/serie_a/corrente"]
    assert (one.quantity, one.sure >= SURE_ENOUGH) == (("current", True) if apart else ("string_current", False))


@pytest.mark.parametrize(
    "tap",
    [
        "presa_centrale",
        "prise_mediane",
        "toma_media",
        "tomada_central",
        "mittenabgriff",
        "middenaftakking",
        "středový_bod",
    ],
)
def test_a_tap_in_the_middle_is_a_midpoint_though_its_word_is_an_outlets(tap: str) -> None:
    messages = bank("hut/battery/volts", "hut/battery/amps")
    found = by_place(messages + say(f"hut/battery/{tap}", *(f"{0.498 * volt:.2f} V" for volt in VOLTS)))
    half = found[f"hut/battery/{tap}"]
    assert (half.quantity, half.sure >= SURE_ENOUGH) == ("midpoint_voltage", True)


def test_an_outlet_is_no_midpoint() -> None:
    messages = bank("hut/battery/volts", "hut/battery/amps")
    found = by_place(messages + say("hut/presa_garage/tensione", *(f"{one} V" for one in wander(231.0, 1, 250))))
    assert found["hut/presa_garage/tensione"].quantity == "ac_voltage"


def pack(volts: str, amps: str, *, percent: float | None = None, cells: int = 10) -> list[Message]:
    """A pack of a bicycle's size on its charger, beside a bank that nobody can miss."""
    folder = volts.rpartition("/")[0]
    return [
        *bank("hut/battery/volts", "hut/battery/amps"),
        *say("hut/battery/watts", *(f"{v * i:.1f} W" for v, i in zip(VOLTS, FLOWS, strict=True))),
        *say(volts, *wander(3.98 * cells, 1, 60)),
        *say(amps, *wander(1.9, 2, 60)),
        *([] if percent is None else say(f"{folder}/procent", *wander(percent, 1, 60))),
    ]


@pytest.mark.parametrize(
    "ridden",
    [
        *("fiets/accu", "velo/batterie", "ebike/battery", "trottinette/batterie", "hulajnoga/akumulator"),
        *("patinete/bateria", "cykel/batteri", "potkulauta/akku", "велосипед/акб", "powerstation/battery"),
        "robot/battery",
    ],
)
def test_what_a_bicycle_or_a_toy_rides_on_never_goes_live(ridden: str) -> None:
    found = live(pack(f"{ridden}/V", f"{ridden}/A"))
    assert found["hut/battery/volts"] == "voltage"
    assert not [place for place in found if place.startswith(ridden)]


def test_a_pack_that_shows_lithiums_volts_for_how_full_it_is_is_asked_about_by_any_name() -> None:
    one = by_place(pack("grey/battery/V", "grey/battery/A", percent=83.0))["grey/battery/V"]
    assert OFFERED <= one.sure < SURE_ENOUGH
    assert "a lithium pack shows as much" in "; ".join(one.reasons)


@pytest.mark.parametrize("percent", [None, 41.0], ids=["nobody says how full", "lithium so full shows less"])
def test_a_second_bank_of_lead_is_still_found(percent: float | None) -> None:
    assert live(pack("cart/battery/V", "cart/battery/A", percent=percent))["cart/battery/V"] == "voltage"


def blocks(folder: str, each: float, whole: str) -> list[Message]:
    """Six numbers that add up to a cart's volts, held so still that nothing moves with anything."""
    rng = random.Random(3)
    leans = (0.03, -0.07, 0.01, 0.02, -0.02, 0.03)
    volts = [6.0 * each + rng.uniform(-0.01, 0.01) for _ in range(60)]
    amps = [8.4 + rng.uniform(-0.02, 0.02) for _ in range(60)]
    messages = [
        *say(f"{whole}/Voltage", *(f"{one:.2f}" for one in volts)),
        *say(f"{whole}/Current", *(f"{one:.2f}" for one in amps)),
        *say(f"{whole}/Power", *(f"{v * i:.1f}" for v, i in zip(volts, amps, strict=True))),
        # another thing with volts and amps of its own, that nothing calls a battery's either
        *say("alarm/standby/Voltage", *wander(13.62, 2, 60)),
        *say("alarm/standby/Current", *wander(0.08, 3, 60)),
    ]
    for place, lean in enumerate(leans):
        messages += say(f"{folder}/B{place + 1}", *(f"{each + lean + rng.uniform(-0.01, 0.01):.2f}" for _ in range(60)))
    return messages


def test_six_numbers_called_a_batterys_that_are_a_voltage_together_make_it_a_banks() -> None:
    found = live(blocks("cart/Baterie", 7.93, "cart/meter"))
    assert found["cart/meter/Voltage"] == "voltage"
    assert [found[f"cart/Baterie/B{n}"] for n in range(1, 7)] == ["block_voltage"] * 6
    assert "alarm/standby/Voltage" not in found


def test_six_numbers_of_the_garden_that_are_as_much_together_make_nothing_a_banks() -> None:
    assert "cart/meter/Voltage" not in live(blocks("garden/soil", 7.93, "cart/meter"))


@pytest.mark.parametrize("warmth", ["acid", "hall"])
def test_three_cells_beside_their_acid_are_a_bank_of_six_volts(warmth: str) -> None:
    rng = random.Random(9)
    messages = []
    for place in range(60):
        cells = [round(2.67 + lean + rng.uniform(-0.002, 0.002), 3) for lean in (0.008, -0.013, 0.005)]
        node = {"c1": cells[0], "c2": cells[1], "c3": cells[2], f"{warmth}_F": round(84.9 + 0.1 * (place % 3), 1)}
        supply = {"V": round(8.01 + rng.uniform(-0.003, 0.003), 3), "A": round(4.2 + rng.uniform(-0.01, 0.01), 2)}
        messages += [*say("shed/bench/node", node), *say("shed/bench/psu", supply)]
    found = by_place(messages)
    assert (found["shed/bench/psu /V"].sure >= SURE_ENOUGH) is (warmth == "acid")


@pytest.mark.parametrize(
    ("called", "is_a_relay"),
    [("Charge contactor", True), ("Реле зарядного", True), ("Relé del cargador", True), ("Alarm word", False)],
)
def test_a_register_is_the_chargers_relay_by_its_kept_name(called: str, *, is_a_relay: bool) -> None:
    messages = bank("rtu/3/30001", "rtu/3/30002") + say("rtu/3/30012", *["1"] * 60)
    names = {"30001": "Battery voltage", "30002": "Battery current", "30012": called}
    messages += say("rtu/3/map", {number: {"name": name} for number, name in names.items()}, retain=True)
    assert (likeliest_relay(messages) == "rtu/3/30012") is is_a_relay


@pytest.mark.parametrize(
    ("topic", "is_a_relay"),
    [("stat/charger_cart/POWER", True), ("stat/nabijecka/POWER1", True), ("stat/kettle/POWER", False)],
)
def test_what_stands_under_stat_is_a_state_and_the_chargers_where_its_name_says_so(
    topic: str, *, is_a_relay: bool
) -> None:
    messages = bank("hut/battery/volts", "hut/battery/amps") + say(topic, *["ON"] * 60)
    assert (likeliest_relay(messages) == topic) is is_a_relay


@pytest.mark.parametrize("word", ["витяжка", "вытяжка", "wyciag", "odsávání", "lueftung", "avsug", "ventilazione"])
def test_what_draws_the_gas_off_is_a_fan_in_any_tongue(word: str) -> None:
    topic = f"hut/battery/{word}"
    one = by_place(bank("hut/battery/volts", "hut/battery/amps") + say(topic, *["0", "1"] * 30))[topic]
    assert (one.quantity, OFFERED <= one.sure < SURE_ENOUGH) == ("fan", True)


def control(name: str, title: dict[str, str], unit: str, *values: str) -> list[Message]:
    meta = {"title": title, "type": "value", "units": unit}
    return say(f"/devices/akb/controls/{name}", *values) + say(f"/devices/akb/controls/{name}/meta", meta, retain=True)


@pytest.mark.parametrize(
    ("title", "quantity"),
    [
        ({"uk": "Електроліт"}, "electrolyte_temperature"),
        ({"en": "Acid", "de-AT": "Säure"}, "electrolyte_temperature"),
        ({"uk": "Повітря"}, "ambient_temperature"),
    ],
)
def test_a_title_in_one_of_several_tongues_names_a_number(title: dict[str, str], quantity: str) -> None:
    messages = bank("/devices/akb/controls/u", "/devices/akb/controls/i")
    messages += control("t", title, "°C", *(f"{17.4 + 0.1 * (n % 3):.1f}" for n in range(60)))
    messages += control("x", {"uk": "Вхід 2"}, "V", *wander(4.1, 2, 60))
    assert by_place(messages)["/devices/akb/controls/t"].quantity == quantity


@pytest.mark.parametrize(
    ("unit", "factor", "said", "value"),
    [("C", 0.1, "386", 38.6), ("°C", 0.1, "386", 38.6), ("C", 1.0, "38", None), ("F", 0.1, "862", None)],
)
def test_a_count_of_tenths_of_a_degree_is_tenths(unit: str, factor: float, said: str, value: float | None) -> None:
    """A lone C goes on being asked of its name; tenths of a degree Fahrenheit can be written in no unit."""
    messages = bank("rtu/3/1/volts", "rtu/3/1/amps") + say("rtu/3/30009", *(str(int(said) + n % 2) for n in range(60)))
    messages += say("rtu/3/30010", *(str(740 + n % 2) for n in range(60)))
    entries = {"30009": {"name": "Electrolyte temp", "unit": unit, "scale": factor}}
    entries["30010"] = {"name": "State of charge", "unit": "%", "scale": 0.1}
    found = by_place(messages + say("rtu/3/map", entries, retain=True)).get("rtu/3/30009")
    if value is not None:
        assert found is not None
        assert (found.quantity, found.sure >= SURE_ENOUGH) == ("electrolyte_temperature", True)
        assert found.value == pytest.approx(value, abs=0.1)
    else:
        assert found is None or found.sure < SURE_ENOUGH or found.value == pytest.approx(38.0, abs=1.0)


def test_a_raw_count_beside_its_factor_is_no_whole_degree() -> None:
    """5.0 degC told as 50 with a factor of a tenth; of tenths of degF nothing is guessed."""
    for unit, expected in (("°C", 5.0), ("°F", None)):
        body = [{"raw": 50 + n % 2, "factor": 0.1, "unit": unit} for n in range(60)]
        found = by_place(bank("hut/battery/volts", "hut/battery/amps") + say("hut/battery/acid_temp", *body))
        one = found.get("hut/battery/acid_temp /raw")
        assert (one.value == pytest.approx(expected, abs=0.1)) if one is not None and expected else one is None


@pytest.mark.parametrize(
    ("name", "quantity"),
    [
        ("CasaBaterias_Temperatura", "ambient_temperature"),
        ("sala_de_baterias_temp", "ambient_temperature"),
        ("battery_shed_temp", "ambient_temperature"),
        ("batteriekeller_temp", "ambient_temperature"),
        ("akkukoppi_lämpötila", "ambient_temperature"),
        ("house_battery_temp", "electrolyte_temperature"),
        ("battery_case_temp", "electrolyte_temperature"),
    ],
)
def test_the_room_of_the_batteries_has_air_and_the_battery_of_the_house_has_none(name: str, quantity: str) -> None:
    topic = f"hut/items/{name}"
    messages = bank("hut/items/Bank_volts", "hut/items/Bank_amps")
    one = by_place(messages + say(topic, *(f"{26.3 + 0.1 * (n % 3):.1f} °C" for n in range(60))))[topic]
    assert one.quantity == quantity


def test_names_in_a_list_that_end_in_their_units_say_them() -> None:
    names = ["jännite V", "virta A", "akkuhappo °C", "akkukoppi °C"]
    rows = [
        [round(v, 2), round(i, 2), 21.6 + 0.1 * (n % 3), 4.2] for n, (v, i) in enumerate(zip(VOLTS, FLOWS, strict=True))
    ]
    found = by_place(say("hut/akku/luvut", *rows) + say("hut/akku/luvut/names", names, retain=True))
    acid, air = found["hut/akku/luvut /2"], found["hut/akku/luvut /3"]
    assert (acid.quantity, acid.unit, acid.sure >= SURE_ENOUGH) == ("electrolyte_temperature", "degC", True)
    assert air.quantity == "ambient_temperature"


def resting(sign: float) -> dict[str, Guess]:
    """A bank at rest under a small load, seen so seldom that its watts never are volts times amps of one moment."""
    rng = random.Random(4)
    volts = [26.1 - 0.002 * n + rng.uniform(-0.004, 0.004) for n in range(60)]
    amps = [sign * (0.22 + rng.uniform(-0.04, 0.04)) for _ in range(60)]
    watts = [sign * 26.0 * (0.22 + rng.uniform(-0.04, 0.04)) for _ in range(60)]
    return by_place(
        [
            *say("hut/battery/volts", *(f"{one:.2f} V" for one in volts)),
            *say("hut/battery/amps", *(f"{one:.2f} A" for one in amps)),
            *say("hut/battery/watts", *(f"{one:.1f} W" for one in watts)),
        ]
    )


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_watts_whose_way_nothing_shows_do_not_go_live(sign: float) -> None:
    watts = resting(sign)["hut/battery/watts"]
    assert (watts.quantity, OFFERED <= watts.sure < SURE_ENOUGH) == ("power", True)


def test_a_place_of_two_words_is_taken_apart_where_its_tongue_glues_and_left_whole_where_it_names_a_house() -> None:
    assert words_of("solarhut/batteriekeller/akkukoppi") == ["solarhut", "batterie", "keller", "akku", "koppi"]


def test_no_word_stands_as_it_is_never_compared() -> None:
    """Words are compared in small letters without accents; one written otherwise would never be met."""
    assert [word for word in words_of("Лічильник/Ємність/Електроліт/jännite/STRØM") if folded(word) != word] == []


@pytest.mark.parametrize(
    ("topic", "said", "is_a_relay"),
    [
        ("plugs/charger", "ON", True),
        ("shed/charger/socket", "on", True),
        ("garage/lader/strom", "ein", True),
        ("plugs/kettle", "ON", False),
        ("shed/charger/fan", "on", False),
        ("shed/charger/online", "true", False),
    ],
)
def test_a_switch_called_the_charger_itself_feeds_it(topic: str, said: str, *, is_a_relay: bool) -> None:
    messages = bank("hut/battery/volts", "hut/battery/amps") + say(topic, *[said] * 60)
    assert (likeliest_relay(messages) == topic) is is_a_relay


def test_of_a_plug_that_tells_it_twice_the_plain_word_is_offered() -> None:
    messages = bank("hut/battery/volts", "hut/battery/amps")
    messages += say("tele/charger/STATE", *({"POWER": "ON", "Vcc": 3.1} for _ in range(60)))
    assert likeliest_relay(messages) == "tele/charger/STATE"
    assert likeliest_relay(messages + say("stat/charger/POWER", *["ON"] * 60)) == "stat/charger/POWER"


def test_digits_in_quotes_are_a_number_and_a_file_can_read_them(tmp_path: Path) -> None:
    messages = say("hut/battery/volts", *(f'"{volt:.2f}"' for volt in VOLTS))
    messages += say("hut/battery/amps", *(f'"{flow:.2f}"' for flow in FLOWS)) + say("hut/battery/mode", '"bulk"')
    collector = Collector()
    for message in messages:
        collector.take(message)
    found = recognise(collector.sources)
    file = tmp_path / "cabin.toml"
    file.write_text(cabin_file(found, BrokerSettings()), "utf-8")
    readings = [reading for message in messages for reading in config.load(file).routes.decode(message).readings]
    assert {one.meter for one in readings} == {"voltage", "current"}
    assert readings[0].value == pytest.approx(VOLTS[0], abs=0.01)


@pytest.mark.parametrize(("name", "times"), [("volts_x100", 100), ("volts*10", 10), ("centivolts", 100)])
def test_a_count_whose_name_says_how_many_times_it_is_too_large(name: str, times: int) -> None:
    messages = say(f"hut/battery/{name}", *(f"{times * volt:.0f}" for volt in VOLTS))
    one = by_place(messages + say("hut/battery/amps", *(f"{flow:.2f} A" for flow in FLOWS)))[f"hut/battery/{name}"]
    assert (one.quantity, one.sure >= SURE_ENOUGH) == ("voltage", True)
    assert one.value == pytest.approx(VOLTS[125], rel=0.05)


def test_a_number_beyond_all_bounds_whose_name_says_times_breaks_nothing() -> None:
    assert "hut/battery/volts_x10" not in live(
        bank("hut/battery/v", "hut/battery/a") + say("hut/battery/volts_x10", *["1e400"] * 30)
    )


@pytest.mark.parametrize(("name", "is_a_bank"), [("volts", True), ("v", False)])
def test_a_trucks_forty_cells_are_a_bank_where_volts_are_named_and_a_letter_may_be_a_per_cent(
    name: str, *, is_a_bank: bool
) -> None:
    messages = say(f"hall/battery/{name}", *wander(104.0, 1, 60)) + say("hall/battery/amps", *wander(8.0, 2, 60))
    assert (f"hall/battery/{name}" in live(messages)) is is_a_bank


def test_watts_take_their_way_from_the_amps_that_prove_them_and_blocks_of_another_battery_tell_no_cells() -> None:
    """Amps of something else that are the likelier, because the volts moved once with them, show nothing of watts."""
    messages = bank("hut/battery/volts", "hut/battery/amps") + say(
        "hut/battery/other", *(f"{-flow:.2f} A" for flow in FLOWS)
    )
    messages += say("hut/battery/watts", *(f"{v * i:.1f} W" for v, i in zip(VOLTS, FLOWS, strict=True)))
    for n in range(5):
        messages += say(f"hut/fence/block{n + 1}/volts", *(f"{one} V" for one in wander(6.4 + 0.3 * n, 2, 60)))
    found = by_place(messages)
    watts, amps = found["hut/battery/watts"], found["hut/battery/amps"]
    assert (amps.sign, watts.sign) == ("charging", "charging")
    assert amps.sure >= SURE_ENOUGH


@pytest.mark.parametrize("word", ["tent", "banka", "bolt", "element", "usual"])
def test_what_a_foreign_word_begins_with_or_sounds_like_is_no_quantity(word: str) -> None:
    messages = bank("hut/battery/volts", "hut/battery/amps") + say(f"hut/{word}/q", *(19.4 + n % 3 for n in range(60)))
    assert f"hut/{word}/q" not in live(messages)
    assert words_of(word) == [word]
