"""Boards that write keys and values into one text: each value is heard by its key, and prose is left alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge import config
from bridge.listen.collect import Collector
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.judge import judge
from bridge.listen.relays import relays
from bridge.listen.write import cabin_file, recognise
from bridge.message import Message
from bridge.settings import BrokerSettings
from tests.bench.households.homes_fresh_n import cider_orchard
from tests.bench.households.measure import score
from tests.bridge.listen.test_listen_company import FLOWS, bank, late
from tests.bridge.listen.test_listen_strange import NOW, by_place, say

VOLTS = late(FLOWS)


def board(form: str) -> list[Message]:
    """A bank's volts, amps and acid, written by one board in its own form."""
    texts = []
    for place, (volt, flow) in enumerate(zip(VOLTS, FLOWS, strict=True)):
        texts.append(form.format(v=f"{volt:.2f}", i=f"{flow:.2f}", t=f"{87.1 + 0.1 * (place % 3):.1f}"))
    return say("shed/bank/board", *texts)


@pytest.mark.parametrize(
    ("form", "keys"),
    [
        ("V={v} A={i} acid_F={t} MODE=CV", "VA"),
        ("volts={v},amps={i},acid_F={t}", ("volts", "amps")),
        ("u:{v};i:{i};acid_F:{t}", "ui"),
        ("Spannung: {v} V\nStrom: {i} A\nacid_F: {t}", ("Spannung", "Strom")),
        ("batt,site=shed volts={v},amps={i},acid_F={t}", ("volts", "amps")),
        ("up=3d tensao={v} V & corrente={i} A & acid_F={t}", ("tensao", "corrente")),
    ],
)
def test_a_bank_is_heard_in_one_text_and_the_file_reads_it(form: str, keys: tuple[str, str], tmp_path: Path) -> None:
    messages = board(form)
    found = by_place(messages)
    volts, amps, acid = (found[f"shed/bank/board /{key}"] for key in (*keys, "acid_F"))
    assert [one.quantity for one in (volts, amps, acid)] == ["voltage", "current", "electrolyte_temperature"]
    assert volts.sure >= SURE_ENOUGH
    assert volts.source.style == "pairs"
    collector = Collector()
    for message in messages:
        collector.take(message)
    banks = recognise(collector.sources)
    file = tmp_path / "cabin.toml"
    file.write_text(cabin_file(banks, BrokerSettings()), "utf-8")
    readings = config.load(file).routes.decode(messages[-1]).readings
    assert {one.meter: one.value for one in readings}["voltage"] == pytest.approx(VOLTS[-1], abs=0.01)
    assert all(one.possible for one in judge(banks, messages))


def test_a_comma_for_a_point_is_written_into_the_file() -> None:
    texts = [f"U={volt:.2f} I={flow:.2f}".replace(".", ",") for volt, flow in zip(VOLTS, FLOWS, strict=True)]
    found = by_place(say("shed/akku/board", *texts))
    volts = found["shed/akku/board /U"]
    assert (volts.quantity, volts.source.decimal, volts.sure >= SURE_ENOUGH) == ("voltage", ",", True)


def test_a_stamp_among_the_pairs_is_their_time() -> None:
    texts = [
        f"V={volt:.2f} A={flow:.2f} at={NOW + 2.0 * place:.0f}"
        for place, (volt, flow) in enumerate(zip(VOLTS, FLOWS, strict=True))
    ]
    found = by_place(say("shed/bank/board", *texts))
    assert found["shed/bank/board /V"].source.time == "/at"
    assert "shed/bank/board /at" not in found


@pytest.mark.parametrize(
    "text", ["eq on the old one since 9: hydrometer again at 4", "note: bank 24 V", "i + = into cells, 24V", "mode=CV"]
)
def test_prose_is_no_board(text: str) -> None:
    assert not [
        place for place in by_place(bank("hut/bank/volts", "hut/bank/amps") + say("hut/note", text)) if "note" in place
    ]


def test_a_switch_among_pairs_is_no_relays_template_for_none_could_be_read() -> None:
    messages = bank("hut/battery/volts", "hut/battery/amps")
    messages += say("hut/charger/board", *("relay_state=on temp=31.2" for _ in range(60)))
    collector = Collector()
    for message in messages:
        collector.take(message)
    assert relays(collector.switches, recognise(collector.sources)) == []


def test_the_house_whose_board_says_so_has_its_bank_found_and_nothing_wrong_live() -> None:
    one = score(cider_orchard)
    assert one.equalised
    assert one.wrong == ()
    assert one.missed == ()
