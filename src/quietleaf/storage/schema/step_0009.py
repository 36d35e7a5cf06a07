"""Step 9: second factors, and the codes for when one is lost."""

from __future__ import annotations

import sqlalchemy as sa
from alembic.operations import Operations

NAME = "second factors of accounts"


def take(operations: Operations) -> None:
    """Make the tables."""
    operations.create_table(
        "factors",
        sa.Column("account", sa.Text, primary_key=True),
        sa.Column("secret", sa.Text, nullable=False),
        sa.Column("begun_at", sa.Text, nullable=False),
        sa.Column("confirmed_at", sa.Text),
        sa.Column("last_step", sa.BigInteger, nullable=False),
    )
    operations.create_table(
        "recovery_codes",
        sa.Column("sha256", sa.Text, primary_key=True),
        sa.Column("account", sa.Text, nullable=False),
        sa.Column("used_at", sa.Text),
    )
    operations.create_index("ix_recovery_codes_account", "recovery_codes", ["account"])
