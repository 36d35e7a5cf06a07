"""`python -m bench [NAME...]`: run the benches, print what was measured."""

from __future__ import annotations

import argparse
import tempfile
from importlib import import_module
from pathlib import Path

BENCHES = {
    "hear": "bench.hear_hour",
    "sentences": "bench.sentences",
    "finish": "bench.finish_hour",
    "stand": "bench.stand_page",
    "again": "bench.again",
    "streams": "bench.streams",
    "pages": "bench.pages",
}


def main() -> int:
    """Run the benches that are named, or all."""
    parser = argparse.ArgumentParser(prog="python -m bench", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(BENCHES))
    parser.add_argument("--length", type=float, default=3600.0, help="seconds of sound")
    parser.add_argument("--rounds", type=int, default=5, help="runs of each program")
    options = parser.parse_args()
    unknown = [name for name in options.names if name not in BENCHES]
    if unknown:
        parser.error(f"no bench of that name: {', '.join(unknown)}; there are {', '.join(BENCHES)}")
    for name in options.names or BENCHES:
        bench = import_module(BENCHES[name])
        with tempfile.TemporaryDirectory(prefix="quietleaf-bench-") as folder:
            figures = bench.measure(Path(folder), options.length, options.rounds)
        print("\n".join(bench.report(figures)), flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
