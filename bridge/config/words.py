"""Validation errors in words: which table, which key, what is wrong, what to write instead."""

from __future__ import annotations

import json
import types
from collections.abc import Iterable, Iterator
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel

from bridge.config.models import BankTable, CabinTable
from bridge.config.services import HTTP_URL, PREFIX
from bridge.config.types import HOMIE_ID
from bridge.units import near

#: Keys whose value is not repeated: it may hold a secret where none belongs.
_UNSHOWN = frozenset({"url", "where", "urls", "alive_url", "password_file", "password_env", "token_file", "token_env"})
_WORDS = {
    "missing": "missing; add it",
    "string_type": "must be text in quotes",
    "int_type": "must be a whole number without quotes",
    "bool_type": "must be true or false without quotes",
    "tuple_type": "must be a list in [ ]",
    "model_type": "must be a table",
    "too_short": "must not be empty",
}
_PATTERNS = {
    HOMIE_ID: "use lower case letters, digits and hyphens, not at the ends, such as tarn-hut",
    PREFIX: "must be the beginning of a topic, such as homie/5, without wildcards or blanks",
    HTTP_URL: "must be http:// or https://, a host and a port, without a user or password in it",
}


def explain(items: Iterable[Any], tables: dict[str, Any]) -> list[str]:
    """Return one line for every error: table, key, value and fix. Values of unknown keys are never shown.

    Parameters
    ----------
    items : iterable
        As `pydantic.ValidationError.errors` lists them.
    tables : dict
        As read.
    """
    lines = []
    for item in items:
        location, kind = item["loc"], item["type"]
        where, key = _place(location, tables)
        if kind == "too_short" and location == ("bank",) and tables["bank"]:
            continue  # what is wrong inside the banks has been said
        if kind == "tuple_type" and location[-1] in {"bank", "meter"}:
            words = f"each {location[-1]} begins with double brackets: write [{where}]"
        elif kind == "extra_forbidden":
            words = _unknown(str(location[-1]), location[:-1])
        else:
            key += _shown(location, item["input"]) if kind != "missing" else ""
            words = _WORDS.get(kind) or _plain(item)
        lines.append(f"{f'{where} {key}'.strip()}: {words}")
    return lines


def _shown(location: tuple[int | str, ...], value: object) -> str:
    if not isinstance(value, str | int | float) or not _UNSHOWN.isdisjoint(location):
        return ""
    return f" = {json.dumps(value, ensure_ascii=False)}"


def _plain(item: Any) -> str:
    """Return our words for the constraints that pydantic checks itself; our own errors as they are."""
    context, kind, message = item.get("ctx", {}), item["type"], str(item["msg"])
    if kind == "literal_error":
        return f"must be {context['expected'].replace(chr(39), chr(34))}"
    if kind == "string_pattern_mismatch":
        return _PATTERNS.get(context["pattern"], f"must match {context['pattern']}")
    return message.removeprefix("Value error, ").removeprefix("Input ").removeprefix("String ")


def _unknown(key: str, parents: tuple[int | str, ...]) -> str:
    if key in {"password", "token"}:
        return f"a secret never stands in the cabin file: write {key}_file or {key}_env"
    if not parents and key in BankTable.model_fields and key not in CabinTable.model_fields:
        return f"belongs to a bank: write it below its [[bank]], a table as [bank.{key}]"
    model = _model_at(parents)
    known = [] if model is None else list(model.model_fields)
    suggestion = near(key, known) or (f"; known are {', '.join(known)}" if known else "")
    return f"unknown key{suggestion}"


def _place(location: tuple[int | str, ...], tables: dict[str, Any]) -> tuple[str, str]:
    """Split a location into the table as it is written in the file, and the dotted key in it."""
    header: list[str] = []
    rest = list(location)
    node: Any = tables
    place = ""
    headers = {
        "bank", "meter", "site", "broker", "journal", "influxdb", "notify", "hub", "page", "relay", "load_relay",
        "experience", "lesson",
    }  # fmt: skip
    while rest and rest[0] in headers:
        name = str(rest.pop(0))
        header.append(name)
        node = node.get(name) if isinstance(node, dict) else None
        dotted = ".".join(header)
        if rest and isinstance(rest[0], int):
            number = rest.pop(0)
            node = node[number] if isinstance(node, list) and isinstance(number, int) and number < len(node) else None
            label = node.get("id") or node.get("topic") if isinstance(node, dict) else None
            shown = f'"{label}"' if isinstance(label, str) else f"{int(number) + 1}"
            place = f"{place}, [[{dotted}]] {shown}" if place else f"[[{dotted}]] {shown}"
        elif isinstance(node, dict):
            place = f"{place}, [{dotted}]" if place else f"[{dotted}]"
        else:
            return place, dotted.rpartition(".")[2]
    key = ""
    for part in rest:
        key += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if key else str(part)
    return place, key


def _model_at(location: tuple[int | str, ...]) -> type[BaseModel] | None:
    """Return the table model that a location leads to."""
    model: type[BaseModel] | None = CabinTable
    for part in location:
        if isinstance(part, int) or model is None:
            continue
        field = model.model_fields.get(part)
        model = None if field is None else next(_models(field.annotation), None)
    return model


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    elif get_origin(annotation) in {tuple, Union, types.UnionType, Annotated}:
        for part in get_args(annotation):
            yield from _models(part)
