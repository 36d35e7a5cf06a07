"""Time zones by their IANA names."""

from __future__ import annotations

from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from quietleaf.errors import Invalid


def zone_named(name: str) -> ZoneInfo:
    """Give a zone from the machine's own table of zones.

    Raises
    ------
    Invalid
        If no zone has that name.
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as unknown:
        # An absolute path or a folder's name comes back as ValueError or OSError.
        raise Invalid(
            "storage/unknown-zone",
            f"A time zone has a name such as Europe/London; this machine knows none called "
            f"{name!r}. Correct the name, or install the package tzdata.",
        ) from unknown
