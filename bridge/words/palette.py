"""What a colour means, once for page, report and terminal.

The hues keep apart for readers who see red and green alike: they start from the eight colours that Okabe and Ito
published for colour-blind readers (2002, "Color Universal Design"), darkened or lightened until they can be read on
paper and on a dark screen. Colour never stands alone: every level has a word, every phase its name and hatching.
"""

from __future__ import annotations

from typing import NamedTuple


class Ink(NamedTuple):
    """One meaning's colour on a light ground, on a dark ground, and in a terminal (a rich style)."""

    light: str
    dark: str
    terminal: str


#: Grounds: page, raised panel, text, quieter text, lines.
GROUND: dict[str, Ink] = {
    "ground": Ink("#f6f4ee", "#15181b", "default"),
    "panel": Ink("#fffdf8", "#1f2428", "default"),
    "ink": Ink("#1b1e21", "#eceae4", "default"),
    "faint": Ink("#51565b", "#b3b6b8", "dim"),
    "line": Ink("#85847c", "#7b8085", "dim"),
}

#: Levels of safety, worst last, and what is not known.
LEVELS: dict[str, Ink] = {
    "safe": Ink("#00694d", "#4fd0a8", "green"),
    "chore": Ink("#005a8f", "#6fc0ef", "cyan"),
    "permit": Ink("#855000", "#f0ad2e", "yellow"),
    "hazard": Ink("#a83a00", "#ff9560", "bold red"),
    "unknown": Ink("#51565b", "#b3b6b8", "dim"),
}

#: Curves.
CURVES: dict[str, Ink] = {
    "voltage": Ink("#005a8f", "#6fc0ef", "cyan"),
    "current": Ink("#855000", "#f0ad2e", "yellow"),
    "temperature": Ink("#953b6d", "#e59cc4", "magenta"),
    "estimate": Ink("#00694d", "#4fd0a8", "green"),
}

#: Phases; sleeping ones are grey, those that charge run from dark to warm to green.
PHASES: dict[str, Ink] = {
    "idle": Ink("#8b8b86", "#777b7e", "dim"),
    "waking": Ink("#953b6d", "#e59cc4", "magenta"),
    "reviving": Ink("#3f87b8", "#56b4e9", "bright_blue"),
    "bulk": Ink("#005a8f", "#3d8fc4", "blue"),
    "absorbing": Ink("#8d8208", "#e8dc53", "bright_yellow"),
    "finishing": Ink("#b06a00", "#e69f00", "yellow"),
    "holding": Ink("#00694d", "#4fd0a8", "green"),
    "resting": Ink("#8b8b86", "#777b7e", "dim"),
    "testing": Ink("#51565b", "#b3b6b8", "white"),
    "finished": Ink("#51565b", "#b3b6b8", "white"),
}


#: Answer to "is it safe?" -> the level whose colour it takes.
ANSWER_LEVELS: dict[str, str] = {
    "yes": "safe",
    "warm": "permit",
    "not-yet": "permit",
    "no": "hazard",
    "unknown": "unknown",
}


def css() -> str:
    """Write custom properties for both grounds; the wall at night takes the dark ones, paper always the light ones."""
    inks = {**GROUND, **LEVELS, **CURVES, **{f"phase-{name}": ink for name, ink in PHASES.items()}}
    light = "".join(f"--{name}:{ink.light};" for name, ink in inks.items())
    dark = "".join(f"--{name}:{ink.dark};" for name, ink in inks.items())
    return (
        f":root{{color-scheme:light dark;{light}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}\n"
        f"@media screen{{:root.night{{color-scheme:dark;{dark}}}}}\n"
    )
