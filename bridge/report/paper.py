"""Sheets to print, from the templates beside this file; whatever is told goes in escaped."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from typing import TYPE_CHECKING, Any

from bridge.report.owner import moment

if TYPE_CHECKING:
    from jinja2 import Environment

#: What would end a string of a style sheet, or the style sheet itself.
_NOT_IN_CSS_TEXT = re.compile(r"[\x00-\x1f\"'\\<>&]")

#: What is typed stands between backticks in every sentence; on paper it is set apart by its letters.
_COMMAND = re.compile(r"`([^`<>\n]+)`")


def render(template: str, **told: Any) -> str:
    """Return one HTML page that carries everything in itself and prints on A4 and on Letter.

    Parameters
    ----------
    template : str
        File in ``bridge/report/templates``.
    **told
        What the template asks for; always ``title`` and ``site``, plain text.

    Raises
    ------
    jinja2.UndefinedError
        The template asks for something that was not told: a mistake of ours, never of the owner's data.
    """
    return _COMMAND.sub(r"<code>\1</code>", _templates().get_template(template).render(told))


def environment(package: str, **filters: Callable[..., object]) -> Environment:
    """Return the templates of a package: they escape whatever they are told, and miss nothing silently."""
    # Only here: the bridge itself, and a command that prints nothing, carry no template engine.
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415  (only to print)

    made = Environment(
        loader=PackageLoader(package),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.filters |= filters
    return made


@cache
def _templates() -> Environment:
    return environment("bridge.report", moment=moment, css_text=_css_text)


def _css_text(text: str) -> object:
    """Return text for a string of a style sheet: what could end it as its code point (CSS Syntax Level 3, 4.3.7)."""
    from markupsafe import Markup  # noqa: PLC0415  (only to print)

    return Markup(_NOT_IN_CSS_TEXT.sub(lambda found: f"\\{ord(found[0]):x} ", text))
