"""`revival checklist`: each line is asked, what is not yes stays open, and nothing is confirmed against the meters."""

from __future__ import annotations

import json
import shlex
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.journal.reader import JournalReader
from bridge.runtime.service import Service
from rules.plan.words import CHECKLIST
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import shunt, write_cabin
from tests.support.running_bridge import turning
from tests.support.terminal import typed_into

KEYS = [key for key, _ in CHECKLIST]


@contextmanager
def at_rest(broker: Broker, path: Path) -> Iterator[Service]:
    """A bridge whose meters have spoken, with nothing flowing."""
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        show(broker, 25.4, 0.0)
        wait_until(lambda: "north" in service.latest and service.latest["north"].temperature is not None)
        yield service


def show(broker: Broker, volts: float, amps: float) -> None:
    """What the meters publish."""
    broker.publish("cabin/shunt", shunt(time.time(), volts, amps), "-q", "1")
    broker.publish("cabin/probe", "77.0", "-q", "1")


def refusals(journal: Path) -> list[str]:
    """Why something was refused, as it is kept."""
    with JournalReader(journal) as reader:
        return [str(event.detail["why"]) for event in reader.events("north", 0.0, 1e11, ["refused"])]


def confirmed_by(service: Service) -> str:
    """Who confirmed it."""
    return service.engine.memories["north"].interlock.checklist_by


def test_in_a_terminal_every_line_is_asked_and_only_yes_is_yes(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port)
    with at_rest(broker, path) as service:
        words = ["checklist", "--name", "Ann", "--config", str(path)]
        # Return alone, a no, and a word that is neither leave their lines open.
        answers = ["", "n", "sure", *["y"] * (len(KEYS) - 3)]
        code, shown = typed_into(words, answers, tmp_path)
        assert code == 5 and f"not confirmed, 3 of {len(KEYS)} lines are open" in shown
        told = " ".join(shown.split())  # a long line is folded at words
        assert all(told.count(text) == (2 if number < 3 else 1) for number, (_, text) in enumerate(CHECKLIST))
        assert confirmed_by(service) == ""
        again = shown.rpartition("when they are so: revival ")[2].strip()
        assert again == f"checklist --name Ann --read {' '.join(KEYS)}", "the whole command, the open lines in it"
        code, shown = typed_into([*words, "--read", *KEYS[3:]], ["y", "Y", "yes"], tmp_path)
        assert code == 0 and f"{len(KEYS)} lines by Ann" in shown
        assert CHECKLIST[5][1] not in shown, "what was read is not asked again"
        assert confirmed_by(service) == "Ann"
        assert main(["checklist", "--name", "Joe", "--take-back", "--config", str(path)]) == 0
        assert confirmed_by(service) == ""
        assert main([*again.split(), "--config", str(path)]) == 0, "and as it was printed it confirms"
        assert confirmed_by(service) == "Ann"


def test_a_script_says_which_lines_were_read(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port)
    words = ["checklist", "--config", str(path), "--name", "Ann"]
    with at_rest(broker, path) as service:
        assert main(words) == 2
        assert "nobody has read the lines" in capsys.readouterr().err
        assert main([*words, "--read", "flooded", "whole"]) == 5
        assert f"{len(KEYS) - 2} of {len(KEYS)} lines are open" in capsys.readouterr().err
        assert main([*words[:-1], "Joe Miller", "--read", *KEYS[1:]]) == 5
        again = capsys.readouterr().err.rpartition("when they are so: revival ")[2].strip()
        assert shlex.split(again) == ["checklist", "--name", "Joe Miller", "--read", *KEYS], "as a shell reads it"
        assert main([*words, "--read", "everything"]) == 2
        assert "no such line; there are flooded, whole" in capsys.readouterr().err
        assert confirmed_by(service) == ""
        assert main([*words, "--read", *KEYS]) == 0
        assert confirmed_by(service) == "Ann"
        capsys.readouterr()
        assert main([*words, "--read", "all", "--json"]) == 0
        assert json.loads(capsys.readouterr().out)["refused"] == []


