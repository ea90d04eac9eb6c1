"""At the bench: a string of gravities by number pad, what happens without a connection, checklist, trip and reset."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from conftest import House, Open
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion
from playwright.sync_api import Page, Route, expect
from servers import wait_until

CELLS = [f"N{block}.{cell}" for block in range(1, 5) for cell in range(1, 4)]


class Listener:
    """Anybody on the bus: the newest payload of every topic below the bank."""

    def __init__(self, port: int) -> None:
        self.heard: dict[str, str] = {}
        self.client = Client(CallbackAPIVersion.VERSION2)
        self.client.on_connect = lambda client, *_: client.subscribe("homie/5/tarn-hut-north/#")
        self.client.on_message = self._hear
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()

    def _hear(self, client: Client, userdata: object, message: MQTTMessage) -> None:
        self.heard[message.topic.removeprefix("homie/5/tarn-hut-north/")] = message.payload.decode()


@pytest.fixture
def bus(house: House) -> Iterator[Listener]:
    listener = Listener(house.broker.port)
    yield listener
    listener.client.disconnect()
    listener.client.loop_stop()


def tap(page: Page, keys: str) -> None:
    """Press buttons of the pad."""
    for key in keys:
        page.locator("#pad").get_by_role("button", name="point" if key == "." else key, exact=True).click()


def test_a_whole_string_goes_in_by_number_pad_and_comes_out_in_journal_and_bus(
    house: House, opened: Open, bus: Listener
) -> None:
    page = opened("/bench", width=360)
    since = house.now()
    page.locator("#pad").get_by_role("button", name="low", exact=True).click()
    for number in range(1, 9):
        tap(page, f"12{40 + number}")  # four digits: the next cell comes by itself
    tap(page, "1.26")
    page.locator("#pad").get_by_role("button", name="Undo", exact=False).click()
    tap(page, "61")
    tap(page, "30.4")
    page.locator("#pad").get_by_role("button", name="Next").click()
    tap(page, "1239")
    expect(page.locator("#reading-label")).to_have_text("All 12 cells done")
    page.locator("#warmth").fill("82,4")
    page.locator("#send-gravity").click()
    expect(page.locator("#queue")).to_contain_text("stored by the bridge")
    entry = house.entries("gravity", since)[0].detail
    values = entry["values"]
    assert isinstance(values, dict)
    assert list(values) == CELLS
    assert values["N1.1"] == "low"
    assert values["N1.2"] == pytest.approx(1.241)
    assert values["N4.1"] == pytest.approx(1.261)
    assert values["N4.2"] == pytest.approx(145 / (145 - 30.4))  # degrees Baume, modulus 145
    assert entry["temperature"] == pytest.approx(28.0)
    assert entry["by"] == "keeper"
    wait_until(lambda: bus.heard.get("cells/lowest-gravity") == "1.240", what="lowest, corrected, on the bus")
    assert len(json.loads(bus.heard["cells/table"])) == 12
    watch = opened()
    expect(watch.locator("#cells-words")).to_contain_text("11 of 12 cells read")


def test_the_keyboard_does_what_the_pad_does_and_a_wrong_word_is_explained(opened: Open) -> None:
    page = opened("/bench")
    page.locator("#reading").focus()
    page.keyboard.type("1255")
    expect(page.locator("#reading-label")).to_have_text("Block N1, cell 2")
    page.keyboard.type("rubbish")
    page.keyboard.press("Enter")
    expect(page.locator("#reading-note")).to_contain_text("is no gravity")
    page.locator("#reading").fill("1,248")
    expect(page.locator("#reading-label")).to_have_text("Block N1, cell 3")
    page.reload()
    expect(page.locator("#sheet")).to_contain_text("1,248")
    expect(page.locator("#reading-label")).to_have_text("Block N1, cell 3")


def note(page: Page, words: str) -> None:
    if not page.locator("#form-note").is_visible():
        page.locator("summary", has_text="Volts, amps").click()
    page.locator("#form-note textarea").fill(words)
    page.locator("#form-note button.first").click()


def test_entries_wait_while_there_is_no_connection_and_are_sent_once(house: House, opened: Open) -> None:
    page = opened("/bench")
    since = house.now()
    page.context.set_offline(True)
    note(page, "the second block is warm")
    note(page, "topped up by eye")
    expect(page.locator("#queue")).to_contain_text("2 entries wait")
    assert house.entries("note", since) == []
    page.context.set_offline(False)
    expect(page.locator("#queue")).to_contain_text("stored by the bridge")
    notes = [event.detail["note"] for event in house.entries("note", since)]
    assert notes == ["the second block is warm", "topped up by eye"]


def test_an_answer_lost_on_the_way_leads_to_a_second_sending_and_one_entry(house: House, opened: Open) -> None:
    page = opened("/bench")
    since = house.now()
    sent: list[str] = []

    def lose_the_first_answer(route: Route) -> None:
        sent.append(json.loads(route.request.post_data or "{}")["key"])
        answer = route.fetch()
        if len(sent) == 1:
            route.abort()
        else:
            route.fulfill(response=answer)

    page.route("**/api/record/**", lose_the_first_answer)
    note(page, "said once")
    expect(page.locator("#queue")).to_contain_text("stored by the bridge")
    assert len(sent) >= 2
    assert len(set(sent)) == 1
    assert len(house.entries("note", since)) == 1


def test_a_restart_of_the_bridge_is_told_and_what_was_entered_meanwhile_arrives(house: House, opened: Open) -> None:
    bench, watch = opened("/bench"), opened()
    since = house.now()
    house.stop()
    expect(watch.locator("#news")).to_contain_text("No connection to the bridge")
    note(bench, "while it was down")
    expect(bench.locator("#queue")).to_contain_text("1 entry waits")
    house.start()
    expect(bench.locator("#queue")).to_contain_text("stored by the bridge")
    expect(watch.locator("#news")).to_have_text("Live.")
    assert len(house.entries("note", since)) == 1


def test_a_wrong_token_changes_nothing_and_keeps_what_was_entered(house: House, opened: Open) -> None:
    page = opened("/bench", token="guessed")
    since = house.now()
    note(page, "not yet")
    expect(page.locator("#queue")).to_contain_text("1 entry waits to be sent. Waiting for the right token")
    assert house.entries("note", since) == []


def test_what_the_rules_refuse_stays_visible_until_it_is_dropped(opened: Open) -> None:
    page = opened("/bench")
    page.locator("summary", has_text="Seen in a cell").click()
    page.locator(".undo[data-kind=seen]").click()
    expect(page.locator("#failed")).to_contain_text("no seen entry to take back")
    page.get_by_role("button", name="Drop it").click()
    expect(page.locator("#failed")).to_be_empty()


def test_the_checklist_is_confirmed_only_whole_and_by_name(house: House, opened: Open) -> None:
    page = opened("/bench")
    page.locator("summary", has_text="Start checklist").click()
    confirm = page.locator("#form-checklist button")
    boxes = page.locator("#checks input").all()
    for box in boxes[:-1]:
        box.check()
    expect(confirm).to_be_disabled()
    boxes[-1].check()
    confirm.click()
    expect(page.locator("#checked")).to_contain_text("Confirmed by keeper")
    assert house.service.engine.memories["north"].interlock.checklist_by == "keeper"


def order(page: Page, act: str) -> None:
    """Open an act, tick that one is sure, do it."""
    page.locator(f"button[data-act={act}]").click()
    expect(page.locator("#ask-do")).to_be_disabled()
    page.locator("#sure").check()
    page.locator("#ask-do").click()


def test_a_trip_is_shown_and_a_reset_spells_out_what_it_does_and_does_not_do(house: House, opened: Open) -> None:
    watch, bench = opened(width=360), opened("/bench")
    house.feed(fahrenheit=112.0)
    expect(watch.locator("#level")).to_have_text("danger")
    expect(watch.locator("#standing")).to_contain_text("charging stopped until a person resets")
    expect(watch.locator("#flags")).to_contain_text("112.0 °F, limit 110.0 °F")
    bench.locator("summary", has_text="The round").click()
    expect(bench.locator("button[data-act=resume]")).to_be_disabled()
    bench.locator("button[data-act=reset]").click()
    expect(bench.locator("#ask-words")).to_contain_text("over-temperature at")
    expect(bench.locator("#ask-words")).to_contain_text("The relay stays open. Only a second act, resume")
    bench.locator("#ask-no").click()
    order(bench, "reset")
    expect(bench.locator("#act-note")).to_contain_text("over-temperature is still there")
    house.feed(fahrenheit=90.0)
    wait_until(lambda: not house.service.engine.memories["north"].pending)
    order(bench, "reset")
    expect(bench.locator("#act-note")).to_contain_text("reset: done")
    expect(bench.locator("#round-now")).to_contain_text("resume is still to be given")
    assert not house.relay.closed, "a reset is not a restart"
    order(bench, "resume")
    assert house.relay.wait_for(True)
    expect(watch.locator("#relay")).to_contain_text("closed")
