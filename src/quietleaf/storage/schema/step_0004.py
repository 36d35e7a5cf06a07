"""Step 4: a station gets its outlets."""

from __future__ import annotations

import sqlalchemy as sa
from alembic.operations import Operations

NAME = "outlets of a station"


def take(operations: Operations) -> None:
    """Give the station that is there no outlets besides its masters."""
    operations.add_column(
        "station", sa.Column("outlets", sa.Text, nullable=False, server_default="[]")
    )
