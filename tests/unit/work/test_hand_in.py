"""Handing in: what is entered, what is refused and in which words, and that nothing is lost."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import NoReturn

import pytest

from quietleaf.booth.edits import Cut, HandedIn, StateSet
from quietleaf.booth.reading import HandIn
from quietleaf.errors import Conflict, Invalid, NotFound, Unavailable
from quietleaf.storage import disk
from quietleaf.storage.reading_folder import ReadingFolder, create_reading
from quietleaf.storage.take_header import HEADER_BYTES
from quietleaf.storage.tokens import sha256_of
from quietleaf.web.forms import LARGEST_FORM_BYTES
from quietleaf.work.checked_takes import FILE, check_takes, checked_takes
from quietleaf.work.hand_in import (
    HEADLINE_LETTERS,
    OPEN_TAKE,
    PAGE_LETTERS,
    RECAP_LETTERS,
    REMARK_LETTERS,
    checked_hand_in,
    hand_in,
)
from quietleaf.work.see_hand_in import see_hand_in
from quietleaf.work.tools import Tools
from tests.finished import NOW, example_station, other_reading
from tests.handing_in import LEFT, READER, add_take, booth_reading, flip_bit, request_of, sit


@pytest.fixture
def tools(tmp_path: Path) -> Iterator[Tools]:
    """Give the example station."""
    made = example_station(tmp_path / "station")
    yield made
    made.database.close()


def token_lives(tools: Tools, secret: str) -> bool:
    """Say whether a sitting still opens anything."""
    return tools.database.token(sha256_of(secret)).is_live(NOW)


def test_it_is_entered_indexed_told_and_the_sitting_ends(tools: Tools) -> None:
    folder = booth_reading(tools)
    secret = sit(tools, "readings:t5")
    hand_in(request_of(folder, secret), tools)
    folder.reload()
    assert folder.state == "handed in"
    handed, state = folder.ledger()[-2:]
    assert handed.what == HandedIn(hand_in=LEFT)
    assert (handed.author, handed.at) == (READER, NOW)
    assert state.what == StateSet(state="handed in", note="")
    row = tools.database.reading("t5")
    assert (row.state, row.hand_in, row.revision) == ("handed in", LEFT, folder.revision)
    (message,) = tools.database.messages(open_only=True)
    assert (message.kind, message.text, message.reading_id) == ("remark", "A door banged.", "t5")
    assert (message.reader, message.booth) == (READER, "booth-1")
    assert not token_lives(tools, secret)


def test_without_a_remark_the_desk_is_told_nothing(tools: Tools) -> None:
    hand_in(request_of(booth_reading(tools), left=HandIn()), tools)
    assert tools.database.messages() == ()


def test_handing_in_twice_enters_it_once(tools: Tools) -> None:
    folder = booth_reading(tools)
    hand_in(request_of(folder), tools)
    revision = folder.reload().revision
    secret = sit(tools, "readings:t5")
    hand_in(request_of(folder, secret, left=HandIn(remark="Another.")), tools)
    assert folder.reload().revision == revision
    assert [message.text for message in tools.database.messages()] == ["A door banged."]
    assert not token_lives(tools, secret)


def test_what_a_stop_left_unfinished_a_second_try_finishes(
    tools: Tools, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = booth_reading(tools)
    secret = sit(tools, "readings:t5")

    def away(_row: object) -> NoReturn:
        raise Unavailable("database/away", "The database did not answer.")

    with monkeypatch.context() as patched:
        patched.setattr(type(tools.database), "index_reading", lambda _self, row: away(row))
        with pytest.raises(Unavailable):
            hand_in(request_of(folder, secret), tools)
    assert tools.database.reading("t5").state == "in the booth"
    hand_in(request_of(folder, secret), tools)
    assert tools.database.reading("t5").hand_in == LEFT
    assert [message.text for message in tools.database.messages()] == ["A door banged."]


def test_an_open_take_is_refused_with_how_far_it_is(tools: Tools) -> None:
    folder = booth_reading(tools)
    add_take(folder, 2.0, seal=False)
    secret = sit(tools, "readings:t5")
    with pytest.raises(Conflict, match=r"Take 2 .* the station has 2 seconds of it") as refusal:
        hand_in(request_of(folder, secret), tools)
    assert refusal.value.code == OPEN_TAKE
    assert folder.reload().state == "in the booth"
    assert token_lives(tools, secret)
    assert tools.database.messages() == ()


def test_what_the_page_still_has_to_send_is_waited_for(tools: Tools) -> None:
    folder = booth_reading(tools)
    with pytest.raises(Conflict, match="about 1 min 15 of it are on their way"):
        hand_in(request_of(folder, unsent_s=75.2), tools)
    assert folder.reload().state == "in the booth"


def test_a_broken_off_take_is_closed_where_it_broke_off_if_the_reader_says_so(
    tools: Tools,
) -> None:
    folder = booth_reading(tools)
    add_take(folder, 2.0, seal=False)
    hand_in(request_of(folder, as_arrived=True), tools)
    take = folder.reload().takes()[1]
    assert (take.samples, folder.state) == (96_000, "handed in")
    assert "as far as it had arrived" in take.origin
    assert check_takes(folder, tools).whole


def test_a_take_that_is_being_recorded_is_not_closed(tools: Tools) -> None:
    folder = booth_reading(tools)
    with (
        folder.roll(48_000, author=READER, at=NOW),
        pytest.raises(Conflict, match="being recorded at this moment"),
    ):
        hand_in(request_of(folder, as_arrived=True), tools)
    assert folder.reload().state == "in the booth"


def test_nothing_recorded_is_nothing_to_hand_in(tools: Tools) -> None:
    folder = create_reading(tools.data, other_reading("courier-hour", "n1"), NOW, READER)
    with pytest.raises(Conflict, match="Nothing has been recorded yet"):
        hand_in(request_of(folder), tools)


def test_a_take_that_is_not_as_recorded_is_refused_and_the_desk_told_once(tools: Tools) -> None:
    folder = booth_reading(tools)
    add_take(folder)
    flip_bit(folder.take_path(2))
    for _ in range(2):
        with pytest.raises(Conflict, match=r"Take 2 was read back .* not as it was recorded"):
            hand_in(request_of(folder), tools)
    assert folder.reload().state == "in the booth"
    (message,) = tools.database.messages()
    assert message.kind == "help"
    assert "Take 2" in message.text


def test_a_missing_take_is_refused(tools: Tools) -> None:
    folder = booth_reading(tools)
    folder.take_path(1).unlink()
    with pytest.raises(Conflict, match="Take 1 was read back"):
        hand_in(request_of(folder), tools)
    assert see_hand_in("readings:t5", tools).length_s == 1.0  # the page is still shown


def test_a_cut_that_comes_in_between_does_not_matter(
    tools: Tools, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = booth_reading(tools)
    append = ReadingFolder.append
    came: list[object] = []

    def slipping_in(self: ReadingFolder, what: object, **more: object) -> object:
        if isinstance(what, StateSet) and not came:
            came.append(what)
            other = ReadingFolder(self.path)
            append(other, Cut(take=1, start=0, stop=10), author="Quietleaf", at=NOW)
        return append(self, what, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(ReadingFolder, "append", slipping_in)
    hand_in(request_of(folder), tools)
    kinds = [type(edit.what).__name__ for edit in folder.reload().ledger()[-3:]]
    assert kinds == ["HandedIn", "Cut", "StateSet"]


def test_a_disk_that_does_not_answer_is_no_damage(
    tools: Tools, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = booth_reading(tools)
    read_at = disk.read_at

    def fails(file: int, size: int, offset: int, path: Path) -> bytes:
        if path.suffix == ".wav" and offset >= HEADER_BYTES:
            with disk.refusing(path):
                raise OSError(errno.EIO, "it does not spin")
        return read_at(file, size, offset, path)

    monkeypatch.setattr(disk, "read_at", fails)
    with pytest.raises(Unavailable, match="did not do what was asked"):
        hand_in(request_of(folder), tools)
    assert folder.reload().state == "in the booth"
    assert tools.database.messages() == ()


def test_a_returned_reading_is_handed_in_again_with_what_was_left_before(tools: Tools) -> None:
    folder = booth_reading(tools)
    hand_in(request_of(folder), tools)
    folder.reload().append(StateSet(state="returned", note="Read it again"), author="Desk", at=NOW)
    seen = see_hand_in("readings:t5", tools)
    assert (seen.before, seen.state) == (LEFT, "returned")
    again = replace(LEFT, remark="Now it is right.")
    hand_in(request_of(folder.reload(), left=again), tools)
    assert tools.database.reading("t5").hand_in == again
    assert len(tools.database.messages()) == 2


def test_practice_is_not_handed_in(tools: Tools) -> None:
    folder = booth_reading(tools)
    with pytest.raises(NotFound, match="practice reading"):
        hand_in(request_of(folder, place="practice:t5"), tools)


@pytest.mark.parametrize(
    ("field", "most"),
    [
        ("place_page", PAGE_LETTERS),
        ("place_headline", HEADLINE_LETTERS),
        ("recap", RECAP_LETTERS),
        ("remark", REMARK_LETTERS),
    ],
)
def test_a_field_holds_so_much_and_no_more(tools: Tools, field: str, most: int) -> None:
    whole = replace(HandIn(), **{field: "ß" * most})  # type: ignore[arg-type]
    assert getattr(checked_hand_in(whole), field) == "ß" * most
    more = replace(HandIn(), **{field: "ß" * (most + 1)})  # type: ignore[arg-type]
    with pytest.raises(Invalid, match=f"at most {most} letters; {most + 1} came") as refusal:
        hand_in(request_of(booth_reading(tools), left=more), tools)
    assert refusal.value.code == f"hand-in/{field}"


def test_full_fields_fit_a_form() -> None:
    # Letters outside Latin scripts take 3 bytes of UTF-8, 9 when sent by a form; those that take
    # 4 bytes count twice against a field's limit in browsers.
    letters = PAGE_LETTERS + HEADLINE_LETTERS + RECAP_LETTERS + REMARK_LETTERS
    assert 9 * letters < LARGEST_FORM_BYTES - 4096


@pytest.mark.parametrize(
    "text",
    [
        "Zoë’s naïve façade — “quoted” 3/4 of 5 µm",
        "مرحبا بالعالم, then English again",
        "👩‍🦯 read 🏴󠁧󠁢󠁷󠁬󠁳󠁿 and e\u0301\u0323",
        "line one\nline two\u2028three",
        "<script>alert(1)</script> {{ 7 * 7 }} & \"'",
        "\u202eright to left override",
    ],
)
def test_odd_letters_come_back_as_they_were(tools: Tools, text: str) -> None:
    folder = booth_reading(tools)
    hand_in(request_of(folder, left=HandIn(remark=text, recap=text)), tools)
    row = tools.database.reading("t5")
    assert row.hand_in == HandIn(remark=text, recap=text)
    assert [message.text for message in tools.database.messages()] == [text]


def test_signs_that_no_keyboard_types_are_left_out() -> None:
    assert checked_hand_in(HandIn(remark="\0a\x07b\x7f\n\tc \n")).remark == "ab\n\tc"


def test_takes_are_read_back_once_and_again_when_others_came(tools: Tools) -> None:
    folder = booth_reading(tools)
    first = check_takes(folder, tools)
    assert first.whole
    assert first.at == NOW
    assert [(take.take, take.length_s) for take in first.takes] == [(1, 1.0)]
    assert checked_takes(folder, tools) == first
    add_take(folder)
    flip_bit(folder.take_path(2))
    found = checked_takes(folder, tools)
    assert [bool(take.trouble) for take in found.takes] == [False, True]
    (folder.path / "measures" / FILE).write_text("torn{", encoding="utf-8")
    assert checked_takes(folder, tools) == found


def test_a_take_shorter_on_the_disk_is_not_whole(tools: Tools) -> None:
    folder = booth_reading(tools)
    path = folder.take_path(1)
    path.write_bytes(path.read_bytes()[:-3000])
    assert not check_takes(folder, tools).whole


def test_the_page_sees_closing_words_tidy_list_and_window(tools: Tools) -> None:
    booth_reading(tools)
    seen = see_hand_in("readings:t5", tools)
    assert seen.closing_marked
    assert seen.closing_words.startswith("That was The Courier Hour, from The Marrowby Courier")
    assert str(seen.window) == "56:00 to 58:00"
    assert len(seen.tidy_list) == 3
    assert not seen.serial
    assert (seen.copy.takes, seen.copy.held_s, seen.copy.open_takes) == (1, 1.0, ())


def test_a_serial_asks_for_a_recap(tools: Tools) -> None:
    booth_reading(tools, "long-shelf", part=9)
    seen = see_hand_in("readings:t5", tools)
    assert (seen.serial, seen.part) == (True, 9)
    assert "part 9" in seen.closing_words
