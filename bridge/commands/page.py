"""`revival page`: where a phone reaches the live page, also as a picture for its camera; makes the token."""

from __future__ import annotations

import argparse
import os
import secrets
import sys
import tomllib
from pathlib import Path

from bridge.commands.files import add_config
from bridge.config import load
from bridge.errors import ConfigError, UsageError
from bridge.words.page_address import ip_address_of, reachable

#: Random bytes of a token that is made here: 24 characters, about as long as a person will type once.
TOKEN_BYTES = 18

NO_PAGE = """{path}: no [page] table, so no page is served. Put this into it, and run the bridge again:

  [page]
  listen = "0.0.0.0:8170"          # this network; "127.0.0.1:8170" for this host alone
  token_file = "page-token"        # `revival page` makes it; whoever holds it may enter readings and act"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_config(parser)


def run(arguments: argparse.Namespace) -> int:
    """Make the token where the cabin file names a file that is not there, then say where the page is."""
    made = make_token(arguments.config)
    page = load(arguments.config).cabin.page
    if page is None:
        raise UsageError(NO_PAGE.format(path=arguments.config))
    if made is not None:
        print(f"token made: {made} (readable by you alone). A running bridge takes it at its next start.")
    addresses = reachable(page)
    for number, address in enumerate(addresses):
        print(f"{'page:  ' if not number else '   or: '} {address}")
    if page.token is None:
        print('token:  none, so the page only shows; add  token_file = "page-token"  under [page], then run this again')
    else:
        print("token:  asked for once on each device that enters readings; it stands in the file that [page] names")
    if ip_address_of(page.host).is_loopback:
        print('Only this host reaches it. For a phone write  listen = "0.0.0.0:8170"  under [page] and restart the')
        print("bridge; what goes over the network then is not encrypted: keep it to a network you trust, or make it a")
        print("certificate as bridge/page/TLS.md says.")
    else:
        picture(addresses[0])
    return 0


def make_token(config: Path) -> Path | None:
    """Write a random token into the file that ``[page] token_file`` names, if it is not there; its path, if made.

    Raises
    ------
    ConfigError
        The folder takes no file.
    """
    try:
        named = tomllib.loads(config.read_text(encoding="utf-8")).get("page", {}).get("token_file")
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, AttributeError):
        return None  # loading the file says what is wrong, in full
    if not isinstance(named, str):
        return None
    path = config.parent / named
    try:
        # Made by nobody else in between, and never readable by others, not even for a moment.
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return None
    except OSError as error:
        raise ConfigError(f"{config}: page.token_file: {path} cannot be made: {error.strerror}") from None
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(secrets.token_urlsafe(TOKEN_BYTES) + "\n")
    return path


def picture(address: str) -> None:
    """Print the address as a code that a phone's camera reads."""
    try:
        import segno  # noqa: PLC0415  (only the page extra has it)
    except ImportError:
        print('For a code that a camera reads install the extra "page" (pip install "revival-bridge[page]").')
        return
    segno.make(address, error="m", micro=False).terminal(sys.stdout, border=2, compact=True)
