"""``python -m tests.bench.estimate.families``: play rounds of every family through the rules and print the table."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console
from rich.progress import Progress
from rich.table import Table

sys.path.insert(0, str(Path(__file__).resolve().parents[4]))

from tests.bench.estimate.families import asked, campaign, draw, fit, targets
from tests.bench.estimate.families.marks import Marks


def plain(value: Any) -> Any:
    """JSON knows no nan: null stands for what is not known."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, float | np.floating):
        return float(value) if np.isfinite(value) else None
    if isinstance(value, np.bool_ | np.integer):
        return value.item()
    return value


def known(value: Any) -> Any:
    """The way back: what is not known is nan."""
    if isinstance(value, dict):
        return {key: known(item) for key, item in value.items()}
    if isinstance(value, list):
        return [known(item) for item in value]
    return float("nan") if value is None else value


def stored(path: Path) -> list[Marks]:
    """Marks from a file that `--rounds-to` wrote."""
    return [known(json.loads(line)) for line in path.read_text(encoding="utf-8").splitlines()]


def played(families: list[str], seeds: list[int], arguments: argparse.Namespace) -> list[Marks]:
    """Play every family on every seed; marks are written as they come."""
    marks: list[Marks] = []
    if arguments.rounds_to and arguments.resume and arguments.rounds_to.exists():
        marks = stored(arguments.rounds_to)
    elif arguments.rounds_to:
        arguments.rounds_to.write_text("", encoding="utf-8")
    done = {(m["family"], m["seed"], m.get("asked", "")) for m in marks}
    hazards = list(asked.ASKED) if "all" in arguments.hazard else arguments.hazard or [""]
    work = [(family, seed, hazard) for seed in seeds for hazard in hazards for family in families]
    work = [each for each in work if each not in done]
    with Progress(console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("rounds", total=len(work))
        for each in campaign.many(work, arguments.jobs, arguments.kept, arguments.plots):
            marks.append(each)
            progress.advance(task)
            if arguments.rounds_to:
                with arguments.rounds_to.open("a", encoding="utf-8") as lines:
                    lines.write(json.dumps(plain(each)) + "\n")
    return sorted(marks, key=lambda m: (families.index(m["family"]), m["seed"]))


def main() -> int:
    """Play what was asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.estimate.families", description=__doc__)
    parser.add_argument("--rounds", type=int, default=10, help="of each family (10)")
    parser.add_argument("--first", type=int, default=0, help="first seed (0)")
    parser.add_argument("--seed", type=int, action="append", help="just this one; may be repeated")
    parser.add_argument(
        "--family", action="append", choices=tuple(campaign.FAMILIES), help="just this one; may be repeated"
    )
    parser.add_argument(
        "--hazard",
        action="append",
        default=[],
        choices=("all", *asked.ASKED),
        help="every round with this one, the household so that it could be seen or not; may be repeated",
    )
    parser.add_argument(
        "--leave-out",
        choices=tuple(campaign.FAMILIES),
        help="print also how its band would do, fitted on the others alone",
    )
    parser.add_argument("--kept", type=Path, help="folder of simulated rounds, made and used again")
    parser.add_argument("--plots", type=Path, help="folder for a picture of every round")
    parser.add_argument("--worst", type=int, default=0, help="list so many of the worst rounds with reasons")
    parser.add_argument("--rounds-to", type=Path, help="write every round's marks, a JSON line each")
    parser.add_argument("--resume", action="store_true", help="do not play again what the file of --rounds-to holds")
    parser.add_argument("--marks", type=Path, help="print the table of such a file and play nothing")
    parser.add_argument("--json", action="store_true", help="print JSON only")
    parser.add_argument("--markdown", action="store_true", help="print the table for a results file")
    parser.add_argument("--jobs", type=int, default=2)
    arguments = parser.parse_args()
    families = arguments.family or list(campaign.FAMILIES)
    seeds = arguments.seed or list(range(arguments.first, arguments.first + arguments.rounds))
    console = Console(stderr=arguments.json or arguments.markdown, width=None if sys.stdout.isatty() else 170)
    if arguments.marks:
        marks = stored(arguments.marks)
        families = [name for name in families if any(m["family"] == name for m in marks)]
    else:
        marks = played(families, seeds, arguments)
    if any(m.get("asked") for m in marks):
        print(targets.asked_markdown(marks, families))
        for line in targets.went_wrong(marks):
            console.print(line, highlight=False, markup=False)
        return 0
    if arguments.plots:
        draw.draw_calibration(arguments.plots / "calibration.png", marks)
    summaries = {f: targets.summary([m for m in marks if m["family"] == f]) for f in families}
    if arguments.json:
        print(json.dumps(plain(summaries), indent=1, allow_nan=False))
        return 0
    if arguments.markdown:
        print(targets.markdown(summaries))
        return 0
    table = Table(title="A stranger's bank: by family")
    for name in ("what", "target", *families):
        table.add_column(name, justify="left" if name == "what" else "right")
    for what, target, texts in targets.rows(summaries):
        table.add_row(what, target, *texts)
    console.print(table)
    if arguments.leave_out:
        others = [m for m in marks if m["family"] != arguments.leave_out]
        own = [m for m in marks if m["family"] == arguments.leave_out]
        console.print(fit.shown(f"{arguments.leave_out}, left out", fit.judge(fit.fit(others), own)))
    for line in targets.worst(marks, arguments.worst):
        console.print(line, highlight=False, markup=False)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
