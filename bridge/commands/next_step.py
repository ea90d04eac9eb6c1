"""`revival` without a command: what to do next in this folder."""

from __future__ import annotations

from collections.abc import Iterator

from bridge.commands.files import PLACES, VARIABLE, usual_config
from bridge.errors import BridgeError


def next_step() -> Iterator[str]:
    """Yield what there is, and the one command that comes next."""
    file = usual_config()
    if not file.exists():
        yield f"No cabin file here ({VARIABLE} is not set, and there is no {' and no '.join(map(str, PLACES))})."
        yield "  revival setup     makes one: it hears your broker and asks what cannot be heard"
        yield "  revival demo      shows a whole round of an invented cabin, in about two minutes"
        yield "  revival --help    everything else"
        return
    # Only here are they needed, and importing them takes longer than everything else.
    from bridge.commands.status import safe  # noqa: PLC0415  (as the comment says)
    from bridge.config import load  # noqa: PLC0415  (as the comment says)
    from bridge.report.found import trips  # noqa: PLC0415  (as the comment says)
    from bridge.runtime.control_socket import ask  # noqa: PLC0415  (as the comment says)
    from bridge.words.bank_status import place  # noqa: PLC0415  (as the comment says)
    from bridge.words.spoken import spoken  # noqa: PLC0415  (as the comment says)

    at = f" --config {file}" if file not in PLACES else ""
    try:
        loaded = load(file)
    except BridgeError as error:
        yield f"{str(error).splitlines()[0]}"
        yield f"  revival check{at}     names everything that is wrong with {file}"
        return
    yield f"{file}: site {loaded.cabin.site}, {', '.join(loaded.cabin.banks)}"
    try:
        banks = ask(loaded.cabin.journal.path, {"ask": "status"})["banks"]
    except BridgeError:
        yield from (f"  {spoken(line, loaded.cabin.degrees)}" for line in trips(loaded.cabin))
        yield "No bridge runs on it."
        yield f"  revival check{at} --connect     each topic once, through its mapping"
        yield f"  revival run{at}                 the service"
        return
    scale = loaded.cabin.degrees
    for name, state in sorted(banks.items()):
        here = place(state["phase"], state["interrupted"], state["charging"])
        lines = [*safe(name, state), f"  {here}; next: {state['next_step']}"]
        yield from (f"  {spoken(line, scale)}" for line in lines)
    yield f"  revival status{at}     all of it"
