"""Broadcast Wave masters, read back by independent readers."""

from __future__ import annotations

import hashlib
import json
import struct
import subprocess
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import soundfile
import wavinfo
from numpy.typing import NDArray

from quietleaf.delivery.bext import BroadcastExtension, BroadcastLoudness, CodingStep
from quietleaf.errors import AudioUnfit, Conflict, Invalid
from quietleaf.storage.masters import HISTORY_BYTES, WaveMaster
from quietleaf.storage.new_file import Written

EXTENSION = BroadcastExtension(
    description="The Marrowby Courier, issue of 2026-11-25, read by Ada Fenwick",
    originator="Marrowby Reading Service",
    originator_reference="a1b2c3",
    recorded_at=datetime(2026, 11, 25, 10, 30, tzinfo=ZoneInfo("Europe/London")),
    sample_rate_hz=48_000,
    loudness=BroadcastLoudness(
        integrated_lufs=-23.04,
        range_lu=6.5,
        true_peak_dbtp=-1.02,
        momentary_max_lufs=-15.0,
        short_term_max_lufs=-18.0,
    ),
    coding_history=(
        CodingStep(coding="PCM", sample_rate_hz=44_100, bits=24, mode="mono", text="as recorded"),
        CodingStep(
            coding="PCM",
            sample_rate_hz=48_000,
            bits=24,
            mode="mono",
            text="to -23 LUFS; one channel",
        ),
    ),
)
INFO = {"title": "The Marrowby Courier", "artist": "Žofie Quill", "date": "2026-11-25"}


def tone(frames: int) -> NDArray[np.float64]:
    """A sine of 997 Hz at half of full scale."""
    return np.asarray(0.5 * np.sin(2 * np.pi * 997 / 48_000 * np.arange(frames)))


def written_master(path: Path, frames: int, riff_limit: int = 0xFFFF_FFFF) -> Written:
    """A whole master, written in uneven blocks."""
    samples = tone(frames)
    with WaveMaster(path, 48_000, info=INFO, riff_limit=riff_limit) as master:
        for block in np.array_split(samples, 7):
            master.write(block)
        return master.commit(EXTENSION)


@pytest.mark.parametrize("riff_limit", [0xFFFF_FFFF, 10_000], ids=["RIFF", "RF64"])
@pytest.mark.parametrize("frames", [48_000, 48_001], ids=["even", "odd"])
def test_libsndfile_reads_every_sample(tmp_path: Path, frames: int, riff_limit: int) -> None:
    path = written_master(tmp_path / "m.wav", frames, riff_limit).path
    with soundfile.SoundFile(path) as sound:
        assert sound.format == ("WAV" if riff_limit > 10_000 else "RF64")
        assert (sound.subtype, sound.samplerate, sound.channels) == ("PCM_24", 48_000, 1)
        read = sound.read()
    # Rounding alone: at most half a step of 2^-23.
    np.testing.assert_allclose(read, tone(frames), rtol=0, atol=0.5001 * 2.0**-23)


@pytest.mark.parametrize("riff_limit", [0xFFFF_FFFF, 10_000], ids=["RIFF", "RF64"])
def test_a_metadata_reader_finds_every_field(tmp_path: Path, riff_limit: int) -> None:
    path = written_master(tmp_path / "m.wav", 48_001, riff_limit).path
    read = wavinfo.WavInfoReader(str(path))
    assert read.bext.to_dict() == {
        "description": EXTENSION.description,
        "originator": "Marrowby Reading Service",
        "originator_ref": "a1b2c3",
        "originator_date": "2026-11-25",
        "originator_time": "10:30:00",
        "time_reference": 1_814_400_000,
        "version": 2,
        "umid": bytes(64),
        "coding_history": "A=PCM,F=44100,W=24,M=mono,T=as recorded\r\n"
        "A=PCM,F=48000,W=24,M=mono,T=to -23 LUFS; one channel\r\n",
        "loudness_value": -23.04,
        "loudness_range": 6.5,
        "max_true_peak": -1.02,
        "max_momentary_loudness": -15.0,
        "max_shortterm_loudness": -18.0,
    }
    info = read.info.to_dict()
    assert info["title"] == "The Marrowby Courier"
    assert info["artist"] == "Zofie Quill"
    assert info["created_date"] == "2026-11-25"
    assert read.data.frame_count == 48_001


@pytest.mark.parametrize("riff_limit", [0xFFFF_FFFF, 10_000], ids=["RIFF", "RF64"])
def test_ffprobe_finds_it_too(tmp_path: Path, ffprobe: Path, riff_limit: int) -> None:
    path = written_master(tmp_path / "m.wav", 72_001, riff_limit).path
    told = json.loads(
        subprocess.run(
            [ffprobe, "-v", "error", "-of", "json", "-show_format", "-show_streams", path],
            capture_output=True,
            check=True,
        ).stdout
    )
    stream, tags = told["streams"][0], told["format"]["tags"]
    assert stream["codec_name"] == "pcm_s24le"
    assert stream["duration_ts"] == 72_001
    assert tags["comment"] == EXTENSION.description
    assert tags["originator_reference"] == "a1b2c3"
    assert tags["time_reference"] == "1814400000"
    assert tags["title"] == "The Marrowby Courier"


