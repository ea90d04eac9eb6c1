"""A proof that is missing and one that is due again are two things, and each sentence is true in mid-round too."""

from __future__ import annotations

from rules.events import Command
from tests.moments.test_moments_fire_and_smoke import charged
from tests.support.moments import Moment, bank_of


def one_of_them(moment: Moment, stands: str) -> str:
    texts = moment.now.texts
    assert moment.now.flags & {"proof-test-missing", "proof-test-due"} == {stands}
    # A bank that charges takes all that its charger gives, and the round has begun.
    assert "low current" not in texts and "before the round" not in texts and "five minutes" not in texts
    return texts


def test_in_mid_round_a_relay_that_was_changed_is_missing_its_proof_and_nothing_charges() -> None:
    moment = charged()
    moment.fold(Command("north", "relay-changed", moment.at))
    moment.pass_time(10.0)
    said = one_of_them(moment, "proof-test-missing")
    assert not moment.now.allowed and "nothing charges through a relay that has not passed" in said
    assert "the relay was changed since it was proved" in said


def test_in_mid_round_a_proof_that_is_old_is_due_again_and_the_charge_goes_on() -> None:
    moment = charged()
    old = moment.lock.proof._replace(at=moment.at - 91 * 86400.0)
    moment.memory = moment.memory._replace(interlock=moment.lock._replace(proof=old))
    moment.pass_time(10.0)
    said = one_of_them(moment, "proof-test-due")
    assert moment.now.allowed and "Prove the relay again" in said and "more than 90 days ago" in said


def test_before_the_first_round_the_proof_is_missing() -> None:
    moment = Moment(bank_of())
    moment.heard = True
    moment.pass_time(30.0, voltage=25.0, current=0.0, electrolyte_temperature=20.0)
    assert "the relay was never proved" in one_of_them(moment, "proof-test-missing")
