"""Recordings whose headers lie or whose bytes are damaged: taken with a remark, or refused."""

from __future__ import annotations

import os
import struct
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from quietleaf.errors import AudioUnfit, Invalid, NotAllowed, NotFound, Unavailable
from quietleaf.storage.codecs import open_sound
from tests.wave_files import (
    FLOAT,
    UNKNOWN,
    aiff,
    aiff_common,
    chunk,
    ds64,
    fmt,
    packed,
    plain,
    steps,
    wave,
)

RATE_HZ = 48_000
VALUES = steps(4 * RATE_HZ, 16)
DATA = packed(VALUES, 2)

Write = Callable[[bytes], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def written(data: bytes) -> Path:
        path = tmp_path / "news.wav"
        path.write_bytes(data)
        return path

    return written


def frames_and_remarks(path: Path) -> tuple[int, tuple[str, ...]]:
    with open_sound(path) as sound:
        assert sum(len(block) for block in sound.blocks()) == sound.info.frames
        return sound.info.frames, sound.remarks


# Lying sizes: what is there is real sound.


@pytest.mark.parametrize("size", [0, UNKNOWN, UNKNOWN - 7], ids=hex)
def test_a_recorder_that_stopped_left_no_size(write: Write, size: int) -> None:
    path = write(wave(fmt(), chunk(b"data", DATA, size=size), size=size))
    frames, remarks = frames_and_remarks(path)
    assert frames == len(VALUES)
    assert remarks == (
        "Its header does not say how long it is, as when a recorder stops before it closes the "
        "file: all that is there was taken, 0:04.",
    )


def test_a_file_that_was_cut_off(write: Write) -> None:
    whole = plain(VALUES)
    frames, remarks = frames_and_remarks(write(whole[: len(whole) // 2 + 1]))
    assert frames == (len(whole) // 2 + 1 - 44) // 2
    assert remarks == (
        "It ends early: its header promises 0:04, and 0:01 is there. All of that was taken.",
    )


def test_a_size_that_is_too_big_and_has_no_relation_to_the_file(write: Write) -> None:
    path = write(wave(fmt(), chunk(b"data", DATA, size=1 << 31)))
    assert frames_and_remarks(path)[0] == len(VALUES)


def test_what_lies_after_the_counted_end_is_told(write: Write) -> None:
    frames, remarks = frames_and_remarks(write(plain(VALUES) + bytes(range(200))))
    assert frames == len(VALUES)
    assert remarks == (
        "After its end it holds 200 more bytes that its header does not count; they were left out.",
    )


def test_a_last_frame_that_is_not_whole_is_dropped(write: Write) -> None:
    path = write(wave(fmt(channels=2, bits=24), chunk(b"data", bytes(6 * 10 + 4))))
    assert frames_and_remarks(path) == (10, ())


def test_long_sizes_may_lie_too(write: Write) -> None:
    def long_wave(data_size: int) -> bytes:
        return wave(ds64(data=data_size), fmt(), chunk(b"data", DATA, size=UNKNOWN), outer=b"RF64")

    unknown = "does not say how long it is"
    for size, words in ((1 << 33, "0:04 is there"), (1 << 62, unknown), (0, unknown)):
        frames, remarks = frames_and_remarks(write(long_wave(size)))
        assert frames == len(VALUES)
        assert words in remarks[0]


# Headers that cannot be believed at all. Each: what is in the file, and what the sentence says.

NO_SOUND = "has a header and no samples"
HEADER = "does not hold together"
ABSURD: dict[str, tuple[bytes, str]] = {
    "a name alone": (b"RIFF\0\0\0\0WAVE", HEADER),
    "cut in the description": (plain(VALUES)[:30], HEADER),
    "cut before the sound": (plain(VALUES)[:36], HEADER),
    "no samples": (plain(VALUES)[:44], NO_SOUND),
    "really empty": (wave(fmt(), chunk(b"data", b""), chunk(b"LIST", b"INFO")), NO_SOUND),
    "less than a frame": (wave(fmt(channels=2), chunk(b"data", b"abc")), NO_SOUND),
    "no description": (wave(chunk(b"data", DATA)), "before its description"),
    "a short description": (wave(chunk(b"fmt ", bytes(14)), chunk(b"data", DATA)), "cut short"),
    "a short extension": (
        wave(chunk(b"fmt ", fmt(extensible=True)[8:32]), chunk(b"data", DATA)),
        "cut short",
    ),
    "0 samples a second": (plain(VALUES, rate_hz=0), "claims 1 channels at 0 samples"),
    "a million": (plain(VALUES, rate_hz=1_000_000), "has 4000 to 384000 samples a second"),
    "400 samples a second": (plain(VALUES, rate_hz=400), "claims 400"),
    "4 thousand million": (plain(VALUES, rate_hz=UNKNOWN), "claims 4294967295"),
    "0 channels": (plain(VALUES, channels=0), HEADER),
    "1000 channels": (plain(VALUES, channels=1_000), "has 1 to 64 channels"),
    "0 bits": (wave(fmt(bits=0, room=2), chunk(b"data", DATA)), "0 bits in 2 bytes"),
    "500 bits": (wave(fmt(bits=500, room=2), chunk(b"data", DATA)), "500 bits in 2 bytes"),
    "64 whole bits": (wave(fmt(bits=64), chunk(b"data", DATA)), HEADER),
    "frames of no bytes": (wave(fmt(room=0), chunk(b"data", DATA)), HEADER),
    "halves of bytes": (
        wave(fmt(channels=2, room=2)[:-4] + struct.pack("<HH", 5, 16), chunk(b"data", DATA)),
        "2 channels of 16 bits in 5 bytes",
    ),
    "16-bit floats": (wave(fmt(tag=FLOAT, bits=16), chunk(b"data", DATA)), HEADER),
    "long without long sizes": (wave(fmt(), chunk(b"data", DATA), outer=b"RF64"), "ds64"),
    "cut in the long sizes": (
        b"RF64" + struct.pack("<I", UNKNOWN) + b"WAVE" + ds64(data=len(DATA))[:20],
        "ds64",
    ),
    "an unknown coding": (wave(fmt(tag=0x7777), chunk(b"data", DATA)), "cannot be read"),
    "chunks without end": (wave(b"abcd\0\0\0\0" * 10_000), HEADER),
    "aiff without rate": (
        aiff(
            (b"COMM", aiff_common(channels=1, frames=9, bits=16, rate_hz=0)), (b"SSND", bytes(26))
        ),
        "samples a second",
    ),
    "aiff header alone": (b"FORM\0\0\0\x04AIFF", "cannot be read"),
    "flac header alone": (b"fLaC" + bytes(38), "cannot be read"),
    "ogg header alone": (b"OggS" + bytes(60), "cannot be read"),
}


@pytest.mark.parametrize("data", ABSURD.values(), ids=ABSURD)
def test_a_header_that_cannot_be_believed(write: Write, data: tuple[bytes, str]) -> None:
    with pytest.raises(AudioUnfit, match=data[1]) as refusal:
        open_sound(write(data[0]))
    one_sentence_for_people(refusal.value.sentence)


def one_sentence_for_people(sentence: str) -> None:
    assert "\n" not in sentence
    assert "news.wav" in sentence
    assert not any(word in sentence.lower() for word in ("error", "invalid", "buffer", "session"))


# What is no recording at all.

OTHERS: dict[str, tuple[bytes, str]] = {
    "text": ("Die Zeitung von gestern, vorgelesen für Übermorgen.\n".encode() * 300, "holds text"),
    "a page": (b"<!doctype html><HTML><title>x</title></HTML>", "holds a page"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + bytes(100), "holds a picture"),
    "a photograph": (b"\xff\xd8\xff\xe0" + bytes(range(256)) * 40, "holds a picture"),
    "a document": (b"PK\x03\x04" + bytes(100), "holds an archive"),
    "zeros": (bytes(100_000), "holds nothing but zeros"),
    "rubbish": (np.random.default_rng(1).bytes(50_000), "holds nothing known"),
    "nearly a frame": (b"\xff\xfb\x90\x00" * 3, "holds nothing known"),
    "another RIFF": (b"RIFF\x10\0\0\0AVI LIST" + bytes(100), "holds nothing known"),
    "a tag alone": (b"ID3\x03\0\0\0\0\x00\x10" + bytes(16), "holds"),
    "a tag that claims it all": (b"ID3\x03\0\0\x7f\x7f\x7f\x7f" + bytes(99), "holds"),
    "one letter": (b"R", "holds text"),
}


@pytest.mark.parametrize("data", OTHERS.values(), ids=OTHERS)
def test_what_is_no_recording(write: Write, data: tuple[bytes, str]) -> None:
    with pytest.raises(Invalid, match=data[1]) as refusal:
        open_sound(write(data[0]))
    one_sentence_for_people(refusal.value.sentence)
    assert "A recording is one of WAV" in refusal.value.sentence


def test_an_empty_file(write: Write) -> None:
    with pytest.raises(AudioUnfit, match="is empty"):
        open_sound(write(b""))


def test_what_is_no_file(tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(b"x")
    with pytest.raises(NotFound, match="There is no file"):
        open_sound(tmp_path / "nowhere.wav")
    with pytest.raises(NotFound, match="There is no file"):
        open_sound(tmp_path / "a.wav" / "b.wav")
    with pytest.raises(Invalid, match="is a folder"):
        open_sound(tmp_path)
    with pytest.raises(Unavailable, match="could not be opened"):
        open_sound(Path("a" * 5_000))
    loop = tmp_path / "loop.wav"
    loop.symlink_to(loop)
    with pytest.raises(Unavailable, match="could not be opened"):
        open_sound(loop)


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.wav")
    with pytest.raises(Invalid, match="is something else"):
        open_sound(tmp_path / "pipe.wav")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read(write: Write) -> None:
    path = write(plain(VALUES))
    path.chmod(0)
    with pytest.raises(NotAllowed, match="may not be read by you"):
        open_sound(path)


def test_a_refusal_of_the_system_is_ours(write: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write(plain(VALUES))

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(NotAllowed, match="may not be read by you"):
        open_sound(path)


# Samples that are no numbers.


@pytest.mark.parametrize("kind", ["WAV", "AIFF"])
@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_a_sample_that_is_no_number(write: Write, kind: str, bad: float) -> None:
    path = write(b"")
    samples = np.zeros((3 * RATE_HZ, 2))
    samples[2 * RATE_HZ + 5, 1] = bad
    soundfile.write(path, samples, RATE_HZ, subtype="FLOAT", format=kind)
    with (
        open_sound(path) as sound,
        pytest.raises(AudioUnfit, match=r"at 0:02 news.wav holds one that is none"),
    ):
        list(sound.blocks())


def test_every_kind_of_no_number_is_found(write: Write) -> None:
    # IEEE 754: quiet and signalling, of either sign; the signalling ones warn when converted.
    for bits in (0x7FC00000, 0xFFC00000, 0x7FA00000, 0xFF800001):
        data = bytes(400) + struct.pack("<I", bits) + bytes(400)
        path = write(wave(fmt(tag=FLOAT, bits=32), chunk(b"data", data)))
        with open_sound(path) as sound, pytest.raises(AudioUnfit, match="one that is none"):
            list(sound.blocks())


def test_a_file_that_shrinks_while_it_is_read(write: Write) -> None:
    path = write(plain(VALUES))
    with open_sound(path) as sound:
        os.truncate(path, 1_000)
        with pytest.raises(Unavailable, match="became shorter while it was read"):
            list(sound.blocks())


# Coded recordings.


def coded(path: Path, kind: str, subtype: str, rate_hz: int = 44_100) -> bytes:
    time_s = np.arange(rate_hz * 8) / rate_hz
    rng = np.random.default_rng(5)
    sound = 0.2 * np.sin(2 * np.pi * 300 * time_s) + 0.05 * rng.standard_normal(len(time_s))
    with soundfile.SoundFile(path, "w", rate_hz, 1, subtype, format=kind) as file:
        for start in range(0, len(sound), 4_096):
            file.write(sound[start : start + 4_096])
    return path.read_bytes()


KINDS = [
    ("FLAC", "PCM_16", 44_100),
    ("AIFF", "PCM_16", 44_100),
    ("MP3", "MPEG_LAYER_III", 44_100),
    ("OGG", "VORBIS", 44_100),
    ("OGG", "OPUS", 48_000),
]


@pytest.mark.parametrize(("kind", "subtype", "rate_hz"), KINDS)
def test_a_coded_recording_that_was_cut_off(
    write: Write, capfd: pytest.CaptureFixture[str], kind: str, subtype: str, rate_hz: int
) -> None:
    data = coded(write(b""), kind, subtype, rate_hz)
    frames, remarks = frames_and_remarks(write(data[: len(data) // 2]))
    # Opus pages of libsndfile hold a second each.
    assert 0.35 < frames / (8 * rate_hz) < 0.6
    assert len(remarks) == 1
    assert "ends early" in remarks[0] or "no last page" in remarks[0]
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize(
    ("kind", "subtype", "rate_hz"), [kind for kind in KINDS if kind[0] != "AIFF"]
)
def test_a_coded_recording_that_is_damaged_inside(
    write: Write, capfd: pytest.CaptureFixture[str], kind: str, subtype: str, rate_hz: int
) -> None:
    data = bytearray(coded(write(b""), kind, subtype, rate_hz))
    middle = len(data) // 2
    data[middle : middle + 3_000] = np.random.default_rng(2).bytes(3_000)
    path = write(bytes(data))
    with pytest.raises(AudioUnfit, match=r"is damaged at 0:0[2345]"):
        frames_and_remarks(path)
    assert capfd.readouterr() == ("", "")


def test_an_mp3_whose_frames_are_rubbish_inside(
    write: Write, capfd: pytest.CaptureFixture[str]
) -> None:
    data = bytearray(coded(write(b""), "MP3", "MPEG_LAYER_III"))
    # All heads stay as they are, so that only decoding finds it.
    at = data.find(b"\xff\xfb", len(data) // 2)
    for _ in range(20):
        following = data.find(b"\xff\xfb", at + 100)
        rubbish = np.random.default_rng(at).integers(0, 255, 36)
        data[at + 4 : at + 40] = rubbish.astype(np.uint8).tobytes()
        at = following
    with pytest.raises(AudioUnfit, match=r"is damaged at 0:0"):
        frames_and_remarks(write(bytes(data)))
    assert capfd.readouterr() == ("", "")


def test_what_others_write_meanwhile_is_passed_on(
    write: Write, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write(b"")
    coded(path, "MP3", "MPEG_LAYER_III")
    read = soundfile.SoundFile.read

    def telling(self: soundfile.SoundFile, *args: object, **options: object) -> object:
        os.write(2, b"somebody else\n")
        sys.stderr.write("through Python\n")
        return read(self, *args, **options)

    monkeypatch.setattr(soundfile.SoundFile, "read", telling)
    with open_sound(path) as sound:
        sound.read(0, 10)
    told = capfd.readouterr().err
    assert "somebody else\n" in told
    assert "through Python\n" in told


def test_an_mp3_is_read_where_python_has_no_standard_error(
    write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write(b"")
    coded(path, "MP3", "MPEG_LAYER_III")
    monkeypatch.setattr(sys, "stderr", None)
    assert frames_and_remarks(path) == (8 * 44_100, ())


def test_mp3s_joined_end_to_end_are_read_to_the_end(write: Write) -> None:
    one = coded(write(b""), "MP3", "MPEG_LAYER_III")
    frames, remarks = frames_and_remarks(write(one + one))
    # The second one's first frame counts, and both keep what the encoder put around them.
    assert 0 <= frames - 2 * 8 * 44_100 < 6_000
    assert "longer than its header says: 0:16 is there, not 0:08" in remarks[0]


def test_an_mp3_without_a_count_is_read_to_the_end(write: Write) -> None:
    data = coded(write(b""), "MP3", "MPEG_LAYER_III")
    first = data.find(b"\xff\xfb", 4)
    frames, remarks = frames_and_remarks(write(data[first:]))
    assert 0 <= frames - 8 * 44_100 < 3_000
    assert remarks == ()


def test_tags_around_an_mp3_are_no_sound(write: Write) -> None:
    data = coded(write(b""), "MP3", "MPEG_LAYER_III")
    plain_frames, _ = frames_and_remarks(write(data))
    tag = b"ID3\x04\0\0\0\0\x01\x00" + bytes(128)
    tagged = tag + data + b"APETAGEX" + bytes(24) + b"TAG" + bytes(125)
    assert frames_and_remarks(write(tagged)) == (plain_frames, ())
