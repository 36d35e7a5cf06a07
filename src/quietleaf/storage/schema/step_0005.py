"""Step 5: accounts, and what was done through them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic.operations import Operations

NAME = "accounts and the audit list"


def take(operations: Operations) -> None:
    """Make the tables, and let a token be of an account."""
    operations.create_table(
        "accounts",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("folded", sa.Text, nullable=False),
        sa.Column("roles", sa.Text, nullable=False),
        sa.Column("password", sa.Text, nullable=False),
        sa.Column("made_at", sa.Text, nullable=False),
        sa.Column("ended_at", sa.Text),
    )
    operations.create_index("ix_accounts_folded", "accounts", ["folded"], unique=True)
    operations.create_table(
        "deeds",
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.Column("about", sa.Text, nullable=False),
    )
    operations.add_column("tokens", sa.Column("account", sa.Text))
    operations.create_index("ix_tokens_account", "tokens", ["account"])
