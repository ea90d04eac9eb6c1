"""One or two lines for every command that a person can type as they stand: the end of each ``--help``."""

from __future__ import annotations

EXAMPLES: dict[str, tuple[str, ...]] = {
    "setup": ("revival setup", 'revival setup --yes --broker localhost:1883 --block "6 V 200 Ah" --blocks 4'),
    "demo": ("revival demo", "revival demo --speed 5000"),
    "plan": ("revival plan", "revival plan --json"),
    "config": ("revival config", "revival config --schema"),
    "listen": ("revival listen --output cabin.toml", "revival listen --broker cabin.local:1883 --seconds 300"),
    "check": ("revival check", "revival check --connect"),
    "run": (
        "revival run",
        "revival run --config /etc/revival/cabin.toml",
        "revival run --fast round.jsonl.gz",
    ),
    "service": ("sudo revival service install --config cabin.toml", "revival service install --print"),
    "page": ("revival page",),
    "notify": ("revival notify", "revival notify --try"),
    "watch": ("revival watch", "revival watch --once"),
    "status": ("revival status", "revival status --json"),
    "rehearse": ("revival rehearse", "revival rehearse --embedded"),
    "prove": ("revival prove", "revival prove --auto-off"),
    "witness": ("revival witness --name Anna",),
    "checklist": ("revival checklist", "revival checklist --name Anna"),
    "start": ("revival start", "revival start --bank BANK"),
    "resume": ("revival resume",),
    "reset": ("revival reset",),
    "finish": ("revival finish",),
    "abandon": ("revival abandon",),
    "test": ("revival test",),
    "bypass": ("revival bypass fan --minutes 20",),
    "arrange": ("revival arrange split", "revival arrange isolate --number 2"),
    "zero": ("revival zero",),
    "record": (
        'revival record gravity 1.240 1.235 1.180 --temperature "84 degF"',
        'revival record charger "28.8 V 25 A"',
    ),
    "verdict": ("revival verdict", "revival verdict --json"),
    "report": ("revival report --output report.html", "revival report --handover --output sheet.html"),
    "replay": ("revival replay --messages round.jsonl.gz --output states.jsonl",),
    "export": (
        "revival export --output readings.csv",
        "revival export --table hand --output hand.csv",
        "revival export --format messages --output round.jsonl",
    ),
    "backfill": ("revival backfill --since 2026-11-20",),
    "fleet": (
        "revival fleet judge --parcels parcels --out judged",
        "revival fleet follow --parcels parcels --out valley",
        "revival fleet learn --rounds judged --out taught.html",
    ),
}


def epilog(command: str, codes: str) -> str:
    """Return the end of a command's help: its examples and the exit codes."""
    lines = EXAMPLES.get(command, ())
    return "\n".join((*(("examples:", *(f"  {line}" for line in lines), "") if lines else ()), codes))
