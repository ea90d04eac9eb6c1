"""A round from the bench: a trip, its reset, the restart; the end, a new beginning; and nothing without the token."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Page, expect

from bridge.words.spoken import spoken
from tests.support.brokers import wait_until
from tests.support.browser_house import House, Open, check_access, fits, shoot


def unfold(page: Page) -> None:
    page.locator("summary", has_text="The round").click()


def order(page: Page, act: str) -> None:
    """Open an act, tick that one is sure, do it."""
    page.locator(f"button[data-act={act}]").click()
    expect(page.locator("#ask-do")).to_be_disabled()
    page.locator("#sure").check()
    page.locator("#ask-do").click()


def test_without_the_token_no_act_and_no_entry_changes_anything(house: House, opened: Open) -> None:
    page = opened("/bench", token="")
    before = house.service.engine.memories["north"]
    expect(page.locator("#who-note")).to_contain_text("without it nothing can be changed")
    unfold(page)
    for act in ("start", "finish", "prove", "resume"):
        order(page, act)
        expect(page.locator("#act-note")).to_contain_text(f"{act}: refused. the token is missing or wrong")
    after = house.service.engine.memories["north"]
    assert (after.interlock.started, after.phase.phase) == (before.interlock.started, before.phase.phase)
    assert after.hand == before.hand


def test_a_trip_is_shown_and_a_reset_spells_out_what_it_does_and_does_not_do(
    house: House, opened: Open, pictures: Path
) -> None:
    watch, bench = opened(width=360), opened("/bench", width=360, dark=True)
    watch.evaluate(
        """() => {
          const start = OscillatorNode.prototype.start;
          window.tones = 0;
          OscillatorNode.prototype.start = function (at) { window.tones += 1; start.call(this, at); };
        }"""
    )
    watch.locator("#sound").check()
    house.feed(fahrenheit=112.0)
    expect(watch.locator("#level")).to_have_text("No")
    expect(bench.locator("#level")).to_have_text("No")
    expect(bench.locator(".top")).not_to_contain_text(
        "waits"
    )  # of entries; above a danger it would be read of the bank
    watch.wait_for_function("window.tones >= 4")  # once to be heard, three for the danger
    expect(watch).to_have_title("NOT SAFE: north")
    expect(watch.locator("#icon")).to_have_attribute("href", "/static/icon-no.svg")
    expect(watch.locator("#causes")).to_have_text("over temperature 112.0 °F in the electrolyte, limit 110.0 °F")
    fits(watch, 800)
    expect(watch.locator("#standing")).to_contain_text("the trip stays until a person resets")
    expect(watch.locator("#flags")).to_contain_text("112.0 °F in the electrolyte, limit 110.0 °F")
    expect(watch.locator("#log")).to_contain_text("tripped by over-temperature: 112.0 °F")
    check_access(watch)
    shoot(watch, pictures, "trip-360-light")
    unfold(bench)
    expect(bench.locator("button[data-act=resume]")).to_be_disabled()
    for act in ("prove", "start", "resume", "test", "zero"):
        expect(bench.locator(f"button[data-act={act}]")).to_be_disabled()  # nothing begins before the reset
    bench.locator("button[data-act=reset]").click()
    expect(bench.locator("#ask-words")).to_contain_text("over-temperature at")
    expect(bench.locator("#ask-words")).to_contain_text("The relay stays open. Only a second act, resume")
    check_access(bench)
    shoot(bench, pictures, "reset-360-dark")
    bench.locator("#ask-no").click()
    order(bench, "reset")
    expect(bench.locator("#act-note")).to_contain_text("over-temperature is still there")

    def cooled() -> bool:
        """One good reading clears nothing; the probe goes on speaking."""
        house.feed(fahrenheit=90.0)
        return not house.service.engine.memories["north"].pending

    wait_until(cooled, 30.0, "the acid is cool")
    order(watch, "reset")  # beside the danger itself
    expect(watch.locator("#act-note")).to_contain_text("reset: done")
    expect(bench.locator("#round-now")).to_contain_text("resume is still to be given")
    assert not house.relay.closed, "a reset is not a restart"
    house.feed()
    order(bench, "resume")
    assert house.relay.wait_for(True, 60.0)
    expect(watch.locator("#relay")).to_contain_text("closed")


def test_a_temperature_in_a_sentence_is_the_same_figure_on_the_page_as_on_status_and_paper(opened: Open) -> None:
    written = [f"{degrees / 10:.1f} degC" for degrees in range(-150, 700)] + ["38 degC (100 degF)", "25 degC"]
    page = opened()
    say = "async (all) => { const { owned } = await import('/static/common.js'); return all.map(owned); }"
    shown = page.evaluate(say, written)
    assert shown == [spoken(each, "degF") for each in written]
    assert shown[written.index("65.6 degC")] == "150.0 °F", "as the probe shows it beside"


def test_charging_that_stopped_too_often_is_reset_by_the_same_button(house: House, opened: Open) -> None:
    page = opened("/bench")
    unfold(page)
    expect(page.locator("button[data-act=reset]")).to_be_disabled()
    memories = house.service.engine.memories

    def stopped_too_often() -> bool:
        lock = memories["north"].interlock
        memories["north"] = memories["north"]._replace(interlock=lock._replace(exhausted=True))
        return page.locator("button[data-act=reset]").is_enabled()

    wait_until(stopped_too_often, 60.0, "the page tells that charging waits for a person")
    expect(page.locator("#round-now")).to_contain_text("Charging was stopped too often today and waits for a person.")
    order(page, "reset")
    expect(page.locator("#act-note")).to_contain_text("reset: done")
    expect(page.locator("#round-now")).to_contain_text("resume is still to be given")
    order(page, "resume")
    expect(page.locator("#act-note")).to_contain_text("resume: done")


def test_while_a_crack_is_noted_no_page_offers_the_resume_that_would_be_refused(house: House, opened: Open) -> None:
    watch, bench = opened(), opened("/bench")
    unfold(bench)
    memories = house.service.engine.memories
    before = memories["north"]

    def cracked() -> bool:
        memory = memories["north"]
        memories["north"] = memory._replace(
            hand=memory.hand._replace(damaged={"N1": "crack"}),
            interlock=memory.interlock._replace(started=True, needs_resume=True, latched={}),
            due_at=0.0,
        )
        return bench.locator("button[data-act=resume]").is_disabled()

    try:
        wait_until(cracked, 60.0, "the page tells of it")
        expect(watch.locator("#relay")).to_contain_text(
            "no resume yet: crack at N1 is noted, and nothing charges while it is"
        )
        expect(watch.locator("#acts button[data-act=resume]")).to_be_hidden()
    finally:
        memories["north"] = before._replace(due_at=0.0)
    expect(bench.locator("button[data-act=resume]")).to_be_enabled()


def test_an_act_is_given_and_left_by_keyboard_alone(house: House, opened: Open) -> None:
    page = opened("/bench")
    unfold(page)
    page.locator("button[data-act=zero]").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#ask")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator("#ask")).to_be_hidden()
    assert page.evaluate("document.activeElement.dataset.act") == "zero"
    page.keyboard.press("Enter")
    page.locator("#sure").focus()
    page.keyboard.press("Space")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator("#act-note")).to_contain_text("zero:")


def test_a_bank_without_a_relay_is_only_watched_and_says_so(house: House, opened: Open) -> None:
    page, watch = opened("/bench?bank=south"), opened("/?bank=south")
    expect(page.locator("#round-now")).to_contain_text("This bank is only watched.")
    unfold(page)
    expect(page.locator("button[data-act=prove]")).to_be_disabled()
    page.locator("button[data-act=resume]").click()
    expect(page.locator("#ask-title")).to_have_text("Resume charging")
    expect(page.locator("#ask-words")).to_contain_text("you switch the charger on and off yourself")
    page.locator("#ask-no").click()
    page.locator("button[data-act=finish]").click()
    expect(page.locator("#ask-words")).to_contain_text("the charger runs on until you switch it off yourself")
    expect(page.locator("#ask-words")).not_to_contain_text("relay opens")
    page.locator("#ask-no").click()
    expect(watch.locator("#relay")).to_contain_text("none: this bank is only watched, you switch the charger yourself")
    for one in (watch, page):
        expect(one.locator("#level")).to_have_text("Not known")
    expect(page.locator(".top")).not_to_contain_text("waits")
    house.broker.publish("cabin/south/volts", "15.1 V")
    expect(watch.locator("#figures")).to_contain_text("15.10 V")


def test_a_round_is_finished_and_another_started(house: House, opened: Open) -> None:
    page, watch = opened("/bench"), opened()
    unfold(page)
    page.locator("button[data-act=finish]").click()
    expect(page.locator("#ask-words")).to_contain_text(
        "The hold is not complete: held 12.0 of 16 h, 4.0 h are missing."
    )
    page.locator("#ask-no").click()
    order(page, "finish")
    expect(page.locator("#act-note")).to_contain_text("finish: not done yet. the hold is not complete: held 12.0 of")
    expect(page.locator("#ask-title")).to_have_text("Finish the round all the same")
    expect(page.locator("#ask-words")).to_contain_text("a later round holds anew from nothing")
    assert house.service.engine.memories["north"].interlock.started
    page.locator("#sure").check()
    page.locator("#ask-do").click()
    expect(page.locator("#act-note")).to_contain_text("finish: done")
    assert house.relay.wait_for(False, 60.0)
    expect(page.locator("#round-now")).to_contain_text("No round is started.")
    expect(watch.locator("#phase")).to_contain_text("resting")
    house.feed(volts=25.4)
    order(page, "start")
    expect(page.locator("#act-note")).to_contain_text("start: refused. the start checklist is not confirmed.")
    page.locator("summary", has_text="Start checklist").click()
    for line in page.locator("#checks input").all():
        line.check()
    page.locator("#form-checklist button").click()
    expect(page.locator("#checked")).to_contain_text("Confirmed by keeper")
    unfold(page)
    order(page, "start")
    expect(page.locator("#act-note")).to_contain_text("start: done")
    assert house.relay.wait_for(True, 60.0)
    expect(page.locator("#round-now")).to_contain_text("A round is under way")
    expect(watch.locator("#log")).to_contain_text("start by keeper")


def test_an_act_without_a_connection_is_told_and_never_kept_for_later(house: House, opened: Open) -> None:
    page = opened("/bench")
    unfold(page)
    before = house.service.engine.memories["north"].interlock.started
    page.context.set_offline(True)
    order(page, "abandon")
    expect(page.locator("#act-note")).to_contain_text(
        "not sent, there is no connection. Acts are never kept for later."
    )
    page.context.set_offline(False)
    expect(page.locator("#news")).to_have_text("Live.")
    assert house.service.engine.memories["north"].interlock.started == before
