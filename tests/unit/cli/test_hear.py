"""`quietleaf hear`: a table, lines of JSON, a curve; one broken file does not stop the rest."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import numpy as np
import pytest

from quietleaf.cli.main import main
from tests.signals import same_in, speech_like, stepped_tone, write_wave
from tests.voices import Made

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def voice(tmp_path: Path) -> Path:
    """Give a recording of something like speech, with sound missing at 2.0 s."""
    sound = speech_like(1, 8.0, 16_000)
    sound[32_000:32_400] = 0.0
    return write_wave(tmp_path / "voice.wav", sound, 16_000)


@pytest.fixture
def silence(tmp_path: Path) -> Path:
    """Give four seconds of zeros."""
    return write_wave(tmp_path / "silence.wav", np.zeros(64_000), 16_000)


def test_table(voice: Path, capsys: Capture) -> None:
    assert main(["hear", str(voice)]) == 0
    told = capsys.readouterr()
    lines = told.out.splitlines()
    assert told.err == ""
    assert lines[0] == str(voice)
    assert "  Length            0:08, 16000 Hz, one channel" in lines
    assert "  Verdict           needs an ear" in lines
    assert re.search(r"^  Loudness          -\d\d\.\d LUFS$", told.out, re.MULTILINE)
    assert re.search(r"^  True peak         -?\d+\.\d dBTP$", told.out, re.MULTILINE)
    assert "    0:02 to 0:02      dropout, hear (25 ms)" in lines
    assert max(map(len, lines[1:])) <= 100


def test_table_of_silence(silence: Path, capsys: Capture) -> None:
    assert main(["hear", str(silence)]) == 0
    told = capsys.readouterr().out
    assert told.count("not measured") == 10
    assert "inf" not in told
    assert "nan" not in told
    assert "No speech was found in this recording." in told


def test_a_line_of_json_for_each_file(voice: Path, silence: Path, capsys: Capture) -> None:
    assert main(["hear", "--json", str(voice), str(silence)]) == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [line["file"] for line in lines] == [str(voice), str(silence)]
    assert {line["schema"] for line in lines} == {"quietleaf/hearing/1"}
    assert "dropout" in {finding["kind"] for finding in lines[0]["findings"]}
    assert lines[1]["loudness"]["integrated_lufs"] is None
    assert json.dumps(lines, allow_nan=False)


def test_json_keeps_names_as_they_are(tmp_path: Path, capsys: Capture) -> None:
    file = write_wave(tmp_path / "Frühstück „heute“.wav", np.zeros(800), 8_000)
    assert main(["hear", "--json", str(file)]) == 0
    told = capsys.readouterr().out
    assert "Frühstück" in told
    assert json.loads(told)["file"] == str(file)


def test_a_broken_file_among_good_ones(
    voice: Path, silence: Path, tmp_path: Path, capsys: Capture
) -> None:
    broken = tmp_path / "broken.wav"
    broken.touch()
    assert main(["hear", "--json", str(voice), str(broken), str(silence)]) == 3
    told = capsys.readouterr()
    assert [json.loads(line)["file"] for line in told.out.splitlines()] == [
        str(voice),
        str(silence),
    ]
    assert len(told.err.splitlines()) == 1
    assert "broken.wav" in told.err


@pytest.mark.parametrize(
    ("names", "code"), [(("letter.wav", "empty.wav"), 2), (("empty.wav", "missing.wav"), 3)]
)
def test_the_first_refusal_gives_the_code(
    names: tuple[str, str], code: int, voice: Path, tmp_path: Path, capsys: Capture
) -> None:
    (tmp_path / "empty.wav").touch()
    (tmp_path / "letter.wav").write_text("This is a letter, not a recording.")
    assert main(["hear", *(str(tmp_path / name) for name in names), str(voice)]) == code
    told = capsys.readouterr()
    assert [name in line for name, line in zip(names, told.err.splitlines(), strict=True)] == [
        True,
        True,
    ]
    assert told.out.startswith(str(voice))


def test_numbers_that_are_none_are_refused(tmp_path: Path, capsys: Capture) -> None:
    sound = speech_like(1, 1.0, 16_000)
    sound[9_000] = np.nan
    file = write_wave(tmp_path / "nan.wav", sound, 16_000, "FLOAT")
    assert main(["hear", "--json", str(file)]) == 3
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.splitlines()) == 1


@pytest.mark.parametrize("option", ["--opening", "--closing"])
@pytest.mark.parametrize("text", ["", "  ", "…!"])
def test_words_that_are_none_are_refused(
    option: str, text: str, silence: Path, capsys: Capture
) -> None:
    assert main(["hear", option, text, str(silence)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith(option)


def test_the_verdict_does_not_change_the_code(silence: Path, capsys: Capture) -> None:
    assert main(["hear", "--json", str(silence)]) == 0
    assert json.loads(capsys.readouterr().out)["verdict"] == "read again"


def test_the_verdict_goes_by_the_review_depth(voice: Path, capsys: Capture) -> None:
    assert main(["hear", "--json", "--review", "whole", str(voice)]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["verdict"] == "needs an ear"
    assert told["reasons"][0] == "This programme is heard whole before it goes out."


def test_curve_is_csv_by_rfc_4180(tmp_path: Path) -> None:
    tone = stepped_tone((-np.inf, 1.0), (-23.0, 4.0))
    file = write_wave(tmp_path / "tone.wav", same_in(2, tone))
    into = tmp_path / "curve.csv"
    into.write_text("what was there before")
    assert main(["hear", str(file), "--curve", str(into)]) == 0
    written = into.read_bytes()
    assert written.endswith(b"\r\n")
    assert written.count(b"\r\n") == written.count(b"\n") == 51
    rows = list(csv.reader(written.decode().splitlines()))
    assert rows[0] == ["time_s", "momentary_lufs", "short_term_lufs"]
    assert {len(row) for row in rows} == {3}
    assert rows[1] == ["0.1", "", ""]
    assert rows[10] == ["1.0", "", ""]
    time_s, momentary, short_term = map(float, rows[50])
    assert time_s == 5.0
    assert momentary == pytest.approx(-23.0, abs=0.1)
    assert short_term == pytest.approx(-23.0, abs=0.1)


def test_a_curve_is_that_of_one_file(voice: Path, silence: Path, tmp_path: Path) -> None:
    into = tmp_path / "curve.csv"
    assert main(["hear", str(voice), str(silence), "--curve", str(into)]) == 2
    assert not into.exists()


def test_dead_air_by_the_setting(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    sound = speech_like(1, 12.0, 16_000)
    sound[48_000:112_000] = np.random.default_rng(1).normal(size=64_000) * 10**-3.2
    file = write_wave(tmp_path / "pause.wav", sound, 16_000)
    for dead_air_s, severities in (("5.0", {"note"}), ("2.0", {"fix"})):
        monkeypatch.setenv("QUIETLEAF_DEAD_AIR_S", dead_air_s)
        assert main(["hear", "--json", str(file)]) == 0
        findings = json.loads(capsys.readouterr().out)["findings"]
        assert {one["severity"] for one in findings if one["kind"] == "dead-air"} == severities


def test_notes_are_told_apart(tmp_path: Path, capsys: Capture) -> None:
    voice = Made(seed=2)
    voice.pause(1.0)
    voice.speech(3.0)
    voice.pause(3.6)
    voice.speech(3.0)
    voice.pause(1.0)
    file = write_wave(tmp_path / "pause.wav", voice.samples())
    assert main(["hear", str(file)]) == 0
    told = capsys.readouterr().out
    assert "  Verdict           ready" in told
    assert "  Head, tail        1.0 s before the first syllable, 1.0 s after the last" in told
    assert "Things to hear" not in told
    assert re.search(
        r"  For the record\n    0:0\d to 0:07      dead-air, note \(3\.[56]\d* s\)", told
    )


def test_words_are_checked_where_they_are_named_and_said_not_to_be_without_the_extra(
    voice: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("quietleaf.storage.aligner.open_aligner", lambda: None)
    assert main(["hear", "--json", str(voice), "--opening", "This is it."]) == 0
    words = json.loads(capsys.readouterr().out)["words"]
    assert words["closing"] is None
    assert words["opening"]["state"] == "not checked"
    assert "quietleaf[alignment]" in words["opening"]["why_not"]
    assert main(["hear", str(voice), "--closing", "That was it."]) == 0
    assert re.search(r"Closing words +not checked", capsys.readouterr().out)
    assert main(["hear", "--json", str(voice)]) == 0
    assert "words" not in json.loads(capsys.readouterr().out)


def test_a_recogniser_that_is_not_there_is_told_and_the_sound_alone_is_heard(
    silence: Path, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert main(["hear", "--recogniser", str(tmp_path), str(silence)]) == 2
    assert "lacks model.bin, config.json, tokenizer.json" in capsys.readouterr().err
    monkeypatch.setattr("quietleaf.storage.recogniser.open_recogniser", lambda _folder: None)
    monkeypatch.setenv("QUIETLEAF_RECOGNISER", str(tmp_path))
    assert main(["hear", "--json", str(silence)]) == 0
    told = capsys.readouterr()
    assert json.loads(told.out)["recogniser"] == "not installed"
    assert "quietleaf[words]" in told.err
