"""The paper of a finished run made again: what a run keeps for it, and whether a job may still use that.

Kept beside the answers are the job's keys and the sums of the files that it names, so that a paper never mixes two plans.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .. import __version__
from ..errors import GeozoneError, InputError
from ..files.folder import earlier_summary, files_in
from ..files.leftovers import turn_at
from ..files.plainpack import TooLargeError
from ..files.renewal import check_renewable, renewed
from ..files.sums import SUMS_KEY, sum_of
from ..numbers import clock
from ..paper.keptanswers import KeptRun, kept_bytes, kept_run
from ..places.geofiles import parts_beside
from .job import SOURCES, Job, JobFile
from .jobplaces import line_of
from .paperwork import check_paper, of_the_paper, write_paper

if TYPE_CHECKING:
    from ..answers import Answers

#: What a run keeps for its paper.
KEPT = "paper.zip"
# Keys that only the paper reads: whatever else changes, changes the map and the tables beside it as well.
_PAPER_SECTIONS, _PAPER_KEYS = ("sheet", "cards"), "display_"
# Neither run nor paper reads these.
_OTHERS_SECTIONS = ("audit",)


@dataclass(frozen=True)
class NewPaper:
    """A paper that was made again.

    Attributes
    ----------
    title : str
    year : int
        Of the run.
    files : tuple of str
        Names in the run's folder.
    remarks : tuple of str
        For the user.
    """

    title: str
    year: int
    files: tuple[str, ...]
    remarks: tuple[str, ...]


def source_sums(job: Job) -> dict[str, str]:
    """A sum of each file that the job names, with the files that belong to it; tables in memory have none.

    One that cannot be read has "", which is no file's sum: whoever reads it next says why.
    """
    sums = {}
    for name in SOURCES:
        if job.file_of(name) and name not in job.frames:
            try:
                sums[name] = _source_sum(job, name)
            except OSError:
                sums[name] = ""
    return sums


def _source_sum(job: Job, name: str) -> str:
    job.source(name).stat()  # OSError if it is gone
    parts = [f"{ending} {sum_of(part)}" for ending, part in sorted(parts_beside(job.source(name)).items())]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def write_and_keep(job: Job, answers: "Answers", sources: dict[str, str], folder: Path, say: Callable[[str], None]) -> tuple[str, ...]:
    """Write the paper into an existing folder, and what `make_again` needs beside it.

    Parameters
    ----------
    job : Job
    answers : Answers
    sources : dict of str to str
        `source_sums`, taken before the files were read: one that changes meanwhile then counts as changed.
    folder : Path
    say : callable

    Returns
    -------
    tuple of str
        Sentences for the user: those of `write_paper`, and one where there is too much to keep.
    """
    said = write_paper(job, answers, folder, say)
    try:
        (folder / KEPT).write_bytes(kept_bytes(answers, _asked(job), sources))
    except TooLargeError as error:
        said += (f"{KEPT} was left out ({error}): only a run of the whole job makes this paper again",)
    return said


def make_again(job: Job, out, say: Callable[[str], None], only: str, run_again: str,
               prepare: Callable[[], None] = lambda: None) -> NewPaper:
    """Write the paper of a finished run anew into the run's folder, all of it or nothing.

    Parameters
    ----------
    job : Job
    out : path-like
        The run's folder.
    say : callable
        Told in one line what is being done.
    only : {"", "sheet", "cards"}
    run_again : str
        The command that makes the whole run again, for messages.
    prepare : callable
        Called when all is checked, before anything is computed.

    Returns
    -------
    NewPaper

    Raises
    ------
    InputError, OutputError
        If the folder holds no finished run of this job by this version, or a file to be replaced was edited. Nothing was written then.
    """
    check_paper(job)
    belongs = of_the_paper(only)
    say("reading what the run kept")
    kept, summary = _finished(job, Path(out), belongs, run_again)
    if only == "cards" and not kept.answers.listed:
        raise InputError("there are no cards to make", where=job.called, rule="cards are for the crew of a list's sites, and this job has no site list",
                         next_step="leave --only out: the sheet is made")
    remarks = _check_sources(job, kept, run_again)
    prepare()
    with turn_at(Path(out).resolve()), renewed(out, belongs, summary) as part:
        try:
            remarks += write_paper(job, kept.answers, part, say, only)
        except (GeozoneError, OSError):
            raise
        except Exception as error:  # the file's sum is right and its records are whole, yet it may say what no run says
            raise InputError("the paper cannot be made of what the run kept", where=str(Path(out) / KEPT), value=f"{type(error).__name__}: {error}",
                             rule="a file as geozone wrote it", next_step=f"make the run again: {run_again}; if that stops here as well, it is a "
                                                                          "defect of geozone: please report it") from error
        files = tuple(name for name in files_in(part) if belongs(name))
    return NewPaper(kept.answers.title, kept.answers.year, files, remarks)


def _finished(job: Job, out: Path, belongs: Callable[[str], bool], run_again: str) -> tuple[KeptRun, dict]:
    """What the run of this very job kept in its folder, and the folder's summary."""
    summary = earlier_summary(out)
    next_step = f"make the run: {run_again}"
    if not summary or not all(isinstance(name, str) for name in summary["files"]) or not isinstance(summary.get(SUMS_KEY), dict):
        raise InputError("there is no finished run in this folder", where=str(out), rule="the paper is made of what a run kept in its output folder",
                         next_step=f"{next_step}, or name the folder of the run with -o")
    path = out / KEPT
    if KEPT not in summary[SUMS_KEY]:
        raise InputError("the run kept nothing for its paper", where=str(out), rule=f"a run that is too large leaves {KEPT} out, and its paper is only made "
                         "with all the rest", next_step=f"make the whole run; its paper is then new as well: {run_again}")
    if not path.is_file():
        raise InputError("what the run kept for its paper is gone", where=str(path), rule=f"a finished run with its {KEPT}", next_step=next_step)
    if sum_of(path) != summary[SUMS_KEY][KEPT]:
        raise InputError("what the run kept for the paper was changed since", where=str(path), rule="a file as geozone wrote it", next_step=next_step)
    if check_renewable(out.resolve(), belongs) != summary:
        raise InputError("the folder was changed while it was read", where=str(out), rule="one run, as it was written", next_step="make the paper again")
    kept = kept_run(path, next_step)
    versions = kept.answers.versions
    for name, mine in (("geozone", __version__), ("tz database", clock.tz_version())):
        if versions.get(name) != mine:
            raise InputError(f"the run was made by another version: {name}", where=str(out), value=versions.get(name, "none"),
                             rule=f"this is {mine}; one folder is of one version", next_step=next_step)
    _check_job(job, kept, next_step)
    return kept, summary


