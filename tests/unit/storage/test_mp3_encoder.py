"""MP3 masters, read back by independent readers."""

from __future__ import annotations

import hashlib
import json
import subprocess
from datetime import date
from pathlib import Path
from typing import Any

import lameenc
import mutagen
import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from quietleaf.delivery.id3 import Chapter, Tags
from quietleaf.errors import AudioUnfit, Conflict, Invalid, NotFound, Unavailable
from quietleaf.storage.mp3_encoder import Mp3Encoder
from quietleaf.storage.new_file import Written

TAGS = Tags(
    title="The Marrowby Courier",
    publication="Žofie’s Gazette",
    issue_date=date(2026, 11, 25),
    readers=("Ada Fenwick", "Søren Quill"),
    chapters=(
        Chapter(title="Opening words", start_s=0.0, end_s=0.5),
        Chapter(title="日本 and the ferry", start_s=0.5, end_s=1.2502),
    ),
)


def hiss(samples: int) -> NDArray[np.float64]:
    """Noise without its highest part, at about a tenth of full scale; seed 3."""
    noise = np.random.default_rng(3).normal(size=samples + 40)
    return np.asarray(np.convolve(noise, np.hanning(41) / 20, "valid") * 0.1)


def written_mp3(path: Path, samples: int, kbps: int = 64, sample_rate_hz: int = 48_000) -> Written:
    """A whole MP3, written in uneven blocks."""
    with Mp3Encoder(path, sample_rate_hz, kbps=kbps) as encoder:
        for block in np.array_split(hiss(samples), 7):
            encoder.write(block)
        return encoder.commit(TAGS)


def opened(path: Path) -> Any:
    """The file as a tag reader has it; that one carries no types."""
    reader: Any = mutagen
    return reader.File(path)


@pytest.mark.parametrize("samples", [1, 577, 48_000, 60_011])
@pytest.mark.parametrize(
    ("sample_rate_hz", "kbps"), [(48_000, 64), (48_000, 32), (44_100, 64), (32_000, 128)]
)
def test_as_many_samples_come_out_as_went_in(
    tmp_path: Path, ffmpeg: Path, samples: int, sample_rate_hz: int, kbps: int
) -> None:
    path = written_mp3(tmp_path / "m.mp3", samples, kbps, sample_rate_hz).path
    by_libsndfile, rate_hz = soundfile.read(path)
    assert (len(by_libsndfile), rate_hz) == (samples, sample_rate_hz)
    raw = subprocess.run(
        [ffmpeg, "-v", "error", "-i", path, "-f", "f32le", "-"], capture_output=True, check=True
    )
    assert raw.stderr == b""
    assert len(raw.stdout) == 4 * samples
    assert opened(path).info.length == pytest.approx(samples / sample_rate_hz, abs=1e-9)


def test_sound_lies_where_it_was(tmp_path: Path) -> None:
    path = written_mp3(tmp_path / "m.mp3", 48_000, kbps=128).path
    read, given = soundfile.read(path)[0], hiss(48_000)
    fit = np.correlate(read[20_000:24_000], given[19_900:24_100], "valid")
    assert int(fit.argmax()) == 100


def test_a_tag_reader_finds_everything(tmp_path: Path) -> None:
    tags = opened(written_mp3(tmp_path / "m.mp3", 60_011).path).tags
    assert tags.version == (2, 3, 0)
    assert str(tags["TIT2"]) == "The Marrowby Courier"
    assert str(tags["TALB"]) == "Žofie’s Gazette"
    assert tags["TPE1"].text == ["Ada Fenwick/Søren Quill"]
    assert str(tags["TDRC"]) == "2026-11-25"
    assert str(tags["TXXX:Issue date"]) == "2026-11-25"
    assert +tags["TLEN"] == 1250
    contents = tags["CTOC:contents"]
    assert (contents.flags, contents.child_element_ids) == (3, ["chapter-1", "chapter-2"])
    second = tags["CHAP:chapter-2"]
    assert (second.start_time, second.end_time) == (500, 1250)
    assert str(second.sub_frames["TIT2"]) == "日本 and the ferry"


