"""`python -m bench.proving`: make messy sessions, hear them, print what was found of what is there.

Without shared recordings all is made by formula: it runs, and its figures say nothing of readers.
"""

from __future__ import annotations

import argparse

from bench.proving.made_pieces import made_pieces
from bench.proving.open_sounds import open_beds, open_clips, open_sounds
from bench.proving.recordings import load_pieces
from bench.proving.suites import SUITES, planned
from bench.proving.table import disfluent_lines, judge, suite_lines, wrong_lines
from tests.helpers import HelperMissing, find_recordings


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m bench.proving", description=__doc__)
    parser.add_argument("suites", nargs="*", metavar="SUITE", help=", ".join((*SUITES, "real")))
    parser.add_argument("--length", type=float, default=360.0, help="seconds of a session")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--voices", default="", help="only these, with commas between")
    parser.add_argument(
        "--rate", type=int, help="sampling rate in Hz; the voices' own if not given"
    )
    parser.add_argument(
        "--half", choices=("known", "unseen"), help="only this half of the recordings of noises"
    )
    parser.add_argument(
        "--open", action="store_true", help="with the free recordings that registries carry, too"
    )
    parser.add_argument("--wrong", action="store_true", help="list what was found wrongly")
    options = parser.parse_args()
    suites = tuple(options.suites) or (*SUITES, "real")
    unknown = [name for name in suites if name not in (*SUITES, "real")]
    if unknown:
        parser.error(f"no suite of that name: {', '.join(unknown)}")
    try:
        pieces = load_pieces(find_recordings())
    except HelperMissing:
        pieces = made_pieces()
    if options.open:
        pieces = pieces.with_sounds(open_sounds()).with_beds(open_beds()).with_clips(open_clips())
    if options.half:
        pieces = pieces.only(options.half)
    voices = tuple(name for name in options.voices.split(",") if name)
    print(f"proving ground: {pieces.origin}, seed {options.seed}, {options.length:.0f} s a session")
    for suite in (name for name in SUITES if name in suites):
        plans = [
            one
            for one in planned(pieces, (suite,), options.seed)
            if not voices or one.voice in voices
        ]
        judged = list(judge(pieces, plans, options.length, options.rate))
        if judged:
            print("\n" + "\n".join(suite_lines(suite, judged)), flush=True)
        if options.wrong:
            print("\n".join(wrong_lines(judged)), flush=True)
    if "real" in suites:
        print("\n" + "\n".join(disfluent_lines(pieces)))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
