"""Change the rules' code one small thing at a time, and see whether a test notices.

On demand: ``python tests/bench/mutate.py`` prints every survivor with its line; README.md explains those that are left.

The quick tests are collected once; each change of a function's body is put into the loaded function, in a process of
its own. What they let live, and what is changed outside of a function, is imported anew and meets the quick tests
again, then the slow ones.
"""

from __future__ import annotations

import argparse
import ast
import importlib.abc
import importlib.machinery
import importlib.util
import os
import random
import signal
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any, NamedTuple

import pytest

ROOT = Path(__file__).parents[2]
OF_THE_INTERLOCK = (
    "tests/rules/safety/test_proof.py",
    "tests/rules/safety/test_read_back.py",
    "tests/rules/safety/test_interlock_limits.py",
    "tests/rules/safety/test_interlock.py",
    "tests/rules/safety/test_interlock_model.py",
)
SAFETY, METERS, FAULTS = "tests/rules/safety/test_", "tests/rules/meters/test_", "tests/faults/test_"
LIARS = "tests/moments/test_moments_meters_that_lie.py"
MOMENTS = "tests/moments/test_moments_"
ADVICE = "tests/rules/advice/"
OF_ADVICE = {
    "charger_now": (ADVICE + "test_charger_now.py",),
    "doubts": (ADVICE + "test_doubts.py",),
    **dict.fromkeys(
        ("flag_words", "phase_words", "next_step"), (ADVICE + "test_what_is_said.py", ADVICE + "test_advice.py")
    ),
    "chores": (ADVICE + "test_chores_when.py", ADVICE + "test_chores.py"),
    "findings": (ADVICE + "test_findings.py", ADVICE + "test_chores.py"),
}
OF_HAND = tuple(
    f"tests/rules/hand/test_{name}.py"
    for name in ("seen_words", "checks_edges", "gravity_log", "log_edges", "hydrometer_log")
)
OF_VERDICT = ("tests/rules/verdict", "tests/rules/hand/test_hydrometer_log.py")
HEAT = ("tests/moments/test_moments_runaway.py", "tests/moments/test_moments_heat_and_age.py")
#: Module -> tests that are quick, and those that a mutant meets which these let live.
MODULES: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "rules.safety.interlock": (OF_THE_INTERLOCK, ()),
    "rules.safety.read_back": (OF_THE_INTERLOCK, ()),
    "rules.safety.proof": (OF_THE_INTERLOCK, (FAULTS + "lying_meters.py",)),
    "rules.safety.hazards": (
        (SAFETY + "what_stands.py", SAFETY + "hazards.py", SAFETY + "evidence.py", FAULTS + "interrupted_evidence.py"),
        ("tests/moments/test_moments_gas_air_water.py", "tests/moments/test_moments_strings_blocks_shorts.py"),
    ),
    "rules.safety.permits": (
        (SAFETY + "what_withholds.py", SAFETY + "permits.py"),
        (
            FAULTS + "interrupted_evidence.py",
            FAULTS + "lying_meters.py",
            LIARS,
        ),
    ),
    "rules.safety.sign": ((SAFETY + "sign.py",), (FAULTS + "lying_meters.py",)),
    "rules.meters.warming": ((METERS + "warming.py",), (SAFETY + "hazards.py", FAULTS + "lying_meters.py", *HEAT)),
    "rules.safety.closing": ((SAFETY + "closing.py",), OF_THE_INTERLOCK),
    "rules.safety.evidence": (
        (SAFETY + "evidence.py",),
        (SAFETY + "hazards.py", FAULTS + "interrupted_evidence.py", FAULTS + "lying_meters.py"),
    ),
    "rules.safety.frost": ((SAFETY + "frost.py", SAFETY + "permits.py"), (MOMENTS + "frost_and_gravity.py",)),
    "rules.meters.freshness": (
        (
            METERS + "freshness.py",
            METERS + "meters_past.py",
            METERS + "plausible.py",
            SAFETY + "what_withholds.py",
            SAFETY + "permits.py",
        ),
        (FAULTS + "lying_meters.py",),
    ),
    "rules.meters.counters": ((METERS + "counters.py",), (LIARS,)),
    "rules.meters.stuck": (
        (METERS + "stuck.py", METERS + "stuck_ammeter.py"),
        (SAFETY + "permits.py", FAULTS + "lying_meters.py", LIARS),
    ),
    "rules.meters.plausible": (
        (
            METERS + "meters_past.py",
            METERS + "plausible.py",
            METERS + "freshness.py",
            FAULTS + "interrupted_evidence.py",
        ),
        (FAULTS + "interrupted_evidence.py", SAFETY + "permits.py", LIARS),
    ),
    "rules.step.on_reading": (
        ("tests/rules/step/test_on_reading.py", METERS + "plausible.py", FAULTS + "interrupted_evidence.py"),
        (METERS + "counters.py", SAFETY + "hazards.py", SAFETY + "interlock.py", LIARS),
    ),
    "rules.step.judge": (
        ("tests/rules/step/test_judge.py", SAFETY + "what_withholds.py", SAFETY + "permits.py"),
        (SAFETY + "interlock.py", "tests/rules/step/test_acts.py", MOMENTS + "relay_and_sources.py"),
    ),
    **{f"rules.advice.{name}": (tests, ()) for name, tests in OF_ADVICE.items()},
    **{
        f"rules.hand.{name}": (OF_HAND, ("tests/rules/hand/test_handlog.py",))
        for name in ("checks", "gravity", "gravity_trend", "log", "memory", "seen_words")
    },
    **{f"rules.verdict.{name}": (OF_VERDICT, ()) for name in ("capacity_test", "evidence", "judgement", "matching")},
}
#: Of those, what needs a broker of its own says nothing about a rule.
LEFT_OUT = "not fails_the_proof_by_name"
#: A mutant that has not ended by then is taken for endless, and killed [s].
LONGEST = 300.0

