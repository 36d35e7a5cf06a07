"""A station may keep more files open than a program is given to begin with."""

from __future__ import annotations

import resource
from collections.abc import Iterator

import pytest

from quietleaf.cli.open_files import WANTED, allow_open_files


@pytest.fixture
def hard() -> Iterator[int]:
    """Give the most that is allowed; what this process had comes back afterwards."""
    before = resource.getrlimit(resource.RLIMIT_NOFILE)
    yield before[1]
    resource.setrlimit(resource.RLIMIT_NOFILE, before)


def test_a_low_limit_is_raised_as_far_as_it_is_allowed(hard: int) -> None:
    resource.setrlimit(resource.RLIMIT_NOFILE, (256, hard))
    allowed = WANTED if hard == resource.RLIM_INFINITY else min(WANTED, hard)
    assert allow_open_files() == allowed
    assert resource.getrlimit(resource.RLIMIT_NOFILE) == (allowed, hard)


def test_a_high_limit_stays(hard: int) -> None:
    if hard != resource.RLIM_INFINITY and hard <= WANTED:
        pytest.skip(f"this machine allows {hard} open files at most")
    resource.setrlimit(resource.RLIMIT_NOFILE, (WANTED + 1, hard))
    assert allow_open_files() == WANTED + 1
