"""`quietleaf finish` on recordings in files: real voices, refusals, and being stopped."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from quietleaf.cli.main import EXIT_STOPPED, main
from tests.journey.meters import ffmpeg_loudness
from tests.voices import RATE_HZ, Made

VOICES = (
    "continuous/fr006.flac",
    "continuous/ls2033_concat.flac",
    "annotated/acoustic_corpus.flac",
)


@pytest.fixture
def sentence(tmp_path: Path) -> Path:
    """A made voice: breath, three sentences, pauses; 48 kHz mono."""
    made = Made()
    made.pause(1.0)
    for length_s in (3.0, 4.0, 2.5):
        made.speech(length_s)
        made.pause(0.6)
    path = tmp_path / "sentence.wav"
    soundfile.write(path, made.samples(), RATE_HZ, subtype="PCM_24")
    return path


@pytest.mark.parametrize("name", VOICES)
def test_real_voices_come_out_at_the_target_and_begin_on_speech(
    recordings: Path, ffmpeg: Path, tmp_path: Path, name: str
) -> None:
    assert main(["finish", str(recordings / name), "--out", str(tmp_path)]) == 0
    for suffix in (".wav", ".mp3"):
        (file,) = tmp_path.glob(f"*{suffix}")
        integrated, peak = ffmpeg_loudness(ffmpeg, file)
        assert integrated == pytest.approx(-23.0, abs=0.2), suffix
        assert peak <= -1.0, suffix
    samples, rate = soundfile.read(next(tmp_path.glob("*.wav")))
    frames = samples[: rate * 2 // 480 * 480].reshape(-1, 480)
    level = 10.0 * np.log10((frames**2).mean(axis=1) + 1e-12)
    assert 0.35 <= float(np.argmax(level > -42.0)) / 100.0 <= 0.75


def test_a_voice_of_recorded_prompts_comes_out_at_the_target(
    prompts: list[Path], ffmpeg: Path, tmp_path: Path
) -> None:
    """A real voice at 8 kHz, joined from its longest prompts as they are."""
    longest = sorted(prompts, key=lambda path: (-path.stat().st_size, path.name))[:12]
    parts, rates = zip(*(soundfile.read(path) for path in longest), strict=True)
    (rate,) = set(rates)
    recording, out = tmp_path / "prompts.wav", tmp_path / "out"
    soundfile.write(recording, np.concatenate(parts), rate, subtype="PCM_16")
    assert main(["finish", str(recording), "--out", str(out)]) == 0
    for suffix in (".wav", ".mp3"):
        integrated, peak = ffmpeg_loudness(ffmpeg, next(out.glob(f"*{suffix}")))
        assert integrated == pytest.approx(-23.0, abs=0.2), suffix
        assert peak <= -1.0, suffix


def test_a_window_far_off_is_reported_and_nothing_is_stretched_for_it(
    sentence: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    words = ["finish", str(sentence), "--out", str(out), "--window", "0:30-0:40"]
    assert main(words) == 0
    plan = json.loads((out / "plan.json").read_text("utf-8"))
    assert plan["fit"]["verdict"] == "short"
    assert "pauses" not in plan
    assert "pace" not in plan
    with soundfile.SoundFile(next(out.glob("*.wav"))) as master:
        assert master.frames / master.samplerate < 15.0


@pytest.mark.parametrize("length", ["0:12.25", "0:11.6"])
def test_a_length_is_met_to_the_sample_in_both_files(
    sentence: Path, ffmpeg: Path, tmp_path: Path, length: str
) -> None:
    out = tmp_path / "out"
    assert main(["finish", str(sentence), "--out", str(out), "--fit", length]) == 0
    samples = round(float(length.removeprefix("0:")) * RATE_HZ)
    for suffix in (".wav", ".mp3"):
        with soundfile.SoundFile(next(out.glob(f"*{suffix}"))) as master:
            assert master.frames == samples, suffix
    integrated, peak = ffmpeg_loudness(ffmpeg, next(out.glob("*.wav")))
    assert integrated == pytest.approx(-23.0, abs=0.15)
    assert peak <= -1.0
    assert "exactly as asked" in next(out.glob("report*.html")).read_text("utf-8")


def test_a_pause_that_is_refused_stays_and_the_length_is_met_all_the_same(
    sentence: Path, tmp_path: Path
) -> None:
    words = ["finish", str(sentence), "--fit", "0:12.25"]
    assert main([*words, "--out", str(tmp_path / "one")]) == 0
    path = tmp_path / "one" / "plan.json"
    plan = json.loads(path.read_text("utf-8"))
    plan["pauses"][0]["state"] = "refused"
    path.write_text(json.dumps(plan), encoding="utf-8")
    out = tmp_path / "two"
    assert main([*words, "--out", str(out), "--plan", str(path)]) == 0
    again = json.loads((out / "plan.json").read_text("utf-8"))
    states = {pause["start"]: pause["state"] for pause in again["pauses"]}
    assert states.pop(plan["pauses"][0]["start"]) == "refused"
    assert set(states.values()) == {"made"}
    with soundfile.SoundFile(next(out.glob("*.wav"))) as master:
        assert master.frames == round(12.25 * RATE_HZ)


def test_short_items_make_up_what_is_missing(sentence: Path, tmp_path: Path) -> None:
    made = Made(seed=8)
    made.speech(6.0)
    items, out = tmp_path / "items", tmp_path / "out"
    items.mkdir()
    soundfile.write(items / "The ferry.wav", made.samples(), RATE_HZ, subtype="PCM_16")
    words = ["finish", str(sentence), "--out", str(out), "--fit", "0:19.5"]
    assert main([*words, "--short-items", str(items)]) == 0
    plan = json.loads((out / "plan.json").read_text("utf-8"))
    assert [item["title"] for item in plan["items"]] == ["The ferry"]
    assert plan["fit"]["verdict"] == "fits"
    samples, _ = soundfile.read(next(out.glob("*.wav")))
    assert samples.size == round(19.5 * RATE_HZ)
    spoken = np.std(samples[round(13.8 * RATE_HZ) :])
    assert 20 * np.log10(spoken / np.std(samples[: round(12.0 * RATE_HZ)])) == pytest.approx(
        0.0, abs=2.0
    )


def test_what_is_dead_air_is_one_setting_for_hearing_and_finishing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = Made()
    for length_s in (3.0, 4.0, 2.5):
        made.speech(length_s)
        made.pause(4.0)
    recording = tmp_path / "pauses.wav"
    soundfile.write(recording, made.samples(), RATE_HZ, subtype="PCM_24")
    cuts = []
    for setting in ("5", "3.5"):
        monkeypatch.setenv("QUIETLEAF_DEAD_AIR_S", setting)
        out = tmp_path / setting
        assert main(["finish", str(recording), "--out", str(out)]) == 0
        cuts.append((out / "plan.json").read_text("utf-8").count('"dead-air"'))
    assert cuts == [0, 2]


def test_the_same_recording_gives_the_same_bytes(sentence: Path, tmp_path: Path) -> None:
    for folder in ("one", "two"):
        assert main(["finish", str(sentence), "--out", str(tmp_path / folder)]) == 0
    for suffix in (".wav", ".mp3"):
        one, two = (
            next((tmp_path / folder).glob(f"*{suffix}")).read_bytes() for folder in ("one", "two")
        )
        assert one == two


@pytest.mark.parametrize(
    ("samples", "code"),
    [
        (np.zeros(RATE_HZ * 5), 3),
        (1e-4 * np.random.default_rng(3).standard_normal(RATE_HZ * 5), 3),
        (np.zeros(100), 3),
    ],
    ids=["silence", "noise without speech", "too short"],
)
def test_what_cannot_be_finished_is_refused_in_a_sentence_and_leaves_nothing(
    samples: np.ndarray,
    code: int,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path, out = tmp_path / "in.wav", tmp_path / "out"
    soundfile.write(path, samples, RATE_HZ, subtype="PCM_24")
    assert main(["finish", str(path), "--out", str(out)]) == code
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert not out.exists() or not any(out.iterdir())


def test_an_unknown_reading_or_target_is_refused(
    sentence: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = str(tmp_path / "out")
    assert main(["finish", str(sentence), "--out", out, "--loudness", "loud"]) == 2
    assert "ebu-r128" in capsys.readouterr().err
    assert main(["finish", str(tmp_path / "none.wav"), "--out", out]) == 2
    assert "none.wav" in capsys.readouterr().err


def test_ctrl_c_leaves_nothing_half_written(sentence: Path, tmp_path: Path) -> None:
    """Stopped once its hidden files are there: the moment when most could be left behind."""
    long, out = tmp_path / "long.wav", tmp_path / "out"
    samples, _ = soundfile.read(sentence)
    soundfile.write(long, np.tile(samples, 60), RATE_HZ, subtype="PCM_24")
    script = "import sys; from quietleaf.cli.main import main; sys.exit(main(sys.argv[1:]))"
    child = subprocess.Popen(
        [sys.executable, "-c", script, "finish", str(long), "--out", str(out)],
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    while child.poll() is None and not (out.exists() and any(out.rglob("*.*"))):
        os.sched_yield()
    child.send_signal(signal.SIGINT)
    _, told = child.communicate(timeout=60)
    assert child.returncode == EXIT_STOPPED, told
    assert "Nothing half-written" in told
    assert not out.exists() or not any(out.iterdir())
