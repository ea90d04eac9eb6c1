"""What is known of the charger: by which evidence, since when, in which words. Limits: common practice, no source."""

from __future__ import annotations

import pytest

from rules.advice.charger_now import ChargerNow, aired, evidence, held, known, off_known, words
from rules.bank.model import Bank, Block, Relay
from rules.bank_view import View
from rules.hand.log import HandLog
from rules.hand.memory import Entry
from rules.meters.counters import Counters
from rules.meters.plausible import Trace
from rules.safety.state import Interlock, Latch

T = 1_795_590_000.0  # 07:00
MINUTE, HOUR = 60.0, 3600.0
STRING = (Block("N1", 6, 200.0), Block("N2", 6, 200.0))
BARE = Bank("north", (STRING,))
RELAYED = Bank("north", (STRING,), relay=Relay())
#: Ordered to open an hour ago, and confirmed; ordered to close; nothing ordered yet.
CUT = Interlock(order_at=T - HOUR)
CONFIRMED = CUT._replace(confirmed_at=T - HOUR + 3.0)
ALLOWED = CUT._replace(allowed=True)
UNTOLD = Interlock()


def shown(
    amps: float | None = None,
    *,
    cell_volts: float | None = None,
    closed: bool | None = None,
    reported: float = 0.0,
    volts_by_hand: bool = False,
) -> View:
    volts = None if cell_volts is None else 12 * cell_volts
    return View(volts, cell_volts, amps, False, None, None, None, (), closed, reported, volts_by_hand)


def noted(*off_at: float, volts: float = 0.0) -> HandLog:
    """Somebody noted the charger's setting: at 0 V it is off."""
    return HandLog(tuple(Entry("charger", at, {"volts": volts}) for at in off_at))


def seen(
    view: View,
    *,
    bank: Bank = RELAYED,
    lock: Interlock = UNTOLD,
    counters: Counters | None = None,
    hand: HandLog | None = None,
    relay_since: float = 0.0,
    retained: bool = False,
    charged_at: float = 0.0,
) -> ChargerNow:
    counters = counters or Counters(current=view.current or 0.0, current_at=T if view.current is not None else 0.0)
    relay = Trace(float(bool(view.relay_closed)), T, changed_at=relay_since, retained=retained)
    meters = {"relay_state": relay} if view.relay_closed is not None else {}
    return known(bank, lock, view, counters, hand or HandLog(), meters, T, charged_at)


def clamped(amps: float, at: float) -> Counters:
    return Counters(current=amps, current_at=at, by_hand=True)


# -------------------------------------------------------------------------------- without a relay


def test_without_a_relay_a_current_into_the_bank_says_that_the_charger_is_on() -> None:
    # 0.25 % of 200 Ah: from half an ampere on it counts.
    on = seen(shown(0.5), bank=BARE)
    assert (on.relay, on.state, on.by, on.since, on.flows, on.metered, on.dead) == (
        "none", "on", "current", 0.0, True, True, False,
    )  # fmt: skip
    assert words(on) == "The charger is on: current flows into the bank."
    unseen = seen(shown(0.4), bank=BARE)
    assert (unseen.state, unseen.by, unseen.flows, unseen.metered, unseen.dead) == ("unseen", "", False, True, False)
    assert words(unseen) == "Whether the charger is on is not known: no relay is here, and no current is seen to flow."
    dark = seen(shown(), bank=BARE)
    assert (dark.state, dark.metered) == ("unseen", False)
    assert words(dark) == "Whether the charger is on is not known: no relay is here, and no meter shows the current."


@pytest.mark.parametrize(("ago", "stands"), [(0.0, True), (7200.0, True), (7200.5, False), (20 * HOUR, False)])
def test_a_current_read_by_a_person_stands_for_two_hours(ago: float, stands: bool) -> None:
    now = seen(shown(9.0), bank=BARE, counters=clamped(9.0, T - ago))
    assert (now.state, now.flows, now.metered) == (("on", True, True) if stands else ("unseen", False, False))
    if stands:
        assert (now.by, now.since) == ("hand", T - ago)
    # A meter's own current is judged by its meter's silence, which is not asked here.
    metered = seen(shown(9.0), bank=BARE, counters=Counters(current=9.0, current_at=T - ago))
    assert (metered.by, metered.since, metered.metered) == ("current", 0.0, True)