SWAPS: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.And: ast.Or, ast.Or: ast.And,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
}  # fmt: skip


class Mutant(NamedTuple):
    """One small change: where, which, the source with it, and whether it lies in the body of a function."""

    line: int
    words: str
    source: str
    inside: bool


def mutants(source: str) -> Iterator[Mutant]:
    """Every small change of this source."""
    tree = ast.parse(source)
    nodes = list(ast.walk(tree))
    annotations = {id(part) for node in nodes for field in ("annotation", "returns")
                   if (found := getattr(node, field, None)) is not None for part in ast.walk(found)}  # fmt: skip
    bodies = {id(part) for node in nodes if isinstance(node, ast.FunctionDef)
              for statement in node.body for part in ast.walk(statement)}  # fmt: skip
    for number, node in enumerate(nodes):
        if id(node) in annotations:
            continue
        for words, change in changes(node):
            copy = ast.parse(source)
            change(list(ast.walk(copy))[number])
            changed = ast.unparse(ast.fix_missing_locations(copy))
            yield Mutant(getattr(node, "lineno", 0), words, changed, id(node) in bodies)


def changes(node: ast.AST) -> Iterator[tuple[str, Callable[[Any], None]]]:
    """Each small thing that can be changed at this node."""
    if isinstance(node, ast.Compare):
        for place, operator in enumerate(node.ops):
            other = SWAPS[type(operator)]

            def swap(target: ast.Compare, place: int = place, other: type[ast.AST] = other) -> None:
                target.ops[place] = other()  # type: ignore[call-overload]

            yield f"{type(operator).__name__} -> {other.__name__}: {ast.unparse(node)}", swap
    elif isinstance(node, ast.BoolOp | ast.BinOp) and type(node.op) in SWAPS and not _union(node):
        other = SWAPS[type(node.op)]
        yield (
            f"{type(node.op).__name__} -> {other.__name__}: {ast.unparse(node)[:90]}",
            _put("op", other()),
        )
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield (
            f"not dropped: {ast.unparse(node)[:90]}",
            _plain,
        )
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield f"{node.value} -> {not node.value}", lambda target: setattr(target, "value", not target.value)
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        for value in (node.value + 1, node.value * 2 if node.value else -1):
            yield f"{node.value} -> {value}", _put("value", value)
    elif isinstance(node, ast.If | ast.IfExp):
        yield f"if never: {ast.unparse(node.test)[:90]}", lambda target: setattr(target, "test", ast.Constant(False))
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "_replace":
        for place, keyword in enumerate(node.keywords):
            yield f"not set: {keyword.arg}", _without(place)
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "insert":
        yield (
            f"order left out: {ast.unparse(node)[:90]}",
            _uninserted,
        )


