"""A second factor and one's own account: at a real database."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from quietleaf.errors import Conflict, Invalid, NotAllowed, NotFound, Unavailable
from quietleaf.storage import passwords
from quietleaf.storage.database import Database, database_url
from quietleaf.storage.one_time_codes import RECOVERY_CODES, code_of_step, step_at
from quietleaf.work.accounts import add_account, change_password, end_account, find_account
from quietleaf.work.own_account import (
    change_own_password,
    end_own_sessions,
    prove_owner,
    see_own_account,
)
from quietleaf.work.second_factor import (
    BEGUN,
    begin_factor,
    begun_secret,
    confirm_factor,
    remove_factor,
    remove_factor_of,
    see_factor,
)
from quietleaf.work.sign_in import TRIES, Doorkeeper, sign_in, signed_in
from quietleaf.work.tools import Tools
from tests.clock import Clock
from tests.finished import NOW

PASSWORD = "four quiet leaves fall"
HOME = "192.0.2.7"
IDA = "Ida Marsh"


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture(params=["sqlite", "postgresql"])
def tools(
    request: pytest.FixtureRequest, tmp_path: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Tools]:
    monkeypatch.setattr(passwords, "SCRYPT_N", 1 << 4)
    is_own = request.param == "sqlite"
    url = database_url(tmp_path) if is_own else str(request.getfixturevalue("postgres"))
    with Database(url) as database:
        made = Tools(data=tmp_path, database=database, clock=clock)
        add_account(IDA, ["steward", "desk"], PASSWORD, made)
        yield made


def code(secret: str, tools: Tools, steps: int = 0) -> str:
    """Give what the telephone shows now, or so many half minutes later."""
    return code_of_step(secret, step_at(tools.clock().timestamp()) + steps)


def with_factor(tools: Tools) -> tuple[str, tuple[str, ...]]:
    secret = begin_factor(find_account(IDA, tools), tools)
    return secret, confirm_factor(IDA, code(secret, tools), tools)


def come_in(tools: Tools, given: str = "", password: str = PASSWORD) -> str:
    return sign_in("ida marsh", password, HOME, Doorkeeper(), tools, given)


def test_it_counts_when_a_code_was_seen_and_not_before(tools: Tools, clock: Clock) -> None:
    secret = begin_factor(find_account(IDA, tools), tools)
    assert begun_secret(IDA, tools) == secret
    assert see_factor(IDA, tools) is None
    assert come_in(tools)
    with pytest.raises(Invalid, match="not the present one"):
        confirm_factor(IDA, code(secret, tools, steps=3), tools)
    codes = confirm_factor(IDA, f" {code(secret, tools)[:3]} {code(secret, tools)[3:]}", tools)
    seen = see_factor(IDA, tools)
    assert seen is not None
    assert (seen.since, seen.recovery_codes_left, len(codes)) == (NOW, RECOVERY_CODES, 10)
    with pytest.raises(NotAllowed, match="do not belong together"):
        come_in(tools)
    clock.now += timedelta(seconds=30)
    assert come_in(tools, code(secret, tools))


def test_no_code_counts_twice(tools: Tools, clock: Clock) -> None:
    secret, codes = with_factor(tools)
    # That with which it was confirmed is used, and so is what came before.
    for used in (code(secret, tools), code(secret, tools, steps=-1)):
        with pytest.raises(NotAllowed):
            come_in(tools, used)
    # The next half minute's is taken now, and then no more, though its time has not come.
    following = code(secret, tools, steps=1)
    assert come_in(tools, following)
    clock.now += timedelta(seconds=30)
    with pytest.raises(NotAllowed, match="was used before"):
        come_in(tools, following)
    assert come_in(tools, codes[3].lower())
    with pytest.raises(NotAllowed):
        come_in(tools, codes[3])
    seen = see_factor(IDA, tools)
    assert seen is not None
    assert seen.recovery_codes_left == RECOVERY_CODES - 1


def test_a_code_is_not_used_up_by_a_wrong_password(tools: Tools) -> None:
    secret, codes = with_factor(tools)
    for given in (code(secret, tools, steps=1), codes[0]):
        with pytest.raises(NotAllowed):
            come_in(tools, given, "another password")
        assert come_in(tools, given)


def test_guessing_codes_is_slowed_down_as_passwords_are(tools: Tools) -> None:
    secret, _ = with_factor(tools)
    doorkeeper = Doorkeeper()
    for _ in range(TRIES):
        with pytest.raises(NotAllowed):
            sign_in(IDA, PASSWORD, HOME, doorkeeper, tools, "000000")
    with pytest.raises(Unavailable, match="Wait 30 seconds"):
        sign_in(IDA, PASSWORD, HOME, doorkeeper, tools, code(secret, tools, steps=1))


def test_what_was_begun_does_not_wait_for_ever(tools: Tools, clock: Clock) -> None:
    secret = begin_factor(find_account(IDA, tools), tools)
    clock.now += BEGUN
    with pytest.raises(Conflict, match="begun too long ago"):
        confirm_factor(IDA, code(secret, tools), tools)
    again = begin_factor(find_account(IDA, tools), tools)
    assert again != secret
    assert confirm_factor(IDA, code(again, tools), tools)
    with pytest.raises(Conflict, match="already"):
        begin_factor(find_account(IDA, tools), tools)
    with pytest.raises(Conflict, match="Begin again"):
        confirm_factor(IDA, code(again, tools), tools)
    with pytest.raises(Conflict, match="Begin again"):
        begun_secret(IDA, tools)


def test_it_is_for_the_desk_and_stewards(tools: Tools) -> None:
    account = add_account("Ear", ["reviewer"], PASSWORD, tools)
    with pytest.raises(NotAllowed, match="this one is neither"):
        begin_factor(account, tools)


def test_removed_the_password_is_enough_and_old_codes_are_nothing(tools: Tools) -> None:
    _, codes = with_factor(tools)
    remove_factor(IDA, tools)
    with pytest.raises(NotFound, match="has no second factor"):
        remove_factor(IDA, tools)
    assert come_in(tools)
    secret, _ = with_factor(tools)
    with pytest.raises(NotAllowed):
        come_in(tools, codes[0])
    session = come_in(tools, code(secret, tools, steps=1))
    remove_factor_of("ida MARSH", tools)
    assert signed_in(session, tools) is None
    assert come_in(tools)


def test_an_account_that_ends_leaves_no_secret(tools: Tools) -> None:
    with_factor(tools)
    add_account("Noa Reed", ["steward"], PASSWORD, tools)
    end_account(IDA, tools)
    assert tools.database.factors.find(IDA) is None
    assert tools.database.factors.count_recovery_codes(IDA) == 0


def test_ones_own_password_is_changed_with_the_present_one(tools: Tools) -> None:
    account, doorkeeper = find_account(IDA, tools), Doorkeeper()
    session = come_in(tools)
    with pytest.raises(NotAllowed, match="not the password with which you sign in"):
        change_own_password(account, "wrong", "x" * 12, HOME, doorkeeper, tools)
    with pytest.raises(Invalid, match="12 to 128"):
        change_own_password(account, PASSWORD, "short", HOME, doorkeeper, tools)
    assert signed_in(session, tools) == account
    change_own_password(account, PASSWORD, "another quiet leaf", HOME, doorkeeper, tools)
    assert signed_in(session, tools) is None
    assert come_in(tools, password="another quiet leaf")


def test_asking_again_is_slowed_down_too(tools: Tools) -> None:
    account, doorkeeper = find_account(IDA, tools), Doorkeeper()
    for _ in range(TRIES):
        with pytest.raises(NotAllowed):
            prove_owner(account, "wrong", HOME, doorkeeper, tools)
    with pytest.raises(Unavailable):
        prove_owner(account, PASSWORD, HOME, doorkeeper, tools)


def test_every_session_ends_where_its_owner_ends_them(tools: Tools, clock: Clock) -> None:
    account = find_account(IDA, tools)
    add_account("Noa Reed", ["desk"], PASSWORD, tools)
    sessions = [come_in(tools)]
    clock.now += timedelta(minutes=1)
    sessions.append(come_in(tools))
    other = sign_in("Noa Reed", PASSWORD, HOME, Doorkeeper(), tools)
    assert see_own_account(account, tools).sessions == (clock.now, NOW)
    end_own_sessions(account, tools)
    assert [signed_in(session, tools) for session in sessions] == [None, None]
    assert signed_in(other, tools) is not None
    assert see_own_account(account, tools).sessions == ()
    clock.now += timedelta(hours=13)
    assert signed_in(other, tools) is None


def test_a_password_that_the_steward_gives_leaves_the_factor(tools: Tools) -> None:
    secret, _ = with_factor(tools)
    change_password(IDA, "another quiet leaf", tools)
    with pytest.raises(NotAllowed):
        come_in(tools, password="another quiet leaf")
    assert come_in(tools, code(secret, tools, steps=1), "another quiet leaf")
