"""As many open files as a full house of stands takes: a line and two files each."""

from __future__ import annotations

import resource

WANTED = 8_192


def allow_open_files() -> int:
    """Raise this process's limit as far as it is wanted and allowed; give the limit.

    Many systems begin a program with 256 or 1024, for the sake of programs from long ago.
    """
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = WANTED if hard == resource.RLIM_INFINITY else min(WANTED, hard)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
    return resource.getrlimit(resource.RLIMIT_NOFILE)[0]
