"""Outlines: districts, municipalities, concessions; or, without any, the sites' own hull."""

from __future__ import annotations

import json
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import shapely

from ..errors import InputError
from . import crsadvice, projections
from .areanames import area_names, told_apart
from .endings import JSON_ENDINGS, MAP_FORMATS
from .located import column_of, located, table_in_degrees
from .tables import as_text, read_tables

#: Beyond this distance from their middle [km], sites have no common flat projection worth the name.
FARTHEST_FLAT_KM = 5000.0


#: Name of the outline round the sites where none was given.
HULL_NAME = "service area"


def read_areas(path: str | Path, name_column: str | None = None, *, layer: str | None = None,
               crs: str | None = None) -> tuple[gpd.GeoDataFrame, tuple[str, ...]]:
    """The outlines of a map file, in degrees, valid, each with a name of its own.

    Parameters
    ----------
    path : path
    name_column : str, optional
        Left out: a heading such as "name" or "district", else the first column of text, else numbers; said.
    layer, crs : str, optional
        Which layer, and the coordinate reference system if the file names none or a wrong one.

    Returns
    -------
    areas : GeoDataFrame, EPSG:4326, RangeIndex
        area (unique str), geometry (Polygon or MultiPolygon), then the file's other columns. Outlines of one name that
        touch are one area, others are told apart (see `areanames.told_apart`). Order of the file.
    notes : tuple of str

    Raises
    ------
    InputError
        If the file holds no outline, one that is malformed, several layers of them, or no usable coordinate reference system.
    """
    tables = [t for t in read_tables(path, layer=layer) if t.geometry is not None]
    if not tables:
        raise InputError("the file holds no outlines", where=_called(path),
                         rule=f"areas are polygons in {MAP_FORMATS}",
                         next_step="export them in one of these")
    with_outlines = [t for t in tables if t.geometry.geom_type.isin(["Polygon", "MultiPolygon"]).any()]
    if len(with_outlines) > 1:
        names = [t.layer for t in with_outlines]
        raise InputError(f"several layers hold outlines: {', '.join(map(repr, names[:6]))}", where=tables[0].file,
                         next_step="keep one of them in the file (from Python: layer=...)")
    table = (with_outlines or tables)[0]
    where, notes = table.where, list(table.notes)
    names, column, how = area_names(table, name_column)
    shapes = in_degrees(table.geometry, where, crs).to_numpy(dtype=object)
    missing = shapely.is_missing(shapes) | shapely.is_empty(shapes)
    kind = shapely.get_type_id(shapes)
    other = ~missing & ~np.isin(kind, (3, 6, 7))
    if missing.any():
        _refuse_malformed(path, np.flatnonzero(missing))
        notes.append(f"{where}: {_counted(missing, 'outline is empty', 'outlines are empty')} and left out")
    if other.any():
        notes.append(f"{where}: {_counted(other, 'feature is a point or line, no outline,', 'features are points or lines, no outlines,')} "
                     f"and left out")
    keep = ~(missing | other)
    with np.errstate(invalid="ignore"):
        broken = keep & ~shapely.is_valid(shapes)
    mended = shapes.copy()
    mended[broken] = shapely.make_valid(shapes[broken])
    mended[keep] = [polygons_of(shape) for shape in mended[keep]]
    flat = keep & shapely.is_empty(mended)
    if broken.any():
        notes.append(f"{where}: {_counted(broken, 'outline crossed itself and was mended', 'outlines crossed themselves and were mended')}"
                     f" ({_list(names[broken])})")
    if flat.any():
        notes.append(f"{where}: {_counted(flat, 'outline encloses nothing and is left out', 'outlines enclose nothing and are left out')} "
                     f"({_list(names[flat])})")
    keep &= ~flat
    if not keep.any():
        raise InputError("no outline in it can be used", where=where,
                         value=", ".join(sorted({str(g) for g in table.geometry.geom_type.dropna()})) or "nothing",
                         rule="an area is a Polygon or MultiPolygon that encloses something",
                         next_step="export the outlines, not points or lines")
    notes.append(how)
    own = table.frame[[c for c in table.frame.columns if c != column]]
    own = own.rename(columns={c: c + "_given" for c in own.columns if c.casefold() in ("area", "geometry")})
    own = own.assign(**{c: as_text(own[c]) for c in own.columns if own[c].dtype == object})
    names, name_notes = told_apart(names[keep], mended[keep], table.frame[keep].reset_index(drop=True), column, where)
    notes += name_notes
    areas = gpd.GeoDataFrame({"area": names}, geometry=mended[keep], crs="EPSG:4326")
    areas = areas.join(own[keep].reset_index(drop=True))
    areas["area"] = areas["area"].astype("str")
    repeated = areas["area"].duplicated()
    if repeated.any():
        merged = areas.groupby("area", sort=False)["geometry"].agg(lambda parts: polygons_of(shapely.union_all(parts)))
        areas = areas[~repeated].reset_index(drop=True)
        areas["geometry"] = gpd.GeoSeries(merged.reindex(areas["area"]).to_numpy(), crs="EPSG:4326")
    return areas, tuple(dict.fromkeys(notes))


