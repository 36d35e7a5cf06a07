"""Step 7: the plan gets a number that each change of it raises."""

from __future__ import annotations

import sqlalchemy as sa
from alembic.operations import Operations

NAME = "number of the plan"


def take(operations: Operations) -> None:
    """Begin to count at 0."""
    operations.add_column(
        "station", sa.Column("plan_number", sa.Integer, nullable=False, server_default="0")
    )
