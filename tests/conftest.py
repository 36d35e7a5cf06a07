"""What every test may ask for, and the lines at the end of a run.

A missing helper skips the tests that want it, with its reason; under ``QUIETLEAF_STRICT=1`` it is
a failure instead, so that no skip hides a broken installation.
"""

from __future__ import annotations

import itertools
import os
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, TypeVar

import hypothesis
import pytest

from tests import helpers

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

Found = TypeVar("Found")

# The same examples at each `make test`, fresh ones at `make long`; never a limit of time.
hypothesis.settings.register_profile(
    "house",
    deadline=None,
    derandomize=True,
    suppress_health_check=[hypothesis.HealthCheck.too_slow],
)
hypothesis.settings.register_profile(
    "long",
    deadline=None,
    max_examples=2_000,
    print_blob=True,
    suppress_health_check=[hypothesis.HealthCheck.too_slow],
)
hypothesis.settings.load_profile("house")


@pytest.fixture(scope="session")
def ffmpeg() -> Path:
    """Give the ffmpeg program."""
    return _had(helpers.find_ffmpeg)


@pytest.fixture(scope="session")
def ffprobe() -> Path:
    """Give the ffprobe program."""
    return _had(helpers.find_ffprobe)


@pytest.fixture(scope="session")
def node() -> Path:
    """Give the Node program."""
    return _had(helpers.find_node)


@pytest.fixture(scope="session")
def typescript(node: Path) -> list[str]:
    """Give the command that checks the types of scripts."""
    return [str(node), str(_had(helpers.find_typescript))]


@pytest.fixture(scope="session")
def aac() -> None:
    """Ask for the extra that reads and writes M4A."""
    _had(lambda: helpers.need_module("av", what="PyAV", helper="aac"))


@pytest.fixture(scope="session")
def aligner() -> None:
    """Ask for the extra that lays known words along sound."""
    _had(lambda: helpers.need_module("pocketsphinx", what="aligner", helper="aligner"))


@pytest.fixture(scope="session")
def recogniser_model() -> Path:
    """Give the folder of a recogniser's model.

    It may rightly be absent, so that strict mode skips too.
    """
    try:
        return helpers.find_recogniser()
    except helpers.HelperMissing as missing:
        pytest.skip(str(missing))


@pytest.fixture(scope="session")
def recordings() -> Path:
    """Give the folder of shared recordings.

    They may rightly be absent, so that strict mode skips too.
    """
    try:
        return helpers.find_recordings()
    except helpers.HelperMissing as missing:
        pytest.skip(str(missing))


@pytest.fixture(scope="session")
def prompts() -> list[Path]:
    """Give recorded prompts of one real voice.

    Like the recordings they may rightly be absent, so that strict mode skips too.
    """
    try:
        return helpers.find_prompts()
    except helpers.HelperMissing as missing:
        pytest.skip(str(missing))


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory, node: Path) -> Iterator[Browser]:
    """Give one running Chromium, driven by Playwright.

    While it runs, the thread has a running event loop: a test with a browser cannot call
    ``asyncio.run``.
    """
    _had(helpers.find_browser)
    _had(
        lambda: helpers.need_module(
            "playwright", what="driver for the browser", helper="browser driver"
        )
    )
    # Playwright's own Node wants a library that a bare Debian lacks.
    os.environ["PLAYWRIGHT_NODEJS_PATH"] = str(node)
    from playwright.sync_api import sync_playwright

    profile = tmp_path_factory.mktemp("browser")
    with helpers.running_browser(profile) as (_, address), sync_playwright() as playwright:
        connected = playwright.chromium.connect_over_cdp(address)
        yield connected
        connected.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """Give a fresh page: no cookies, no store, English, 1280 by 800."""
    context = browser.new_context(locale="en-GB", viewport={"width": 1280, "height": 800})
    yield context.new_page()
    context.close()


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """Give the URL of the first database of one running PostgreSQL server."""
    server = helpers.running_postgres()
    url = _had(server.__enter__)
    yield url
    server.__exit__(None, None, None)


@pytest.fixture
def postgres(postgres_server: str) -> Iterator[str]:
    """Give the URL of a database of its own, empty, in PostgreSQL."""
    import psycopg

    name = f"test_{next(_NUMBERS)}"
    plain = postgres_server.replace("+psycopg", "")
    with psycopg.connect(plain, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
        yield postgres_server.replace("/postgres?", f"/{name}?")
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


_NUMBERS = itertools.count(1)


def _had(find: Callable[[], Found]) -> Found:
    try:
        return find()
    except helpers.HelperMissing as missing:
        _do_without(missing)


def _do_without(missing: helpers.HelperMissing) -> NoReturn:
    if helpers.STRICT:
        pytest.fail(str(missing), pytrace=False)
    pytest.skip(str(missing))


# The lines at the end: one for each reason to skip, with its count; the very last counts all.


class Tally:
    """Counts outcomes as pytest reports them."""

    def __init__(self) -> None:
        self.passed = 0
        self.failed: set[str] = set()
        self.reasons: Counter[str] = Counter()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Count one test's set-up, call or tear-down."""
        if report.failed:
            self.failed.add(report.nodeid)
        elif report.skipped:
            self.reasons[_reason(report)] += 1
        elif report.when == "call":
            self.passed += 1

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        """Count a file that could not be read, or that skips as a whole."""
        if report.failed:
            self.failed.add(report.nodeid)
        elif report.skipped:
            self.reasons[_reason(report)] += 1

    def lines(self) -> list[str]:
        """Write the closing lines."""
        told = [f"skipped {count}: {reason}" for reason, count in self.reasons.most_common()]
        skipped = self.reasons.total()
        return [*told, f"{self.passed} passed, {len(self.failed)} failed, {skipped} skipped"]


def _reason(report: pytest.TestReport | pytest.CollectReport) -> str:
    known_bug = getattr(report, "wasxfail", None)
    if known_bug is not None:
        return f"known bug: {known_bug}"
    if isinstance(report.longrepr, tuple):
        return report.longrepr[2].removeprefix("Skipped: ")
    return str(report.longrepr)


def pytest_configure(config: pytest.Config) -> None:
    """Start counting, in the process that hears of every test."""
    if not hasattr(config, "workerinput"):
        config.pluginmanager.register(Tally(), "tally")


@pytest.hookimpl(trylast=True)
def pytest_unconfigure(config: pytest.Config) -> None:
    """Print the closing lines, after all that pytest prints itself."""
    tally = config.pluginmanager.get_plugin("tally")
    if isinstance(tally, Tally) and not config.option.collectonly:
        print("\n".join(tally.lines()), flush=True)