def _put(field: str, value: object) -> Callable[[Any], None]:
    return lambda target: setattr(target, field, value)


def _without(place: int) -> Callable[[Any], None]:
    return lambda target: target.keywords.pop(place)


def _plain(target: ast.UnaryOp) -> None:
    """`not x` becomes the truth of x."""
    target.operand = ast.UnaryOp(ast.Not(), target.operand)


def _uninserted(target: ast.Call) -> None:
    """`outcomes.insert(0, order)` becomes a look that changes nothing."""
    assert isinstance(target.func, ast.Attribute)
    target.func.attr, target.args = "count", target.args[1:]


def _union(node: ast.AST) -> bool:
    return isinstance(node, ast.BinOp) and isinstance(node.op, ast.BitOr)


class Mutated(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives one module's source from memory."""

    def __init__(self, name: str, source: str) -> None:
        self.name, self.source = name, source

    def find_spec(self, fullname: str, path: object, target: object = None) -> importlib.machinery.ModuleSpec | None:
        return importlib.util.spec_from_loader(fullname, self) if fullname == self.name else None

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self.source, f"<mutated {self.name}>", "exec"), module.__dict__)


def bodies(names: dict[str, Any]) -> Iterator[tuple[str, FunctionType]]:
    """Each function of a module, and each method and property of its classes."""
    for name, value in names.items():
        if getattr(value, "__module__", None) != names["__name__"]:
            continue
        if isinstance(value, FunctionType):
            yield name, value
        elif isinstance(value, type):
            for part, method in vars(value).items():
                inner = method.fget if isinstance(method, property) else method
                if isinstance(inner, FunctionType) and inner.__module__ == value.__module__:
                    yield f"{name}.{part}", inner


class InPlace:
    """A plugin: when the tests are collected, a process for each mutant, with its bodies in the loaded functions."""

    def __init__(self, name: str, sources: list[str]) -> None:
        self.name, self.sources = name, sources
        self.alive: list[bool] = []
        self.child = False

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool | None:
        """In the parent one child after the other; a child goes on to the tests."""
        if session.testsfailed:
            return None
        for source in self.sources:
            child = os.fork()
            if not child:
                self.child = True
                signal.alarm(int(LONGEST))
                self._put_in(source)
                return None
            _, status = os.waitpid(child, 0)
            self.alive.append(os.waitstatus_to_exitcode(status) == 0)
        return True

    def _put_in(self, source: str) -> None:
        loaded = vars(sys.modules[self.name])
        names = {"__name__": self.name}
        exec(compile(source, f"<mutated {self.name}>", "exec"), names)
        new = dict(bodies(names))
        for place, function in bodies(loaded):
            function.__code__ = new[place].__code__

    def pytest_sessionfinish(self, exitstatus: int) -> None:
        """End a child with what its tests said."""
        if self.child:
            os._exit(int(exitstatus))


#: Only the plugins that the rules' tests need; imported before the forks, what pytest would warn of. Plain asserts,
#: else pytest would load `rules.verdict.capacity_test`, which is named like a test, as it stands on the disk.
OPTIONS = [
    "-x",
    "-q",
    "--assert=plain",
    "-p",
    "no:cacheprovider",
    "-o",
    "addopts=",
    "-o",
    "filterwarnings=",
    "-k",
    LEFT_OUT,
]


