"""Step 10: the index says when a reading came in."""

from __future__ import annotations

import sqlalchemy as sa
from alembic.operations import Operations

NAME = "when readings came in"


def take(operations: Operations) -> None:
    """Leave it open for those that are there: `quietleaf rebuild` finds it in their folders."""
    operations.add_column("readings", sa.Column("came_in_at", sa.Text))
    operations.create_index("ix_readings_came_in_at", "readings", ["came_in_at"])
