"""Dusk and dawn over the whole service area: how far apart they are, and how one setting fares at every place of it."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd

from ..places.antimeridian import cut
from ..places.lattice import solar_lattice
from ..trade.basis import Basis
from ..trade.setting import Setting
from .drift import unwrapped_lon_deg
from .spread import area_spread, drift_field, drift_lines, dusk_lines


@dataclass(frozen=True, eq=False)
class OverArea:
    """What is found for the ground between the sites.

    Attributes
    ----------
    spread : pandas.DataFrame
        One row a night, as `area_spread`.
    lattice : geopandas.GeoDataFrame
        Points inside: lat_deg, lon_deg, worst_dark_min, worst_excess_min, tolerance_share.
    drift_lines : geopandas.GeoDataFrame
        Lines: kind ("tolerance" | "drift" | "dusk"), factor, label, geometry; cut at the antimeridian.
    """

    spread: pd.DataFrame
    lattice: gpd.GeoDataFrame
    drift_lines: gpd.GeoDataFrame


def over_area(areas: gpd.GeoDataFrame, pieces: gpd.GeoDataFrame, setting: Setting, basis: Basis) -> OverArea:
    """Spread, drift and lines over an area.

    Parameters
    ----------
    areas : GeoDataFrame
        Outlines of the service area.
    pieces : GeoDataFrame
        The same cut along legal-time borders, as `cut_areas`.
    setting : Setting
    basis : Basis
    """
    lattice = solar_lattice(areas)
    lat, lon = lattice.points_within()
    by_night = area_spread(lat_deg=lat, lon_deg=unwrapped_lon_deg(lon, setting.legal_zone, basis.year), year=basis.year,
                           altitude_deg=basis.altitude_deg)
    field = drift_field(lattice, setting, basis)
    lines = [drift_lines(lattice, field, basis.tolerance)]
    if by_night["dusk_spread_min"].notna().any():
        worst = str(by_night["night"].iloc[int(np.nanargmax(by_night["dusk_spread_min"]))])
        lines.append(dusk_lines(lattice, worst, pieces=pieces, year=basis.year, altitude_deg=basis.altitude_deg))
    return OverArea(by_night, _points(field), _stacked(lines))


def _stacked(frames: list) -> gpd.GeoDataFrame:
    columns = ["kind", "factor", "label", "dusk", "geometry"]
    kept = [frame[columns] for frame in frames if len(frame)]
    if not kept:
        return gpd.GeoDataFrame({name: [] for name in columns[:-1]}, geometry=[], crs="EPSG:4326")
    found = gpd.GeoDataFrame(pd.concat(kept, ignore_index=True), geometry="geometry", crs="EPSG:4326")
    return found.set_geometry(found.geometry.map(cut), crs="EPSG:4326")


def _points(field: pd.DataFrame) -> gpd.GeoDataFrame:
    inside = field[field["inside"]].drop(columns="inside").reset_index(drop=True)
    inside["lon_deg"] = (inside["lon_deg"] + 180.0) % 360.0 - 180.0 if inside["lon_deg"].gt(180.0).any() else inside["lon_deg"]
    return gpd.GeoDataFrame(inside, geometry=gpd.points_from_xy(inside["lon_deg"], inside["lat_deg"]), crs="EPSG:4326")
