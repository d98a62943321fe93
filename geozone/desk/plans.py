"""The folder of plans: each plan a folder with job.toml, its files and `out`, the same as for the commands."""

from __future__ import annotations

import datetime as dt
import os
import re
import secrets
import shutil
import time
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from ..errors import InputError, OutputError
from ..files.folder import SUMMARY_NAME, earlier_summary, is_device
from ..files.leftovers import sweep
from ..jobs.examples import examples_folder, write_example
from ..plurals import counted
from .savedjob import read_saved

JOB, OUT = "job.toml", "out"
#: Where plans lie that were thrown away; a name with a point is no plan's.
BIN = ".bin"
_LONGEST_NAME = 60
_THROWN = re.compile(r"(?P<name>.+)~(?P<when>\d{8}-\d{6})-[0-9a-f]{4}")
# No file takes so long to be written [s].
_ABANDONED_S = 3600


@dataclass(frozen=True)
class Plan:
    """A plan as the list of plans shows it.

    Attributes
    ----------
    name : str
        Of its folder.
    folder : Path
    title : str
        As the job says; "" where it cannot be read.
    year : int or None
    sites : int or None
        Used in the last run.
    headline : str
        Of the last run, "" without one.
    answered : datetime or None
        When the answers were written.
    behind : bool
        Whether job.toml or a file beside it was written after the answers.
    """

    name: str
    folder: Path
    title: str = ""
    year: int | None = None
    sites: int | None = None
    headline: str = ""
    answered: dt.datetime | None = None
    behind: bool = False

    @property
    def job(self) -> Path:
        return self.folder / JOB

    @property
    def out(self) -> Path:
        return self.folder / OUT


@dataclass(frozen=True)
class Thrown:
    """A plan in the bin: the name of its folder there, its own, and when it was thrown away."""

    folder_name: str
    name: str
    when: dt.datetime


