"""`revival prove --auto-off` where two banks hang behind one relay that tells no state: a falling current shows it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bridge.config import load
from bridge.journal.reader import JournalReader
from bridge.runtime.control_socket import ask
from rules.events import Event
from tests.support.brokers import wait_until
from tests.support.fault_rig import Rig

#: The second bank, with meters of its own, behind the relay of the first.
SOUTH = """
[[bank]]
id = "south"
blocks = { per_string = 4, cells = 3, capacity = "200 Ah", labels = ["S1", "S2", "S3", "S4"] }
[[bank.meter]]
topic = "south/volts"
quantity = "voltage"
unit = "V"
[[bank.meter]]
topic = "south/amps"
quantity = "current"
unit = "A"
[[bank.meter]]
topic = "south/probe"
quantity = "electrolyte_temperature"
unit = "degC"
placed = "cell"
[bank.relay]
topic = "cabin/charger/set"
auto_off = "30 s"
"""


@pytest.fixture
def rig(make_rig: Callable[..., Rig], monkeypatch: pytest.MonkeyPatch) -> Rig:
    """Two banks, a relay that opens by itself after 20 s, and amps of the second that a test may set."""
    rig = make_rig(auto_off=30.0, extra=SOUTH)
    rig.edit('state_topic = "cabin/charger/state"\n', "")
    rig.relay.auto_off = 20.0
    report = rig.meters.report

    def of_both() -> None:
        report()
        amps = getattr(rig, "south", 0.0) if rig.relay.closed else 0.0
        for what, value in (("volts", 25.4), ("amps", amps), ("probe", 20.0)):
            rig.meters.client.publish(f"south/{what}", f"{value:.2f}", qos=1)

    monkeypatch.setattr(rig.meters, "report", of_both)
    return rig


def act(rig: Rig, bank: str, what: str, /, **argument: Any) -> list[str]:
    request = {"ask": "act", "bank": bank, "name": what, "by": "test", "argument": argument}
    return list(ask(rig.journal, request)["refused"])


def proof(rig: Rig, bank: str) -> dict[str, Any]:
    return dict(ask(rig.journal, {"ask": "proof", "bank": bank}))


def tried(path: Path, bank: str) -> list[Event]:
    with JournalReader(load(path).cabin.journal.path) as reader:
        return reader.events(bank, 0.0, 1e11, ("auto-off",))


def begun(rig: Rig) -> None:
    """Both checklists confirmed and the trial begun, with the relay closed."""
    wait_until(lambda: rig.bank().get("temperature") is not None, 20, "readings")
    wait_until(lambda: act(rig, "north", "checklist", name="the keeper") == [], 20, "the checklist")
    wait_until(lambda: act(rig, "south", "checklist", name="the keeper") == [], 20, "the checklist")
    assert act(rig, "north", "prove", auto_off=True) == []
    assert rig.relay.wait_for(True)


@pytest.mark.parametrize("amps", [0.0, 6.0], ids=["one takes no current", "both take current"])
def test_what_one_bank_measures_is_the_relays_and_the_other_neither_closes_nor_cuts_meanwhile(
    rig: Rig, amps: float
) -> None:
    rig.south = amps  # type: ignore[attr-defined]
    with rig.bridge():
        begun(rig)
        wait_until(lambda: tried(rig.path, "north"), 60, "it opens by itself")
        (north,) = tried(rig.path, "north")
        measured = float(str(north.detail["seconds"]))
        assert north.detail["opened"] is True and 18.0 <= measured <= 26.0, "by its own timer, not by our cut"
        wait_until(lambda: not proof(rig, "north")["proving"], 60, "the cut by order")
        assert proof(rig, "north")["proof"]["passed"], proof(rig, "north")
        wait_until(lambda: proof(rig, "south")["proving"] in ("", "witness"), 60, "the other's own proof")
        # one relay: what was seen of it is known of both
        assert proof(rig, "south")["proof"]["own"]["seconds"] == pytest.approx(measured, abs=6.0)
        assert "somebody else" not in str(proof(rig, "south")) and "NOT seen" not in str(proof(rig, "south"))


def test_a_bank_that_has_to_cut_ends_the_trial_of_the_other_and_nothing_counts_as_measured(rig: Rig) -> None:
    rig.south = 6.0  # type: ignore[attr-defined]
    with rig.bridge():
        begun(rig)
        wait_until(lambda: proof(rig, "north")["proving"] == "auto-off", 20, "it is seen closed")
        assert act(rig, "south", "checklist", undo=True) == [], "whoever takes it back ends its trial, and opens it"
        wait_until(lambda: not proof(rig, "north")["proving"], 20, "the trial ends")
        north = proof(rig, "north")["proof"]
    assert not north["passed"] and not north["own"]["seconds"] and not north["own"]["why"]
    assert "south, behind the same relay, had it opened" in north["note"], north
