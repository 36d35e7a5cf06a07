"""Readings that are being handed in, for tests: real folders in the example station."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from quietleaf.booth.edits import WordsBegun
from quietleaf.booth.reading import HandIn
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_folder import ReadingFolder, create_reading
from quietleaf.storage.reading_places import READINGS, place_of
from quietleaf.storage.tokens import Token, new_secret, sha256_of
from quietleaf.work.hand_in import HandInReading
from quietleaf.work.tools import Tools
from tests.finished import NOW, other_reading
from tests.signals import speech_like

RATE_HZ = 48_000
READER = "Tomas Vale"
LEFT = HandIn(
    place_page="7", place_headline="The ferry", remark="A door banged.", tidied=("The paper",)
)


def booth_reading(
    tools: Tools, programme_key: str = "courier-hour", seconds: float = 1.0, part: int | None = None
) -> ReadingFolder:
    """Put a reading into the booth, with one sealed take of noise and the closing words begun."""
    facts = replace(other_reading(programme_key, "t5"), part=part)
    folder = create_reading(tools.data, facts, NOW, READER)
    add_take(folder, seconds, seed=1)
    folder.append(WordsBegun(which="closing", take=1, sample=0), author=READER, at=NOW)
    tools.database.index_reading(reading_row(folder))
    return folder


def add_take(folder: ReadingFolder, seconds: float = 1.0, seed: int = 2, seal: bool = True) -> None:
    """Roll a take of something like speech; leave it open if it is not to be sealed."""
    with folder.roll(RATE_HZ, author=READER, at=NOW) as writer:
        writer.append(pcm24_of_samples(speech_like(seed, seconds)))
        writer.sync()
        if seal:
            folder.seal(writer, origin="a test", author=READER, at=NOW)


def sit(
    tools: Tools, place: str | None, reader: str = READER, booth: str | None = "booth-1"
) -> str:
    """Let a reader sit down; give the secret."""
    secret = new_secret()
    tools.database.add_token(
        Token(
            sha256=sha256_of(secret),
            purpose="sitting",
            made_at=NOW,
            booth=booth,
            reader=reader,
            reading=place,
        )
    )
    return secret


def request_of(
    folder: ReadingFolder, secret: str = "", left: HandIn = LEFT, **more: object
) -> HandInReading:
    """Ask for a reading to be handed in."""
    asked = HandInReading(
        place=place_of(READINGS, folder.facts.reading_id),
        reader=READER,
        booth="booth-1",
        sitting=sha256_of(secret),
        left=left,
    )
    return replace(asked, **more)  # type: ignore[arg-type]


def flip_bit(path: Path, offset: int = 1000) -> None:
    """Change one bit of a file."""
    data = bytearray(path.read_bytes())
    data[offset] ^= 1
    path.write_bytes(bytes(data))
