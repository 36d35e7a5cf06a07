"""What the files of a programme say of themselves: names, labels, chapters, origin."""

from __future__ import annotations

import re
import unicodedata
from datetime import UTC, datetime, tzinfo
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

from quietleaf.booth.reading import ReadingFacts
from quietleaf.delivery.ascii_text import ascii_of_text
from quietleaf.delivery.bext import Coding, CodingStep
from quietleaf.delivery.id3 import Chapter, Tags
from quietleaf.finishing.assembly import master_place
from quietleaf.finishing.plan import RATE_HZ, Plan
from quietleaf.storage.codecs import SoundFile
from quietleaf.work.finish_sound import Labels

if TYPE_CHECKING:
    from quietleaf.planning.station import Station
    from quietleaf.storage.reading_folder import ReadingFolder

NAME = "Quietleaf"
_CODINGS: dict[str, Coding] = {"MP3": "MPEG1L3"}
_TAKES_TOLD = 8
"""So many takes are named in the coding history, which has room for some twenty lines."""


def labels_of_file(path: Path, file: SoundFile, wave_name: str, mp3_name: str) -> Labels:
    """Give what can be said of a bare file: its name, and when it was last written."""
    return Labels(
        wave_name=wave_name,
        mp3_name=mp3_name,
        description=path.stem,
        originator=NAME,
        originator_reference="",
        # What comes nearest to when it was recorded; the same each time.
        recorded_at=datetime.fromtimestamp(path.stat().st_mtime, UTC),
        origin=(_origin(file),),
        info={"title": path.stem, "software": made_by()},
        tags=lambda _plan: Tags(title=path.stem),
        made_by=made_by(),
    )


def labels_of_reading(
    folder: ReadingFolder,
    station: Station | None,
    wave_name: str,
    mp3_name: str,
    articles: tuple[tuple[int, str], ...],
) -> Labels:
    """Give what a reading says: all of it from its assignment, nothing typed twice."""
    facts = folder.facts
    read_by = " and ".join(facts.readers)
    issue = facts.issue_date.isoformat()
    description = f"{facts.programme_title}; {facts.publication}, issue of {issue}; {read_by}"

    def tags(plan: Plan) -> Tags:
        return Tags(
            title=facts.programme_title,
            publication=facts.publication,
            issue_date=facts.issue_date,
            readers=facts.readers,
            chapters=_chapters(plan, articles),
        )

    return Labels(
        wave_name=wave_name,
        mp3_name=mp3_name,
        description=description,
        originator=station.originator if station else NAME,
        originator_reference=facts.reading_id,
        recorded_at=_recorded_at(folder, station),
        origin=tuple(
            CodingStep(
                coding="PCM",
                sample_rate_hz=take.sample_rate_hz,
                mode="mono",
                bits=24,
                text=f"take {take.take}",
            )
            for take in folder.takes()[:_TAKES_TOLD]
        ),
        info={
            "title": facts.programme_title,
            "artist": read_by,
            "product": facts.publication,
            "date": issue,
            "software": made_by(),
        },
        tags=tags,
        made_by=made_by(),
    )


def stem_of_reading(facts: ReadingFacts, station: Station | None) -> str:
    """Name the files: programme, issue date, part, reader. Nothing is typed twice."""
    part = _part(station, facts)
    parts = [
        facts.programme_key,
        facts.issue_date.isoformat(),
        *([f"part-{part}"] if part is not None else []),
        *(slug(reader) for reader in facts.readers),
    ]
    return "-".join(part for part in parts if part)


def places_of_reading(folder: ReadingFolder) -> tuple[tuple[tuple[int, str], ...], tuple[int, ...]]:
    """Give where articles and other takes begin, in 48 kHz samples of the timeline."""
    from quietleaf.storage.resampled_take import frames_at

    rates = {take.take: take.sample_rate_hz for take in folder.takes()}
    timeline = folder.timeline()
    articles: list[tuple[int, str]] = []
    starts: list[int] = []
    place, before = 0, None
    for span in timeline.spans:
        rate = rates[span.take]
        if before is not None and before != span.take:
            starts.append(place)
        before = span.take
        articles += [
            (place + frames_at(mark.sample - span.start, rate, RATE_HZ), mark.title)
            for mark in timeline.articles
            if mark.take == span.take and span.start <= mark.sample < span.stop
        ]
        place += frames_at(span.stop - span.start, rate, RATE_HZ)
    return tuple(articles), tuple(starts)


def slug(text: str) -> str:
    """Make a text fit for a file's name.

    Examples
    --------
    >>> slug("Zoë Ångström")
    'zoe-angstrom'
    """
    plain = ascii_of_text(unicodedata.normalize("NFC", text)).decode("ascii").lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")


def made_by() -> str:
    """Name the program and its version."""
    return f"{NAME} {version('quietleaf')}"


def _origin(file: SoundFile) -> CodingStep:
    info = file.info
    coding = _CODINGS.get(info.encoding, "PCM")
    bits = re.search(r"(\d+)-bit", info.encoding)
    return CodingStep(
        coding=coding,
        sample_rate_hz=info.sample_rate_hz,
        mode="mono" if info.channels == 1 else "stereo",
        bits=int(bits.group(1)) if bits else None,
        text=info.encoding,
    )


def _part(station: Station | None, facts: ReadingFacts) -> int | None:
    """Give which part of a serial this is."""
    for one in station.assignments if station else ():
        if (one.programme_key, one.issue_date) == (facts.programme_key, facts.issue_date):
            return one.part
    return None


def _recorded_at(folder: ReadingFolder, station: Station | None) -> datetime:
    """Give when the first take began, as the station's clock showed it."""
    from quietleaf.booth.edits import TakeRolled, TakeSealed
    from quietleaf.storage.zones import zone_named

    zone: tzinfo = zone_named(station.zone) if station else UTC
    ledger = folder.ledger()
    began = next(
        (edit.at for edit in ledger if isinstance(edit.what, TakeRolled | TakeSealed)),
        ledger[0].at,
    )
    return began.astimezone(zone)


def _chapters(plan: Plan, articles: tuple[tuple[int, str], ...]) -> tuple[Chapter, ...]:
    """Place the articles in the master: each ends where the next begins.

    Those after the place where it stops are not in it.
    """
    stops = [cut for cut in plan.layout.cuts if cut.kind == "stop" and cut.state == "made"]
    articles = tuple(
        article
        for article in articles
        if not any(cut.start <= article[0] < cut.stop for cut in stops)
    )
    starts = [master_place(plan.layout, place) / RATE_HZ for place, _ in articles]
    if not articles:
        return ()
    items = [item for item in plan.layout.items if item.state == "made"]
    read_s = plan.fit.length_s - sum(item.samples for item in items) / RATE_HZ
    ends = [*starts[1:], read_s]
    chapters = tuple(
        Chapter(title=title or f"Article {number}", start_s=start, end_s=end)
        for number, ((_, title), start, end) in enumerate(
            zip(articles, starts, ends, strict=True), start=1
        )
        if end > start
    )
    for item in items:
        length_s = item.samples / RATE_HZ
        chapters += (Chapter(title=item.title, start_s=read_s, end_s=read_s + length_s),)
        read_s += length_s
    return chapters