def _called(path) -> str:
    return "the table in memory" if isinstance(path, pd.DataFrame) else Path(path).name


def _refuse_malformed(path, rows: np.ndarray) -> None:
    """Stop where an outline came out empty although the file says something: it is broken, not empty.

    Only GeoJSON can be looked into again; the other formats keep shapes as numbers that no person writes by hand.
    """
    if isinstance(path, pd.DataFrame) or (path := Path(path)).suffix.lower() not in JSON_ENDINGS:
        return
    try:
        content = json.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError):  # read in another encoding before: nothing more can be said
        return
    features = content["features"] if content.get("type") == "FeatureCollection" else [content]
    for row in rows[rows < len(features)]:
        given = features[row].get("geometry") if "geometry" in features[row] else None
        if given and not (isinstance(given, dict) and "coordinates" in given and given["coordinates"] in ([], None)):
            raise InputError("the outline is malformed", where=f"{path.name}, feature {row + 1}", value=json.dumps(given),
                             rule='a "Polygon" is a list of rings, each of at least four pairs [longitude, latitude], the last '
                                  'like the first; a "MultiPolygon" is a list of such lists (RFC 7946)',
                             next_step="export the outlines again, or mend or take out this feature")


def in_degrees(geometry: gpd.GeoSeries, where: str, crs: str | None = None) -> gpd.GeoSeries:
    """Geometry in EPSG:4326 [degree], two-dimensional; InputError where the numbers and the CRS disagree."""
    stated = projections.as_crs(crs, where) if crs else None
    own = stated or (projections.as_crs(geometry.crs, where) if geometry.crs is not None else projections.WGS84)
    shapes = shapely.force_2d(geometry.to_numpy(dtype=object))
    points = shapely.get_coordinates(shapes)
    x, y = points[:, 0], points[:, 1]
    if own.is_geographic and projections.looks_projected(x, y):
        raise crsadvice.crs_needed(x, y, where, "geometry", projections.named(own) if crs else None,
                                     crsadvice.EXPORT_WITH_CRS)
    if own.is_projected and len(x) and np.mean((np.abs(x) <= 180) & (np.abs(y) <= 90)) > 0.5:
        raise InputError(f"the outlines are in degrees, but {projections.named(own)} is projected", where=where,
                         next_step=crsadvice.EXPORT_WITH_CRS)
    lon, lat = projections.to_lon_lat(x, y, own)
    with np.errstate(invalid="ignore"):
        wrong = ~((np.abs(lon) <= 180.0001) & (np.abs(lat) <= 90.0001))
    if wrong.any():
        raise InputError("positions fall outside -180..180 and -90..90 degrees", where=where,
                         value=f"{x[wrong][0]:.12g}, {y[wrong][0]:.12g} in {projections.named(own)}",
                         next_step=crsadvice.EXPORT_WITH_CRS)
    moved = shapely.set_coordinates(shapes.copy(), np.column_stack([lon, lat]))
    return gpd.GeoSeries(moved, crs="EPSG:4326")


