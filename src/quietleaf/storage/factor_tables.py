"""The tables of second factors and of recovery codes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Row, delete, func, insert, select, update

from quietleaf.errors import Conflict
from quietleaf.planning.account import Factor
from quietleaf.storage.database_part import DatabasePart
from quietleaf.storage.rows import text_of_moment
from quietleaf.storage.schema import tables


class FactorTables(DatabasePart):
    """Second factors."""

    def find(self, account: str) -> Factor | None:
        """Give the factor of an account, confirmed or not; None where there is none."""
        table = tables.FACTORS
        with self._asking() as connection:
            found = connection.execute(select(table).where(table.c.account == account)).first()
        return None if found is None else _factor_of_row(found)

    def begin(self, factor: Factor) -> None:
        """Keep a factor that is not confirmed yet, in place of an earlier one that is not.

        Raises
        ------
        Conflict
            If there is one that counts.
        """
        table = tables.FACTORS
        mine = table.c.account == factor.account
        with self._writing() as connection:
            connection.execute(delete(table).where(mine, table.c.confirmed_at.is_(None)))
            if connection.execute(select(table).where(mine)).first() is not None:
                raise Conflict(
                    "factor/there",
                    "This account has a second factor already. Remove it first.",
                )
            row = {
                "account": factor.account,
                "secret": factor.secret,
                "begun_at": text_of_moment(factor.begun_at),
                "confirmed_at": None,
                "last_step": factor.last_step,
            }
            connection.execute(insert(table), [row])

    def confirm(self, factor: Factor, step: int, sums: Sequence[str], at: datetime) -> bool:
        """Let a factor count from now on, with its recovery codes; False if it is gone."""
        table, codes = tables.FACTORS, tables.RECOVERY_CODES
        with self._writing() as connection:
            confirmed = connection.execute(
                update(table)
                .where(table.c.account == factor.account, table.c.secret == factor.secret)
                .where(table.c.confirmed_at.is_(None))
                .values(confirmed_at=text_of_moment(at), last_step=step)
            )
            if not confirmed.rowcount:
                return False
            connection.execute(delete(codes).where(codes.c.account == factor.account))
            rows = [{"sha256": one, "account": factor.account, "used_at": None} for one in sums]
            connection.execute(insert(codes), rows)
        return True

    def use_step(self, account: str, step: int) -> bool:
        """Use up a half minute and all before it; False if it was used before."""
        table = tables.FACTORS
        with self._writing() as connection:
            used = connection.execute(
                update(table)
                .where(table.c.account == account, table.c.last_step < step)
                .values(last_step=step)
            )
        return bool(used.rowcount)

    def use_recovery_code(self, account: str, sha256: str, at: datetime) -> bool:
        """Use up a recovery code; False if it is none of the account's, or was used before."""
        table = tables.RECOVERY_CODES
        with self._writing() as connection:
            used = connection.execute(
                update(table)
                .where(table.c.account == account, table.c.sha256 == sha256)
                .where(table.c.used_at.is_(None))
                .values(used_at=text_of_moment(at))
            )
        return bool(used.rowcount)

    def count_recovery_codes(self, account: str) -> int:
        """Say how many recovery codes are left."""
        table = tables.RECOVERY_CODES
        query = select(func.count()).where(table.c.account == account, table.c.used_at.is_(None))
        with self._asking() as connection:
            return int(connection.execute(query).scalar_one())

    def remove(self, account: str) -> bool:
        """Take a factor and its recovery codes away; False if there was none that counted."""
        table, codes = tables.FACTORS, tables.RECOVERY_CODES
        with self._writing() as connection:
            counted = connection.execute(
                select(table).where(table.c.account == account, table.c.confirmed_at.is_not(None))
            ).first()
            connection.execute(delete(table).where(table.c.account == account))
            connection.execute(delete(codes).where(codes.c.account == account))
        return counted is not None


def _factor_of_row(row: Row[Any]) -> Factor:
    return Factor(
        account=row.account,
        secret=row.secret,
        begun_at=datetime.fromisoformat(row.begun_at),
        confirmed_at=None if row.confirmed_at is None else datetime.fromisoformat(row.confirmed_at),
        last_step=row.last_step,
    )
