"""The lock files pin what the package asks for, by hash, and name no host."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LOCKS = sorted((ROOT / "locks").glob("*.lock"))
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]


def pins(name: str) -> set[str]:
    """Give the names that a lock file pins."""
    text = (ROOT / "locks" / name).read_text()
    return {line.partition("==")[0] for line in text.splitlines() if re.match(r"\w", line)}


def wanted(requirements: list[str]) -> set[str]:
    """Give the names of requirements, without extras and versions."""
    return {re.split(r"[\[<>=!~; ]", requirement, maxsplit=1)[0] for requirement in requirements}


@pytest.mark.parametrize("lock", LOCKS, ids=lambda lock: lock.name)
def test_every_pin_has_a_hash_and_no_host_is_named(lock: Path) -> None:
    text = lock.read_text()
    assert "://" not in text
    for entry in re.split(r"\n(?=\w)", text.strip()):
        assert "==" in entry.splitlines()[0]
        assert "--hash=sha256:" in entry


def test_the_runtime_lock_pins_what_the_package_asks_for() -> None:
    assert wanted(PROJECT["dependencies"]) <= pins("runtime.lock")


@pytest.mark.parametrize("extra", sorted(PROJECT["optional-dependencies"]))
def test_each_extra_has_a_lock_of_its_name(extra: str) -> None:
    assert wanted(PROJECT["optional-dependencies"][extra]) <= pins(f"{extra}.lock")


def test_no_two_locks_disagree() -> None:
    versions: dict[str, set[str]] = {}
    for lock in LOCKS:
        pinned: dict[str, set[str]] = {}
        for line in lock.read_text().splitlines():
            if re.match(r"\w", line):
                name, version = re.split("[= ;\\\\]+", line)[:2]
                pinned.setdefault(name, set()).add(version)
        for name, found in pinned.items():
            assert versions.setdefault(name, found) == found, name


def test_the_npm_lock_has_sums_and_no_host() -> None:
    packages = json.loads((ROOT / "package-lock.json").read_text())["packages"]
    for name, package in packages.items():
        if name:
            assert "resolved" not in package
            assert package["integrity"].startswith("sha512-")
