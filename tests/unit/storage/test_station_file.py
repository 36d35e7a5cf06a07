"""The station's file: what the example says, and what is refused."""

from __future__ import annotations

from datetime import time
from pathlib import Path

import pytest

import quietleaf.example
from quietleaf.errors import Invalid, NotFound
from quietleaf.planning.words import WordsFor, fill_words
from quietleaf.storage.station_file import read_example, read_station
from quietleaf.units import Window

EXAMPLE = Path(*quietleaf.example.__path__) / "station.toml"


def changed(folder: Path, old: str, new: str) -> Path:
    """Write the example's file with one place changed."""
    text = EXAMPLE.read_text(encoding="utf-8")
    assert old in text
    path = folder / "station.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return path


def test_the_example_is_read_whole() -> None:
    station = read_station(EXAMPLE)
    assert station.name == "Marrowby Reading Service"
    assert station.zone == "Europe/London"
    assert "Invented" in station.note
    programmes = {programme.key: programme for programme in station.programmes}
    five = programmes["marrowby-in-five"]
    assert five.publication == "The Marrowby Courier"
    assert (five.slot_s, five.window) == (300.0, Window(shortest_s=225.0, longest_s=285.0))
    assert (five.weekdays, five.air_times) == ((0, 1, 2, 3, 4), (time(18),))
    depths = [programmes[key].review for key in ("courier-hour", "marrowby-in-five", "long-shelf")]
    assert depths == ["none", "things to hear", "whole"]
    assert [one.key for one in station.programmes if one.other_reviewer] == ["long-shelf"]
    request = programmes["private-request"]
    assert (request.slot_s, request.window, request.air_times) == (None, None, ())
    shelf = next(one for one in station.assignments if one.programme_key == "long-shelf")
    assert (shelf.readers, shelf.part) == (("Imke Rowan",), 9)


def test_an_outlet_says_what_is_not_as_usual(tmp_path: Path) -> None:
    path = changed(
        tmp_path,
        "[[publications]]",
        """[[outlets]]
key = "telephone"
law = "A-law"
loudness_lufs = -21

[[outlets]]
key = "second-feed"
form = "mp3"
mp3_kbps = 48

[[publications]]""",
    )
    telephone, feed = read_station(path).outlets
    assert (telephone.form, telephone.law, telephone.high_hz) == ("telephone", "A-law", 3_400.0)
    assert (telephone.loudness_lufs, telephone.ceiling_dbtp) == (-21.0, -3.0)
    assert (feed.form, feed.mp3_kbps, feed.ceiling_dbtp) == ("mp3", 48, -1.0)


@pytest.mark.parametrize(
    ("outlet", "sentence"),
    [
        ('key = "van"', "form"),
        ('key = "feed"\nmp3_kbps = 50', "bit rates"),
        ('key = "feed"\nloudness_lufs = -3', "loudness of the outlet feed"),
        ('key = "telephone"\nhigh_hz = 4000.0', "upper end of the band"),
        ('key = "feed"\nloudness_lufs = true', "a number"),
        ('key = "feed"\n[[outlets]]\nkey = "feed"', "feed has 2"),
        ('key = "feed"\nvolume = 11', "volume"),
    ],
)
def test_an_outlet_that_cannot_be_made_is_refused(
    tmp_path: Path, outlet: str, sentence: str
) -> None:
    path = changed(tmp_path, "[[publications]]", f"[[outlets]]\n{outlet}\n\n[[publications]]")
    with pytest.raises(Invalid, match=sentence):
        read_station(path)


def test_the_examples_words_can_all_be_filled() -> None:
    station = read_station(EXAMPLE)
    programmes = {programme.key: programme for programme in station.programmes}
    for assignment in station.assignments:
        programme = programmes[assignment.programme_key]
        given = WordsFor(
            service=station.name,
            programme=programme.title,
            publication=programme.publication,
            issue_date=assignment.issue_date,
            readers=assignment.readers,
            part=assignment.part,
        )
        for words in (programme.opening_words, programme.closing_words):
            filled = fill_words(words, given)
            assert "{" not in filled
            assert "\n" not in filled


