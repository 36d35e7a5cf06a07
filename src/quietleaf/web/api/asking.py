"""What every handler of the API asks of its request."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Path, Query

from quietleaf.web.rendering import tools_of
from quietleaf.work.tools import Tools

StationTools = Annotated[Tools, Depends(tools_of)]
PageAsked = Annotated[int, Query(ge=1, le=1_000_000, description="Page of the list, from 1 on.")]
Sha256 = Annotated[str, Path(description="Checksum that names it.", max_length=64)]
