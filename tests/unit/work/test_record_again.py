"""*Again* from the stand becomes entries: the new one first, then the old one is taken back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from quietleaf.booth.edits import Again, Edit, Undo
from quietleaf.booth.replay import counting, replay, timeline
from quietleaf.errors import Invalid
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.reading_places import folder_of
from quietleaf.work.record_again import JournalTake, takes_of_journal
from quietleaf.work.record_reading import Recorder, SendAgain
from quietleaf.work.tools import Tools
from tests.readings import AT, noise
from tests.stand_client import Journal
from tests.stations_served import new_place, opened_station


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    with opened_station(tmp_path) as opened:
        yield opened


@pytest.fixture
def folder(tools: Tools) -> ReadingFolder:
    return folder_of(tools.data, new_place(tools))


@pytest.fixture
def journal() -> Journal:
    """A take of 1,000 samples, and one that has 900 so far."""
    made = Journal()
    made.roll()
    made.sound(noise(1_000, seed=1))
    made.seal()
    made.roll()
    made.sound(noise(900, seed=2))
    return made


def recorder(
    folder: ReadingFolder,
    journal: Journal,
    tools: Tools,
    *,
    earlier: int = 0,
    takes_before: int = 0,
) -> Recorder:
    return Recorder(
        folder,
        journal.name,
        "Ada Quill",
        tools,
        earlier=earlier,
        takes_before=takes_before,
        on_changed=lambda _: None,
        on_sealed=lambda *_: None,
    )


def standing_agains(folder: ReadingFolder) -> list[Edit]:
    return [edit for edit in counting(folder.standing) if isinstance(edit.what, Again)]


def spans(folder: ReadingFolder) -> list[tuple[int, int, int]]:
    return [(span.take, span.start, span.stop) for span in folder.timeline().spans]


def test_a_press_is_entered_over_a_hold(
    folder: ReadingFolder, journal: Journal, tools: Tools
) -> None:
    journal.again((1, 400))
    recorder(folder, journal, tools).take_and_confirm(journal.records)
    (edit,) = standing_agains(folder)
    assert edit.what == Again(
        take=2, mark=900, back_take=1, back_sample=400, resume=900, lead_in=400
    )


def test_when_the_lead_in_has_ended_the_press_is_replaced(
    folder: ReadingFolder, journal: Journal, tools: Tools
) -> None:
    journal.again((1, 400))
    journal.sound(noise(600, seed=3))
    journal.again((1, 400), mark=900, instead=True)
    journal.sound(noise(500, seed=4))
    journal.seal()
    recorder(folder, journal, tools).take_and_confirm(journal.records)
    assert spans(folder) == [(1, 0, 400), (2, 1_500, 2_000)]
    assert [edit.edit_id for edit in standing_agains(folder)] == [f"{journal.name}:4-new"]


def test_at_no_moment_does_what_was_left_out_come_back(
    folder: ReadingFolder, journal: Journal, tools: Tools
) -> None:
    journal.again((2, 300))
    journal.again((2, 100), instead=True)
    recorder(folder, journal, tools).take_and_confirm(journal.records)
    edits = folder.ledger()
    (pressed, _) = (edit.number for edit in edits if isinstance(edit.what, Again))
    for number in range(pressed, len(edits) + 1):
        kept = timeline(replay(edits[:number]), recorded={2: 900}).spans
        assert all(span.stop <= 300 for span in kept if span.take == 2)
    numbers = [edit.number for edit in folder.ledger() if isinstance(edit.what, Again | Undo)]
    assert numbers == sorted(numbers)
    assert [type(folder.ledger()[number - 1].what) for number in numbers] == [Again, Again, Undo]


def test_sent_twice_it_is_entered_once(
    folder: ReadingFolder, journal: Journal, tools: Tools
) -> None:
    journal.again((1, 400))
    journal.again((1, 200), instead=True)
    line = recorder(folder, journal, tools)
    line.take_and_confirm(journal.records)
    line.close()
    before = folder.revision
    again = recorder(folder.reload(), journal, tools)
    assert again.progress().entries == journal.entries
    again.take_and_confirm(journal.records)
    assert folder.reload().revision == before


def test_a_stop_between_the_two_entries_is_gone_on_with(
    folder: ReadingFolder, journal: Journal, tools: Tools
) -> None:
    journal.again((1, 400))
    first = recorder(folder, journal, tools)
    first.take_and_confirm(journal.records)
    first.close()
    journal.again((1, 200), instead=True)
    new = Again(take=2, mark=900, back_take=1, back_sample=200, resume=900, lead_in=200)
    folder.append(new, author="Ada Quill", at=AT, edit_id=f"{journal.name}:4-new")
    second = recorder(folder.reload(), journal, tools)
    assert second.progress().entries == 4  # the last one is asked for again
    second.take_and_confirm(journal.records)
    assert [edit.what for edit in standing_agains(folder)] == [new]


def test_one_that_was_placed_meanwhile_is_taken_back_as_placed(
    folder: ReadingFolder, journal: Journal, tools: Tools
) -> None:
    journal.again((1, 400))
    line = recorder(folder, journal, tools)
    line.take_and_confirm(journal.records)
    other = ReadingFolder(folder.path)
    (asked,) = standing_agains(other)
    placed = Again(take=2, mark=900, back_take=1, back_sample=380, resume=900, lead_in=400)
    other.append(placed, author="Quietleaf", at=AT, edit_id=f"place:{asked.number}")
    other.append(Undo(of=asked.number), author="Quietleaf", at=AT, edit_id=f"placed:{asked.number}")
    journal.again((1, 200), instead=True)
    line.take_and_confirm(journal.records)
    (edit,) = standing_agains(folder.reload())
    assert isinstance(edit.what, Again)
    assert edit.what.back_sample == 200


def test_the_mark_is_never_ahead_of_the_sound(
    folder: ReadingFolder, journal: Journal, tools: Tools
) -> None:
    journal.first = 901
    journal.again((1, 400))
    with pytest.raises(SendAgain):
        recorder(folder, journal, tools).take_and_confirm(journal.records)
    assert standing_agains(folder) == []


def test_where_it_goes_on_is_held_at_the_end_of_a_take_that_is_complete(
    folder: ReadingFolder, journal: Journal, tools: Tools
) -> None:
    journal.seal()
    journal.first = 5_000
    journal.again((1, 400), mark=880)
    recorder(folder, journal, tools).take_and_confirm(journal.records)
    (edit,) = standing_agains(folder)
    assert isinstance(edit.what, Again)
    assert (edit.what.mark, edit.what.resume) == (880, 900)


def test_a_take_that_was_never_begun_is_refused(
    folder: ReadingFolder, journal: Journal, tools: Tools
) -> None:
    journal.sent_sound.append([])
    journal.again((1, 400), mark=0)
    with pytest.raises(Invalid, match="never begun"):
        recorder(folder, journal, tools).take_and_confirm(journal.records)


def test_takes_that_lie_in_another_reading_are_counted(folder: ReadingFolder, tools: Tools) -> None:
    rest = Journal(entries=9)
    rest.sent_sound += [[], []]  # two takes of this journal went elsewhere
    rest.roll()
    rest.sound(noise(700, seed=5))
    rest.again((2, 50))
    line = recorder(folder, rest, tools, earlier=9, takes_before=2)
    line.take_and_confirm(rest.records)
    (edit,) = standing_agains(folder)
    assert edit.what == Again(take=1, mark=700, back_take=1, back_sample=0, resume=700, lead_in=50)
    assert takes_of_journal(folder.ledger(), rest.name) == (JournalTake(take=1, shift=0),)
