"""Odd and broken headers from the test sets of other programs, where the recordings are shared.

Frames are those that libsndfile 1.2.2 counts, but where a remark says otherwise.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from quietleaf.errors import QuietleafError
from quietleaf.storage.codecs import open_sound

FRAMES = {
    "bw64_noise_24bit_uneven_data_chunk_size.wav": 13,
    "bw64_rect_16bit.wav": 22_050,
    "bw64_rect_24bit_bext.wav": 22_050,
    "bw64_rect_24bit_rf64.wav": 22_050,
    "made_dev_cart_after_data.wav": 64_000,
    "made_dev_cart_bext_v2.wav": 64_000,
    # libsndfile counts none; the samples are there.
    "made_dev_data_size_zero.wav": 64_000,
    "made_dev_garbage_tail.wav": 64_000,
    # libsndfile does not open it.
    "made_dev_odd_chunk_no_pad.wav": 64_000,
    "made_dev_streamed_size_ffffffff.wav": 64_000,
    "made_dev_truncated_mid_data.wav": 37_847,
    "nonstandard-01.wav": 1,
    "nonstandard-02.wav": 2,
    "pcmwaveformat-24bit-4byte-48kHz-stereo.wav": 2,
    "pcmwaveformat-8bit-44100Hz-mono.wav": 4,
    "tt_adpcm.wav": 535_004,
    "tt_corrupt_metadata.ogg": 94_037,
    "tt_riff_extra_zero.wav": 5_120,
    "tt_test-riff-tags.wav": 44_100,
    "tt_wav_with_image.wav": 17_157,
    "waveformatextensible-24bit-192kHz-mono.wav": 4,
    "waveformatextensible-ieeefloat-44100Hz-mono.wav": 4,
}
REFUSED = {
    # An RF64 without the chunk of long sizes that it must begin with.
    "bw64_rect_24bit_nods64.wav": "sound/header",
    "bw64_rect_24bit_noriff.wav": "sound/not-a-recording",
    "bw64_rect_24bit_nowave.wav": "sound/not-a-recording",
    "bw64_rect_24bit_wrong_fmt_size.wav": "sound/header",
    "fuzz_crash-24723bf4.wav": "sound/header",
    "fuzz_crash-b84478ea.wav": "sound/header",
    "fuzz_crash-cbd76bee.wav": "sound/header",
    "fuzz_crash-e54754f5.wav": "sound/header",
    "fuzz_crash-e8790fdc.wav": "sound/header",
    "fuzz_oom-48ae4c5216.wav": "sound/header",
    "tt_empty_file.mp3": "sound/empty",
    "tt_incomplete.mp3": "sound/not-a-recording",
    "tt_invalid_sample_rate.aiff": "sound/broken",
}
REMARKED = {
    "made_dev_data_size_zero.wav": "does not say how long it is",
    "made_dev_garbage_tail.wav": "After its end it holds",
    "made_dev_streamed_size_ffffffff.wav": "does not say how long it is",
    "made_dev_truncated_mid_data.wav": "It ends early",
}


@pytest.mark.parametrize("name", FRAMES)
def test_it_is_read(recordings: Path, name: str) -> None:
    with open_sound(recordings / "metadata" / name) as sound:
        assert sum(len(block) for block in sound.blocks()) == sound.info.frames == FRAMES[name]
        told = " ".join(sound.remarks)
    assert REMARKED.get(name, "") in told
    assert bool(told) == (name in REMARKED)


@pytest.mark.parametrize("name", REFUSED)
def test_it_is_refused(recordings: Path, name: str) -> None:
    with pytest.raises(QuietleafError) as refusal:
        open_sound(recordings / "metadata" / name)
    assert refusal.value.code == REFUSED[name]


def test_24_bits_in_four_bytes_are_read_as_meant(recordings: Path) -> None:
    # The values that the file's own project expects of it.
    with open_sound(
        recordings / "metadata" / "pcmwaveformat-24bit-4byte-48kHz-stereo.wav"
    ) as sound:
        read = sound.read(0, 2) * (1 << 23)
    assert read.tolist() == [[-96.0, 23_052.0], [8_388_607.0, -8_360_672.0]]
