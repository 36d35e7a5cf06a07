"""Step 8: tokens of programs: their names, their scopes, their last use, and what they did."""

from __future__ import annotations

import sqlalchemy as sa
from alembic.operations import Operations

NAME = "tokens of programs"


def take(operations: Operations) -> None:
    """Give the tokens that are there no name and no scopes: none of them is a program's."""
    for column in (
        sa.Column("name", sa.Text, nullable=False, server_default=""),
        sa.Column("scopes", sa.Text, nullable=False, server_default="[]"),
        sa.Column("used_at", sa.Text),
    ):
        operations.add_column("tokens", column)
    operations.add_column("deeds", sa.Column("token", sa.Text, nullable=False, server_default=""))