class Plans:
    """All plans of one folder.

    Parameters
    ----------
    root : path-like
        Made if it is missing.

    Raises
    ------
    InputError, OutputError
        If it is no folder for plans.
    """

    def __init__(self, root: str | Path, read_only: bool = False):
        self.root = Path(root).resolve()
        if (self.root / JOB).is_file():
            raise InputError("this folder is a plan, not a folder of plans", where=str(root), value=JOB,
                             rule="the desk works on a folder that holds plans", next_step=f"name the folder above it: {self.root.parent}")
        if self.root.exists() and not self.root.is_dir():
            raise InputError("this is a file, not a folder of plans", where=str(root), next_step="name a folder; a missing one is made")
        if read_only and not self.root.is_dir():
            raise InputError("there is no such folder", where=str(root), next_step="name a folder of plans, or leave --read-only out to begin one")
        self.fresh = not self.root.exists() or not any(self.root.iterdir())
        if not read_only:
            try:
                self.root.mkdir(parents=True, exist_ok=True)
            except OSError as why:
                raise OutputError("the folder of plans cannot be made", where=str(root), value=why.strerror, next_step="name another folder") from why

    def names(self) -> list[str]:
        """Folders with a job file, in the order of their names; links are none."""
        with os.scandir(self.root) as found:
            names = [one.name for one in found if not one.name.startswith(".") and one.is_dir(follow_symlinks=False)]
        return sorted((name for name in names if _plain_file(self.root / name / JOB)), key=lambda name: (name.casefold(), name))

    def all(self) -> list[Plan]:
        return [self._seen(name) for name in self.names()]

    def find(self, name: str) -> Plan | None:
        """A plan by its name; None where there is none, whatever the name is: it is looked up in the list and never made a path."""
        return self._seen(name) if name in self.names() else None

    def put_in_order(self) -> None:
        """Take away what runs and desks left that were killed; an old result that a kill caught half-way comes back.

        Parts of files are left alone for an hour: another desk may be writing them.
        """
        for name in self.names():
            sweep(self.root / name)
            for left in [*(self.root / name).glob(".drop-*.part"), *(self.root / name).glob(f".{JOB}.*.part")]:
                if _old(left):
                    left.unlink(missing_ok=True)
        for left in self.root.glob(".new-*"):
            if _old(left):
                shutil.rmtree(left, ignore_errors=True)

    def new(self, name: str, kind: str) -> str:
        """A new plan: "empty" to fill by what is dropped on it, "example" (three hamlets), "demo" (620 sites). Its name."""
        name = self._free(name)
        folder = self.root / name
        if kind in ("example", "demo"):
            write_example({"example": "template"}.get(kind, kind), folder)
            return name
        from .jobtext import empty_job

        text = empty_job((examples_folder() / "template" / JOB).read_text(encoding="utf-8"), name, dt.date.today().year + 1)
        self._whole(name, lambda part: (part / JOB).write_text(text, encoding="utf-8", newline=""))
        return name

    def copy(self, old: str, name: str) -> str:
        """A copy of a plan and its files, without the answers."""
        plan, name = self._there(old), self._free(name)
        self._whole(name, lambda part: _copy_files(plan.folder, part))
        return name

    def rename(self, old: str, name: str) -> str:
        plan = self._there(old)
        if name.strip() == old:
            return old
        name = self._free(name, but=old)
        self._moved(plan.folder, self.root / name)
        return name

    def throw(self, name: str) -> str:
        """Put a plan into the bin, answers and all; the name that it has there."""
        plan = self._there(name)
        thrown = f"{name}~{dt.datetime.now():%Y%m%d-%H%M%S}-{secrets.token_hex(2)}"
        try:
            (self.root / BIN).mkdir(exist_ok=True)
        except OSError as why:
            raise OutputError("there can be no bin", where=str(self.root / BIN), value=why.strerror, next_step="move the plan's folder away by hand") from why
        self._moved(plan.folder, self.root / BIN / thrown)
        return thrown

    def thrown(self) -> list[Thrown]:
        """The bin, the latest first."""
        folder = self.root / BIN
        if folder.is_symlink() or not folder.is_dir():
            return []
        found = [(one.name, _THROWN.fullmatch(one.name)) for one in os.scandir(folder) if one.is_dir(follow_symlinks=False)]
        seen = [Thrown(name, match["name"], dt.datetime.strptime(match["when"], "%Y%m%d-%H%M%S")) for name, match in found if match]
        return sorted(seen, key=lambda one: (one.when, one.folder_name), reverse=True)

    def restore(self, folder_name: str) -> str:
        """Take a plan back out of the bin, under its old name or, where that is taken, with a number behind it."""
        one = next((one for one in self.thrown() if one.folder_name == folder_name), None)
        if one is None:
            raise InputError("there is no such plan in the bin", value=folder_name, next_step="look at the list of plans again")
        taken = {path.name.casefold() for path in self.root.iterdir()}
        name = next(name for name in (one.name, *(f"{one.name} {number}" for number in range(2, 1000))) if name.casefold() not in taken)
        self._moved(self.root / BIN / folder_name, self.root / name)
        return name

    def _there(self, name: str) -> Plan:
        plan = self.find(name)
        if plan is None:
            raise InputError("there is no such plan", value=name, next_step="look at the list of plans again: it may have been renamed or thrown away")
        return plan

    def _free(self, name: str, but: str = "") -> str:
        name = usable_name(name)
        taken = {path.name.casefold() for path in self.root.iterdir() if path.name != but}
        if name.casefold() in taken:
            raise InputError("the name is taken", value=name, rule="each plan has a name of its own", next_step="give it another name")
        return name

    def _whole(self, name: str, fill) -> None:
        """Make a folder whole or not at all."""
        part = self.root / f".new-{secrets.token_hex(4)}"
        try:
            part.mkdir()
            fill(part)
            os.rename(part, self.root / name)
        except OSError as why:
            shutil.rmtree(part, ignore_errors=True)
            raise OutputError("the plan cannot be written", where=name, value=why.strerror or str(why), rule="nothing was left half-written",
                              next_step="look for free space and who may write there") from why

    @staticmethod
    def _moved(old: Path, new: Path) -> None:
        try:
            os.rename(old, new)
        except OSError as why:
            raise OutputError("the plan's folder cannot be moved", where=old.name, value=why.strerror or str(why),
                              next_step="close programs that have its files open, and try again") from why

    def _seen(self, name: str) -> Plan:
        folder = self.root / name
        title, year = _title_and_year(folder / JOB)
        summary = _summary(folder / OUT)
        if not summary:
            return Plan(name, folder, title, year)
        at = (folder / OUT / "summary.json").stat().st_mtime
        newest = max((path.stat().st_mtime for path in folder.iterdir() if not path.name.startswith(".") and path.is_file()), default=0.0)
        return Plan(name, folder, title, year, summary.get("sites", {}).get("used"), headline(summary), dt.datetime.fromtimestamp(at), newest > at)


