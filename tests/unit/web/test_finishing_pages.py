"""The finishing plan's page without a browser: every entry in words, decisions, and bad input."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from quietleaf.booth.edits import StateSet
from quietleaf.finishing.plan import Cut
from quietleaf.finishing.plan_json import plan_of_text, plan_to_text
from quietleaf.storage import passwords
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.reading_folder import ReadingFolder, find_reading
from quietleaf.web import finishing_texts
from quietleaf.web.app import make_app
from quietleaf.work.decisions_on import decisions_on
from quietleaf.work.tools import Tools
from tests.finished import finished_station
from tests.repaired import AT, repaired_station
from tests.unit.web.test_account_pages import signed_in, with_accounts
from tests.unit.web.test_pages import FORBIDDEN

AT_PAGE = "/reading/r7/plan"


@dataclass(frozen=True)
class Station:
    tools: Tools
    client: TestClient

    @property
    def folder(self) -> ReadingFolder:
        return find_reading(self.tools.data, "r7")


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Station]:
    """A station with a finished reading, handed in, in which a dropout was repaired."""
    with repaired_station(tmp_path_factory.mktemp("station")) as tools:
        folder = find_reading(tools.data, "r7")
        folder.append(StateSet(state="handed in", note=""), author="Desk", at=AT)
        tools.database.index_reading(reading_row(folder))
        client = TestClient(make_app(tools), "http://127.0.0.1", client=("127.0.0.1", 50_000))
        yield Station(tools, client)


def text_of(page: str) -> str:
    words = re.sub(r"<[^>]+>", " ", re.sub(r"(?s)<head>.*?</head>", "", page))
    return re.sub(r"\s+", " ", html.unescape(words).replace("\N{NO-BREAK SPACE}", " "))


def forms(page: str) -> list[dict[str, str]]:
    """Give the hidden fields of each form that decides."""
    found = []
    for form in re.findall(r'(?s)<form[^>]*action="[^"]*/decide"[^>]*>(.*?)</form>', page):
        pairs = re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', form)
        found.append({name: html.unescape(value) for name, value in pairs})
    return found


def shown(station: Station, part: str) -> str:
    answer = station.client.get(f"{AT_PAGE}?part={part}")
    assert answer.status_code == 200
    return answer.text


def decide(station: Station, form: dict[str, str], **more: str) -> tuple[int, str]:
    answer = station.client.post(f"{AT_PAGE}/decide", data={**form, **more}, follow_redirects=False)
    return answer.status_code, text_of(answer.text)


@pytest.mark.parametrize("part", finishing_texts.PART_WORDS)
def test_every_entry_of_the_plan_is_there_in_words(station: Station, part: str) -> None:
    page = shown(station, part)
    words = text_of(page)
    assert not FORBIDDEN.search(words)
    assert finishing_texts.PART_LEADS[part] in words  # type: ignore[index]
    entries = page.count('<li id="e')
    told = re.search(rf"{finishing_texts.PART_WORDS[part]} (\d+)", words)  # type: ignore[index]
    assert told is not None
    assert entries == int(told.group(1))


def test_a_repair_says_why_and_what_was_measured(station: Station) -> None:
    words = text_of(shown(station, "repairs"))
    assert "Missing or played twice at 0:0" in words
    assert "Sound is missing for 5.0 ms: it is told from what is around." in words
    assert "Measured: the gap 5.0 ms, can be hidden up to 20.0 ms" in words
    assert "Made, as planned." in words


def test_an_entry_is_refused_and_waits_and_is_as_planned_again(station: Station) -> None:
    (form,) = forms(shown(station, "repairs"))
    status, _ = decide(station, form, do="refuse")
    assert status == 303
    words = text_of(shown(station, "repairs"))
    assert "One decision waits to be carried out." in words
    assert "The desk, Wednesday 25 November, 09:30: refused. It waits until" in words
    (decision,) = decisions_on(station.folder).at_places
    plan = plan_of_text((station.folder.path / "masters" / "plan.json").read_text())
    (repair,) = plan.layout.repairs
    assert (decision.kind, decision.start, decision.stop) == (
        "dropout",
        repair.start,
        repair.stop,
    )
    # Sent twice it is entered once.
    before = station.folder.revision
    assert decide(station, form, do="refuse")[0] == 303
    assert station.folder.revision == before
    # Seen before somebody decided: that is told, and nothing is entered.
    status, words = decide(station, form, do="make")
    assert status == 409
    assert "Nothing was changed. Nothing of yours was entered: The desk changed" in words
    (form,) = forms(shown(station, "repairs"))
    assert decide(station, form, do="plan")[0] == 303
    assert decisions_on(station.folder).at_places[-1].wanted == "as planned"


@pytest.mark.parametrize(
    ("part", "typed", "why"),
    [
        ("evening", "99", "The gain of a sentence goes from -12 to 12 dB; 99 dB was asked for."),
        ("evening", "loud", "A gain is a number of decibels, like 1.5 or -2; this says 'loud'."),
        ("evening", "nan", "A gain is a number of decibels, like 1.5 or -2; this says 'nan'."),
        ("fit", "abc", "A time is written as minutes and seconds, like 56:00; this says 'abc'."),
        ("fit", "0:01", "can be fitted to a length of 0:05 to 10:00:00; 0:01 was asked for."),
    ],
)
def test_what_cannot_be_is_answered_by_a_sentence(
    station: Station, part: str, typed: str, why: str
) -> None:
    before = station.folder.revision
    form = forms(shown(station, part))[-1 if part == "evening" else 0]
    status, words = decide(station, form, do="change", value=typed)
    assert status == 422
    assert why in words
    # What came is refused on the page itself, with everything else still there.
    assert "What was done, and why" in words
    assert station.folder.revision == before


def test_a_gain_and_a_length_are_taken_as_people_type_them(station: Station) -> None:
    form = forms(shown(station, "evening"))[-1]
    assert decide(station, form, do="change", value="1,5")[0] == 303
    assert decisions_on(station.folder).at_places[-1].value == 1.5
    form = forms(shown(station, "fit"))[0]
    assert decide(station, form, do="change", value="0:12")[0] == 303
    words = text_of(shown(station, "fit"))
    assert "To be exactly 0:12. Decided by: The desk." in words
    form = forms(shown(station, "fit"))[0]
    assert decide(station, form, do="plan")[0] == 303
    assert decisions_on(station.folder).length is None


@pytest.mark.parametrize("do", ["", "burn"])
def test_what_no_button_asks_for_is_refused(station: Station, do: str) -> None:
    (form,) = forms(shown(station, "repairs"))[:1]
    assert decide(station, form, do=do)[0] == 422
    assert decide(station, form | {"start": "9:1", "stop": "9:5"}, do="refuse")[0] == 422
    assert decide(station, form | {"of": "everything"}, do="refuse")[0] == 422


def test_long_lists_come_a_hundred_to_a_page(station: Station) -> None:
    path = station.folder.path / "masters" / "plan.json"
    plan = plan_of_text(path.read_text())
    first = plan.layout.sentences[0]
    many = tuple(
        replace(first, start=first.start + 10 * n, stop=first.start + 10 * n + 9)
        for n in range(250)
    )
    kept = path.read_text()
    path.write_text(plan_to_text(replace(plan, layout=replace(plan.layout, sentences=many))))
    try:
        counts = []
        for number in ("1", "2", "3", "99", "x"):
            page = station.client.get(f"{AT_PAGE}?part=evening&page={number}").text
            counts.append(page.count('<li id="e'))
            assert "Page " in text_of(page)
        assert counts == [100, 100, 50, 50, 100]
    finally:
        path.write_text(kept)


def test_a_first_try_that_was_left_can_be_cut(station: Station) -> None:
    path = station.folder.path / "masters" / "plan.json"
    kept = path.read_text()
    plan = plan_of_text(kept)
    left = Cut(
        kind="restart",
        start=48_000,
        stop=96_000,
        reason="this may have been begun and read again: somebody should hear it before it goes",
        measured={"likelihood": 0.85, "pause_s": 0.4},
        state="left",
    )
    cuts = (*plan.layout.cuts, left)
    path.write_text(plan_to_text(replace(plan, layout=replace(plan.layout, cuts=cuts))))
    try:
        page = shown(station, "cuts")
        assert "somebody should hear it before it goes" in text_of(page)
        assert f"{finishing_texts.MAKE} " in page
    finally:
        path.write_text(kept)


def test_a_plan_that_cannot_be_read_is_told(station: Station) -> None:
    path = station.folder.path / "masters" / "plan.json"
    kept = path.read_text()
    path.write_text("{}\n")
    try:
        assert finishing_texts.NO_PLAN in text_of(shown(station, "cuts"))
    finally:
        path.write_text(kept)


def test_versions_are_listed_with_their_files(station: Station, tmp_path: Path) -> None:
    page = shown(station, "cuts")
    assert "Version 1, made on Wednesday 25 November, 09:30, in use" in text_of(page)
    (wave,) = set(re.findall(r'href="([^"]+\.wav)\?keep"', page))
    assert station.client.get(wave).status_code == 200
    answer = station.client.post(f"{AT_PAGE}/use", data={"version": "7", "in_use": "1"})
    assert answer.status_code == 404
    assert "There is no version 7 of this reading." in text_of(answer.text)


def test_what_is_not_under_way_is_not_stopped(station: Station) -> None:
    answer = station.client.post(f"{AT_PAGE}/stop")
    assert answer.status_code == 409
    assert "not being finished any more" in text_of(answer.text)


def test_a_reviewer_reads_and_changes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(passwords, "SCRYPT_N", 1 << 4)
    tools = finished_station(tmp_path)
    with tools.database:
        with_accounts(tools)
        reviewer, desk = (signed_in(tools, f"The {role}") for role in ("reviewer", "desk"))
        page = "/reading/k3f9/plan"
        assert 'id="finish"' in desk.get(page).text
        seen = reviewer.get(page)
        assert (seen.status_code, 'id="finish"' in seen.text) == (200, False)
        for what in ("finish", "stop", "decide", "use"):
            assert reviewer.post(f"{page}/{what}").status_code == 403
        length = {"of": "length", "do": "change", "value": "0:30", "asked": "a", "revision": "3"}
        assert desk.post(f"{page}/decide", data=length).status_code == 303
        (deed,) = tools.database.accounts.deeds(first=0, count=1)
        assert (deed.who, deed.what) == ("The desk", "/reading/{reading_id}/plan/decide")
