"""Files as somebody hostile, or a bad disk, would hand them in: seeds, mutations, and their counts.

Run as a program it works through some mutations in a process of its own, so that a crash, memory
without bound and time without end are told from outside::

    python -m tests.hostile KIND FIRST COUNT

A seed's number makes its mutation again.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
import resource
import struct
import sys
import tempfile
import zlib
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from quietleaf.booth.corrections import corrections
from quietleaf.booth.edits import (
    Again,
    ArticleStarted,
    Cut,
    Decided,
    HandedIn,
    Patch,
    PlanDecided,
    Remarked,
    RoomChecked,
    SoundMissing,
    StateSet,
    TakeRolled,
    Undo,
    WordsBegun,
)
from quietleaf.booth.ledger import HEAD_BYTES, line_of_edit
from quietleaf.booth.reading import READING_STATES, HandIn
from quietleaf.booth.replay import hand_in, timeline
from quietleaf.booth.wire import (
    ENTRY,
    SOUND,
    Article,
    Record,
    Rolled,
    entry_bytes,
    entry_of,
    record_bytes,
    records_of,
)
from quietleaf.delivery.bext import BroadcastExtension, bext_bytes
from quietleaf.errors import LONGEST_SENTENCE, QuietleafError
from quietleaf.finishing.plan_json import plan_of_text, plan_to_text
from quietleaf.storage.backup_store import BackupStore, ListedFile
from quietleaf.storage.codecs import CHANNELS_MAX, RATE_HZ_MAX, RATE_HZ_MIN, open_sound
from quietleaf.storage.index_rows import read_made
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_folder import LEDGER, ReadingFolder
from quietleaf.storage.station_file import read_station
from quietleaf.storage.take_reader import TakeReader
from quietleaf.storage.take_sums import LINE_BYTES
from quietleaf.storage.takes import begin_take, recover_take
from tests.mutations import bytes_changed, tree_changed
from tests.readings import AT, noise, sealed, standing_of
from tests.wave_files import FLOAT, UNKNOWN, chunk, ds64, fmt, packed, steps, wave

MEMORY_BYTES = 64 << 20
"""More than is needed for files of some kilobytes, and less than a size in a header claims."""
CONTROL = re.compile(r"[\x00-\x1f\x7f]")
CPU_S_EACH = 0.5
STATION = Path(__file__).parent.parent / "src/quietleaf/example/station.toml"

Mutate = Callable[[np.random.Generator], bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of file.

    Attributes
    ----------
    mutate : callable
        Makes a hostile file.
    endure : callable
        Reads it in a folder, as the station would; whatever is refused, is refused by it.
    share : int
        Of a hundred mutations.
    """

    mutate: Mutate
    endure: Callable[[Path, bytes], None]
    share: int


def run(kind: str, first: int, count: int) -> Counter[str]:
    """Work through some mutations of a kind; count what was read, and each code of a refusal."""
    told: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(first, first + count):
            data = KINDS[kind].mutate(np.random.default_rng(seed))
            try:
                KINDS[kind].endure(Path(folder), data)
            except QuietleafError as refused:
                refusal = refused
            except BaseException as fault:
                raise AssertionError(f"{kind}, mutation {seed}") from fault
            else:
                told["read"] += 1
                continue
            assert _is_sentence(refusal.sentence), (kind, seed, refusal.sentence)
            told[refusal.code] += 1
    return told


def _is_sentence(text: str) -> bool:
    return text.endswith(".") and not CONTROL.search(text) and len(text) <= LONGEST_SENTENCE + 3


def _text(tree: Any) -> str:
    return json.dumps(tree)


# Sound


_DATA = packed(steps(1_200, 24), 3)
_CART = struct.pack("<4s", b"0101") + b"Harbour Morning".ljust(2_044, b"\0")
WAVES: dict[str, bytes] = {
    "wav": wave(fmt(bits=24), chunk(b"data", _DATA)),
    "wav of floats": wave(
        fmt(tag=FLOAT, bits=32), chunk(b"fact", bytes(4)), chunk(b"data", bytes(3_600))
    ),
    "rf64": wave(
        ds64(data=3_600),
        fmt(bits=24, channels=3),
        chunk(b"data", _DATA, size=UNKNOWN),
        outer=b"RF64",
        size=UNKNOWN,
    ),
    "bwf": wave(
        chunk(b"JUNK", bytes(28)),
        chunk(b"bext", bext_bytes(BroadcastExtension(description="Letters", originator="Quay"))),
        fmt(bits=16, channels=2, extensible=True),
        chunk(b"data", _DATA),
        chunk(b"LIST", b"INFOINAM\x04\0\0\0abc\0"),
    ),
    "cart": wave(fmt(bits=24), chunk(b"cart", _CART), chunk(b"data", _DATA)),
}


