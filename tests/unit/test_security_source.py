"""What the source must not do, whoever asks."""

from __future__ import annotations

import ast
from pathlib import Path

SOURCE = sorted((Path(__file__).parents[2] / "src").rglob("*.py"))
EVALUATING = {"eval", "exec", "compile", "__import__"}
UNSAFE_MODULES = {"pickle", "marshal", "shelve", "xml", "zipfile", "tarfile", "yaml", "lxml"}
SECRETS = ("tokens.py", "one_time_codes.py", "passwords.py", "sealing.py")


def trees() -> list[tuple[Path, ast.Module]]:
    return [(path, ast.parse(path.read_text(encoding="utf-8"))) for path in SOURCE]


def modules_of(tree: ast.Module) -> set[str]:
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {name.name.partition(".")[0] for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add((node.module or "").partition(".")[0])
    return found


def test_nothing_is_evaluated_unpickled_or_run_by_a_shell() -> None:
    assert len(SOURCE) > 300
    for path, tree in trees():
        assert not modules_of(tree) & UNSAFE_MODULES, path
        for node in ast.walk(tree):
            if not isinstance(node, ast.Call):
                continue
            called = node.func
            assert not (isinstance(called, ast.Name) and called.id in EVALUATING), path
            is_system = isinstance(called, ast.Attribute) and called.attr in ("system", "popen")
            assert not is_system, path
            assert "shell" not in {keyword.arg for keyword in node.keywords}, path


def test_secrets_are_drawn_by_the_systems_own_generator() -> None:
    for path, tree in trees():
        if path.name in SECRETS:
            used = modules_of(tree)
            assert "secrets" in used, path
            assert not used & {"random", "numpy", "uuid"}, path
