"""Why a bank and its blocks have different verdicts, in a sentence."""

from __future__ import annotations

from collections.abc import Sequence

from rules.verdict import NOT_JUDGED, Verdict


def apart(verdicts: Sequence[Verdict]) -> str:
    """Explain the word of a bank beside the words of its blocks; nothing where they agree or nothing is judged.

    Parameters
    ----------
    verdicts : sequence of Verdict
        The bank first, then every block.
    """
    whole, *blocks = verdicts
    words: dict[str, list[str]] = {}
    for block in blocks:
        words.setdefault(block.word, []).append(block.label)
    words.pop(NOT_JUDGED, None)
    if whole.word == NOT_JUDGED or not words or set(words) == {whole.word}:
        return ""
    each = "; ".join(f"{' '.join(labels)} {spoken(word)}" for word, labels in words.items())
    found = [f"{spoken(whole.word)} is said of the bank as it is joined now; of its blocks by themselves: {each}."]
    scrap = words.get("scrap", [])
    if scrap:
        them = "it" if len(scrap) == 1 else "them"
        found.append(f"No further round mends {' '.join(scrap)}: take {them} out before anything else.")
    elif whole.word == "scrap":
        found.append("None of them is scrap: it is their mixture that does not work, so join them anew.")
    if "repeat" in words:
        rest = "The others are" if scrap else "Repeat means that they are"
        found.append(f"{rest} judged again after another round, or after the test that is missing.")
    return " ".join(found)


def spoken(word: str) -> str:
    """Return the word of a verdict for people."""
    return word.replace("-", " " if word == NOT_JUDGED else ", ").upper()
