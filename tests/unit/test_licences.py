"""Every locked package has a licence that is allowed, and the page says so."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

SCRIPT = Path(__file__).parents[2] / "scripts" / "make_licences.py"
PINS = {"soxr": {"runtime": {"1.1.0"}}, "numpy": {"runtime": {"2.4.6"}}}
GOOD = {
    "packages": {"soxr": "LGPL-2.1-or-later", "numpy": "BSD-3-Clause AND MIT"},
    "named": {"soxr": "can be put in another's place"},
    "carries": {},
}


@pytest.fixture(scope="module")
def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_licences", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_locked_package_has_a_licence_that_is_allowed() -> None:
    done = subprocess.run(
        [sys.executable, str(SCRIPT), "--check"], check=False, capture_output=True, text=True
    )
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize(
    ("packages", "named", "sentence"),
    [
        ({"soxr": None}, {}, "soxr is locked and has no licence"),
        ({"mako": "MIT"}, {}, "mako is in locks/licences.toml and no longer locked"),
        ({}, {"soxr": None}, "soxr is under LGPL-2.1-or-later: say under [named]"),
        (
            {"numpy": "GPL-3.0-or-later"},
            {},
            "numpy is under GPL-3.0-or-later, which is not allowed",
        ),
        ({"numpy": "MIT AND AGPL-3.0-only"}, {}, "numpy is under AGPL-3.0-only"),
        ({}, {"mako": "why"}, "mako is named and no longer locked"),
    ],
)
def test_what_is_amiss_is_said(
    script: ModuleType,
    packages: dict[str, str | None],
    named: dict[str, str | None],
    sentence: str,
) -> None:
    assert list(script.wrong(GOOD, PINS)) == []
    table = {
        "packages": {k: v for k, v in {**GOOD["packages"], **packages}.items() if v},
        "named": {k: v for k, v in {**GOOD["named"], **named}.items() if v},
        "carries": {},
    }
    assert any(one.startswith(sentence) for one in script.wrong(table, PINS))
