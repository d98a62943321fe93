"""The job file: one TOML file beside its data, checked before anything is computed."""

from __future__ import annotations

import difflib
import re
import tomllib
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from ..errors import InputError
from ..invocation import command
from ..places import limits
from ..trade.keypad import FINEST_STEP_DEG
from .jobplaces import Places

# Fields of a job that no file sets.
_OURS = ("path", "switching")

_MOST_BRACKETS = 200

_Minutes = Annotated[float, Field(gt=0, le=720, allow_inf_nan=False)]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)


class JobSection(_Section):
    """[job]: what the plan is for, and the files it reads, relative to the job file."""

    title: str = Field(min_length=1)
    year: int = Field(strict=True, ge=1972, le=2098)
    sites: str = Field(min_length=1)
    areas: str | None = None
    area_names: str | None = None
    areas_without_sites: bool = Field(False, strict=True)
    backdrop: str | None = None
    crs: str | None = None


class ColumnsSection(_Section):
    """[columns]: which column of the site list holds what; what is left out is guessed and the guess is printed."""

    site_id: str | None = None
    name: str | None = None
    lat: str | None = None
    lon: str | None = None
    position: str | None = None
    legal_zone: str | None = None
    load_w: str | None = None


class ReadingSection(_Section):
    """[reading]: how the site list is written, where geozone should not find it out."""

    encoding: str | None = None
    separator: str | None = None
    decimal: Literal[".", ","] | None = None
    layer: str | None = None


class DarkSection(_Section):
    """[dark]: the dark threshold, one of three."""

    altitude_deg: float | None = Field(None, ge=-30, le=20, allow_inf_nan=False)
    twilight: Literal["sunset", "civil", "nautical"] | None = None
    illuminance_lx: float | None = Field(None, gt=0, allow_inf_nan=False)

    @model_validator(mode="after")
    def _one_of_three(self):
        given = [name for name in ("altitude_deg", "twilight", "illuminance_lx") if getattr(self, name) is not None]
        if len(given) != 1:
            raise ValueError(f"give exactly one of altitude_deg, twilight, illuminance_lx (found: {', '.join(given) or 'none'})")
        return self


class ToleranceSection(_Section):
    """[tolerance]: the largest dark and the largest excess minutes at any one switching, and which nights are judged."""

    dark_min: _Minutes = 5.0
    excess_min: _Minutes = 10.0
    shallow_deg: float = Field(0.0, ge=0, le=5, allow_inf_nan=False)


class KeypadSection(_Section):
    """[keypad]: what the time switches can hold."""

    coordinate_step_deg: float = Field(0.1, ge=FINEST_STEP_DEG, le=5, allow_inf_nan=False)
    offset_limit_min: int = Field(99, strict=True, ge=0, le=720)
    event_limit: int | None = Field(None, strict=True, ge=1, le=10_000)
    display_offsets: Literal["included", "left out", "unknown"] = "unknown"
    display_dawn: Literal["morning", "coming", "unknown"] = "unknown"
    display_error_min: float = Field(1.0, ge=0, le=30, allow_inf_nan=False)
    display_hours: Literal[12, 24] = 24
    # Checked by read_switching, which knows what a clock is.
    utc_offsets: list[Any] | None = None
    daylight_saving: list[Any] | None = None
    saving_rule: list[Any] = []


class SharedSection(_Section):
    """[shared]: the one setting under test; without a position geozone finds the best one."""

    lat_deg: float | None = Field(None, ge=-90, le=90, allow_inf_nan=False)
    lon_deg: float | None = Field(None, ge=-180, le=180, allow_inf_nan=False)
    legal_zone: str | None = None
    dusk_offset_min: int = Field(0, strict=True)
    dawn_offset_min: int = Field(0, strict=True)
    clock: Literal["own", "master"] = "own"

    @model_validator(mode="after")
    def _whole_setting(self):
        given = {name: getattr(self, name) is not None for name in ("lat_deg", "lon_deg", "legal_zone")}
        if any(given.values()) and not all(given.values()):
            missing = ", ".join(name for name, there in given.items() if not there)
            raise ValueError(f"a setting needs lat_deg, lon_deg and legal_zone; {missing} is missing")
        if not any(given.values()) and (self.dusk_offset_min or self.dawn_offset_min):
            raise ValueError("offsets belong to a position: give lat_deg, lon_deg and legal_zone too")
        return self

    @property
    def given(self) -> bool:
        """True if the job names the setting, False if geozone is to find it."""
        return self.lat_deg is not None


