"""Which bank a command means: it need not be named where there is only one."""

from __future__ import annotations

from collections.abc import Collection

from bridge.errors import UsageError


def which_bank(names: Collection[str], wanted: str | None, how: str = "give --bank") -> str:
    """Return the bank that is meant.

    Parameters
    ----------
    names : collection of str
        Of all banks there are.
    wanted : str or None
        As it was named; None where it was not.
    how : str
        How to name one.

    Raises
    ------
    UsageError
        There is no such bank, or several and none was named.

    Examples
    --------
    >>> which_bank(["north"], None)
    'north'
    """
    if wanted is None and len(names) == 1:
        return next(iter(names))
    if wanted is None or wanted not in names:
        given = how if wanted is None else f"no bank {wanted!r}"
        raise UsageError(f"{given}: there are {', '.join(sorted(names))}")
    return wanted
