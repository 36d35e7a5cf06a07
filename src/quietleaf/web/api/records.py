"""What the API gives and takes where the rooms' own records do not fit: pages of lists, bodies.

A record that has a key of its own, or a secret in it, is not sent as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import MISSING, dataclass, fields, make_dataclass
from datetime import datetime
from typing import Any, Generic, TypeVar, get_type_hints

from pydantic import ConfigDict

from quietleaf.delivery.id3 import Chapter
from quietleaf.delivery.report import Figure
from quietleaf.listening.findings import Finding
from quietleaf.listening.words_check import WordsCheck
from quietleaf.planning.account import Account, Role, Scope
from quietleaf.storage.tokens import Token
from quietleaf.work.see_reading import MadeFile, SeenReading
from quietleaf.work.summary import Summary

ON_A_PAGE = 100
STRICT = ConfigDict(extra="forbid")
"""Of bodies: a member that is not known is refused, not dropped."""

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class ProblemDetails:
    """A refusal (RFC 9457)."""

    type: str
    title: str
    status: int
    detail: str
    code: str
    where: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed(Generic[T]):
    """A page of a list."""

    items: tuple[T, ...]
    page: int
    pages: int
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingSeen:
    """A reading with what was heard in it and what was made of it."""

    summary: Summary
    airs_at: datetime | None
    part: int | None
    opening_words: str
    closing_words: str
    words: WordsCheck | None
    takes: int
    reasons: tuple[str, ...]
    findings: tuple[Finding, ...]
    figures: tuple[Figure, ...]
    chapters: tuple[Chapter, ...]
    files: tuple[MadeFile, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountSeen:
    """An account, without what is kept of its password."""

    name: str
    roles: tuple[Role, ...]
    made_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class TokenSeen:
    """A program's token, without its secret."""

    sha256: str
    name: str
    scopes: tuple[Scope, ...]
    made_at: datetime
    expires_at: datetime | None
    ended_at: datetime | None
    used_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedOnce:
    """An address that opens something; it is told this once."""

    address: str


def listed(items: Sequence[T], page: int) -> Listed[T]:
    """Give one page of a list; a page past the last one gives the last."""
    pages = max(1, -(-len(items) // ON_A_PAGE))
    page = min(page, pages)
    shown = items[(page - 1) * ON_A_PAGE : page * ON_A_PAGE]
    return Listed(items=tuple(shown), page=page, pages=pages, count=len(items))


def reading_seen(of: SeenReading) -> ReadingSeen:
    """Give a reading as the API does."""
    report = of.report
    return ReadingSeen(
        summary=of.summary,
        airs_at=of.airs_at,
        part=of.part,
        opening_words=of.opening_words,
        closing_words=of.closing_words,
        words=of.words,
        takes=of.takes,
        reasons=report.reasons if report else (),
        findings=report.findings if report else (),
        figures=report.figures if report else (),
        chapters=report.chapters if report else (),
        files=of.files,
    )


def account_seen(account: Account) -> AccountSeen:
    """Give an account as the API does."""
    return AccountSeen(name=account.name, roles=account.roles, made_at=account.made_at)


def token_seen(token: Token) -> TokenSeen:
    """Give a token as the API does."""
    return TokenSeen(
        sha256=token.sha256,
        name=token.name,
        scopes=token.scopes,
        made_at=token.made_at,
        expires_at=token.expires_at,
        ended_at=token.ended_at,
        used_at=token.used_at,
    )


def body_of(record: type[Any], name: str, *, without: Sequence[str] = ()) -> Any:
    """Make the body of a request from a record: the same members, and none that is not known.

    Parameters
    ----------
    without : sequence of str
        Members that the address gives, or Quietleaf.
    """
    types = get_type_hints(record)
    members = [
        (field.name, types[field.name])
        if field.default is MISSING
        else (field.name, types[field.name], field.default)
        for field in fields(record)
        if field.name not in without
    ]
    namespace = {"__doc__": record.__doc__, "__pydantic_config__": STRICT}
    return make_dataclass(name, members, namespace=namespace, frozen=True, kw_only=True)


def filled(record: type[T], body: Any, **given: Any) -> T:
    """Make a record of a body and of what the address gives."""
    return record(**{field.name: getattr(body, field.name) for field in fields(body)}, **given)
