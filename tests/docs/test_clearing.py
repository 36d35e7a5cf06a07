"""What the document of clearing says of keys is what the page has."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
KEYS = ROOT / "src" / "quietleaf" / "web" / "static" / "scripts" / "core" / "keys.js"


def test_every_key_of_the_ear_page_stands_in_its_document() -> None:
    ear = KEYS.read_text().partition("EAR_KEYS")[2].partition("};")[0]
    codes = re.findall(r'\w+: "(?:Key)?(\w+)"', ear)
    table = (ROOT / "docs" / "clearing.md").read_text().partition("| key | |")[2]
    rows = re.findall(r"(?m)^\| ([^|]+) \|", table.partition("\n\n")[0])
    told = [key for row in rows for key in row.split(", ")]
    assert sorted(told) == sorted("space" if code == "Space" else code for code in codes)
