"""The tables of accounts: who can sign in, their sessions, and the audit list."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, delete, func, insert, select, update

from quietleaf.errors import NotFound
from quietleaf.planning.account import Account, Deed
from quietleaf.storage.database_part import DatabasePart
from quietleaf.storage.rows import text_of_moment
from quietleaf.storage.schema import tables
from quietleaf.storage.tokens import TokenPurpose


class AccountTables(DatabasePart):
    """Accounts, their sessions, and the audit list."""

    def all(self) -> tuple[Account, ...]:
        """Give all accounts, live and ended, by name."""
        with self._asking() as connection:
            return _accounts(connection)

    def has_live(self) -> bool:
        """Say whether there is an account that has not ended."""
        table = tables.ACCOUNTS
        query = select(table.c.name).where(table.c.ended_at.is_(None)).limit(1)
        with self._asking() as connection:
            return connection.execute(query).first() is not None

    def find(self, name: str) -> Account:
        """Find an account by its name, whatever its capitals.

        Raises
        ------
        NotFound
            If there is none.
        """
        table = tables.ACCOUNTS
        query = select(table).where(table.c.folded == name.casefold())
        with self._asking() as connection:
            found = connection.execute(query).first()
        if found is None:
            raise NotFound("account/unknown", f"There is no account {name!r} at this station.")
        return _account_of_row(found)

    def change(self, decide: Callable[[tuple[Account, ...]], Account]) -> Account:
        """Keep what is decided on all accounts in place of the one of its name, if there is one.

        Parameters
        ----------
        decide : callable
            Given every account by name, in the transaction that writes; gives one, or refuses.
        """
        table = tables.ACCOUNTS
        with self._writing() as connection:
            decided = decide(_accounts(connection))
            connection.execute(delete(table).where(table.c.folded == decided.name.casefold()))
            connection.execute(insert(table), [_row_of_account(decided)])
        return decided

    def end_tokens(self, name: str, purpose: TokenPurpose, at: datetime) -> None:
        """End every session of an account, or every token that a program has of it."""
        table = tables.TOKENS
        with self._writing() as connection:
            connection.execute(
                update(table)
                .where(table.c.purpose == purpose, table.c.account == name)
                .where(table.c.ended_at.is_(None))
                .values(ended_at=text_of_moment(at))
            )

    def use_token(self, sha256: str, at: datetime) -> None:
        """Keep when a token was last used."""
        table = tables.TOKENS
        with self._writing() as connection:
            connection.execute(
                update(table).where(table.c.sha256 == sha256).values(used_at=text_of_moment(at))
            )

    def add_deed(self, deed: Deed) -> None:
        """Write a line of the audit list."""
        row = {**asdict(deed), "at": text_of_moment(deed.at)}
        with self._writing() as connection:
            connection.execute(insert(tables.DEEDS), [row])

    def deeds(self, *, first: int, count: int) -> tuple[Deed, ...]:
        """Give a part of the audit list, the newest line first."""
        table = tables.DEEDS
        query = select(table).order_by(table.c.number.desc()).offset(first).limit(count)
        with self._asking() as connection:
            found = connection.execute(query).all()
        return tuple(_deed_of_row(row) for row in found)

    def deeds_of(self, who: str) -> tuple[Deed, ...]:
        """Give what one account changed, the newest first."""
        table = tables.DEEDS
        query = select(table).where(table.c.who == who).order_by(table.c.number.desc())
        with self._asking() as connection:
            return tuple(_deed_of_row(row) for row in connection.execute(query))

    def count_deeds(self) -> int:
        """Say how many lines the audit list has."""
        query = select(func.count()).select_from(tables.DEEDS)
        with self._asking() as connection:
            return int(connection.execute(query).scalar_one())


def _accounts(connection: Connection) -> tuple[Account, ...]:
    table = tables.ACCOUNTS
    found = connection.execute(select(table).order_by(table.c.folded)).all()
    return tuple(_account_of_row(row) for row in found)


def _row_of_account(account: Account) -> dict[str, Any]:
    return {
        "name": account.name,
        "folded": account.name.casefold(),
        "roles": json.dumps(account.roles),
        "password": account.password,
        "made_at": text_of_moment(account.made_at),
        "ended_at": None if account.ended_at is None else text_of_moment(account.ended_at),
    }


def _account_of_row(row: Row[Any]) -> Account:
    return Account(
        name=row.name,
        roles=tuple(json.loads(row.roles)),
        password=row.password,
        made_at=datetime.fromisoformat(row.made_at),
        ended_at=None if row.ended_at is None else datetime.fromisoformat(row.ended_at),
    )


def _deed_of_row(row: Row[Any]) -> Deed:
    return Deed(
        at=datetime.fromisoformat(row.at),
        who=row.who,
        what=row.what,
        about=row.about,
        token=row.token,
    )
