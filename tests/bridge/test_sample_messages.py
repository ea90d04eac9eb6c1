"""Every folder of recorded payload styles: its cabin file loads, and its messages become the same invented bank."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bridge import config
from bridge.message import Message

SAMPLES = Path(__file__).parents[2] / "sample_messages"
STYLES = sorted(path.parent.name for path in SAMPLES.glob("*/cabin.toml"))

#: Rejected on purpose, by folder.
REASONS = {"hub-states": {"unavailable"}, "homie": {"no description yet"}}


def test_there_are_at_least_six_styles_and_three_that_mislead() -> None:
    assert len(STYLES) >= 9
    assert sum(name.startswith("misleading-") for name in STYLES) >= 3


@pytest.mark.parametrize("style", STYLES)
def test_every_style_decodes_to_a_bank_in_bulk_charge(style: str) -> None:
    loaded = config.load(SAMPLES / style / "cabin.toml", {})
    wanted = {*loaded.routes.live_topics, *loaded.routes.history_topics}
    seen: dict[tuple[str, str], list[float]] = {}
    reasons = set()
    before = 0.0
    for line in (SAMPLES / style / "messages.jsonl").read_text("utf-8").splitlines():
        row = json.loads(line)
        assert before <= row["t"], "recorded in the order of arrival"
        before = row["t"]
        message = Message(row["topic"], row["payload"].encode(), row["t"], row["retain"])
        decoded = loaded.routes.decode(message)
        reasons |= {rejected.reason for rejected in decoded.rejected}
        assert not any(reading.stamp_off for reading in decoded.readings)
        wanted.discard(row["topic"])
        for reading in decoded.readings:
            seen.setdefault((reading.bank, reading.meter), []).append(reading.value)
    assert reasons == REASONS.get(style, set())
    assert not wanted, "mapped, but never recorded"
    for bank in loaded.cabin.banks.values():
        volts, amps = seen[bank.id, "voltage"], seen[bank.id, "current"]
        probe = seen[bank.id, "electrolyte_temperature"]
        assert min(volts) / bank.cells > 2.09 and max(volts) / bank.cells < 2.20
        assert volts[-1] > volts[0]
        assert min(amps) > 20.0 and max(amps) < 51.0
        assert min(probe) > 26.0 and max(probe) < 29.0
        assert {meter.name for meter in bank.meters} == {name for owner, name in seen if owner == bank.id}