def test_the_examples_reading_is_one_of_its_assignments() -> None:
    station, example = read_station(EXAMPLE), read_example(EXAMPLE)
    assert example.sample.parent == EXAMPLE.parent
    assert (example.programme_key, example.issue_date, example.day, (example.reader,)) in {
        (one.programme_key, one.issue_date, one.air_date, one.readers)
        for one in station.assignments
    }


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("slot_s = 1800", "slot = 1800", "programme 1 has 'slot', a name that is not known there"),
        ('place = "', 'town = "', r"\[station\] has 'town'"),
        ('review = "whole"', 'review = "half"', "review .*'half'"),
        ("[[publications]]", "[[papers]]\n[[publications]]", "has 'papers'"),
        ("[[assignments]]", '[[assignments]]\nvoice = "low"', "assignment 1 has 'voice'"),
        ('originator = "Marrowby Reading Service"', "", "has no originator. Add it: a text"),
        ("slot_s = 1800", "slot_s = true", "slot_s is a number of seconds above 0; .* True"),
        ("[1620, 1680]", "[1620]", r"window_s is two numbers .* \[1620\]"),
        ("[1620, 1680]", "[1620, nan]", "window_s is two numbers"),
        ("year = 2019", "year = 2019.5", "year is a whole number; this says 2019.5"),
        ("issue = 2026-11-23", "issue = 2026-11-23T10:00:00", "issue is a date like"),
        ('"12:00"', '"12 noon"', "air_times is a list of times of day"),
        ('"12:00"', '"25:00"', "air_times is a list of times of day"),
        ('weekdays = ["wed"]', 'weekdays = ["weds"]', "weekdays is one of mon, tue.*'weds'"),
        ('programme = "bread-and-butter"', 'programme = "bread"', "programme is one of .*'bread'"),
        ('key = "long-shelf"', 'key = "bread-and-butter"', "which stands for another one above"),
        ('"Europe/London" ', '"Europe/Marrowby"', "knows none called 'Europe/Marrowby'"),
        ('"Europe/London" ', '"/etc/passwd"', "knows none called '/etc/passwd'"),
        ("station/1", "station/2", "reads quietleaf/station/1"),
        ("schema =", "schema", "written in TOML; station.toml cannot be read"),
        ("[1620, 1680]", "[1620, 1980]", "within the slot"),
        ("[1620, 1680]", "[" * 5_000, "written in TOML; station.toml cannot be read"),
        ("year = 2019", "year = " + "9" * 5_000, "written in TOML; station.toml cannot be read"),
        ('"12:00"', "[[]]", "air_times is a list of times of day"),
        ("reader is {reader}", "reader is {raeder}", r"these words have \{raeder\}"),
    ],
)
def test_what_does_not_hold_together_is_refused_in_a_sentence(
    tmp_path: Path, old: str, new: str, sentence: str
) -> None:
    with pytest.raises(Invalid, match=sentence):
        read_station(changed(tmp_path, old, new))


def test_an_example_without_its_sample_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Invalid, match="has no sample"):
        read_example(changed(tmp_path, 'sample = "', 'sampel = "'))


def test_two_readers_may_share_an_assignment(tmp_path: Path) -> None:
    path = changed(
        tmp_path,
        'reader = "joan-abara"\nair_date',
        'reader = ["joan-abara", "tomas-vale"]\nair_date',
    )
    assert read_station(path).assignments[0].readers == ("Joan Abara", "Tomas Vale")


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(NotFound, match="expected at"):
            read_station(path)


def test_a_file_of_another_kind_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "station.toml"
    path.write_bytes(b"RIFF\xff\xfe\x00WAVE")
    with pytest.raises(Invalid, match="written in TOML"):
        read_station(path)
    path.write_bytes(b"#" * 4_000_001)
    with pytest.raises(Invalid, match="at most 4 MB"):
        read_station(path)
