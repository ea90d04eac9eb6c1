"""Change the rules' code one small thing at a time, and see whether a test notices.

On demand: ``python tests/bench/mutate.py`` prints every survivor with its line; README.md explains those that are left.
"""

from __future__ import annotations

import argparse
import ast
import importlib.abc
import importlib.machinery
import importlib.util
import os
import random
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

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
OF_ADVICE = ("tests/rules/advice/test_advice.py", "tests/rules/advice/test_chores.py")
OF_WORDS = (MOMENTS + "relay_and_sources.py", MOMENTS + "words_and_bookkeeping.py")
OF_FINDINGS = tuple(
    f"{MOMENTS}{name}.py"
    for name in ("strings_blocks_shorts", "gas_air_water", "at_the_posts", "words_and_bookkeeping")
)
OF_HAND = ("tests/rules/hand/test_handlog.py", "tests/rules/hand/test_hydrometer_log.py")
OF_READINGS = (
    MOMENTS + "frost_and_gravity.py",
    MOMENTS + "at_the_posts.py",
    "tests/rules/verdict/test_verdict_evidence.py",
)
OF_VERDICT = (
    "tests/rules/verdict/test_verdict.py",
    "tests/rules/verdict/test_verdict_evidence.py",
    "tests/rules/verdict/test_matching.py",
)
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
    "rules.meters.stuck": ((METERS + "stuck.py", SAFETY + "permits.py"), (FAULTS + "lying_meters.py", LIARS)),
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
        (METERS + "plausible.py", METERS + "counters.py", FAULTS + "interrupted_evidence.py", SAFETY + "hazards.py"),
        (SAFETY + "evidence.py", SAFETY + "interlock.py", LIARS),
    ),
    **{f"rules.advice.{name}": (OF_ADVICE, OF_WORDS) for name in ("charger_now", "sentences", "doubts")},
    **{f"rules.advice.{name}": (OF_ADVICE, OF_FINDINGS) for name in ("chores", "findings")},
    **{
        f"rules.hand.{name}": (OF_HAND, OF_READINGS)
        for name in ("checks", "gravity", "gravity_trend", "log", "memory", "seen_words")
    },
    **{
        f"rules.verdict.{name}": (OF_VERDICT, (MOMENTS + "verdict_evidence.py",))
        for name in ("capacity_test", "evidence", "judgement", "matching")
    },
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


def mutants(source: str) -> Iterator[tuple[int, str, str]]:
    """Line, what was changed, and the changed source."""
    tree = ast.parse(source)
    nodes = list(ast.walk(tree))
    annotations = {id(part) for node in nodes for field in ("annotation", "returns")
                   if (found := getattr(node, field, None)) is not None for part in ast.walk(found)}  # fmt: skip
    for number, node in enumerate(nodes):
        if id(node) in annotations:
            continue
        for words, change in changes(node):
            copy = ast.parse(source)
            change(list(ast.walk(copy))[number])
            yield getattr(node, "lineno", 0), words, ast.unparse(ast.fix_missing_locations(copy))


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


def begin(name: str, source: str, tests: tuple[str, ...]) -> int:
    """Start the tests on a mutant in a process of its own; its id. Forked from the main thread: pytest needs it."""
    child = os.fork()
    if child:
        return child
    null = os.open(os.devnull, os.O_WRONLY)
    os.dup2(null, 1)
    os.dup2(null, 2)
    sys.meta_path.insert(0, Mutated(name, source))
    import pytest

    code = 1
    try:
        code = int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-o", "addopts=", "-k", LEFT_OUT, *tests]))
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


def lives(name: str, sources: list[str], workers: int) -> list[bool]:
    """Whether each mutant passes the quick tests, and those that do the slow ones as well."""
    quick, slow = MODULES[name]
    alive = survivors(name, sources, quick, workers)
    if slow:
        left = [place for place, lived in enumerate(alive) if lived]
        for place, lived in zip(left, survivors(name, [sources[n] for n in left], slow, workers), strict=True):
            alive[place] = lived
    return alive


def main() -> int:
    """Every mutant of the chosen modules, or a share of them drawn at random; prints the survivors."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--module", action="append", choices=MODULES)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--share", type=float, default=1.0, help="of the mutants, drawn with --seed")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    for heavy in ("numpy", "pydantic", "pint"):
        importlib.import_module(heavy)  # once, before the forks

    for name in options.module or MODULES:
        source = (ROOT / (name.replace(".", "/") + ".py")).read_text()
        found = list(mutants(source))
        dice = random.Random(f"{options.seed} {name}")
        found = sorted(dice.sample(found, round(options.share * len(found))), key=lambda each: each[0])
        if lives(name, [source], 1) != [True]:
            raise SystemExit(f"{name}: the tests fail without any change")
        alive = lives(name, [changed for _, _, changed in found], options.workers)
        for (line, words, _), lived in zip(found, alive, strict=True):
            if lived:
                print(f"{name}:{line}: {words}", flush=True)
        print(f"{name}: {len(found)} mutants, {sum(alive)} survive", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