def _coded(kind: str, subtype: str, rate_hz: int) -> bytes:
    rng = np.random.default_rng(4)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a"
        with soundfile.SoundFile(path, "w", rate_hz, 1, subtype, format=kind) as file:
            for _ in range(3):
                file.write(0.1 * rng.standard_normal(4_096))
        return path.read_bytes()


def _endure_sound(folder: Path, data: bytes) -> None:
    path = folder / "a.sound"
    path.write_bytes(data)
    with open_sound(path) as sound:
        assert RATE_HZ_MIN <= sound.info.sample_rate_hz <= RATE_HZ_MAX
        assert 1 <= sound.info.channels <= CHANNELS_MAX
        count = 0
        for block in sound.blocks():
            assert np.isfinite(block).all()
            count += len(block)
        assert count == sound.info.frames > 0


def _sound(data: bytes, share: int, head_bytes: int) -> Kind:
    return Kind(
        mutate=lambda rng: bytes_changed(data, rng, head_bytes),
        endure=_endure_sound,
        share=share,
    )


# A reading's folder


_LEDGER = [
    line_of_edit(edit)
    for edit in standing_of(
        RoomChecked(file="room/0001.wav", sha256="0" * 64, facts={"noise_dbov": -60.0, "ok": True}),
        TakeRolled(take=1, sample_rate_hz=48_000),
        ArticleStarted(take=1, sample=10, title="Ferries"),
        WordsBegun(which="opening", take=1, sample=2),
        SoundMissing(take=1, sample=40, samples=3, reason="paused"),
        Again(take=1, mark=60, back_take=1, back_sample=30, resume=80),
        sealed(1, 2_000),
        Cut(take=1, start=100, stop=200),
        Undo(of=9),
        Decided(start=(1, 5), stop=(1, 9), finding="pop", decision="leave"),
        Remarked(place=(1, 7), text="A lorry."),
        PlanDecided(
            of="cut", what="dead-air", start=(1, 5), stop=(1, 9), wanted="made", value=None
        ),
        PlanDecided(of="length", what="", start=None, stop=None, wanted="made", value=58.0),
        HandedIn(hand_in=HandIn(place_page="7", tidied=("Paper",))),
        StateSet(state="handed in", note=""),
        Decided(start=(1, 300), stop=(1, 400), finding="", decision="read again", note="price"),
        StateSet(state="returned", note=""),
        TakeRolled(take=2, sample_rate_hz=48_000, read_for=17, first_take=2),
        sealed(2, 100),
        Patch(read_for=17, begin=(2, 10), until=(2, 90), start=(1, 300), stop=(1, 400)),
    ).edits
]


def _ledger(rng: np.random.Generator) -> bytes:
    whole = b"".join(_LEDGER)
    if rng.random() < 0.5:
        return bytes_changed(whole, rng, len(whole))
    lines = [json.loads(line) for line in _LEDGER]
    at = int(rng.integers(0, len(lines)))
    # One that is whole by its checksum, whatever it says.
    lines[at] = tree_changed(lines[at], rng)
    return b"".join(_summed(line) for line in lines if isinstance(line, dict))


def _summed(line: dict[str, Any]) -> bytes:
    rest = _text({name: value for name, value in line.items() if name != "crc32"})[1:].encode()
    head = b'{"crc32":"%08x",' % zlib.crc32(rest)
    assert len(head) == HEAD_BYTES
    return head + rest + b"\n"


def _endure_ledger(folder: Path, data: bytes) -> None:
    (folder / LEDGER).write_bytes(data)
    reading = ReadingFolder(folder)
    lengths = {take.take: 500 for take in reading.takes() if take.samples is None}
    for span in timeline(reading.standing, lengths).spans:
        assert 0 <= span.start < span.stop
    hand_in(reading.standing)
    corrections(reading.standing)
    for edit in reading.ledger():
        line_of_edit(edit)
    assert reading.facts.issue_date <= date.max
    assert reading.state in READING_STATES


