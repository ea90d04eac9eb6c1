"""Fixtures everybody may use: a shared broker, brokers made to order, a misbehaving proxy, certificates."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from xdist.remote import Producer
from xdist.scheduler import LoadFileScheduling

from tests.support.brokers import Broker, Certificates, Proxy
from tests.support.bus_tools import Buses
from tests.support.fault_rig import Rig

# A busy machine is no defect of the code, and a change is not to be blamed for an example that another run would not
# have drawn: the same examples every time. `--hypothesis-profile=explore` draws new ones.
settings.register_profile("house", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile(
    "explore", deadline=None, max_examples=1000, suppress_health_check=[HealthCheck.too_slow], print_blob=True
)
settings.load_profile("house")


#: What takes longest begins first, so that no process waits for another at the end.
LONGEST = (
    "tests/browser/", "tests/bridge/demo/", "tests/moments/", "tests/bridge/fleet/", "tests/faults/",
    "tests/bridge/commands/", "tests/bridge/runtime/", "tests/bridge/listen/", "tests/rules/",
)  # fmt: skip


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the longest files first; each keeps its own order."""
    items.sort(
        key=lambda item: next((k for k, where in enumerate(LONGEST) if item.nodeid.startswith(where)), len(LONGEST))
    )


class ByFile(LoadFileScheduling):  # type: ignore[misc]
    """A file stays in one process, as its costly fixtures do; the browser's files stay together.

    Two browsers at a time starve each other on two cores, and a page that is late is told from one that is wrong by
    waiting alone.
    """

    def _split_scope(self, nodeid: str) -> str:
        return "browser" if nodeid.startswith("tests/browser/") else str(super()._split_scope(nodeid))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> ByFile | None:
    """Share the tests out by file (`--dist loadfile`)."""
    return ByFile(config, log) if config.getvalue("dist") == "loadfile" else None


@pytest.fixture(autouse=True)
def _quiet_afterwards() -> Iterator[None]:
    """A command that ran in this process leaves no log that writes to the output of a test that is over."""
    yield
    for handler in logging.getLogger().handlers[:]:
        if type(handler) is logging.StreamHandler:
            logging.getLogger().removeHandler(handler)


MakeBroker = Callable[..., Broker]


@pytest.fixture(scope="session")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Broker]:
    """One mosquitto for the whole run (anonymous, no persistence): use topics of your own. Do not stop or freeze it."""
    running = Broker(tmp_path_factory.mktemp("broker")).start()
    yield running
    running.stop()


@pytest.fixture
def make_broker(tmp_path: Path) -> Iterator[MakeBroker]:
    """Brokers of your own: `make_broker(lines=[...], anonymous=True, tls=certificates, start=True)`."""
    made: list[Broker] = []

    def make(
        lines: Iterable[str] = (), *, anonymous: bool = True, tls: Certificates | None = None, start: bool = True
    ) -> Broker:
        made.append(Broker(tmp_path / f"broker{len(made)}", lines, anonymous=anonymous, tls=tls))
        return made[-1].start() if start else made[-1]

    yield make
    for one in made:
        one.stop()


@pytest.fixture
def make_proxy() -> Iterator[Callable[[int], Proxy]]:
    """Proxies in front of a port."""
    made: list[Proxy] = []

    def make(port: int) -> Proxy:
        made.append(Proxy(port))
        return made[-1]

    yield make
    for one in made:
        one.close()


@pytest.fixture(scope="session")
def certificates(tmp_path_factory: pytest.TempPathFactory) -> Certificates:
    """A valid authority, server and client certificate."""
    return Certificates(tmp_path_factory.mktemp("certificates"))


@pytest.fixture(scope="session")
def expired_certificates(tmp_path_factory: pytest.TempPathFactory) -> Certificates:
    """The same, but the server's certificate ended in 2020."""
    return Certificates(tmp_path_factory.mktemp("expired"), expired=True)


@pytest.fixture
def make_bus(caplog: pytest.LogCaptureFixture) -> Iterator[Buses]:
    """Buses: `make_bus(broker, live=[...], history=[...], commands=[...], base=..., **broker settings)`."""
    buses = Buses()
    yield buses
    buses.close()
    assert "Caught exception" not in caplog.text, "a callback is defective"


@pytest.fixture
def make_rig(make_broker: MakeBroker, tmp_path: Path) -> Iterator[Callable[..., Rig]]:
    """Whole cabins: `make_rig(extra="...", lines=[...], port=...)`."""
    made: list[Rig] = []

    def make(*, lines: Iterable[str] = (), broker: Broker | None = None, **options: object) -> Rig:
        made.append(Rig(broker or make_broker(lines), tmp_path, **options))  # type: ignore[arg-type]
        return made[-1]

    yield make
    for one in made:
        one.close()
