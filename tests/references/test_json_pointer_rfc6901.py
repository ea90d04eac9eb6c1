"""JSON Pointers against the examples of RFC 6901, section 5, and against an independent library."""

from __future__ import annotations

import json

import jsonpointer
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.intake.document import compile_pointer, document, resolve
from bridge.intake.mapping import RejectError

# RFC 6901, section 5: the document and every pointer with its value.
DOCUMENT = {
    "foo": ["bar", "baz"],
    "": 0,
    "a/b": 1,
    "c%d": 2,
    "e^f": 3,
    "g|h": 4,
    "i\\j": 5,
    'k"l': 6,
    " ": 7,
    "m~n": 8,
}
EXAMPLES = [
    ("", DOCUMENT),
    ("/foo", ["bar", "baz"]),
    ("/foo/0", "bar"),
    ("/", 0),
    ("/a~1b", 1),
    ("/c%d", 2),
    ("/e^f", 3),
    ("/g|h", 4),
    ("/i\\j", 5),
    ('/k"l', 6),
    ("/ ", 7),
    ("/m~0n", 8),
]


@pytest.mark.parametrize(("pointer", "value"), EXAMPLES)
def test_every_example_of_section_5_resolves(pointer: str, value: object) -> None:
    root = document(json.dumps(DOCUMENT).encode())
    assert resolve(compile_pointer(pointer), root) == value


def test_tilde_zero_one_is_tilde_one_and_not_a_slash() -> None:
    # RFC 6901, section 4: "~01" becomes "~1", never "/".
    assert compile_pointer("/~01") == ("~1",)


@pytest.mark.parametrize("pointer", ["foo", "/a~2b", "/a~"])
def test_a_pointer_against_the_grammar_of_section_3_is_refused(pointer: str) -> None:
    with pytest.raises(ValueError, match="JSON Pointer"):
        compile_pointer(pointer)


@pytest.mark.parametrize("pointer", ["/foo/00", "/foo/-", "/foo/2", "/foo/-1", "/foo/+1", "/nothing", "/foo/0/x"])
def test_what_is_not_there_is_missing(pointer: str) -> None:
    # RFC 6901, section 4: no leading zeros; "-" names the element after the last, which does not exist.
    with pytest.raises(RejectError, match="missing"):
        resolve(compile_pointer(pointer), DOCUMENT)


LEAVES = st.integers(-5, 5) | st.text("ab/~01", max_size=3)
DOCUMENTS = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text("ab/~01", max_size=2), inner, max_size=3),
    max_leaves=8,
)


@settings(deadline=None)
@given(DOCUMENTS, st.lists(st.text("ab/~01", max_size=2), max_size=3))
def test_it_agrees_with_an_independent_library(root: object, tokens: list[str]) -> None:
    pointer = "".join("/" + token.replace("~", "~0").replace("/", "~1") for token in tokens)
    nothing = object()
    try:
        theirs = jsonpointer.resolve_pointer(root, pointer)
    except jsonpointer.JsonPointerException:
        theirs = nothing
    try:
        ours = resolve(compile_pointer(pointer), root)
    except RejectError:
        ours = nothing
    assert ours is theirs or ours == theirs
