"""Records on their way: what is written is read, and whatever else comes is refused."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quietleaf.booth.wire import (
    ENTRY,
    HEADER_BYTES,
    SOUND,
    Again,
    Article,
    Entry,
    Missing,
    Record,
    Rolled,
    Sealed,
    Words,
    entry_bytes,
    entry_of,
    joined,
    record_bytes,
    records_of,
)
from quietleaf.errors import Invalid

COUNTS = st.integers(0, 2**32 - 1)
RECORDS = st.builds(
    Record,
    kind=st.just(SOUND),
    number=COUNTS,
    entries=COUNTS,
    first=st.integers(0, 2**64 - 1),
    payload=st.integers(1, 50).flatmap(lambda n: st.binary(min_size=3 * n, max_size=3 * n)),
    whole=st.just(True),
) | st.builds(
    Record,
    kind=st.just(ENTRY),
    number=COUNTS,
    entries=COUNTS,
    first=st.just(0),
    payload=st.binary(max_size=100),
    whole=st.just(True),
)
ENTRIES = [
    Rolled(sample_rate_hz=44_100, origin="Booth 2, “left” side – é"),
    Sealed(samples=1 << 39),
    Article(sample=5, title="Die Fähre"),
    Words(which="opening", sample=0),
    Missing(sample=7, samples=48_000, reason="paused"),
    Again(take=2, mark=9, back_take=1, back_sample=5, resume=9, lead_in=0, instead=None),
    Again(take=2, mark=9, back_take=2, back_sample=0, resume=99, lead_in=30, instead=0),
]


@given(st.lists(RECORDS, max_size=5))
def test_what_is_written_is_read(records: list[Record]) -> None:
    assert records_of(b"".join(record_bytes(record) for record in records)) == records


@given(RECORDS, st.integers(0, 10_000), st.integers(1, 255))
def test_a_byte_that_changed_is_found(record: Record, place: int, change: int) -> None:
    sent = bytearray(record_bytes(record))
    sent[place % len(sent)] ^= change
    try:
        read = records_of(bytes(sent))
    except Invalid:
        return
    assert not read[0].whole


@given(RECORDS, st.integers(1, 10_000))
def test_a_record_that_lost_its_end_is_found(record: Record, lost: int) -> None:
    sent = record_bytes(record)
    kept = sent[: len(sent) - 1 - lost % (len(sent) - 1)]
    if len(kept) < HEADER_BYTES:
        with pytest.raises(Invalid, match="a header has 32 bytes"):
            records_of(kept)
    else:
        assert not records_of(kept)[0].whole


@given(st.binary(min_size=1, max_size=200))
def test_what_is_no_record_is_refused(data: bytes) -> None:
    with pytest.raises(Invalid, match="nothing that was recorded is lost by it"):
        records_of(b"x" + data)


@given(st.lists(st.tuples(st.integers(0, 2), st.integers(0, 3), st.booleans()), max_size=12))
def test_sound_is_joined_where_it_follows_on_itself(
    drawn: list[tuple[int, int, bool]],
) -> None:
    records: list[Record] = []
    at = 0
    for entries, gap, whole in drawn:
        at += gap // 3
        payload = bytes([len(records)]) * 6
        records.append(
            Record(kind=SOUND, number=0, entries=entries, first=at, payload=payload, whole=whole)
        )
        at += 2

    def samples(some: list[Record]) -> list[tuple[int, int, bytes]]:
        """Give every sample with its place."""
        return [
            (record.entries, record.first + n, record.payload[3 * n : 3 * n + 3])
            for record in some
            if record.whole
            for n in range(record.samples)
        ]

    made = joined(records)
    assert samples(made) == samples(records)
    assert [record for record in made if not record.whole] == [
        record for record in records if not record.whole
    ]
    for before, after in pairwise(made):
        follows = (before.entries, before.first + before.samples) == (after.entries, after.first)
        assert not (follows and before.whole and after.whole)


def test_joined_sound_is_no_longer_than_a_record_may_be() -> None:
    long = [
        Record(
            kind=SOUND, number=n, entries=0, first=40_000 * n, payload=bytes(120_000), whole=True
        )
        for n in range(4)
    ]
    assert joined(long) == long


@pytest.mark.parametrize("entry", ENTRIES)
def test_entries_come_back(entry: Entry) -> None:
    assert entry_of(entry_bytes(entry)) == entry


@pytest.mark.parametrize(
    "payload",
    [
        b'{"what":"again","take":1,"mark":9,"backTake":1,"backSample":10,"resume":9,"leadIn":0,"instead":null}',
        b'{"what":"again","take":1,"mark":9,"backTake":2,"backSample":1,"resume":9,"leadIn":0,"instead":null}',
        b'{"what":"again","take":1,"mark":9,"backTake":0,"backSample":1,"resume":9,"leadIn":0,"instead":null}',
        b'{"what":"again","take":1,"mark":9,"backTake":1,"backSample":1,"resume":8,"leadIn":0,"instead":null}',
        b'{"what":"again","take":1,"mark":9,"backTake":1,"backSample":1,"resume":9,"leadIn":0,"instead":true}',
        b'{"what":"again","take":1,"mark":9,"backTake":1,"backSample":1,"resume":9,"leadIn":0}',
        b"",
        b"[]",
        b"{}",
        b'{"what":"erase"}',
        b'{"what":"sealed","samples":-1}',
        b'{"what":"sealed","samples":1e400}',
        b'{"what":"sealed","samples":true}',
        b'{"what":"sealed","samples":9999999999999999}',
        b'{"what":"rolled","rate":0,"origin":""}',
        b'{"what":"rolled","rate":48000,"origin":7}',
        b'{"what":"words","which":"middle","sample":0}',
        b'{"what":"article","sample":0,"title":"\\ud800"}',
        b"\xff\xfe",
        b"[" * 16_000,
    ],
)
def test_an_entry_that_no_stand_makes_is_refused(payload: bytes) -> None:
    with pytest.raises(Invalid, match="an entry is none that a stand makes"):
        entry_of(payload)
