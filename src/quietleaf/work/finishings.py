"""Readings being finished: each in a process of its own, as many at once as there is room for.

What is due is told by the marks in the readings' folders; nothing else is kept of it.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from dataclasses import dataclass, field, replace
from pathlib import Path

from quietleaf.errors import Conflict, QuietleafError
from quietleaf.storage.finishing_marks import (
    Ending,
    FinishingMark,
    marked_readings,
    read_mark,
    write_mark,
)
from quietleaf.storage.index_rows import reading_row, version_in_use
from quietleaf.storage.reading_folder import ReadingFolder, find_reading
from quietleaf.storage.versions import read_versions
from quietleaf.work.finish_job import job_to_text
from quietleaf.work.finish_request import FinishProgramme, refuse_unfinishable
from quietleaf.work.tools import Tools

STOP_S = 10.0
"""Given to a process that is told to stop, to put away what it has begun."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenFinishing:
    """A reading that is being finished, or waits for it.

    Attributes
    ----------
    step : str
        What is being done; empty while it waits.
    done : float
        How much of that step is done, 0 to 1.
    before : int
        How many are before it; 0 once it has begun.
    """

    reading_id: str
    title: str
    mark: FinishingMark
    step: str
    done: float
    before: int


@dataclass(slots=True, kw_only=True)
class _Job:
    folder: ReadingFolder
    mark: FinishingMark
    step: str = ""
    done: float = 0.0
    process: subprocess.Popen[str] | None = None
    thread: threading.Thread | None = None
    stopped_by: str | None = None


@dataclass(slots=True, kw_only=True)
class _State:
    jobs: dict[str, _Job] = field(default_factory=dict)
    is_closing: bool = False


