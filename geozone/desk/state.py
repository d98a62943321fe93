"""What the desk holds while it is open: plans, the worker, what is to be said on the next page, edits that met another's."""

from __future__ import annotations

import asyncio
import hashlib
import secrets
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..errors import GeozoneError
from .nested import value_at
from .plans import Plan, Plans, summary_of
from .runs import DONE, Runs, Trial
from .savedjob import SavedJob, read_saved, with_own_line_ends, write_saved

_MOST_KEPT = 200
#: How long the fewest settings are looked for beside a run, whose own search goes on meanwhile [s].
FIRST_LIMITS_S = (1.0,)
_TEXTS_KEPT = 40


@dataclass(frozen=True)
class Clash:
    """An edit of a job file that somebody else changed meanwhile: what was wanted, and the texts that it was made of."""

    plan: str
    mine: str


@dataclass(frozen=True)
class Said:
    """A sentence for the next page: what was done, or an error in its parts."""

    text: str
    wrong: bool = False


class Desk:
    """Everything of one open desk.

    Parameters
    ----------
    plans : Plans
    read_only : bool
    """

    def __init__(self, plans: Plans, read_only: bool = False):
        self.plans, self.read_only, self.runs = plans, read_only, Runs()
        self._said: OrderedDict[str, Said] = OrderedDict()
        self._clashes: OrderedDict[str, Clash] = OrderedDict()
        self._texts: OrderedDict[str, SavedJob] = OrderedDict()
        self.years: dict[str, tuple[str, asyncio.Task]] = {}
        self._looks: dict[str, tuple[tuple, asyncio.Task]] = {}

    def say(self, text: str | GeozoneError) -> str:
        """Keep a sentence for a page; the number by which its address asks for it."""
        return _kept(self._said, Said(str(text), isinstance(text, GeozoneError)), _MOST_KEPT)

    def said(self, number: str) -> Said | None:
        return self._said.get(number)

    def job_of(self, plan: Plan) -> SavedJob:
        """The plan's job file as it is now, remembered by its sum: an edit says which of them it was made of."""
        saved = read_saved(plan.job)
        self._texts[saved.sum] = saved
        self._texts.move_to_end(saved.sum)
        while len(self._texts) > _TEXTS_KEPT:
            self._texts.popitem(last=False)
        return saved

    def seen_job(self, number: str) -> SavedJob | None:
        """A job file as it was when a page showed it; None where that is too long ago."""
        return self._texts.get(number)

    def save(self, plan: Plan, text: str, seen: SavedJob) -> str | None:
        """Write the job file over what was seen; None when done, else the number of a clash that holds the text."""
        text = with_own_line_ends(text, seen.text)
        if write_saved(plan.job, text, seen):
            return None
        return self.clash(plan, text)

    def clash(self, plan: Plan, mine: str) -> str:
        return _kept(self._clashes, Clash(plan.name, mine), _TEXTS_KEPT)

    def clashed(self, number: str) -> Clash | None:
        return self._clashes.get(number)

    def begin(self, plan: Plan) -> None:
        """Start a plan's run; what it will find first is asked for beside it."""
        hint = state_of_files(plan)
        if not self.runs.busy(plan.name):
            saved = read_saved(plan.job)
            self.runs.try_out(plan.name, plan.job, saved.text, hint, {}, FIRST_LIMITS_S).of = saved.sum
        self.runs.begin(plan.name, plan.job, summary_of(plan), hint)

    def trial(self, plan: Plan, saved: SavedJob) -> Trial | None:
        """What was asked last about the job as it is saved; what a run would find first is of no use when the run is done."""
        trial, run = self.runs.trials.get(plan.name), self.runs.of.get(plan.name)
        done = trial is not None and not trial.posted and run is not None and run.state == DONE
        return None if trial is None or trial.of != saved.sum or done else trial

    def forget(self, name: str) -> None:
        """Drop what is known of a plan that is gone."""
        self.runs.forget(name)
        self.years.pop(name, None)

    def look(self, plan: Plan, near: str = "") -> asyncio.Task | None:
        """The plan's files looked at by the worker, once for as long as nothing changes; None where the job names none."""
        task = look_task(plan, near)
        if task is None or self.read_only:
            return None
        key = (repr(task), *((name, _stamp(plan.folder / name)) for name in (task["sites"], task["areas"], task["backdrop"]) if name))
        known = self._looks.get(plan.name)
        if known is None or known[0] != key or known[1].done() and (known[1].cancelled() or "ended" in known[1].result()):
            self._looks[plan.name] = known = key, asyncio.create_task(self.runs.ask(task))
        return known[1]


def state_of_files(plan: Plan) -> str:
    """A name for what a plan's run reads, as it lies there now: another name where a file or what is said of it was changed."""
    data = read_saved(plan.job).data or {}
    job = {name: value for name, value in data.get("job", {}).items() if name != "title"} if isinstance(data.get("job"), dict) else {}
    names = (*(job.get(use) for use in ("sites", "areas", "backdrop")), value_at(data, ("zones", "along")))
    files = [name for name in names if isinstance(name, str)]
    said = [job, *(data.get(section) for section in ("columns", "reading", "writing")), [_stamp(plan.folder / name) for name in files]]
    return hashlib.sha256(f"{plan.job} {said!r}".encode()).hexdigest()[:24]


def look_task(plan: Plan, near: str = "") -> dict | None:
    """What the worker is asked about a plan's files; None for a job that cannot be read or names no file.

    Only files in the plan's own folder: a job may name others, which a page must not open.
    """
    data = read_saved(plan.job).data or {}
    job = data.get("job")
    if not isinstance(job, dict):
        return None
    files = {name: job.get(name) if isinstance(job.get(name), str) and own_file(plan, job[name]) else None for name in ("sites", "areas", "backdrop")}
    if not any(files.values()):
        return None
    reading = {name: value for section in ("columns", "reading") for name, value in _texts_in(data.get(section)).items()}
    reading.update({"crs": job["crs"]} if isinstance(job.get("crs"), str) else {})
    year = job.get("year")
    return {"do": "look", "folder": str(plan.folder), **files, "reading": {name: reading[name] for name in _READING if name in reading},
            "area_names": job["area_names"] if isinstance(job.get("area_names"), str) else None,
            "year": year if type(year) is int and 1972 <= year <= 2098 else 2027, "near": near}


_READING = ("site_id", "name", "lat", "lon", "position", "legal_zone", "load_w", "crs", "encoding", "separator", "decimal", "layer")


def own_file(plan: Plan, name: str) -> bool:
    """Whether a name is that of a plain file in the plan's own folder."""
    try:
        return name in {path.name for path in plan.folder.iterdir() if path.is_file() and not path.is_symlink()}
    except OSError:
        return False


def _texts_in(section: Any) -> dict[str, str]:
    return {name: value for name, value in section.items() if isinstance(value, str)} if isinstance(section, dict) else {}


def _stamp(path: Path) -> tuple:
    try:
        found = path.stat()
        return found.st_mtime_ns, found.st_size
    except (OSError, ValueError):
        return ()


def _kept(store: OrderedDict, value: Any, most: int) -> str:
    number = secrets.token_hex(6)
    store[number] = value
    while len(store) > most:
        store.popitem(last=False)
    return number
