"""Finishing as a verb: files, names, versions, labels; nothing left if it does not end well."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from mutagen.mp3 import MP3

from quietleaf.booth.edits import Again, ArticleStarted
from quietleaf.booth.reading import ReadingFacts
from quietleaf.errors import Invalid, NotFound, Unavailable
from quietleaf.finishing import loudness
from quietleaf.finishing.apply import apply_wave
from quietleaf.finishing.assembly import master_place
from quietleaf.finishing.plan_json import plan_of_text
from quietleaf.finishing.ranges import one_channel
from quietleaf.planning.assignment import Assignment
from quietleaf.planning.outlet import USUAL_OUTLETS
from quietleaf.planning.programme import HOUR_WINDOW
from quietleaf.storage.codecs import open_sound
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.mono_sound import MonoSound
from quietleaf.storage.mp3_encoder import Mp3Encoder
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_folder import ReadingFolder, new_reading
from quietleaf.units import Window
from quietleaf.work.finish_programme import Finished, finish_file, finish_programme
from quietleaf.work.finish_request import FinishProgramme
from quietleaf.work.see_reading import see_reading
from quietleaf.work.tools import Tools
from tests.repaired import AT
from tests.repaired import FACTS as HOUR_FACTS
from tests.stations import STATION, WEDNESDAY
from tests.voices import RATE_HZ, Made, reading

MADE = reading(seed=12, sentences=4)
SAMPLES = MADE.samples()


@dataclass(frozen=True, kw_only=True)
class Telling:
    """A clock that stands still, and somebody who listens to progress."""

    progress: Callable[[str, float], None] = lambda _step, _done: None
    clock: Callable[[], datetime] = lambda: AT


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    path = tmp_path / "a reading.wav"
    soundfile.write(path, SAMPLES, RATE_HZ, subtype="PCM_24")
    return path


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    data = tmp_path / "station"
    with Database(database_url(data)) as database:
        database.save_station(STATION)
        yield Tools(data=data, database=database, clock=lambda: AT)


def bring(tools: Tools, facts: ReadingFacts = HOUR_FACTS, *samples: np.ndarray) -> ReadingFolder:
    with new_reading(tools.data, facts, at=AT, author="Desk") as folder:
        for take in samples or (SAMPLES,):
            writer = folder.next_take(RATE_HZ)
            writer.append(pcm24_of_samples(take))
            folder.seal(writer, origin="a test", author="Desk", at=AT)
    tools.database.index_reading(reading_row(folder))
    return folder


def of_file(recording: Path, out: Path, **wishes: object) -> Finished:
    return finish_file(FinishProgramme(source=recording, out=out, **wishes), Telling())  # type: ignore[arg-type]


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_file_becomes_plan_master_and_report(recording: Path, tmp_path: Path) -> None:
    finished = of_file(recording, tmp_path / "out")
    assert names(tmp_path / "out") == ["a-reading.mp3", "a-reading.wav", "plan.json", "report.html"]
    assert finished.after.loudness.integrated_lufs == pytest.approx(-23.0, abs=0.1)
    assert finished.mp3_after.loudness.integrated_lufs == pytest.approx(-23.0, abs=0.1)
    for heard in (finished.after, finished.mp3_after):
        assert heard.peak.true_dbtp is not None
        assert heard.peak.true_dbtp <= -1.0
    page = finished.report_path.read_text("utf-8")
    assert "a-reading.mp3" in page
    assert "-23.0" in page.replace("−", "-")


def test_the_plan_that_is_written_gives_the_wave_that_is_written(
    recording: Path, tmp_path: Path
) -> None:
    finished = of_file(recording, tmp_path / "out", loudness="-17")
    plan = plan_of_text(finished.plan_path.read_text("utf-8"))
    assert plan == finished.plan
    with open_sound(recording) as file:
        again = np.concatenate(list(apply_wave(plan, MonoSound(file, one_channel))))
    written, _ = soundfile.read(finished.wave_path, dtype="int32")
    assert np.array_equal(np.rint(again * (1 << 23)).astype(np.int64), written >> 8)


def test_nothing_is_written_over_a_second_time_is_a_second_version(
    recording: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    first = of_file(recording, out)
    before = {name: (out / name).read_bytes() for name in names(out)}
    second = of_file(recording, out)
    assert second.wave_path.name == "a-reading-2.wav"
    assert second.plan_path.name == "plan-2.json"
    assert {name: (out / name).read_bytes() for name in before} == before
    for one, two in ((first.wave_path, second.wave_path), (first.mp3_path, second.mp3_path)):
        assert one.read_bytes() == two.read_bytes()
    assert first.plan_path.read_text() == second.plan_path.read_text()


def test_a_file_needs_a_folder_for_what_is_made(recording: Path) -> None:
    with pytest.raises(Invalid, match="--out"):
        finish_file(FinishProgramme(source=recording), Telling())


@pytest.mark.parametrize("head_s", [-0.1, 60.0, float("nan")])
def test_ends_out_of_reason_are_refused(recording: Path, tmp_path: Path, head_s: float) -> None:
    with pytest.raises(Invalid, match="room tone at the head"):
        of_file(recording, tmp_path / "out", head_s=head_s)
    assert not (tmp_path / "out").exists()


def test_a_microphone_on_one_side_is_taken_at_full_level(tmp_path: Path) -> None:
    path = tmp_path / "sided.wav"
    soundfile.write(path, np.column_stack([0 * SAMPLES, SAMPLES]), RATE_HZ, subtype="PCM_24")
    finished = of_file(path, tmp_path / "out")
    done = " ".join(deed.text for deed in finished.report.done)
    assert "right channel" in done
    assert finished.after.loudness.integrated_lufs == pytest.approx(-23.0, abs=0.1)


@pytest.mark.parametrize("rate_hz", [16_000, 44_100])
def test_other_rates_come_out_at_48_khz(tmp_path: Path, rate_hz: int) -> None:
    path = tmp_path / "slow.wav"
    soundfile.write(path, soxr.resample(SAMPLES, RATE_HZ, rate_hz), rate_hz, subtype="PCM_24")
    finished = of_file(path, tmp_path / "out")
    with soundfile.SoundFile(finished.wave_path) as wave:
        assert wave.samplerate == RATE_HZ
    assert finished.after.loudness.integrated_lufs == pytest.approx(-23.0, abs=0.1)


def test_dual_mono_is_told_apart_in_report_and_coding_history(
    recording: Path, tmp_path: Path
) -> None:
    once = of_file(recording, tmp_path / "once")
    twice = of_file(recording, tmp_path / "twice", dual_mono=True)
    # ITU-R BS.1770-5, equation 2: twice the power, 3.01 LU.
    assert once.after.loudness.integrated_lufs == pytest.approx(-23.0, abs=0.1)
    assert twice.after.loudness.integrated_lufs == pytest.approx(-26.01, abs=0.1)
    figure = next(one for one in twice.report.figures if one.name == "Loudness")
    assert figure.after == pytest.approx(-23.0, abs=0.1)
    assert figure.met
    assert twice.report.convention == "dual mono"
    assert "3.01" in twice.report_path.read_text("utf-8")
    assert (
        b"-23 LUFS counted as dual mono (one channel reads 3.01 LU" in twice.wave_path.read_bytes()
    )
    assert b"-23 LUFS counted as one channel" in once.wave_path.read_bytes()


def test_an_mp3_over_the_ceiling_is_made_again_until_it_is_under(
    recording: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Without room under the ceiling for what coding adds, the first MP3 is over it.
    monkeypatch.setattr(loudness, "_MP3_UNDER_DB", -0.4)
    finished = of_file(recording, tmp_path / "out", loudness="-12", ceiling_dbtp=-4.0)
    assert finished.plan.mp3.rounds > 1
    assert finished.plan.mp3.dips
    assert finished.mp3_after.peak.true_dbtp is not None
    assert finished.mp3_after.peak.true_dbtp <= -4.0
    assert finished.mp3_after.loudness.integrated_lufs == pytest.approx(-12.0, abs=0.2)
    assert plan_of_text(finished.plan_path.read_text("utf-8")).mp3 == finished.plan.mp3


def test_a_reading_gets_its_masters_its_rows_and_its_measures(tools: Tools) -> None:
    folder = bring(tools)
    finished = finish_programme(FinishProgramme(source="r7"), tools)
    masters = folder.path / "masters"
    # Programme, issue date, reader: made from the assignment.
    assert finished.wave_path == masters / "hour-2026-11-25-tomas-vale.wav"
    assert set(names(masters)) == {
        "hour-2026-11-25-tomas-vale.mp3",
        "hour-2026-11-25-tomas-vale.wav",
        "made.json",
        "plan.json",
        "report.html",
        "report.json",
        "version.json",
    }
    row = tools.database.reading("r7")
    assert row == reading_row(folder.reload())
    by_kind = {made.kind: made for made in row.masters}
    assert set(by_kind) == {"plan", "wave", "mp3", "report", "report-facts"}
    assert by_kind["report"].facts["duration_s"] == finished.plan.fit.length_s
    measures = [json.loads(path.read_text()) for path in (folder.path / "measures").glob("*.json")]
    schemas = sorted(one["schema"] for one in measures)
    assert schemas == ["quietleaf/hearing/1", "quietleaf/hearing/1", "quietleaf/words/1"]


def test_the_files_say_what_they_are(tools: Tools) -> None:
    bring(tools)
    finished = finish_programme(FinishProgramme(source="r7"), tools)
    tags = MP3(finished.mp3_path).tags
    assert tags is not None
    assert str(tags["TIT2"]) == "The Hour"
    assert str(tags["TALB"]) == "The Post"
    assert str(tags["TPE1"]) == "Tomas Välë"
    header = finished.wave_path.read_bytes()[:4_000]
    assert b"The Hour; The Post, issue of 2026-11-25; Tomas Vale" in header
    assert b"A Service" in header
    assert b"2026-11-2509:30:00" in header
    assert b"T=take 1" in header


def test_a_reading_finished_again_keeps_the_first_masters(tools: Tools) -> None:
    folder = bring(tools)
    first = finish_programme(FinishProgramme(source="r7"), tools)
    kept = first.wave_path.read_bytes()
    second = finish_programme(FinishProgramme(source="r7", loudness="-18"), tools)
    assert second.wave_path.name.endswith("-2.wav")
    assert first.wave_path.read_bytes() == kept
    wave = next(one for one in tools.database.reading("r7").masters if one.kind == "wave")
    assert folder.path / wave.path == second.wave_path


def test_copies_go_where_they_are_asked_for(tools: Tools, tmp_path: Path) -> None:
    folder = bring(tools)
    out = tmp_path / "air" / "today"
    finished = finish_programme(FinishProgramme(source="r7", out=out), tools)
    assert finished.wave_path.parent == out
    for name in names(out):
        assert (out / name).read_bytes() == (folder.path / "masters" / name).read_bytes()


def test_articles_become_chapters_where_they_are_in_the_master(tools: Tools) -> None:
    made = Made(seed=21)
    made.pause(1.4)
    starts = []
    for _ in range(3):
        starts.append(made.speech(4.0)[0])
        made.pause(7.0)
    folder = bring(tools, HOUR_FACTS, made.samples())
    for number, start_s in enumerate(starts, start=1):
        folder.append(
            ArticleStarted(take=1, sample=round(start_s * RATE_HZ), title=f"Story {number}"),
            author="Desk",
            at=AT,
        )
    finished = finish_programme(FinishProgramme(source="r7"), tools)
    chapters = finished.report.chapters
    assert [chapter.title for chapter in chapters] == ["Story 1", "Story 2", "Story 3"]
    for chapter, start_s in zip(chapters, starts, strict=True):
        place = master_place(finished.plan.layout, round(start_s * RATE_HZ)) / RATE_HZ
        assert chapter.start_s == pytest.approx(place, abs=1e-3)
    # 7 s of silence before an article become 3; the first syllable comes after 0.5 s.
    assert chapters[0].start_s == pytest.approx(0.52, abs=0.05)
    assert chapters[1].start_s - chapters[0].start_s == pytest.approx(7.0, abs=0.1)
    assert chapters[-1].end_s == finished.plan.fit.length_s
    tags = MP3(finished.mp3_path).tags
    assert tags is not None
    assert [frame.start_time for frame in tags.getall("CHAP")] == [
        round(chapter.start_s * 1000) for chapter in chapters
    ]


def test_takes_at_different_levels_are_brought_together(tools: Tools) -> None:
    quiet = 10 ** (-7.0 / 20.0) * reading(seed=13, sentences=4).samples()
    bring(tools, HOUR_FACTS, SAMPLES, quiet)
    finished = finish_programme(FinishProgramme(source="r7"), tools)
    gains = [one.gain_db for one in finished.plan.layout.sentences]
    assert len(gains) == 8
    assert np.mean(gains[4:]) - np.mean(gains[:4]) == pytest.approx(7.0, abs=1.0)


@pytest.mark.trade
def test_an_hours_slot_is_read_to_56_to_58_minutes_by_default(tools: Tools) -> None:
    """Common practice, no source."""
    bring(tools)
    finished = finish_programme(FinishProgramme(source="r7"), tools)
    assert finished.plan.fit.window == HOUR_WINDOW
    assert finished.plan.fit.verdict == "short"
    assert finished.report.verdict == "needs an ear"
    (reason,) = finished.report.reasons
    assert "too short for its window of 56:00 to 58:00" in reason


@pytest.mark.trade
def test_a_private_request_has_no_limit_of_length(tools: Tools) -> None:
    """Common practice, no source."""
    facts = replace(HOUR_FACTS, programme_key="request", programme_title="A Request", air_date=None)
    bring(tools, facts)
    finished = finish_programme(FinishProgramme(source="r7"), tools)
    assert finished.plan.fit.verdict == "free"
    assert finished.plan.fit.window is None
    assert not any("window" in reason for reason in finished.report.reasons)


def test_a_private_request_is_never_brought_to_a_length(tools: Tools) -> None:
    facts = replace(HOUR_FACTS, programme_key="request", programme_title="A Request", air_date=None)
    bring(tools, facts)
    with pytest.raises(Invalid, match="never stretched nor cut"):
        finish_programme(FinishProgramme(source="r7", fit_s=30.0), tools)


def test_a_stations_outlets_are_made_of_every_reading(tools: Tools) -> None:
    outlets = (USUAL_OUTLETS["telephone"], USUAL_OUTLETS["feed"])
    tools.database.save_station(replace(STATION, outlets=outlets))
    folder = bring(tools)
    finished = finish_programme(FinishProgramme(source="r7"), tools)
    made = [path.name for path in finished.outlet_paths]
    stem = finished.wave_path.stem
    assert made == [f"{stem}-telephone.wav", f"{stem}-feed.mp3"]
    assert all((folder.path / "masters" / name).is_file() for name in made)
    written = plan_of_text(finished.plan_path.read_text("utf-8"))
    assert [one.outlet for one in written.outlets] == list(outlets)
    assert written == finished.plan
    kinds = [file.kind for file in see_reading("r7", tools).files]
    assert kinds == ["wave", "mp3", "report", "plan", "outlet:feed", "outlet:telephone"]
    told = {figure.name: figure for figure in finished.report.figures}
    assert told["Loudness of two loudspeakers, feed"].after == pytest.approx(-16.0, abs=0.1)
    assert told["True peak, telephone"].met
    none = finish_programme(FinishProgramme(source="r7", outlets=()), tools)
    assert none.outlet_paths == ()


def test_a_short_item_of_the_station_is_laid_after_the_reading(tools: Tools) -> None:
    items = tools.data / "short-items"
    items.mkdir(parents=True)
    length_s = SAMPLES.size / RATE_HZ
    soundfile.write(items / "The tide.wav", SAMPLES, RATE_HZ, subtype="PCM_16")
    bring(tools)
    finished = finish_programme(FinishProgramme(source="r7", fit_s=2.0 * length_s + 1.0), tools)
    assert finished.plan.fit.verdict == "fits"
    assert [item.title for item in finished.plan.layout.items] == ["The tide"]
    assert any("The tide laid after the reading" in deed.text for deed in finished.report.done)


@pytest.mark.trade
def test_the_head_begins_on_speech(recording: Path, tmp_path: Path) -> None:
    """Common practice, no source: the set head of room tone, then the first syllable."""
    for head_s in (0.0, 0.3, 1.0):
        finished = of_file(recording, tmp_path / f"out {head_s}", head_s=head_s)
        samples, _ = soundfile.read(finished.wave_path)
        level = 10 * np.log10(np.mean(samples[: 3 * RATE_HZ].reshape(-1, 480) ** 2, axis=1) + 1e-12)
        first_s = float(np.argmax(level > -45.0)) / 100.0
        assert head_s <= first_s <= head_s + 0.06


def test_a_window_that_is_asked_for_comes_before_the_programmes(tools: Tools) -> None:
    bring(tools)
    window = Window(shortest_s=5.0, longest_s=60.0)
    finished = finish_programme(FinishProgramme(source="r7", window=window), tools)
    assert finished.plan.fit.verdict == "fits"


def test_a_reading_of_a_serial_says_its_part(tools: Tools) -> None:
    readers = ("Ada Fenwick", "Tomas Vale")
    story = Assignment(
        programme_key="story", issue_date=WEDNESDAY, air_date=WEDNESDAY, readers=readers, part=3
    )
    tools.database.save_station(replace(STATION, assignments=(story,)))
    facts = replace(
        HOUR_FACTS,
        programme_key="story",
        programme_title="The Story",
        issue_date=story.issue_date,
        readers=readers,
    )
    bring(tools, facts)
    finished = finish_programme(FinishProgramme(source="r7"), tools)
    assert finished.wave_path.name == "story-2026-11-25-part-3-ada-fenwick-tomas-vale.wav"


def test_an_unknown_reading_is_refused(tools: Tools) -> None:
    with pytest.raises(NotFound, match="no reading r8"):
        finish_programme(FinishProgramme(source="r8"), tools)


STEPS = ("listening to the recording", "planning", "making the master", "listening to the master")


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("done", [0.0, 1.0])
def test_whoever_stops_it_finds_nothing_half_written(
    recording: Path, tmp_path: Path, step: str, done: float
) -> None:
    def stop(now: str, share: float) -> None:
        if now == step and share >= done:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        finish_file(
            FinishProgramme(source=recording, out=tmp_path / "new" / "out"), Telling(progress=stop)
        )
    assert names(tmp_path) == [recording.name]


def test_an_encoder_that_stops_leaves_nothing(
    tools: Tools, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = bring(tools)

    def stopped(self: Mp3Encoder, samples: np.ndarray) -> None:
        self._process.kill()
        self._process.wait()
        raise self._stopped()

    monkeypatch.setattr(Mp3Encoder, "write", stopped)
    with pytest.raises(Unavailable, match="encoder stopped"):
        finish_programme(FinishProgramme(source="r7"), tools)
    assert names(folder.path / "masters") == []
    assert tools.database.reading("r7").masters == ()


def test_progress_is_told_in_words_and_goes_forward(recording: Path, tmp_path: Path) -> None:
    told: list[tuple[str, float]] = []
    finish_file(
        FinishProgramme(source=recording, out=tmp_path / "out"),
        Telling(progress=lambda step, done: told.append((step, done))),
    )
    assert list(dict.fromkeys(step for step, _ in told)) == list(STEPS)
    for step in STEPS:
        shares = [done for now, done in told if now == step]
        assert shares == sorted(shares)
        assert shares[-1] == pytest.approx(1.0, abs=0.02)


def test_a_date_of_the_future_is_no_trouble(tools: Tools) -> None:
    facts = replace(HOUR_FACTS, issue_date=date(2031, 1, 1))
    bring(tools, facts)
    finished = finish_programme(FinishProgramme(source="r7"), tools)
    assert "2031-01-01" in finished.wave_path.name


def test_joins_are_listened_to_and_the_report_says_how_they_are(tools: Tools) -> None:
    voice = Made(seed=31)
    voice.pause(0.9)
    for _ in range(6):
        voice.speech(2.0)
        voice.pause(0.6)
    back = voice.length_s - 0.25
    voice.speech(1.2)  # it stumbles
    voice.pause(4.0)
    resume = voice.length_s - 0.35
    for _ in range(5):
        voice.speech(2.0)
        voice.pause(0.6)
    voice.pause(1.0)
    folder = bring(tools, HOUR_FACTS, voice.samples())
    mark = round((back + 2.0) * RATE_HZ)
    again = Again(
        take=1,
        mark=mark,
        back_take=1,
        back_sample=round(back * RATE_HZ),
        resume=round(resume * RATE_HZ),
    )
    folder.append(again, author="Ada", at=AT)
    finished = finish_programme(FinishProgramme(source="r7"), tools)
    page = finished.report_path.read_text("utf-8")
    assert "1 join listened to: none can be heard" in page


def test_a_plan_that_was_edited_is_kept_to_and_the_rest_planned_around_it(
    recording: Path, tmp_path: Path
) -> None:
    first = of_file(recording, tmp_path / "one")
    tree = json.loads(first.plan_path.read_text("utf-8"))
    (tail,) = [cut for cut in tree["cuts"] if cut["kind"] == "tail"]
    tail["state"] = "refused"
    edited = tmp_path / "edited.json"
    edited.write_text(json.dumps(tree), "utf-8")
    again = of_file(recording, tmp_path / "two", plan=edited)
    refused_s = (tail["stop"] - tail["start"]) / RATE_HZ
    assert again.plan.fit.length_s == pytest.approx(first.plan.fit.length_s + refused_s)
    assert again.after.loudness.integrated_lufs == pytest.approx(-23.0, abs=0.1)
    with pytest.raises(NotFound, match=r"no plan .*none\.json"):
        of_file(recording, tmp_path / "three", plan=tmp_path / "none.json")
