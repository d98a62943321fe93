"""What the paper needs of a run's answers, kept in the run's folder: so that it can be made again without the run.

`Answers` holds much that the paper does not show. The tables here name every column that it does; a writer of the paper that
wants another column must name it here, and a test makes the paper of what was kept.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Literal, TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from ..answers import Answers
from ..errors import GeozoneError, InputError
from ..files.plainpack import FLAG, NUMBER, SHAPE, TEXT, WHOLE, DamagedError, Unpacked, packed
from ..grouping.cabinets import cabinet_names
from ..grouping.grouptables import GroupAnswers
from ..grouping.planrecords import Groups, GroupSetting, Unserved, Witnesses
from ..numbers.clock import OffsetSequence
from ..places.manners import Manner
from ..switching.programmeanswers import ProgrammeAnswers, YearOfLight
from ..trade.basis import Basis
from ..trade.programme import Programme
from ..trade.setting import Setting
from ..zoning.zonetables import ZoneAnswers

if TYPE_CHECKING:
    from collections.abc import Mapping

#: Of the file: another number, another meaning of what stands in it.
FORM = 4

_SITES = {"site_id": TEXT, "name": TEXT, "lat_deg": NUMBER, "lon_deg": NUMBER, "area": TEXT, "result": TEXT}
_TABLES = {
    "areas": {"area": TEXT, "geometry": SHAPE}, "area_pieces": {"legal_zone": TEXT, "clock_rule_text": TEXT},
    "zones": {"legal_zone": TEXT, "geometry": SHAPE}, "boundaries": {"zone_a": TEXT, "zone_b": TEXT, "same_clock": FLAG, "geometry": SHAPE},
    "drift_lines": {"kind": TEXT, "factor": NUMBER, "dusk": TEXT, "geometry": SHAPE}, "spread": {"night": TEXT, "dusk_spread_min": NUMBER},
    "clock_rules": {"text": TEXT, "legal_zones": TEXT},
}
_BACKDROP = {"geometry": SHAPE}
_GROUPS = {
    "settings": {"group": TEXT, "sites": WHOLE, "lat_deg": NUMBER, "lon_deg": NUMBER, "legal_zone": TEXT, "dusk_offset_min": WHOLE,
                 "dawn_offset_min": WHOLE, "worst_dark_min": NUMBER, "worst_excess_min": NUMBER},
    "hulls": {"group": TEXT, "geometry": SHAPE}, "curve": {"k": WHOLE, "worst_min": NUMBER},
}
_ZONING = {
    "lighting_zones": {"zone": TEXT, "areas": TEXT, "area_km2": NUMBER, "lat_deg": NUMBER, "lon_deg": NUMBER, "legal_zone": TEXT, "dusk_offset_min": WHOLE,
                       "dawn_offset_min": WHOLE, "worst_dark_min": NUMBER, "worst_excess_min": NUMBER, "certified": FLAG, "geometry": SHAPE},
    "unserved_areas": {"area": TEXT},
}
_PROGRAMMES = {
    "programme_sites": {"setting_label": TEXT, "programme": TEXT},
    "hours": {"level": TEXT, "programme": TEXT, "sites": WHOLE, "lit_h": NUMBER, "sites_with_load": WHOLE, "kwh": NUMBER, "cost": NUMBER},
    "clocks": {"year": WHOLE, "start_utc_min": NUMBER, "offset_min": NUMBER},
    "lit": {"year": WHOLE, "start": NUMBER, "end": NUMBER}, "dark": {"year": WHOLE, "start": NUMBER, "end": NUMBER},
}
# Text columns of the site table that only some runs have.
_GROUP, _PROGRAMME, _CABINET = "group", "programme", "cabinet"
# A run carries its programmes on some nights before and after the year; a month is more [minute].
_BESIDE_MIN = 30 * 1440


class _Plain(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class _Year(_Plain):
    programme: str
    group: str
    clock_text: str
    sites: int


class _KeptGroups(_Plain):
    count: int
    lower_bound: int
    proved: bool
    gap: int
    settings: tuple[GroupSetting, ...]
    witnesses: Witnesses
    unserved: tuple[Unserved, ...]
    keep_together: str
    existing_column: str
    within: str
    offsets: bool


class _KeptZones(_Plain):
    by: Literal["area", "free"]
    outlines: int = Field(ge=1)
    pieces: int = Field(ge=1)
    lower_bound: int = Field(ge=0)


class _KeptProgrammes(_Plain):
    programmes: tuple[Programme, ...]
    settings: dict[str, Setting]
    years: tuple[_Year, ...]
    currency: str


class _Document(_Plain):
    form: int  # looked at before all others: see `kept_run`
    job: dict[str, Any]
    sources: dict[str, str]
    title: str
    basis: Basis
    setting: Setting
    manner: Manner
    versions: dict[str, str]
    outlined: bool
    listed: bool
    rejects: int = Field(ge=0)
    backdrop: bool
    groups: _KeptGroups | None
    zoning: _KeptZones | None
    programmes: _KeptProgrammes | None


@dataclass(frozen=True, eq=False)
class KeptRun:
    """A run as far as its paper needs it.

    Attributes
    ----------
    answers : Answers
        Only what the paper shows: other tables are empty, other columns missing.
    job : dict of str to object
        What the run was asked for, as it was handed in: keys with plain values.
    sources : dict of str to str
        Sums of the files that the run read.
    """

    answers: Answers
    job: dict[str, Any]
    sources: dict[str, str]


def kept_bytes(answers: Answers, job: Mapping[str, Any], sources: Mapping[str, str]) -> bytes:
    """What the paper needs of the answers, as one file; the same bytes for the same answers.

    Parameters
    ----------
    answers : Answers
    job, sources : mapping
        Plain values, handed back by `kept_run`.

    Raises
    ------
    TooLargeError
        If there is more to keep than would be read again.
    """
    groups, programmes, zoning = answers.groups, answers.programmes, answers.zoning
    rules = answers.clock_rules.assign(legal_zones=[" ".join(zones) for zones in answers.clock_rules["legal_zones"]])
    site_table = answers.sites if groups is None else \
        pd.DataFrame(answers.sites.drop(columns="geometry")).assign(**{_CABINET: cabinet_names(answers.sites, groups.keep_together)})
    declared = {"sites": _site_columns(groups is not None, programmes is not None), **_TABLES}
    tables = {"sites": site_table, **{name: getattr(answers, name) for name in _TABLES}, "clock_rules": rules}
    if answers.backdrop is not None:
        declared["backdrop"], tables["backdrop"] = _BACKDROP, answers.backdrop.geometry.to_frame("geometry")
    if groups is not None:
        declared |= _GROUPS
        tables |= {name: getattr(groups, name) for name in _GROUPS}
    if zoning is not None:
        declared |= _ZONING
        tables |= {"lighting_zones": zoning.zones, "unserved_areas": zoning.unserved}
    if programmes is not None:
        declared |= _PROGRAMMES
        tables |= _programme_tables(programmes)
    document = {
        "form": FORM, "job": dict(job), "sources": dict(sources),
        **{name: getattr(answers, name) for name in ("title", "versions", "outlined", "listed")},
        **{name: asdict(getattr(answers, name)) for name in ("basis", "setting", "manner")},
        "rejects": len(answers.rejects), "backdrop": answers.backdrop is not None,
        "groups": None if groups is None else _group_document(groups),
        "zoning": None if zoning is None else {name: getattr(zoning, name) for name in _KeptZones.model_fields},
        "programmes": None if programmes is None else {
            # Without its place in the job file, which names folders of this machine.
            "programmes": [asdict(replace(one, place="", events=tuple(replace(event, place="") for event in one.events)))
                           for one in programmes.programmes],
            "settings": {label: asdict(one) for label, one in programmes.settings.items()},
            "years": [{name: getattr(one, name) for name in _Year.model_fields} for one in programmes.years], "currency": programmes.currency},
    }
    return packed(json.dumps(document, default=_plain).encode(), tables, declared)


def kept_run(path: Path, next_step: str) -> KeptRun:
    """What `kept_bytes` kept.

    Parameters
    ----------
    path : Path
    next_step : str
        What to do where the file cannot be used.

    Raises
    ------
    InputError
        If the file is damaged, of another form, or does not hold what a run keeps.
    """
    try:
        with Unpacked(path) as pack:
            text = pack.document()
            # Before the rest is looked at: a later form may have other parts.
            if (form := json.loads(text).get("form")) != FORM:
                raise InputError("the run kept it in a form that this version does not read", where=str(path), value=form,
                                 rule=f"form {FORM}", next_step=next_step)
            document = _Document.model_validate_json(text)
            answers = _answers(document, pack)
            pack.end()
    except InputError as error:
        if error.where == str(path):
            raise
        raise _damaged(path, str(error.what), next_step) from None
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        raise _damaged(path, f"{'.'.join(map(str, first['loc']))[:80]}: {first['msg'][:120]}", next_step) from None
    except (DamagedError, GeozoneError, ValueError, TypeError, AttributeError, RecursionError) as error:
        raise _damaged(path, str(error)[:200] or type(error).__name__, next_step) from None
    except OSError as error:
        raise InputError("what the run kept for the paper cannot be read", where=str(path), value=error.strerror,
                         next_step="check who may read it") from None
    return KeptRun(answers, document.job, document.sources)


def _damaged(path: Path, why: str, next_step: str) -> InputError:
    return InputError("what the run kept for the paper is damaged", where=str(path), value=why, rule="a file as geozone wrote it",
                      next_step=next_step)


def _site_columns(grouped: bool, programmed: bool) -> dict[str, str]:
    return {**_SITES, **({_GROUP: TEXT, _CABINET: TEXT} if grouped else {}), **({_PROGRAMME: TEXT} if programmed else {})}


def _group_document(groups: GroupAnswers) -> dict:
    plan = groups.plan
    found = {name: getattr(plan, name) for name in ("count", "lower_bound", "proved", "gap")}
    found |= {name: [asdict(one) for one in getattr(plan, name)] for name in ("settings", "unserved")}
    return {**found, "witnesses": asdict(plan.witnesses),
            **{name: getattr(groups, name) for name in ("keep_together", "existing_column", "within", "offsets")}}


def _programme_tables(programmes: ProgrammeAnswers) -> dict[str, pd.DataFrame]:
    hours = programmes.hours
    years = list(enumerate(programmes.years))
    clocks = pd.DataFrame([(i, start, offset) for i, one in years for start, offset in zip(one.clock.start_utc_min, one.clock.offset_min, strict=True)],
                          columns=["year", "start_utc_min", "offset_min"])
    light = {kind: pd.DataFrame([(i, start, end) for i, one in years for start, end in getattr(one, kind).T], columns=["year", "start", "end"])
             for kind in ("lit", "dark")}
    return {"programme_sites": programmes.sites[["setting_label", "programme"]].drop_duplicates(),
            "hours": hours[hours["level"] == "programme"], "clocks": clocks, **light}


def _plain(value: object) -> object:
    """What JSON has no form for: numbers of numpy, sets, and site ids of any kind."""
    if isinstance(value, np.generic):
        return value.item()
    return sorted(value) if isinstance(value, frozenset) else str(value)


def _answers(document: _Document, pack: Unpacked) -> Answers:
    groups, programmes = document.groups, document.programmes
    sites = pack.table("sites", _site_columns(groups is not None, programmes is not None))
    lat, lon = sites["lat_deg"].to_numpy(float), sites["lon_deg"].to_numpy(float)
    if not len(sites) or not ((np.abs(lat) <= 90) & (np.abs(lon) <= 360)).all():
        raise DamagedError("sites without a position on the Earth")
    if groups is not None:
        # Under the name by which `cabinet_names` looks first: a list may have a column of the plain name as well.
        sites = sites.rename(columns={_CABINET: f"{groups.keep_together}_given"}) if groups.keep_together else sites.drop(columns=_CABINET)
    sites = gpd.GeoDataFrame(sites, geometry=gpd.points_from_xy(lon, lat), crs="EPSG:4326")
    tables = {name: pack.table(name, columns) for name, columns in _TABLES.items()}
    tables["clock_rules"]["legal_zones"] = [zones.split() for zones in tables["clock_rules"]["legal_zones"]]
    nothing = gpd.GeoDataFrame(geometry=[], crs="EPSG:4326")
    plain = {name: getattr(document, name) for name in ("title", "basis", "setting", "manner", "versions", "outlined", "listed")}
    return Answers(**plain, search=None, sites=sites, rejects=pd.DataFrame(index=range(document.rejects)), **tables, lattice=nothing,
                   backdrop=pack.table("backdrop", _BACKDROP) if document.backdrop else None, summary={}, notes=(),
                   groups=None if groups is None else _group_answers(groups, pack, sites[_GROUP].to_numpy(object)),
                   programmes=None if programmes is None else _programme_answers(programmes, pack),
                   zoning=None if document.zoning is None else _zone_answers(document.zoning, pack))


def _zone_answers(kept: _KeptZones, pack: Unpacked) -> ZoneAnswers:
    zones, unserved = (pack.table(name, columns) for name, columns in _ZONING.items())
    if zones["zone"].duplicated().any() or kept.lower_bound > len(zones):
        raise DamagedError("zones that no plan has")
    return ZoneAnswers(None, zones, unserved, **kept.model_dump())


def _group_answers(kept: _KeptGroups, pack: Unpacked, group_of_site: np.ndarray) -> GroupAnswers:
    tables = {name: pack.table(name, columns) for name, columns in _GROUPS.items()}
    names = {one.name for one in kept.settings}
    if names != set(tables["settings"]["group"]) or not set(group_of_site) <= {"", *names} or not set(tables["hulls"]["group"]) <= names:
        raise DamagedError("groups that the plan does not have")
    plan = Groups(kept.count, kept.lower_bound, kept.proved, kept.gap, kept.settings, group_of_site, kept.witnesses, unserved=kept.unserved)
    return GroupAnswers(plan, **tables, existing=pd.DataFrame(), unserved=pd.DataFrame(), keep_together=kept.keep_together,
                        existing_column=kept.existing_column, within=kept.within, offsets=kept.offsets)


def _programme_answers(kept: _KeptProgrammes, pack: Unpacked) -> ProgrammeAnswers:
    tables = {name: pack.table(name, columns) for name, columns in _PROGRAMMES.items()}
    years = tuple(YearOfLight(one.programme, one.group, _clock(tables["clocks"], i), one.clock_text, one.sites,
                              *(_light(tables[kind], i) for kind in ("lit", "dark"))) for i, one in enumerate(kept.years))
    empty = pd.DataFrame()
    return ProgrammeAnswers(programmes=kept.programmes, settings=kept.settings, sites=tables["programme_sites"], hours=tables["hours"], comparison=empty,
                            clocks=empty, findings=(), foolish=empty, cures={}, years=years, timetables=(), currency=kept.currency, notes=(),
                            summary={})


def _clock(table: pd.DataFrame, year: int) -> OffsetSequence:
    mine = table[table["year"] == year]
    start, offset = mine["start_utc_min"].to_numpy(float), mine["offset_min"].to_numpy(float)
    if not len(mine) or start[0] != -np.inf or not (np.diff(start) > 0).all() or not (np.abs(offset) <= 1440).all():
        raise DamagedError("a clock that none can keep")
    whole = np.rint(offset)
    return OffsetSequence(start.copy(), whole.astype(np.int64) if (whole == offset).all() else offset.copy())


def _light(table: pd.DataFrame, year: int) -> np.ndarray:
    mine = table.loc[table["year"] == year, ["start", "end"]].to_numpy(float)
    if not ((mine >= -_BESIDE_MIN) & (mine <= 366 * 1440 + _BESIDE_MIN)).all() or not (mine[:, 0] <= mine[:, 1]).all():
        raise DamagedError("hours of light outside the year")
    return np.ascontiguousarray(mine.T)