class Finishings:
    """Has readings finished without anybody waiting. Any thread may ask.

    Parameters
    ----------
    usual : FinishProgramme
        How everything is finished at this station; the source is still to be named.
    database : str
        Where its database is.
    most : int, optional
        How many are finished at once; one less than there are processors without it.
    """

    def __init__(
        self, tools: Tools, usual: FinishProgramme, database: str, most: int | None = None
    ) -> None:
        self._tools = tools
        self._usual = usual
        self._database = database
        self._most = most or max(1, len(os.sched_getaffinity(0)) - 1)
        self._lock = threading.Lock()
        self._state = _State()

    def resume(self) -> None:
        """Go on with what was due when the station was stopped."""
        for path in marked_readings(self._tools.data):
            mark = read_mark(path)
            if mark is not None and mark.ending is None:
                try:
                    folder = ReadingFolder(path)
                except QuietleafError:
                    # It cannot be read: its own page says so.
                    continue
                job = _Job(folder=folder, mark=mark)
                if _is_made(path, mark):
                    self._end(job, "made", "")
                else:
                    self._add(job)
        self._begin_some()

    def ask(self, reading_id: str, who: str) -> None:
        """Have a reading finished.

        Raises
        ------
        NotFound
            If there is no such reading.
        Conflict
            If it is being finished already, is being read, or is cleared.
        """
        folder = find_reading(self._tools.data, reading_id)
        refuse_unfinishable(folder.state)
        mark = FinishingMark(asked_at=self._tools.clock(), by=who)
        if not self._add(_Job(folder=folder, mark=mark)):
            raise Conflict(
                "finishing/under-way",
                "This reading is being finished already. Wait until that is done, or stop it.",
            )
        try:
            write_mark(folder.path, mark)
        except BaseException:
            with self._lock:
                self._state.jobs.pop(reading_id, None)
            raise
        self._begin_some()

    def stop(self, reading_id: str, who: str) -> None:
        """Stop finishing a reading; come back when nothing of it is left.

        Raises
        ------
        Conflict
            If it is not being finished (any more).
        """
        with self._lock:
            job = self._state.jobs.get(reading_id)
            if job is None:
                raise Conflict(
                    "finishing/not-under-way",
                    "This reading is not being finished any more. Its page says how it ended.",
                )
            job.stopped_by = who
            if job.process is None and job.thread is None:
                del self._state.jobs[reading_id]
        if job.thread is None:
            self._end(job, "stopped", who)
        else:
            self._terminate(job)
            job.thread.join()

    def seen(self) -> tuple[SeenFinishing, ...]:
        """Give all that are being finished, those that wait after the others, in their order."""
        with self._lock:
            jobs = self._ordered()
        waiting = 0
        found = []
        for job in jobs:
            if job.thread is None:
                waiting += 1
            found.append(
                SeenFinishing(
                    reading_id=job.folder.facts.reading_id,
                    title=job.folder.facts.programme_title,
                    mark=job.mark,
                    step=job.step,
                    done=job.done,
                    before=waiting if job.thread is None else 0,
                )
            )
        return tuple(found)

    def close(self) -> None:
        """Stop everything, and leave it due: the station goes on with it when it opens again."""
        with self._lock:
            self._state.is_closing = True
            jobs = [job for job in self._state.jobs.values() if job.thread is not None]
        for job in jobs:
            self._terminate(job)
        for job in jobs:
            assert job.thread is not None
            job.thread.join()

    def _add(self, job: _Job) -> bool:
        with self._lock:
            reading_id = job.folder.facts.reading_id
            if reading_id in self._state.jobs:
                return False
            self._state.jobs[reading_id] = job
            return True

    def _ordered(self) -> list[_Job]:
        jobs = self._state.jobs.values()
        return sorted(jobs, key=lambda job: (job.thread is None, job.mark.asked_at))

    def _begin_some(self) -> None:
        """Begin with those that have waited longest, as far as there is room."""
        with self._lock:
            if self._state.is_closing:
                return
            jobs = self._ordered()
            busy = sum(job.thread is not None for job in jobs)
            for job in [job for job in jobs if job.thread is None][: max(0, self._most - busy)]:
                job.thread = threading.Thread(target=self._run, args=(job,), daemon=True)
                job.thread.start()

    def _run(self, job: _Job) -> None:
        ending: Ending = "broken off"
        told = ""
        try:
            with self._process(job) as process:
                assert process.stdout is not None
                for line in process.stdout:
                    heard = json.loads(line)
                    job.step = heard.get("step", job.step)
                    job.done = heard.get("done", job.done)
                    if "refused" in heard:
                        ending, told = "refused", heard["refused"]
                    elif "made" in heard:
                        ending = "made"
        finally:
            try:
                if ending != "broken off" or not self._state.is_closing:
                    if ending == "broken off" and job.stopped_by is not None:
                        ending, told = "stopped", job.stopped_by
                    self._end(job, ending, told)
            finally:
                with self._lock:
                    del self._state.jobs[job.folder.facts.reading_id]
                self._begin_some()

    def _process(self, job: _Job) -> subprocess.Popen[str]:
        request = replace(self._usual, source=job.folder.facts.reading_id, asked_by=job.mark.by)
        with self._lock:
            process = subprocess.Popen(
                [sys.executable, "-P", "-m", "quietleaf.work.finish_job"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
                # Ctrl-C in a terminal is for the station; it says when this is to stop.
                start_new_session=True,
            )
            job.process = process
        assert process.stdin is not None
        process.stdin.write(job_to_text(request, self._tools.data, self._database))
        process.stdin.flush()
        if job.stopped_by is not None or self._state.is_closing:
            # Told to stop before there was anything to stop.
            process.terminate()
        return process

    def _terminate(self, job: _Job) -> None:
        with self._lock:
            process = job.process
        if process is None:
            return
        process.terminate()
        try:
            process.wait(STOP_S)
        except subprocess.TimeoutExpired:
            process.kill()

    def _end(self, job: _Job, ending: Ending, told: str) -> None:
        """Say how it ended, and let the index say what the folder says, wherever it ended."""
        now = self._tools.clock()
        write_mark(job.folder.path, replace(job.mark, ending=ending, ended_at=now, told=told))
        self._tools.database.index_reading(reading_row(job.folder.reload()))


def _is_made(path: Path, mark: FinishingMark) -> bool:
    """Say whether it was made after it was asked for, and only that was not told any more."""
    try:
        used = version_in_use(path)
        versions = read_versions(path)
    except QuietleafError:
        return False
    return any(one.number == used and one.at >= mark.asked_at for one in versions)
