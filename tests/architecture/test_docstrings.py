"""Every public docstring in rules/ is read: units that pint can parse, parameters as in the signature, a known source.

The physical laws are then called with pint quantities, so that the arithmetic has the dimension the docstring says.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
import types
import typing
from collections.abc import Callable, Iterator
from pathlib import Path

import pint
import pytest

import rules
from rules.laws import ac_side, charging, faraday, gassing

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()
Q = UNITS.Quantity

#: Trade spellings that pint writes differently.
ALIASES = {
    "1": "dimensionless",
    "percent": "percent",
    "degree Baume": "dimensionless",
    "s since the epoch": "second",
    "A per 100 Ah": "1 / hour",
    "V per cell": "volt",
    "Ah per string": "ampere_hour",
    "g per cell": "gram",
}

#: Modules whose every number must carry a unit and whose every function must name its source.
SCIENCE = (
    "laws.electrolyte",
    "laws.rest_voltage",
    "laws.charging",
    "laws.ac_side",
    "laws.faraday",
    "laws.gassing",
    "laws.ventilation",
    "laws.capacity",
    "verdict.capacity_test",
    "laws.hydrometer",
    "hand.gravity",
    "hand.gravity_trend",
    "verdict.judgement",
)
PLAN = "plan."

MODULES = sorted(
    module.name.removeprefix("rules.") for module in pkgutil.walk_packages(rules.__path__, "rules.") if not module.ispkg
)
STRICT = [name for name in MODULES if name in SCIENCE or name.startswith(PLAN)]

Function = Callable[..., object]


def public_functions(name: str) -> Iterator[tuple[str, Function]]:
    module = importlib.import_module(f"rules.{name}")
    for attribute, member in vars(module).items():
        if attribute.startswith("_") or getattr(member, "__module__", None) != module.__name__:
            continue
        if inspect.isfunction(member):
            yield f"{name}.{attribute}", member


def public_objects(name: str) -> Iterator[tuple[str, object]]:
    module = importlib.import_module(f"rules.{name}")
    yield name, module
    for attribute, member in vars(module).items():
        if attribute.startswith("_") or getattr(member, "__module__", None) != module.__name__:
            continue
        if inspect.isfunction(member) or inspect.isclass(member):
            yield f"{name}.{attribute}", member


def functions_of(names: list[str]) -> list[object]:
    return [pytest.param(member, id=label) for name in names for label, member in public_functions(name)]


def section(docstring: str, title: str) -> str:
    """Text below a numpydoc heading, empty where there is none."""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\S[^\n]*\n-{{3,}}$|\Z)", docstring, re.DOTALL | re.MULTILINE)
    return found[1] if found else ""


def entries(text: str) -> list[tuple[str, str, str]]:
    """(names, type, description) of each entry of a section."""
    found: list[tuple[str, str, str]] = []
    for line in text.splitlines():
        if line and not line.startswith(" "):
            names, _, kind = line.partition(" : ")
            found.append((names, kind or names, ""))
        elif line.strip() and found:
            names, kind, description = found[-1]
            found[-1] = (names, kind, f"{description} {line.strip()}")
    return found


def units_in(text: str) -> list[str]:
    """What stands in brackets, "[V], [A]" as well as "[V, A]"; a type such as dict["x"] is none."""
    return [unit.strip() for group in re.findall(r"\[([^\]\"']+)\]", text) for unit in group.split(",")]


def prose(docstring: str) -> str:
    """A docstring without its examples, whose lists stand in brackets too."""
    return docstring.replace(section(docstring, "Examples"), "")


def holds_number(annotation: object) -> bool:
    """Whether a type is a number or a container of numbers. A count of whole things (int) needs no unit."""
    if annotation is float:
        return True
    if isinstance(annotation, types.UnionType) or typing.get_origin(annotation) is not None:
        return any(holds_number(part) for part in typing.get_args(annotation))
    return False


@pytest.mark.parametrize("name", MODULES)
def test_every_public_function_and_class_says_what_it_is(name: str) -> None:
    undocumented = [label for label, member in public_objects(name) if not inspect.getdoc(member)]
    # A NamedTuple that says nothing gets "Name(field, ...)" from Python.
    undocumented += [
        label
        for label, member in public_objects(name)
        if inspect.isclass(member) and (member.__doc__ or "").startswith(f"{member.__name__}(")
    ]
    assert not undocumented


@pytest.mark.parametrize("name", MODULES)
def test_every_unit_in_brackets_can_be_parsed(name: str) -> None:
    for label, member in public_objects(name):
        for unit in units_in(prose(inspect.getdoc(member) or "")):
            try:
                UNITS.parse_units(ALIASES.get(unit, unit))
            except (pint.UndefinedUnitError, ValueError) as error:
                pytest.fail(f"{label}: [{unit}] is no unit: {error}")


@pytest.mark.parametrize("function", functions_of(MODULES))
def test_every_function_with_numbers_names_a_unit(function: Function) -> None:
    """In the science each number carries its own, see below; elsewhere the docstring may say it in one line."""
    if any(holds_number(hint) for hint in typing.get_type_hints(function).values()):
        assert units_in(prose(inspect.getdoc(function) or ""))


def test_a_missing_a_wrong_and_a_misplaced_unit_are_noticed() -> None:
    def law(volts: float, amps: float) -> float:
        """Power.

        Parameters
        ----------
        volts : float
            Of the bank [V].
        amps : float
            Of the bank.

        Returns
        -------
        float
            [W].
        """
        return volts * amps

    with pytest.raises(AssertionError, match="amps"):
        test_every_number_of_the_science_carries_its_unit(law)
    docstring = law.__doc__ or ""
    law.__doc__ = docstring.replace("Of the bank.", "Of the bank [A].")
    test_every_number_of_the_science_carries_its_unit(law)
    law.__doc__ = law.__doc__.replace("[W]", "")
    with pytest.raises(AssertionError, match="no unit"):
        test_every_number_of_the_science_carries_its_unit(law)
    law.__doc__ = "Power [V]."
    with pytest.raises(AssertionError):
        test_parameters_of_the_science_are_those_of_the_signature(law)
    with pytest.raises(pint.UndefinedUnitError):
        UNITS.parse_units("wibble")


def listed_parameters(function: Function) -> list[str]:
    listed = entries(section(inspect.getdoc(function) or "", "Parameters"))
    return [name.strip() for names, _, _ in listed for name in names.split(",")]


@pytest.mark.parametrize("function", functions_of(MODULES))
def test_listed_parameters_are_in_the_signature(function: Function) -> None:
    assert set(listed_parameters(function)) <= set(inspect.signature(function).parameters)


@pytest.mark.parametrize("function", functions_of(list(SCIENCE)))
def test_parameters_of_the_science_are_those_of_the_signature(function: Function) -> None:
    assert listed_parameters(function) == list(inspect.signature(function).parameters)


@pytest.mark.parametrize("function", functions_of(STRICT))
def test_every_number_of_the_science_carries_its_unit(function: Function) -> None:
    docstring = inspect.getdoc(function) or ""
    hints = typing.get_type_hints(function)
    numbers = [name for name, hint in hints.items() if name != "return" and holds_number(hint)]
    described = {
        name.strip(): description
        for names, _, description in entries(section(docstring, "Parameters"))
        for name in names.split(",")
    }
    assert [name for name in numbers if not units_in(described.get(name, ""))] == []
    if holds_number(hints["return"]):
        assert units_in(section(docstring, "Returns")), "what is returned has no unit"


@pytest.mark.parametrize("function", functions_of(list(SCIENCE)))
def test_every_function_of_the_science_has_a_worked_example_and_a_source(function: Function) -> None:
    docstring = inspect.getdoc(function) or ""
    assert ">>>" in docstring, "no worked example"
    assert SOURCE.search(docstring) or OWN_BASIS.search(docstring), "no source"


@pytest.mark.parametrize("function", functions_of(list(SCIENCE)))
def test_every_function_that_raises_says_when(function: Function) -> None:
    if re.search(r"^\s*raise ValueError", inspect.getsource(function), re.MULTILINE):
        assert "ValueError" in section(inspect.getdoc(function) or "", "Raises")


#: "source 3", "sources 4, 5 and 6", but not the volume of a journal.
SOURCE = re.compile(r"(?<!Power )\b[Ss]ources? (\d+(?:(?:, | and )\d+)*)")
#: What needs no text: definitions, conservation laws, and what says that it has none.
OWN_BASIS = re.compile(r"no\s+source|[Dd]efinition|Ohm's|[Cc]onservation|balance|Inverse of|Median|middle|Geometry")


@pytest.mark.parametrize("name", MODULES)
def test_every_cited_source_is_listed(name: str) -> None:
    folder = Path(next(iter(rules.__path__)))
    listed = set(re.findall(r"^\| (\d+) \|", (folder / "SOURCES.md").read_text("utf-8"), re.MULTILINE))
    text = (folder / f"{name.replace('.', '/')}.py").read_text("utf-8")
    cited = {number for found in SOURCE.findall(text) for number in re.findall(r"\d+", found)}
    assert cited <= listed


def test_every_listed_source_is_cited() -> None:
    folder = Path(next(iter(rules.__path__)))
    listed = set(re.findall(r"^\| (\d+) \|", (folder / "SOURCES.md").read_text("utf-8"), re.MULTILINE))
    text = "".join(path.read_text("utf-8") for path in folder.rglob("*.py"))
    assert listed <= {number for found in SOURCE.findall(text) for number in re.findall(r"\d+", found)}


def test_faradays_law_has_the_dimension_of_an_amount_per_time() -> None:
    law: Function = faraday.water_split
    made = law(Q(10.0, "ampere"), 12, Q(faraday.FARADAY, "coulomb / mole"))
    assert isinstance(made, pint.Quantity)
    water = (made * Q(faraday.WATER_MOLAR_MASS, "gram / mole")).to("gram / hour")
    assert water.magnitude == pytest.approx(12 * faraday.water_rate(10.0))
    # The registry's own Faraday constant, not ours.
    made = law(Q(1.0, "ampere"), 1, Q(1.0, "faraday_constant"))
    assert isinstance(made, pint.Quantity)
    assert made.to("mole / hour").magnitude == pytest.approx(0.0186557)


def test_gas_volume_has_the_dimension_of_a_flow() -> None:
    made = faraday.water_split(10.0, 12) * UNITS.mole / UNITS.second
    per_mole = (Q(1.0, "molar_gas_constant") * Q(298.15, "kelvin") / Q(1.0, "atmosphere")).to("liter / mole")
    assert (made * per_mole).to("liter / hour").magnitude == pytest.approx(faraday.hydrogen_rate(10.0, 12), rel=1e-6)


def test_gassing_heat_has_the_dimension_of_power() -> None:
    law: Function = gassing.gassing_heat
    heat = law(Q(10_000.0, "milliampere"), Q(2580.0, "millivolt"), Q(gassing.THERMONEUTRAL, "volt"))
    assert isinstance(heat, pint.Quantity)
    assert heat.to("watt").magnitude == pytest.approx(gassing.gassing_heat(10.0, 2.58))


def test_ac_power_has_the_dimension_of_a_current_both_ways() -> None:
    forth: Function = ac_side.current_from_ac
    back: Function = ac_side.ac_current_for
    amps = forth(Q(0.12, "kilovolt"), Q(12.0, "ampere"), Q(29.0, "volt"))
    assert isinstance(amps, pint.Quantity)
    assert amps.to("ampere").magnitude == pytest.approx(ac_side.current_from_ac(120.0, 12.0, 29.0))
    drawn = back(Q(29.0, "volt"), amps, Q(120.0, "volt"))
    assert isinstance(drawn, pint.Quantity)
    assert drawn.to("ampere").magnitude == pytest.approx(12.0)


def test_string_shares_have_the_dimensions_of_volts_and_amps() -> None:
    law: Function = charging.string_shares
    emfs = [Q(volts, "volt") for volts in (25.2, 25.2, 23.2)]
    shares = law(Q(30.0, "ampere"), emfs, [Q(60.0, "milliohm")] * 3)
    assert isinstance(shares, charging.StringShares)
    plain = charging.string_shares(30.0, (25.2, 25.2, 23.2), (0.06, 0.06, 0.06))
    volts: object = shares.volts
    assert isinstance(volts, pint.Quantity)
    assert volts.to("volt").magnitude == pytest.approx(plain.volts)
    assert [amps.to("ampere").magnitude for amps in shares.currents] == pytest.approx(plain.currents)  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("law", "arguments"),
    [
        (gassing.gassing_heat, (Q(10.0, "volt"), Q(2.58, "ampere"), Q(1.481, "volt"))),
        (charging.string_shares, (Q(30.0, "volt"), [Q(25.2, "volt")], [Q(0.06, "ohm")])),
    ],
    ids=["heat", "shares"],
)
def test_a_law_called_with_the_wrong_dimensions_does_not_add_up(law: Function, arguments: tuple[object, ...]) -> None:
    with pytest.raises(pint.DimensionalityError):
        law(*arguments)
