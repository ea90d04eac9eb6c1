"""The token of the live page: made beside the cabin file, readable by its owner alone, and never shown."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from bridge.commands.setup_answers import Asker
from bridge.errors import ConfigError

#: Random bytes of a token that is made here: 24 characters, about as long as a person will type once.
TOKEN_BYTES = 18
#: What stands below ``[page]``.
TOKEN_NAME = "page-token"
TOKEN_FILE = f'token_file = "{TOKEN_NAME}"'
#: How it is asked for; without one the page cannot even note a gravity.
TOKEN = "May people press buttons on the page, after typing its token once (no: it only shows)?"


def write_token(path: Path) -> bool:
    """Write a random token where no file is; tell whether it was made.

    Raises
    ------
    OSError
        The folder takes no file.
    """
    try:
        # Made by nobody else in between, and never readable by others, not even for a moment.
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return False
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(secrets.token_urlsafe(TOKEN_BYTES) + "\n")
    return True


def beside(asker: Asker, file: Path) -> None:
    """Make the token beside the cabin file, and say where it is; one that lies there is kept, for phones know it.

    Raises
    ------
    ConfigError
        The folder takes no file.
    """
    path = file.absolute().parent / TOKEN_NAME
    try:
        made = write_token(path)
    except OSError as error:
        raise ConfigError(f"{path}: the page's token cannot be made: {error.strerror}") from None
    how = "made, readable by you alone" if made else "kept as it lies there"
    asker.console.print(
        f"the page's token is {how}: {path}; each device that enters readings or acts asks for it once", markup=False
    )
