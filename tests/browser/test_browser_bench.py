"""At the bench: a string of gravities by number pad, what happens without a connection, checklist, trip and reset."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping

import pytest
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion
from playwright.sync_api import Page, Route, expect

from bridge.cli import main
from tests.support.brokers import wait_until
from tests.support.browser_house import STORED, House, Open

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
    expect(page.locator("#reading-label")).to_contain_text("How warm is the acid?")
    expect(page.locator("#reading-note")).to_contain_text("counts for no verdict")
    page.locator("#reading").fill("82,4")
    page.keyboard.press("Enter")
    expect(page.locator("#taken")).to_contain_text("82.4 °F")
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

    def gas() -> str:
        # The bridge has just come up: where its link to the relay came late the relay is open, else it charges on.
        if house.service.latest["north"].charger.startswith("The charger is on"):
            return "It charges: switch the charger off at the wall before a cell is"
        return "The charger is off, its gas may"

    before = gas()
    page.locator("#send-gravity").click()
    expect(page.locator("#queue")).to_contain_text(STORED)
    # It may have changed in between: what was true as it was sent, or is now.
    expect(page.locator("#queue")).to_contain_text(re.compile(f"{before}|{gas()}"))
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
    wait_until(lambda: bus.heard.get("cells/lowest-gravity") == "1.100", what="lowest, corrected, on the bus")
    assert len(json.loads(bus.heard["cells/table"])) == 12
    watch = opened()
    expect(watch.locator("#cells-words")).to_contain_text("11 of 12 cells read")


def test_the_keyboard_does_what_the_pad_does_and_a_wrong_word_is_explained(opened: Open) -> None:
    page = opened("/bench")
    page.get_by_role("button", name="No thermometer").click()
    expect(page.locator("#reading-note")).to_contain_text("no temperature, uncorrected")
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


def test_pad_echo_and_what_is_said_of_it_stand_in_one_screen_and_the_value_taken_is_large(
    house: House, opened: Open
) -> None:
    page = opened("/bench", width=360)
    page.set_viewport_size({"width": 360, "height": 640})
    for warmth in (True, False):
        if not warmth:  # at the shed nothing is heard of the bridge
            house.stop()
            expect(page.locator("#news")).to_contain_text("No connection")
        boxes = [page.locator(one).bounding_box() for one in ("#queue", "#taken", "#reading", "#reading-note")]
        boxes += [button.bounding_box() for button in page.locator("#pad button:visible").all()]
        assert all(box is not None and box["y"] >= 0.0 and box["y"] + box["height"] <= 640.0 for box in boxes)
        assert all(box is not None and min(box["height"], box["width"]) >= 50.0 for box in boxes[4:]), "for gloves"
        if warmth:
            tap(page, "77")
            page.locator("#pad").get_by_role("button", name="Next").click()
    tap(page, "1262")
    expect(page.locator("#taken")).to_have_text("N1.1 1.262")
    house.start()
    size = page.locator("#taken b").evaluate("(one) => parseFloat(getComputedStyle(one).fontSize)")
    assert size >= 32.0


@pytest.mark.parametrize(
    ("absurd", "why"),
    [
        ("1365", r"is stronger than a full cell, 1\.265"),
        # what an earlier sheet of the same hour has of this cell comes before its neighbours
        (
            "1010",
            r"(is far from its neighbours at 1\.248"
            r"|read 1\.24\d( \(corrected 1\.2\d\d\))?, and that was .* before: no cell changes so fast)",
        ),
        (
            "1190",
            r"(is far from its neighbours at 1\.248"
            r"|read 1\.24\d( \(corrected 1\.2\d\d\))?, and that was .* before: no cell changes so fast)",
        ),
    ],
)
def test_m05_a_gravity_far_from_its_neighbours_is_asked_about_before_it_is_taken(
    house: House, opened: Open, absurd: str, why: str
) -> None:
    page = opened("/bench")
    page.get_by_role("button", name="No thermometer").click()
    for _ in range(5):
        tap(page, "1248")
    tap(page, absurd)
    expect(page.locator("#reading-note")).to_contain_text(re.compile(rf"^N2\.3 at 1\.{absurd[1:]} {why}\. Next takes"))
    expect(page.locator("#reading-label")).to_have_text("Block N2, cell 3")
    assert "N2.3" not in page.evaluate("JSON.parse(localStorage.getItem('revival.draft.north')).values")
    for _ in range(4):
        page.locator("#pad").get_by_role("button", name="Undo", exact=False).click()
    tap(page, "1250")
    expect(page.locator("#taken")).to_have_text("N2.3 1.250")
    tap(page, "12.10")
    page.locator("#pad").get_by_role("button", name="Next").click()
    expect(page.locator("#reading-note")).to_contain_text(
        "'12.10' may be a gravity of 1.210 or degrees Baume, which are 1.091: write 1.210 or 12.1 Be"
    )
    page.locator("#reading").fill("")
    tap(page, absurd)
    page.locator("#pad").get_by_role("button", name="Next").click()
    expect(page.locator("#taken")).to_have_text(f"N3.1 {int(absurd) / 1000:.3f}")


@pytest.mark.parametrize(
    "typed", ["1.425", "1425", "1,425", "2.165", "1.9", "12.4", "9", "145", "1.2.5", "sg 1.452", "lov"]
)
def test_what_is_no_gravity_is_said_at_the_bench_as_the_command_line_says_it(
    house: House, opened: Open, capsys: pytest.CaptureFixture[str], typed: str
) -> None:
    page = opened("/bench")
    page.get_by_role("button", name="No thermometer").click()
    page.locator("#reading").fill(typed)
    page.keyboard.press("Enter")
    assert main(["record", "--config", str(house.config), "--bank", "north", "gravity", f"N1.1={typed}"]) == 2
    told = capsys.readouterr().err.strip().removeprefix("revival record: gravity: ")
    assert repr(typed) in told
    expect(page.locator("#reading-note")).to_have_text(f"{told}.")
    expect(page.locator("#reading-label")).to_have_text("Block N1, cell 1")


def test_what_is_asked_about_a_gravity_is_asked_at_the_bench_as_the_command_line_asks_it(
    house: House, opened: Open, capsys: pytest.CaptureFixture[str]
) -> None:
    page = opened("/bench")
    page.get_by_role("button", name="No thermometer").click()
    tap(page, "1325")
    assert main(["record", "--config", str(house.config), "--bank", "north", "gravity", "N1.1=1.325"]) == 5
    told = capsys.readouterr().err.strip().removeprefix("revival record: north: not taken: ")
    expect(page.locator("#reading-note")).to_have_text(
        f"{told.removesuffix('; read it again, or say --sure')}. Next takes it as it is; ⌫ corrects it."
    )


def test_a_reading_with_its_unit_and_water_of_one_cell_are_taken_as_they_are_typed(house: House, opened: Open) -> None:
    page = opened("/bench")
    since = house.now()
    page.locator("#sheet-water summary").click()
    page.locator("#form-water [name=where]").select_option("N2.3")
    page.locator("#form-water [name=amount]").fill("1/4 cup")
    page.locator("#form-water button.first").click()
    expect(page.locator("#queue")).to_contain_text(STORED)
    page.locator("#form-water [name=where]").select_option("N2.1")
    page.locator("#form-water [name=amount]").fill("3 qt")
    page.locator("#form-water button.first").click()
    expect(page.locator("#failed")).to_contain_text("N2.1: 3.0 qt, and about 4.1 fl oz stand above the plates")
    page.locator("#failed").get_by_role("button", name="Drop it").click()
    page.locator("#sheet-measured summary").click()
    for kind, typed in (("temperature", "31 °C"), ("voltage", "7,05V")):
        page.locator("#form-measured [name=kind]").select_option(kind)
        page.locator("#form-measured [name=where]").select_option("N1")
        page.locator("#form-measured [name=amount]").fill(typed)
        page.locator("#form-measured button.first").click()
    wait_until(lambda: house.entries("voltage", since) or page.locator("#failed li").count())
    told = {kind: [each.detail["values"] for each in house.entries(kind, since)] for kind in ("water", "temperature")}
    assert told == {"water": [{"N2.3": pytest.approx(59.15, abs=0.01)}], "temperature": [{"N1": 31.0}]}
    page.locator("#form-charger [name=volts]").fill("31.8 V")
    page.locator("#form-charger [name=amps]").fill("twenty")
    page.locator("#form-charger button.first").click()
    expect(page.locator("#queue")).to_contain_text("That is no number.")
    page.locator("#form-charger [name=amps]").fill("20A")
    page.locator("#form-charger button.first").click()
    wait_until(lambda: house.entries("charger", since) or page.locator("#failed li").count())
    assert [each.detail["values"] for each in house.entries("charger", since)] == [{"volts": 31.8, "amps": 20.0}]
    page.locator("#form-measured [name=amount]").fill("warm")
    page.locator("#form-measured button.first").click()
    expect(page.locator("#queue")).to_contain_text("That is no number.")


def test_a_sheet_is_started_over_only_on_a_second_word_and_comes_back(opened: Open) -> None:
    page = opened("/bench")
    page.get_by_role("button", name="No thermometer").click()
    for value in ("1243", "1244", "1245"):  # within what the cells may have read on an earlier sheet
        tap(page, value)
    page.get_by_role("button", name="Start over").click()
    page.get_by_role("button", name="Leave it").click()
    expect(page.locator("#sheet")).to_contain_text("1244")
    page.locator("#clear-gravity").click()
    page.get_by_role("dialog").get_by_role("button", name="Start over").click()
    expect(page.locator("#sheet")).not_to_contain_text("1244")
    page.get_by_role("button", name="Bring them back").click()
    expect(page.locator("#sheet")).to_contain_text("1244")
    expect(page.locator("#reading-label")).to_have_text("Block N2, cell 1")


def test_a_sheet_sent_once_more_is_said_to_be_there_already(house: House, opened: Open) -> None:
    page = opened("/bench")
    since = house.now()
    for words in (STORED, "Already noted at"):
        page.get_by_role("button", name="No thermometer").click()
        tap(page, "12631244")
        page.locator("#send-gravity").click()
        expect(page.locator("#queue")).to_contain_text(words)
    expect(page.locator("#queue")).not_to_contain_text("to be sent")
    assert len(house.entries("gravity", since)) == 1


def test_what_was_just_sent_is_taken_back_where_it_is_told(house: House, opened: Open) -> None:
    page = opened("/bench")
    since = house.now()
    note(page, "a slip of the glove")
    expect(page.locator("#queue")).to_contain_text(STORED)
    page.locator("#queue-undo").click()
    wait_until(lambda: [one.detail.get("undo") for one in house.entries("note", since)][-1:] == [True], 30.0)


def test_without_a_token_it_is_asked_for_before_the_sheet(opened: Open) -> None:
    page = opened("/bench", token="")
    expect(page.locator("#form-who")).to_be_visible()
    who, sheet = page.locator("#who").bounding_box(), page.locator("#sheet-gravity").bounding_box()
    assert who is not None and sheet is not None and who["y"] < sheet["y"]


HEARD = """() => {
  window.felt = [];
  window.heard = [];
  navigator.vibrate = (pattern) => window.felt.push(pattern);
  SpeechSynthesis.prototype.speak = (said) => window.heard.push(said.text);
}"""


def test_a_value_taken_is_felt_and_on_request_said_aloud_and_a_strange_one_feels_different(opened: Open) -> None:
    page = opened("/bench")
    page.evaluate(HEARD)
    page.get_by_role("button", name="No thermometer").click()
    tap(page, "1262")
    page.get_by_label("Say each value aloud").check()
    tap(page, "1244")
    tap(page, "1365")
    assert page.evaluate("window.heard") == ["N1 cell 2: 1.244"], (
        "only from when it was asked for, and only what is taken"
    )
    assert page.evaluate("window.felt") == [40, 40, [60, 60, 60]]


def test_what_waits_stays_in_view_below_the_banner_of_a_lost_bridge(opened: Open) -> None:
    page = opened("/bench", width=360)
    page.set_viewport_size({"width": 360, "height": 640})
    page.route("**/api/record/**", lambda route: route.abort())
    note(page, "seen")
    # In one call: the page's own next news would take the banner away again.
    news, queue = page.evaluate("""() => {
        document.querySelector('#news').dataset.level = 'permit';
        scrollTo(0, 600);
        return ['#news', '#queue'].map((part) => document.querySelector(part).getBoundingClientRect().toJSON());
    }""")
    assert news["top"] >= 0.0 and news["bottom"] <= queue["top"] + 1.0 and queue["top"] < 200.0
    expect(page.locator("#queue")).to_contain_text("1 entry waits")


def test_amps_that_contradict_the_ammeter_are_asked_about_and_taken_when_they_are_meant(
    house: House, opened: Open
) -> None:
    page = opened("/bench")
    since = house.now()
    house.feed(amps=18.0)
    wait_until(lambda: house.service.engine.memories["north"].meters["current"].value == 18.0)
    note(page, "the charger was switched on")  # a state comes once a minute by itself, and at once after an act
    expect(page.locator("#air")).to_contain_text("of air needed now")
    page.locator("#form-measured select[name=kind]").select_option("amps")
    page.locator("#form-measured input[name=amount]").fill("2")
    page.locator("#form-measured button.first").click()
    expect(page.locator("#failed")).to_contain_text("2.0 A by hand stand beside 18.0 A on the ammeter")
    assert house.entries("amps", since) == []
    page.get_by_role("button", name="It is meant").click()
    expect(page.locator("#failed")).to_be_empty()
    wait_until(lambda: house.entries("amps", since), 20)


def test_who_means_the_damage_that_was_misspelt_has_it_noted_by_one_button(house: House, opened: Open) -> None:
    page = opened("/bench")
    since = house.now()
    note(page, "a crak in N2")
    expect(page.locator("#failed")).to_contain_text('do you mean "a crack in N2"?')
    expect(page.get_by_role("button", name="Keep my words")).to_be_visible()
    page.get_by_role("button", name="Yes, take it so").click()
    expect(page.locator("#failed")).to_be_empty()
    wait_until(lambda: house.entries("note", since), 20)
    assert "a crack in N2" in str(house.entries("note", since))


@pytest.mark.parametrize("width", [360, 412])
def test_the_sentence_of_gas_and_air_wraps_within_a_phone(house: House, opened: Open, width: int) -> None:
    page = opened("/bench", width=width)
    house.feed(amps=12.0)
    air = page.locator("#air")
    expect(air).to_contain_text("cfm of air needed now")
    expect(air).to_contain_text("Charger off before you open a cell.")
    box, line = air.bounding_box(), air.evaluate("(one) => parseFloat(getComputedStyle(one).lineHeight)")
    assert box is not None and box["x"] >= 0.0 and box["x"] + box["width"] <= width
    assert box["height"] >= 1.9 * line, "it takes more than a line, and takes them"
    assert air.evaluate("(one) => one.scrollWidth <= one.clientWidth")
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize(("form", "kind"), [("measured", "voltage"), ("charger", "charger"), ("gravity", "gravity")])
def test_whatever_was_entered_is_taken_back_and_a_whole_sheet_asks_first(
    house: House, opened: Open, form: str, kind: str
) -> None:
    page = opened("/bench")
    since = house.now()
    if form == "gravity":
        page.get_by_role("button", name="No thermometer").click()
        tap(page, "1262")
        page.locator("#send-gravity").click()
    else:
        page.locator("summary", has_text="Volts, amps").click()
        page.locator(f"#form-{form} input").first.fill("32" if form == "measured" else "31.8")
        page.locator(f"#form-{form} button.first").click()
    expect(page.locator("#queue")).to_contain_text(STORED)
    page.reload()  # later, when the line at the top has forgotten it
    page.wait_for_selector("html[data-ready=yes]")
    if form == "gravity":
        page.locator(".undo[data-kind=gravity]").click()
        expect(page.get_by_role("dialog")).to_contain_text("1 cells, taken")
        assert len(house.entries(kind, since)) == 1, "not yet"
        page.get_by_role("button", name="Take it back").click()
    else:
        page.locator("summary", has_text="Volts, amps").click()
        page.locator(f"#form-{form} .undo").click()
    wait_until(lambda: [one.detail.get("undo") for one in house.entries(kind, since)] == [False, True], 30.0)


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
    expect(page.locator("#queue")).to_contain_text(STORED)
    wait_until(lambda: len(house.entries("note", since)) > 1, 30.0)
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
    expect(page.locator("#queue")).to_contain_text(STORED)
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
    expect(bench.locator("#queue")).to_contain_text(STORED)
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


def test_an_entry_that_waits_survives_a_reload_of_the_page(house: House, opened: Open) -> None:
    page = opened("/bench")
    since = house.now()
    page.route("**/api/record/**", lambda route: route.abort())
    note(page, "before the reload")
    expect(page.locator("#queue")).to_contain_text("1 entry waits")
    page.reload()
    expect(page.locator("#queue")).to_contain_text("1 entry waits")
    page.unroute("**/api/record/**")
    expect(page.locator("#queue")).to_contain_text(STORED)
    assert [event.detail["note"] for event in house.entries("note", since)] == ["before the reload"]


def test_every_other_entry_reaches_the_journal_and_is_seen_in_a_second_browser(
    house: House, opened: Open, bus: Listener
) -> None:
    page, other = opened("/bench", width=360), opened("/bench")
    since = house.now()

    def enter(form: str, button: str, **fields: str) -> Mapping[str, object]:
        section = page.locator("details", has=page.locator(f"#form-{form}"))
        if section.get_attribute("open") is None:
            section.locator("summary").click()
        for name, value in fields.items():
            field = page.locator(f"#form-{form} [name={name}]")
            if field.evaluate("(element) => element.tagName") == "SELECT":
                field.select_option(value)
            else:
                field.fill(value)
        before = len(house.entries("", since))
        page.get_by_role("button", name=button).click()
        wait_until(lambda: len(house.entries("", since)) > before, 30.0, f"{form} in the journal")
        return house.entries("", since)[-1].detail

    # The file says degF: water is poured by the fluid ounce, of 29.5735 mL (NIST Handbook 44, Appendix C).
    expect(page.get_by_label("Distilled water added, fl oz in all")).to_have_count(1)
    assert enter("water", "Note the water", amount="40", note="all blocks")["values"] == {
        "": pytest.approx(1182.94, abs=0.01)
    }
    expect(other.locator("#entries")).to_contain_text("water; 1.3 qt; all blocks")
    page.locator("#form-water [name=amount]").fill("90000")
    page.get_by_role("button", name="Note the water").click()
    expect(page.locator("#failed")).to_contain_text("gal is not between 0.0 fl oz and")
    page.get_by_role("button", name="Drop it").click()
    assert enter("level", "Note the level", what="over-mark")["values"] == dict.fromkeys(CELLS, "over-mark")
    seen = enter("seen", "Note what is seen", where="N2.1", white="3", gas="milky", words="brown")
    assert seen["values"] == {"N2.1": "sulfated 3 of 4, gassing milky"}
    assert seen["note"] == "brown"
    assert enter("measured", "Note the reading", kind="voltage", where="N3", amount="8,02")["values"] == {"N3": 8.02}
    warm = enter("measured", "Note the reading", kind="temperature", where="", amount="95")["values"]
    assert warm == {"": pytest.approx(35.0)}
    assert enter("charger", "Note the setting", volts="31.8", amps="20")["values"] == {"volts": 31.8, "amps": 20.0}
    assert enter("note", "Keep the note", note="fan is on")["note"] == "fan is on"
    expect(other.locator("#entries")).to_contain_text("fan is on")
    expect(other.locator("#entries")).to_contain_text("N2.1 sulfated 3 of 4, gassing milky")
    wait_until(lambda: "level-due" not in bus.heard.get("safety/flags", "level-due"), 30.0, "the chore is done")
    page.locator(".undo[data-kind=note]").click()
    expect(other.locator("#entries")).not_to_contain_text("fan is on")
    # One behind later ones goes by its own button, once it was asked about.
    page.locator("summary", has_text="Entered so far").click()
    one = page.locator("#entries li", has_text="sulfated 3 of 4, gassing milky")
    one.get_by_role("button").click()
    expect(page.get_by_role("dialog")).to_contain_text("sulfated 3 of 4, gassing milky")
    page.get_by_role("button", name="Take it back").click()
    expect(other.locator("#entries")).not_to_contain_text("sulfated 3 of 4")
    expect(other.locator("#entries")).to_contain_text("31.8 V")


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
    page.locator("#checklist-back").click()
    expect(page.get_by_role("dialog")).to_contain_text("keeper confirmed it")
    page.get_by_role("dialog").get_by_role("button", name="Take it back").click()
    expect(page.locator("#checked")).to_contain_text("Not confirmed yet")
    expect(page.locator("#checklist-back")).to_be_hidden()
    assert house.service.engine.memories["north"].interlock.checklist_by == ""


def test_cells_off_the_instrument_ties_and_block_volts_stand_out_where_they_are_apart(
    house: House, opened: Open
) -> None:
    bench, watch = opened("/bench"), opened()
    gravities: dict[str, float | str] = dict.fromkeys(CELLS, 1.250)
    gravities |= {"N1.1": "low", "N2.1": "high", "N3.1": 1.215, "N3.2": 1.215, "N4.1": 1.285, "N4.2": 1.275}
    volts = {"N1": 8.1, "N2": 8.1, "N3": 7.78, "N4": 8.06}  # 32.04 V in all, as the bank's meter shows
    send = """async ([kind, values]) => {
      const headers = {"content-type": "application/json", authorization: `Bearer ${localStorage["revival.token"]}`};
      const body = JSON.stringify(values ? {kind, values, sure: true} : {kind, undo: true});
      return (await fetch("/api/record/north", {method: "POST", body, headers})).status;
    }"""
    while bench.evaluate(send, ["water", None]) == 200:
        pass  # what was poured in tests before would lie on the acid
    assert bench.evaluate(send, ["gravity", gravities]) == 200
    assert bench.evaluate(send, ["voltage", volts]) == 200
    apart = watch.locator("#cells .apart")
    expect(apart).to_have_count(5)
    away = {one.get_attribute("data-cell"): one.get_attribute("data-away") for one in apart.all()}
    # More than 0.030 from the middle of the others, 1.250; 1.275 is not (common practice, no source).
    assert away == {"N1.1": "low", "N2.1": "high", "N3.1": "low", "N3.2": "low", "N4.1": "high"}
    heights = {
        cell: watch.locator(f"[data-cell='{cell}'] .bar i").evaluate("(one) => one.getBoundingClientRect().height")
        for cell in ("N1.1", "N3.1", "N1.2")
    }
    assert heights["N1.1"] < heights["N3.1"] < heights["N1.2"], "low on the float is the worst, not empty"
    expect(watch.locator("#cells-words")).to_contain_text("Lowest 1.215 at N3.1, N3.2")
    known = house.service.latest["north"]
    assert known.gravity_spread is not None
    expect(watch.locator("#cells-words")).to_contain_text(f"spread {known.gravity_spread:.3f}")
    expect(watch.locator("#cells-words")).to_contain_text("N1.1 too weak to float it, so at most 1.100")
    expect(watch.locator("#cells-words")).to_contain_text("12 uncorrected for want of a temperature")
    watch.locator("#cells-tools").get_by_role("button", name="volts").click()
    # 7.78 V is 0.3 V below the middle of the others, and 0.2 V is too much (common practice, no source).
    expect(apart).to_have_count(3)
    assert {one.get_attribute("data-cell") for one in apart.all()} == {"N3.1", "N3.2", "N3.3"}
    watch.locator("[data-cell='N3.1']").click()
    expect(watch.locator("#cell")).to_contain_text("1.215")
    watch.keyboard.press("Escape")
    watch.get_by_text("Sheet against sheet").click()
    expect(watch.locator("#sheets-table tbody tr")).to_have_count(12)


def test_what_was_noted_by_hand_is_listed_in_words_that_a_person_says(house: House, opened: Open) -> None:
    page = opened("/bench")
    send = """async ([kind, values]) => {
      const headers = {"content-type": "application/json", authorization: `Bearer ${localStorage["revival.token"]}`};
      return (await fetch("/api/record/north", {method: "POST", body: JSON.stringify({kind, values}), headers})).status;
    }"""
    assert page.evaluate(send, ["charger", {"volts": 0.0}]) == 200
    entries = page.locator("#entries")
    expect(entries).to_contain_text("charger off")
    expect(entries).not_to_contain_text("volts off")


def test_the_page_knows_no_spread_where_water_is_not_mixed_yet(house: House, opened: Open) -> None:
    bench, watch = opened("/bench"), opened()
    send = """async ([kind, values]) => {
      const headers = {"content-type": "application/json", authorization: `Bearer ${localStorage["revival.token"]}`};
      const body = JSON.stringify({kind, values, sure: true});
      return (await fetch("/api/record/north", {method: "POST", body, headers})).status;
    }"""
    assert bench.evaluate(send, ["water", {"": 600.0}]) == 200
    assert bench.evaluate(send, ["gravity", dict.fromkeys(CELLS, 1.210) | {"N2.2": 1.190}]) == 200
    words = watch.locator("#cells-words")
    expect(words).to_contain_text("Lowest not known, spread not known (without cells whose water was not mixed yet")
    assert house.service.latest["north"].gravity_spread is None


def test_a_value_that_is_refused_is_replaced_by_the_next_digit(opened: Open) -> None:
    page = opened("/bench", width=360)
    page.locator("#pad").get_by_role("button", name="No thermometer").click()
    tap(page, "1610")
    expect(page.locator("#reading-note")).to_contain_text("is no gravity")
    expect(page.locator("#reading")).to_have_value("1610")
    tap(page, "1")
    expect(page.locator("#reading")).to_have_value("1")
    back = page.locator("#pad").get_by_role("button", name="Undo", exact=False)
    back.click()
    tap(page, "1610")
    back.click()
    tap(page, "5")
    expect(page.locator("#reading")).to_have_value("1615")
