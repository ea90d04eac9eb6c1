"""One service that takes messages, through a library that knows a hundred of them; its URL is a secret as a whole."""

from __future__ import annotations

import hashlib
import logging
import re
from http import HTTPStatus
from typing import NamedTuple

import apprise
from pydantic import SecretStr

from bridge.errors import ConfigError

#: Services whose messages carry a subject: without one they look like what nobody wants.
WITH_SUBJECT = frozenset(("mailto", "mailtos"))
_STATUS = re.compile(r"\berror ?= ?(\d{3})\b")
_PHRASES = {str(status.value): status.phrase for status in HTTPStatus}
_NOBODY = "nothing there takes it: look at network, address and login"


class Answer(NamedTuple):
    """``taken`` or not, and why not, in words that hold no part of the URL."""

    taken: bool
    words: str = ""


class _Overheard(logging.Handler):
    """Keeps of what the library says of a failure only the status code: the rest may hold a secret."""

    def __init__(self) -> None:
        super().__init__()
        self.status = ""

    def emit(self, record: logging.LogRecord) -> None:
        found = _STATUS.search(record.getMessage())
        if found is not None:
            self.status = f"{found[1]} {_PHRASES.get(found[1], '')}".rstrip()


#: The library logs addresses and answers; nothing of it leaves this module.
_library = logging.getLogger("apprise")
_library.propagate = False
_overheard = _Overheard()
_library.addHandler(_overheard)


def scheme(url: SecretStr) -> str:
    """Return the one part of a service's URL that is no secret."""
    return url.get_secret_value().partition("://")[0].lower()


class Messenger:
    """A service, ready to be told.

    Attributes
    ----------
    id : str
        By which the journal knows it again: eight digits of a digest, from which no URL can be found back.
    scheme : str
        Which kind of service it is.

    Raises
    ------
    ConfigError
        The library does not know such a service, or misses a part of its URL.
    """

    def __init__(self, url: SecretStr, number: int) -> None:
        self.scheme = scheme(url)
        self.id = hashlib.sha256(url.get_secret_value().encode()).hexdigest()[:8]
        asset = apprise.AppriseAsset(app_id="Revival Bridge", app_desc="Revival Bridge", app_url="", async_mode=False)
        self._services = apprise.Apprise(asset=asset)
        if not self._services.add(url.get_secret_value()):
            raise ConfigError(
                f"[notify] urls: the {number}. ({self.scheme}, the rest is not shown) is not understood: compare it "
                "with what apprise documents of that service"
            )

    def send(self, text: str, subject: str, urgent: bool) -> Answer:
        """Tell it once; no exception comes out."""
        _overheard.status = ""
        kind = apprise.NotifyType.FAILURE if urgent else apprise.NotifyType.INFO
        title = subject if self.scheme in WITH_SUBJECT else ""
        try:
            taken = self._services.notify(
                body=text, title=title, notify_type=kind, body_format=apprise.NotifyFormat.TEXT
            )
        except Exception as error:  # what a service answers may break the library; its words may hold the address
            return Answer(False, f"{_NOBODY} ({type(error).__name__})")
        if taken:
            return Answer(True)
        return Answer(False, f"it answers {_overheard.status}" if _overheard.status else _NOBODY)


def messengers(urls: tuple[SecretStr, ...]) -> list[Messenger]:
    """Return all of them.

    Raises
    ------
    ConfigError
        With a line for each URL that is not understood.
    """
    found, wrong = [], []
    for number, url in enumerate(urls, 1):
        try:
            found.append(Messenger(url, number))
        except ConfigError as error:
            wrong.append(str(error))
    if wrong:
        raise ConfigError("\n".join(wrong))
    return found
