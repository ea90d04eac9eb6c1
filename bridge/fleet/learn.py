"""The report of what rounds teach: one page that carries everything in itself, or the same as JSON."""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING, Any

from bridge.fleet import taught_drawing as drawing
from bridge.fleet.taught import Share, Taught
from bridge.report.paper import environment
from bridge.words import palette
from rules.bank import Lesson
from rules.remaining import FEW_ROUNDS

if TYPE_CHECKING:
    from jinja2 import Environment

#: Outcomes and sorts in words.
OUTCOMES = {"held": "held to the end", "ended-early": "ended early", "abandoned": "abandoned"}
SORTS = {
    "any": "anyhow",
    "flat": "flat (under 1.8 V per cell)",
    "low": "low (1.8 to 2.0 V)",
    "charged": "at 2.0 V and more",
    "unknown": "not known",
}


def page(taught: Taught, refused: int) -> str:
    """Return the report as one HTML page; `refused` is how many rows were none."""
    from markupsafe import Markup  # noqa: PLC0415  (only where a page is made)

    drawn = {
        "shares": [Markup(drawing.shares(classes, title)) for title, classes in taught.revival],
        "predictions": Markup(drawing.predictions(taught.points)),
        "capacities": Markup(drawing.capacities(taught.gains)),
    }
    return (
        _templates()
        .get_template("taught.html")
        .render(
            taught=taught,
            refused=refused,
            drawn=drawn,
            colours=Markup(palette.css()),
            outcomes=OUTCOMES,
            sorts=SORTS,
            few=f"{FEW_ROUNDS:g}",
            better=sum(gain.after > gain.before for gain in taught.gains),
        )
    )


def plain(value: Any) -> Any:
    """Return the same as JSON values, named tuples as objects."""
    if hasattr(value, "_asdict"):
        return {name: plain(item) for name, item in value._asdict().items()}
    return [plain(item) for item in value] if isinstance(value, tuple) else value


def _times(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}"


def _span(share: Share) -> str:
    return f"{100 * share.low:.0f} to {100 * share.high:.0f} %"


def _deviation(lesson: Lesson) -> str:
    """Return the stretch of one standard deviation, in times."""
    factor = math.exp(lesson.spread)
    return f"{lesson.longer / factor:.2f} to {lesson.longer * factor:.2f}"


@cache
def _templates() -> Environment:
    return environment("bridge.fleet", times=_times, span=_span, deviation=_deviation)