def lives_in_place(name: str, sources: list[str], tests: tuple[str, ...]) -> list[bool]:
    """Whether the tests pass on each mutant of a function's body, one after the other."""
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        os.close(reading)
        _hush()
        plugin = InPlace(name, sources)
        try:
            pytest.main([*OPTIONS, *tests], plugins=[plugin])
        finally:
            os.write(writing, bytes(plugin.alive))
            os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        told = pipe.read()
    os.waitpid(child, 0)
    assert len(told) == len(sources), f"{name}: the tests could not be collected"
    return [bool(each) for each in told]


def _hush() -> None:
    null = os.open(os.devnull, os.O_WRONLY)
    os.dup2(null, 1)
    os.dup2(null, 2)


def begin(name: str, source: str, tests: tuple[str, ...]) -> int:
    """Start the tests on a mutant in a process of its own; its id. Forked from the main thread: pytest needs it."""
    child = os.fork()
    if child:
        return child
    _hush()
    sys.meta_path.insert(0, Mutated(name, source))
    code = 1
    try:
        code = int(pytest.main([*OPTIONS, *tests]))
    finally:
        os._exit(code)


def survivors(name: str, sources: list[str], tests: tuple[str, ...], workers: int) -> list[bool]:
    """Whether the tests pass on each mutant; at most `workers` at a time."""
    alive = [False] * len(sources)
    waiting = list(enumerate(sources))
    under_way: dict[int, tuple[int, float]] = {}
    while waiting or under_way:
        while waiting and len(under_way) < workers:
            place, source = waiting.pop(0)
            under_way[begin(name, source, tests)] = (place, time.monotonic())
        for child, (place, began) in list(under_way.items()):
            ended, status = os.waitpid(child, os.WNOHANG)
            if ended:
                alive[place] = os.waitstatus_to_exitcode(status) == 0
                del under_way[child]
            elif time.monotonic() - began > LONGEST:
                os.kill(child, 9)
        time.sleep(0.02)
    return alive


def lives(name: str, found: list[Mutant], workers: int, slowly: bool) -> list[bool]:
    """Whether each mutant passes the quick tests, and those that do the slow ones as well."""
    quick, slow = MODULES[name]
    alive = [True] * len(found)
    inside = [place for place, each in enumerate(found) if each.inside]
    for place, lived in zip(inside, lives_in_place(name, [found[n].source for n in inside], quick), strict=True):
        alive[place] = lived
    for tests in (quick, slow if slowly else ()):
        left = [place for place, lived in enumerate(alive) if lived]
        if tests:
            again = survivors(name, [found[n].source for n in left], tests, workers)
            for place, lived in zip(left, again, strict=True):
                alive[place] = lived
    return alive


def main() -> int:
    """Every mutant of the chosen modules, or a share of them drawn at random; prints the survivors."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--module", action="append", choices=MODULES)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--share", type=float, default=1.0, help="of the mutants, drawn with --seed")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--quick", action="store_true", help="without the slow tests")
    options = parser.parse_args()
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    load()

    for name in options.module or MODULES:
        source = (ROOT / (name.replace(".", "/") + ".py")).read_text()
        found = list(mutants(source))
        dice = random.Random(f"{options.seed} {name}")
        found = sorted(dice.sample(found, round(options.share * len(found))), key=lambda each: each.line)
        if lives(name, [Mutant(0, "", source, inside=True)], 1, slowly=False) != [True]:
            raise SystemExit(f"{name}: the tests fail without any change")
        alive = lives(name, found, options.workers, not options.quick)
        for mutant, lived in zip(found, alive, strict=True):
            if lived:
                print(f"{name}:{mutant.line}: {mutant.words}", flush=True)
        print(f"{name}: {len(found)} mutants, {sum(alive)} survive", flush=True)
    return 0


def load() -> None:
    """Load once, before the forks, what others wrote and the tests need; what is ours each process loads anew."""
    for heavy in ("numpy", "pydantic", "pint", "hypothesis", "tests.conftest"):
        importlib.import_module(heavy)
    for name in list(sys.modules):
        if name.partition(".")[0] in ("rules", "bridge", "tests"):
            del sys.modules[name]


if __name__ == "__main__":
    sys.exit(main())
