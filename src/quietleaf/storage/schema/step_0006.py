"""Step 6: programmes say whether somebody other than the reader reviews a reading."""

from __future__ import annotations

import sqlalchemy as sa
from alembic.operations import Operations

NAME = "another reviewer than the reader"


def take(operations: Operations) -> None:
    """Let readers review their own readings in every programme that is there, as before."""
    operations.add_column(
        "programmes",
        sa.Column("other_reviewer", sa.Boolean, nullable=False, server_default=sa.false()),
    )
