"""The job file: one TOML file beside its data, checked before anything is computed; or a job made in memory."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import Any

from pydantic import Field, model_validator

from ..errors import InputError
from ..invocation import command
from ..places import limits
from ..places.endings import ENDINGS, OLD_ENDINGS
from ..trade.basis import Basis, DarkThreshold
from ..trade.setting import Tolerance
from .jobmessages import checked, faults
from .jobplaces import Places
from .keys import Refusal
from .programme_models import SwitchingSections
from .programme_sections import keypad_of
from .sections import PaperSections, SiteSections
from .switchingjob import switching_of

#: Files that a job may read, as `Job.source` calls them.
SOURCES = ("sites", "areas", "backdrop", "along")
# What messages call a job that was made in memory.
IN_MEMORY = "Job.of"
_MOST_BRACKETS = 200


# What has nothing to hold on to where outlines have stand-in points and no sites.
_OF_A_LIST = {"columns": "names columns of a site list", "reading": "says how a site list is written", "cards": "are for the crew of a list's sites",
              "groups": "finds the fewest settings for the sites of a list; [zones] does it for outlines",
              "programme": "is counted in hours of a list's sites", "audit": "names readings at a list's sites"}


class JobFile(PaperSections, SwitchingSections, SiteSections):
    """Everything that a job file may hold."""

    @model_validator(mode="after")
    def _with_a_list(self):
        for name, why in _OF_A_LIST.items() if self.job.sites is None else ():
            # Left out, such a section is none, empty, or as it is where nothing is said.
            if getattr(self, name) not in (None, (), [], type(self).model_fields[name].default):
                raise Refusal(f"[{name}] needs a site list", at=(name,), rule=f"[{name}] {why}", next_step=f"add sites to [job], or take [{name}] out")
        if self.job.sites is None and self.job.crs is not None:
            raise Refusal("job.crs needs a site list", at=("job", "crs"), rule="it is the coordinate system of a list's positions; outlines carry their own",
                          next_step="take crs out, or add sites to [job]")
        if self.job.sites is None and self.writing.csv == "as the list":
            raise Refusal("there is no list to write like", at=("writing", "csv"), rule="a site list in [job]",
                          next_step='csv = "plain", with separator and decimal as wanted')
        return self


class Job(JobFile):
    """A checked job.

    `folder` is where the file lies; its data files are named relative to it. `switching` is a `SwitchingJob`, or None for a
    job without programmes. `frames` holds what is not in a file: "sites", "areas", "backdrop".
    """

    path: Path | None = Field(None, exclude=True)
    switching: Any = Field(None, exclude=True)
    frames: dict[str, Any] = Field({}, exclude=True)

    @classmethod
    def of(cls, sites=None, areas=None, *, year: int, dark: dict, title: str = "Sites", backdrop=None, area_names: str | None = None,
           areas_without_sites: bool = False, crs: str | None = None, **sections) -> Job:
        """A job without a job file, for a notebook: `run` writes the same folder of tables, map and GeoPackage.

        Parameters
        ----------
        sites, areas, backdrop : GeoDataFrame or path-like
            Sites are points in any coordinate system, areas are outlines. A path is read as a job file's would be, from
            where Python runs. Without sites a point inside each outline stands in.
        year : int
        dark : dict
            The dark threshold, one of `{"altitude_deg": -4.0}`, `{"twilight": "civil"}`, `{"illuminance_lx": 20}`.
        title, area_names, areas_without_sites, crs
            As in [job].
        **sections : dict
            The other sections of a job file: `tolerance={"dark_min": 5}`, `groups={}`, `shared={...}`, `programme=[...]`.

        Raises
        ------
        InputError
            As for a job file; "Job.of" stands for the file.

        Examples
        --------
        >>> import geopandas
        >>> sites = geopandas.GeoDataFrame({"name": ["A", "B"]}, geometry=geopandas.points_from_xy([141.0, 141.2], [-35.0, -35.1]), crs=4326)
        >>> job = Job.of(sites, year=2027, dark={"altitude_deg": -4.0}, tolerance={"dark_min": 3})
        >>> job.tolerance.dark_min, job.tolerance.excess_min
        (3.0, 10.0)
        >>> Job.of(sites, year=2027, dark={"altitude_deg": -4.0}, tolerance={"dark_mins": 3})
        Traceback (most recent call last):
            ...
        geozone.errors.InputError: Job.of: unknown key tolerance.dark_mins
          Rule: known here: dark_min, excess_min, shallow_deg
          Next: did you mean dark_min?
        """
        given = {"sites": sites, "areas": areas, "backdrop": backdrop}
        frames = {name: _frame(one, name) for name, one in given.items() if one is not None and not isinstance(one, (str, Path))}
        files = {name: f"the {name} in memory" if name in frames else str(one) for name, one in given.items() if one is not None}
        named = {"title": title, "year": year, "areas_without_sites": areas_without_sites, **files}
        named.update({name: one for name, one in {"area_names": area_names, "crs": crs}.items() if one is not None})
        places = Places(IN_MEMORY)
        return _whole(checked(JobFile, {**sections, "job": named, "dark": dark}, places), places, frames=frames)

    @cached_property
    def basis(self) -> Basis:
        """What every answer of the job rests on."""
        return Basis(self.job.year, DarkThreshold.of(**dict((self.dark.given,))), Tolerance(**self.tolerance.model_dump()),
                     keypad_of(self.keypad), self.shared.clock)

    @property
    def lasting_basis(self) -> Basis:
        """The same for what is to hold for several years: groups and zones."""
        return replace(self.basis, years=self.job.years)

    @property
    def folder(self) -> Path:
        return Path.cwd() if self.path is None else self.path.parent

    @property
    def called(self) -> str:
        """What messages call the job: its file."""
        return IN_MEMORY if self.path is None else str(self.path)

    def beside(self, name: str) -> Path:
        """The path of a data file that the job names."""
        return self.folder / name

    def file_of(self, name: str) -> str | None:
        """The file that the job names for one of `SOURCES`; None where there is none."""
        return (self.zones.along if self.zones else None) if name == "along" else getattr(self.job, name)

    def source(self, name: str):
        """One of `SOURCES` to read from: a table in memory or a path; None where there is none."""
        file = self.file_of(name)
        return self.frames[name] if name in self.frames else self.beside(file) if file else None


def read_job(path) -> Job:
    """Read and check a job file.

    Parameters
    ----------
    path : path-like

    Returns
    -------
    Job

    Raises
    ------
    InputError
        If the file is missing, is not TOML, holds an unknown key or a value that cannot be used.
    """
    path = Path(path)
    _refuse_name(path)
    if path.is_dir():
        inside = sorted(path.glob("*.toml"))
        raise InputError("this is a folder, not a job file", where=str(path),
                         next_step=f"name the job file in it: {inside[0]}" if inside else f"make one with: {command('new', 'DIR')}")
    if path.is_file() and path.suffix.lower() in (*ENDINGS, *OLD_ENDINGS):
        raise InputError("this is a list, not a job file", where=str(path),
                         next_step='name the job file; the list goes into it as sites = "..."')
    try:
        if path.exists():
            limits.check_size(path, limits.MOST_JOB_BYTES, "name the job file; lists go into files of their own beside it")
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        near = sorted(p.name for p in path.parent.glob("*.toml")) if path.parent.is_dir() else []
        raise InputError("there is no such job file", where=str(path),
                         next_step=f"found there: {', '.join(near[:5])}" if near else f"make one with: {command('new', 'DIR')}") from None
    except UnicodeDecodeError:
        raise InputError("the job file is not UTF-8 text", where=str(path),
                         next_step="save it as plain text, encoding UTF-8") from None
    except OSError as error:
        raise InputError("the job file cannot be read", where=str(path), value=error.strerror,
                         next_step="close it in other programs and check who may read it") from None
    return job_of_text(text, path)


def job_of_text(text: str, path: Path) -> Job:
    """The text of a job file as a job, whatever its file holds now.

    Raises
    ------
    InputError
        As `read_job`.
    """
    data = parsed(text, path)
    try:
        places = Places(str(path.resolve()), text)
        return _whole(checked(JobFile, data, places), places, path=path.resolve())
    except RecursionError:
        raise _too_deep(path) from None


def parsed(text: str, path: Path) -> dict[str, Any]:
    """The text of a job file as data, its keys not looked at yet.

    Raises
    ------
    InputError
        If it is not TOML, or nothing that a plan can hold.
    """
    _refuse_depth(text, path)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        where, next_step = _toml_place(text, str(error))
        raise InputError("the job file cannot be read", where=f"{path}{where}", value=str(error),
                         rule='key = value, texts in "double quotes", sections in [brackets]',
                         next_step=next_step) from None
    except (ValueError, OverflowError, RecursionError) as error:  # numbers of thousands of digits, dates that are none
        raise InputError("the job file cannot be read", where=str(path), value=str(error) or type(error).__name__,
                         rule="numbers and dates that a plan can hold",
                         next_step="look for a number or a date that is far too long") from None


def all_faults(text: str, path: Path) -> list[tuple[tuple, InputError]]:
    """Everything that `read_job` would refuse in the text of a job file, whatever its file holds now.

    Returns
    -------
    list of (tuple, InputError)
        The key, from the top of the file, and what is said of it; () where it is not about one key.
    """
    try:
        data = parsed(text, path)
        places = Places(str(path), text)
        found = faults(JobFile, data, places)
        if not found:
            _whole(checked(JobFile, data, places), places)
        return found
    except RecursionError:
        return [((), _too_deep(path))]
    except InputError as why:
        return [((), why)]


def _too_deep(path: Path) -> InputError:
    return InputError("the job file is nested deeper than any job", where=str(path), rule="sections, keys and lists",
                      next_step=f"take the inner brackets out; `{command('new', 'DIR')}` writes a commented example")


def _whole(checked_file: JobFile, places: Places, **more) -> Job:
    """A job of checked sections, its programmes turned into records."""
    sections = {name: getattr(checked_file, name) for name in JobFile.model_fields}
    return Job(**sections, switching=switching_of(checked_file, keypad_of(checked_file.keypad), places), **more)


def _refuse_name(path: Path) -> None:
    """A name that no file can have is said as such, before something else stumbles over it."""
    try:
        path.lstat()
    except FileNotFoundError:
        pass
    except (OSError, ValueError) as error:
        raise InputError("there can be no such job file", where=str(path)[:200],
                         value=getattr(error, "strerror", None) or str(error), rule="a name that a file can have",
                         next_step="check the name") from None


def _refuse_depth(text: str, path: Path) -> None:
    """Brackets in brackets and dots in names: more of them than any job has would take the reader's memory."""
    for number, line in enumerate(text.splitlines(), 1):
        if line.lstrip().startswith("#") or "=" not in line and not line.lstrip().startswith("["):
            continue
        if line.count("[") + line.count("{") > _MOST_BRACKETS or line.partition("=")[0].count(".") > _MOST_BRACKETS:
            raise InputError("the job file is nested deeper than any job", where=f"{path}, line {number}",
                             rule=f"at most {_MOST_BRACKETS} brackets or dots in a line",
                             next_step=f"mend that line; `{command('new', 'DIR')}` writes a commented example")


