"""Which way a current counts, and whether a midpoint is one, from the voltage beside it."""

from __future__ import annotations

from statistics import correlation, mean, median, pstdev

from bridge.listen.guess import LEAD_CELL, Guess, cells_of
from bridge.listen.physics import Series, at, ratio
from bridge.listen.places import path
from bridge.listen.shape import cells_by_parts

#: No lead-acid cell stands above this while it is discharged, and hardly any below the other while it takes a charge
#: [V] (common practice, no source).
CHARGING_ABOVE, _HARDLY_BELOW = 2.13, 2.0
#: Less than this is nothing [A].
_FLOWS = 0.3
#: For a while after a charge a bank under a small load stands above a charged one's rest, up to this, and falls by no
#: less while it is heard [V per cell]; amps that keep this share of themselves make nothing fall [1] (assumed).
_SURFACE, _FALL, _KEPT = 2.3, 0.005, 0.9
#: A midpoint stands near half of the bank [share].
_HALF = 0.05
#: What stands there all the time strays by no more from moment to moment; a cell from their mean by no more [share]
#: (assumed).
_STRAYS, _A_CELL = 0.01, 0.08
#: Of so many moments and values, a half within this share that moves as the whole does is no chance [1] (assumed).
_ENOUGH, _MOVES, _CLOSE, _TOGETHER = 12, 5, 0.03, 0.9
#: Values of one moment [s]; amps that lead the volts swing so much more than they, as a share of themselves [1]
#: (assumed: a lamp's amps follow the volts one to one, a tenth more charge lifts them by a few thousandths).
_BESIDE, _LARGER = 5.0, 5.0
#: What is said of a number taken for a bank's voltage, and means nothing for a part of it.
_OF_A_BANK = frozenset(
    {
        "fits a bank",
        "fits no bank",
        "hardly a bank",
        "only one of its kind",
        "no amps of its own",
        "which of several",
        "a half",
    }
)


def settle_sign(current: Guess, voltage: Guess | None, blocks: int = 1) -> Guess:
    """Return the current with the sign that the volts allow.

    A flooded cell above 2.13 V is being charged, whatever the meter's sign says; between 2.0 and 2.13 V both ways are
    possible, and it is asked.
    """
    amps = current.value
    # blocks of another battery tell nothing of this one's cells
    cells = 0 if voltage is None else cells_by_parts(voltage, blocks) or cells_by_parts(voltage, 1)
    if voltage is None or not cells:
        return current.because("sign not known", "sign not known: no voltage beside it")
    per_cell = voltage.value / cells
    if abs(amps) < _FLOWS:
        return current.because("sign not known", "nothing flowed: see that charging shows as positive")
    unexplained = not _fades(current.series) and not _lifts(current.series, voltage.series)
    if CHARGING_ABOVE < per_cell < _SURFACE and _falls(voltage.series, cells) and unexplained:
        why = f"{amps:.1f} A at {per_cell:.2f} V per cell that fall: a load on a bank just off charge? look again later"
        return current.because("sign not known", why)
    if per_cell > CHARGING_ABOVE:
        if amps > 0:
            return current.because("sign shown", f"positive at {per_cell:.2f} V per cell: charging")
        why = f"{amps:.1f} A at {per_cell:.2f} V per cell can only be charging: the meter counts discharge as positive"
        return current._replace(sign="discharging").because("sign turned", why)
    if amps > 0 and per_cell < _HARDLY_BELOW:
        why = f"{amps:.1f} A at {per_cell:.2f} V per cell: charging a dead bank, or discharging with the sign turned?"
        return current.because("sign in doubt", why)
    way = "charging, or discharging with the sign turned" if amps > 0 else "discharging, or a turned sign"
    why = f"{amps:.1f} A at {per_cell:.2f} V per cell: {way}? look again under charge"
    return current.because("sign not known", why)


def _falls(volts: Series, cells: int) -> bool:
    """Tell whether volts end lower than they began, cell by cell."""
    first, last = _ends(volts)
    return first - last >= _FALL * cells


def _fades(amps: Series) -> bool:
    """Tell whether amps end smaller than they began."""
    first, last = (abs(value) for value in _ends(amps))
    return last < _KEPT * first


def _lifts(amps: Series, volts: Series) -> bool:
    """Tell whether volts rise and fall as more and less flows: into the bank, for a load would pull them down.

    What draws by a bank's own volts, as a lamp does, moves with them by no larger share than they do.
    """
    pairs = [(abs(value), beside) for when, value in amps if (beside := at(volts, when, _BESIDE)) is not None]
    if len(pairs) < _ENOUGH:
        return False
    flows, heights = zip(*pairs, strict=True)
    swing, height = pstdev(flows) / max(mean(flows), _FLOWS), pstdev(heights) / mean(heights)
    return height > 0.0 and swing > _LARGER * height and correlation(flows, heights) >= _TOGETHER


def _ends(series: Series) -> tuple[float, float]:
    """Return the medians of the first and of the last quarter of what was heard; the same twice of too little."""
    values = [value for _, value in series]
    quarter = len(values) // 4
    return (median(values[:quarter]), median(values[-quarter:])) if quarter > 1 else (0.0, 0.0)


def settle_midpoint(midpoint: Guess, voltage: Guess | None) -> Guess:
    """Return the midpoint with what its place between nothing and the bank's volts says."""
    if voltage is None:
        return midpoint
    if abs(midpoint.value - voltage.value / 2.0) <= _HALF * voltage.value:
        return midpoint.because("half of the bank", f"half of {voltage.value:g} V")
    return midpoint.because("not half of the bank", f"{midpoint.value:g} V is not near half of {voltage.value:g} V")


def is_half(one: Guess, bank: Guess) -> bool:
    """Tell whether a voltage right beside another is its half and moves as it does: a bank's midpoint."""
    place = bank.source.place
    if one is bank or not place or path(one.source)[: len(place)] != place:
        return False
    pairs = [(value, whole) for when, value in one.series if (whole := at(bank.series, when)) is not None]
    if len(pairs) < _ENOUGH or min(len(set(side)) for side in zip(*pairs, strict=True)) < _MOVES:
        return False
    halves = [value / whole for value, whole in pairs if whole > 0.0]
    near = len(halves) == len(pairs) and abs(median(halves) - 1.0 / 2.0) <= _CLOSE / 2.0
    return near and correlation(*zip(*pairs, strict=True)) >= _TOGETHER


def settle_share(one: Guess, bank: Guess) -> Guess:
    """Return a voltage right beside the bank's as its midpoint or as a cell, where it is such a share all the time.

    It is asked about: another thing may stand there by chance, and of several cells nothing tells which it is.
    """
    place = bank.source.place
    found = ratio(one.series, bank.series) if one.quantity == "voltage" and one.source is not bank.source else None
    if found is None or not place or path(one.source)[: len(place)] != place:
        return one
    share, strays = found
    cells = (cells_of(bank.value) or (0,))[0]
    if strays > _STRAYS * share:
        return one
    half = abs(share - 1.0 / 2.0) <= _HALF / 2.0
    a_cell = LEAD_CELL[0] <= one.value <= LEAD_CELL[1] and abs(share * cells - 1.0) <= _A_CELL
    if not half and not a_cell:
        return one
    kept = tuple(e for e in one.evidence if e.name not in _OF_A_BANK)
    part = one._replace(quantity="midpoint_voltage" if half else "cell_voltage", evidence=kept)
    why = "half of the bank's volts" if half else f"one cell of {cells} by its volts"
    return part.because("by its share", f"{why} all the time: is it?")
