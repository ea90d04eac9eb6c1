"""`[experience]`: what earlier rounds, of any bank, taught about the hours; in the cabin file or in a file beside it.

`revival fleet learn` writes it from many rounds. It holds numbers alone: no site, no bank, nothing that could be run.
Both forms say the same, so that a cabin file which carries it whole is judged elsewhere exactly as in the cabin.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from bridge.config.types import Table
from rules.bank import NO_EXPERIENCE, Experience, Lesson

#: Of the table.
FORMAT = 1
#: Hours needed over hours reckoned that can be [1]; beyond, somebody mistook a unit.
LEAST_TIMES, MOST_TIMES = 0.1, 10.0
#: Widest spread of a logarithm [1]: a factor of twenty either way.
WIDEST = 3.0
#: More rounds than any fleet has.
MOST_ROUNDS = 10_000_000
#: A larger file is no experience file [bytes].
LARGEST = 100_000

Count = Annotated[int, Field(strict=True, ge=1, le=MOST_ROUNDS)]


class LessonTable(Table):
    """``[[experience.lesson]]``: one part of an estimate, for one sort of bank."""

    part: Literal["waking", "reviving", "bulk-ahead", "bulk", "absorbing", "finishing"]
    sort: Literal["any", "flat", "low", "charged", "unknown"]
    rounds: Count
    longer: Annotated[float, Field(ge=LEAST_TIMES, le=MOST_TIMES, allow_inf_nan=False)]
    spread: Annotated[float, Field(ge=0.0, le=WIDEST, allow_inf_nan=False)]


class ExperienceTable(Table):
    """``[experience]``: a file, or what such a file holds."""

    file: Path | None = None
    format: Annotated[int, Field(strict=True, ge=1)] | None = None
    rounds: Count | None = None
    lesson: tuple[LessonTable, ...] = ()

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.file is not None and (self.format or self.rounds or self.lesson):
            raise ValueError("file and lessons both given: keep one")
        if self.file is not None:
            return self
        if self.format is None or self.rounds is None:
            raise ValueError('needs file = "experience.toml", or what `revival fleet learn` wrote into such a file')
        if self.format > FORMAT:
            raise ValueError(f"format {self.format} is of a newer version; known here: {FORMAT}. Make it anew")
        seen = set()
        for lesson in self.lesson:
            name = f"{lesson.part}, {lesson.sort}"
            if (lesson.part, lesson.sort) in seen:
                raise ValueError(f"the lesson of {name} stands twice: keep one")
            if lesson.rounds > self.rounds:
                raise ValueError(f"the lesson of {name} says {lesson.rounds} rounds of {self.rounds}: correct one")
            seen.add((lesson.part, lesson.sort))
        for part, sort in sorted(seen):
            if (part, "any") not in seen:
                raise ValueError(f'the lesson of {part}, {sort} has none of sort = "any" beside it: add it')
        return self

    @property
    def experience(self) -> Experience:
        """What the rules take; nothing where there is only a file's name."""
        return Experience(self.rounds or 0, tuple(Lesson(**lesson.model_dump()) for lesson in self.lesson))


class ExperienceFile(Table):
    """A whole experience file."""

    experience: ExperienceTable


def tables_of(path: Path) -> dict[str, object]:
    """Return the tables of an experience file, unchecked.

    Raises
    ------
    ValueError
        Not readable, too large, or not TOML; says which, and what to do.
    """
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST + 1)
    except OSError as error:
        raise ValueError(f"cannot be read ({error.strerror}): copy it there, or correct the path") from None
    if len(content) > LARGEST:
        raise ValueError(f"is larger than {LARGEST // 1000} kB: it is no experience file")
    try:
        return tomllib.loads(content.decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError):
        raise ValueError("is not valid TOML: copy it anew from where `revival fleet learn` wrote it") from None


def text_of(experience: Experience, sites: int) -> str:
    """Return an experience file.

    Examples
    --------
    >>> print(text_of(Experience(8, (Lesson("bulk", "any", 8, 1.21, 0.2),)), 2))
    # What 8 rounds at 2 sites taught about the hours of a round; made by `revival fleet learn`.
    # In the cabin file: [experience] file = "experience.toml". It moves hours of the estimate, and nothing else.
    # longer = hours needed over hours reckoned (geometric mean); spread = standard deviation of its logarithm.
    [experience]
    format = 1
    rounds = 8
    <BLANKLINE>
    [[experience.lesson]]
    part = "bulk"
    sort = "any"
    rounds = 8
    longer = 1.21
    spread = 0.2
    <BLANKLINE>
    """
    rounds = experience.rounds
    lines = [
        f"# What {rounds} rounds at {sites} sites taught about the hours of a round; made by `revival fleet learn`.",
        '# In the cabin file: [experience] file = "experience.toml". It moves hours of the estimate, and nothing else.',
        "# longer = hours needed over hours reckoned (geometric mean); spread = standard deviation of its logarithm.",
        "[experience]",
        f"format = {FORMAT}",
        f"rounds = {rounds}",
    ]
    for lesson in experience.lessons:
        lines += ["", "[[experience.lesson]]", f'part = "{lesson.part}"', f'sort = "{lesson.sort}"']
        lines += [f"rounds = {lesson.rounds}", f"longer = {lesson.longer:g}", f"spread = {lesson.spread:g}"]
    return "\n".join([*lines, ""])


def taken(table: ExperienceTable | None) -> Experience:
    """Return what the rules take from the cabin file's table."""
    return NO_EXPERIENCE if table is None else table.experience
