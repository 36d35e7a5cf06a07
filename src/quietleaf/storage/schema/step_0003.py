"""Step 3: programmes get a review depth."""

from __future__ import annotations

import sqlalchemy as sa
from alembic.operations import Operations

NAME = "review depth of programmes"


def take(operations: Operations) -> None:
    """Give every programme that is there the usual depth."""
    operations.add_column(
        "programmes",
        sa.Column("review", sa.Text, nullable=False, server_default="things to hear"),
    )
