"""`revival record`: what is typed becomes readings; a running bridge takes them in, keeps them, gives them back."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.cli import build_parser, main
from bridge.errors import UsageError
from bridge.intake.hand_words import moment, understand
from bridge.intake.request import Request
from bridge.journal.reader import JournalReader
from bridge.mailbox import Asked
from bridge.runtime.control_socket import Control, socket_path
from rules.bank.model import Bank, Block
from rules.events import HandReading
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import shunt, write_cabin
from tests.support.running_bridge import turning

NORTH = Bank("north", (tuple(Block(f"N{number}", 3, 200.0) for number in range(1, 5)),))
TWIN = Bank("south", tuple(tuple(Block(f"{name}{number}", 6, 150.0) for number in (1, 2)) for name in "AB"))
NOW = 1_795_590_000.0


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("1.265", 1.265),
        ("1265", 1.265),
        ("1,265", 1.265),
        ("30.38 Be", 1.265),
        ("30.38 °Bé", 1.265),
        ("sg 1.265", 1.265),
    ],
)
def test_a_gravity_is_read_in_every_notation(written: str, value: float) -> None:
    assert understand(NORTH, "gravity", [f"N1.2={written}"]).values["N1.2"] == pytest.approx(value, abs=5e-5)


def test_a_whole_string_is_read_in_one_line() -> None:
    words = ["1.265", "1.250", "low", "1265", "30.4", "Be", "none", "high", *["1.24"] * 5]
    made = understand(NORTH, "gravity", words, string=1)
    assert list(made.values)[:4] == ["N1.1", "N1.2", "N1.3", "N2.1"]
    assert made.values["N1.3"] == "low"
    assert made.values["N2.2"] == pytest.approx(1.2653, abs=1e-4)
    assert (made.values["N2.3"], made.values["N3.1"], len(made.values)) == ("none", "high", 12)


def test_a_block_is_read_by_its_label() -> None:
    assert understand(NORTH, "gravity", ["1.26", "1.25", "low"], block="N3").values == {
        "N3.1": 1.26, "N3.2": 1.25, "N3.3": "low",
    }  # fmt: skip
    assert understand(NORTH, "voltage", ["6.2"], block="N3").values == {"N3": 6.2}
    assert understand(NORTH, "voltage", ["2.1", "2.0", "2.1"], block="N3").values == {
        "N3.1": 2.1, "N3.2": 2.0, "N3.3": 2.1,
    }  # fmt: skip
    assert understand(TWIN, "voltage", ["12.6", "12.4"], string=2).values == {"B1": 12.6, "B2": 12.4}


@pytest.mark.parametrize(
    ("what", "words", "values"),
    [
        ("voltage", ["25.1"], {"": 25.1}),
        ("voltage", ["25,1", "V"], {"": 25.1}),
        ("voltage", ["25100", "mV"], {"": 25.1}),
        ("amps", ["-3.5"], {"": -3.5}),
        ("amps", ["12.4A"], {"": 12.4}),
        ("temperature", ["84", "degF"], {"": 28.8888888889}),
        ("temperature", ["N1=31 degC", "N2=30°C"], {"N1": 31.0, "N2": 30.0}),
        ("temperature", ["84F"], {"": 28.8888888889}),
        ("temperature", ["29,5", "C"], {"": 29.5}),
        ("temperature", ["N1=86 °F", "N2=30c"], {"N1": 30.0, "N2": 30.0}),
        ("water", ["300", "ml"], {"": 300.0}),
        ("water", ["0.5", "l"], {"": 500.0}),
        ("water", ["N1.1=20 ml", "full"], {"N1.1": 20.0, "": "full"}),
        ("level", ["below-plates"], {"": "below-plates"}),
        ("level", ["8", "mm"], {"": 8.0}),
        ("level", ["0"], {"": 0.0}),
        ("level", ["N2=0.5 in"], {"N2": 12.7}),
        ("seen", ["N1.2", "sulfated", "2", "of", "4"], {"N1.2": "sulfated 2 of 4"}),
        ("seen", ["gassing", "milky"], {"": "gassing milky"}),
        ("seen", ["N1.2=sulfated", "3", "N2=clean", "brown"], {"N1.2": "sulfated 3", "N2": "clean brown"}),
        ("seen", ["milky", "N1.2=no", "gas"], {"": "milky", "N1.2": "no gas"}),
        ("gravity", ["n1.2:1240", "N1.3=1.245sg"], {"N1.2": 1.24, "N1.3": 1.245}),
        ("gravity", ["cell", "2", "of", "block", "1=1.24"], {"N1.2": 1.24}),
        ("voltage", ["block", "1=7.05", "V", "block", "2:", "7,1V"], {"N1": 7.05, "N2": 7.1}),
        ("voltage", ["battery 3 = 7.05 volts"], {"N3": 7.05}),
        ("temperature", ["n1: 84F"], {"N1": 28.8888888889}),
        ("water", ["n2=1/2 cup"], {"N2": pytest.approx(118.294, abs=1e-3)}),
        (
            "water",
            ["N1.1=1", "1/2", "fl", "oz", "N1.2=½", "l"],
            {"N1.1": pytest.approx(44.36, abs=0.01), "N1.2": 500.0},
        ),
        ("charger", ["32V/50A"], {"volts": 32.0, "amps": 50.0}),
        ("charger", ["32", "V", "50", "A"], {"volts": 32.0, "amps": 50.0}),
        ("charger", ["28.8"], {"volts": 28.8}),
        ("charger", ["28.8 V 25 A"], {"volts": 28.8, "amps": 25.0}),
        ("charger", ["28.8V 25A"], {"volts": 28.8, "amps": 25.0}),
    ],
)
def test_other_readings_are_read_with_and_without_their_unit(
    what: str, words: list[str], values: dict[str, float | str]
) -> None:
    made = understand(NORTH, what, words).values
    assert made == {where: pytest.approx(v) if isinstance(v, float) else v for where, v in values.items()}


def test_amps_of_two_strings_of_one_and_at_the_outlet() -> None:
    assert understand(TWIN, "amps", ["12", "14"])[:2] == ("string_amps", {"1": 12.0, "2": 14.0})
    assert understand(TWIN, "amps", ["14"], string=2)[:2] == ("string_amps", {"2": 14.0})
    assert understand(TWIN, "amps", ["9"], ac=True)[:2] == ("ac_amps", {"": 9.0})


@pytest.mark.parametrize(
    ("what", "words", "hint"),
    [
        ("gravity", ["1.265", "1.25"], "but there are 12 (N1.1 to N4.3) places"),
        ("gravity", ["1.265"], "name them as in N1.1="),
        ("gravity", ["N1.1=12.65.3"], "is no gravity"),
        (
            "gravity",
            ["N1.1=12.40"],
            "'12.40' may be a gravity of 1.240 or degrees Baume, which are 1.094: write 1.240 or",
        ),
        ("gravity", ["12,40"] * 12, "write 1.240 or 12.4 Be"),
        ("gravity", ["N1.9=1.265"], "there is no 'N1.9': N1 has cells 1 to 3, N1.1 to N1.3"),
        ("gravity", ["Q7=1.265"], "there is no 'Q7'; the blocks are N1 to N4"),
        ("gravity", ["N1.1=1.425"], "between 1.000 and 1.400: did you mean 1.245? If not write 1.265"),
        ("gravity", ["N1.1=1425"], "did you mean 1245?"),
        ("gravity", ["N1.1=2,165"], "did you mean 1,265?"),
        ("gravity", ["N1.1=1.9"], "between 1.000 and 1.400; write 1.265"),
        (
            "gravity",
            ["barn", "N1.1=1.24"],
            "'barn' is no value, and no bank, block or cell is called so: the bank is n",
        ),
        ("voltage", ["barn", "25.4"], "'barn' is no value, and no bank, block or cell is called so: the bank is north"),
        ("seen", ["Q7=white", "3"], "there is no 'Q7'; the blocks are "),
        ("voltage", ["25.1", "24.9"], "1 (the bank) or 12 (N1.1 to N4.3) or 4 (N1 to N4)"),
        ("temperature", ["29"], 'write "29 degC"'),
        ("amps", ["12 V"], "is no current"),
        ("level", ["fine"], "below-plates"),
        ("level", ["0.5"], '0.5 does not say its unit: write "0.5 mm" or "0.5 in"'),
        ("level", ["N2.2=12"], 'write "12 mm" or "12 in"'),
        ("water", ["N2.2=12"], '12 does not say its unit: write "12 mL" or "12 fl oz"'),
        ("charger", ["loud"], "write 32 V 50 A"),
        ("voltage", ["28.8 V 25 A"], "`revival record charger 28.8 V 25 A`"),
        ("amps", ["28.8", "V", "25", "A"], "`revival record charger 28.8 V 25 A`"),
    ],
)
def test_what_cannot_be_read_is_told_with_what_could(what: str, words: list[str], hint: str) -> None:
    with pytest.raises(UsageError) as caught:
        understand(NORTH, what, words)
    assert hint in str(caught.value)


@pytest.mark.parametrize(
    ("written", "same"),
    [
        ("20 mins ago", "20 min ago"),
        ("1 hr ago", "60 min ago"),
        ("2 hrs", "120 min ago"),
        ("14.10", "14:10"),
        ("2:10 pm", "14:10"),
        ("2pm", "14:00"),
        ("12 am", "0:00"),
        ("12.30 p.m.", "12:30"),
    ],
)
def test_a_time_is_read_as_people_write_it(written: str, same: str) -> None:
    assert moment(written, NOW) == moment(same, NOW)


@given(st.lists(st.text(max_size=12), max_size=15), st.sampled_from(["gravity", "voltage", "water", "charger", "seen"]))
def test_no_text_does_more_than_be_refused(words: list[str], what: str) -> None:
    try:
        made = understand(NORTH, what, words)
    except UsageError:
        return
    assert all(isinstance(value, float | str) for value in made.values.values())


def test_when_is_a_clock_an_age_or_a_date() -> None:
    assert moment("20 min", NOW) == NOW - 1200.0
    assert moment("1,5 h ago", NOW) == NOW - 5400.0
    assert moment("3 days ago", NOW) == NOW - 3 * 86400.0 == moment("3 d", NOW)
    assert moment("5 minutes ago", NOW) == NOW - 300.0 and moment("2 hours ago", NOW) == NOW - 7200.0
    assert moment("2026-11-25T09:00:00+01:00", NOW) == 1795593600.0
    late = moment("23:59", NOW)
    assert NOW - 86400.0 < late <= NOW
    for day in ("yesterday evening", "Yesterday", "today"):
        with pytest.raises(UsageError, match="does not say at which time of day: write 14:10"):
            moment(day, NOW)
    with pytest.raises(UsageError, match='--at "soon": write 14:10'):
        moment("soon", NOW)


# ------------------------------------------------------------------------------------ to a bridge


@pytest.fixture
def asked(tmp_path: Path) -> Callable[..., tuple[int, list[Request]]]:
    """The command, and what it asked of a bridge that agrees to everything."""
    path = write_cabin(tmp_path, 1, relay=False)

    def run(*words: str) -> tuple[int, list[Request]]:
        requests: list[Request] = []

        def deliver(question: Asked) -> None:
            requests.append(question.request)
            question.reply.put({"refused": [], "events": [], "bridge": {"at": NOW}, "banks": {}})

        control = Control(socket_path(tmp_path / "revival.db"), deliver, lambda: NOW)
        try:
            return main(["record", *words, "--config", str(path)]), requests
        finally:
            control.close()

    return run


def told(requests: list[Request]) -> HandReading:
    return next(request for request in requests if isinstance(request, HandReading))


def test_the_line_goes_to_the_bridge_with_temperature_time_and_name(
    asked: Callable[..., tuple[int, list[Request]]],
) -> None:
    code, requests = asked(
        "gravity", "north", "1.265", "1.250", "low", "--block", "N1", "--temperature", "84 degF", "--by", "Ann",
        "--at", "20 min ago", "--note", "smells",
    )  # fmt: skip
    assert code == 0
    record = told(requests)
    assert record.values == {"N1.1": 1.265, "N1.2": 1.25, "N1.3": "low"}
    assert record.temperature == pytest.approx(28.889, abs=1e-3)
    assert (record.by, record.taken_at, record.note) == ("Ann", NOW - 1200.0, "smells")


@pytest.mark.parametrize(("bare", "celsius"), [("17", 17.0), ("17,5", 17.5), ("45", None), ("110", None)])
def test_a_bare_temperature_is_of_the_places_scale_unless_it_may_be_of_the_other(
    asked: Callable[..., tuple[int, list[Request]]],
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    bare: str,
    celsius: float | None,
) -> None:
    path = next(tmp_path.glob("*.toml"))
    path.write_text(path.read_text().replace("[site]", '[site]\ntemperature = "degC"'))
    for words in (["gravity", "N1.1=1.265", "--temperature", bare], ["temperature", "N1.1=" + bare]):
        code, requests = asked(*words)
        if celsius is None:
            assert code == 2 and "does not say its unit: write" in capsys.readouterr().err
        else:
            record = told(requests)
            assert celsius == (record.temperature if words[0] == "gravity" else record.values["N1.1"])


def test_a_reading_that_is_filed_under_another_day_says_under_which(
    asked: Callable[..., tuple[int, list[Request]]], capsys: pytest.CaptureFixture[str]
) -> None:
    later = datetime.fromtimestamp(NOW + 1800.0).astimezone()
    assert asked("voltage", "north", "25.1", "--at", f"{later:%H:%M}")[0] == 0
    yesterday = later - timedelta(days=1)
    assert f"of another day: filed under {yesterday.day} {yesterday:%b %H:%M}" in capsys.readouterr().out
    asked("voltage", "north", "25.1", "--at", "1 min ago")
    assert "of another day" not in capsys.readouterr().out


def test_undo_takes_no_values(asked: Callable[..., tuple[int, list[Request]]]) -> None:
    code, requests = asked("gravity", "north", "--undo")
    assert (code, told(requests).kind, told(requests).undo) == (0, "gravity", True)
    assert asked("gravity", "north", "1.2", "--undo")[0] == 2
    code, requests = asked("gravity", "north", "N1.2", "--undo")
    assert (code, told(requests).values, told(requests).undo) == (0, {"N1.2": ""}, True)


def test_values_behind_an_option_still_belong_to_the_line(
    asked: Callable[..., tuple[int, list[Request]]], capsys: pytest.CaptureFixture[str]
) -> None:
    code, requests = asked("amps", "--undo", "north")
    assert (code, told(requests).kind, told(requests).undo) == (0, "amps", True)
    code, requests = asked("voltage", "--block", "N1", "north", "-6.1")
    assert (code, told(requests).values) == (0, {"N1": -6.1})
    with pytest.raises(SystemExit):
        asked("voltage", "north", "25.1", "--blok", "N1")
    assert "unrecognized arguments: --blok" in capsys.readouterr().err


def test_without_a_running_bridge_nothing_is_noted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write_cabin(tmp_path, 1, relay=False)
    assert main(["record", "voltage", "25.1", "--config", str(path)]) == 4
    assert "revival run" in capsys.readouterr().err


def test_readings_by_hand_go_through_the_bridge_into_state_and_journal_and_back_out(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port, relay=False)

    def record(*words: str) -> tuple[int, str]:
        code = main(["record", *words, "--config", str(path)])
        out, err = capsys.readouterr()
        return code, out + err

    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        assert record("voltage", "28.8")[0] == 0
        assert record("amps", "2.0")[0] == 0
        assert record("temperature", "77 degF")[0] == 0
        state = service.latest["north"]
        assert (state.voltage, state.current) == (28.8, 2.0)
        assert state.temperature == pytest.approx(25.0)
        code, said = record("gravity", "1.250", "1.240", "1.245", "--block", "N1", "--temperature", "77 degF")
        assert code == 0
        assert "lowest 1.239, spread 0.010" in said
        assert "N1.1 1.250, N1.2 1.240" in said and "risen" not in said
        assert service.latest["north"].gravity_spread == pytest.approx(0.010)
        assert record("amps", "900")[0] == 5, "more than the bank holds in one hour"
        assert "refused" in record("voltage", "N1=60")[1]
        assert record("temperature", "86F")[1] == "north: temperature noted: bank 86.0 °F\n"
        code, said = record("gravity", "--undo")
        assert code == 0 and said.startswith("north: the last gravity entry is taken back, of ")
        assert said.endswith(": N1.1 1.250, N1.2 1.240, N1.3 1.245\n"), "which one it was"
        assert service.latest["north"].lowest_gravity is None
        broker.publish("cabin/shunt", shunt(time.time(), 28.7, 2.5), "-q", "1")
        wait_until(lambda: getattr(service.engine.memories["north"].meters.get("current"), "value", None) == 2.5)
        assert "tripped by danger-noted: somebody noted: bang at N2" in record("seen", "a bang at N2")[1]
        assert service.latest["north"].current == 2.5, "a meter that speaks again comes before the hand"
        said = record("seen", "N3=smoke")[1]
        undone = record("seen", "--undo")[1]
        assert "N3 smoke" in undone and "the trip stands all the same" in undone and "revival reset" in undone
        assert "somebody noted: smoke at N3; before: " in said and "next: " in said, "it joins the trip that stands"
        assert said.splitlines()[1].startswith("  Leave the room now"), said
    with JournalReader(tmp_path / "revival.db") as reader:
        noted = [event.detail for event in reader.events("north", 0.0, 1e11, ["hand"])]
    assert [(each["kind"], each["undo"]) for each in noted] == [
        ("voltage", False), ("amps", False), ("temperature", False), ("gravity", False), ("temperature", False),
        ("gravity", True), ("seen", False), ("seen", False), ("seen", True),
    ]  # fmt: skip
    assert noted[3]["values"] == {"N1.1": 1.25, "N1.2": 1.24, "N1.3": 1.245}
    assert json.loads(json.dumps(noted[3]["taken_at"])) == pytest.approx(time.time(), abs=120.0)


def test_what_people_type_of_smells_and_sounds_is_a_danger_or_is_said_to_be_only_kept(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_cabin(tmp_path, make_broker().port, relay=False)

    def record(*words: str) -> str:
        assert main(["record", *words, "--config", str(path)]) == 0
        return capsys.readouterr().out

    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        said = record("seen", "N2 hums in B flat")
        assert "  kept as words: nothing in it is understood as danger" in said and "nothing follows from it" in said
        assert "kept as words" in record("note", "new caps ordered")
        for words in ("all well", "no smell", "N1.1 sulfated 2"):
            assert "kept as words" not in record("seen", words)
        assert not service.engine.memories["north"].interlock.latched
        said = record("seen", "stinks a bit")
        assert said.splitlines()[1].startswith("  Leave the room now") and "kept as words" not in said
        assert "somebody noted: bad smell at the bank" in said
        assert "danger-noted" in service.engine.memories["north"].interlock.latched
        assert "fire service" not in said
        said = record("seen", "N3 smokes")
        assert "call the fire service from outside and open nothing" in said.splitlines()[1]
        assert "case-damaged raised: somebody noted: leak at N2" in record("seen", "N2 leaks")
        lines = record("seen", "N3 is swollen").splitlines()
        assert lines[1].startswith("  noted: bulge at N3;") and lines[2].startswith(
            "  the trip stands: nobody goes in before "
        )
        said = record("seen", "N3.1 topped up, plates covered")
        assert "`revival record level north N3.1=3/8in` and `revival record water north N3.1=10floz`" in said
        said = record("note", "fire!")
        assert said.splitlines()[1].startswith("  Get everybody out now and call the fire service from outside")
        assert "somebody noted: fire at the bank" in said and "  next: Get everybody out" in said
        assert "air it from outside" not in said and "Leave the room" not in said
        lines = record("note", "N3 exploded, acid in my eye").splitlines()
        assert lines[1].startswith("  First aid before anything else") and "at least 15 minutes" in lines[1]
        assert lines[2].startswith("  Leave the room now")


def test_amps_by_hand_that_contradict_the_ammeter_are_asked_about_kept_beside_it_and_doubted(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port, relay=False)

    def record(*words: str) -> tuple[int, str]:
        broker.publish("cabin/shunt", shunt(time.time(), 28.7, 18.0), "-q", "1")
        wait_until(lambda: service.latest["north"].current == 18.0, 25.0)
        code = main(["record", *words, "--config", str(path)])
        out, err = capsys.readouterr()
        return code, out + err

    def flags() -> set[str]:
        return set(service.engine.memories["north"].flags)

    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        assert record("amps", "17")[0] == 0 and "sensors-disagree" not in flags()
        code, said = record("amps", "2")
        assert code == 5 and "not taken: 2.0 A by hand stand beside 18.0 A on the ammeter" in said and "--sure" in said
        assert "sensors-disagree" not in flags()
        code, said = record("amps", "2", "--sure")
        assert code == 0 and "the ammeter goes on being used, and the other is kept beside it" in said
        assert service.latest["north"].current == 18.0
        doubted = service.engine.memories["north"].flags["sensors-disagree"]
        assert doubted.reason == "2.0 A by hand stand beside 18.0 A on the ammeter; the ammeter is used"
        assert "Check both meters against a third" in doubted.action
        assert record("amps", "2", "--at", "30 min ago")[0] == 0, "of another time"
        assert "sensors-disagree" in flags()
        assert record("amps", "--undo")[0] == 0 and record("amps", "2", "--sure")[0] == 0
        assert record("amps", "--undo")[0] == 0 and "sensors-disagree" not in flags()
        record("amps", "2", "--sure")
        assert record("amps", "18.5")[0] == 0 and "sensors-disagree" not in flags()


def test_gravity_under_fresh_water_gives_no_spread_and_a_spread_names_the_cell_that_makes_it(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_cabin(tmp_path, make_broker().port, relay=False)

    def record(*words: str) -> str:
        assert main(["record", *words, "--config", str(path)]) == 0
        return capsys.readouterr().out

    warm = ("--temperature", "80 degF")
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        assert "lowest 1.195, spread 0.060" in record(
            "gravity", *["1.250"] * 3, "1.195", *["1.252"] * 7, "1.255", *warm, "--sure"
        )
        wait_until(lambda: "imbalance" in {flag.name for flag in service.latest["north"].flags}, 20.0)
        (flag,) = [flag for flag in service.latest["north"].flags if flag.name == "imbalance"]
        assert flag.reason == "gravity spread between cells 0.060: N2.1 at 1.195, the middle is 1.252"
        record("water", "N1=60ml", "--at", "1 min ago")
        said = record("gravity", "N1.1=1.190", "N1.2=1.191", "N1.3=1.192", *warm)
        assert "lowest 1.195, spread 0.060" in said, "of the cells without water, which nothing has charged since"
        assert "water was added" in said and "fallen" not in said
        assert "no lowest and no spread of N1.1, N1.2, N1.3: the water is not mixed yet" in said
        said = record(
            "gravity", "N1.1=1.190", *["N1.2=1.250", "N1.3=1.250", "N2.1=1.25", "N2.2=1.251"], *warm, "--sure"
        )
        assert "lowest 1.250, spread 0.005" in said
        assert main(["status", "--config", str(path)]) == 0
        assert "the water is not mixed yet" in capsys.readouterr().out


def test_a_jump_of_the_pilot_cell_is_refused_where_nobody_can_be_asked_and_taken_when_it_is_meant(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_cabin(tmp_path, make_broker().port, relay=False)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        assert main(["record", "gravity", "N1.2=1.265", "--config", str(path)]) == 0
        assert main(["record", "gravity", "N1.2=1.065", "--config", str(path)]) == 5
        said = capsys.readouterr().err
        fast = "N1.2 at 1.065 read 1.265, and that was a moment before: no cell changes so fast"
        assert f"not taken: {fast}; read it again, or say --sure" in said
        assert service.latest["north"].lowest_gravity == pytest.approx(1.265)
        assert main(["record", "gravity", "N1.2=1.065", "--sure", "--config", str(path)]) == 0
        assert service.latest["north"].lowest_gravity == pytest.approx(1.065)


def test_a_temperature_at_its_limit_is_said_at_once_and_water_in_the_measure_it_is_poured_by(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_cabin(tmp_path, make_broker().port, relay=False)

    def record(*words: str) -> str:
        assert main(["record", *words, "--config", str(path)]) == 0
        return capsys.readouterr().out

    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        assert "TOO HOT" not in record("temperature", "109 degF")
        assert "TOO HOT: N1 at 120.0 °F, limit 104.0 °F: switch the charger off" in record("temperature", "N1=120F")
        said = record("gravity", "N1.1=1.25", "--temperature", "112F")
        assert "TOO HOT: the acid at 112.0 °F, limit 110.0 °F" in said or "tripped by over-temperature" in said
        assert "N1 2.0 fl oz" in record("water", "N1=60 ml")


def test_what_is_noted_is_answered_with_the_caution_the_question_and_the_place_that_it_needs(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port, relay=False)

    def record(*words: str) -> tuple[int, str]:
        code = main(["record", *words, "--config", str(path)])
        out, err = capsys.readouterr()
        return code, out + err

    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        # 200 Ah: about 120 mL above the plates of a cell (0.6 g per Ah, common practice, no source).
        code, said = record("water", "N3.2=0.5gal")
        assert code == 5 and "not taken: N3.2: 2.0 qt, and about 4.1 fl oz stand above the plates" in said, said
        code, said = record("water", "5 gal")
        assert code == 5 and "not taken" in said and "e+" not in said, said
        code, said = record("water", "5 gal", "--sure")
        assert code == 0 and "e+" not in said
        assert "it charges" not in record("water", "N1=60 ml")[1]
        broker.publish("cabin/shunt", shunt(time.time(), 28.7, 18.0), "-q", "1")
        wait_until(lambda: service.latest["north"].current == 18.0, 25.0)
        said = record("gravity", "N1.1=1.25", "--temperature", "77 degF")[1]
        assert "it charges: switch the charger off at the wall before a cell is opened" in said
        assert "corrected to 80.0 °F" in said and "hydrometer_reference" in said
        assert "it charges" in record("water", "N1=50 ml")[1]
        assert "plates-bare raised: level at or below the plates at N1" in record("level", "N1=0")[1]
        assert "top of the plates" not in record("level", "N1=12 mm")[1]
        assert "amps noted: string N 17 A" in record("amps", "N=17")[1]
        code, said = record("gravity", "N1", "1.18", "1.2")
        assert code == 2 and "'N1' is a place, no value: name it with --block N1, or write N1.1=VALUE" in said
        said = record("seen", "a crack in N1")[1]
        assert "north: seen noted: N1 a crack in N1" in said
        said = record("seen", "N9=crack")[1]
        assert "there is no N9: the blocks are N1 to N4; it is kept for the whole bank" in said
        assert "case-damaged" in {flag.name for flag in service.latest["north"].flags}
        said = record("note", "the crack in N1 is gone")[1]
        assert "case-damaged cleared" not in said, "another stands"
        said = record("seen", "no crack")[1]
        assert "  case-damaged cleared" in said
        assert "north: seen noted: N2 no leak" in record("seen", "N2 no leak")[1]


def test_acid_read_hot_by_hand_is_never_called_safe_and_read_warm_or_far_from_the_probe_is_remarked_on(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port, relay=False)

    def record(*words: str) -> str:
        assert main(["record", *words, "--config", str(path)]) == 0
        return capsys.readouterr().out

    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        assert "warm: the acid at 105.0 °F, from 100.4 °F on" in record("temperature", "105F")
        assert "warm:" not in record("temperature", "98F")
        for _ in range(2):  # what a safety rule needs to believe them
            broker.publish("cabin/shunt", shunt(time.time(), 28.4, 3.4), "-q", "1")
            broker.publish("cabin/probe", "61.5", "-q", "1")
        wait_until(lambda: service.latest["north"].current == 3.4)
        said = record("temperature", "115F")
        assert "115.0 °F by hand stands far from the probe at " in said and "TOO HOT" in said
        assert main(["status", "--config", str(path)]) == 5
        assert "TRIPPED" in capsys.readouterr().out.splitlines()[1]


@pytest.mark.parametrize(("word", "kind"), [("volts", "voltage"), ("gravities", "gravity"), ("levels", "level")])
def test_a_kind_is_called_as_people_call_it(word: str, kind: str) -> None:
    assert build_parser("record").parse_args(["record", word, "6.2"]).what == kind


@pytest.mark.parametrize("words", [["N2=1240,1235,1230"], ["N2=1.240;1.235;1.230"], ["N2=1240,", "1235,", "1230"]])
def test_gravities_of_a_block_are_taken_in_one_word(words: list[str]) -> None:
    assert understand(NORTH, "gravity", words).values == {"N2.1": 1.24, "N2.2": 1.235, "N2.3": 1.23}
    mixed = understand(NORTH, "gravity", [*words, "N1.1=1,265"]).values
    assert mixed["N1.1"] == 1.265 and len(mixed) == 4, "a decimal comma stays one"


def test_as_many_gravities_as_a_block_has_cells() -> None:
    with pytest.raises(UsageError, match=r"N2 has 3 cells and 2 values are given.* N2=1240,1240,1240"):
        understand(NORTH, "gravity", ["N2=1240,1235"])
    with pytest.raises(UsageError, match=r"^1 gravity value, but"):
        understand(NORTH, "gravity", ["1240"])


@pytest.mark.parametrize(
    ("words", "values"),
    [
        (["N3.1=below", "the", "plates"], {"N3.1": "below-plates"}),
        (["N3.1=at the plates", "N3.2=over", "the", "mark"], {"N3.1": "at-plates", "N3.2": "over-mark"}),
        (["between", "mark", "at", "the", "plates"], ["between", "mark", "at-plates"]),
    ],
)
def test_a_level_is_understood_as_it_is_spoken(words: list[str], values: object) -> None:
    block = "N1" if isinstance(values, list) else None
    made = understand(NORTH, "level", words, block=block).values
    assert made == values or list(made.values()) == values


@pytest.mark.parametrize(
    ("what", "word", "said"),
    [
        (
            "level",
            "low",
            r'may be above the plates or below them.* as in "12 mm" or "0.5 in", or one of below-plates, at-plates',
        ),
        ("level", "fine", r'as in "12 mm" or "0.5 in" or one of below-plates'),
        ("temperature", "warm", r'as in "84 degF"'),
        ("water", "much", r'as in "300 mL" or "10 fl oz"'),
        ("voltage", "much", r'as in "28.8 V"'),
    ],
)
def test_what_is_no_value_is_answered_with_an_example_of_its_kind(what: str, word: str, said: str) -> None:
    with pytest.raises(UsageError, match=said):
        understand(NORTH, what, [f"N3.1={word}"])


@pytest.mark.parametrize("chore", ["presence", "look"])
def test_a_chore_that_is_no_kind_says_what_notes_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], chore: str
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["record", chore, "--config", str(tmp_path / "cabin.toml")])
    assert ended.value.code == 2
    told = " ".join(capsys.readouterr().err.split())
    assert 'a look is noted by what was seen: `revival record seen "WHAT YOU SAW"`' in told


@pytest.mark.parametrize("flagged", [True, False])
def test_why_a_gravity_does_not_count_is_said_once_whether_a_flag_says_it_or_not(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, flagged: bool
) -> None:
    why = "under charge, or within 6 h after it"
    reason = f"gravity spread between cells 0.060; not for a verdict: {why}"
    flag = {"kind": "flag-raised", "flag": "cells-differ", "severity": "advice", "reason": reason}
    answer: dict[str, object] = {"refused": [], "events": [{"kind": "hand"}, *([flag] if flagged else [])]}
    state = {"cells": [{"cell": "N1.1", "why": why}], "lowest_gravity": 1.2}

    def ask(journal: Path, request: dict[str, object]) -> dict[str, object]:
        return answer if request["ask"] == "record" else {"bridge": {"at": NOW}, "banks": {"north": state}}

    monkeypatch.setattr("bridge.commands.record.ask", ask)
    assert main(["record", "gravity", "N1.1=1.2", "--config", str(write_cabin(tmp_path, 1883))]) == 0
    said = capsys.readouterr().out
    assert said.count(why) == 1, said


def test_a_charger_that_is_noted_off_while_amps_flow_is_said_not_to_be_off(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port, relay=False)

    def off(volts: float, amps: float) -> str:
        def shown() -> bool:  # said anew each time: a shunt that fell silent would be a story of its own
            broker.publish("cabin/shunt", shunt(time.time(), volts, amps), "-q", "1")
            return service.latest["north"].current == amps

        wait_until(shown, 25.0)
        assert main(["record", "charger", "off", "--config", str(path)]) == 0
        return capsys.readouterr().out

    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        said = off(25.9, 7.0)
        assert said.splitlines()[0] == "north: charger off noted" and "0 V" not in said
        assert "yet 7.0 A flow into the bank: the charger is not off, or something else feeds the bank" in said
        assert "look again at its switch at the wall" in said and "`revival zero`" not in said
        assert "counts as on" in said and service.latest["north"].charger.startswith("The charger is on: ")
        assert "`revival zero`" in off(25.3, 3.0), "so little may be the meter's own"
        said = off(25.2, 0.0)
        assert said == "north: charger off noted\n"
        assert service.latest["north"].charger.startswith("The charger is off: so noted by a person")
        said = off(28.8, 0.1)
        assert "yet the bank stands at a voltage that only a charger holds" in said and "A flow" not in said
        assert main(["record", "charger", "--undo", "--config", str(path)]) == 0
        told = capsys.readouterr().out
        assert ": off" in told and "0 V" not in told and "yet " not in told


def test_water_that_came_after_a_gravity_of_before_is_not_said_to_lie_on_its_acid(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_cabin(tmp_path, make_broker().port, relay=False)

    def record(*words: str) -> str:
        assert main(["record", *words, "--config", str(path)]) == 0
        return capsys.readouterr().out

    lies = "lies on the acid"
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        assert lies not in record("gravity", "N1.1=1.150", "--temperature", "25 degC", "--at", "5 hours ago")
        record("water", "N1.1=300 ml")
        assert lies not in record("gravity", "N1.1=1.150", "--temperature", "26 degC", "--at", "5 hours ago")
        assert lies in record("gravity", "N1.1=1.140", "--temperature", "26 degC", "--sure")
        assert lies not in record("gravity", "N1.1=1.150", "--temperature", "24 degC", "--at", "5 hours ago", "--sure")


def test_a_level_of_hardly_any_acid_is_answered_with_a_warning(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_cabin(tmp_path, make_broker().port, relay=False)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        for level, warned in (("2 mm", True), ("12 mm", False)):
            assert main(["record", "level", f"N1.2={level}", "--config", str(path)]) == 0
            assert ("the plates are hardly covered" in capsys.readouterr().out) is warned