def usable_name(name: str) -> str:
    """The name of a new plan, which every system can have as a folder.

    Raises
    ------
    InputError

    Examples
    --------
    >>> usable_name(" North  bank 2027 ")
    'North bank 2027'
    """
    name = " ".join(unicodedata.normalize("NFC", name).split())
    letters = all(c.isalnum() or c in " -_.,()+&'" or unicodedata.category(c) in ("Mn", "Mc") for c in name)
    if not name or not letters or len(name.encode()) > 3 * _LONGEST_NAME or len(name) > _LONGEST_NAME or name[0] in "." or name[-1] in ". ":
        raise InputError("this can be no plan's name", value=name[:80], rule=f"1 to {_LONGEST_NAME} letters, digits, blanks and - _ . , ( ) + & '; "
                         "no point at the beginning or end", next_step="for example North bank 2027")
    if is_device(name):
        raise InputError("this can be no plan's name", value=name, rule="Windows keeps this name for a device", next_step="put a word before it")
    return name


def headline(summary: dict) -> str:
    """The answer of a finished run in one sentence, from its summary."""
    groups, drift, sites = summary.get("groups") or {}, summary.get("drift") or {}, summary.get("sites") or {}
    if "sites_within" not in drift:
        return ""
    used = int(sites.get("used", 0))
    other = f", {drift['sites_other_clock']:,} on another clock" if drift.get("sites_other_clock") else ""
    one = f"One setting: {drift['sites_within']:,} within, {drift['sites_beyond']:,} beyond{other}."
    if not groups.get("count"):
        return one
    whom = "some sites are served by none" if groups.get("unserved") else f"for all {counted(used, 'site')}"
    least = "" if groups["count"] == 1 else "; fewer will not do under this job's conditions" if groups.get("proved") else (
        f"; at least {groups['lower_bound']:,} are needed under this job's conditions")
    return f"{counted(groups['count'], 'setting')}: {whom}{least}. {one}"


def _summary(out: Path) -> dict:
    return {} if out.is_symlink() or not _plain_file(out / SUMMARY_NAME) else earlier_summary(out)


def summary_of(plan: Plan) -> dict:
    """The summary of a plan's last run; empty without one."""
    return _summary(plan.out)


def _title_and_year(job: Path) -> tuple[str, int | None]:
    found = (read_saved(job).data or {}).get("job", {})
    title, year = (found.get("title"), found.get("year")) if isinstance(found, dict) else ("", None)
    return title if isinstance(title, str) else "", year if type(year) is int else None


def _copy_files(source: Path, target: Path) -> None:
    for path in source.iterdir():
        if not path.name.startswith(".") and _plain_file(path):
            shutil.copyfile(path, target / path.name)


def _old(path: Path) -> bool:
    try:
        return time.time() - path.stat().st_mtime > _ABANDONED_S
    except OSError:
        return False


def _plain_file(path: Path) -> bool:
    return path.is_file() and not path.is_symlink()