def _toml_place(text: str, message: str) -> tuple[str, str]:
    """Where a TOML file cannot be read, and what is likely wrong there."""
    usual = f"mend that line; `{command('new', 'DIR')}` writes a commented example"
    found = re.search(r"line (\d+)", message)
    lines = text.splitlines()
    if not found or int(found[1]) > len(lines):
        return "", usual
    line = lines[int(found[1]) - 1]
    value = line.partition("=")[2].split("#")[0].strip()
    if re.fullmatch(r"[-+]?\d+,\d+", value):
        usual = f"write a decimal point: {value.replace(',', '.')}"
    elif value and value[0].isalpha() and value not in ("true", "false"):
        usual = f'put the text in double quotes: "{value}"'
    return f", line {found[1]}", usual


def _frame(given, name: str):
    import geopandas

    if isinstance(given, geopandas.GeoDataFrame):
        # A named index is a column to whoever made it, such as the numbers of the switches.
        return given.reset_index() if given.index.name is not None and given.index.name not in given.columns else given
    raise InputError(f"{name} cannot be used", where=IN_MEMORY, value=type(given).__name__, rule="a GeoDataFrame, or the path of a file",
                     next_step="geopandas.GeoDataFrame(table, geometry=geopandas.points_from_xy(lon, lat), crs=4326) makes one")
