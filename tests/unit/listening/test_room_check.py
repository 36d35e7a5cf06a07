"""The room check: each measure on sounds by formula, all of them on recorded voices."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from scipy.signal import fftconvolve, resample_poly

from quietleaf.errors import Invalid
from quietleaf.listening.room_band import band_end_hz
from quietleaf.listening.room_check import RoomCheck, RoomSound, check_room
from quietleaf.listening.room_echo import room_echo
from quietleaf.listening.room_hum import a_weight_db, find_hum
from quietleaf.listening.room_leak import find_leak, leak_sweep
from quietleaf.listening.room_noise import room_noise
from quietleaf.listening.room_pops import find_pops
from tests.voices import RATE_HZ, Made

Sound = NDArray[np.float64]
VOICE_DBOV = -25.0


def noise(seconds: float, level_dbov: float, *, seed: int = 1, rate_hz: int = RATE_HZ) -> Sound:
    draw = np.random.default_rng(seed).standard_normal(round(seconds * rate_hz))
    return np.asarray(draw * 10 ** (level_dbov / 20))


def voice(seed: int = 4) -> Sound:
    made = Made(seed=seed, room_dbov=-70.0)
    made.pause(0.4)
    made.speech(2.2)
    made.pause(0.4)
    made.speech(2.0)
    made.pause(0.4)
    return made.samples()


SENTENCE, PLOSIVES = voice(4), voice(9)
STILL = noise(5.0, -70.0)


def sound_of(
    sentence: Sound, still: Sound, plosives: Sound, played: Sound | None = None
) -> RoomSound:
    return RoomSound(
        sample_rate_hz=RATE_HZ,
        sentence=sentence[:, np.newaxis],
        still=still[:, np.newaxis],
        plosives=plosives[:, np.newaxis],
        played=None if played is None else played[:, np.newaxis],
    )


def check(
    sentence: Sound = SENTENCE, still: Sound = STILL, plosives: Sound = PLOSIVES
) -> RoomCheck:
    return check_room(sound_of(sentence, still, plosives))


def beside(other: Sound | float, *, right: bool) -> RoomSound:
    """Put the microphone on one side, and something at another level or nothing on the other."""
    parts = []
    for part in (SENTENCE, STILL, PLOSIVES):
        is_level = isinstance(other, float)
        second = part * other if is_level else np.resize(np.asarray(other), len(part))
        parts.append(np.column_stack([second, part] if right else [part, second]))
    return RoomSound(sample_rate_hz=RATE_HZ, sentence=parts[0], still=parts[1], plosives=parts[2])


def test_a_good_voice_in_a_quiet_room_needs_no_advice() -> None:
    found = check()
    assert (found.advice, found.overall) == ((), "good")
    assert found.voice_dbov == pytest.approx(-24.0, abs=1.0)
    assert found.noise is not None
    assert found.noise.floor_dbov == pytest.approx(-70.0, abs=0.3)
    assert 3.5 < found.sentence_s < 5.2


@pytest.mark.parametrize("right", [False, True])
@pytest.mark.parametrize(
    ("other", "said"),
    [
        (0.0, "dead"),
        (0.003, "faint"),
        (1.0, "same"),
        (noise(9.0, -60.0, seed=7), "faint"),
        (noise(9.0, -30.0, seed=7), "own"),
    ],
)
def test_one_side_is_taken_never_a_mix(other: Sound | float, said: str, right: bool) -> None:
    found = check_room(beside(other, right=right))
    assert found.side is not None
    assert found.side.other == said
    assert found.side.side == ("right" if right and said != "same" else "left")
    alone = check()
    # The mean of both sides would read 6 dB less.
    assert found.voice_dbov == pytest.approx(alone.voice_dbov)


def test_nothing_at_all_and_no_voice_are_told_apart() -> None:
    nothing = np.zeros(3 * RATE_HZ)
    silent = check(nothing, nothing, nothing)
    assert (silent.advice, silent.overall, silent.side) == (("no-input",), "not yet", None)
    empty = np.zeros(0)
    assert check(empty, empty, empty).advice == ("no-input",)
    room = noise(4.0, -60.0, seed=3)
    assert check(room, STILL + noise(5.0, -60.0), room).advice == ("no-voice",)


def test_levels_are_told() -> None:
    assert "too-quiet" in check(SENTENCE * 0.08, STILL * 0.08, PLOSIVES * 0.08).advice
    loud = 10 ** (14 / 20)
    assert check(SENTENCE * loud, STILL, PLOSIVES * loud).advice[:1] in (
        ("too-loud",),
        ("clipped",),
    )
    cut = np.clip(SENTENCE * 30, -0.99, 0.99), STILL, np.clip(PLOSIVES * 30, -0.99, 0.99)
    assert check(*cut).advice[0] == "clipped"
    assert check(*cut).overall == "not yet"


def test_a_bang_in_the_still_seconds_is_told() -> None:
    still = STILL.copy()
    still[RATE_HZ : RATE_HZ + 9_600] += noise(0.2, -25.0)
    assert check(still=still).advice == ("not-still",)


@pytest.mark.parametrize("mains_hz", [49.87, 50.0, 50.2, 59.95, 60.1])
@pytest.mark.parametrize("harmonics", [(1, 2), (1, 3, 5), (2, 4, 6), (1, 2, 3, 4, 5, 6, 7)])
def test_hum_is_measured_to_a_tenth_of_a_hertz(mains_hz: float, harmonics: tuple[int, ...]) -> None:
    t = np.arange(5 * RATE_HZ) / RATE_HZ
    hum = sum(1e-3 / k * np.sin(2 * np.pi * mains_hz * k * t + k) for k in harmonics)
    found = find_hum(STILL + hum, RATE_HZ)
    assert found is not None
    assert found.frequency_hz == pytest.approx(mains_hz, abs=0.1)
    assert set(harmonics) <= set(found.harmonics) | {k for k in harmonics if k > 4}
    power = sum((1e-3 / k) ** 2 / 2 for k in harmonics)
    assert found.level_dbov == pytest.approx(10 * np.log10(power), abs=1.0)


def test_other_tones_and_noises_are_no_hum() -> None:
    t = np.arange(5 * RATE_HZ) / RATE_HZ
    assert find_hum(STILL + 0.01 * np.sin(2 * np.pi * 440 * t), RATE_HZ) is None
    assert find_hum(STILL + 0.01 * np.sin(2 * np.pi * 73 * t), RATE_HZ) is None
    assert find_hum(np.zeros(5 * RATE_HZ), RATE_HZ) is None
    assert find_hum(STILL[:RATE_HZ], RATE_HZ) is None
    for seed in range(20):
        assert find_hum(noise(5.0, -60.0, seed=seed, rate_hz=16_000), 16_000) is None


def test_the_ears_weight_is_that_of_the_standard() -> None:
    # IEC 61672-1:2013, table 3, weighting A at nominal frequencies, to a tenth of a decibel.
    table = {31.62: -39.4, 63.1: -26.2, 125.9: -16.1, 251.2: -8.6, 1000.0: 0.0, 3981.0: 1.0}
    for frequency_hz, weight_db in table.items():
        assert a_weight_db(frequency_hz) == pytest.approx(weight_db, abs=0.06)


def test_the_character_of_noise() -> None:
    white = noise(5.0, -50.0)
    spectrum = np.fft.rfft(white)
    hertz = np.fft.rfftfreq(white.size, 1 / RATE_HZ)
    rumble = np.fft.irfft(spectrum * (hertz < 60) * 30, white.size)
    fan = np.fft.irfft(spectrum / np.maximum(hertz, 60.0), white.size)
    kinds = [room_noise(sound, RATE_HZ, None) for sound in (white, rumble, fan)]
    assert [found and found.kind for found in kinds] == ["hiss", "rumble", "fan"]
    t = np.arange(5 * RATE_HZ) / RATE_HZ
    hum = STILL + sum(0.01 / k * np.sin(2 * np.pi * 50 * k * t) for k in range(1, 8))
    found = room_noise(hum, RATE_HZ, find_hum(hum, RATE_HZ))
    assert found is not None
    assert found.kind == "hum"
    assert room_noise(np.zeros(5 * RATE_HZ), RATE_HZ, None) is None


def puffs(count: int, length: int, rate_hz: int, peak: float) -> Sound:
    sound = np.zeros(length)
    t = np.arange(round(0.06 * rate_hz)) / rate_hz
    puff = peak * np.sin(2 * np.pi * 32 * t) * np.exp(-(((t - 0.025) / 0.014) ** 2))
    for at in np.linspace(0.2, 0.8, count):
        place = round(at * length)
        sound[place : place + t.size] += puff
    return sound


def test_pops_are_counted() -> None:
    popped = PLOSIVES + puffs(4, PLOSIVES.size, RATE_HZ, 0.3)
    found = find_pops(popped, STILL, SENTENCE, RATE_HZ)
    assert found.count == 4
    assert found.strongest_db is not None
    assert find_pops(PLOSIVES, STILL, SENTENCE, RATE_HZ).count == 0
    # The same low sound without end is a lorry outside, and no pop.
    lorry = 0.2 * np.sin(2 * np.pi * 32 * np.arange(5 * RATE_HZ) / RATE_HZ)
    outside = PLOSIVES + np.resize(lorry, PLOSIVES.size)
    assert find_pops(outside, STILL + lorry, SENTENCE, RATE_HZ).count == 0
    empty = np.zeros(0)
    assert find_pops(empty, empty, empty, RATE_HZ).count == 0
    assert check(plosives=popped).advice == ("pops",)


@pytest.mark.parametrize("under_db", [20.0, 42.0, 75.0])
def test_headphones_and_loudspeakers_are_told_apart(under_db: float) -> None:
    sweep = leak_sweep(RATE_HZ)
    sweep = sweep / np.sqrt(np.mean(sweep**2)) * 10 ** ((-24.0 - under_db) / 20)
    played = noise(2.6, -70.0, seed=5)
    played[20_000 : 20_000 + sweep.size] += sweep
    found = check_room(sound_of(SENTENCE, STILL, PLOSIVES, played))
    told = {20.0: ("loudspeaker",), 42.0: ("headphones-leak",), 75.0: ()}
    assert found.advice == told[under_db]
    if under_db < 70.0:
        assert found.leak_below_voice_db == pytest.approx(under_db, abs=1.0)


def test_a_voice_is_not_taken_for_the_test_sound() -> None:
    assert find_leak(SENTENCE[: round(2.6 * RATE_HZ)], RATE_HZ) is None
    assert find_leak(np.zeros(3 * RATE_HZ), RATE_HZ) is None
    assert find_leak(np.zeros(10), RATE_HZ) is None


def test_parts_that_do_not_fit_together_are_refused() -> None:
    good = sound_of(SENTENCE, STILL, PLOSIVES)
    with pytest.raises(Invalid, match="one or two channels"):
        check_room(replace(good, still=np.zeros((100, 2))))
    with pytest.raises(Invalid, match="one or two channels"):
        check_room(replace(good, sentence=np.zeros((100, 3))))


# Recorded voices.

VOICES = (
    *("arctic_aew", "arctic_axb", "arctic_slt", "barnes", "frA", "frB", "jfk", "lj", "ls1088"),
    *("ls1688", "ls1998", "ls2033", "ls2412", "ls2414", "ls2609", "ls61", "p225", "p226"),
    *("p273", "p286", "prompts_en"),
)
WIDE = frozenset(("barnes", "frA", "frB", "jfk", "lj", "p273", "p286"))
"""Recorded at 22 kHz or more; the others end at 8 kHz, and are rightly told of."""
SPOKEN_HZ = 44_100


def load(path: Path) -> Sound:
    sound, rate_hz = soundfile.read(path, always_2d=True)
    up, down = SPOKEN_HZ // 50, rate_hz // 50
    return np.asarray(resample_poly(sound[:, 0], up, down) if up != down else sound[:, 0])


def levelled(sound: Sound, level_dbov: float) -> Sound:
    return np.asarray(sound / np.sqrt(np.mean(sound**2)) * 10 ** (level_dbov / 20))


@pytest.fixture(scope="module")
def readers(recordings: Path) -> dict[str, Sound]:
    """Give about ten seconds of each recorded voice, at -25 dB."""
    found = {}
    for name in VOICES:
        parts: list[Sound] = []
        for path in sorted((recordings / "speech" / name).glob("*.flac")):
            parts.append(load(path))
            if sum(part.size for part in parts) > 10 * SPOKEN_HZ:
                break
        sound = np.concatenate(parts)
        if sound.size < 7 * SPOKEN_HZ:
            sound = np.tile(sound, 2)
        sound = levelled(sound[: 10 * SPOKEN_HZ], VOICE_DBOV)
        found[name] = sound / max(1.0, float(np.abs(sound).max()) / 0.7)
    return found


def read_in(sound: Sound, room: Sound) -> RoomCheck:
    """Check a reader who reads both sentences in a room, of which there is 5 s more."""
    spoken = sound + room[: sound.size]
    half = sound.size // 2
    return check_room(
        RoomSound(
            sample_rate_hz=SPOKEN_HZ,
            sentence=spoken[:half, np.newaxis],
            still=room[sound.size :, np.newaxis],
            plosives=spoken[half:, np.newaxis],
        )
    )


def room_for(sound: Sound, level_dbov: float, bed: Sound | None = None) -> Sound:
    """Make noise for a reading and 5 s more; a recorded one has no seam in the last 5 s."""
    count = sound.size + 5 * SPOKEN_HZ
    if bed is None:
        return noise(count / SPOKEN_HZ + 0.01, level_dbov, rate_hz=SPOKEN_HZ)[:count]
    bed = levelled(bed, level_dbov)
    return np.concatenate([np.resize(bed, sound.size), bed[: 5 * SPOKEN_HZ]])


def counted(checks: list[RoomCheck]) -> Counter[str]:
    return Counter(code for found in checks for code in found.advice or ("good",))


@pytest.mark.parametrize("level_dbov", [-78.0, -62.0])
def test_no_recorded_voice_in_a_quiet_room_is_advised(
    readers: dict[str, Sound], level_dbov: float
) -> None:
    for name, sound in readers.items():
        found = read_in(sound, room_for(sound, level_dbov))
        assert found.advice == (), name


def test_a_loud_room_is_told_to_every_voice(readers: dict[str, Sound], recordings: Path) -> None:
    fans = load(recordings / "noise" / "server_fans.flac")
    checks = [read_in(sound, room_for(sound, -45.0, fans)) for sound in readers.values()]
    # By its catalogue it has a line at 120 Hz: hum may be told beside it.
    assert counted(checks)["noise"] == len(VOICES)
    assert set(counted(checks)) <= {"noise", "hum"}
    kinds = {found.noise.kind for found in checks if found.noise is not None}
    assert kinds == {"fan"}


def test_a_refrigerators_hum_is_told_with_its_frequency(
    readers: dict[str, Sound], recordings: Path
) -> None:
    fridge = load(recordings / "noise" / "fridge_hum_50hz.flac")
    for level_dbov, told in ((-48.0, True), (-72.0, False)):
        checks = [read_in(sound, room_for(sound, level_dbov, fridge)) for sound in readers.values()]
        assert all(("hum" in found.advice) is told for found in checks)
        # 49.95 Hz by its harmonics; nothing was written down with the recording.
        assert all(found.hum and 49.8 < found.hum.frequency_hz < 50.1 for found in checks)


def test_a_narrowed_band_is_told_and_a_whole_one_is_not(readers: dict[str, Sound]) -> None:
    for name, sound in readers.items():
        room = 1e-5 * np.random.default_rng(1).standard_normal(sound.size)
        for rate_hz, most_missed in ((16_000, {"jfk"}), (8_000, set[str]())):
            down, up = SPOKEN_HZ // 100, rate_hz // 100
            narrow = resample_poly(resample_poly(sound, up, down), down, up)[: sound.size] + room
            end = band_end_hz(narrow, SPOKEN_HZ)
            assert end == rate_hz // 2 or name in most_missed, (name, rate_hz)
        assert band_end_hz(sound + room, SPOKEN_HZ) in ((None,) if name in WIDE else (None, 8000))


def test_measured_rooms_echo_and_dry_voices_do_not(
    readers: dict[str, Sound], recordings: Path
) -> None:
    # Times to -60 dB from the responses' own backward integration, -5 to -25 dB (ISO 3382-2, T20).
    for name, t20_s, least in (("sb_rir1", 0.61, 17), ("seminar_room_clap", 0.63, 20)):
        response = load(recordings / "rir" / f"{name}.flac")
        response = response / np.sqrt(np.sum(response**2))
        echoes = [
            room_echo(fftconvolve(sound, response)[: sound.size], SPOKEN_HZ)
            for sound in readers.values()
        ]
        found = np.array([echo.decay_s for echo in echoes if echo is not None])
        assert len(found) == len(VOICES)
        assert np.median(found) == pytest.approx(t20_s, rel=0.4)
        assert np.sum(found > 0.6) >= least, name
    dry = [room_echo(sound, SPOKEN_HZ) for sound in readers.values()]
    assert all(echo is not None and echo.decay_s < 0.35 for echo in dry)


def test_no_recorded_voice_is_taken_for_the_test_sound_and_rooms_do_not_hide_it(
    readers: dict[str, Sound], recordings: Path
) -> None:
    count = round(2.6 * SPOKEN_HZ)
    for name, sound in readers.items():
        for start in range(0, sound.size - count, count):
            assert find_leak(sound[start : start + count], SPOKEN_HZ) is None, name
    for name in ("sb_rir1", "seminar_room_clap"):
        played = fftconvolve(leak_sweep(SPOKEN_HZ), load(recordings / "rir" / f"{name}.flac"))
        heard = noise(2.6, -70.0, rate_hz=SPOKEN_HZ)
        heard[15_000:] += levelled(played, -50.0)[: heard.size - 15_000]
        found = find_leak(heard, SPOKEN_HZ)
        assert found is not None
        # The tail counts, and its room is longer than what is looked at: near, and never louder.
        assert -58.0 < found.level_dbov < -45.0


def test_recorded_voices_pop_where_pops_were_put(readers: dict[str, Sound]) -> None:
    told = 0
    for sound in readers.values():
        half = sound.size // 2
        popped = sound.copy()
        popped[half:] += puffs(5, sound.size - half, SPOKEN_HZ, 0.3)
        found = read_in(popped, room_for(sound, -75.0))
        told += "pops" in found.advice
        assert set(found.advice) <= {"pops"}
    assert told >= 18
