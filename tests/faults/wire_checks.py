"""What the station's disk has, held against what a stand recorded: sample by sample."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from quietleaf.booth.edits import Again, ArticleStarted, SoundMissing, WordsBegun
from quietleaf.booth.replay import counting
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_places import folder_of
from tests.stand_client import Journal


def check_confirmed(data: Path, place: str, journal: Journal, entries: int, samples: int) -> None:
    """Hold what the disk has right after a kill against what the stand was told."""
    folder = folder_of(data, place)  # it opens
    rolled = [record for record in journal.records if record.payload.startswith(b'{"what":"rol')]
    begun = sum(record.entries < entries for record in rolled)
    takes = folder.takes()
    assert len(takes) >= begun
    for take, sent in zip(takes[:begun], journal.takes(), strict=False):
        known = take.samples
        with folder.open_take(take.take) as reader:
            got = b"".join(pcm24_of_samples(block[:, 0]) for block in reader.blocks(1 << 16))
        if known is None and take.take == begun:
            assert len(got) // 3 >= samples
        elif known is not None:
            assert known == len(sent)
        assert got == pcm24_of_samples(sent[: len(got) // 3])


def check_whole(data: Path, place: str, journal: Journal) -> None:
    """Hold the whole reading against what was recorded: sample for sample, mark for mark."""
    folder = folder_of(data, place)
    assert [take.samples for take in folder.takes()] == [len(sent) for sent in journal.takes()]
    for take, sent in zip(folder.takes(), journal.takes(), strict=True):
        with folder.open_take(take.take) as reader:
            got = np.concatenate([block[:, 0] for block in reader.blocks(1 << 16)])
        np.testing.assert_array_equal(got, sent)
    marks = [
        edit
        for edit in folder.ledger()
        if isinstance(edit.what, ArticleStarted | WordsBegun | SoundMissing)
    ]
    sent_marks = [
        record
        for record in journal.records
        if record.payload[:12] in (b'{"what":"art', b'{"what":"wor', b'{"what":"mis')
    ]
    assert len(marks) == len(sent_marks)
    counts = [edit.what for edit in counting(folder.standing) if isinstance(edit.what, Again)]
    assert counts == [
        Again(
            take=asked.take,
            mark=asked.mark,
            back_take=asked.back_take,
            back_sample=asked.back_sample,
            resume=asked.resume,
            lead_in=asked.lead_in,
        )
        for asked in journal.agains.values()
    ]
