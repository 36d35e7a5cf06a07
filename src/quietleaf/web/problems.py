"""Refusals as programs get them: problem details (RFC 9457), with our own stable code."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from http import HTTPStatus

from starlette.responses import JSONResponse

from quietleaf.errors import Invalid, QuietleafError
from quietleaf.web.forms import LARGEST_FORM_BYTES
from quietleaf.web.log import tell_code

MEDIA_TYPE = "application/problem+json"


class Problem(JSONResponse):
    """A refusal.

    Its ``type`` stays ``about:blank``, so that ``title`` is the status in words; ``code`` is one
    that the reference lists, and ``where`` names the members of a request that do not hold.
    """

    media_type = MEDIA_TYPE

    def __init__(
        self,
        refusal: QuietleafError,
        status: int,
        *,
        where: Sequence[str] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        tell_code(refusal.code)
        super().__init__(
            {
                "type": "about:blank",
                "title": HTTPStatus(status).phrase,
                "status": status,
                "detail": refusal.sentence,
                "code": refusal.code,
                "where": list(where),
            },
            status,
            headers,
        )


def too_large() -> Invalid:
    """Refuse a request that is larger than any of ours."""
    return Invalid(
        "api/size",
        f"A request holds at most {LARGEST_FORM_BYTES // 1024} kB; more came. Send less at once.",
    )
