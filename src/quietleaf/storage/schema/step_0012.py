"""Step 12: who was erased, by the checksum of the name."""

from __future__ import annotations

import sqlalchemy as sa
from alembic.operations import Operations

NAME = "people who were erased"


def take(operations: Operations) -> None:
    """Make the table."""
    operations.create_table(
        "erased",
        sa.Column("sha256", sa.Text, primary_key=True),
        sa.Column("at", sa.Text, nullable=False),
    )