def test_a_clamp_that_shows_nothing_is_a_known_current_for_as_long() -> None:
    assert seen(shown(0.0), bank=BARE, counters=clamped(0.0, T - 7200.0)).metered
    assert not seen(shown(0.0), bank=BARE, counters=clamped(0.0, T - 7201.0)).metered


@pytest.mark.parametrize(
    ("volts", "by_hand", "state"),
    [
        (2.30, False, "on"),
        (2.29, False, "unseen"),
        (2.67, True, "unseen"),
        (2.45, False, "on"),
        (None, False, "unseen"),
    ],
)
def test_a_voltage_that_only_a_charger_holds_says_that_it_is_on(volts: float | None, by_hand: bool, state: str) -> None:
    now = seen(shown(cell_volts=volts, volts_by_hand=by_hand), bank=BARE)
    assert (now.state, now.by) == (state, "voltage" if state == "on" else "")
    if state == "on":
        assert words(now) == "The charger is on: the bank stands at a voltage that only a charger holds."


def test_a_person_who_noted_it_off_is_believed_until_the_readings_say_otherwise() -> None:
    hand = noted(T - HOUR)
    off = seen(shown(cell_volts=2.15), bank=BARE, hand=hand)
    assert (off.state, off.by, off.since, off.dead) == ("off", "person", T - HOUR, True)
    assert words(off) == "The charger is off: so noted by a person at 2026-11-25T06:00Z."
    assert seen(shown(cell_volts=2.30), bank=BARE, hand=hand).by == "voltage", "no rested cell stands there"
    assert seen(shown(8.0), bank=BARE, hand=hand).by == "current"
    # A note that it was set to 28.8 V is no note that it is off, and the newer note counts, in whatever order.
    assert seen(shown(), bank=BARE, hand=noted(T - HOUR, volts=28.8)).state == "unseen"
    again = HandLog((Entry("charger", T - 100.0, {"volts": 28.8}), *hand.entries))
    assert seen(shown(), bank=BARE, hand=again).state == "unseen"
    other = HandLog((Entry("voltage", T - HOUR, {"volts": 0.0}),))
    assert seen(shown(), bank=BARE, hand=other).state == "unseen"
    amps_alone = HandLog((Entry("charger", T - HOUR, {"amps": 10.0}),))
    assert seen(shown(), bank=BARE, hand=amps_alone).state == "unseen"


@pytest.mark.parametrize(("after", "off"), [(0.0, True), (600.0, True), (601.0, False), (1800.0, False)])
def test_the_way_to_the_switch_takes_ten_minutes_and_charging_after_that_ends_the_note(after: float, off: bool) -> None:
    now = seen(shown(), bank=BARE, hand=noted(T - HOUR), charged_at=T - HOUR + after)
    assert now.state == ("off" if off else "unseen")


def test_amps_clamped_after_the_note_overrule_it_and_those_of_before_or_none_do_not() -> None:
    hand = noted(T - HOUR)
    after, at_once, before = (clamped(9.0, T - HOUR + late) for late in (60.0, 0.0, -60.0))
    assert not off_known(BARE, UNTOLD, shown(9.0), after, hand)
    assert off_known(BARE, UNTOLD, shown(9.0), at_once, hand) and off_known(BARE, UNTOLD, shown(9.0), before, hand)
    # The same look by a meter: what it shows, a person's note does not hide.
    assert off_known(BARE, UNTOLD, shown(9.0), Counters(current=9.0, current_at=T), hand)
    # Somebody clamps nothing after switching off: that speaks for the note, not against it.
    quiet = seen(shown(0.0), bank=BARE, hand=hand, counters=clamped(0.0, T - 600.0))
    assert (quiet.state, quiet.by, quiet.metered) == ("off", "person", True)
    old = seen(shown(9.0), bank=BARE, hand=noted(T - 4 * HOUR), counters=clamped(9.0, T - 3 * HOUR))
    assert (old.state, old.metered) == ("unseen", False), "on three hours ago, and off before that: nothing is known"


