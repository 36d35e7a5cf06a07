"""Make docs/licences.md of locks/licences.toml, and hold that against what is installed.

python scripts/make_licences.py          writes it
python scripts/make_licences.py --check  says what is amiss, or that the page is not of today
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "licences.md"
LOCKS = ("runtime", "aac", "alignment", "postgres", "words")
PERMISSIVE = {
    *("0BSD", "Apache-2.0", "Apache-2.0 WITH LLVM-exception", "BSD-2-Clause", "BSD-3-Clause"),
    *("CC0-1.0", "MIT", "MIT-0", "PSF-2.0", "Zlib"),
}
WEAK = {"LGPL-2.1-or-later", "LGPL-3.0-only", "LGPL-3.0-or-later", "MPL-2.0"}
"""Not permissive, and allowed with a reason: for a library that can be put in another's place."""
_PLAIN = {
    "MIT License": "MIT",
    "Apache 2.0": "Apache-2.0",
    "3-Clause BSD License": "BSD-3-Clause",
    "BSD 3-Clause License": "BSD-3-Clause",
}
Table = dict[str, dict[str, str]]


def main() -> int:
    """Write the page, or compare it."""
    table: Table = tomllib.loads((ROOT / "locks" / "licences.toml").read_text("utf-8"))
    amiss = [*wrong(table, pinned()), *other_than_installed(table)]
    for sentence in amiss:
        print(sentence, file=sys.stderr)
    if amiss:
        return 1
    text = page(table)
    if "--check" not in sys.argv[1:]:
        PAGE.write_text(text, "utf-8")
        return 0
    if PAGE.exists() and PAGE.read_text("utf-8") == text:
        return 0
    print("docs/licences.md is not of today: python scripts/make_licences.py", file=sys.stderr)
    return 1


def pinned() -> dict[str, dict[str, set[str]]]:
    """Give the versions of each package that the runtime's locks pin, lock by lock."""
    found: dict[str, dict[str, set[str]]] = {}
    for lock in LOCKS:
        for line in (ROOT / "locks" / f"{lock}.lock").read_text("utf-8").splitlines():
            pin = re.match(r"([\w.-]+)==([^ ;\\]+)", line)
            if pin:
                found.setdefault(pin[1], {}).setdefault(lock, set()).add(pin[2])
    return found


def wrong(table: Table, pins: dict[str, dict[str, set[str]]]) -> Iterator[str]:
    """Say what the table lacks, has too much, or may not have."""
    for name in sorted(pins.keys() - table["packages"].keys()):
        yield f"{name} is locked and has no licence in locks/licences.toml. Look it up, and add it."
    for name in sorted(table["packages"].keys() - pins.keys()):
        yield f"{name} is in locks/licences.toml and no longer locked. Take it out."
    for name, licence in sorted(table["packages"].items()):
        for one in parts(licence):
            if one in WEAK and name not in table["named"]:
                yield f"{name} is under {one}: say under [named] why it may be, or do without."
            if one not in PERMISSIVE | WEAK:
                yield f"{name} is under {one}, which is not allowed. Do without it."
    for name in sorted(table["named"].keys() - table["packages"].keys()):
        yield f"{name} is named and no longer locked. Take it out."


def parts(licence: str) -> list[str]:
    """Give the licences of an expression; of alternatives the first is taken."""
    return licence.split(" OR ")[0].split(" AND ")


def other_than_installed(table: Table) -> Iterator[str]:
    """Say where a package that is installed gives another licence than the table."""
    for name, licence in sorted(table["packages"].items()):
        try:
            said = licence_said(metadata.metadata(name))
        except metadata.PackageNotFoundError:
            continue
        if said is not None and said != licence:
            yield f"{name} says that it is under {said}; locks/licences.toml says {licence}."


def licence_said(about: metadata.PackageMetadata) -> str | None:
    """Give what a package says of itself, where it says it so that it can be compared."""
    if "License-Expression" in about:
        return about["License-Expression"]
    words = about["License"].strip() if "License" in about else ""
    plain = _PLAIN.get(words, words)
    return plain if plain in PERMISSIVE | WEAK else None


def page(table: Table) -> str:
    """Give the page as text."""
    lines = [
        "# Licences",
        "",
        "Made by `scripts/make_licences.py` of the locks and of `locks/licences.toml`; the checks",
        "fail where a locked package has no row, where its own metadata says another licence, and",
        "for a licence that is not allowed: GPL and AGPL are not, LGPL and MPL with a reason.",
        "Quietleaf itself is under Apache-2.0, its fonts under the SIL Open Font License 1.1, with",
        "their texts beside them.",
        "",
        "| package | version | licence | for | remark |",
        "|---|---|---|---|---|",
    ]
    for name, locks in sorted(pinned().items()):
        versions = sorted(set().union(*locks.values()))
        uses = ["every station"] if "runtime" in locks else [f"the extra `{one}`" for one in locks]
        remarks = [table["named"].get(name, "")]
        if name in table["carries"]:
            remarks.append(f"carries {table['carries'][name]}")
        cells = [
            *(name, ", ".join(versions), table["packages"][name]),
            *(", ".join(uses), "; ".join(filter(None, remarks))),
        ]
        lines.append(f"| {' | '.join(cells)} |".replace(" |  |", " | |"))
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    sys.exit(main())
