"""The ear page without a browser: its forms do all that is needed, and say what is refused."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from starlette.testclient import TestClient

from quietleaf.planning.account import Role
from quietleaf.storage import passwords
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.reading_folder import create_reading, find_reading
from quietleaf.web.app import make_app
from quietleaf.work import hear_cut
from quietleaf.work.accounts import add_account
from quietleaf.work.tools import Tools
from tests.finished import NOW, bring_reading, example_station, finish_reading, other_reading
from tests.unit.web.test_pages import text_of
from tests.unit.work.test_decide import READY, plan_review

AT = "/reading/k3f9"
PASSWORD = "four quiet leaves fall"


@pytest.fixture
def tools(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Tools]:
    monkeypatch.setattr(passwords, "SCRYPT_N", 1 << 4)
    made = example_station(tmp_path)
    with made.database:
        finish_reading(made, bring_reading(made), READY)
        yield made


def client_of(tools: Tools) -> TestClient:
    return TestClient(
        make_app(tools), "http://127.0.0.1:8190", client=("127.0.0.1", 1), follow_redirects=False
    )


def signed_in(tools: Tools, name: str, role: Role) -> TestClient:
    client = client_of(tools)
    if not tools.database.accounts.all():
        add_account("The steward", ["steward"], PASSWORD, tools)
    add_account(name, [role], PASSWORD, tools)
    client.post("/sign-in", data={"name": name, "password": PASSWORD})
    return client


def form(page: str, action: str, which: int = 0) -> dict[str, str]:
    """Give the hidden fields of a form of the page."""
    found = re.findall(rf'<form[^>]*action="{AT}/{action}">(.*?)</form>', page, re.DOTALL)
    return dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', found[which]))


def send(client: TestClient, action: str, which: int = 0, **more: str) -> Any:
    return client.post(f"{AT}/{action}", data={**form(client.get(AT).text, action, which), **more})


def test_a_decision_by_form_comes_back_to_its_thing(tools: Tools) -> None:
    client = client_of(tools)
    answer = send(client, "decide", decision="read again", remark="text", note="sea, not see <b>")
    assert (answer.status_code, answer.headers["location"]) == (
        303,
        f"{AT}#restart-1-307200-393600",
    )
    page = client.get(AT).text
    text = text_of(page)
    assert "To be read again, the text The desk, 14:20 “sea, not see" in text
    assert "sea, not see &lt;b&gt;" in page
    assert "One is left of two" in text
    assert "One place to be read again go with it." not in text
    assert "One place to be read again goes with it." in text


def test_a_remark_that_nobody_wrote_is_not_kept(tools: Tools) -> None:
    client = client_of(tools)
    send(client, "decide", decision="leave", remark="text", note="")
    assert "Left as it is The desk, 14:20 Hear it" in text_of(client.get(AT).text)


def test_the_page_says_who_came_before_and_keeps_nothing(tools: Tools) -> None:
    early = signed_in(tools, "Ida Marsh", "desk")
    late = signed_in(tools, "Tom Lark", "reviewer")
    old = form(late.get(AT).text, "decide")
    send(early, "decide", decision="cut")
    answer = late.post(f"{AT}/decide", data={**old, "decision": "leave"})
    assert answer.status_code == 409
    text = text_of(answer.text)
    assert "Ida Marsh came before, at 14:20 UTC: Read twice at 0:06 is to be cut." in text
    assert "To be cut Ida Marsh" in text
    # What is on the page now can be decided about.
    assert (
        late.post(
            f"{AT}/decide", data={**form(answer.text, "decide"), "decision": "leave"}
        ).status_code
        == 303
    )


def test_marks_observations_and_articles_by_form(tools: Tools) -> None:
    client = client_of(tools)
    for what, words in (("read again", "Wrong name."), ("observation", "Warm."), ("article", "X")):
        answer = send(client, "mark", at="0:03", what=what, words=words, remark="text")
        assert answer.status_code == 303, what
    text = text_of(client.get(AT).text)
    assert "Marked at the desk at 0:02 to 0:03 To be read again, the text" in text
    assert "“Wrong name.”" in text
    assert "Observations 0:03 Warm. The desk" in text
    for at, said in (("9:59", "goes from 0:00 to 0:12"), ("soon", "minutes and seconds")):
        refused = send(client, "mark", at=at, what="cut", words="", remark="")
        assert (refused.status_code, said in refused.text) == (422, True)


def test_what_no_page_of_ours_sends_is_refused(tools: Tools) -> None:
    client = client_of(tools)
    hidden = form(client.get(AT).text, "decide")
    for wrong in (
        {"start": "x"},
        {"stop": "1"},
        {"revision": "-1"},
        {"decision": "burn"},
        {"finding": "moon"},
        {"start": "1:" + "9" * 40},
    ):
        answer = client.post(f"{AT}/decide", data={**hidden, "decision": "leave", **wrong})
        assert answer.status_code == 422, wrong
        assert 'role="alert"' in answer.text
    assert find_reading(tools.data, "k3f9").revision == 3
    assert client.post("/reading/nobody/decide", data=hidden).status_code == 404


def test_clearing_and_taking_it_back(tools: Tools) -> None:
    client = signed_in(tools, "Ida Marsh", "reviewer")
    refused = send(client, "clear")
    assert refused.status_code == 409
    assert "Two things are not decided yet, the first at 0:06." in text_of(refused.text)
    for which in range(2):
        send(client, "decide", which, decision="leave")
    assert "All two are decided." in text_of(client.get(AT).text)
    assert send(client, "clear").status_code == 303
    text = text_of(client.get(AT).text)
    assert "Cleared by Ida Marsh, Wednesday 25 November, 14:20." in text
    assert "Cleared" in text_of(client.get("/").text)
    assert f'action="{AT}/decide"' not in client.get(AT).text
    steward = signed_in(tools, "Sue Lane", "steward")
    assert "cleared a reading" in text_of(steward.get("/accounts/deeds").text)
    which = client.get(AT).text.count(f'action="{AT}/take-back"') - 1
    assert send(client, "take-back", which).status_code == 303
    assert "Everything is decided." in text_of(client.get(AT).text)


def test_what_is_decided_and_not_made_leads_to_finishing(tools: Tools) -> None:
    desk, reviewer = signed_in(tools, "Ida Marsh", "desk"), signed_in(tools, "Tom", "reviewer")
    assert f'action="{AT}/plan/finish"' not in desk.get(AT).text
    send(reviewer, "decide", decision="cut")
    assert f'action="{AT}/plan/finish"' in desk.get(AT).text
    page = reviewer.get(AT).text
    assert f'action="{AT}/plan/finish"' not in page
    assert "One decision is not carried out yet, at 0:06: finish it, or decide" in text_of(page)


def test_returning_tells_why_and_to_whom(tools: Tools) -> None:
    client = client_of(tools)
    refused = send(client, "return", note="")
    assert (refused.status_code, "would not know why" in refused.text) == (409, True)
    assert send(client, "return", note="The closing words are missing.").status_code == 303
    text = text_of(client.get(AT).text)
    assert "Returned to Ada Fenwick by the desk, Wednesday 25 November, 14:20." in text
    assert "“The closing words are missing.”" in text
    assert "Take the return back" in text


def test_whoever_may_not_decide_sees_no_forms(tools: Tools) -> None:
    steward = signed_in(tools, "Ida Marsh", "steward").get(AT).text
    assert "Things to hear" in steward
    assert f'action="{AT}' not in steward
    plan_review(tools, "things to hear", other_reviewer=True)
    reader = signed_in(tools, "Ada Fenwick", "desk")
    page = reader.get(AT).text
    assert "You read this yourself." in page
    assert f'action="{AT}' not in page
    other = signed_in(tools, "Tom Lark", "desk")
    hidden = form(other.get(AT).text, "decide")
    for action in ("decide", "clear", "return"):
        answer = reader.post(f"{AT}/{action}", data={**hidden, "decision": "cut", "note": "x"})
        assert answer.status_code == 403
        assert "reviewed by somebody other than its reader" in answer.text


def test_the_whole_is_said_to_be_heard(tools: Tools) -> None:
    plan_review(tools, "whole")
    client = client_of(tools)
    for which in range(2):
        send(client, "decide", which, decision="leave")
    refused = send(client, "clear")
    assert (refused.status_code, "say that you heard all of it" in refused.text) == (409, True)
    assert send(client, "clear", heard_whole="yes").status_code == 303


def test_a_reading_that_is_not_on_the_desk_is_seen_and_not_decided_about(tools: Tools) -> None:
    bring_reading(tools, other_reading("courier-hour", "b1"), state="in the booth")
    facts = other_reading("courier-hour", "b2")
    empty = create_reading(tools.data, facts, NOW, "Ada")
    tools.database.index_reading(reading_row(empty))
    client = client_of(tools)
    for name, words in (("b1", "This is being read."), ("b2", "The Courier Hour")):
        page = client.get(f"/reading/{name}")
        assert (page.status_code, words in text_of(page.text)) == (200, True)
        assert "/decide" not in page.text
        assert "/clear" not in page.text
    assert client.get("/reading/b2/sound").status_code == 422


def test_a_reading_without_a_master_is_heard_by_itself_in_parts(tools: Tools) -> None:
    bring_reading(tools, other_reading("courier-hour", "c9"))
    client = client_of(tools)
    whole = client.get("/reading/c9/sound")
    read, rate_hz = soundfile.read(io.BytesIO(whole.content))
    assert (rate_hz, read.size, whole.headers["accept-ranges"]) == (48_000, 12 * 48_000, "bytes")
    (took,) = find_reading(tools.data, "c9").takes()
    with find_reading(tools.data, "c9").open_take(took.take) as take:
        assert np.abs(take.read(0, read.size)[:, 0] - read).max() < 1e-4
    for asked, given in (
        ("bytes=0-43", (0, 44)),
        ("bytes=101-200", (101, 201)),
        ("bytes=150000-480001", (150_000, 480_002)),
        ("bytes=-7", (len(whole.content) - 7, len(whole.content))),
        ("bytes=1100000-", (1_100_000, len(whole.content))),
    ):
        part = client.get("/reading/c9/sound", headers={"range": asked})
        start, stop = given
        assert part.status_code == 206
        assert part.content == whole.content[start:stop], asked
        assert part.headers["content-range"] == f"bytes {start}-{stop - 1}/{len(whole.content)}"
    for asked in ("bytes=9999999-", "bytes=-0"):
        late = client.get("/reading/c9/sound", headers={"range": asked})
        assert (late.status_code, late.headers["content-range"]) == (
            416,
            f"bytes */{len(whole.content)}",
        )


def test_a_number_without_end_is_no_fault_of_ours(tools: Tools) -> None:
    client, number = client_of(tools), "9" * 5_000
    assert client.get(f"{AT}?part={number}").status_code == 200
    assert client.get(f"{AT}/sound", headers={"range": f"bytes=0-{number}"}).status_code == 200
    assert client.get(f"{AT}/repairs/{number}/before").status_code == 404
    old = form(client.get(AT).text, "mark")
    marked = client.post(f"{AT}/mark", data={**old, "what": "article", "at": f"{number}:00"})
    assert marked.status_code == 422


def test_a_cut_is_heard_before_and_after(tools: Tools, monkeypatch: pytest.MonkeyPatch) -> None:
    client = client_of(tools)
    page = client.get(AT).text
    (address,) = re.findall(r'data-action="hearCut" href="([^"]+)"', page)
    assert address.startswith(f"{AT}/cut/out?")
    sounds = {}
    for version in ("in", "out"):
        answer = client.get(address.replace("&amp;", "&").replace("/out?", f"/{version}?"))
        sounds[version], _ = soundfile.read(io.BytesIO(answer.content))
    # Four seconds before, and what there is after; the first try of 1.8 s is gone.
    assert sounds["in"].size == round((12.0 - 2.4) * 48_000)
    assert sounds["in"].size - sounds["out"].size == round(1.8 * 48_000)
    nowhere = client.get(f"{AT}/cut/out?start=1:0&stop=1:10")
    assert (nowhere.status_code, "No cut is known at that place" in nowhere.text) == (404, True)
    assert client.get(f"{AT}/cut/out?start=here").status_code == 422
    monkeypatch.setattr(hear_cut, "LONGEST_SAMPLES", 48_000)
    long = client.get(address.replace("&amp;", "&"))
    assert (long.status_code, "too long to compare" in long.text) == (409, True)


def test_a_long_list_is_cut_into_parts(tools: Tools) -> None:
    finding = READY.findings[1]
    many = tuple(
        replace(finding, start_s=start_s, end_s=start_s + 0.01)
        for start_s in np.linspace(0.5, 11.0, 100).round(3)
    )
    folder = bring_reading(tools, other_reading("courier-hour", "c9"))
    finish_reading(tools, folder, replace(READY, findings=many))
    client = client_of(tools)
    first = client.get("/reading/c9").text
    links = re.findall(r'href="/reading/c9(\?part=\d+)">\d', first)
    assert links
    seen: list[str] = []
    for page in (first, *(client.get(f"/reading/c9{link}").text for link in links)):
        ids = re.findall(r'<li id="(rustle-[^"]+)"', page)
        assert len(ids) <= 60
        seen += ids
    assert len(set(seen)) == len(seen) == 100
    assert 'aria-current="page">0:00 to' in client.get("/reading/c9?part=x").text
    assert "To the next part in which something is not decided" in first