# ----------------------------------------------------------------------------------- with a relay


def test_a_relay_that_reports_open_is_the_charger_cut_off_since_it_reported_so() -> None:
    view = shown(closed=False, reported=T - 5.0)
    off = seen(view, lock=CONFIRMED, relay_since=T - 20 * MINUTE)
    assert (off.relay, off.state, off.by, off.since, off.told, off.told_at, off.dead) == (
        "open", "off", "relay", T - 20 * MINUTE, "cut", T - HOUR, True,
    )  # fmt: skip
    assert words(off) == "The charger is cut off: the relay reports open since 2026-11-25T06:40Z."
    assert evidence(ChargerNow("open", "off", "relay")) == "The charger is cut off: the relay reports open."
    assert evidence(off._replace(since=0.0)) == "The charger is cut off: the relay reports open."
    # Of unknown age (retained): it says open, and nobody knows of when.
    aged = seen(shown(closed=False), lock=CONFIRMED, relay_since=T - HOUR, retained=True)
    assert (aged.relay, aged.state, aged.dead) == ("open", "unseen", False)


def test_current_read_before_the_relay_opened_says_nothing_of_after() -> None:
    view = shown(20.0, closed=False, reported=T)
    for current_at, flows in ((T - 61.0, False), (T - 60.0, False), (T - 59.0, True)):
        now = seen(view, lock=CONFIRMED, counters=Counters(current=20.0, current_at=current_at), relay_since=T - 60.0)
        assert (now.state, now.flows, now.dead) == ("off", flows, not flows)
    still = seen(view, lock=CONFIRMED, relay_since=T - 60.0)
    assert words(still) == (
        "The relay reports open since 2026-11-25T06:59Z, yet current still flows in from something else, or through a "
        "contact that hangs."
    )
    # A report of unknown age does not say since when.
    assert seen(view, lock=CONFIRMED, relay_since=T, retained=True).flows
    # A closed relay hides no current, however it was last seen to move.
    assert seen(shown(20.0, closed=True, reported=T), lock=ALLOWED, relay_since=T).flows


def test_a_relay_without_a_state_that_was_cut_is_known_by_the_current_that_fell() -> None:
    fell = seen(shown(0.0), lock=CONFIRMED)
    assert (fell.relay, fell.state, fell.by, fell.since) == ("unknown", "off", "fall", T - HOUR + 3.0)
    assert words(fell) == (
        "The charger is cut off: the relay was seen to open at 2026-11-25T06:00Z, by the current falling."
    )
    assert words(seen(shown(9.0), lock=CONFIRMED)) == (
        "The relay was seen to open at 2026-11-25T06:00Z, by the current falling, yet current still flows in from "
        "something else, or through a relay that somebody closed."
    )
    # Told to close, or never told, the same evidence is of another time.
    assert seen(shown(0.0), lock=CONFIRMED._replace(allowed=True)).state == "unseen"
    assert seen(shown(0.0), lock=CONFIRMED._replace(order_at=0.0)).state == "unseen"
    unproved = seen(shown(0.0), lock=CUT)
    assert unproved.state == "unseen"
    assert words(unproved) == (
        "The relay was told to open at 2026-11-25T06:00Z and nothing has shown that it did; no current is seen to flow."
    )
    # What it reports counts before what fell.
    assert seen(shown(closed=True, reported=T - 2 * HOUR), lock=CONFIRMED).state == "unseen"


def test_what_the_relay_was_told_and_what_that_says_of_the_charger() -> None:
    told = {
        "": UNTOLD,
        "allow": ALLOWED,
        "cut": CUT,
    }
    for word, lock in told.items():
        now = seen(shown(), lock=lock)
        assert (now.told, now.told_at, now.relay, now.state) == (word, lock.order_at, "unknown", "unseen")
    assert words(seen(shown(), lock=ALLOWED)) == (
        "The relay was told to close at 2026-11-25T06:00Z, so the charger may be on; no meter shows the current."
    )
    assert words(seen(shown())) == (
        "Nothing is known of the relay yet, so the charger may be on; no meter shows the current."
    )
    assert words(seen(shown(0.0, closed=True, reported=T), lock=ALLOWED)) == (
        "The relay reports closed, so the charger may be on; no current is seen to flow."
    )
    # A proof closes it on purpose for some seconds, and opens it again.
    assert seen(shown(), lock=CUT._replace(proving="closing")).told == "allow"
    assert seen(shown(), lock=CUT._replace(proving="opening")).told == "cut"
    assert seen(shown(), bank=BARE, lock=CUT).told == "", "nothing was told where no relay is"
    assert seen(shown(9.0, closed=True, reported=T), lock=ALLOWED).state == "on"