def polygons_of(shape) -> object:
    """The polygons inside a geometry as Polygon or MultiPolygon; an empty one if it has none."""
    parts = [p for p in shapely.get_parts(shapely.get_parts(shape)) if p.geom_type == "Polygon" and p.area > 0]
    return shapely.union_all(parts) if shape.geom_type == "GeometryCollection" and parts else (
        parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts))


def _list(names: np.ndarray, most: int = 4) -> str:
    return ", ".join(map(str, names[:most])) + (f" and {len(names) - most} more" if len(names) > most else "")


def hull_area(sites: gpd.GeoDataFrame, margin_km: float = 10) -> gpd.GeoDataFrame:
    """The service area where no outlines are given: the sites' convex hull, grown by a margin.

    The margin is true to scale: hull and margin are made in an azimuthal equidistant projection about the middle
    of the sites. One site gives a disc, sites in a line a band with round ends. Across the antimeridian the
    result is cut there, as RFC 7946 (3.1.9) asks. Sites more than 5,000 km from their middle: hull in degrees.

    Parameters
    ----------
    sites : GeoDataFrame
        Points in any coordinate system, or columns `lat_deg`, `lon_deg` [degree].
    margin_km : float
        Above 0 [km].

    Returns
    -------
    GeoDataFrame, EPSG:4326, one row
        area = "service area", geometry.
    """
    if not 0 < margin_km <= 1000:
        raise InputError("the margin around the sites is out of range", value=margin_km,
                         rule="kilometres above 0 and at most 1000", next_step="10 is a usual start")
    sites = located(sites)
    lat, lon = sites["lat_deg"].to_numpy(dtype=float), sites["lon_deg"].to_numpy(dtype=float)
    if not len(lat):
        raise InputError("there are no sites to draw an area around", where="sites", rule="at least one site", next_step="check the site list")
    unit = np.column_stack([np.cos(np.radians(lat)) * np.cos(np.radians(lon)),
                            np.cos(np.radians(lat)) * np.sin(np.radians(lon)), np.sin(np.radians(lat))]).mean(axis=0)
    lon_0 = float(np.degrees(np.arctan2(unit[1], unit[0])))
    lat_0 = float(np.degrees(np.arctan2(unit[2], np.hypot(unit[0], unit[1]))))
    flat = pyproj.Proj(proj="aeqd", lat_0=lat_0, lon_0=lon_0, datum="WGS84")
    x, y = flat(lon, lat)
    if np.max(np.hypot(x, y)) > FARTHEST_FLAT_KM * 1000:
        grown = shapely.MultiPoint(np.column_stack([lon, lat])).convex_hull.buffer(margin_km / 111.2)
        shape = shapely.intersection(grown, shapely.box(-180, -90, 180, 90))
    else:
        hull = shapely.MultiPoint(np.column_stack([x, y])).convex_hull.buffer(margin_km * 1000, quad_segs=16)
        ring = shapely.segmentize(hull, max(5_000.0, hull.length / 400)).exterior  # straight there, not in degrees
        ring_lon, ring_lat = flat(*np.asarray(ring.coords).T, inverse=True)
        pole = next((p for p in (90.0, -90.0) if hull.contains(shapely.Point(flat(lon_0, p)))), None)
        if pole is not None:
            south, north = (float(np.min(ring_lat)), 90.0) if pole > 0 else (-90.0, float(np.max(ring_lat)))
            shape = shapely.box(-180, south, 180, north)
        else:
            turned = lon_0 + (np.asarray(ring_lon) - lon_0 + 180) % 360 - 180
            shape = _cut_at_antimeridian(shapely.make_valid(shapely.Polygon(np.column_stack([turned, ring_lat]))))
    return gpd.GeoDataFrame({"area": [HULL_NAME]}, geometry=[polygons_of(shape)], crs="EPSG:4326")


