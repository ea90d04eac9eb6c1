"""What somebody noted in words: deposits, gas, danger and damage, and denial. Words: common practice, no source."""

from __future__ import annotations

import pytest

from rules.hand.level_words import bare_plates
from rules.hand.seen_words import boils, damages, dangers, deposits, gasses, located, understood


@pytest.mark.parametrize(
    "words",
    [
        "crack gone", "A2 crack gone", "crack in A2 is gone now", "not cracked", "A2: not cracked", "no crack",
        "cracks gone", "crack in A1.2 gone", "crack at A2 gone and all dry",
        "A2 A2 crack gone", "A2, A2: crack gone", "crack gone A2", "A2 crack gone A2", "A2 A2 crack gone A2 A2",
    ],
)  # fmt: skip
def test_a_crack_that_is_gone_is_gone_in_whatever_order_it_is_said(words: str) -> None:
    assert damages(words) == {"crack": False} and dangers(words) == () and understood(words)


@pytest.mark.parametrize(
    "words",
    [
        "crack not gone", "the crack has not gone", "crack isn't gone", "crack gone wider", "cap gone, crack in A2",
        "crack gone A1 crack A2", "crack gone in A1 but a crack in A2", "crack in A1 gone and crack in A2",
    ],
)  # fmt: skip
def test_a_crack_that_is_not_gone_is_there(words: str) -> None:
    assert damages(words) == {"crack": True}


@pytest.mark.parametrize(
    ("words", "danger"),
    [
        ("smell gone", ()),
        ("the smell is gone", ()),
        ("smell of rotten eggs gone", ()),
        ("rotten egg smell gone", ()),
        ("smoke gone", ()),
        ("smell gone. Smoke", ("smoke",)),
        ("no smell.Smoke", ("smoke",)),
        ("A1 gone hot", ("hot block",)),
        ("smell of rotten eggs not gone", ("smell of rotten eggs",)),
        ("bad smell gone worse", ("bad smell",)),
        ("sparks gone and smoke", ("smoke",)),
    ],
)
def test_a_smell_that_is_gone_is_none_and_one_that_is_not_gone_is(words: str, danger: tuple[str, ...]) -> None:
    assert dangers(words) == danger and understood(words)


@pytest.mark.parametrize(
    ("words", "grade"),
    [
        ("sulfated 3 of 4", 3),
        ("Sulphated 1", 1),
        ("white deposits 4", 4),
        ("sulfate 0", 0),
        ("white deposits", 1),
        ("sulfated, gassing 3", 1),
        ("no sulfate", 0),
        ("without any deposits", 0),
        ("Clean", 0),
        ("clean, sulfated 2", 2),
        ("brown", None),
        ("", None),
    ],
)
def test_white_deposits_are_graded_named_or_denied(words: str, grade: int | None) -> None:
    assert deposits(words) == grade


@pytest.mark.parametrize(
    ("words", "gas"),
    [
        ("gassing milky", True),
        ("milky", True),
        ("Gassing well", True),
        ("gassing: none", False),
        ("clean, gassing none", False),
        ("no gas", False),
        ("does not gas", False),
        ("without any gas", False),
        ("clean", None),
        ("", None),
    ],
)
def test_a_cell_gasses_does_not_or_nothing_is_said_of_it(words: str, gas: bool | None) -> None:
    assert gasses(words) is gas


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("smells of rotten eggs", ("smell of rotten eggs",)),
        ("sulphury smell at N2", ("smell of rotten eggs",)),
        ("sulfated 3 of 4", ()),
        ("sparks at a joint", ("sparking connection",)),
        ("a bang", ("bang",)),
        ("N2 burst", ("bang",)),
        ("smoke, and N1 hot", ("smoke", "hot block")),
        ("N3 cannot be touched", ("hot block",)),
        ("all well, no smell of eggs, no spark, not hot", ()),
        ("no smoke but N2 is hot", ("hot block",)),
        ("nothing hot; N4 hot", ("hot block",)),
        ("all well, nothing hot, nothing smells of eggs", ()),
        # Denied of all but one, it is said of that one.
        ("no smell except of rotten eggs", ("smell of rotten eggs",)),
        ("stinks a bit", ("bad smell",)),
        ("a funny smell near N2", ("bad smell",)),
        ("smells of acid", ("bad smell",)),
        ("it smells", ("bad smell",)),
        ("does not smell right", ("bad smell",)),
        ("smell of acid as usual", ()),
        ("smells normal, no stink", ()),
        ("smelled and touched every block, all well", ()),
        ("can't smell anything", ()),
        ("doesn't stink", ()),
        ("my eyes sting", ("somebody who feels ill",)),
        ("headache after ten minutes in there", ("somebody who feels ill",)),
        ("crackling in N3", ("spark",)),
        ("a cap popped off", ("bang",)),
        ("popped in, all quiet", ()),
        ("N1 is too warm to hold, I cannot touch it", ("hot block",)),
        ("steaming", ("hot block",)),
        ("no block hot apart from N2", ("hot block",)),
        ("nothing hot but N3 burnt", ("smoke",)),
        ("all well", ()),
        ("", ()),
    ],
)
def test_a_danger_is_heard_in_any_part_of_the_sentence_that_does_not_deny_it(words: str, what: tuple[str, ...]) -> None:
    assert dangers(words) == what


