"""Encrypted at home: the recipe as it is written, word for word, and a real browser that trusts its authority."""

from __future__ import annotations

import re
import socket
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Error, expect, sync_playwright

import bridge.page.limits
from tests.support.brokers import need
from tests.support.browser_house import FLAGS, PATIENCE
from tests.support.page_site import Site, open_site

RECIPE = Path(bridge.page.limits.__file__).parent / "TLS.md"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder in which the recipe's first step was followed, for this host."""
    made = tmp_path_factory.mktemp("tls")
    (script,) = re.findall(r"```sh\n(.*?)```", RECIPE.read_text("utf-8"), re.DOTALL)
    script = script.replace("ADDRESS=192.0.2.7", "ADDRESS=127.0.0.1")
    told = subprocess.run(["sh", "-eu", "-c", script], cwd=made, check=True, capture_output=True, text=True)
    assert told.stdout.endswith("page.crt: OK\n")
    return made


@pytest.fixture(scope="module")
def site(folder: Path) -> Iterator[Site]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bridge.page.limits, "SEND_WITHIN", 2.0)
        with open_site(folder, 'certificate_file = "page.crt"\nkey_file = "page.key"\n') as opened:
            yield opened


@contextmanager
def telephone(home: Path) -> Iterator[BrowserContext]:
    """A browser with a home of its own, that finds the cabin by its name."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch_persistent_context(
            home / "browser",
            executable_path=need("chromium"),
            args=[*FLAGS, "--host-resolver-rules=MAP cabin.local 127.0.0.1"],
            env={"HOME": str(home)},
        )
        browser.set_default_timeout(PATIENCE)
        yield browser
        browser.close()


def test_a_browser_that_trusts_the_authority_keeps_the_page_and_any_other_refuses_it(
    folder: Path, site: Site, tmp_path: Path
) -> None:
    bench = f"https://cabin.local:{site.port}/bench"
    with telephone(tmp_path) as browser, pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        browser.new_page().goto(bench)
    database = f"sql:{tmp_path}/.pki/nssdb"
    (tmp_path / ".pki/nssdb").mkdir(parents=True, exist_ok=True)
    subprocess.run([need("certutil"), "-N", "--empty-password", "-d", database], check=True)
    authority = str(folder / "authority.crt")
    subprocess.run([need("certutil"), "-d", database, "-A", "-t", "C,,", "-n", "cabin", "-i", authority], check=True)
    with telephone(tmp_path) as browser:
        page = browser.new_page()
        page.goto(bench)
        expect(page.locator("#news")).to_have_text("Live.")
        expect(page.locator("#kept")).to_be_empty()
        assert page.evaluate("navigator.serviceWorker.ready.then(() => window.isSecureContext)") is True
        faults = page.context.new_cdp_session(page).send("Page.getInstallabilityErrors")["installabilityErrors"]
        assert [fault["errorId"] for fault in faults] == []
        browser.set_offline(True)
        page.reload()
        page.wait_for_selector("html[data-ready=yes]")
        expect(page.locator("#reading-label")).to_contain_text("How warm is the acid?")


def test_what_comes_unencrypted_or_never_shakes_hands_is_let_go(site: Site) -> None:
    with socket.create_connection(("127.0.0.1", site.port)) as plain:
        plain.sendall(b"GET / HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n")
        plain.settimeout(20.0)
        assert not plain.recv(4096).startswith(b"HTTP")
    silent = [socket.create_connection(("127.0.0.1", site.port)) for _ in range(20)]
    for one in silent:
        one.settimeout(20.0)
        assert one.recv(1) == b"", "let go when it had said nothing for a while"
        one.close()
