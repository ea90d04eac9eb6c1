"""A bank's name in a sentence: nobody reads "Bank bank"."""

from __future__ import annotations

import re

_SAYS_BANK = re.compile(r"(?:^|[^a-z])banks?(?:[^a-z]|$)", re.IGNORECASE)


def called(bank: str) -> str:
    """Return a bank as a sentence names it; a name that says bank already stands alone.

    Examples
    --------
    >>> called("north"), called("bank"), called("house-bank"), called("Banksia")
    ('bank north', 'the bank', 'house-bank', 'bank Banksia')
    """
    if bank.lower() == "bank":
        return "the bank"
    return bank if _SAYS_BANK.search(bank) else f"bank {bank}"


def headed(bank: str) -> str:
    """Return the same as a heading begins with it.

    Examples
    --------
    >>> headed("north"), headed("bank"), headed("house-bank")
    ('Bank north', 'The bank', 'House-bank')
    """
    name = called(bank)
    return name[0].upper() + name[1:]