@pytest.mark.parametrize(
    ("words", "known"),
    [
        ("stinks a bit", True),
        ("all well", True),
        ("everything looks fine", True),
        ("no cracks", True),
        ("sulfated 2 of 4", True),
        ("gassing milky", True),
        ("hums in B flat", False),
        ("the lid is blue", False),
    ],
)
def test_what_nothing_follows_from_is_known_to_be_so(words: str, known: bool) -> None:
    assert understood(words) is known


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("case cracked", {"crack": True}),
        ("no crack, leaks at N2", {"crack": False, "leak": True}),
        ("bulging", {"bulge": True}),
        ("one side bloated", {"bulge": True}),
        ("acid dripping below N1", {"leak": True}),
        ("a puddle under it", {"leak": True}),
        ("crackling", {}),
        ("frozen", {"frozen": True}),
        ("N1 cracked, N2 no crack", {"crack": True}),
        ("nothing cracked, nothing leaks", {"crack": False, "leak": False}),
        ("no cracks except N2", {"crack": True}),
        ("thawed, no cracks, no leaks other than N4", {"crack": False, "leak": True}),
        ("not only N1 leaks", {"leak": True}),
        # Ice is not denied by a look alone: its cracks show when it is gone.
        ("no ice", {}),
        ("not frozen, no cracks", {"crack": False}),
        ("thawed, no cracks, no leaks", {"crack": False, "leak": False, "frozen": False}),
        ("thawed, no cracks", {"crack": False}),
        ("thawed, no leaks", {"leak": False}),
        ("thawed, cracked, no leaks", {"crack": True, "leak": False}),
        ("thawed, no cracks, leaks", {"crack": False, "leak": True}),
        ("thawed", {}),
        ("repaired", dict.fromkeys(("crack", "leak", "bulge", "frozen"), False)),
        ("case sound", dict.fromkeys(("crack", "leak", "bulge", "frozen"), False)),
        ("repaired, still leaks", {"leak": True}),
        ("replaced, no leaks", dict.fromkeys(("crack", "leak", "bulge", "frozen"), False)),
        ("all well", {}),
    ],
)
def test_damage_is_there_denied_mended_or_not_spoken_of(words: str, what: dict[str, bool]) -> None:
    assert damages(words) == what


@pytest.mark.parametrize(
    ("words", "where"),
    [
        ("a crack in N1", ["N1"]),
        ("bulging N1", ["N1"]),
        ("block n2 is hot", ["N2"]),
        ("hot at N1.2.", ["N1.2"]),
        ("N1 and N2: hot", ["N1", "N2"]),
        ("N1 is hot, N2 is fine", ["N1", "N2"]),
        ("a crack", [""]),
        ("a crack in N9", [""]),
    ],
)
def test_what_is_said_of_a_block_that_the_words_name_is_said_of_it(words: str, where: list[str]) -> None:
    assert [place for place, _ in located("", words, {"": 6, "N1": 3, "N1.2": 1, "N2": 3})] == where


def test_of_two_blocks_only_the_one_that_is_hot_is_a_danger() -> None:
    told = located("", "N1 is hot, N2 is fine", {"", "N1", "N2"})
    assert [where for where, words in told if dangers(words)] == ["N1"]


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("acid is spraying out of A2", ("acid that sprays",)),
        ("A2 spits acid", ("acid that sprays",)),
        ("acid mist over A2", ("acid that sprays",)),
        ("A2 hisses", ("hissing",)),
        ("I got a shock at the post", ("somebody who is hurt",)),
        ("acid in my eyes", ("somebody who is hurt",)),
        ("the cap of A2 flew off", ("bang",)),
        ("no acid spraying, nothing hisses", ()),
        ("sprayed the floor with soda water", ()),
        ("no shock, all well", ()),
    ],
)
def test_more_words_that_a_worried_person_uses_are_dangers(words: str, what: tuple[str, ...]) -> None:
    assert (dangers(words) == what and understood(words)) or not what


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("A2 case fractured", "crack"), ("A2 ruptured", "crack"), ("A2 buckled", "bulge"), ("A2 is domed", "bulge"),
        ("slush in A2.1", "frozen"), ("acid runs out at the side of A2", "leak"),
    ],
)  # fmt: skip
def test_more_words_of_damage(words: str, what: str) -> None:
    assert damages(words) == {what: True}


@pytest.mark.parametrize(
    ("words", "bare"),
    [
        ("A2 is dry", True), ("A2 dry", True), ("cell A2.1 is completely dry", True), ("A2 ran dry", True),
        ("plates of A2 are showing", True), ("no acid left in A2", True), ("plates exposed", True), ("dry", True),
        ("A2 case is dry", False), ("no leaks, all dry", False), ("the floor is dry", False), ("A2 is not dry", False),
        ("no plates showing", False), ("wiped A2 dry", False), ("no water added", False), ("no acid smell", False),
        ("crack at A2 gone and all dry", False), ("A2 is empty", False), ("plates covered", False),
    ],
)  # fmt: skip
def test_plates_that_no_acid_covers_are_told_from_a_case_that_is_dry(words: str, bare: bool) -> None:
    assert bare_plates(words) is bare


@pytest.mark.parametrize("words", ["hard bubbling in A2", "A2 bubbles violently", "gassing very hard", "boiling"])
def test_violent_gassing_is_gassing_that_is_looked_at(words: str) -> None:
    assert boils(words) and gasses(words) and understood(words)


@pytest.mark.parametrize(("words", "gas"), [("bubbling", True), ("no bubbles", False), ("fizzes a bit", True)])
def test_bubbles_are_gas_and_not_violent(words: str, gas: bool) -> None:
    assert gasses(words) is gas and not boils(words)
