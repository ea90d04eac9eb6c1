"""A bank and its blocks may have different verdicts; whoever reads both is told why and what comes first."""

from __future__ import annotations

import pytest

from bridge.words.verdict_words import apart
from rules.verdict import Verdict


def judged(whole: str, **blocks: str) -> tuple[Verdict, ...]:
    """Bank and blocks with these words."""
    return tuple(Verdict(label, word, None, ("why",)) for label, word in {"north": whole, **blocks}.items())


def test_scrap_and_repeat_are_explained_together() -> None:
    told = apart(judged("scrap", N1="repeat", N2="scrap", N3="repeat"))
    assert told == (
        "SCRAP is said of the bank as it is joined now; of its blocks by themselves: N1 N3 REPEAT; N2 SCRAP. "
        "No further round mends N2: take it out before anything else. "
        "The others are judged again after another round, or after the test that is missing."
    )


def test_a_bank_whose_blocks_only_do_not_fit_together_is_not_thrown_away() -> None:
    told = apart(judged("scrap", N1="keep", N2="keep-derated"))
    assert "N1 KEEP; N2 KEEP, DERATED" in told and "join them anew" in told and "take" not in told


@pytest.mark.parametrize("verdicts", [judged("keep", N1="keep", N2="not-judged"), judged("not-judged", N1="scrap")])
def test_where_all_agree_or_nothing_is_judged_nothing_is_explained(verdicts: tuple[Verdict, ...]) -> None:
    assert apart(verdicts) == ""
