"""Ask whether locked packages have known holes: a step of its own, since it needs a network.

python scripts/audit.py

It ends with 0 if it asked and none is known, with 1 if one is, with 3 if it could not ask: then
nothing is known about today, and that is not the same as none.
"""

from __future__ import annotations

import json
import subprocess
import sys
import venv
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LOCKS = ("runtime", "aac", "alignment", "postgres", "words")
AUDITOR = ROOT / ".cache" / "audit"
NONE_KNOWN, SOME_KNOWN, NOT_ASKED = 0, 1, 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came of asking about one lock; ``reason`` says why nothing did."""

    asked: int = 0
    holes: tuple[str, ...] = ()
    passed_over: tuple[str, ...] = ()
    reason: str = ""


def main() -> int:
    """Ask about each lock, and say what came of it."""
    try:
        auditor = installed_auditor()
    except (OSError, subprocess.CalledProcessError) as fault:
        print(f"Could not ask: the auditor cannot be installed ({fault}).")
        return NOT_ASKED
    worst = NONE_KNOWN
    for lock in LOCKS:
        answer = answer_of(*ask(auditor, ROOT / "locks" / f"{lock}.lock"))
        for line in lines(lock, answer):
            print(line)
        worst = max(worst, ended(answer), key=(NONE_KNOWN, NOT_ASKED, SOME_KNOWN).index)
    return worst


def installed_auditor() -> Path:
    """Give the auditor's Python, in a place of its own; installed from its lock."""
    lock = ROOT / "locks" / "audit.lock"
    marker, python = AUDITOR / "lock", AUDITOR / "bin" / "python"
    if not marker.exists() or marker.read_text("utf-8") != lock.read_text("utf-8"):
        venv.create(AUDITOR, clear=True, with_pip=True)
        pip = [str(python), "-m", "pip", "--quiet", "--disable-pip-version-check", "install"]
        subprocess.run([*pip, "--require-hashes", "-r", str(lock)], check=True)
        marker.write_text(lock.read_text("utf-8"), "utf-8")
    return python


def ask(auditor: Path, lock: Path) -> tuple[str, str]:
    """Ask about one lock; give what was said on both outputs."""
    command = [str(auditor), "-m", "pip_audit", "--disable-pip", "--require-hashes"]
    command += ["--format", "json", "--progress-spinner", "off", "--timeout", "15"]
    done = subprocess.run(
        [*command, "--requirement", str(lock)], capture_output=True, text=True, check=False
    )
    return done.stdout, done.stderr


def answer_of(out: str, err: str) -> Answer:
    """Read an answer; what is none says why."""
    try:
        packages = json.loads(out)["dependencies"]
    except (ValueError, KeyError, TypeError):
        told = err.strip().splitlines() or ["nothing was said"]
        return Answer(reason=told[-1][:300])
    return Answer(
        asked=sum("skip_reason" not in one for one in packages),
        holes=tuple(
            f"{one['name']} {one['version']}: {hole['id']}, mended in "
            + (", ".join(hole["fix_versions"]) or "no version yet")
            for one in packages
            for hole in one.get("vulns", ())
        ),
        passed_over=tuple(
            f"{one['name']}: {one['skip_reason']}" for one in packages if "skip_reason" in one
        ),
    )


def ended(answer: Answer) -> int:
    """Give the exit code of one answer."""
    if answer.holes:
        return SOME_KNOWN
    return NOT_ASKED if answer.reason or answer.passed_over or not answer.asked else NONE_KNOWN


def lines(lock: str, answer: Answer) -> Iterator[str]:
    """Say what came of asking about one lock."""
    reason = answer.reason
    if not reason and not answer.asked:
        reason = next(iter(answer.passed_over), "no package was named")
    if reason:
        yield f"{lock}: could not ask, so that nothing is known about today ({reason})"
        return
    yield f"{lock}: asked about {answer.asked} packages; {len(answer.holes) or 'no'} known holes"
    yield from (f"  {hole}" for hole in answer.holes)
    yield from (f"  not asked about {one}" for one in answer.passed_over)


if __name__ == "__main__":
    sys.exit(main())
