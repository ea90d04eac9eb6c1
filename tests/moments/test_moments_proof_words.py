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


def proved(watts: float | None, volts: float, amps: float) -> Moment:
    """A relay that was proved while the meters show this, closed and open alike."""
    plug = () if watts is None else (("ac_power", 'unit = "W"'),)
    moment = Moment(bank_of(*plug))
    moment.heard = True
    more = {} if watts is None else {"ac_power": watts}
    moment.pass_time(30.0, voltage=volts, current=amps, electrolyte_temperature=20.0, **more)
    assert moment.act("checklist", name="the keeper") == ""
    assert moment.act("prove") == ""
    moment.pass_time(60.0, every=2.0)
    return moment


def test_behind_a_charger_that_is_off_no_proof_counts() -> None:
    for watts, volts in ((0.0, 25.0), (None, 25.0)):
        moment = proved(watts, volts, 0.0)
        assert not moment.lock.proof.passed and "proof-test-missing" in moment.now.flags
        assert "the charger is off; switch it on at the wall and prove again" in moment.now.texts
        assert moment.act("start") != ""


def test_behind_a_bank_that_blocks_the_proof_counts_and_says_what_it_has_not_shown() -> None:
    for watts, volts, amps in ((35.0, 31.5, 0.0), (None, 31.5, 0.0), (None, 25.0, 0.6)):
        moment = proved(watts, volts, amps)
        assert moment.lock.proof.passed and not moment.lock.proof.current_proved
        assert "proved as far as the relay's own word; the fall of the amps is tried once" in moment.now.advice
        assert moment.act("start") == ""


def test_a_note_that_the_charger_is_off_dies_when_it_is_seen_to_charge() -> None:
    moment = Moment(bank_of(relay=False))
    moment.pass_time(60.0, voltage=25.0, current=0.0, electrolyte_temperature=20.0)
    moment.hand("charger", {"volts": 0.0})
    moment.pass_time(60.0)
    assert "so noted by a person" in moment.now.texts
    moment.pass_time(120.0, voltage=27.0, current=30.0)
    moment.pass_time(120.0, voltage=25.5, current=0.0)
    assert "so noted by a person" not in moment.now.texts
    assert "Whether the charger is on is not known" in moment.now.texts