def test_size_and_checksum_are_those_of_the_file(tmp_path: Path) -> None:
    written = written_master(tmp_path / "m.wav", 1001)
    octets = written.path.read_bytes()
    assert written.size_bytes == len(octets)
    assert written.sha256 == hashlib.sha256(octets).hexdigest()
    assert len(octets) % 2 == 0
    assert struct.unpack_from("<I", octets, 4)[0] == len(octets) - 8


def test_same_samples_give_the_same_bytes(tmp_path: Path) -> None:
    first = written_master(tmp_path / "1.wav", 5000)
    with WaveMaster(tmp_path / "2.wav", 48_000, info=INFO) as master:
        master.write(tone(5000))
        second = master.commit(EXTENSION)
    assert first.sha256 == second.sha256


@pytest.mark.parametrize("riff_limit", [0xFFFF_FFFF, 1])
def test_what_is_written_can_be_read_before_the_file_is_finished(
    tmp_path: Path, riff_limit: int
) -> None:
    samples = tone(4_801)
    once, twice = tmp_path / "once.wav", tmp_path / "twice.wav"
    extension = BroadcastExtension(description="Tea", originator="Marrowby")
    with WaveMaster(once, 48_000, riff_limit=riff_limit) as master:
        master.write(samples)
        master.commit(extension)
    with WaveMaster(twice, 48_000, riff_limit=riff_limit) as master:
        master.write(samples[:1_000])
        for size in (1_000, 4_801):
            heard, rate = soundfile.read(master.settle())
            assert (heard.size, rate) == (size, 48_000)
            np.testing.assert_allclose(heard, samples[:size], atol=2.0**-24)
            if size < samples.size:
                master.write(samples[size:])
        assert not twice.exists()
        master.commit(extension)
    assert twice.read_bytes() == once.read_bytes()
    assert sorted(tmp_path.iterdir()) == [once, twice]


def test_full_scale_is_held_at_the_last_step(tmp_path: Path) -> None:
    with WaveMaster(tmp_path / "m.wav", 48_000) as master:
        master.write(np.array([1.0, -1.0, 0.5 * 2.0**-23, 1.5 * 2.0**-23]))
        path = master.commit(EXTENSION).path
    # Halves go to the even step.
    assert (soundfile.read(path, dtype="int32")[0] >> 8).tolist() == [2**23 - 1, -(2**23), 0, 2]


@pytest.mark.parametrize("bad", [1.0001, -1.0001, np.nan, np.inf])
def test_what_is_past_full_scale_is_refused(tmp_path: Path, bad: float) -> None:
    with (
        pytest.raises(AudioUnfit, match="stays within full scale"),
        WaveMaster(tmp_path / "m.wav", 48_000) as master,
    ):
        master.write(np.array([0.0, bad]))
    assert not any(tmp_path.iterdir())


def test_empty_master_is_refused(tmp_path: Path) -> None:
    with WaveMaster(tmp_path / "m.wav", 48_000) as master:
        master.write(np.zeros(0))
        with pytest.raises(AudioUnfit, match="at least one sample"):
            master.commit(EXTENSION)
    assert not any(tmp_path.iterdir())


def test_coding_history_too_long_for_its_place_is_refused(tmp_path: Path) -> None:
    step = CodingStep(coding="PCM", sample_rate_hz=48_000, mode="mono", text=HISTORY_BYTES * "x")
    extension = BroadcastExtension(description="", originator="", coding_history=(step,))
    with WaveMaster(tmp_path / "m.wav", 48_000) as master:
        master.write(tone(10))
        with pytest.raises(Invalid, match="room for 1446 characters; this one has 1472"):
            master.commit(extension)
    assert not any(tmp_path.iterdir())


def test_master_is_never_written_over(tmp_path: Path) -> None:
    before = written_master(tmp_path / "m.wav", 100)
    with pytest.raises(Conflict, match="there already"):
        WaveMaster(tmp_path / "m.wav", 48_000)
    assert hashlib.sha256(before.path.read_bytes()).hexdigest() == before.sha256


@pytest.mark.long
def test_past_four_gib(tmp_path: Path, ffprobe: Path) -> None:
    """A real file of 4.3 GB, in the temporary folder."""
    block = tone(48_000 * 100)
    blocks = 4_310_000_000 // 3 // block.shape[0]
    path = tmp_path / "m.wav"
    with WaveMaster(path, 48_000) as master:
        for _ in range(blocks):
            master.write(block)
        master.commit(EXTENSION)
    frames = blocks * block.shape[0]
    assert path.stat().st_size > 2**32
    with soundfile.SoundFile(path) as sound:
        assert (sound.format, sound.frames) == ("RF64", frames)
        sound.seek(frames - 100)
        np.testing.assert_allclose(sound.read(), block[-100:], rtol=0, atol=2.0**-23)
    assert wavinfo.WavInfoReader(str(path)).data.frame_count == frames
    told = subprocess.run(
        [ffprobe, "-v", "error", "-of", "json", "-show_streams", path],
        capture_output=True,
        check=True,
    )
    assert json.loads(told.stdout)["streams"][0]["duration_ts"] == frames
    path.unlink()
