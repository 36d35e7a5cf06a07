"""Records, channels, gaps and what is held in memory: the recorder's own reasoning."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from quietleaf.booth.wire import Article, Record, entry_bytes, record_bytes, records_of

HERE = Path(__file__).parent
RECORDS = Path("src/quietleaf/web/static/scripts/core/records.js")


@pytest.mark.parametrize(
    "name", ["records", "channels", "recent", "gaps", "again", "sentences", "taking"]
)
def test_the_recorder_reasons_rightly(node: Path, name: str) -> None:
    done = subprocess.run(
        [node, "--test", HERE / f"{name}.test.mjs"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout
    assert "# pass 0\n" not in done.stdout


def test_browser_and_station_write_the_same_bytes(node: Path) -> None:
    sound = Record(kind=1, number=9, entries=3, first=1 << 34, payload=bytes(range(96)), whole=True)
    entry = Record(
        kind=2,
        number=10,
        entries=3,
        first=0,
        payload=entry_bytes(Article(sample=1_234, title="Grüße")),
        whole=True,
    )
    script = f"""
        import {{ entryBytes, recordBytes }} from "{HERE.parents[2] / RECORDS}";
        const out = [
            recordBytes({{ kind: 1, number: 9, entries: 3, first: 2 ** 34 }},
                Uint8Array.from({{ length: 96 }}, (_, at) => at)),
            recordBytes({{ kind: 2, number: 10, entries: 3, first: 0 }},
                entryBytes({{ what: "article", sample: 1234, title: "Grüße" }})),
        ];
        process.stdout.write(Buffer.concat(out));
    """
    done = subprocess.run(
        [node, "--input-type=module", "--eval", script], capture_output=True, check=True
    )
    assert done.stdout == record_bytes(sound) + record_bytes(entry)
    assert records_of(done.stdout) == [sound, entry]
