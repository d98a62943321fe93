"""Which setting of a finished plan is keyed at a place that the plan did not know: a lamp that goes up next year."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from .. import __version__
from ..errors import InputError, OutputError
from ..files.folder import cannot_write, earlier_summary
from ..files.spreadsheets import write_csv
from ..files.sums import SUMMARY_NAME, SUMS_KEY, changed_files
from ..numbers import clock
from ..numbers.sun import checked_positions
from ..places.legalzones import with_legal_time
from ..schema.zone_columns import WHICH
from ..sharing.drift import drift_at, night_label
from ..trade.basis import Basis, DarkThreshold
from ..trade.keypad import Keypad, keyed_text
from ..trade.setting import Setting, Tolerance

_ZONES = "zones.geojson"


@dataclass(frozen=True, eq=False)
class FinishedPlan:
    """What a run's folder says of its settings.

    Attributes
    ----------
    title : str
    basis : Basis
    zones : list of (str, Setting, str, geometry, bool)
        Name, setting, clock to key in words, ground and whether it is certified.
    groups : list of (str, Setting, str)
    """

    title: str
    basis: Basis
    zones: list[tuple[str, Setting, str, shapely.Geometry, bool]]
    groups: list[tuple[str, Setting, str]]


def finished_plan(out) -> FinishedPlan:
    """The settings of a finished run.

    Parameters
    ----------
    out : path-like
        Its output folder.

    Raises
    ------
    InputError
        If there is no finished run in the folder, it is another version's, was changed since, or has neither zones nor groups.
    """
    folder = Path(out)
    summary = earlier_summary(folder)
    if not summary or not isinstance(summary.get(SUMS_KEY), dict):
        raise InputError("there is no finished run in this folder", where=str(out), rule="the output folder of geozone run",
                         next_step="name it, or make the run")
    mine = {name: was for name, was in summary[SUMS_KEY].items() if name in (SUMMARY_NAME, _ZONES)}
    try:
        changed = changed_files(folder, {SUMS_KEY: mine})
        missing = [name for name in mine if not (folder / name).is_file()]
    except (OSError, ValueError, TypeError, AttributeError) as error:
        raise InputError("the run's folder cannot be read", where=str(out), value=str(error), next_step="make the run again") from error
    if changed or missing:
        raise InputError("the run's files were changed since", where=str(out), value=", ".join([*changed, *missing]), rule="files as geozone wrote them",
                         next_step="make the run again")
    for name, here in (("geozone", __version__), ("tz database", clock.tz_version())):
        was = summary.get("versions", {}).get(name)
        if was != here:
            raise InputError(f"the run was made by another version: {name}", where=str(out), value=str(was), rule=f"this is {here}",
                             next_step="make the run again")
    job = summary["job"]
    basis = Basis(int(job["year"]), DarkThreshold(float(job["altitude_deg"])), Tolerance(job["dark_min"], job["excess_min"], job["shallow_deg"]),
                  Keypad(job["coordinate_step_deg"], int(job["offset_limit_min"])))
    zones = []
    if _ZONES in mine:
        for one in json.loads((folder / _ZONES).read_text(encoding="utf-8"))["features"]:
            zones.append((one["properties"]["zone"], *_keyed(one["properties"]), shapely.geometry.shape(one["geometry"]), one["properties"]["certified"]))
    groups = [(one["group"], *_keyed(one)) for one in summary.get("groups", {}).get("settings", ())]
    if not zones and not groups:
        raise InputError("the run has neither zones nor groups", where=str(out), rule="a plan with settings to choose from",
                         next_step="add [zones] or [groups] to its job and run it again")
    return FinishedPlan(str(job["title"]), basis, zones, groups)


def which(plan, points: gpd.GeoDataFrame) -> pd.DataFrame:
    """Which zone each place lies in, which group's setting is best there, and how many minutes off each would be.

    Parameters
    ----------
    plan : path-like or FinishedPlan
        The output folder of a run with zones or groups.
    points : GeoDataFrame
        Points in any coordinate system; site_id and legal_zone if there are any. Legal time is added where it is missing.

    Returns
    -------
    DataFrame, index-identical
        site_id (if given), lat_deg, lon_deg, legal_zone, then of the zone: zone ("" = in none), what is keyed (``key_*``), zone_dark_min,
        zone_dark_night, zone_excess_min, zone_excess_night, zone_within (None without a zone), certified; of the groups: group (of those on the place's clock the
        one with the smallest worst minutes; "" = none keeps its clock), what is keyed (``group_key_*``), group_dark_min, group_excess_min, group_within.

    Raises
    ------
    InputError
    """
    plan = plan if isinstance(plan, FinishedPlan) else finished_plan(plan)
    year = plan.basis.year
    points = with_legal_time(points, year)
    lat, lon = (points[name].to_numpy(float) for name in ("lat_deg", "lon_deg"))
    solar, legal = points["solar_lon_deg"].to_numpy(float), points["legal_zone"].to_numpy(str)
    keys = {zone: clock.offsets(zone, year).key for zone in {*legal.tolist(), *(one[1].legal_zone for one in [*plan.zones, *plan.groups])}}
    table = pd.DataFrame({name: points[name] for name in ("site_id", "lat_deg", "lon_deg", "legal_zone") if name in points}, index=points.index)
    own = replace(plan.basis, switch_clock="own")

    def same_clock(setting: Setting) -> np.ndarray:
        return np.array([keys[zone] == keys[setting.legal_zone] for zone in legal], dtype=bool)

    if plan.zones:
        of, found = np.full(len(table), -1), _Found(len(table))
        for number, (_, setting, _, ground, _) in enumerate(plan.zones):
            rows = np.flatnonzero((of < 0) & same_clock(setting))
            # Its border too: the outline is part of what was certified.
            rows = rows[shapely.intersects_xy(ground, lon[rows], lat[rows])]
            of[rows] = number
            found.put(rows, lat, solar, setting, own)
        table = found.into(table, of, [one[:3] for one in plan.zones], "zone", "", own)
        table["certified"] = np.array([*(sure for *_, sure in plan.zones), False])[of]
    if plan.groups:
        of, best = np.full(len(table), -1), _Found(len(table))
        for number, (_, setting, _) in enumerate(plan.groups):
            rows, here = np.flatnonzero(same_clock(setting)), _Found(len(table))
            here.put(rows, lat, solar, setting, own)
            better = rows[(of[rows] < 0) | (here.factor[rows] < best.factor[rows])]
            of[better] = number
            best.take(here, better)
        table = best.into(table, of, plan.groups, "group", "group_", own)
    return table


class _Found:
    """Worst minutes of some settings at some places."""

    def __init__(self, n: int):
        self.dark, self.excess, self.factor = (np.full(n, np.nan) for _ in range(3))
        self.dark_night, self.excess_night = (np.full(n, -1) for _ in range(2))

    def put(self, rows, lat, lon, setting: Setting, basis: Basis) -> None:
        if not rows.size:
            return
        one = drift_at(lat[rows], lon[rows], setting, basis)
        self.dark[rows], self.excess[rows], self.factor[rows] = one.worst_dark_min, one.worst_excess_min, one.factor(basis.tolerance)
        self.dark_night[rows], self.excess_night[rows] = one.worst_dark_night, one.worst_excess_night

    def take(self, other: "_Found", rows) -> None:
        for name in ("dark", "excess", "factor", "dark_night", "excess_night"):
            getattr(self, name)[rows] = getattr(other, name)[rows]

    def into(self, table: pd.DataFrame, of: np.ndarray, named: list[tuple[str, Setting, str]], what: str, prefix: str, basis: Basis) -> pd.DataFrame:
        def column(values, nothing):
            return np.array([*values, nothing], dtype=object)[of]

        names, settings, clocks = zip(*named, strict=True)
        new = {what: column(names, "")}
        for field in ("lat_deg", "lon_deg", "dusk_offset_min", "dawn_offset_min"):
            new[f"{prefix}key_{field}"] = column([getattr(one, field) for one in settings], np.nan).astype(float)
        new[f"{prefix}key_legal_zone"] = column([one.legal_zone for one in settings], "")
        new[f"{prefix}key_clock"] = column(clocks, "")
        tolerance = basis.tolerance
        new |= {f"{what}_dark_min": self.dark, f"{what}_dark_night": night_label(self.dark_night, basis.year), f"{what}_excess_min": self.excess,
                f"{what}_excess_night": night_label(self.excess_night, basis.year),
                f"{what}_within": [None if place < 0 else bool(dark <= tolerance.dark_min + 1e-6 and excess <= tolerance.excess_min + 1e-6)
                                   for place, dark, excess in zip(of, self.dark, self.excess, strict=True)]}
        return table.assign(**new)


def place_which(out, lat_deg: float, lon_deg: float, legal_zone: str | None = None) -> str:
    """The answer of `geozone which` for one place, as text.

    Raises
    ------
    InputError
    """
    checked_positions([lat_deg], [lon_deg])
    if legal_zone is not None and not clock.valid_zone(legal_zone):
        raise InputError("no such legal zone", value=legal_zone, rule="a name of the IANA time zone database, such as Australia/Adelaide")
    plan = finished_plan(out)
    point = gpd.GeoDataFrame({"site_id": ["here"], "lat_deg": [float(lat_deg)], "lon_deg": [float(lon_deg)], "legal_zone_given": [legal_zone or ""]},
                             geometry=gpd.points_from_xy([lon_deg], [lat_deg]), crs="EPSG:4326")
    row = which(plan, point).iloc[0]
    year, step, tolerance = plan.basis.year, plan.basis.keypad.coordinate_step_deg, plan.basis.tolerance
    lines = [f"{plan.title} ({year})", "", f"Place       latitude {lat_deg:g}, longitude {lon_deg:g}; legal zone {row['legal_zone']}"]

    def keyed(prefix: str, what: str) -> list[str]:
        told = [f"            latitude {keyed_text(row[f'{prefix}key_lat_deg'], step)}, longitude {keyed_text(row[f'{prefix}key_lon_deg'], step)}, dusk "
                f"{int(row[f'{prefix}key_dusk_offset_min']):+d} min, dawn {int(row[f'{prefix}key_dawn_offset_min']):+d} min",
                f"            clock {row[f'{prefix}key_clock']} ({row[f'{prefix}key_legal_zone']})"]
        worst = [f"{row[f'{what}_{side}_min']:.1f} min {words}" + (f" (night of {night})" if (night := row[f"{what}_{side}_night"]) else "")
                 for side, words in (("dark", "unlit"), ("excess", "lit too long"))]
        return [*told, f"            here at most {worst[0]}, {worst[1]}: {'within' if row[f'{what}_within'] else 'beyond'} "
                       f"{tolerance.dark_min:g} and {tolerance.excess_min:g} min"]

    if plan.zones:
        lines += [f"Zone        {row['zone']}" + ("" if row["certified"] else ", which is not certified"), *keyed("", "zone")] if row["zone"] else \
            [f"Zone        none: {_why_none(plan, lat_deg, lon_deg)}"]
    if plan.groups:
        lines += [f"Groups      of the plan's settings on this clock that of {row['group']} fits best", *keyed("group_", "group")] if row["group"] else \
            ["Groups      none keeps this clock"]
    return "\n".join(lines)


def _why_none(plan: FinishedPlan, lat_deg: float, lon_deg: float) -> str:
    there = [name for name, _, _, ground, _ in plan.zones if shapely.intersects_xy(ground, lon_deg, lat_deg)]
    return f"on the ground of {there[0]}, but not on its clock" if there else "outside all zones"


def list_which(out, path: Path, target: Path) -> tuple[int, int, int]:
    """The answer for a whole list, as a CSV file.

    Parameters
    ----------
    out : path-like
        The run's folder.
    path : Path
        Any site list that a run reads.
    target : Path
        The file to write; it must not exist.

    Returns
    -------
    (int, int, int)
        Places, those without a zone (or without a group where the run has no zones), and rows of the list that could not be used.
    """
    from ..places.sites import read_sites

    plan = finished_plan(out)
    if target.exists():
        raise OutputError("the file is there already", where=str(target), rule="nobody's work is replaced", next_step="name another with -o, or move it away")
    listed = read_sites(path)
    table = which(plan, listed.sites)
    try:
        write_csv(table, target, WHICH, coordinate_step_deg=plan.basis.keypad.coordinate_step_deg)
    except OSError as error:
        target.unlink(missing_ok=True)
        raise cannot_write(target, error) from error
    without = int((table["zone" if plan.zones else "group"] == "").sum())
    return len(table), without, len(listed.rejects)


def _keyed(row: dict) -> tuple[Setting, str]:
    setting = Setting(float(row["lat_deg"]), float(row["lon_deg"]), str(row["legal_zone"]), int(row["dusk_offset_min"]), int(row["dawn_offset_min"]))
    return setting, str(row["clock_to_key"])