class GroupsSection(_Section):
    """[groups]: the fewest settings that serve every site, and what they are held against."""

    offsets: bool = Field(True, strict=True)
    keep_together: str | None = Field(None, min_length=1)
    existing: str | None = Field(None, min_length=1)
    within: str | None = Field(None, min_length=1)
    curve_to: int = Field(6, strict=True, ge=0, le=30)
    time_limit_s: float = Field(60, gt=0, le=86_400, allow_inf_nan=False)


class RevisionRow(_Section):
    """[[sheet.revisions]]: a row of the sheet's revision table."""

    index: str = Field(min_length=1)
    what: str = ""
    date: str = ""
    by: str = ""


class SheetSection(_Section):
    """[sheet]: size and title block of sheet.pdf."""

    size: Literal["A4", "A3", "A2", "A1"] = "A3"
    orientation: Literal["landscape", "portrait"] = "landscape"
    scale: int | None = Field(None, strict=True, ge=100, le=100_000_000)
    crs: str | None = None
    language: str = "en"
    per: Literal["area"] | None = None
    title: str = ""
    supplement: str = ""
    owner: str = ""
    department: str = ""
    reference: str = ""
    document_type: str = ""
    status: str = ""
    number: str = ""
    revision: str = ""
    creator: str = ""
    approver: str = ""
    date: str = ""
    revisions: list[RevisionRow] = []


class CardsSection(_Section):
    """[cards]: the cards for the crew."""

    size: Literal["A4", "A6"] = "A4"
    language: str = "en"
    first_day: str = ""


class Job(_Section):
    """A checked job file.

    `folder` is where the file lies; its data files are named relative to it. `switching` is a `SwitchingJob`, or None for a
    job without programmes.
    """

    job: JobSection
    dark: DarkSection
    columns: ColumnsSection = ColumnsSection()
    reading: ReadingSection = ReadingSection()
    tolerance: ToleranceSection = ToleranceSection()
    keypad: KeypadSection = KeypadSection()
    shared: SharedSection = SharedSection()
    groups: GroupsSection | None = None
    sheet: SheetSection = SheetSection()
    cards: CardsSection = CardsSection()
    # The raw sections are checked by read_switching, whose messages name the line of each event.
    programme: Any = None
    programmes: Any = None
    holidays: Any = None
    tariff: Any = None
    timetable: Any = None
    path: Path = Field(exclude=True)
    switching: Any = Field(None, exclude=True)

    @property
    def folder(self) -> Path:
        return self.path.parent

    def beside(self, name: str) -> Path:
        """The path of a data file that the job names."""
        return self.folder / name


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
    if path.is_file() and path.suffix.lower() in (".csv", ".txt", ".xlsx", ".xls", ".geojson", ".gpkg", ".shp", ".zip"):
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
        raise InputError("the job file cannot be read", where=str(path), value=error.strerror) from None
    _refuse_depth(text, path)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        where, next_step = _toml_place(text, str(error))
        raise InputError("the job file cannot be read", where=f"{path}{where}", value=str(error),
                         rule='key = value, texts in "double quotes", sections in [brackets]',
                         next_step=next_step) from None
    except (ValueError, OverflowError, RecursionError) as error:  # numbers of thousands of digits, dates that are none
        raise InputError("the job file cannot be read", where=str(path), value=str(error) or type(error).__name__,
                         next_step="look for a number or a date that is far too long") from None
    from .switchingjob import read_switching  # loads the compiled part: not for --help

    for name in set(data) & set(_OURS):
        raise InputError(f"unknown key {name}", where=f"{path}{_line_of(text, [name])}", rule=_known_at([]),
                         next_step="take it out")
    try:
        job = Job(**{**data, "path": path.resolve()})
    except ValidationError as error:
        raise _as_input_error(error, path, text) from None
    except RecursionError:
        raise InputError("the job file is nested deeper than any job", where=str(path),
                         next_step="`geozone new DIR` writes a commented example") from None
    switching = read_switching(data, Places(str(path.resolve()), text), offset_limit_min=job.keypad.offset_limit_min,
                               event_limit=job.keypad.event_limit)
    return job.model_copy(update={"switching": switching})


