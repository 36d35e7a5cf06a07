"""Signing in and out: a password opens a session, and guesses are slowed down."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from quietleaf.errors import NotAllowed, NotFound, Unavailable
from quietleaf.planning.account import Account
from quietleaf.storage.passwords import is_password, take_as_long
from quietleaf.storage.tokens import Token, new_secret, sha256_of
from quietleaf.work.accounts import find_account
from quietleaf.work.second_factor import factor_fits
from quietleaf.work.sit_down import new_sitting
from quietleaf.work.tools import Tools

SESSION = timedelta(hours=12)
"""A day at the desk. Ours: OWASP ASVS 5, 7.3.2 asks for a longest time and does not say which."""
TRIES = 5
WAIT = timedelta(seconds=30)
WAIT_MOST = timedelta(minutes=15)
"""After so many wrong passwords in a row each further try waits, twice as long each time. Ours;
OWASP ASVS 5, 6.3.1 asks that guessing is slowed down."""
REMEMBERED_MOST = 10_000
IDLE = timedelta(hours=2)
"""A session that nobody uses for so long is over. Ours; 7.3.1 asks for a time and does not say
which. Who reads at the stand is not signed out by it: a sitting lasts as long as its session."""
_USE_KEPT = timedelta(minutes=5)
HASHED_AT_ONCE = 4
"""Each takes 128 MB: many at once would take the memory from those who record."""
_TURN_S = 5.0


@dataclass(slots=True)
class _Missed:
    count: int = 0
    until: datetime | None = None


@dataclass(slots=True)
class Doorkeeper:
    """Counts wrong passwords by name and by address; any thread may ask.

    What it remembers is gone when the station starts anew.
    """

    _missed: dict[str, _Missed] = field(default_factory=dict)
    _changing: threading.Lock = field(default_factory=threading.Lock)
    _turns: threading.BoundedSemaphore = field(
        default_factory=lambda: threading.BoundedSemaphore(HASHED_AT_ONCE)
    )

    @contextmanager
    def trying(self, keys: tuple[str, ...], now: datetime) -> Iterator[None]:
        """Take a turn at trying a password.

        Raises
        ------
        Unavailable
            If it comes too soon after wrong ones, or too many are being tried at this moment.
        """
        self.refuse_busy(keys, now)
        if not self._turns.acquire(timeout=_TURN_S):
            raise Unavailable(
                "sign-in/many",
                f"More than {HASHED_AT_ONCE} people are signing in at this moment. Try again in a "
                "few seconds.",
            )
        try:
            # Those that were wrong while this one waited count too.
            self.refuse_busy(keys, now)
            yield
        finally:
            self._turns.release()

    def refuse_busy(self, keys: tuple[str, ...], now: datetime) -> None:
        """Refuse a try that comes too soon after wrong ones.

        Raises
        ------
        Unavailable
            The sentence says how long to wait.
        """
        with self._changing:
            until = [missed.until for key in keys if (missed := self._missed.get(key))]
        wait_s = max(((one - now).total_seconds() for one in until if one), default=0.0)
        if wait_s > 0.0:
            raise Unavailable(
                "sign-in/wait",
                f"There were {TRIES} wrong passwords or more. Wait {round(wait_s) or 1} seconds, "
                "then try again; the steward can give a new password.",
            )

    def told_wrong(self, keys: tuple[str, ...], now: datetime) -> None:
        """Count a wrong password."""
        with self._changing:
            for key in keys:
                # The one that was wrong longest ago goes first.
                missed = self._missed.pop(key, None) or _Missed()
                missed.count += 1
                if missed.count >= TRIES:
                    doubled = WAIT * 2 ** min(missed.count - TRIES, 10)
                    missed.until = now + min(doubled, WAIT_MOST)
                self._missed[key] = missed
            while len(self._missed) > REMEMBERED_MOST:
                self._missed.pop(next(iter(self._missed)))

    def told_right(self, key: str) -> None:
        """Forget what a name got wrong; what an address did counts on."""
        with self._changing:
            self._missed.pop(key, None)


def keys_of(name: str, address: str) -> tuple[str, str]:
    """Give what wrong passwords are counted by."""
    return f"name {name.casefold()[:100]}", f"address {address}"


def sign_in(
    name: str, password: str, address: str, doorkeeper: Doorkeeper, tools: Tools, code: str = ""
) -> str:
    """Begin a session, and give its secret.

    Parameters
    ----------
    address : str
        Where the request came from.
    code : str
        Of the second factor, for an account that has one; used up by it.

    Raises
    ------
    NotAllowed
        If they do not belong together; it is not said which is wrong.
    Unavailable
        If there were too many wrong passwords just now.
    """
    keys = keys_of(name, address)
    with doorkeeper.trying(keys, tools.clock()):
        account = _account(name, tools)
        fits = account is not None and is_password(password, account.password)
        if account is None:
            # As long as a wrong password takes, so that nobody learns which names there are.
            take_as_long(password)
        if account is None or not fits or not factor_fits(account.name, code, tools):
            doorkeeper.told_wrong(keys, tools.clock())
            account = None
    if account is None:
        raise NotAllowed(
            "sign-in/wrong",
            "This name and password do not belong together, or the code of a second factor is "
            "missing, wrong or was used before. Look whether capitals are locked, and try again; "
            "the steward can help.",
        )
    doorkeeper.told_right(keys[0])
    secret = new_secret()
    now = tools.clock()
    tools.database.add_token(
        Token(
            sha256=sha256_of(secret),
            purpose="session",
            account=account.name,
            made_at=now,
            expires_at=now + SESSION,
        )
    )
    return secret


def sit_signed_in(secret: str, tools: Tools) -> str | None:
    """Let a reader who signed in sit at the stand from home, as long as the session lasts.

    Returns
    -------
    secret : str or None
        Of the sitting; None for an account that reads nothing.
    """
    token, account = _session(secret, tools), signed_in(secret, tools)
    if token is None or account is None or "reader" not in account.roles:
        return None
    if account.name not in tools.database.load_station().readers:
        return None  # retired since
    return new_sitting(account.name, tools, expires_at=token.expires_at)


def sign_out(secret: str | None, tools: Tools) -> None:
    """End a session; one that has ended already, or never was, is well."""
    if secret:
        token = _session(secret, tools)
        if token is not None:
            tools.database.end_token(token.sha256, tools.clock())


def signed_in(secret: str | None, tools: Tools, *, by_hand: bool = True) -> Account | None:
    """Give the account whose session this is, as it is now; None where there is none (any more).

    Parameters
    ----------
    by_hand : bool
        Whether somebody asks, and not a page that looks what is new: that keeps a session open.
    """
    token = _session(secret, tools) if secret else None
    if token is None or token.account is None:
        return None
    now = tools.clock()
    if by_hand and now - (token.used_at or token.made_at) >= _USE_KEPT:
        tools.database.accounts.use_token(token.sha256, now)
    return _account(token.account, tools)


def is_open(session: Token, now: datetime) -> bool:
    """Say whether a session lets somebody in: it lasts, and was used a short while ago."""
    return session.is_live(now) and now - (session.used_at or session.made_at) < IDLE


def has_accounts(tools: Tools) -> bool:
    """Say whether anybody can sign in: until then the station's own machine is trusted."""
    return tools.database.accounts.has_live()


def _session(secret: str, tools: Tools) -> Token | None:
    try:
        token = tools.database.token(sha256_of(secret))
    except NotFound:
        return None
    return token if token.purpose == "session" and is_open(token, tools.clock()) else None


def _account(name: str, tools: Tools) -> Account | None:
    try:
        return find_account(name, tools)
    except NotFound:
        return None
