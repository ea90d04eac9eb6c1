"""A slip, a danger and a reading by hand come to the same at every door: command line, page and bus."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

import pytest

from bridge.cli import main
from tests.faults.test_remote_site import listening
from tests.support.brokers import wait_until
from tests.support.cabin import CABIN, shunt
from tests.support.page_site import Site, open_site

NORTH = "homie/5/tarn-hut-north"
DOORS = ("command line", "page", "bus")


class House:
    """A bank under charge with three doors; what is told at one of them is answered with whether it was taken."""

    def __init__(self, site: Site, capsys: pytest.CaptureFixture[str]) -> None:
        self.site, self.capsys = site, capsys
        self.doors: dict[str, Callable[[str, dict[str, object]], tuple[bool, str]]] = {
            "command line": self.type,
            "page": self.enter,
            "bus": self.send,
        }

    def feed(self, volts: float = 28.2, amps: float = 18.0) -> None:
        """The shunt says so, and is believed."""
        before = self.site.service.engine.at
        for _ in range(2):
            self.site.broker.publish("cabin/shunt", shunt(time.time(), volts, amps), "-q", "1")
        wait_until(lambda: self.site.service.latest["north"].current == amps and self.site.service.engine.at > before)

    def type(self, kind: str, values: dict[str, object]) -> tuple[bool, str]:
        """At the command line, where nobody sits who could be asked."""
        self.capsys.readouterr()
        words = [f"{where}={value}" if where else f"{value}" for where, value in values.items()]
        code = main(["record", kind, *words, "--config", str(self.site.config)])
        return code == 0, "".join(self.capsys.readouterr())

    def enter(self, kind: str, values: dict[str, object]) -> tuple[bool, str]:
        """At the bench."""
        answer = self.site.post("/api/record/north", {"kind": kind, "values": values})
        return answer.status == 200, json.dumps(answer.json, ensure_ascii=False)

    def send(self, kind: str, values: dict[str, object]) -> tuple[bool, str]:
        """Over the bus."""
        record, refused = f"{NORTH}/cells/record", f"{NORTH}/revival/refused"
        with listening(self.site.broker, f"{NORTH}/#") as heard:
            wait_until(lambda: f"{NORTH}/$state" in [topic for topic, _, _ in heard])
            self.site.broker.publish(f"{record}/set", json.dumps({"kind": kind, "values": values}), "-q", "1")
            wait_until(lambda: {record, refused} & {topic for topic, _, _ in heard})
            said = next((payload for topic, payload, _ in heard if topic == refused), "")
        return not said, json.loads(said)["why"] if said else ""

    def on_the_bus(self) -> dict[str, str]:
        """What a hub that comes now is told of the bank."""
        with listening(self.site.broker, f"{NORTH}/#") as heard:
            wait_until(lambda: f"{NORTH}/advice/next-step" in [topic for topic, _, _ in heard])
        return {topic.removeprefix(f"{NORTH}/"): payload for topic, payload, _ in heard}

    def status(self) -> str:
        """What `revival status` prints."""
        self.capsys.readouterr()
        main(["status", "--config", str(self.site.config)])
        return self.capsys.readouterr().out

    def page(self) -> Any:
        """What page and bench are told of the bank: the first that the stream says of it."""
        connection = HTTPConnection("127.0.0.1", self.site.port, timeout=60.0)
        connection.request("GET", "/api/news")
        try:
            for line in connection.getresponse():
                told = json.loads(line[6:]) if line.startswith(b"data: ") else {}
                if told.get("bank") == "north" and "flags" in told:
                    return told
        finally:
            connection.close()


@contextmanager
def charging(folder: Path, capsys: pytest.CaptureFixture[str]) -> Iterator[House]:
    """The small cabin under charge."""
    with open_site(folder) as site:
        house = House(site, capsys)
        wait_until(lambda: "north" in site.service.latest)
        house.feed()
        yield house


@pytest.mark.parametrize("door", DOORS)
def test_m51_four_blocks_all_low_at_once_contradict_the_bank_s_meter_and_are_asked_about(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], door: str
) -> None:
    with charging(tmp_path, capsys) as house:
        taken, said = house.doors[door]("voltage", {"N1": 4.6, "N2": 4.6, "N3": 4.6, "N4": 4.6})
        assert not taken
        assert (
            "N1, N2, N3 and N4 by hand make 18.40 V together, and the bank stands at 28.20 V on its own meter" in said
        )
        assert not house.site.service.engine.memories["north"].interlock.latched, "no block is below its mates"


@pytest.mark.parametrize("door", DOORS)
@pytest.mark.parametrize(
    ("walk", "which"),
    [
        ((6.9, 6.9, 6.8, 4.6), "block N4 stands at 4.60 V and the others at 6.90 V"),
        ((7.1, 7.1, 4.6, 4.5), "blocks N3 and N4 stand at 4.60 V and 4.50 V and the others at 7.10 V"),
    ],
)
def test_m51_blocks_a_cell_below_their_mates_are_named_on_bus_status_page_and_bench(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], door: str, walk: tuple[float, ...], which: str
) -> None:
    with charging(tmp_path, capsys) as house:
        taken, _ = house.doors[door]("voltage", {f"N{number}": volts for number, volts in enumerate(walk, 1)})
        assert taken, "a danger waits for nobody's word"
        wait_until(lambda: house.site.service.latest["north"].tripped)
        isolate = "take that block out of its string"
        told = house.on_the_bus()
        assert told["safety/cell-short-suspected"] == "true" and which in told["safety/flags"]
        assert isolate in told["advice/next-step"]
        status, page = house.status(), house.page()
        assert which in status and isolate in status
        assert which in json.dumps(page["flags"]) and isolate in page["next_step"]


@pytest.mark.parametrize("door", DOORS)
@pytest.mark.parametrize(("water", "said"), [("3 qt", "N1.1: 3.0 qt"), ("3 l", "N1.1: 3.2 qt")])
@pytest.mark.parametrize("reserve", ["", 'water_reserve = "1 kg"\n'])
def test_more_water_than_a_cell_of_that_block_takes_is_asked_about_whatever_the_file_says_of_its_reserve(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, door: str, water: str,
    said: str, reserve: str,
) -> None:  # fmt: skip
    monkeypatch.setattr("tests.support.cabin.CABIN", CABIN.replace("hold = ", f"{reserve}hold = "))
    with charging(tmp_path, capsys) as house:
        taken, words = house.doors[door]("water", {"N1.1": water})
        assert not taken and said in words
        # 200 Ah: three times 0.6 g per Ah, or half of its acid, 15 g per Ah (common practice, no source).
        most = "1.6 qt" if reserve else "12.2 fl oz"
        assert f"even a cell with bare plates takes no more than about {most}" in words
        assert house.doors[door]("water", {"N1.1": "300 ml"})[0]
        taken, words = house.doors[door]("water", {"N1.1": "200 ml"})
        assert taken is bool(reserve)
        assert reserve or "N1.1: 6.8 fl oz, and 10.1 fl oz were noted within the hour before" in words


@pytest.mark.parametrize("door", DOORS)
def test_amps_by_hand_far_from_the_ammeter_are_asked_about(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], door: str
) -> None:
    with charging(tmp_path, capsys) as house:
        taken, said = house.doors[door]("amps", {"": 2})
        assert not taken and "2.0 A by hand stand beside 18.0 A on the ammeter" in said
        assert house.doors[door]("amps", {"": 18.4})[0], "as exactly as two meters agree"
        assert house.site.service.latest["north"].current == 18.0


@pytest.mark.parametrize("number", [1.425, "1425", "1.9"])
def test_what_is_no_gravity_is_said_in_one_sentence_at_every_door(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], number: object
) -> None:
    with charging(tmp_path, capsys) as house:
        told = {door: tell("gravity", {"N1.1": number}) for door, tell in house.doors.items()}
    meant = {1.425: ": did you mean 1.245? If not", "1425": ": did you mean 1245? If not", "1.9": ";"}[number]
    why = f"'{number}' is no gravity between 1.000 and 1.400{meant} write 1.265, 1265, 30.4 Be, or low, high, none"
    assert not any(taken for taken, _ in told.values())
    assert [door for door, (_, said) in told.items() if why not in said] == []


@pytest.mark.parametrize("door", DOORS)
def test_a_temperature_by_hand_stands_on_no_topic_as_if_a_probe_told_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], door: str
) -> None:
    with charging(tmp_path, capsys) as house:
        assert house.doors[door]("temperature", {"": "84 degF"})[0]
        wait_until(lambda: house.site.service.latest["north"].temperature is not None)
        wait_until(lambda: "temperature" in house.on_the_bus().get("health/not-live", ""))
        told = house.on_the_bus()
        assert told.get("thermal/temperature", "") == "", "no probe has spoken"
        assert json.loads(told["health/not-live"])["temperature"].startswith("84.0 °F by hand at ")
        assert told["electrical/voltage"] == "28.20", "what the shunt tells stands there"
        for _ in range(2):
            house.site.broker.publish("cabin/probe", "85.1", "-q", "1")
        wait_until(lambda: house.on_the_bus().get("thermal/temperature") == "29.5")
