"""Tools for curves: a polynomial, the argument at which a rising function reaches a value, what is a number at all."""

from __future__ import annotations

from collections.abc import Callable


def polynomial(coefficients: tuple[float, ...], x: float) -> float:
    """Return value of a polynomial whose coefficients stand in rising order, for bare numbers [1].

    Examples
    --------
    >>> polynomial((1.0, 2.0, 3.0), 2.0)
    17.0
    """
    total = 0.0
    for coefficient in reversed(coefficients):
        total = total * x + coefficient
    return total


def argument(rising: Callable[[float], float], target: float, low: float, high: float) -> float:
    """Return argument at which a rising function reaches the target, to the last bit that bisection can tell [1].

    Examples
    --------
    >>> argument(lambda x: x * x, 2.0, 0.0, 2.0)
    1.414213562373095
    """
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if rising(middle) < target else (low, middle)
    return 0.5 * (low + high)


def finite(*numbers: float) -> bool:
    """Tell whether all are numbers [1], neither infinite nor undefined; also of quantities that carry their own unit.

    Examples
    --------
    >>> finite(1.0, -2.5), finite(1.0, float("nan")), finite(float("inf"))
    (True, False, False)
    """
    return all([number - number == 0 for number in numbers])
