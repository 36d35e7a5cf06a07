"""Tokens of programs: made, used, ended; never more than their account may."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from quietleaf.errors import Conflict, Invalid, NotFound
from quietleaf.planning.account import ROLES, SCOPES, scopes_for
from quietleaf.storage import passwords
from quietleaf.storage.tokens import sha256_of
from quietleaf.work.accounts import add_account, end_account
from quietleaf.work.program_tokens import MOST_TOKENS, end_token, holder_of, make_token, tokens_of
from quietleaf.work.tools import Tools
from tests.finished import NOW, example_station


@pytest.fixture
def tools(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Tools]:
    monkeypatch.setattr(passwords, "SCRYPT_N", 1 << 4)
    made = example_station(tmp_path)
    with made.database:
        add_account("Ida Marsh", ["steward"], "four quiet leaves fall", made)
        add_account("Noa Reed", ["desk"], "four quiet leaves fall", made)
        yield made


def test_a_token_is_kept_as_its_checksum_and_opens_until_it_runs_out(tools: Tools) -> None:
    token, secret = make_token("noa reed", "  Rota   sheet ", ["plan", "see"], 30, tools)
    assert (token.name, token.account, token.scopes) == ("Rota sheet", "Noa Reed", ("see", "plan"))
    assert secret not in str(tools.database.tokens(purpose="api"))
    found = holder_of(secret, tools)
    assert found is not None
    assert (found[0].name, found[1].sha256) == ("Noa Reed", sha256_of(secret))
    last = replace(tools, clock=lambda: NOW + timedelta(days=30, seconds=-1))
    assert holder_of(secret, last) is not None
    assert holder_of(secret, replace(tools, clock=lambda: NOW + timedelta(days=30))) is None
    assert holder_of("x", tools) is None


def test_the_last_use_is_told_to_the_minute(tools: Tools) -> None:
    _, secret = make_token("Noa Reed", "Rota", ["see"], 30, tools)
    assert tokens_of("Noa Reed", tools)[0].used_at is None
    for after_s, told_s in ((0, 0), (59, 0), (60, 60)):
        at = NOW + timedelta(seconds=after_s)
        holder_of(secret, replace(tools, clock=lambda at=at: at))  # type: ignore[misc]
        assert tokens_of("Noa Reed", tools)[0].used_at == NOW + timedelta(seconds=told_s)


def test_an_ended_token_and_one_of_an_ended_account_open_nothing(tools: Tools) -> None:
    first, secret = make_token("Noa Reed", "Rota", ["see"], 30, tools)
    with pytest.raises(NotFound, match="Ida Marsh has no such token"):
        end_token("Ida Marsh", first.sha256, tools)
    end_token("Noa Reed", first.sha256, tools)
    assert holder_of(secret, tools) is None
    _, secret = make_token("Noa Reed", "Rota", ["see"], 30, tools)  # the name is free again
    end_account("Noa Reed", tools)
    assert holder_of(secret, tools) is None


def test_a_token_never_may_more_than_its_account(tools: Tools) -> None:
    with pytest.raises(Invalid, match="Noa Reed may not give: accounts"):
        make_token("Noa Reed", "Rota", ["see", "accounts"], 30, tools)
    assert scopes_for(["reader"]) == ()
    assert {*scopes_for(ROLES)} == {*SCOPES}


@pytest.mark.parametrize(
    ("name", "scopes", "days", "said"),
    [
        ("", ["see"], 30, "this one has 0"),
        ("x" * 61, ["see"], 30, "this one has 61"),
        ("Rota", [], 30, "None was chosen"),
        ("Rota", ["see"], 0, "1 to 366 days; 0 came"),
        ("Rota", ["see"], 367, "1 to 366 days; 367 came"),
    ],
)
def test_an_unfit_token_is_refused(
    tools: Tools, name: str, scopes: list[str], days: int, said: str
) -> None:
    with pytest.raises(Invalid, match=said):
        make_token("Noa Reed", name, scopes, days, tools)


def test_two_live_tokens_of_one_name_and_too_many_are_refused(tools: Tools) -> None:
    make_token("Noa Reed", "Rota", ["see"], 30, tools)
    with pytest.raises(Conflict, match="has a token ROTA already"):
        make_token("Noa Reed", "ROTA", ["see"], 30, tools)
    for number in range(MOST_TOKENS - 1):
        make_token("Noa Reed", f"Rota {number}", ["see"], 30, tools)
    with pytest.raises(Conflict, match=f"at most {MOST_TOKENS} tokens"):
        make_token("Noa Reed", "One more", ["see"], 30, tools)
