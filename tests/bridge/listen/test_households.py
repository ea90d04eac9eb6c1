"""`revival listen` on invented houses whose truth is kept apart: what goes live is right, what is a bank's is found.

Those houses (`tests/bench/households`) that are held out are looked at as totals only. The targets are this project's
own: a wrong live mapping is worse than five questions.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from bridge import config
from bridge.listen.collect import Collector
from bridge.listen.evidence import SURE_ENOUGH
from bridge.listen.judge import judge, live_mappings, with_verdicts
from bridge.listen.relays import relays
from bridge.listen.write import cabin_file, recognise, unrecognised
from bridge.message import Message
from bridge.settings import BrokerSettings
from tests.bench.households.homes_dev import DEVELOPMENT, hillside
from tests.bench.households.homes_held import HELD
from tests.bench.households.homes_mixed import MIXED_HELD
from tests.bench.households.measure import Score, score
from tests.bench.households.world import House


def totals(makes: tuple[Callable[[], House], ...]) -> tuple[Score, ...]:
    return tuple(score(make) for make in makes)


def test_what_goes_live_is_right_and_what_is_a_banks_is_found() -> None:
    scores = totals((*DEVELOPMENT, *HELD, *MIXED_HELD[:6]))
    live, right = sum(one.live for one in scores), sum(one.right for one in scores)
    true, found = sum(one.true for one in scores), sum(one.found for one in scores)
    assert live >= 60, "nothing live is no success"
    assert right / live >= 0.98
    assert found / true >= 0.90
    assert all(one.equalised for one in scores)


def heard(house: House) -> list[Message]:
    return [
        Message(str(row["topic"]), str(row["payload"]).encode(), float(str(row["t"])), bool(row["retain"]))
        for row in house.messages()
    ]


def collected(messages: list[Message]) -> Collector:
    collector = Collector()
    for message in messages:
        collector.take(message)
    return collector


@pytest.mark.parametrize("make", [*DEVELOPMENT, *HELD], ids=lambda make: make.__name__)
def test_every_house_gives_a_file_that_loads_with_doubts_stated_and_nothing_under_ninety_live(
    make: Callable[[], House], tmp_path: Path
) -> None:
    collector = collected(heard(make()))
    sources = collector.sources
    found = recognise(sources)
    text = cabin_file(found, BrokerSettings(), "", unrecognised(sources, found), collector.unread, relays(sources))
    file = tmp_path / "cabin.toml"
    file.write_text(text, "utf-8")
    loaded = config.load(file)
    assert len(loaded.routes.mappings) == len(live_mappings(found))
    for line in text.splitlines():
        if " % sure: " in line:
            live = float(line.split()[1]) >= 100 * SURE_ENOUGH
            assert live != line.endswith("Doubtful, so commented out:")


def test_the_relay_that_was_heard_stands_ready_and_commented() -> None:
    collector = collected(heard(hillside()))
    found = recognise(collector.sources)
    lines = cabin_file(found, BrokerSettings(), relays=relays(collector.switches)).splitlines()
    start = lines.index("# [bank.relay]")
    assert lines[start + 1 : start + 5] == [
        '# topic = "cabin/charger/set"',
        '# cut = "OFF"',
        '# allow = "ON"',
        '# state_topic = "cabin/charger/state"',
    ]


def say(topic: str, *payloads: float, every: float = 5.0, begin: float = 0.0) -> list[Message]:
    return [
        Message(topic, f"{payload:.3f}".encode(), 1795590000.0 + begin + every * place)
        for place, payload in enumerate(payloads)
    ]


def test_the_file_as_a_whole_is_judged_on_live_traffic_and_what_cannot_be_does_not_go_live() -> None:
    """m43's kind: a current at 2.6 V per cell that shows discharge, and volts of no bank, are caught by a minute."""
    volts = [31.5 + 0.01 * (n % 3) for n in range(24)]
    found = recognise(
        collected(say("hut/bank/volts", *volts) + say("hut/bank/amps", *[9.0 + n % 2 for n in range(24)])).sources
    )
    assert {meter for _, meter in live_mappings(found)} == {"voltage", "current"}
    later = say("hut/bank/volts", *volts) + say("hut/bank/amps", *[-9.0 - n % 2 for n in range(24)])
    verdicts = {one.meter: one for one in judge(found, later)}
    assert verdicts["voltage"].possible and "2.63 V per cell of 12" in verdicts["voltage"].words
    assert not verdicts["current"].possible and "turn its sign" in verdicts["current"].words
    kept = live_mappings(with_verdicts(found, verdicts.values()))
    assert {meter for _, meter in kept} == {"voltage"}
    dead = {one.meter: one for one in judge(found, say("hut/bank/volts", *[3.1] * 12))}
    assert not dead["voltage"].possible and "said nothing" in dead["current"].words


def test_a_current_that_the_volts_go_against_is_turned() -> None:
    """The charger drops out: volts fall while a meter that counts discharge as positive rises (both ways tried)."""
    volts = [25.6] * 20 + [24.4] * 20
    for way, sign in ((1.0, "charging"), (-1.0, "discharging")):
        amps = [way * 20.0 + 0.1 * (n % 2) for n in range(20)] + [0.0] * 20
        found = recognise(collected(say("hut/bank/volts", *volts) + say("hut/bank/amps", *amps)).sources)
        (current,) = (one for one in found[0].guesses if one.quantity == "current")
        assert (current.sign, current.sure >= SURE_ENOUGH) == (sign, True)
