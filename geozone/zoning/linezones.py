"""Lighting zones made of the pieces into which lines, such as main roads or feeders, divide the outlines."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import shapely

from ..errors import InputError
from ..places.zoneshapes import polygons_in
from ..trade.basis import Basis
from .zones import ZonePlan, ZonesRefusedError, checked_outlines, zones_of

#: More pieces than this are no help to anybody who divides a district.
MOST_PIECES = 3000
# A face smaller than this is what rounding left between two lines [square degree].
_CRUMB_DEG2 = 1e-12


def line_pieces(pieces: gpd.GeoDataFrame, lines) -> tuple[gpd.GeoDataFrame, np.ndarray]:
    """Outlines divided along lines.

    Parameters
    ----------
    pieces : GeoDataFrame
        As `ground_units` makes it: area, legal_zone, geometry.
    lines : sequence of shapely geometry
        Degrees; of a surface its outline counts, a point divides nothing. A line that ends within an outline divides only what it closes off.

    Returns
    -------
    divided : GeoDataFrame
        area, legal_zone, geometry.
    piece : (n,) int64
        The row of `pieces` that each is a part of.

    Raises
    ------
    InputError
        If there is nothing that could divide; `ZonesRefusedError` for more than `MOST_PIECES` pieces.
    """
    lines = [shapely.boundary(one) if one.geom_type.endswith("Polygon") else one for one in shapely.get_parts(np.array(list(lines), dtype=object))]
    lines = [one for one in lines if one.geom_type in ("LineString", "LinearRing", "MultiLineString") and one.length > 0]
    if not lines:
        raise InputError("the layer of lines holds no line", rule="[zones] along names a file with lines or outlines", next_step="name another file, or take along out")
    tree, faces, of = shapely.STRtree(lines), [], []
    for row, shape in enumerate(pieces.geometry):
        mine = [lines[one] for one in np.sort(tree.query(shape, predicate="intersects"))]
        edges = shapely.union_all([shapely.boundary(shape), *(shapely.intersection(one, shape) for one in mine)])
        parts = shapely.get_parts(shapely.polygonize(shapely.get_parts(edges))) if mine else np.array(list(polygons_in(shape)), dtype=object)
        inside = shapely.intersects(shape, shapely.point_on_surface(parts)) & (shapely.area(parts) > _CRUMB_DEG2)
        # Islands stay with what is left of their outline where no line comes: an outline that no line divides is one piece.
        touched = inside & np.array([any(shapely.intersection(one, part).length > 0 for one in mine) for part in parts], dtype=bool)
        whole = [shapely.MultiPolygon(list(parts[inside & ~touched]))] if (inside & ~touched).any() else []
        for face in (*parts[touched], *whole):
            faces.append(face)
            of.append(row)
    if len(faces) > MOST_PIECES:
        raise ZonesRefusedError("the lines divide the outlines into too many pieces", value=f"{len(faces):,} pieces", rule=f"{MOST_PIECES:,} at most",
                                 next_step="keep only main roads or other long lines in the file, or give fewer outlines")
    rows = np.array(of, dtype=np.int64)
    divided = pieces.iloc[rows][["area", "legal_zone"]].reset_index(drop=True)
    return gpd.GeoDataFrame(divided, geometry=faces, crs=pieces.crs), rows


def line_zones_of(pieces: gpd.GeoDataFrame, basis: Basis, *, lines, time_limit_s: float = 30.0) -> ZonePlan:
    """The fewest settings such that each piece between outlines and lines has one that serves every point of it.

    Parameters
    ----------
    pieces : GeoDataFrame
        As `ground_units` makes it.
    basis : Basis
    lines : sequence of shapely geometry
        As of `line_pieces`.
    time_limit_s : float [second]

    Returns
    -------
    ZonePlan
        Rows of zones and of unserved ground are those of `pieces`.

    Raises
    ------
    InputError
        As `line_pieces` and `zones_of`.
    """
    checked_outlines(pieces)
    divided, of = line_pieces(pieces, lines)
    plan = zones_of(divided, basis, time_limit_s=time_limit_s)
    zones = tuple(replace(zone, pieces=tuple(np.unique(of[list(zone.pieces)]).tolist())) for zone in plan.zones)
    unserved = tuple(replace(one, piece=int(of[one.piece])) for one in plan.unserved)
    return replace(plan, by="lines", zones=zones, unserved=tuple(sorted(unserved, key=lambda one: one.piece)), zone_of_piece=np.full(len(pieces), "", dtype=object))