def _take() -> tuple[bytes, bytes]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "0001.wav"
        with begin_take(path, 48_000) as writer:
            for seed in range(4):
                writer.append(pcm24_of_samples(noise(100, seed)))
            writer.sync()
        return path.read_bytes(), path.with_suffix(".sums").read_bytes()


_WAV, _SUMS = _take()


def _sums(rng: np.random.Generator) -> bytes:
    if rng.random() < 0.3:
        return bytes([len(_SUMS)]) + _SUMS + bytes_changed(_WAV, rng, 120)
    made = bytes_changed(_SUMS, rng, len(_SUMS))[:255]
    if rng.random() < 0.3:
        at = LINE_BYTES * int(rng.integers(0, 4))
        count = int(rng.choice([0, 1, 99, 101, 65_536, 65_537, 1 << 31, 10**10 - 1]))
        made = _SUMS[:at] + b"%010d" % count + _SUMS[at + 10 :]
    return bytes([len(made)]) + made + _WAV


def _endure_take(folder: Path, data: bytes) -> None:
    path = folder / "0001.wav"
    size = data[0]
    path.with_suffix(".sums").write_bytes(data[1 : 1 + size])
    path.write_bytes(data[1 + size :])
    stored = recover_take(path)
    with TakeReader(path) as reader:
        assert reader.info.frames == stored.samples <= 400
        reader.read(0, reader.info.frames)


_MADE = {
    "masters": [
        {"kind": "wave", "path": "masters/a.wav", "bytes": 0, "sha256": "0" * 64, "facts": {}}
    ]
}


def _endure_made(folder: Path, data: bytes) -> None:
    (folder / "masters").mkdir(exist_ok=True)
    (folder / "masters/a.wav").touch()
    (folder / "masters/made.json").write_bytes(data)
    for row in read_made(folder):
        assert (folder / row.path).is_relative_to(folder / "masters")


# What a station is set up from, finished by, backed up in and sent


def _plan_text() -> str:
    # Imported late: making one takes the whole of finishing.
    from tests.unit.finishing.planned import plan_of
    from tests.unit.finishing.test_pauses import with_dead_air

    return plan_to_text(plan_of(with_dead_air(6.0, noise_at_s=2.5)[0].samples(), "-18"))


def _endure_plan(_folder: Path, data: bytes) -> None:
    plan = plan_of_text(data.decode(errors="replace"))
    plan_to_text(plan).encode()


def _endure_station(folder: Path, data: bytes) -> None:
    path = folder / "station.toml"
    path.write_bytes(data)
    read_station(path)


_PIECE = b"what was read"
_LISTED = {
    "schema": "quietleaf/backup/1",
    "files": [
        asdict(
            ListedFile(
                path="readings/a/ledger.jsonl",
                size_bytes=len(_PIECE),
                changed_ns=1,
                pieces=(hashlib.sha256(_PIECE).hexdigest(),),
            )
        )
    ],
}


def _backup(rng: np.random.Generator) -> bytes:
    """Give the description of a backup, a line, and its listing."""
    about = {"schema": "quietleaf/backup/1", "sealed": None}
    if rng.random() < 0.3:
        about = tree_changed(about, rng)
    text = _text(tree_changed(_LISTED, rng)).encode()
    listing = hashlib.sha256(text).hexdigest().encode() + b"\n" + text
    if rng.random() < 0.3:
        listing = bytes_changed(listing, rng, len(listing))
    return _text(about).encode() + b"\n" + listing


def _endure_backup(folder: Path, data: bytes) -> None:
    about, _, listing = data.partition(b"\n")
    (folder / "pieces" / "00").mkdir(parents=True, exist_ok=True)
    (folder / "listings").mkdir(exist_ok=True)
    (folder / "backup.json").write_bytes(about)
    name = f"{AT:%Y-%m-%dT%H-%M-%SZ}"
    (folder / "listings" / f"{name}.json").write_bytes(listing)
    with BackupStore(folder, None, is_new=False) as store:
        store.put(_PIECE)
        for file in store.files(name):
            assert not (folder / file.path).relative_to(folder).is_absolute()
            assert file.size_bytes >= 0
            for piece in file.pieces:
                store.get(piece)


_ROLLED = entry_bytes(Rolled(sample_rate_hz=48_000, origin="Cellar"))
_TITLE = entry_bytes(Article(sample=4, title="Ferries"))


