"""Which files an audit reads: the as-found list of the command or of the job, and a log of on and off times."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from ..errors import InputError
from ..places.foundlists import FoundList, read_found
from ..places.loglists import LogList, looks_like_a_log, read_log
from ..places.tables import read_tables
from .job import Job


def found_list(job: Job) -> Path:
    """The as-found list that a job names in [audit].

    Raises
    ------
    InputError
        If it names none.
    """
    if job.audit.found is None:
        raise InputError("no as-found list is named", where=job.called, rule="the list behind the job file, or found in the job's section [audit]",
                         next_step='add the list to the command, or to the job file: [audit] found = "as_found.csv"')
    return job.beside(job.audit.found)


def audit_lists(as_found: Path | None, log: Path | None, say: Callable[[str], None]) -> tuple[FoundList | None, LogList | None]:
    """The as-found list and the log, whichever are given; a log in the place of an as-found list is one.

    Raises
    ------
    InputError
        If neither is given, both are logs, or a file cannot be read.
    """
    if as_found is None and log is None:
        raise InputError("nothing to audit is given", rule="an as-found list, or a log of on and off times with --log, or both",
                         next_step="for example geozone audit job.toml as_found.csv")
    listed = None
    if as_found is not None:
        say("reading the as-found list")
        tables = read_tables(as_found)
        if looks_like_a_log(tables):
            if log is not None:
                raise InputError("both files are logs", value=f"{as_found}, {log}", rule="one as-found list and one log",
                                 next_step="put the rows of both logs into one file")
            return None, read_log(as_found, tables)
        listed = read_found(as_found, tables)
    if log is None:
        return listed, None
    say("reading the log")
    return listed, read_log(log)