@pytest.mark.parametrize(
    ("volts", "amps", "why"),
    [(25.4, 8.0, "meters: 8.0 A flow into the bank"), (28.8, 0.1, "meters: 2.40 V per cell, which only a charger")],
)
def test_while_a_charger_feeds_the_bank_nothing_is_asked_and_nothing_confirmed(
    make_broker: Callable[..., Broker], tmp_path: Path, volts: float, amps: float, why: str
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port)
    with at_rest(broker, path) as service:
        show(broker, volts, amps)
        wait_until(lambda: service.latest["north"].current == amps)
        code, shown = typed_into(["checklist", "--name", "Ann", "--config", str(path)], [], tmp_path)
        assert code == 5 and why in shown and "y/n" not in shown
        told = service.latest["north"].next_step
        assert told.startswith("Switch the charger off at the wall"), "and status names no command before that"
        assert main(["checklist", "--name", "Ann", "--read", "all", "--config", str(path)]) == 5
        assert confirmed_by(service) == ""


def test_whoever_asks_by_another_door_is_refused_as_well(make_broker: Callable[..., Broker], tmp_path: Path) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port)
    with at_rest(broker, path) as service:
        show(broker, 28.8, 8.0)
        wait_until(lambda: service.latest["north"].current == 8.0)
        broker.publish("homie/5/tarn-hut-north/revival/checklist/set", "Ann", "-q", "1")
        wait_until(lambda: refusals(path.with_name("revival.db")) != [])
        assert "8.0 A flow into the bank" in refusals(path.with_name("revival.db"))[0]
        assert confirmed_by(service) == ""


def test_a_load_that_still_draws_is_said_beside_its_line_and_behind_the_name(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port)
    with at_rest(broker, path) as service:
        show(broker, 25.2, -3.0)
        wait_until(lambda: service.latest["north"].current == -3.0)
        code, shown = typed_into(["checklist", "--name", "Ann", "--config", str(path)], ["y"] * len(KEYS), tmp_path)
        assert code == 0
        loads = shown.index("but seen or noted is: 3.0 A flow out of the bank")
        assert shown.index("loads:") < loads < shown.index("fuses:")
        assert "yet seen or noted is: loads: 3.0 A flow out of the bank" in " ".join(shown.split())


def test_while_a_trip_stands_no_line_is_asked_and_the_hour_is_said(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port)
    with at_rest(broker, path) as service:
        assert main(["record", "seen", "stinks of rotten eggs", "--config", str(path)]) == 0
        wait_until(lambda: service.engine.memories["north"].interlock.latched)
        code, shown = typed_into(["checklist", "--name", "Hank", "--config", str(path)], [], tmp_path)
        told = " ".join(shown.split())
        assert code == 5 and "tripped by danger-noted" in told and "nobody goes in before" in told
        assert "y/n" not in told
        capsys.readouterr()
        assert main(["checklist", "--name", "Hank", "--read", "all", "--config", str(path)]) == 5
        assert "nobody goes in before" in capsys.readouterr().err
        assert confirmed_by(service) == ""


def test_a_zero_that_cannot_be_seen_while_a_watched_bank_charges_is_asked_back_and_left_open(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port, relay=False)
    words = ["checklist", "--name", "Ann", "--config", str(path)]
    back, meters = "did somebody see it at zero before this charger came on?", KEYS.index("meters")

    def walked(*again: str) -> tuple[int, str]:
        code, shown = typed_into(words, [*["y"] * (meters + 1), *again, *["y"] * (len(KEYS) - meters - 1)], tmp_path)
        return code, " ".join(shown.split())

    with at_rest(broker, path) as service:
        show(broker, 26.0, 6.9)
        wait_until(lambda: service.latest["north"].current == 6.9)
        code, told = walked("n")
        assert code == 5 and back in told and f"not confirmed, 1 of {len(KEYS)} lines are open" in told
        assert "meters: switch the charger off at the wall, wait until the ammeter shows zero, then confirm it" in told
        assert confirmed_by(service) == ""
        code, _ = typed_into([*words, "--read", *KEYS], ["y", "n"], tmp_path)
        assert code == 5 and confirmed_by(service) == "", "the printed command does not pass it over either"
        code, told = walked("y")
        assert code == 0 and confirmed_by(service) == "Ann", "it was seen before the charger came on"
        assert main(["checklist", "--name", "Ann", "--take-back", "--config", str(path)]) == 0
        show(broker, 25.4, 0.0)
        wait_until(lambda: service.latest["north"].current == 0.0)
        code, told = walked()
        assert code == 0 and back not in told and confirmed_by(service) == "Ann"
