"""A person: all that is kept is exported, and erased where it can be."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from quietleaf.booth.edits import StateSet
from quietleaf.errors import Conflict, Invalid, NotFound
from quietleaf.planning.account import Deed
from quietleaf.storage import passwords
from quietleaf.storage.reading_folder import find_reading
from quietleaf.work.accounts import add_account
from quietleaf.work.messages import tell_desk
from quietleaf.work.personal_links import make_link
from quietleaf.work.persons import erase_person, people_of, see_person, text_of_person
from quietleaf.work.plan_reader import add_reader, change_reader
from quietleaf.work.program_tokens import holder_of, make_token
from quietleaf.work.rebuild_index import rebuild_index
from quietleaf.work.see_reading import see_reading
from quietleaf.work.sign_in import Doorkeeper, sign_in, signed_in
from quietleaf.work.sit_down import new_sitting, sitting_of
from quietleaf.work.told_index import index_as_it_is
from quietleaf.work.tools import Tools
from tests.finished import NOW, bring_reading, example_station

ADA = "Ada Fenwick"
PASSWORD = "four quiet leaves fall"


@pytest.fixture
def tools(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Tools]:
    """Give the example a month later, when all that was planned is over."""
    monkeypatch.setattr(passwords, "SCRYPT_N", 1 << 4)
    made = example_station(tmp_path)
    with made.database:
        bring_reading(made)
        yield replace(made, clock=lambda: NOW + timedelta(days=30))


def known(tools: Tools) -> dict[str, str]:
    """Let Ada have left something everywhere; give her secrets."""
    add_account("Ida Marsh", ["steward"], PASSWORD, tools)
    add_account(ADA, ["reader", "desk"], PASSWORD, tools)
    tools.database.keep_pace(ADA, 151.0, NOW)
    secrets = {
        "link": make_link(ADA, 14, tools),
        "sitting": new_sitting(ADA, tools),
        "session": sign_in(ADA, PASSWORD, "", Doorkeeper(), tools),
        "program": make_token(ADA, "Rota", ["plan"], 30, tools)[1],
    }
    tell_desk("remark", sitting_of(secrets["sitting"], tools), tools, text="My knee is bad.")
    tools.database.accounts.add_deed(Deed(at=NOW, who=ADA, what="/plan/station", about="/plan"))
    return secrets


def test_everything_that_is_kept_is_exported_and_no_secret(tools: Tools) -> None:
    secrets = known(tools)
    text = text_of_person(see_person(ADA, tools))
    kept = json.loads(text)
    assert (kept["format"], kept["name"], kept["reads"]) == ("quietleaf/person/1", ADA, "yes")
    assert kept["pace_wpm"] == 151.0
    assert kept["account"]["roles"] == ["reader", "desk"]
    assert [one["reading_id"] for one in kept["readings"]] == ["k3f9"]
    assert kept["readings"][0]["folder"].startswith("readings/marrowby-in-five/")
    assert "marrowby-in-five-2026-11-25" in [one["key"] for one in kept["assignments"]]
    assert [one["text"] for one in kept["messages"]] == ["My knee is bad."]
    assert sorted(one["purpose"] for one in kept["tokens"]) == ["api", "link", "session", "sitting"]
    assert [one["what"] for one in kept["deeds"]] == ["/plan/station"]
    assert "scrypt" not in text
    assert not any(secret in text for secret in secrets.values())


def test_an_erased_person_is_gone_from_all_that_can_be_changed(tools: Tools) -> None:
    secrets = known(tools)
    left = erase_person(ADA, tools)
    (folder,) = left.folders
    assert (tools.data / folder / "takes" / "0001.wav").is_file()  # recordings are kept
    assert signed_in(secrets["session"], tools) is None
    assert holder_of(secrets["program"], tools) is None
    station = tools.database.load_station()
    assert ADA not in (*station.readers, *station.retired, *people_of(tools))
    (five,) = (one for one in station.assignments if one.key == "marrowby-in-five-2026-11-25")
    assert five.readers == ("a former reader",)
    assert see_reading("k3f9", tools).summary.readers == ("a former reader",)
    (message,) = tools.database.messages()
    assert (message.reader, message.text, message.kind) == ("a former reader", "", "remark")
    assert tools.database.pace(ADA) is None
    # The folder has the name still, and does not bring it back.
    report = rebuild_index(tools)
    assert (report.equal, report.differences) == (True, ())
    assert see_reading("k3f9", tools).summary.readers == ("a former reader",)
    reading = find_reading(tools.data, "k3f9")
    reading.append(StateSet(state="cleared", note=""), author="Desk", at=NOW)
    assert index_as_it_is(reading, tools).readers == ("a former reader",)
    # The audit list only grows.
    assert tools.database.accounts.deeds_of(ADA)[0].what == "/plan/station"
    with pytest.raises(NotFound, match="Nothing is kept here under the name 'Ada Fenwick'"):
        see_person(ADA, tools)


def test_nobody_else_gets_the_name_of_who_was_erased(tools: Tools) -> None:
    known(tools)
    erase_person(ADA, tools)
    for again in (
        lambda: add_reader(ADA, tools),
        lambda: change_reader("Tomas Vale", ADA, tools),
        lambda: add_account(ADA, ["desk"], PASSWORD, tools),
        lambda: add_reader("a former reader", tools),
    ):
        with pytest.raises(Invalid, match="Somebody of this name was erased"):
            again()
    add_reader("Ada Lark", tools)


def test_who_is_to_read_or_reads_just_now_is_not_erased_and_nothing_changes(
    tools: Tools,
) -> None:
    known(tools)
    now = replace(tools, clock=lambda: NOW)
    with pytest.raises(Conflict, match="assignments to come names them"):
        erase_person(ADA, now)
    assert signed_in(sign_in(ADA, PASSWORD, "", Doorkeeper(), tools), tools) is not None
    row = tools.database.reading("k3f9")
    tools.database.index_reading(replace(row, state="in the booth"))
    with pytest.raises(Conflict, match="Erase them when it is handed in"):
        erase_person(ADA, tools)
    assert see_person(ADA, tools).account is not None


def test_the_last_steward_is_not_erased(tools: Tools) -> None:
    known(tools)
    with pytest.raises(Conflict, match="Nobody would be left who keeps accounts"):
        erase_person("Ida Marsh", tools)
    add_account("Noa Reed", ["steward"], PASSWORD, tools)
    assert erase_person("Ida Marsh", tools).folders == ()


def test_an_erasure_that_stopped_goes_on_when_it_is_asked_for_again(
    tools: Tools, monkeypatch: pytest.MonkeyPatch
) -> None:
    known(tools)
    with monkeypatch.context() as broken:
        broken.setattr(tools.database.people, "erase", lambda _name: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            erase_person(ADA, tools)
    erase_person(ADA, tools)
    with pytest.raises(NotFound):
        see_person(ADA, tools)
