"""What people send, held against a model that is strict: a key it does not know, or a word for a number, is refused."""

from __future__ import annotations

from typing import Annotated, Any, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from bridge.errors import RequestError

LONGEST_NAME = 80  #: characters of the name of whoever acts
LONGEST_TEXT = 500  #: characters of a note, or of any word beside an act
Model = TypeVar("Model")

_WORDS = {
    "missing": "{key} is missing: add it",
    "string_type": "{key} is text in quotes",
    "string_too_long": "{key} is text of at most {longest} characters",
    "string_unicode": "{key} holds half a character: write it anew",
    "float_type": "{key} is a number",
    "int_type": "{key} is a whole number",
    "finite_number": "{key} is too large",
    "bool_type": "{key} is true or false",
    "list_type": "{key} is a list in [ ]",
    "dict_type": "{key} is an object: where or what -> value",
    "union_tag_not_found": '"ask" is missing: say what is asked',
    "union_tag_invalid": 'cannot answer {value}: "ask" is {known}',
}


class StrictModel(BaseModel):
    """A request as it comes from outside: nothing is converted, and an unknown key is an error."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


def one_line(words: str) -> str:
    """Return the words without blanks around them; what could forge a line of the log is refused."""
    if not words.isprintable():
        raise ValueError("stands on one line")
    return words.strip()


#: Text of several lines, text on one line, and the name of a person.
Text = Annotated[str, Field(max_length=LONGEST_TEXT), AfterValidator(str.strip)]
Line = Annotated[str, Field(max_length=LONGEST_TEXT), AfterValidator(one_line)]
Name = Annotated[str, Field(max_length=LONGEST_NAME), AfterValidator(one_line)]


def validated(adapter: TypeAdapter[Model], document: object) -> Model:
    """Return the document as its model.

    Raises
    ------
    RequestError
        The first thing that is wrong: key, value and what would be right.

    Examples
    --------
    >>> class Wish(StrictModel):
    ...     number: int
    >>> validated(TypeAdapter(Wish), {"number": "two"})
    Traceback (most recent call last):
    ...
    bridge.errors.RequestError: number is a whole number
    """
    try:
        return adapter.validate_python(document)
    except ValidationError as error:
        raise RequestError(_in_words(error, document)) from None


def _in_words(error: ValidationError, document: object) -> str:
    """Return the first error as a sentence."""
    first: Any = error.errors(include_url=False)[0]
    kind, context = first["type"], first.get("ctx", {})
    way = _written(first["loc"], document)
    key = way[-1] if way else "the request"
    if kind == "extra_forbidden":
        return f"unknown key {key[:40]!r}"
    known = str(context.get("expected_tags", "")).replace("'", '"')
    if kind == "float_type" and type(first["input"]) is int:
        kind = "finite_number"
    words = _WORDS.get(kind)
    if words is None:
        return f"{key} {str(first['msg']).removeprefix('Value error, ')}"
    longest, value = context.get("max_length", LONGEST_TEXT), repr(context.get("tag", ""))[:42]
    return words.format(key=key[:40], longest=longest, known=known, value=value)


def _written(location: tuple[int | str, ...], document: object) -> list[str]:
    """Return the keys of a location that stand in the document, without the names of models and unions between."""
    way: list[str] = []
    here = document
    for part in location:
        if isinstance(here, dict) and part in here:
            here = here[part]
        elif isinstance(here, list) and isinstance(part, int) and part < len(here):
            here = here[part]
            continue
        elif part == "[key]" or part != location[-1] or not isinstance(here, dict):
            continue
        way.append(str(part) or "value")
    return way
