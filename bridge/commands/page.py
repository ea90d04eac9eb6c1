"""`revival page`: where a phone reaches the live page, also as a picture for its camera; makes the token."""

from __future__ import annotations

import argparse
import io
import shlex
import sys
import tomllib
from pathlib import Path

from bridge.commands.files import add_config
from bridge.commands.setup_page import TOKEN_FILE, write_token
from bridge.config import load
from bridge.config.edit import add_table, set_key
from bridge.errors import ConfigError, UsageError
from bridge.words.page_address import ip_address_of, reachable

#: What `--phones` writes, and what stands for this host alone.
USUAL, THIS_HOST = "127.0.0.1:8170", ("127.0.0.1", "localhost", "[::1]")

NO_PAGE = """{path}: no [page] table, so no page is served. Give  revival page --phones, or put this into it; then
start the bridge again:

  [page]
  listen = "0.0.0.0:8170"          # every address of this host, at port 8170; "127.0.0.1:8170" for this host alone
  token_file = "page-token"        # `revival page` makes it; whoever holds it may enter readings and act"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_config(parser)
    parser.add_argument(
        "--phones",
        action="store_true",
        help="let phones of this network open it: writes under [page] a listen for every address of this host, at the "
        "port that stands there (8170 where none does), and a token_file where none is named; then restart the bridge",
    )


def run(arguments: argparse.Namespace) -> int:
    """Make the token where the cabin file names a file that is not there, then say where the page is."""
    if arguments.phones:
        let_phones_in(arguments.config)
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
        print(f"token:  asked for once on each device that enters readings; {_shown_by(arguments.config)}")
    if ip_address_of(page.host).is_loopback:
        every = f'listen = "0.0.0.0:{page.port}"'
        print(f"Only this host reaches it. For a phone give  revival page --phones  (it writes  {every}")
        print("under [page]: every address of this host, at the same port) and restart the bridge; what goes over the")
        print("network then is not encrypted: keep it to a network you trust, or make it a certificate as")
        print("bridge/page/TLS.md says.")
    else:
        if page.certificate_file is None:
            print("What goes over the network is not encrypted, the token neither: keep it to a network you trust, or")
            print("make it a certificate as bridge/page/TLS.md says.")
        picture(addresses[0])
    return 0


def _shown_by(config: Path) -> str:
    """Say where the token stands, and how it is shown; never what it is."""
    table = tomllib.loads(config.read_text(encoding="utf-8")).get("page", {})
    if "token_file" not in table:
        return f"it stands in the environment, as {table.get('token_env')}"
    return f"show it with:  cat {shlex.quote(str(config.parent / table['token_file']))}"


def let_phones_in(config: Path) -> None:
    """Write into the cabin file that this whole network is listened to, and which file holds the token.

    Raises
    ------
    ConfigError
        The file cannot be read or written.
    """
    try:
        text = config.read_text(encoding="utf-8")
        table = tomllib.loads(text).get("page")
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
        return  # loading the file says what is wrong, in full
    host, _, port = str((table or {}).get("listen", USUAL)).rpartition(":")
    lines = [f'listen = "0.0.0.0:{port}"'] if host in THIS_HOST else []
    lines += [] if table and {"token_file", "token_env"} & table.keys() else [TOKEN_FILE]
    if not lines:
        return
    print(f"--phones writes into {config}, under [page]:  {'  and  '.join(lines)}")
    print(
        "That means: every device in every network of this host can open the page and see the bank, and whoever types"
    )
    print(
        "the token there enters readings and acts. Without a certificate it is not encrypted: only for a network that"
    )
    print("you trust, never for the internet.")
    if sys.stdin.isatty() and input("Write it? [yes]: ").strip().lower() not in {"", "y", "yes"}:
        raise UsageError("nothing was written: the page stays as it was")
    for line in lines:
        text = add_table(text, "[page]", [line]) if table is None else set_key(text, "[page]", 0, line)
        table = table or {}
    try:
        config.write_text(text, encoding="utf-8")
    except OSError as error:
        raise ConfigError(f"{config}: cannot be changed: {error.strerror}") from None
    print(f"{config}: under [page] stands now  {'  and  '.join(lines)}")
    print(f"Start the bridge again; then a phone opens it at port {port}, under an address below (0.0.0.0 is none: it")
    print("only says that every address of this host is listened to).")


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
        return path if write_token(path) else None
    except OSError as error:
        raise ConfigError(f"{config}: page.token_file: {path} cannot be made: {error.strerror}") from None


def picture(address: str) -> None:
    """Print the address as a code that a phone's camera reads."""
    try:
        import segno  # noqa: PLC0415  (only the page extra has it)
    except ImportError:
        print('For a code that a camera reads install the extra "page" (pip install "revival-bridge[page]").')
        return
    drawn = io.StringIO()
    segno.make(address, error="m", micro=False).terminal(drawn, border=2, compact=True)
    for line in drawn.getvalue().splitlines():
        # White on black, whatever the terminal's own colours are: not every camera reads a code with them exchanged.
        print(f"\x1b[97;40m{line}\x1b[0m" if sys.stdout.isatty() else line)
