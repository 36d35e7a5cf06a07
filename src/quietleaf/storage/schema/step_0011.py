"""Step 11: a reader can be retired."""

from __future__ import annotations

import sqlalchemy as sa
from alembic.operations import Operations

NAME = "retired readers"


def take(operations: Operations) -> None:
    """Retire nobody."""
    operations.add_column(
        "readers", sa.Column("retired", sa.Boolean, nullable=False, server_default=sa.false())
    )
