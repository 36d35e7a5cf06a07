"""The audit never takes "could not ask" for "none known"."""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path
from types import ModuleType

import pytest

SCRIPT = Path(__file__).parents[2] / "scripts" / "audit.py"
GOOD = {"name": "mako", "version": "1.4.3", "vulns": []}
HOLED = {
    "name": "h11",
    "version": "0.1",
    "vulns": [{"id": "X-1", "fix_versions": ["0.16.0"]}, {"id": "X-2", "fix_versions": []}],
}
SKIPPED = {"name": "idna", "skip_reason": "not found"}


@pytest.fixture(scope="module")
def audit() -> ModuleType:
    spec = importlib.util.spec_from_file_location("audit_script", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    # A dataclass looks its module up by name.
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(
    ("packages", "code", "said"),
    [
        ([GOOD], 0, "x: asked about 1 packages; no known holes"),
        ([GOOD, HOLED], 1, "  h11 0.1: X-1, mended in 0.16.0"),
        ([HOLED], 1, "  h11 0.1: X-2, mended in no version yet"),
        ([GOOD, SKIPPED], 3, "  not asked about idna: not found"),
        (
            [SKIPPED, SKIPPED],
            3,
            "x: could not ask, so that nothing is known about today (idna: not found)",
        ),
        ([], 3, "x: could not ask, so that nothing is known about today (no package was named)"),
    ],
)
def test_an_answer_is_told(audit: ModuleType, packages: list[object], code: int, said: str) -> None:
    answer = audit.answer_of(json.dumps({"dependencies": packages, "fixes": []}), "")
    assert audit.ended(answer) == code
    assert said in list(audit.lines("x", answer))


@pytest.mark.parametrize("out", ["", "[]", "{}", "no network", "null"])
def test_no_answer_is_not_none_known(audit: ModuleType, out: str) -> None:
    answer = audit.answer_of(out, "a\nConnection refused\n")
    assert audit.ended(answer) == 3
    (line,) = audit.lines("x", answer)
    assert line == ("x: could not ask, so that nothing is known about today (Connection refused)")
