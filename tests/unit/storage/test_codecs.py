"""Every kind of recording, written by others, comes back as the samples that went in."""

from __future__ import annotations

import subprocess
import wave
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from quietleaf.storage.codecs import open_sound
from tests.wave_files import (
    A_LAW,
    FLOAT,
    MU_LAW,
    aiff,
    aiff_common,
    chunk,
    ds64,
    fmt,
    packed,
    steps,
)
from tests.wave_files import wave as wave_file

Write = Callable[[str, bytes], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def written(name: str, data: bytes) -> Path:
        path = tmp_path / name
        path.write_bytes(data)
        return path

    return written


def whole(path: Path, block_frames: int = 997) -> NDArray[np.float64]:
    with open_sound(path) as sound:
        blocks = list(sound.blocks(block_frames))
        joined = np.concatenate(blocks)
        assert all(block.dtype == np.float64 for block in blocks)
        assert joined.shape == (sound.info.frames, sound.info.channels)
        assert sound.remarks == ()
        middle = sound.info.frames // 2
        # A range is the same whenever it is asked for.
        for start in (middle, 0, min(middle + 7, sound.info.frames)):
            assert (sound.read(start, sound.info.frames) == joined[start:]).all()
    return joined


# WAV of every depth, against arithmetic by hand: full scale is 2^(bits - 1).


@pytest.mark.parametrize("extensible", [False, True], ids=["plain", "extensible"])
@pytest.mark.parametrize("channels", [1, 2, 6])
@pytest.mark.parametrize("bits", [16, 24, 32])
def test_wav_of_whole_numbers(write: Write, bits: int, channels: int, extensible: bool) -> None:
    values = steps(4_001 * channels, bits)
    path = write(
        "a.wav",
        wave_file(
            fmt(bits=bits, channels=channels, extensible=extensible),
            chunk(b"data", packed(values, bits // 8)),
        ),
    )
    expected = (values / float(1 << (bits - 1))).reshape(-1, channels)
    assert (whole(path) == expected).all()
    with open_sound(path) as sound:
        assert sound.info.encoding == f"WAV, {bits}-bit PCM"
        assert sound.samples == "whole numbers"


def test_wav_of_8_bits_is_unsigned(write: Write) -> None:
    codes = np.arange(256, dtype=np.uint8)
    path = write("a.wav", wave_file(fmt(bits=8), chunk(b"data", codes.tobytes())))
    assert (whole(path)[:, 0] == (codes.astype(float) - 128.0) / 128.0).all()


@pytest.mark.parametrize(("kind", "bits"), [("<f4", 32), ("<f8", 64)])
def test_wav_of_floats_keeps_what_is_over_full_scale(write: Write, kind: str, bits: int) -> None:
    values = np.array([0.0, -1.0, 1.0, 3.5, -70_000.0, 1e-9], dtype=kind)
    path = write("a.wav", wave_file(fmt(tag=FLOAT, bits=bits), chunk(b"data", values.tobytes())))
    assert (whole(path)[:, 0] == values.astype(np.float64)).all()


@pytest.mark.parametrize(("tag", "subtype"), [(A_LAW, "ALAW"), (MU_LAW, "ULAW")])
def test_telephone_codes_are_those_of_an_independent_reader(
    write: Write, tag: int, subtype: str
) -> None:
    codes = np.arange(256, dtype=np.uint8).tobytes()
    path = write("a.wav", wave_file(fmt(tag=tag, bits=8), chunk(b"data", codes)))
    with soundfile.SoundFile(path) as other:
        assert other.subtype == subtype
        expected = other.read()
    np.testing.assert_allclose(whole(path)[:, 0], expected, rtol=0, atol=1e-12)


def test_20_bits_in_24_and_24_in_32(write: Write) -> None:
    values = steps(100, 20) << 4
    twenty = write("20.wav", wave_file(fmt(bits=20, room=3), chunk(b"data", packed(values, 3))))
    assert (whole(twenty)[:, 0] == values / float(1 << 23)).all()
    high = steps(100, 24)
    upper = write("up.wav", wave_file(fmt(bits=24, room=4), chunk(b"data", packed(high << 8, 4))))
    assert (whole(upper)[:, 0] == high / float(1 << 23)).all()
    lower = write("low.wav", wave_file(fmt(bits=24, room=4), chunk(b"data", packed(high, 4))))
    assert (whole(lower)[:, 0] == high / float(1 << 23)).all()


@pytest.mark.parametrize("outer", [b"RF64", b"BW64"])
def test_long_wav(write: Write, outer: bytes) -> None:
    values = steps(2_000, 24)
    data = packed(values, 3)
    path = write(
        "a.wav",
        wave_file(
            ds64(data=len(data), samples=2_000),
            fmt(bits=24, channels=2),
            chunk(b"data", data, size=0xFFFFFFFF),
            outer=outer,
            size=0xFFFFFFFF,
        ),
    )
    assert (whole(path) == (values / float(1 << 23)).reshape(-1, 2)).all()
    with open_sound(path) as sound:
        assert sound.info.encoding == f"{outer.decode()}, 24-bit PCM"


def test_chunks_before_and_after_the_sound_are_stepped_over(write: Write) -> None:
    data = chunk(b"data", packed(steps(99, 24), 3))
    path = write(
        "a.wav",
        wave_file(
            chunk(b"JUNK", bytes(28)),
            chunk(b"bext", bytes(603)),
            fmt(bits=24),
            chunk(b"note", b"odd", padded=False),
            data,
            chunk(b"LIST", b"INFOINAM\x02\0\0\0a\0"),
        ),
    )
    assert (whole(path)[:, 0] == steps(99, 24) / float(1 << 23)).all()


def test_wav_written_by_python(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    values = steps(3_000, 16)
    with wave.open(str(path), "wb") as other:
        other.setnchannels(2)
        other.setsampwidth(2)
        other.setframerate(22_050)
        other.writeframes(packed(values, 2))
    assert (whole(path) == (values / 32768.0).reshape(-1, 2)).all()


# Lossless kinds written by libsndfile: what goes in as 16 or 24 bits comes out to the bit.


@pytest.mark.parametrize(
    ("format_name", "subtype", "bits", "encoding"),
    [
        ("WAV", "PCM_24", 24, "WAV, 24-bit PCM"),
        ("WAVEX", "PCM_16", 16, "WAV, 16-bit PCM"),
        ("RF64", "PCM_24", 24, "RF64, 24-bit PCM"),
        ("RF64", "FLOAT", 24, "RF64, 32-bit float"),
        ("AIFF", "PCM_16", 16, "AIFF, 16-bit PCM"),
        ("AIFF", "PCM_24", 24, "AIFF, 24-bit PCM"),
        ("AIFF", "FLOAT", 24, "AIFF, 32-bit float"),
        ("FLAC", "PCM_16", 16, "FLAC, 16-bit PCM"),
        ("FLAC", "PCM_24", 24, "FLAC, 24-bit PCM"),
    ],
)
@pytest.mark.parametrize(("rate_hz", "channels"), [(8_000, 1), (44_100, 2), (96_000, 3)])
def test_lossless(
    tmp_path: Path,
    format_name: str,
    subtype: str,
    bits: int,
    encoding: str,
    rate_hz: int,
    channels: int,
) -> None:
    # Sniffed by what it holds: the name is a lie.
    path = tmp_path / "a.txt"
    samples = (steps(5_000 * channels, bits) / float(1 << (bits - 1))).reshape(-1, channels)
    soundfile.write(path, samples, rate_hz, subtype=subtype, format=format_name)
    assert (whole(path) == samples).all()
    with open_sound(path) as sound:
        assert sound.info.encoding == encoding
        assert (sound.info.sample_rate_hz, sound.info.channels) == (rate_hz, channels)


def test_aiff_by_hand(write: Write) -> None:
    values = steps(64, 16)
    path = write(
        "a.aif",
        aiff(
            (b"COMM", aiff_common(channels=1, frames=64, bits=16, rate_hz=32_000)),
            (b"SSND", bytes(8) + values.astype(">i2").tobytes()),
        ),
    )
    assert (whole(path)[:, 0] == values / 32768.0).all()


# Lossy kinds: the length is exact, and it is the same sound.


def tone(rate_hz: int, seconds: float) -> NDArray[np.float64]:
    time_s = np.arange(round(rate_hz * seconds)) / rate_hz
    return 0.3 * np.sin(2 * np.pi * 311.0 * time_s) * (1.0 + np.sin(2 * np.pi * 3.0 * time_s)) / 2


def resembles(found: NDArray[np.float64], sound: NDArray[np.float64]) -> bool:
    """At least 25 dB over what differs, in the middle of it.

    A sample late alone would give 27 dB, and with what coding loses (26 dB and more) under 24.
    """
    middle = slice(2_000, min(len(found), len(sound)) - 2_000)
    difference = found[middle] - sound[middle]
    return bool(np.sum(sound[middle] ** 2) > 10**2.5 * np.sum(difference**2))


@pytest.mark.parametrize(
    ("format_name", "subtype", "rate_hz", "encoding"),
    [
        ("MP3", "MPEG_LAYER_III", 44_100, "MP3"),
        ("MP3", "MPEG_LAYER_III", 16_000, "MP3"),
        ("OGG", "VORBIS", 22_050, "Ogg, Vorbis"),
        ("OGG", "OPUS", 48_000, "Ogg, Opus"),
    ],
)
def test_lossy(tmp_path: Path, format_name: str, subtype: str, rate_hz: int, encoding: str) -> None:
    path = tmp_path / "a.wav"
    sound = tone(rate_hz, 3.3)
    with soundfile.SoundFile(path, "w", rate_hz, 1, subtype, format=format_name) as other:
        for start in range(0, len(sound), 4_096):
            other.write(sound[start : start + 4_096])
    found = whole(path, 4_001)
    assert len(found) == len(sound)
    assert resembles(found[:, 0], sound)
    with open_sound(path) as opened:
        assert opened.info.encoding == encoding
        assert opened.samples == "decoded"


@pytest.mark.parametrize(
    ("name", "options", "encoding"),
    [
        ("a.mp3", "-c:a libmp3lame -b:a 64k", "MP3"),
        ("a.mp3", "-c:a libmp3lame -q:a 4 -id3v2_version 3 -metadata title=x", "MP3"),
        ("a.ogg", "-c:a libvorbis", "Ogg, Vorbis"),
        ("a.opus", "-c:a libopus -ar 48000", "Ogg, Opus"),
        ("a.flac", "-c:a flac", "FLAC, 24-bit PCM"),
        ("a.aiff", "-c:a pcm_s24be", "AIFF, 24-bit PCM"),
        ("a.wav", "-c:a pcm_s24le -rf64 always", "RF64, 24-bit PCM"),
        ("a.wav", "-c:a pcm_f64le", "WAV, 64-bit float"),
        ("a.wav", "-c:a adpcm_ima_wav", "WAV, IMA ADPCM"),
    ],
)
def test_written_by_ffmpeg(
    tmp_path: Path, ffmpeg: Path, name: str, options: str, encoding: str
) -> None:
    rate_hz = 48_000 if "opus" in options else 44_100
    sound = tone(rate_hz, 2.7)
    source, path = tmp_path / "source.wav", tmp_path / name
    soundfile.write(source, sound, rate_hz, subtype="PCM_24")
    by_ffmpeg(ffmpeg, source, options, path)
    found = whole(path)
    # A block of ADPCM is filled to its end.
    assert len(found) == len(sound) or (len(found) - len(sound) < 2_041 and "adpcm" in options)
    assert resembles(found[:, 0], sound)
    with open_sound(path) as opened:
        assert opened.info.encoding == encoding


@pytest.mark.parametrize(
    ("name", "options", "encoding", "filling"),
    [
        ("a.m4a", "-c:a aac -b:a 96k", "M4A, AAC", 0),
        ("a.m4a", "-c:a aac -b:a 96k -movflags +faststart", "M4A, AAC", 0),
        ("a.m4a", "-c:a alac", "M4A, ALAC", 0),
        # Raw AAC cannot say what the encoder put in front: 1024 samples, and the last frame's rest.
        ("a.aac", "-c:a aac -b:a 96k", "AAC, AAC", 1_024),
    ],
)
def test_m4a_without_what_the_encoder_put_around_it(
    tmp_path: Path,
    ffmpeg: Path,
    aac: None,
    name: str,
    options: str,
    encoding: str,
    filling: int,
) -> None:
    sound = tone(44_100, 2.7)
    source, path = tmp_path / "source.wav", tmp_path / name
    soundfile.write(source, sound, 44_100, subtype="PCM_16")
    by_ffmpeg(ffmpeg, source, options, path)
    found = whole(path)
    assert 0 <= len(found) - filling - len(sound) < (1_024 if filling else 1)
    assert resembles(found[filling:, 0], sound)
    with open_sound(path) as opened:
        assert opened.info.encoding == encoding


def by_ffmpeg(ffmpeg: Path, source: Path, options: str, path: Path) -> None:
    command = [str(ffmpeg), "-v", "error", "-y", "-i", str(source), *options.split(), str(path)]
    subprocess.run(command, check=True, capture_output=True, stdin=subprocess.DEVNULL)


def test_a_flac_without_a_length_is_read_to_its_end(tmp_path: Path, ffmpeg: Path) -> None:
    sound = tone(44_100, 2.7)
    source, path = tmp_path / "source.wav", tmp_path / "a.flac"
    soundfile.write(source, sound, 44_100, subtype="PCM_16")
    command = [str(ffmpeg), "-v", "error", "-i", str(source), "-f", "flac", "pipe:"]
    done = subprocess.run(command, check=True, capture_output=True, stdin=subprocess.DEVNULL)
    path.write_bytes(done.stdout)
    with open_sound(path) as opened:
        assert opened.remarks == ()
        blocks = np.concatenate(list(opened.blocks(10_000)))
        assert (opened.read(5, 50) == blocks[5:50]).all()
    with soundfile.SoundFile(source) as other:
        assert (blocks == other.read(always_2d=True)).all()


def test_nothing_stays_open(tmp_path: Path) -> None:
    path = tmp_path / "a.flac"
    soundfile.write(path, tone(8_000, 0.5), 8_000)
    with open_sound(path) as sound:
        sound.read(0, 10)
    path.unlink()
    soundfile.write(path, tone(8_000, 0.25), 8_000)
    with open_sound(path) as sound:
        assert sound.info.frames == 2_000
