"""`revival notify`: who is told and how often; with `--try` one test message, and what each service answered."""

from __future__ import annotations

import argparse
import json
from typing import Any

from bridge.commands.files import add_config
from bridge.config import load
from bridge.errors import CannotReachError, ConfigError, UsageError
from bridge.settings import Cabin, NotifySettings
from bridge.words.notice import schemes

NO_NOTIFY = """{path}: no [notify] table, so nobody is told. Put this into it, and try it:

  [notify]
  urls_file = "notify-urls"        # one service URL on each line; chmod 600, it holds passwords"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_config(parser)
    parser.add_argument("--try", dest="attempt", action="store_true", help="send one test message through each service")
    parser.add_argument("--json", action="store_true", help="print one JSON document instead of text")


def run(arguments: argparse.Namespace) -> int:
    """Print it; 0, 4 where a service did not take the message, 78 where a URL is not understood."""
    cabin = load(arguments.config).cabin
    if cabin.notify is None:
        raise UsageError(NO_NOTIFY.format(path=arguments.config))
    told = told_what(cabin)
    answers = attempt(cabin) if arguments.attempt else []
    if arguments.json:
        print(json.dumps({"notify": told, "answers": answers}, indent=2))
    else:
        print(told)
        for answer in answers:
            print(f"{answer['what']}: {'ok' if answer['ok'] else 'FAILED'}, {answer['words']}")
    return 0 if all(answer["ok"] for answer in answers) else CannotReachError.exit_code


def told_what(cabin: Cabin) -> str:
    """Say how many services of which kind are told what and when, in one line; raise what `checked` raises."""
    settings = checked(cabin)
    quiet = ""
    if settings.quiet is not None:
        quiet = f", only trips from {_clock(settings.quiet[0])} to {_clock(settings.quiet[1])}"
    alive = "" if settings.alive_url is None else f"; alive_url every {settings.alive_every / 60.0:g} min"
    return (
        f"messages: {schemes([each.get_secret_value().partition('://')[0].lower() for each in settings.urls])}, "
        f"trips again every {settings.repeat / 60.0:g} min until acknowledged, chores at {_clock(settings.digest)}"
        f"{quiet}{alive}"
    )


def checked(cabin: Cabin) -> NotifySettings:
    """Return the settings, with every service's URL understood.

    Raises
    ------
    ConfigError
        A URL is not understood, or the extra is not installed.
    """
    assert cabin.notify is not None
    try:
        from bridge.outlets.messenger import messengers  # noqa: PLC0415  (only the notify extra has what it needs)
    except ImportError as error:
        raise ConfigError(
            f'{cabin.source}: [notify]: {error.name} is missing; install the extra "notify" '
            '(pip install "revival-bridge[notify]")'
        ) from None
    try:
        messengers(cabin.notify.urls)
    except ConfigError as error:
        raise ConfigError("\n".join(f"{cabin.source}: {line}" for line in str(error).splitlines())) from None
    return cabin.notify


def attempt(cabin: Cabin) -> list[dict[str, Any]]:
    """Send one test message through each service; what each answered."""
    from bridge.outlets.messenger import messengers  # noqa: PLC0415  (only the notify extra has what it needs)
    from bridge.outlets.notify import try_out  # noqa: PLC0415  (only the notify extra has what it needs)

    assert cabin.notify is not None
    return try_out(cabin.notify, cabin.site, messengers(cabin.notify.urls))


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"
