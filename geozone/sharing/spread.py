"""How far apart dusk and dawn are over an area, night by night, and the lines that show it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, timezone

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from ..numbers import clock
from ..numbers.sun import State, nights_of, switch_times
from ..places.lattice import Lattice, level_lines
from ..trade.basis import Basis
from ..trade.setting import Setting, Tolerance
from .drift import drift_at, unwrapped_lon_deg

_MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()
_FACTORS = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0)


def area_spread(*, lat_deg, lon_deg, year: int, altitude_deg: float) -> pd.DataFrame:
    """Earliest, latest and spread of dusk and dawn over places, a row a night.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
        Points of the area, its edge included (`Lattice.points_within`).
    year : int
    altitude_deg : float [degree]

    Returns
    -------
    DataFrame
        Columns `night` (ISO date); for dusk and dawn `*_earliest_utc`, `*_latest_utc` (datetime64[s], NaT where
        nowhere), `*_spread_min`, `*_earliest_lat_deg/_lon_deg`, `*_latest_lat_deg/_lon_deg`; `points_without`:
        points where the sun does not cross both ways that night.
    """
    lat, lon = np.asarray(lat_deg, float), np.asarray(lon_deg, float)
    times = switch_times(lat_deg=lat, lon_deg=lon, year=year, altitude_deg=altitude_deg)
    start = np.datetime64(f"{year}-01-01T00:00:00")
    table = {"night": times.night.astype(str)}
    for edge, minutes in (("dusk", times.dusk_utc_min), ("dawn", times.dawn_utc_min)):
        none = np.isnan(minutes).all(axis=0)
        first = np.where(np.isnan(minutes), np.inf, minutes).argmin(axis=0)
        last = np.where(np.isnan(minutes), -np.inf, minutes).argmax(axis=0)
        night = np.arange(minutes.shape[1])
        for name, row in (("earliest", first), ("latest", last)):
            seconds = np.where(none, 0, np.rint(np.nan_to_num(minutes[row, night]) * 60.0)).astype("timedelta64[s]")
            table[f"{edge}_{name}_utc"] = np.where(none, np.datetime64("NaT", "s"), start + seconds)
        table[f"{edge}_spread_min"] = np.where(none, np.nan, minutes[last, night] - minutes[first, night])
        for name, row in (("earliest", first), ("latest", last)):
            table[f"{edge}_{name}_lat_deg"] = np.where(none, np.nan, lat[row])
            table[f"{edge}_{name}_lon_deg"] = np.where(none, np.nan, lon[row])
    table["points_without"] = (times.state != State.CROSSES).sum(axis=0)
    return pd.DataFrame(table)


def drift_field(lattice: Lattice, setting: Setting, basis: Basis) -> pd.DataFrame:
    """Worst drift by position alone at every lattice point; clocks are left out.

    Returns
    -------
    DataFrame
        A row a point of `lattice.grid`: `lat_deg`, `lon_deg`, `inside`, `worst_dark_min`, `worst_excess_min`,
        `tolerance_share`.
    """
    lat, lon = lattice.grid
    found = drift_at(lat, unwrapped_lon_deg(lon, setting.legal_zone, basis.year), setting, basis)
    return pd.DataFrame({"lat_deg": lat, "lon_deg": lon, "inside": lattice.inside.ravel(),
                         "worst_dark_min": found.worst_dark_min, "worst_excess_min": found.worst_excess_min,
                         "tolerance_share": found.factor(basis.tolerance)})


def drift_lines(lattice: Lattice, field: pd.DataFrame, tolerance: Tolerance) -> gpd.GeoDataFrame:
    """Lines of equal worst drift, the tolerance line among them.

    Returns
    -------
    GeoDataFrame
        `kind` ("tolerance" or "drift"), `factor` (drift in units of the tolerance), `label`, `dusk` (""), `geometry`.
    """
    lines = level_lines(lattice, field["tolerance_share"], _FACTORS)
    lines = lines.rename(columns={"level": "factor"})
    lines.insert(0, "kind", np.where(lines["factor"] == 1.0, "tolerance", "drift"))
    lines.insert(2, "label", [_label(factor, tolerance) for factor in lines["factor"]])
    lines.insert(3, "dusk", "")
    return lines


def dusk_lines(lattice: Lattice, night: str, *, pieces: gpd.GeoDataFrame, year: int, altitude_deg: float) -> gpd.GeoDataFrame:
    """Lines of equal dusk on one night, each over the ground whose legal time its label is in.

    Parameters
    ----------
    lattice : Lattice
    night : str
        ISO date of the night, the same date on every clock.
    pieces : GeoDataFrame
        Columns legal_zone, geometry: the area cut along legal-time borders (`cut_areas`).
    year : int
    altitude_deg : float [degree]

    Returns
    -------
    GeoDataFrame
        `kind` ("dusk"), `factor` (NaN), `label` ("20:35 on 22 Dec, UTC+10:30": the date is that of the dusk), `dusk` (the same
        in the manner of ISO 8601), `geometry`.
        Empty where the sun does not cross.
    """
    lat, lon = lattice.grid
    k = int(np.flatnonzero(nights_of(year).astype(str) == night)[0])
    clocks: dict = {}
    for zone, rows in pieces.groupby("legal_zone", sort=True):
        clocks.setdefault(clock.offsets(zone, year).key, (zone, []))[1].extend(rows.geometry)
    rows = []
    for zone, ground in clocks.values():
        times = switch_times(lat_deg=lat, lon_deg=unwrapped_lon_deg(lon, zone, year), year=year, altitude_deg=altitude_deg)
        dusk = times.dusk_utc_min[:, k]
        outline = _laid_on(lattice, shapely.union_all(ground))
        here = dusk[shapely.intersects_xy(shapely.buffer(outline, _step_deg(lattice)), lon, lat)]
        if np.isnan(here).all():
            continue
        low, high = np.nanmin(here), np.nanmax(here)
        apart = next((step for step in (1, 2, 5, 10, 15, 30, 60) if (high - low) / step <= 8), 120)
        # Round figures on the clock of the place: in UTC they need not be.
        offset = float(clock.offset_min_at(clock.offsets(zone, year), low))
        levels = np.arange(np.ceil((low + offset) / apart), (high + offset) / apart + 1e-9) * apart - offset
        lines = level_lines(replace(lattice, outline=outline), dusk, levels)
        rows += [(_dusk(level, zone, year), shape) for level, shape in zip(lines["level"], lines.geometry)]
    table = {"kind": ["dusk"] * len(rows), "factor": np.full(len(rows), np.nan), "label": [_dusk_label(when) for when, _ in rows],
             "dusk": [when.isoformat(timespec="minutes") for when, _ in rows]}
    return gpd.GeoDataFrame(table, geometry=[shape for _, shape in rows], crs="EPSG:4326")


def _laid_on(lattice: Lattice, ground) -> shapely.Geometry:
    """Ground on the longitudes that the lattice counts in, within its outline."""
    if lattice.lon_deg[-1] > 180.0:
        parts = [shapely.transform(part, lambda at: at + (360.0, 0.0)) if part.bounds[2] <= 0 else part
                 for part in shapely.get_parts(ground)]
        ground = shapely.union_all(parts)
    return shapely.intersection(ground, lattice.outline)


def _step_deg(lattice: Lattice) -> float:
    return float(lattice.lon_deg[1] - lattice.lon_deg[0])


def _dusk(utc_min: float, zone: str, year: int) -> datetime:
    """The instant on the zone's clock, to the minute, with its offset from UTC."""
    local = clock.to_legal(utc_min, zone, year).item()
    offset_min = float(clock.offset_min_at(clock.offsets(zone, year), utc_min))
    return local.replace(tzinfo=timezone(timedelta(minutes=offset_min)))


def _dusk_label(when: datetime) -> str:
    offset = clock.offset_text(when.utcoffset().total_seconds() / 60)
    return f"{when:%H:%M} on {when.day} {_MONTHS[when.month - 1]}, UTC{offset}"


def _label(factor: float, tolerance: Tolerance) -> str:
    dark, excess = (f"{limit * factor:.1f}".rstrip("0").rstrip(".") for limit in (tolerance.dark_min, tolerance.excess_min))
    minutes = f"{dark} min" if dark == excess else f"{dark} min unlit / {excess} min lit too long"
    return f"tolerance: {minutes}" if factor == 1.0 else minutes
