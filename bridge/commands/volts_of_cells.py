"""Whether a count of cells can be right by the volts that were heard: said the same by `setup` and by `check`."""

from __future__ import annotations

import tomllib

from rich.console import Console

from bridge.config import Loaded
from bridge.config.models import BankTable
from bridge.errors import CannotReachError
from bridge.listen.guess import cells_of

#: Less than this for each cell is hardly a whole bank of so many: even a dead one shows more [V] (assumed). More than
#: the other no bank is given [V] (common practice, no source).
DEAD, MOST = 1.0, 3.0


def against_cells(volts: float, cells: int) -> str:
    """Return what so many volts [V] say against so many cells in series; empty where nothing.

    >>> against_cells(31.61, 24), against_cells(31.61, 12)
    ('24 cells, 1.32 V each by the 31.6 V heard', '')
    """
    if cells in cells_of(volts):
        return ""
    return f"{cells} cells, {volts / cells:.2f} V each by the {volts:.1f} V heard"


def no_such_cells(volts: float, cells: int) -> bool:
    """Tell whether no cells, not even dead ones, show so many volts [V].

    >>> no_such_cells(31.61, 36), no_such_cells(31.61, 24), no_such_cells(5.41, 12)
    (True, False, True)
    """
    return not DEAD <= volts / cells <= MOST


#: A part of a bank may be as dead as it likes; less than this for each cell is rather another part [V] (assumed).
_WEAK = 1.5


def of_a_part(volts: float, cells: int) -> str:
    """Return why no block of so many cells, or no single one, shows so many volts [V]; empty where one may.

    A dead part shows anything below; a reversed one as much with the other sign.

    >>> of_a_part(12.7, 3), of_a_part(6.3, 1), of_a_part(6.3, 3)
    ('12.7 V: for 3 cells 4.23 V each, and none shows more than 3 V', '6.3 V, and no cell shows more than 3 V', '')
    """
    if abs(volts) <= MOST * cells:
        return ""
    if cells == 1:
        return f"{volts:.1f} V, and no cell shows more than {MOST:g} V"
    return f"{volts:.1f} V: for {cells} cells {abs(volts) / cells:.2f} V each, and none shows more than {MOST:g} V"


def weak_part(volts: float, cells: int) -> str:
    """Return how little a block or cell shows, where it is rather another part; empty where it shows enough.

    >>> weak_part(6.3, 6), weak_part(5.9, 3)
    ('6.3 V, 1.05 V for each of 6 cells', '')
    """
    if not 0.0 <= volts < _WEAK * cells:
        return ""
    return f"{volts:.1f} V" + (f", {volts / cells:.2f} V for each of {cells} cells" if cells > 1 else "")


class Judged:
    """A file's bank with another count of cells, held against the volts that its own meter shows now.

    It is heard once, and only where it is needed.

    Parameters
    ----------
    place : int
        The bank's place in the file, from 0.
    seconds : float
        Its meter is waited for so long [s].
    console : Console
        Where it is said that nothing could be heard.
    """

    def __init__(self, loaded: Loaded, place: int, seconds: float, console: Console) -> None:
        self._loaded, self._place, self._seconds, self._console = loaded, place, seconds, console
        self._heard: list[float | None] = []

    def against(self, text: str) -> str:
        """Return what the volts say against the cells of the file's new text; empty where nothing, or none are new."""
        cells, volts = self._seen(text)
        return "" if volts is None else against_cells(volts, cells)

    def rules_out(self, text: str) -> bool:
        """Tell whether no cells, not even dead ones, show such volts."""
        cells, volts = self._seen(text)
        return volts is not None and no_such_cells(volts, cells)

    def _seen(self, text: str) -> tuple[int, float | None]:
        """Return the cells that the text has, and the volts [V] where that is another number and they were heard."""
        before = self._loaded.model.bank[self._place]
        blocks = BankTable.model_validate(tomllib.loads(text)["bank"][self._place]).blocks
        cells = blocks.cells * blocks.per_string
        if cells == before.blocks.cells * before.blocks.per_string:
            return cells, None
        if not self._heard:
            volts, why = _volts_heard(self._loaded, before.id, self._seconds)
            self._heard.append(volts)
            if volts is None:
                self._console.print(f"{cells} cells are not held against the volts of {before.id}: {why}", markup=False)
        return cells, self._heard[0]


def _volts_heard(loaded: Loaded, bank: str, seconds: float) -> tuple[float | None, str]:
    """Listen so long [s] for a bank's volts; return the first [V], or why there are none."""
    from bridge.mqtt.ear import Ear  # noqa: PLC0415  (only here is a network library needed)

    if not any(one.bank == bank and one.meter == "voltage" for one in loaded.routes.mappings):
        return None, "it has no meter for them"
    wanted = (*loaded.routes.live_topics, *loaded.routes.history_topics)
    try:
        with Ear(loaded.cabin.broker, wanted) as ear:
            for _, message in ear.hear(seconds):
                for reading in () if message is None else loaded.routes.decode(message).readings:
                    if (reading.bank, reading.meter) == (bank, "voltage"):
                        return reading.value, ""
    except CannotReachError as error:
        return None, str(error)
    return None, f"its meter said nothing in {seconds:g} s"