def _cut_at_antimeridian(shape) -> object:
    parts = []
    for turn in (-360, 0, 360):
        part = shapely.intersection(shape, shapely.box(-180 + turn, -90, 180 + turn, 90))
        parts += [shapely.transform(p, lambda xy, turn=turn: xy - [turn, 0]) for p in shapely.get_parts(part)
                  if p.geom_type == "Polygon"]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def sites_in_areas(sites: gpd.GeoDataFrame, areas: gpd.GeoDataFrame) -> tuple[pd.Series, tuple[str, ...]]:
    """The area that each site lies in, and notes that count the sites in several areas and in none.

    Parameters
    ----------
    sites : GeoDataFrame
        Points in any coordinate system.
    areas : GeoDataFrame
        Outlines in any coordinate system, with a column `area` of names.

    Returns
    -------
    area : Series of str, index of `sites`, named "area"
        "" outside all areas; where areas overlap, the first in the order of the file. A border belongs to both.
    notes : tuple of str
    """
    names = np.append(column_of(areas, "area", "areas").astype(object), "")
    sites, areas = table_in_degrees(sites, "sites"), table_in_degrees(areas, "areas")
    tree = shapely.STRtree(areas.geometry.to_numpy())
    site, area = tree.query(sites.geometry.to_numpy(), predicate="intersects")
    first = np.full(len(sites), len(areas), dtype=np.int64)
    np.minimum.at(first, site, area)
    count = np.bincount(site, minlength=len(sites))
    notes = []
    if (count > 1).any():
        notes.append(f"{_counted(count > 1, 'site lies', 'sites lie')} in more than one area; the first in the file is taken")
    if (count == 0).any():
        notes.append(f"{_counted(count == 0, 'site lies', 'sites lie')} outside all areas: judged like the others, but the spread and the "
                     f"lines on the map "
                     "are for the areas")
    return pd.Series(names[first], index=sites.index, name="area", dtype="str"), tuple(notes)


def _counted(which: np.ndarray, one: str, many: str) -> str:
    count = int(which.sum())
    return f"{count:,} {one if count == 1 else many}"


def read_backdrop(path: str | Path, *, crs: str | None = None) -> gpd.GeoDataFrame:
    """Lines, outlines or points to show behind the sites, EPSG:4326; all layers, geometry only, empty ones left out.

    Raises
    ------
    InputError
        If the file is no map file or holds nothing.
    """
    return _shapes_of(path, crs, "the backdrop holds nothing to draw", "backdrop")


def read_lines(path: str | Path, *, crs: str | None = None) -> gpd.GeoDataFrame:
    """Lines and outlines along which ground may be divided, EPSG:4326; all layers, geometry only, points and empty ones left out.

    Raises
    ------
    InputError
        If the file is no map file or holds neither lines nor outlines.
    """
    found = _shapes_of(path, crs, "the file of lines holds nothing", "along")
    found = found[(shapely.get_dimensions(found.geometry.to_numpy()) > 0)].reset_index(drop=True)
    if not len(found):
        raise InputError("the file of lines holds only points", where=_called(path), rule=f"lines or outlines in {MAP_FORMATS}",
                         next_step="export the lines, not their corners")
    return found


def _shapes_of(path, crs: str | None, nothing: str, key: str) -> gpd.GeoDataFrame:
    tables = [t for t in read_tables(path) if t.geometry is not None]
    shapes = [in_degrees(t.geometry, t.where, crs) for t in tables]
    shapes = [s[~(s.isna() | s.is_empty)] for s in shapes]
    if not sum(map(len, shapes)):
        raise InputError(nothing, where=_called(path),
                         rule=f"lines or outlines in {MAP_FORMATS}",
                         next_step=f"export it again, or leave {key} out")
    return gpd.GeoDataFrame(geometry=pd.concat(shapes, ignore_index=True), crs="EPSG:4326")
