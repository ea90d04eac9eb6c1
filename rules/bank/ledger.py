"""What each block has been given in this round, whatever string it stood in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from rules.bank.arrangement import Arrangement


class BlockLedger(NamedTuple):
    """What one block has been given in this round: charge [Ah] and hours in the circuit [h]."""

    charge: float = 0.0
    hours: float = 0.0


def credit(
    ledger: Mapping[str, BlockLedger], arrangement: Arrangement, string_charges: Sequence[float], hours: float
) -> dict[str, BlockLedger]:
    """Write what each string took to the account of every block in it: in series the same charge passes through all.

    Parameters
    ----------
    ledger : dict
        Label -> account so far; missing labels start at nothing.
    arrangement : Arrangement
        As wired while the charge flowed.
    string_charges : sequence of float
        One per string in the circuit [Ah].
    hours : float
        How long it flowed [h].

    Returns
    -------
    dict
        The new ledger; the given one is not touched.

    Raises
    ------
    ValueError
        When charges and strings do not pair up.

    Examples
    --------
    >>> credit({}, Arrangement((("N1", "N2"),), (("N3",),)), [12.0], 1.5)["N2"]
    BlockLedger(charge=12.0, hours=1.5)
    """
    if len(string_charges) != len(arrangement.strings):
        raise ValueError(f"{len(string_charges)} charges for {len(arrangement.strings)} strings")
    new = dict(ledger)
    for string, charge in zip(arrangement.strings, string_charges, strict=True):
        for label in string:
            account = new.get(label, BlockLedger())
            new[label] = BlockLedger(account.charge + charge, account.hours + hours)
    return new
