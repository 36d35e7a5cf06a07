"""What the desk decided is kept at places of takes, and holds in every plan made afterwards."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from quietleaf.booth.edits import Cut, Decided, Decision, PlanDecided, Undo, WordsBegun
from quietleaf.errors import Conflict, Invalid
from quietleaf.finishing.plan_json import plan_of_text
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.index_rows import read_made, version_in_use
from quietleaf.storage.reading_folder import ReadingFolder, create_reading, find_reading
from quietleaf.storage.takes import TakeWriter
from quietleaf.storage.versions import read_versions
from quietleaf.work.decisions_on import closing_of_reading, decisions_on
from quietleaf.work.finish_programme import finish_programme
from quietleaf.work.finish_request import FinishProgramme
from quietleaf.work.tools import Tools
from tests.repaired import AT, FACTS, GAP, add_take
from tests.stations import STATION
from tests.voices import RATE_HZ, reading

SAMPLES = reading(seed=13, sentences=4).samples()
LOUDEST = 3 * RATE_HZ + int(np.abs(SAMPLES[3 * RATE_HZ : 6 * RATE_HZ]).argmax())


def decided(start: int, stop: int, *, take: int = 1, **more: object) -> PlanDecided:
    told = {"of": "repair", "what": "dropout", "wanted": "refused", "value": None} | more
    return PlanDecided(start=(take, start), stop=(take, stop), **told)  # type: ignore[arg-type]


def take_of(folder: ReadingFolder, count: int, rate_hz: int) -> None:
    writer: TakeWriter = folder.next_take(rate_hz)
    writer.append(bytes(3 * count))
    folder.seal(writer, origin="a test", author="Desk", at=AT)


@pytest.fixture
def folder(tmp_path: Path) -> ReadingFolder:
    """A reading of two takes at 44.1 and 48 kHz, a second of the first cut out."""
    folder = create_reading(tmp_path, FACTS, AT, "Ada")
    take_of(folder, 4 * 44_100, 44_100)
    take_of(folder, 3 * 48_000, 48_000)
    folder.append(Cut(take=1, start=44_100, stop=2 * 44_100), author="Ada", at=AT)
    return folder


def places(folder: ReadingFolder) -> list[tuple[str, str, int, int]]:
    found = decisions_on(folder).at_places
    return [(one.of, one.wanted, one.start, one.stop) for one in found]


def test_a_decision_lies_where_its_place_is_heard(folder: ReadingFolder) -> None:
    folder.append(decided(0, 22_050), author="Ida", at=AT)
    # Over the cut: what is left on both sides of it.
    folder.append(decided(22_050, 110_250, wanted="made"), author="Ida", at=AT)
    # In what is cut: nothing.
    folder.append(decided(50_000, 60_000), author="Ida", at=AT)
    folder.append(decided(48_000, 96_000, take=2), author="Ida", at=AT)
    assert places(folder) == [
        ("repair", "refused", 0, 24_000),
        ("repair", "made", 24_000, 48_000),
        ("repair", "made", 48_000, 72_000),
        ("repair", "refused", 192_000, 240_000),
    ]


def test_decisions_of_the_ear_page_are_about_what_is_planned_there(folder: ReadingFolder) -> None:
    def heard(number: int, finding: str, decision: Decision) -> None:
        start = (2, 1_000 * number)
        what = Decided(start=start, stop=(2, start[1] + 500), finding=finding, decision=decision)
        folder.append(what, author="Ida", at=AT)

    heard(1, "cough", "leave")
    heard(2, "click", "repair")
    heard(3, "restart", "cut")
    heard(4, "", "cut")
    heard(5, "hum", "read again")
    # Of two about one finding the last stands.
    heard(1, "cough", "repair")
    found = decisions_on(folder).at_places
    assert [(one.of, one.kind, one.wanted, one.start - 144_000) for one in found] == [
        ("repair", "click", "made", 2_000),
        ("cut", "click", "made", 2_000),
        ("cut", "restart", "made", 3_000),
        ("cut", "desk", "made", 4_000),
        ("repair", "cough", "made", 1_000),
        ("cut", "cough", "made", 1_000),
    ]


def test_what_is_left_before_there_is_a_master_is_not_repaired(folder: ReadingFolder) -> None:
    what = Decided(start=(2, 100), stop=(2, 600), finding="cough", decision="leave")
    folder.append(what, author="Ida", at=AT)
    found = decisions_on(folder).at_places
    assert [(one.of, one.kind, one.wanted) for one in found] == [
        ("repair", "cough", "refused"),
        ("cut", "cough", "refused"),
    ]


def test_closing_words_that_were_cut_begin_with_what_is_heard_next(folder: ReadingFolder) -> None:
    assert closing_of_reading(folder) is None
    for sample in (10, 50_000):
        folder.append(WordsBegun(which="closing", take=1, sample=sample), author="Ada", at=AT)
    assert closing_of_reading(folder) == 48_000


def test_decisions_move_with_their_place_and_go_with_it(folder: ReadingFolder) -> None:
    folder.append(decided(100_000, 100_441), author="Ida", at=AT)
    (before,) = decisions_on(folder).at_places
    folder.append(decided(10, 20, take=2, wanted="made", value=3.0), author="Ida", at=AT)
    # A sentence is read again before it: all that follows comes earlier.
    cut = Cut(take=1, start=0, stop=44_100)
    folder.append(cut, author="Ada", at=AT)
    moved, second = decisions_on(folder).at_places
    assert moved == replace(before, start=before.start - 48_000, stop=before.stop - 48_000)
    assert (second.wanted, second.value) == ("made", 3.0)
    folder.append(Cut(take=1, start=99_000, stop=110_000), author="Ada", at=AT)
    assert decisions_on(folder).at_places == (
        replace(second, start=second.start - 59_973 + 48_000, stop=second.stop - 59_973 + 48_000),
    )
    # What is taken back counts again.
    folder.append(Undo(of=folder.revision), author="Ada", at=AT)
    assert len(decisions_on(folder).at_places) == 2


def test_somebody_elses_change_in_the_meantime_is_told(folder: ReadingFolder) -> None:
    seen = folder.revision
    folder.append(decided(5, 9), author="Ida Marsh", at=AT, revision=seen)
    with pytest.raises(Conflict, match="Ida Marsh made entry 5 meanwhile"):
        folder.append(decided(5, 9, wanted="made"), author="Tom", at=AT, revision=seen)
    with pytest.raises(Invalid, match="2 takes; a place in take 3"):
        folder.append(decided(5, 9, take=3), author="Tom", at=AT)
    assert decisions_on(ReadingFolder(folder.path)).at[0].edit.author == "Ida Marsh"


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    """A station with a reading in which 5 ms are missing where it is loudest."""
    samples = SAMPLES.copy()
    samples[LOUDEST : LOUDEST + GAP] = 0.0
    with Database(database_url(tmp_path)) as database:
        database.save_station(STATION)
        add_take(create_reading(tmp_path, FACTS, AT, "Ada"), samples)
        yield Tools(data=tmp_path, database=database, clock=lambda: AT)


def test_what_was_decided_is_carried_out_and_versions_are_kept(tools: Tools) -> None:
    first = finish_programme(FinishProgramme(source=FACTS.reading_id, asked_by="Ida"), tools)
    (repair,) = first.plan.layout.repairs
    assert (repair.kind, repair.state) == ("dropout", "made")
    folder = find_reading(tools.data, FACTS.reading_id)
    folder.append(decided(repair.start, repair.stop), author="Ida", at=AT)
    first_bytes = first.wave_path.read_bytes()

    second = finish_programme(FinishProgramme(source=FACTS.reading_id, asked_by="Tom"), tools)
    (repair,) = plan_of_text(second.plan_path.read_text("utf-8")).layout.repairs
    assert (repair.state, repair.by) == ("refused", "desk")
    assert second.wave_path != first.wave_path
    assert first.wave_path.read_bytes() == first_bytes

    newest, oldest = read_versions(folder.path)
    assert [(one.number, one.by, one.again) for one in (newest, oldest)] == [
        (2, "Tom", None),
        (1, "Ida", None),
    ]
    assert newest.masters == read_made(folder.path)
    assert version_in_use(folder.path) == 2
    assert {Path(row.path).name for row in oldest.masters if row.kind == "wave"} == {
        first.wave_path.name
    }


def test_a_length_that_the_desk_decided_is_met_until_somebody_asks_for_another(
    tools: Tools,
) -> None:
    folder = find_reading(tools.data, FACTS.reading_id)
    natural = finish_programme(FinishProgramme(source=FACTS.reading_id), tools).plan.fit.length_s
    wanted_s = round(natural) - 0.25
    length = PlanDecided(of="length", what="", start=None, stop=None, wanted="made", value=wanted_s)
    folder.append(length, author="Ida", at=AT)
    fitted = finish_programme(FinishProgramme(source=FACTS.reading_id), tools).plan.fit
    assert (fitted.length_s, fitted.verdict) == (wanted_s, "fits")
    folder.append(replace(length, wanted="as planned", value=None), author="Ida", at=AT)
    again = finish_programme(FinishProgramme(source=FACTS.reading_id), tools).plan.fit
    assert again.length_s == natural


def test_what_was_decided_by_ear_is_carried_out(tools: Tools) -> None:
    first = finish_programme(FinishProgramme(source=FACTS.reading_id), tools)
    (repair,) = first.plan.layout.repairs
    second = first.plan.layout.sentences[1]
    folder = find_reading(tools.data, FACTS.reading_id)

    def decide(finding: str, decision: Decision, start: int, stop: int) -> None:
        what = Decided(start=(1, start), stop=(1, stop), finding=finding, decision=decision)
        folder.append(what, author="Ida", at=AT)

    # What is heard of it in the master stays as it is: repaired.
    decide("dropout", "leave", repair.start, repair.stop)
    # A mark of one's own at a whole sentence.
    decide("", "cut", second.start, second.stop)
    layout = finish_programme(FinishProgramme(source=FACTS.reading_id), tools).plan.layout
    (repair,) = layout.repairs
    assert (repair.state, repair.by) == ("made", "plan")
    (cut,) = (cut for cut in layout.cuts if cut.kind == "desk")
    assert (cut.state, cut.by) == ("made", "desk")
    assert cut.start <= second.start + RATE_HZ // 20
    assert cut.stop >= second.stop - RATE_HZ // 20
    assert all(one.stop <= second.start or one.start >= second.stop for one in layout.sentences)
