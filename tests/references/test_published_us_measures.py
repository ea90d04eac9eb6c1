"""US customary measures against their published definitions."""

from __future__ import annotations

import pytest

from bridge.intake.hand_words import quantity
from bridge.units import parse
from bridge.words.spoken import customary

#: Millilitres of a measure: NIST Handbook 44, Appendix C, General Tables of Units of Measurement: the US gallon is
#: 231 cubic inches, 3.785 411 784 L exactly; and NIST Special Publication 811, Appendix B.8, for the others.
MILLILITRES = {"1 gal": 3785.411784, "1 qt": 946.3529, "1 pt": 473.1765, "1 cup": 236.5882, "1 fl oz": 29.57353}


@pytest.mark.parametrize(("typed", "millilitres"), MILLILITRES.items())
def test_water_is_understood_as_it_is_poured(typed: str, millilitres: float) -> None:
    assert quantity(typed, "g") == pytest.approx(millilitres, rel=1e-6), "a millilitre of water counts as a gram"


@pytest.mark.parametrize(
    ("typed", "as_well"),
    [("12 fl oz", "12 FL. OZ."), ("12 fl oz", "12 fluid ounces"), ("12 fl oz", "12oz"), ("2 cups", "1 pint"),
     ("0.5 gal", "2 quarts"), ("1 gallon", "4 qt"), ("1,5 l", "1500 ml")],
)  # fmt: skip
def test_one_amount_has_many_spellings(typed: str, as_well: str) -> None:
    assert quantity(typed, "g") == pytest.approx(quantity(as_well, "g"))


def test_room_and_level_are_understood_in_feet_and_inches() -> None:
    # NIST SP 811, B.8: a cubic foot is 0.028 316 85 m3, an inch 25.4 mm exactly.
    assert parse("1000 cu ft", "m^3") == pytest.approx(28.31685)
    assert parse("0.5 in", "mm") == pytest.approx(12.7)


def test_what_is_shown_is_the_published_conversion() -> None:
    # NIST SP 811, B.8: ft3/min to m3/s 4.719 474 E-04, in2 to cm2 6.4516, gal to L 3.785 412, fl oz to mL 29.573 53.
    assert customary("m3/h", 100.0 * 4.719474e-4 * 3600.0 * 0.9999) == "100 cfm"
    assert customary("cm2", 50.0 * 6.4516 * 0.9999) == "50 sq in"
    assert customary("L", 3.785412 * 2.0) == "2.0 gal"
    assert customary("g", 29.57353 * 12.0) == "12.0 fl oz"
    assert customary("m^3", 28.31685) == "1000 cu ft"
    assert customary("mm", 25.4) == "1.0 in"


def test_air_and_openings_are_never_rounded_down() -> None:
    for tenth in range(1, 200):
        flow, area = tenth / 10.0 * 1.699010796, 6.4516 * tenth / 10.0
        assert float(customary("m3/h", flow).split()[0]) >= tenth / 10.0 - 1e-6
        assert float(customary("cm2", area).split()[0]) >= tenth / 10.0 - 1e-6