def test_ffprobe_finds_it_too(tmp_path: Path, ffprobe: Path) -> None:
    path = written_mp3(tmp_path / "m.mp3", 60_011).path
    told = json.loads(
        subprocess.run(
            [
                *(ffprobe, "-v", "error", "-of", "json"),
                *("-show_format", "-show_streams", "-show_chapters", path),
            ],
            capture_output=True,
            check=True,
        ).stdout
    )
    stream, tags = told["streams"][0], told["format"]["tags"]
    assert (stream["codec_name"], stream["channels"], stream["sample_rate"]) == ("mp3", 1, "48000")
    assert stream["bit_rate"] == "64000"
    assert tags["title"] == "The Marrowby Courier"
    assert tags["album"] == "Žofie’s Gazette"
    assert tags["artist"] == "Ada Fenwick/Søren Quill"
    assert tags["Issue date"] == "2026-11-25"
    assert [
        (chapter["start_time"], chapter["end_time"], chapter["tags"]["title"])
        for chapter in told["chapters"]
    ] == [
        ("0.000000", "0.500000", "Opening words"),
        ("0.500000", "1.250000", "日本 and the ferry"),
    ]


def test_same_samples_give_the_same_bytes_however_they_come(tmp_path: Path) -> None:
    first = written_mp3(tmp_path / "1.mp3", 200_000)
    with Mp3Encoder(tmp_path / "2.mp3", 48_000, kbps=64) as encoder:
        encoder.write(hiss(200_000))
        second = encoder.commit(TAGS)
    assert first.sha256 == second.sha256
    assert hashlib.sha256(second.path.read_bytes()).hexdigest() == second.sha256
    assert sorted(path.name for path in tmp_path.iterdir()) == ["1.mp3", "2.mp3"]


def test_encoder_is_the_one_that_the_length_frame_names() -> None:
    encoder = lameenc.Encoder()
    encoder.silence()
    encoder.set_channels(1)
    encoder.set_in_sample_rate(48_000)
    encoder.set_bit_rate(128)
    assert b"LAME4.0U" in bytes(encoder.encode(bytes(96_000)) + encoder.flush())


def test_nothing_is_left_without_commit(tmp_path: Path) -> None:
    with Mp3Encoder(tmp_path / "m.mp3", 48_000, kbps=64) as encoder:
        encoder.write(hiss(5000))
    assert not any(tmp_path.iterdir())
    assert encoder._process.returncode is not None


def test_stopped_encoder_is_told(tmp_path: Path) -> None:
    with Mp3Encoder(tmp_path / "m.mp3", 48_000, kbps=64) as encoder:
        encoder._process.kill()
        encoder._process.wait()
        with pytest.raises(Unavailable, match=r"stopped before m\.mp3 was whole"):
            encoder.write(hiss(100_000))
    assert not any(tmp_path.iterdir())


def test_encoder_that_stops_at_the_end_is_told(tmp_path: Path) -> None:
    with Mp3Encoder(tmp_path / "m.mp3", 48_000, kbps=64) as encoder:
        encoder.write(hiss(100))
        encoder._process.kill()
        encoder._process.wait()
        with pytest.raises(Unavailable, match=r"stopped before m\.mp3 was whole"):
            encoder.commit(TAGS)
    assert not any(tmp_path.iterdir())


def test_empty_master_is_refused(tmp_path: Path) -> None:
    with Mp3Encoder(tmp_path / "m.mp3", 48_000, kbps=64) as encoder:
        encoder.write(np.zeros(0))
        with pytest.raises(AudioUnfit, match="at least one sample"):
            encoder.commit(TAGS)
    assert not any(tmp_path.iterdir())


def test_what_is_past_full_scale_is_refused(tmp_path: Path) -> None:
    with (
        Mp3Encoder(tmp_path / "m.mp3", 48_000, kbps=64) as encoder,
        pytest.raises(AudioUnfit, match="stays within full scale"),
    ):
        encoder.write(np.array([0.0, np.nan]))


@pytest.mark.parametrize(
    ("sample_rate_hz", "kbps", "quality", "told"),
    [
        (22_050, 64, 7, "22,050 was asked for"),
        (48_000, 65, 7, "65 was asked for"),
        (48_000, 64, 10, "10 was asked for"),
    ],
)
def test_what_mp3_does_not_have_is_refused(
    tmp_path: Path, sample_rate_hz: int, kbps: int, quality: int, told: str
) -> None:
    with pytest.raises(Invalid, match=told):
        Mp3Encoder(tmp_path / "m.mp3", sample_rate_hz, kbps=kbps, quality=quality)
    assert not any(tmp_path.iterdir())


def test_master_is_never_written_over(tmp_path: Path) -> None:
    (tmp_path / "m.mp3").write_bytes(b"old")
    with pytest.raises(Conflict, match="there already"):
        Mp3Encoder(tmp_path / "m.mp3", 48_000, kbps=64)
    with pytest.raises(NotFound, match="which is not there"):
        Mp3Encoder(tmp_path / "none" / "m.mp3", 48_000, kbps=64)
    assert (tmp_path / "m.mp3").read_bytes() == b"old"
