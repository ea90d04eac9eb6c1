"""A relay that disobeyed is trusted again only after a proof of now."""

from __future__ import annotations

import pytest

from bridge.words.bank_status import event_words
from rules.events import Command
from rules.safety import Latch
from tests.support.fold import PROBE, Fold, ready


def disobeyed() -> Fold:
    """A proved bank in its round whose relay stays closed when it is told to open, until its plug is pulled."""
    fold = ready()
    fold.note("seen", N00="hot, cannot be touched")
    fold.wait(15, every=1, voltage=28.0, current=20.0, relay_state=1.0, **{PROBE: 25.0})
    assert {"danger-noted", "relay-disobeys"} <= fold.lock.latched.keys()
    return fold


def plug_pulled(fold: Fold) -> Fold:
    """The same after an hour with the charger off and the relay mended, and reset."""
    fold.read("relay_state", 0.0)
    fold.at += 3600.0
    fold.read("relay_state", 0.0)
    fold.wait(20, every=1, voltage=25.4, current=0.0, **{PROBE: 25.0})
    assert fold.act("reset") == ""
    return fold


def test_a_relay_that_disobeyed_closes_again_only_after_another_proof() -> None:
    fold = disobeyed()
    assert not fold.lock.proof.passed
    assert "prove the relay anew" in fold.memory.flags["relay-disobeys"].action
    plug_pulled(fold)
    told = next(event for event in reversed(fold.events) if event.kind == "command")
    assert "`revival prove` comes next" in str(event_words(told))
    assert "prove it anew with `revival prove`" in fold.act("resume")
    assert fold.derived is not None and fold.derived.next_step.startswith("Prove the relay")
    assert fold.act("abandon") == "" and fold.act("checklist", name="the keeper") == ""
    assert "the relay disobeyed since it was proved" in fold.act("start")
    assert not fold.lock.allowed
    assert fold.act("prove") == "" and fold.lock.proving


def test_a_trip_of_an_earlier_version_voids_the_proof_too() -> None:
    fold = ready()
    latch = {"relay-disobeys": Latch(fold.at, reason="it did not open")}
    fold.memory = fold.memory._replace(interlock=fold.lock._replace(latched=latch))
    fold.wait(1, every=1, **{PROBE: 25.0})
    assert not fold.lock.proof.passed


def test_a_welded_contact_goes_on_being_one_although_its_proof_is_void() -> None:
    fold = ready()
    fold.act("abandon")
    fold.wait(1)
    fold.read("relay_state", 0.0)
    fold.wait(50, every=1, voltage=28.0, current=20.0, **{PROBE: 25.0})
    assert "relay-disobeys" in fold.lock.latched and not fold.lock.proof.passed
    fold.wait(30, every=1, voltage=28.0, current=20.0, **{PROBE: 25.0})
    assert fold.act("reset") == "relay-disobeys is still there"


@pytest.mark.parametrize(("later", "stands"), [(60.0, False), (0.0, False), (-60.0, True)])
def test_a_trip_that_an_earlier_version_reset_without_voiding_the_proof_voids_it_at_the_next_start(
    later: float, stands: bool
) -> None:
    fold = ready()
    assert fold.lock.proof.passed
    before = len(fold.events)
    fold.fold(Command("north", "boot", fold.at, argument={"disobeyed_at": fold.lock.proof.at + later}))
    assert fold.lock.proof.passed is stands
    fold.read("relay_state", 0.0)
    fold.wait(400, every=5, voltage=25.4, current=0.0, relay_state=0.0, **{PROBE: 25.0})
    assert ("permit-given" in fold.kinds()[before:]) is stands
    assert ("proof-test-missing" in fold.flags) is not stands
    if not stands:
        assert "disobeyed since it was proved" in fold.memory.flags["proof-test-missing"].reason


def test_what_a_relay_did_is_told_until_when_and_beside_it_what_it_does_now() -> None:
    fold = disobeyed()
    assert fold.memory.flags["relay-disobeys"].reason == "the relay reports closed although it was ordered to open"
    fold.read("relay_state", 0.0)
    fold.wait(2, every=1, voltage=25.4, current=0.0, **{PROBE: 25.0})
    now = fold.memory.flags["relay-disobeys"]
    assert now.reason.startswith("the relay reported closed although it was ordered to open, until ")
    assert now.reason.endswith("; it reports open since") and now.value is None
    fold.wait(120, every=1, voltage=25.4, current=0.0, relay_state=0.0, **{PROBE: 25.0})
    assert fold.memory.flags["relay-disobeys"].reason == now.reason, "said once, with its moment"
    fold.read("relay_state", 1.0)
    fold.wait(15, every=1, voltage=28.0, current=20.0, relay_state=1.0, **{PROBE: 25.0})
    assert fold.memory.flags["relay-disobeys"].reason == "the relay reports closed although it was ordered to open"


def test_a_welded_contact_that_let_go_is_told_with_the_current_that_has_fallen() -> None:
    fold = ready()
    fold.act("abandon")
    fold.wait(1)
    fold.read("relay_state", 0.0)
    fold.wait(50, every=1, voltage=28.0, current=20.0, **{PROBE: 25.0})
    assert fold.memory.flags["relay-disobeys"].reason == "the relay reports open but the current has not fallen"
    fold.wait(5, every=1, voltage=25.4, current=-0.1, **{PROBE: 25.0})
    flag = fold.memory.flags["relay-disobeys"]
    assert flag.reason.startswith("the relay reported open but the current had not fallen, until ")
    assert flag.reason.endswith("; the current has fallen since") and flag.value is None


@pytest.mark.parametrize(
    ("reports", "now", "before"),
    [
        ((1.0, 0.0), "reported open but the current had not fallen", "reported closed although"),
        ((0.0, 1.0, 0.0), "reported open but the current had not fallen", "reported closed although"),
        ((0.0, 1.0), "reported closed although", "reported open but the current had not fallen"),
    ],
)
def test_a_weld_that_is_gone_is_told_as_past_with_what_was_seen_of_it_before(
    reports: tuple[float, ...], now: str, before: str
) -> None:
    fold = ready()
    fold.act("abandon")
    for report in reports:
        fold.wait(60, every=1, voltage=28.0, current=20.0, relay_state=report, **{PROBE: 25.0})
        reason = fold.memory.flags["relay-disobeys"].reason
        assert reason.startswith(f"the relay reports {'closed' if report else 'open'}"), reason
        assert reason.count("reports") == 1, "what was before is past"
    fold.wait(5, every=1, voltage=25.4, current=-0.1, relay_state=0.0, **{PROBE: 25.0})
    reason = fold.memory.flags["relay-disobeys"].reason
    assert reason.startswith(f"the relay {now}") and "since" in reason and "reports closed" not in reason
    assert "has not fallen" not in reason and (before in reason) is ("; before: " in reason)
