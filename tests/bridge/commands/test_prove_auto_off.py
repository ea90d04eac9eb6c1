"""`revival prove --auto-off` on a running bridge, a real broker, and a relay that opens by itself, or does not."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from bridge.cli import main
from bridge.runtime.control_socket import ask
from rules.safety import own_off
from tests.support.brokers import wait_until
from tests.support.fault_rig import Rig


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """An auto-off may come a little sooner or later only; its true slack is held by the rules' own tests."""
    monkeypatch.setattr(own_off, "SLACK", 7.0)


def test_what_opens_by_itself_is_measured_and_told_and_what_does_not_is_cut_and_permits_nothing(
    make_rig: Callable[..., Rig], capsys: pytest.CaptureFixture[str], quick: None
) -> None:
    rig = make_rig(auto_off=15.0)
    rig.relay.auto_off = 10.0  # a little sooner than is written, so that the test is no longer than it must be

    def revival(*words: str) -> tuple[int, str]:
        capsys.readouterr()
        code = main([words[0], "--config", str(rig.path), *words[1:]])
        captured = capsys.readouterr()
        return code, " ".join((captured.out + captured.err).split())

    assert "the relay's own auto-off, as you wrote it, not tested (within 15 s)" in revival("check")[1]
    with rig.bridge() as service:
        wait_until(lambda: rig.bank().get("temperature") is not None, 20, "readings")
        assert "the relay's own auto-off: as written, not tested" in revival("status")[1]
        assert rig.act("checklist", name="the keeper") == []
        code, said = revival("prove", "--auto-off")
        assert code == 5 and "until the relay opens by itself" in said and not rig.relay.closed
        code, said = revival("prove", "--auto-off", "--sure")
        assert code == 0 and "passed" in said and "its own auto-off: opens by itself after" in said
        assert rig.relay.told.count("ON") == 2, "once for its auto-off and once for the cut by order"
        assert ": opens by itself after" in revival("status")[1]
        assert "the relay's own auto-off, opens by itself after" in revival("check")[1]
        (tried,) = rig.events("auto-off")
        assert tried.detail["opened"] is True and tried.detail["written"] == 15.0

        rig.relay.auto_off = None
        rig.meters.publish("homie/5/tarn-hut-north/safety/prove-auto-off/set", "true")
        wait_until(lambda: rig.relay.closed, 20, "the bus begins the test as well")
        wait_until(lambda: not ask(rig.journal, {"ask": "proof", "bank": "north"})["proving"], 60, "it ends")
        assert rig.relay.wait_for(False), "it is cut at once"
        proof = service.engine.memories["north"].interlock.proof
        assert not proof.passed and "was not seen to open by itself" in proof.note
        assert "was not seen to open by itself" in rig.act("start")[0]
        code, said = revival("prove", "--sure")
        assert code == 5 and "refused" in said and "revival prove --auto-off" in said
        assert "`revival setup --auto-off none`" in said and "then nothing opens it once broker" in said
        code, said = revival("status")
        assert f"revival prove --auto-off --config {rig.path}" in said and "`revival setup --auto-off none`" in said
        assert f"revival prove --config {rig.path}" not in said, "which is refused"
    assert "broker lost: NOTHING: it was NOT seen to open by itself on" in revival("check")[1]