def _records(rng: np.random.Generator) -> bytes:
    payloads = [(ENTRY, _ROLLED), (SOUND, bytes(30)), (ENTRY, _TITLE)]
    if rng.random() < 0.6:
        at = 2 * int(rng.integers(0, 2))
        changed = _text(tree_changed(json.loads(payloads[at][1]), rng)).encode()
        payloads[at] = (ENTRY, changed)
    message = b"".join(
        record_bytes(
            Record(kind=kind, number=number, entries=0, first=0, payload=payload, whole=True)
        )
        for number, (kind, payload) in enumerate(payloads)
    )
    return message if rng.random() < 0.5 else bytes_changed(message, rng, len(message))


def _endure_records(_folder: Path, data: bytes) -> None:
    for record in records_of(data):
        if record.whole and record.kind == ENTRY:
            entry_bytes(entry_of(record.payload))


def _trees(tree: Any, endure: Callable[[Path, bytes], None], share: int) -> Kind:
    text = _text(tree).encode()

    def mutate(rng: np.random.Generator) -> bytes:
        if rng.random() < 0.02:
            return b'{"x":' * 50_000
        if rng.random() < 0.3:
            return bytes_changed(text, rng, len(text))
        return _text(tree_changed(tree, rng)).encode()

    return Kind(mutate=mutate, endure=endure, share=share)


_DEEP_TOML = b"x = " + b"[" * 5_000 + b"\n"


def _station(rng: np.random.Generator) -> bytes:
    text = STATION.read_bytes()
    if rng.random() < 0.01:
        return _DEEP_TOML + text
    if rng.random() < 0.5:
        return bytes_changed(text, rng, len(text))
    lines = text.split(b"\n")
    at = int(rng.choice([n for n, line in enumerate(lines) if b" = " in line]))
    value = TOML_VALUES[int(rng.integers(0, len(TOML_VALUES)))]
    lines[at] = lines[at].partition(b"=")[0] + b"= " + value
    return b"\n".join(lines)


TOML_VALUES = (
    *(b"true", b"-1", b"0", b"1.5", b"inf", b"nan", b"9" * 5_000, b'""', b'"x"', b"[]", b"{}"),
    *(b'"\\u0000"', b"2026-02-30", b"0001-01-01", b"25:00:00", b'["24:00"]', b"[[[]]]", b"1e999"),
    *(b'"../../etc"', b'"' + b"x" * 5_000 + b'"', b"[" * 5_000, b"{a=" * 500),
)

KINDS: dict[str, Kind] = {
    **{name: _sound(data, 12, data.index(b"data") + 8) for name, data in WAVES.items()},
    "mp3": _sound(_coded("MP3", "MPEG_LAYER_III", 44_100), 4, 200),
    "aiff": _sound(_coded("AIFF", "PCM_16", 44_100), 1, 200),
    "flac": _sound(_coded("FLAC", "PCM_16", 44_100), 1, 200),
    "vorbis": _sound(_coded("OGG", "VORBIS", 44_100), 1, 200),
    "opus": _sound(_coded("OGG", "OPUS", 48_000), 1, 200),
    "adpcm": _sound(_coded("WAV", "MS_ADPCM", 44_100), 1, 200),
    "ledger": Kind(mutate=_ledger, endure=_endure_ledger, share=12),
    "sums": Kind(mutate=_sums, endure=_endure_take, share=4),
    "made": _trees(_MADE, _endure_made, 2),
    "plan": _trees(json.loads(_plan_text()), _endure_plan, 4),
    "station": Kind(mutate=_station, endure=_endure_station, share=2),
    "backup": Kind(mutate=_backup, endure=_endure_backup, share=3),
    "records": Kind(mutate=_records, endure=_endure_records, share=4),
}


def main(kind: str, first: str, count: str) -> None:
    """Work through mutations of one kind, or of all by their shares, within limits."""
    # What is loaded at the first use belongs to no file.
    for name in KINDS:
        with contextlib.suppress(AssertionError):
            run(name, 0, 3)
    with Path("/proc/self/statm").open() as file:
        pages = int(file.read().split()[0])
    limit = pages * resource.getpagesize() + MEMORY_BYTES
    resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
    used_s = resource.getrusage(resource.RUSAGE_SELF).ru_utime
    seconds = int(used_s + 60 + int(count) * CPU_S_EACH)
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    shares = {kind: 100} if kind != "all" else {name: one.share for name, one in KINDS.items()}
    for name, share in shares.items():
        told = run(name, int(first), int(count) * share // 100)
        sys.stdout.write(json.dumps({"kind": name, "told": told}) + "\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