def _asked(job: Job) -> dict[str, Any]:
    """The job's keys with plain values, without those that only the paper reads."""
    whole = job.model_dump(mode="json", include=set(JobFile.model_fields))
    found: dict[str, Any] = {}
    for section, keys in whole.items():
        if section in (*_PAPER_SECTIONS, *_OTHERS_SECTIONS):
            continue
        if not isinstance(keys, dict):
            found[section] = keys
            continue
        found |= {f"{section}.{name}": value for name, value in keys.items() if not (section == "keypad" and name.startswith(_PAPER_KEYS))}
    return found


def _check_job(job: Job, kept: KeptRun, next_step: str) -> None:
    """Refuse a job that asks for another run than the kept one."""
    now = json.loads(json.dumps(_asked(job)))
    changed = [name for name in sorted({*now, *kept.job}) if now.get(name) != kept.job.get(name)]
    if not changed:
        return
    first = changed[0]
    more = f" and {len(changed) - 3} more" if len(changed) > 3 else ""
    known = f"{first} = {_shown(now.get(first))}, the run had {_shown(kept.job.get(first))}" if _is_short(now.get(first), kept.job.get(first)) else first
    title = " ([sheet] title changes it on the sheet alone)" if first == "job.title" else ""
    raise InputError("the job has changed since its run", where=line_of(job.path, *first.split(".")) or job.called,
                     value="; ".join([known, *changed[1:3]]) + more,
                     rule="only [sheet], [cards], [audit] and the display_ keys of [keypad] can be changed without a run: all others change the map and the "
                          f"tables as well{title}",
                     next_step=f"{next_step}; or put it back as it was")


def _is_short(*values) -> bool:
    return all(not isinstance(value, (dict, list)) and len(str(value)) <= 60 for value in values)


def _shown(value) -> str:
    return "left out" if value is None else json.dumps(value, ensure_ascii=False)


def _check_sources(job: Job, kept: KeptRun, run_again: str) -> tuple[str, ...]:
    """Refuse a changed site list or changed outlines; one that is gone is remarked upon, for the paper does not need it."""
    remarks = []
    for name in SOURCES:
        file = job.file_of(name)
        if not file or name in job.frames:
            continue
        try:
            same = _source_sum(job, name) == kept.sources.get(name)
        except OSError:
            remarks.append(f"{file} cannot be read any more; the paper shows it as the run read it")
            continue
        if not same:
            raise InputError("the file has changed since the run", where=str(job.source(name)), rule="the paper would show it as the run read it",
                             next_step=f"make the run again: {run_again}; or put the earlier file back")
    return tuple(remarks)
