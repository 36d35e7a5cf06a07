"""Accounts, their tokens, and the list of what was changed."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter

from quietleaf.planning.account import Deed, Role
from quietleaf.web.api.asking import PageAsked, Sha256, StationTools
from quietleaf.web.api.records import (
    ON_A_PAGE,
    STRICT,
    AccountSeen,
    Listed,
    TokenSeen,
    account_seen,
    listed,
    token_seen,
)
from quietleaf.work.accounts import (
    accounts_of,
    add_account,
    change_password,
    change_roles,
    end_account,
    find_account,
)
from quietleaf.work.persons import Erased, Person, erase_person, people_of, see_person
from quietleaf.work.program_tokens import end_token, tokens_of

ROUTER = APIRouter(tags=["accounts"])


@dataclass(frozen=True, slots=True, kw_only=True)
class NewAccount:
    """An account to add."""

    __pydantic_config__ = STRICT
    name: str
    roles: tuple[Role, ...]
    password: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Roles:
    """What an account may do."""

    __pydantic_config__ = STRICT
    roles: tuple[Role, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Password:
    """A new password."""

    __pydantic_config__ = STRICT
    password: str


@ROUTER.get("/accounts")
def accounts(tools: StationTools, page: PageAsked = 1) -> Listed[AccountSeen]:
    """List who can sign in."""
    return listed([account_seen(account) for account in accounts_of(tools)], page)


@ROUTER.post("/accounts", status_code=201)
def post_account(body: NewAccount, tools: StationTools) -> AccountSeen:
    """Add an account."""
    return account_seen(add_account(body.name, body.roles, body.password, tools))


@ROUTER.get("/accounts/{name}")
def account(name: str, tools: StationTools) -> AccountSeen:
    """Give an account."""
    return account_seen(find_account(name, tools))


@ROUTER.put("/accounts/{name}")
def put_account(name: str, body: Roles, tools: StationTools) -> AccountSeen:
    """Give an account other roles."""
    return account_seen(change_roles(name, body.roles, tools))


@ROUTER.delete("/accounts/{name}", status_code=204)
def delete_account(name: str, tools: StationTools) -> None:
    """End an account, its sessions and its tokens."""
    end_account(name, tools)


@ROUTER.put("/accounts/{name}/password", status_code=204)
def put_password(name: str, body: Password, tools: StationTools) -> None:
    """Give an account another password; whoever is signed in with it is signed out."""
    change_password(name, body.password, tools)


@ROUTER.get("/accounts/{name}/tokens")
def tokens(name: str, tools: StationTools, page: PageAsked = 1) -> Listed[TokenSeen]:
    """List an account's tokens, the newest first; they are made on the pages alone."""
    return listed([token_seen(token) for token in tokens_of(name, tools)], page)


@ROUTER.delete("/accounts/{name}/tokens/{sha256}", status_code=204)
def delete_token(name: str, sha256: Sha256, tools: StationTools) -> None:
    """End a token."""
    end_token(name, sha256, tools)


@ROUTER.get("/people")
def people(tools: StationTools, page: PageAsked = 1) -> Listed[str]:
    """List everybody who reads or has read here, or has an account, by name."""
    return listed(people_of(tools), page)


@ROUTER.get("/people/{name}")
def person(name: str, tools: StationTools) -> Person:
    """Give everything that is kept under a name."""
    return see_person(name, tools)


@ROUTER.delete("/people/{name}")
def delete_person(name: str, tools: StationTools) -> Erased:
    """Erase a person; give the folders of recordings in which the name still stands."""
    return erase_person(name, tools)


@ROUTER.get("/deeds")
def deeds(tools: StationTools, page: PageAsked = 1) -> Listed[Deed]:
    """List what was changed, the newest first."""
    count = tools.database.accounts.count_deeds()
    pages = max(1, -(-count // ON_A_PAGE))
    page = min(page, pages)
    found = tools.database.accounts.deeds(first=(page - 1) * ON_A_PAGE, count=ON_A_PAGE)
    return Listed(items=found, page=page, pages=pages, count=count)
