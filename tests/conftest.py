"""Fixtures over the real parts, and the line at the start that says which ones they are.

The databases are started once, by the process that hands out the tests, and its helpers are told their addresses;
they start in a second, but a server for each helper would be memory for nothing. Runs of `tests/unit` and
`tests/published` alone start no server.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

from tests.parts import broker as broker_part
from tests.parts import browser as browser_part
from tests.parts import containers, databases, mail, plain, timescale, webhook
from tests.parts.broker import Broker
from tests.parts.mail import Mailbox
from tests.parts.packages import MissingPartError
from tests.parts.postgres import running
from tests.parts.webhook import Receiver

_NEED_NO_SERVER = {"unit", "published"}
_STACK = pytest.StashKey[ExitStack]()
_URLS = pytest.StashKey[dict[str, str]]()
_HEADER = pytest.StashKey[list[str]]()

settings.register_profile("wickwatch", deadline=None, derandomize=True, database=None)
settings.load_profile("wickwatch")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the demo, the longest of all, first: as the last one it would run alone."""
    items.sort(key=lambda item: "test_demo.py" not in item.nodeid)


def pytest_configure(config: pytest.Config) -> None:
    """Start the databases, unless this is a helper (then its master has) or no chosen test can want them."""
    if hasattr(config, "workerinput"):
        config.stash[_URLS] = config.workerinput["database_urls"]
        return
    config.stash[_STACK] = ExitStack()
    config.stash[_URLS] = {}
    config.stash[_HEADER] = []
    if config.option.collectonly or not _wants_servers(config):
        return
    try:
        contained = containers.available()
        for name, part in (
            ("timescale", containers.running() if contained else running(timescale.binaries(), in_memory=True)),
            ("plain", running(plain.binaries(), in_memory=True)),
        ):
            server = config.stash[_STACK].enter_context(part)
            where = ", in a container" if isinstance(server, containers.Contained) else ""
            config.stash[_URLS][name] = server.url()
            config.stash[_HEADER].append(f"database: {databases.describe(server)}{where}")
        config.stash[_HEADER].append(f"broker: {broker_part.describe()}")
        config.stash[_HEADER].append(f"browser: {browser_part.describe()}")
    except MissingPartError as missing:
        raise pytest.UsageError(str(missing)) from missing


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: Any) -> None:
    """Tell a helper where the databases are."""
    node.workerinput["database_urls"] = node.config.stash[_URLS]


def pytest_unconfigure(config: pytest.Config) -> None:
    """Stop what was started here."""
    stack = config.stash.get(_STACK, None)
    if stack is not None:
        stack.close()


def pytest_report_header(config: pytest.Config) -> list[str]:
    """Which real parts this run uses."""
    return config.stash.get(_HEADER, [])


def _wants_servers(config: pytest.Config) -> bool:
    here = Path(__file__).parent
    for argument in config.args:
        path = (config.invocation_params.dir / argument.split("::")[0]).resolve()
        if not path.is_relative_to(here) or path == here:
            return True
        if path.relative_to(here).parts[0] not in _NEED_NO_SERVER:
            return True
    return False


@pytest.fixture(autouse=True)
def _logger_as_it_was() -> Iterator[None]:
    """Undo what a command run inside the test's own process did to the program's logger."""
    logger = logging.getLogger("wickwatch")
    before = logger.handlers[:], logger.level, logger.propagate
    yield
    logger.handlers[:], logger.level, logger.propagate = before


# Databases. Each test that asks for one gets its own, which nobody else sees, and which is dropped afterwards.


@pytest.fixture
def timescale_url(pytestconfig: pytest.Config) -> Iterator[str]:
    """A fresh, migrated database with TimescaleDB."""
    with databases.migrated(_server_url(pytestconfig, "timescale")) as url:
        yield url


@pytest.fixture
def plain_url(pytestconfig: pytest.Config) -> Iterator[str]:
    """A fresh, migrated database without TimescaleDB."""
    with databases.migrated(_server_url(pytestconfig, "plain")) as url:
        yield url


@pytest.fixture(scope="module")
def shared_plain_url(pytestconfig: pytest.Config) -> Iterator[str]:
    """One migrated database without TimescaleDB for all tests of a module, none of which minds what others wrote."""
    with databases.migrated(_server_url(pytestconfig, "plain")) as url:
        yield url


@pytest.fixture(params=["timescale", "plain"])
def database_url(request: pytest.FixtureRequest) -> Iterator[str]:
    """A fresh, migrated database; the test runs once with TimescaleDB and once without."""
    with databases.migrated(_server_url(request.config, request.param)) as url:
        yield url


@pytest.fixture(scope="session")
def plain_server(pytestconfig: pytest.Config) -> str:
    """The server without TimescaleDB, for what makes its databases itself."""
    return _server_url(pytestconfig, "plain")


@pytest.fixture(scope="session", params=["timescale", "plain"])
def server(request: pytest.FixtureRequest) -> str:
    """Each of the servers in turn, likewise."""
    return _server_url(request.config, request.param)


@pytest.fixture(params=["timescale", "plain"])
def empty_database_url(request: pytest.FixtureRequest) -> Iterator[str]:
    """A database with nothing in it; the test runs once with TimescaleDB and once without."""
    with databases.empty(_server_url(request.config, request.param)) as url:
        yield url


def _server_url(config: pytest.Config, name: str) -> str:
    url = config.stash[_URLS].get(name)
    assert url is not None, "tests that need a database belong outside tests/unit and tests/published"
    return url


# Other servers. Those with a life of their own (to be killed, refilled, reconfigured) are a test's own.


@pytest.fixture
def broker() -> Iterator[Broker]:
    """A broker of the test's own, with the accounts of the services, the simulator and two gateways."""
    with broker_part.running(["birchwood/gw-01", "birchwood/gw-02"]) as running_broker:
        yield running_broker


@pytest.fixture
def mailbox() -> Iterator[Mailbox]:
    """An SMTP server of the test's own."""
    with mail.running() as running_mailbox:
        yield running_mailbox


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    """An HTTP server of the test's own that keeps what is posted to it."""
    with webhook.running() as running_receiver:
        yield running_receiver
