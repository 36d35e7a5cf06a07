"""Accounts and signing in: at a real database."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from quietleaf.errors import Conflict, Invalid, NotAllowed, NotFound, Unavailable
from quietleaf.planning.account import Account, Role
from quietleaf.storage import passwords
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.hard_hash import hard_hash
from quietleaf.storage.passwords import is_password, kept_of
from quietleaf.work.accounts import (
    accounts_of,
    add_account,
    change_password,
    change_roles,
    end_account,
    find_account,
)
from quietleaf.work.sign_in import (
    HASHED_AT_ONCE,
    IDLE,
    SESSION,
    TRIES,
    WAIT,
    WAIT_MOST,
    Doorkeeper,
    has_accounts,
    sign_in,
    sign_out,
    signed_in,
)
from quietleaf.work.tools import Tools
from tests.clock import Clock

PASSWORD = "four quiet leaves fall"
HOME = "192.0.2.7"


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def tools(tmp_path: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch) -> Iterator[Tools]:
    monkeypatch.setattr(passwords, "SCRYPT_N", 1 << 4)
    with Database(database_url(tmp_path)) as database:
        yield Tools(data=tmp_path, database=database, clock=clock)


def steward(tools: Tools, name: str = "Ida Marsh", *roles: Role) -> Account:
    return add_account(name, ["steward", *roles], PASSWORD, tools)


def test_a_password_is_kept_by_a_hash_that_takes_memory() -> None:
    assert kept_of(PASSWORD).startswith("scrypt$131072$")
    kept = kept_of(PASSWORD, n=1 << 10)
    assert PASSWORD not in kept
    assert is_password(PASSWORD, kept)
    assert not is_password(f"{PASSWORD}.", kept)
    assert kept != kept_of(PASSWORD, n=1 << 10)


@pytest.mark.parametrize("password", ["", "eleven lett", "x" * 129])
def test_a_password_has_a_sensible_length(password: str) -> None:
    with pytest.raises(Invalid, match=f"this one has {len(password)}"):
        kept_of(password)


def test_scrypt_is_that_of_the_rfc() -> None:
    # RFC 7914, section 12: of its vectors the third has our r of 8 and p of 1.
    wanted = "7023bdcb3afd7348461c06cd81fd38eb"
    made = hard_hash("pleaseletmein", b"SodiumChloride", 16384)
    assert made.hex().startswith(wanted)


def test_the_first_account_is_a_stewards_and_the_last_one_stays(tools: Tools) -> None:
    assert not has_accounts(tools)
    with pytest.raises(Conflict, match="a steward's"):
        add_account("Ada Fenwick", ["desk"], PASSWORD, tools)
    steward(tools)
    assert has_accounts(tools)
    with pytest.raises(Conflict, match="Nobody would be left"):
        change_roles("ida marsh", ["desk"], tools)
    with pytest.raises(Conflict, match="Nobody would be left"):
        end_account("Ida Marsh", tools)
    steward(tools, "Noa Reed")
    end_account("Ida Marsh", tools)
    assert [account.name for account in accounts_of(tools)] == ["Noa Reed"]
    with pytest.raises(Invalid, match="or was"):
        add_account("IDA MARSH", ["desk"], PASSWORD, tools)
    with pytest.raises(NotFound):
        find_account("Ida Marsh", tools)


@pytest.mark.parametrize(
    ("name", "roles", "said"),
    [
        ("  ", ["desk"], "1 to 80"),
        ("x" * 81, ["desk"], "has 81"),
        ("New", ["desk"], "cannot be the name"),
        ("..", ["desk"], "cannot be the name"),
        ("A/B", ["desk"], "without a slash"),
        ("Ada", ["king"], "none was"),
    ],
)
def test_what_is_no_account_is_refused(
    tools: Tools, name: str, roles: list[str], said: str
) -> None:
    with pytest.raises(Invalid, match=said):
        add_account(name, roles, PASSWORD, tools)
    assert accounts_of(tools) == ()


def test_who_signed_in_is_known_until_they_sign_out(tools: Tools, clock: Clock) -> None:
    steward(tools, "Ida Marsh", "desk")
    secret = sign_in("IDA MARSH", PASSWORD, HOME, Doorkeeper(), tools)
    account = signed_in(secret, tools)
    assert account is not None
    assert (account.name, account.roles) == ("Ida Marsh", ("desk", "steward"))
    other = sign_in("Ida Marsh", PASSWORD, HOME, Doorkeeper(), tools)
    sign_out(secret, tools)
    sign_out(secret, tools)
    assert signed_in(secret, tools) is None
    assert signed_in(other, tools) == account
    clock.now += SESSION
    assert signed_in(other, tools) is None
    assert signed_in(None, tools) is None
    assert signed_in("nothing", tools) is None


def test_roles_password_and_end_reach_who_is_signed_in(tools: Tools) -> None:
    steward(tools)
    add_account("Ada Fenwick", ["desk"], PASSWORD, tools)
    secret = sign_in("Ada Fenwick", PASSWORD, HOME, Doorkeeper(), tools)
    change_roles("Ada Fenwick", ["desk", "reviewer"], tools)
    changed = signed_in(secret, tools)
    assert changed is not None
    assert changed.roles == ("reviewer", "desk")
    change_password("Ada Fenwick", f"{PASSWORD} again", tools)
    assert signed_in(secret, tools) is None
    with pytest.raises(NotAllowed, match="do not belong together"):
        sign_in("Ada Fenwick", PASSWORD, HOME, Doorkeeper(), tools)
    secret = sign_in("Ada Fenwick", f"{PASSWORD} again", HOME, Doorkeeper(), tools)
    end_account("Ada Fenwick", tools)
    assert signed_in(secret, tools) is None
    with pytest.raises(NotAllowed):
        sign_in("Ada Fenwick", f"{PASSWORD} again", HOME, Doorkeeper(), tools)


def test_guessing_is_slowed_down_and_not_said_which_is_wrong(tools: Tools, clock: Clock) -> None:
    steward(tools)
    keeper = Doorkeeper()
    said = set()
    for name in ("Ida Marsh", "Nobody"):
        for _ in range(TRIES):
            with pytest.raises(NotAllowed) as refused:
                sign_in(name, "wrong", f"of {name}", keeper, tools)
            said.add(refused.value.sentence)
        with pytest.raises(Unavailable, match="Wait 30 seconds"):
            sign_in(name, PASSWORD, "elsewhere", keeper, tools)
    assert len(said) == 1
    clock.now += WAIT
    with pytest.raises(NotAllowed):
        sign_in("Ida Marsh", "wrong", HOME, keeper, tools)
    with pytest.raises(Unavailable, match="Wait 60 seconds"):
        sign_in("Ida Marsh", PASSWORD, HOME, keeper, tools)
    clock.now += WAIT_MOST
    assert signed_in(sign_in("Ida Marsh", PASSWORD, HOME, keeper, tools), tools) is not None


def test_one_address_cannot_try_many_names(tools: Tools) -> None:
    steward(tools)
    keeper = Doorkeeper()
    for number in range(TRIES):
        with pytest.raises(NotAllowed):
            sign_in(f"Guess {number}", "wrong", HOME, keeper, tools)
    with pytest.raises(Unavailable):
        sign_in("Ida Marsh", PASSWORD, HOME, keeper, tools)
    assert sign_in("Ida Marsh", PASSWORD, "192.0.2.8", keeper, tools)


def test_a_session_is_no_other_key(tools: Tools) -> None:
    steward(tools)
    secret = sign_in("Ida Marsh", PASSWORD, HOME, Doorkeeper(), tools)
    token = tools.database.tokens(purpose="session")[0]
    assert (token.account, token.reader, token.booth) == ("Ida Marsh", None, None)
    tools.database.add_token(replace(token, sha256="ab" * 32, purpose="link"))
    assert signed_in(secret, tools) is not None


@pytest.mark.parametrize(
    "password",
    [
        *("123456789012", "password1234", "qwertyuiop12", "aaaaaaaaaaaaaaa", "iloveyou1234"),
        *("quietleaf2026", "Ida Marsh Ida Marsh", "letmeinplease"),
    ],
)
def test_a_password_that_is_tried_first_is_refused(tools: Tools, password: str) -> None:
    with pytest.raises(Invalid, match="among the first that somebody would try"):
        add_account("Ida Marsh", ["steward"], password, tools)
    account = steward(tools)
    with pytest.raises(Invalid, match="among the first"):
        change_password(account.name, password, tools)
    # Nothing else is asked of its letters.
    change_password(account.name, "plain words without a figure", tools)


def test_a_session_that_nobody_uses_is_over(tools: Tools, clock: Clock) -> None:
    steward(tools)
    secret = sign_in("Ida Marsh", PASSWORD, HOME, Doorkeeper(), tools)
    for _ in range(4):
        clock.now += IDLE - timedelta(minutes=1)
        assert signed_in(secret, tools) is not None
    # A page that looks what is new is nobody's use.
    clock.now += timedelta(hours=1)
    assert signed_in(secret, tools, by_hand=False) is not None
    clock.now += timedelta(hours=1)
    assert signed_in(secret, tools) is None


def test_so_many_passwords_are_tried_at_once_and_no_more(
    tools: Tools, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("quietleaf.work.sign_in._TURN_S", 0.0)
    steward(tools)
    doorkeeper = Doorkeeper()
    with ExitStack() as trying:
        for number in range(HASHED_AT_ONCE):
            trying.enter_context(doorkeeper.trying((f"name {number}",), clock.now))
        with pytest.raises(Unavailable, match="signing in at this moment"):
            sign_in("Ida Marsh", PASSWORD, HOME, doorkeeper, tools)
    assert sign_in("Ida Marsh", PASSWORD, HOME, doorkeeper, tools)
