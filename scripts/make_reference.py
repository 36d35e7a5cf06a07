"""Make docs/reference.md from the code: commands, settings, error codes with their sentences.

python scripts/make_reference.py          writes it
python scripts/make_reference.py --check  says whether it is as it would be written
"""

import argparse
import ast
import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

from quietleaf.cli.main import COMMANDS, EXIT_CODES
from quietleaf.settings import SETTINGS

ROOT = Path(__file__).resolve().parent.parent
REFERENCE = ROOT / "docs" / "reference.md"
KINDS = {
    "Invalid": 2,
    "NotFound": 2,
    "NotAllowed": 2,
    "Conflict": 2,
    **{kind.__name__: code for kind, code in EXIT_CODES.items()},
}


def main() -> int:
    """Write the page, or compare it."""
    text = reference()
    if "--check" not in sys.argv[1:]:
        REFERENCE.write_text(text, "utf-8")
        return 0
    return 0 if REFERENCE.read_text("utf-8") == text else 1


def reference() -> str:
    """Give the page as text."""
    lines = ["# Reference", "", "Made from the code by `scripts/make_reference.py`.", ""]
    lines += ["## Commands", ""]
    for name, help_text in COMMANDS.items():
        lines += [f"### quietleaf {name}", "", help_text[0].upper() + help_text[1:] + ".", ""]
        lines += ["| argument | meaning |", "|---|---|", *_arguments(name), ""]
    lines += ["## Settings", "", "Each is read from the environment under the name given.", ""]
    lines += ["| setting | default | unit | meaning |", "|---|---|---|---|"]
    for row in SETTINGS:
        default = "" if row.default == "" else f"`{row.default}`"
        lines.append(f"| `QUIETLEAF_{row.name.upper()}` | {default} | {row.unit} | {row.help} |")
    lines += ["", "## Refusals", ""]
    lines += [
        "A command that cannot do its work says one of these and ends with its exit code.",
        "A name in braces stands for what came.",
        "",
        "| code | exit | sentence |",
        "|---|---|---|",
    ]
    for code, kind, sentence in sorted(set(_refusals())):
        lines.append(f"| `{code}` | {KINDS[kind]} | {sentence.replace('|', '/')} |")
    return "\n".join(lines) + "\n"


def _arguments(name: str) -> Iterator[str]:
    parser = argparse.ArgumentParser(prog=name, add_help=False)
    import_module(f"quietleaf.cli.{name.replace('-', '_')}").arguments(parser)
    for action in parser._actions:  # argparse has no public list of them
        shown = " ".join(
            [*action.option_strings[-1:], str(action.metavar or "") if action.nargs != 0 else ""]
        )
        yield f"| `{shown.strip()}` | {action.help} |"


def _refusals() -> Iterator[tuple[str, str, str]]:
    """Find every place where an error of the tree is made."""
    for path in sorted((ROOT / "src").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name)):
                continue
            if node.func.id in KINDS and len(node.args) == 2:
                code, sentence = (_template(argument) for argument in node.args)
                yield code, node.func.id, sentence


def _template(node: ast.expr) -> str:
    if isinstance(node, ast.Constant):
        return str(node.value)
    if isinstance(node, ast.JoinedStr):
        return "".join(_template(part) for part in node.values)
    if isinstance(node, ast.FormattedValue):
        # Which quotes come back depends on the version of Python.
        return "{" + ast.unparse(node.value).replace('"', "'") + "}"
    if isinstance(node, ast.BinOp):
        return _template(node.left) + _template(node.right)
    return "{" + ast.unparse(node) + "}"


if __name__ == "__main__":
    sys.exit(main())