def _refuse_name(path: Path) -> None:
    """A name that no file can have is said as such, before something else stumbles over it."""
    try:
        path.lstat()
    except FileNotFoundError:
        pass
    except (OSError, ValueError) as error:
        raise InputError("there can be no such job file", where=str(path)[:200],
                         value=getattr(error, "strerror", None) or str(error), next_step="check the name") from None


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


def _as_input_error(error: ValidationError, path: Path, text: str) -> InputError:
    found = error.errors()
    # An unknown key often is the reason why a known one is missing: say it first.
    first = sorted(found, key=lambda item: item["type"] != "extra_forbidden")[0]
    keys = [str(part) for part in first["loc"]]
    dotted = ".".join(keys)
    more = f" ({len(found) - 1} more after this one)" if len(found) > 1 else ""
    where = f"{path}{_line_of(text, keys)}"
    if first["type"] == "extra_forbidden":
        return InputError(f"unknown key {dotted}{more}", where=where, rule=_known_at(keys[:-1]),
                          next_step=_nearest(keys))
    if first["type"] == "missing":
        return InputError(f"{dotted} is missing{more}", where=str(path),
                          next_step=f"add it to [{keys[0]}]" if len(keys) > 1 else f"add a section [{keys[0]}]")
    value = first.get("input")
    message = first["msg"].removeprefix("Value error, ").removeprefix("Input should be ")
    return InputError(f"{dotted} cannot be used{more}", where=where,
                      value=None if isinstance(value, dict) else value, rule=message)


def _sections() -> dict[str, list[str]]:
    kinds = {name: (get_args(field.annotation) or (field.annotation,))[0] for name, field in Job.model_fields.items()
             if name not in _OURS}
    return {name: list(getattr(kind, "model_fields", ())) for name, kind in kinds.items()}


def _known_at(keys: list[str]) -> str:
    known = _sections().get(keys[0], []) if keys else list(_sections())
    return f"known here: {', '.join(known)}"


def _nearest(keys: list[str]) -> str:
    name, sections = keys[-1], _sections()
    known = sections.get(keys[0], []) if len(keys) > 1 else list(sections)
    elsewhere = [section for section, names in sections.items() if name in names]
    if elsewhere:
        return f"{name} belongs in [{elsewhere[0]}]"
    near = difflib.get_close_matches(name, known, 1, 0.5)
    if near:
        return f"did you mean {near[0]}?"
    everywhere = {key: section for section, names in sections.items() for key in names}
    near = difflib.get_close_matches(name, everywhere, 1, 0.6)
    return f"did you mean {near[0]} in [{everywhere[near[0]]}]?" if near else "take it out"


def _line_of(text: str, keys: list[str]) -> str:
    """", line 7" of a key or section, or "" if it cannot be told."""
    section = ""
    for number, line in enumerate(text.splitlines(), 1):
        head = re.match(r"\s*\[+\s*([^\]]+?)\s*\]+", line)
        if head:
            section = head.group(1)
            if keys == [section]:
                return f", line {number}"
        elif len(keys) > 1 and section == keys[0] and re.match(rf"\s*[\"']?{re.escape(keys[-1])}[\"']?\s*=", line):
            return f", line {number}"
        elif len(keys) == 1 and not section and re.match(rf"\s*{re.escape(keys[0])}\s*=", line):
            return f", line {number}"
    return ""
