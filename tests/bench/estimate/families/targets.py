"""The table that counts: a column per family, a row per target."""

from __future__ import annotations

from typing import Any

import numpy as np

from .baselines import BASELINES
from .marks import PLACES, STAGES, Marks
from .truth import PHASES


def _mean(values: list[float]) -> float:
    known = [value for value in values if np.isfinite(value)]
    return float(np.mean(known)) if known else float("nan")


def _median(values: list[float]) -> float:
    known = [value for value in values if np.isfinite(value)]
    return float(np.median(known)) if known else float("nan")


def _weighted(pairs: list[tuple[float, float]]) -> float:
    """Minutes count, a round at most as two days of a stage."""
    known = [(value, min(weight, 2880.0)) for value, weight in pairs if np.isfinite(value)]
    if not known:
        return float("nan")
    return sum(value * weight for value, weight in known) / sum(weight for _, weight in known)


def summary(marks: list[Marks]) -> dict[str, Any]:
    """One family's column."""
    phases = sorted(m["phase"] for m in marks if np.isfinite(m["phase"]))
    worst = phases[: max(1, len(phases) // 10)]
    dead = [m for m in marks if m["dead"]]
    hazards = [h for m in marks for h in m["hazards"]]
    named = [h for m in marks for h in m["named"]]
    days, relay_days = sum(m["days"] for m in marks), sum(m["relay days"] for m in marks)
    false: dict[str, float] = {}
    alarms: dict[str, float] = {}
    for m in marks:
        for reason, count in m["false cuts"].items():
            false[reason] = false.get(reason, 0) + count
        for reason, count in m["false alarms"].items():
            alarms[reason] = alarms.get(reason, 0) + count
    early = [m["hold early"] for m in marks if np.isfinite(m["hold early"])]
    stages = {}
    for name in STAGES:
        these = [m["stages"][name] for m in marks if name in m["stages"]]
        stages[name] = {
            "rounds": len(these),
            "covered": _weighted([(s["covered"], s["minutes"]) for s in these]),
            "below": _weighted([(s["below"], s["minutes"]) for s in these]),
            "width": _median([s["width"] for s in these]),
            "error": _median([s["error"] for s in these]),
            "spoken": _weighted([(s["spoken"], s["minutes"]) for s in these]),
            "baselines": {b: _median([s["baselines"][b] for s in these]) for b in BASELINES},
        }
    return {
        "rounds": len(marks),
        "bank-days": days,
        "phase": {"mean": _mean(phases), "worst tenth": _mean(worst)},
        "recall": {p: _mean([m["recall"][p] for m in marks if p in m["recall"]]) for p in PHASES[1:]},
        "error": {str(p): _median([m["error"].get(str(p), np.nan) for m in marks]) for p in PLACES},
        "clock error": {str(p): _median([m["clock error"].get(str(p), np.nan) for m in marks]) for p in PLACES},
        "spoken": {str(p): _mean([m["spoken"].get(str(p), np.nan) for m in marks]) for p in PLACES},
        "stages": stages,
        "hold": {
            "called": len(early),
            "early by more than 5 %": sum(value > 0.05 for value in early),
            "late, median": _median([-value for value in early if value <= 0.05]),
        },
        "hazards": {v: sum(h["verdict"] == v for h in hazards) for v in ("caught", "late", "missed")},
        "hazards by kind": _by_kind(hazards),
        "named": _by_kind(named),
        "false cuts": {
            "a bank-day": sum(false.values()) / relay_days if relay_days else float("nan"),
            "relay bank-days": relay_days,
            "causes": dict(sorted(false.items(), key=lambda pair: -pair[1])),
        },
        "false alarms": alarms,
        "dead": {
            "banks": len(dead),
            "given hours": _mean([m["dead given hours"] for m in dead]),
            "living called hopeless": sum("hopeless" in m["called dead"] for m in marks),
            "living called not-reviving": sum("not-reviving" in m["called dead"] for m in marks),
        },
        "cost": {
            "ms a bank and minute": _median([m["ms"] for m in marks]),
            "us a step": _median([m["us"] for m in marks]),
        },
    }


def _by_kind(verdicts: list[Marks]) -> dict[str, str]:
    """Caught/late/missed by kind."""
    return {
        name: "/".join(
            str(sum(h["verdict"] == v and h["name"] == name for h in verdicts)) for v in ("caught", "late", "missed")
        )
        for name in sorted({h["name"] for h in verdicts})
    }


def rows(summaries: dict[str, dict[str, Any]]) -> list[tuple[str, str, list[str]]]:
    """The table's rows: what, target, a text per family."""
    table: list[tuple[str, str, list[str]]] = []
    each = list(summaries.values())

    def add(what: str, target: str, text: Any) -> None:
        table.append((what, target, [text(s) for s in each]))

    add("rounds / bank-days", "", lambda s: f"{s['rounds']} / {s['bank-days']:.0f}")
    add("phase right, mean", "95 %", lambda s: percent(s["phase"]["mean"]))
    add("phase right, worst tenth", "85 %", lambda s: percent(s["phase"]["worst tenth"]))
    for phase in PHASES[1:]:
        add(f"  recall {phase}", "90 %", lambda s, p=phase: percent(s["recall"][p]))
    for place, target in zip(PLACES, ("30 %", "20 %", "12 %", "6 %"), strict=True):
        add(f"error of the middle at {place}", target, lambda s, p=place: percent(s["error"][str(p)]))
    for place in PLACES:
        add(f"  by the clock at {place}", "", lambda s, p=place: percent(s["clock error"][str(p)]))
    add("  hours given at those places", "", lambda s: " ".join(percent(v) for v in s["spoken"].values()))
    for stage in STAGES:
        add(f"inside the band, {stage}", "75-88 %", lambda s, n=stage: percent(s["stages"][n]["covered"]))
    for stage in STAGES:
        add(f"  width over truth, {stage}", "", lambda s, n=stage: percent(s["stages"][n]["width"]))
    add("hold early > 5 % / called", "0", lambda s: f"{s['hold']['early by more than 5 %']} / {s['hold']['called']}")
    add("  hold late, median share", "", lambda s: percent(s["hold"]["late, median"]))
    add("hazards caught/late/missed", "0 missed", lambda s: "/".join(str(v) for v in s["hazards"].values()))
    kinds = sorted({k for s in each for k in s["hazards by kind"]})
    for kind in kinds:
        add(f"  {kind}", "", lambda s, k=kind: s["hazards by kind"].get(k, "-"))
    for kind in sorted({k for s in each for k in s["named"]}):
        add(f"  named: {kind}", "", lambda s, k=kind: s["named"].get(k, "-"))
    add("false cuts a bank-day", "0.02", lambda s: f"{s['false cuts']['a bank-day']:.2f}")
    for reason in sorted({k for s in each for k in s["false cuts"]["causes"]}):
        add(f"  {reason}", "", lambda s, k=reason: str(s["false cuts"]["causes"].get(k, 0)))
    for reason in sorted({k for s in each for k in s["false alarms"]}):
        add(f"  false alarm: {reason}", "", lambda s, k=reason: str(s["false alarms"].get(k, 0)))
    add("dead given hours (banks)", "0", lambda s: f"{percent(s['dead']['given hours'])} ({s['dead']['banks']})")
    add("living called hopeless", "0", lambda s: str(s["dead"]["living called hopeless"]))
    add("living called not-reviving", "0", lambda s: str(s["dead"]["living called not-reviving"]))
    for stage in STAGES:
        add(f"error, {stage}: ours", "", lambda s, n=stage: percent(s["stages"][n]["error"]))
        for name in BASELINES:
            add(f"  {name}", "beaten", lambda s, n=stage, b=name: percent(s["stages"][n]["baselines"][b]))
    add("ms a bank and minute", "2", lambda s: f"{s['cost']['ms a bank and minute']:.2f}")
    add("us a step", "5", lambda s: f"{s['cost']['us a step']:.1f}")
    return table


def percent(value: float) -> str:
    """A share for people."""
    return "-" if not np.isfinite(value) else f"{100.0 * value:.0f} %"


def asked_markdown(marks: list[Marks], families: list[str]) -> str:
    """By hazard that was asked for: rounds in which it came; cut in time/late/missed, named in time/late/missed."""
    lines = ["| hazard | " + " | ".join(families) + " |", "|---|" + "---|" * len(families)]
    names = list(dict.fromkeys(m["asked"] for m in marks))
    for name in names:
        cells = []
        for family in families:
            these = [m for m in marks if m["asked"] == name and m["family"] == family]
            cut = [h for m in these for h in m["hazards"]]
            named = [h for m in these for h in m["named"]]
            texts = [f"{what} {_verdicts(hs)}" for what, hs in (("cut", cut), ("named", named)) if hs]
            cells.append("; ".join(texts) or "-")
        lines.append(f"| {name} | " + " | ".join(cells) + " |")
    for what in ("false cuts", "false alarms"):
        cells = []
        for family in families:
            these = [m for m in marks if m["family"] == family]
            days = sum(m["relay days"] for m in these)
            count = sum(sum(m[what].values()) for m in these)
            cells.append(f"{count} in {days:.0f} d")
        lines.append(f"| {what} before it came | " + " | ".join(cells) + " |")
    return "\n".join(lines)


def _verdicts(hazards: list[Marks]) -> str:
    return "/".join(str(sum(h["verdict"] == v for h in hazards)) for v in ("caught", "late", "missed"))


def went_wrong(marks: list[Marks]) -> list[str]:
    """Every miss, late and false cut, a line each."""
    lines = []
    for m in marks:
        bad = [f"{h['name']} {h['verdict']} ({h['hours']:.1f} h)" for h in m["hazards"] + m["named"]
               if h["verdict"] != "caught"]  # fmt: skip
        bad += [
            f"{count} false {what} {name}" for what in ("cuts", "alarms") for name, count in m[f"false {what}"].items()
        ]
        if np.nan_to_num(m["hold early"]) > 0.05:
            bad.append(f"hold early by {percent(m['hold early'])}")
        if bad:
            lines.append(f"{m['family']} seed {m['seed']} {m.get('asked', '')} [{m['kind']}]: " + "; ".join(bad))
    return lines


def markdown(summaries: dict[str, dict[str, Any]]) -> str:
    """The table as text that a results file can hold."""
    lines = ["| what | target | " + " | ".join(summaries) + " |", "|---|---|" + "---|" * len(summaries)]
    lines += [f"| {what} | {target} | " + " | ".join(texts) + " |" for what, target, texts in rows(summaries)]
    return "\n".join(lines)


def worst(marks: list[Marks], count: int) -> list[str]:
    """The worst rounds with what went wrong in them."""

    def badness(m: Marks) -> float:
        missed = sum(h["verdict"] != "caught" for h in m["hazards"])
        false = sum(m["false cuts"].values())
        covered = [s["covered"] for s in m["stages"].values() if np.isfinite(s["covered"])]
        band = 1.0 - float(np.mean(covered)) if covered else 0.0
        early = 1.0 if np.nan_to_num(m["hold early"]) > 0.05 else 0.0
        return 2.0 * float(1.0 - np.nan_to_num(m["phase"], nan=1.0)) + band + missed + min(false, 3) * 0.5 + early

    lines = []
    for m in sorted(marks, key=badness, reverse=True)[:count]:
        bad = [f"phase {percent(m['phase'])}"]
        for phase, share in m["recall"].items():
            if share < 0.8:
                said = ", ".join(f"{k} {v / 60:.1f} h" for k, v in m["confused"].get(phase, {}).items())
                bad.append(f"{phase} {percent(share)} (said {said})")
        bad += [
            f"{n}: inside {percent(s['covered'])}, off {percent(s['error'])}"
            for n, s in m["stages"].items()
            if s["covered"] < 0.5
        ]
        bad += [f"{h['name']} {h['verdict']}" for h in m["hazards"] + m["named"] if h["verdict"] != "caught"]
        bad += [f"{count} false cut {reason}" for reason, count in m["false cuts"].items()]
        if np.nan_to_num(m["hold early"]) > 0.05:
            bad.append(f"hold early by {percent(m['hold early'])}")
        bad += [f"called {word}" for word in m["called dead"]]
        lines.append(f"{m['family']} seed {m['seed']} [{m['kind']}, {m['hours']:.0f} h]: " + "; ".join(bad))
    return lines