DISOBEYED = CUT._replace(latched={"relay-disobeys": Latch(T - HOUR + 30.0)})


@pytest.mark.parametrize(
    ("lock", "view", "by"),
    [
        # The alarm stands, and the current flows or nothing ever showed that it went.
        (DISOBEYED, shown(9.0), "current"),
        (DISOBEYED, shown(), "current"),
        (DISOBEYED._replace(confirmed_at=T - 60.0), shown(9.0), "current"),
        (DISOBEYED, shown(9.0, closed=True, reported=T), "relay"),
        # No alarm yet, and it has reported closed since the order, ten seconds and more after it.
        (CUT, shown(closed=True, reported=T - HOUR + 1.0), "relay"),
        (CUT._replace(order_at=T - 10.0), shown(closed=True, reported=T - 1.0), "relay"),
    ],
)
def test_a_relay_that_was_told_to_open_and_did_not_is_still_on(lock: Interlock, view: View, by: str) -> None:
    now = seen(view, lock=lock)
    assert (now.relay, now.state, now.by, now.dead) == ("disobeys", "on", by, False)
    why = "it reports closed" if by == "relay" else "current still flows"
    told = "2026-11-25T06:00Z" if lock.order_at == T - HOUR else "2026-11-25T06:59Z"
    assert words(now) == f"The charger is STILL ON: the relay was told to open at {told} and {why}."


@pytest.mark.parametrize(
    ("lock", "view"),
    [
        (DISOBEYED._replace(confirmed_at=T - 60.0), shown(0.0)),
        (DISOBEYED._replace(allowed=True), shown(9.0)),
        (DISOBEYED._replace(proving="opening"), shown(9.0)),
        (DISOBEYED._replace(order_at=0.0), shown(9.0)),
        (CUT, shown(9.0)),
        (CUT, shown(closed=True, reported=T - HOUR)),
        (CUT, shown(closed=True, reported=T - 2 * HOUR)),
        (CUT, shown(closed=False, reported=T)),
        (CUT._replace(order_at=T - 9.0), shown(closed=True, reported=T - 1.0)),
        (CUT._replace(allowed=True), shown(closed=True, reported=T)),
    ],
)
def test_it_does_not_disobey_before_it_had_its_ten_seconds_or_where_it_was_seen_to_open(
    lock: Interlock, view: View
) -> None:
    assert seen(view, lock=lock).relay != "disobeys"


def test_a_person_or_a_voltage_decides_where_the_relay_does_not() -> None:
    assert seen(shown(), lock=ALLOWED, hand=noted(T - HOUR)).by == "person"
    assert seen(shown(cell_volts=2.4), lock=ALLOWED).by == "voltage"
    assert seen(shown(5.0), lock=ALLOWED, counters=clamped(5.0, T - 60.0)).by == "hand"


# ------------------------------------------------------------- a permit that comes back by itself


@pytest.mark.parametrize(("ago", "waits"), [(1.0, True), (299.0, True), (300.0, False), (400.0, False)])
def test_a_permit_that_comes_back_by_itself_is_held_back_for_five_minutes(ago: float, waits: bool) -> None:
    lock = Interlock(started=True, order_at=T - ago, withdrawn_for="meter-silent")
    now = seen(shown(closed=False, reported=T), lock=lock, relay_since=T)
    assert (now.open_until, now.open_for) == ((T - ago + 300.0, "meter-silent") if waits else (0.0, ""))


