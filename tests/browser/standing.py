"""A station with one reader at the stand: the reading is opened, the browser has its cookie."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from quietleaf.booth.reading import ReadingFacts
from quietleaf.storage.index_rows import recorded_row
from quietleaf.storage.reading_folder import ReadingFolder, create_reading
from quietleaf.storage.tokens import Token, new_secret, sha256_of
from quietleaf.work.practice import begin_practice
from quietleaf.work.practice_words import PracticeKind
from quietleaf.work.tools import Tools
from tests.browser.serving import served
from tests.finished import DAY, NOW, example_station

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

PARTS = Path(__file__).parent / "stand_parts"
HOUR = ReadingFacts(
    reading_id="hour",
    programme_key="courier-hour",
    programme_title="The Courier Hour",
    publication="The Marrowby Courier",
    issue_date=DAY,
    readers=("Tomas Vale", "Ada Fenwick"),
    air_date=DAY,
    assignment_key="courier-hour-2026-11-25",
)
REQUEST = replace(
    HOUR,
    reading_id="request",
    programme_key="private-request",
    programme_title="Private Request",
    publication="Pages sent in by a listener",
    issue_date=date(2026, 11, 19),
    readers=("Joan Abara",),
    air_date=None,
    assignment_key="private-request-2026-11-19",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class AtTheStand:
    """A reading that is open, and where its station answers."""

    address: str
    secret: str
    folder: ReadingFolder
    tools: Tools

    def context(self, browser: Browser, **look: Any) -> BrowserContext:
        """Give a browser whose reader sits here."""
        context = browser.new_context(locale="en-GB", **look)
        context.add_cookies(
            [{"name": "quietleaf_sitting", "value": self.secret, "url": self.address}]
        )
        return context


@contextmanager
def at_the_stand(data: Path, facts: ReadingFacts = HOUR) -> Iterator[AtTheStand]:
    """Serve the example station with this reading open for its first reader, in booth 2."""
    tools = example_station(data)
    with tools.database:
        folder = create_reading(data, facts, NOW, facts.readers[0])
        tools.database.index_reading(recorded_row(folder))
        with _sitting(tools, folder, f"readings:{facts.reading_id}") as at:
            yield at


@contextmanager
def practising(data: Path, kind: PracticeKind) -> Iterator[AtTheStand]:
    """Serve the example station with a practice reading open."""
    tools = example_station(data)
    with tools.database:
        folder = begin_practice(kind, tools)
        with _sitting(tools, folder, f"practice:{folder.facts.reading_id}") as at:
            yield at


@contextmanager
def _sitting(tools: Tools, folder: ReadingFolder, place: str) -> Iterator[AtTheStand]:
    secret = new_secret()
    tools.database.add_token(
        Token(
            sha256=sha256_of(secret),
            purpose="sitting",
            made_at=NOW,
            booth="booth-2",
            reader=folder.facts.readers[0],
            reading=place,
        )
    )
    with served(tools) as address:
        yield AtTheStand(address=address, secret=secret, folder=folder, tools=tools)


def without_sound(page: Page) -> None:
    """Put a recorder that does what the test says in place of the real one."""
    for name in ("recorder", "microphone"):
        body = (PARTS / f"{name}.js").read_text(encoding="utf-8")
        page.route(
            f"**/static/scripts/audio/{name}.js",
            lambda route, *, body=body: route.fulfill(body=body, content_type="text/javascript"),
        )
