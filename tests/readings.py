"""Readings for tests: facts, entries, takes, and folders made of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from quietleaf.booth.admission import admit
from quietleaf.booth.edits import (
    DECISIONS,
    WANTED,
    Again,
    ArticleStarted,
    Cut,
    Decided,
    Edit,
    HandedIn,
    Happening,
    Opened,
    PlanDecided,
    Remarked,
    RoomChecked,
    SoundMissing,
    StateSet,
    TakeRolled,
    TakeSealed,
    Undo,
    WordsBegun,
)
from quietleaf.booth.reading import READING_STATES, HandIn, ReadingFacts
from quietleaf.booth.replay import START, Standing, step
from quietleaf.errors import Refused
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_folder import ReadingFolder, create_reading, new_reading

AT = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
FACTS = ReadingFacts(
    reading_id="r7",
    programme_key="harbour-morning",
    programme_title="Harbour Morning",
    publication="The Harbour Lantern",
    issue_date=date(2026, 11, 25),
    readers=("Ada Quill", "Tom Lark"),
    air_date=date(2026, 11, 26),
)


def sealed(take: int, samples: int, sample_rate_hz: int = 48_000) -> TakeSealed:
    """Give the entry of a complete take."""
    return TakeSealed(
        take=take, sample_rate_hz=sample_rate_hz, samples=samples, sha256="0" * 64, origin="a test"
    )


def standing_of(*happenings: Happening, facts: ReadingFacts = FACTS) -> Standing:
    """Enter what happened after the reading was opened, each on the reading as it stood."""
    standing = START
    for what in (Opened(facts=facts), *happenings):
        standing = enter(standing, what)
    return standing


def enter(standing: Standing, what: Happening, revision: int | None = None) -> Standing:
    """Enter one thing, as `append` does: numbered, admitted."""
    edit = Edit(
        number=standing.revision + 1,
        edit_id=f"e{standing.revision + 1}",
        author="Ada",
        at=AT,
        revision=standing.revision if revision is None else revision,
        what=what,
    )
    admit(standing, edit)
    return step(standing, edit)


def noise(samples: int, seed: int = 7) -> NDArray[np.float64]:
    """Make noise that 24 bits hold exactly, shape (n,)."""
    rng = np.random.default_rng(seed)
    return rng.integers(-(1 << 22), 1 << 22, samples) / float(1 << 23)


def folder_with(
    data: Path, *takes: NDArray[np.float64], sample_rate_hz: int = 48_000, name: str = "r7"
) -> ReadingFolder:
    """Make a reading of these takes on the disk."""
    with new_reading(data, replace(FACTS, reading_id=name), at=AT, author="Ada") as folder:
        for samples in takes:
            writer = folder.next_take(sample_rate_hz)
            writer.append(pcm24_of_samples(samples))
            folder.seal(writer, origin="a test", author="Ada", at=AT)
    return folder


def create_rolling(data: Path, sample_rate_hz: int = 44_100) -> ReadingFolder:
    """Make a reading on the disk whose first take has begun, and has nothing in it."""
    folder = create_reading(data, FACTS, AT, "Ada")
    folder.roll(sample_rate_hz, author="Ada", at=AT).close()
    return folder


def part_of_take(number: int) -> bytes:
    """Make the samples of one record: 24-bit noise of a length that depends on the number."""
    return pcm24_of_samples(noise(1 + 37 * number % 2_048, seed=number))


# Ledgers for laws: takes of a few dozen samples, so that a slow twin can look at each sample.

PLACES = st.integers(0, 40)
TAKES = st.integers(1, 4)
HAPPENINGS: st.SearchStrategy[Happening] = st.one_of(
    st.builds(TakeRolled, take=TAKES, sample_rate_hz=st.just(48_000)),
    st.builds(sealed, take=TAKES, samples=PLACES),
    st.builds(Again, take=TAKES, mark=PLACES, back_take=TAKES, back_sample=PLACES, resume=PLACES),
    st.builds(Cut, take=TAKES, start=PLACES, stop=PLACES),
    st.builds(ArticleStarted, take=TAKES, sample=PLACES, title=st.sampled_from(["", "A", "B"])),
    st.builds(WordsBegun, which=st.sampled_from(["opening", "closing"]), take=TAKES, sample=PLACES),
    st.builds(SoundMissing, take=TAKES, sample=PLACES, samples=PLACES, reason=st.just("paused")),
    st.just(RoomChecked(file="", sha256="", facts={"passed_over": True})),
    st.builds(HandedIn, hand_in=st.builds(HandIn, remark=st.sampled_from(["", "Zäh — “gut”"]))),
    st.builds(
        Decided,
        start=st.tuples(TAKES, PLACES),
        stop=st.tuples(TAKES, PLACES),
        finding=st.sampled_from(["", "cough", "hum"]),
        decision=st.sampled_from(DECISIONS),
    ),
    st.builds(Remarked, place=st.tuples(TAKES, PLACES), text=st.just("Clear and warm.")),
    st.builds(
        PlanDecided,
        of=st.just("repair"),
        what=st.just("dropout"),
        start=st.none() | st.tuples(TAKES, PLACES),
        stop=st.none() | st.tuples(TAKES, PLACES),
        wanted=st.sampled_from(WANTED),
        value=st.sampled_from([None, 6.0]),
    ),
    st.builds(Undo, of=st.integers(2, 20)),
    st.builds(StateSet, state=st.sampled_from(READING_STATES), note=st.just("")),
)


@st.composite
def standings(draw: st.DrawFn, most: int = 25) -> Standing:
    """Give readings after whatever of many random wishes was admitted."""
    standing = standing_of(sealed(1, draw(PLACES)))
    for what in draw(st.lists(HAPPENINGS, max_size=most)):
        try:
            standing = enter(standing, what)
        except Refused:
            # Most random wishes do not hold together: the others make the ledger.
            continue
    return standing