@pytest.mark.parametrize(
    ("lock", "why"),
    [
        (Interlock(order_at=T - 60.0, withdrawn_for="meter-silent"), "nobody started"),
        (Interlock(started=True, order_at=T - 60.0), "nothing was withdrawn"),
        (
            Interlock(started=True, order_at=T - 60.0, withdrawn_for="gas", latched={"gas": Latch(T)}),
            "only a person lets it close again",
        ),
        (Interlock(started=True, order_at=T - 60.0, withdrawn_for="meter-silent", needs_resume=True), "a person"),
        (Interlock(started=True, order_at=T - 60.0, withdrawn_for="meter-silent", allowed=True), "it stands"),
    ],
)
def test_nothing_is_told_of_a_return_that_does_not_come(lock: Interlock, why: str) -> None:
    assert seen(shown(closed=False, reported=T), lock=lock, relay_since=T).open_until == 0.0, why


def test_until_when_the_relay_is_held_open_is_said_no_later_than_it_may_close() -> None:
    lock = Interlock(started=True, order_at=T - 90.0, withdrawn_for="restart", confirmed_at=T - 80.0)
    back = seen(shown(closed=False, reported=T), lock=lock, relay_since=T - 90.0)
    assert words(back) == (
        "The charger is cut off: the relay reports open since 2026-11-25T06:58Z. The relay is told to stay open until "
        "2026-11-25T07:03Z, for the bridge came back."
    )
    assert "for the bridge came back" in held(back._replace(open_for="reconnect"))
    assert "for meter-silent withdrew the permit" in held(back._replace(open_for="meter-silent"))
    assert held(back._replace(open_until=0.0)) == ""


@pytest.mark.parametrize(
    ("charged_ago", "until"),
    [(0.0, T + HOUR), (1800.0, T + 1800.0), (3599.0, T + 1.0), (3600.0, 0.0), (9000.0, 0.0), (None, 0.0)],
)
def test_the_room_is_aired_for_an_hour_after_the_last_charge(charged_ago: float | None, until: float) -> None:
    # IEC 62485-2: gas is given off for about an hour after charging.
    charged_at = 0.0 if charged_ago is None else T - charged_ago
    assert aired(ChargerNow(), charged_at, T).air_until == until
    assert ChargerNow().air_until == 0.0


# -------------------------------------------------------------------- whatever the ammeter shows


@pytest.mark.parametrize(
    ("bank", "lock", "view", "off"),
    [
        (RELAYED, CUT, shown(9.0, closed=False, reported=T), True),
        (RELAYED, CUT, shown(closed=False), False),
        (RELAYED, ALLOWED, shown(closed=False, reported=T), False),
        (RELAYED, CUT, shown(closed=True, reported=T), False),
        (RELAYED, CONFIRMED, shown(9.0), True),
        (RELAYED, CONFIRMED, shown(closed=True, reported=T), False),
        (RELAYED, CONFIRMED._replace(allowed=True), shown(), False),
        (RELAYED, CUT, shown(), False),
        (BARE, CONFIRMED, shown(), False),
        (BARE, CUT, shown(closed=False, reported=T), False),
    ],
)
def test_the_charger_is_off_by_a_relay_seen_open_since_it_was_told(
    bank: Bank, lock: Interlock, view: View, off: bool
) -> None:
    assert off_known(bank, lock, view, Counters(), HandLog()) is off


def test_the_charger_is_off_by_a_persons_word_unless_the_relay_reports_closed() -> None:
    for bank, view, off in (
        (BARE, shown(), True),
        (RELAYED, shown(closed=False), True),
        (RELAYED, shown(closed=True, reported=T), False),
    ):
        assert off_known(bank, ALLOWED, view, Counters(), noted(T - HOUR)) is off
        assert not off_known(bank, ALLOWED, view, Counters(), HandLog())
        assert not off_known(bank, ALLOWED, view, Counters(), noted(T - HOUR, volts=28.0))


def test_of_a_charger_nobody_has_looked_at_nothing_is_known() -> None:
    nothing = ChargerNow()
    assert (nothing.state, nothing.dead, nothing.flows, nothing.metered) == ("unseen", False, False, False)
    assert words(nothing) == "Whether the charger is on is not known: no relay is here, and no meter shows the current."
    assert {name for name, value in nothing._asdict().items() if value} == {"relay", "state"}, "0 = no such moment"
