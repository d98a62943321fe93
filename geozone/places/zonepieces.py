"""Zone outlines against each other and against areas: shared borders, areas cut by a border."""

from __future__ import annotations

from datetime import datetime, timezone

import geopandas
import numpy as np
import pyproj
import shapely

from ..numbers.clock import offsets, rule_text
from .located import column_of, table_in_degrees
from .zoneborders import borders_among
from .zoneshapes import UNITS_PER_DEG, polygons_in, zone_names, zone_number_at

# District outlines and zone outlines are digitised by different hands. What a zone cuts off an
# area is taken for such a difference, and not for another law, when it is this small ...
TINY_SHARE, TINY_KM2 = 0.001, 0.05
# ... or a strip along the border with a mean width (2 * area / outline) below this [m] and below
# a quarter of the area's own mean width ...
STRIP_WIDTH_M = 200.0
# ... or, for outlines that were generalised, when all strips of one clock below this mean width [m] (and below that
# quarter) are together less than this share of the area. Measured on the 3,107 counties of a generalised map of the
# United States (1:10 million): strips reach a mean width of 1,053 m and 2.2 %; what the law cuts off begins at 11 %, and
# one town of 19 km2 is 2,100 m wide. Spanish provinces of the same scale: 312 m and 0.05 %.
SLIVER_WIDTH_M, SLIVER_SHARE = 1500.0, 0.025
_GEOD = pyproj.Geod(ellps="WGS84")


def zone_boundaries(zones: geopandas.GeoDataFrame, year: int | None = None) -> geopandas.GeoDataFrame:
    """Borders that two zones share; coasts and the edges of a clipped map are not among them.

    Parameters
    ----------
    zones : GeoDataFrame
        Columns legal_zone, geometry, as from `zone_polygons`; degrees.
    year : int, optional
        For `same_clock`. Left out: the current year.

    Returns
    -------
    GeoDataFrame, EPSG:4326, a row a pair of neighbours, by name
        zone_a, zone_b (str), same_clock (bool: equal offsets all through the year),
        geometry (MultiLineString).
    """
    year = datetime.now(timezone.utc).year if year is None else year
    names = zones["legal_zone"].to_numpy(dtype=object)
    shapes = zones.geometry.to_numpy()
    segments, owner = [], []
    for number, shape in enumerate(shapes):
        for part in polygons_in(shape):
            for ring in (part.exterior, *part.interiors):
                units = np.rint(shapely.get_coordinates(ring) * UNITS_PER_DEG).astype(np.int64)
                segments.append(np.hstack([units[:-1], units[1:]]))
                owner.append(np.full(len(units) - 1, number))
    rows = []
    if segments:
        borders = borders_among(np.concatenate(segments), np.concatenate(owner),
                                lambda lat_deg, lon_deg: _zone_among(shapes, lat_deg, lon_deg))
        lines = shapely.linestrings(np.stack([borders.start_deg, borders.end_deg], axis=1))
        pairs, of = np.unique(np.column_stack([borders.zone_a, borders.zone_b]), axis=0, return_inverse=True)
        for number, (a, b) in enumerate(pairs):
            merged = shapely.line_merge(shapely.multilinestrings(lines[of.ravel() == number]))
            a, b = sorted((str(names[a]), str(names[b])))
            rows.append((a, b, offsets(a, year).key == offsets(b, year).key,
                         shapely.multilinestrings(shapely.get_parts(merged))))
    rows.sort(key=lambda row: row[:2])
    table = {name: [row[i] for row in rows] for i, name in enumerate(("zone_a", "zone_b", "same_clock"))}
    table["same_clock"] = np.array(table["same_clock"], dtype=bool)
    return geopandas.GeoDataFrame(table, geometry=[row[3] for row in rows], crs="EPSG:4326")


def _zone_among(shapes: np.ndarray, lat_deg: np.ndarray, lon_deg: np.ndarray) -> np.ndarray:
    """Row of the smallest outline that holds each point, -1 for none."""
    lon_deg = np.where(np.abs(lon_deg) > 180, (lon_deg + 180) % 360 - 180, lon_deg)
    found = np.full(len(lat_deg), -1)
    # The largest first, so that where claims overlap the smaller one overwrites it.
    for number in np.argsort(-shapely.area(shapes), kind="stable"):
        w, s, e, n = shapely.bounds(shapes[number])
        near = np.flatnonzero((lon_deg >= w) & (lon_deg <= e) & (lat_deg >= s) & (lat_deg <= n))
        if len(near):
            shapely.prepare(shapes[number])
            found[near[shapely.contains_xy(shapes[number], lon_deg[near], lat_deg[near])]] = number
    return found


def cut_areas(areas: geopandas.GeoDataFrame, zones: geopandas.GeoDataFrame, year: int) -> geopandas.GeoDataFrame:
    """Areas cut where a legal zone ends.

    Parameters
    ----------
    areas : GeoDataFrame
        Column area (str), polygons in any coordinate system.
    zones : GeoDataFrame
        As from `zone_polygons`, over the bounds of the areas at least.
    year : int
        The plan's year, for the clock rule's text.

    Returns
    -------
    GeoDataFrame, EPSG:4326, a row an area and legal zone: areas in their order, larger piece first
        area, legal_zone, clock_rule_text (str), share (of the area's surface, sums to 1), geometry.
        An area without a border in it keeps its outline in one row.

    Notes
    -----
    Not counted as crossed: what a zone cuts off when it is below 0.1 % of the area and below
    0.05 km2; a strip with a mean width below 200 m; strips below 1,500 m if all of one clock are
    together below 2.5 % of the area (both widths: and below a quarter of the area's own): that is
    how far outlines of different origin disagree. Such pieces, and water outside every land zone,
    go with the nearest piece. A street in such a strip still has its own zone in the site list.
    On disputed land, where two outlines overlap, the piece goes where the point look-up puts it.
    """
    named, areas = column_of(areas, "area", "areas"), table_in_degrees(areas, "areas")
    names = zones["legal_zone"].to_numpy(dtype=object)
    shapes = zones.geometry.to_numpy()
    tree = shapely.STRtree(shapes)
    rows = []
    for area, outline in zip(named, areas.geometry):
        touched = tree.query(outline, predicate="intersects")
        pieces = _pieces(outline, {str(names[i]): shapes[i] for i in sorted(touched, key=lambda i: names[i])}, year)
        if not pieces:
            pieces = {_zone_inside(outline): outline}
        sizes = {zone: _square_m(piece) for zone, piece in pieces.items()}
        whole = sum(sizes.values()) or 1.0
        for zone in sorted(pieces, key=lambda zone: (-sizes[zone], zone)):
            rows.append((area, zone, rule_text(offsets(zone, year), year),
                         sizes[zone] / whole if len(pieces) > 1 else 1.0, pieces[zone]))
    table = {name: [row[i] for row in rows] for i, name in
             enumerate(("area", "legal_zone", "clock_rule_text", "share"))}
    table["share"] = np.array(table["share"], dtype=float)
    return geopandas.GeoDataFrame(table, geometry=[row[4] for row in rows], crs="EPSG:4326")


def crossed_areas(pieces: geopandas.GeoDataFrame, year: int) -> list[str]:
    """The areas in which the clock changes at a legal-zone boundary; two zones on one clock are no reason to tell anybody.

    Parameters
    ----------
    pieces : GeoDataFrame
        As from `cut_areas`.
    year : int

    Returns
    -------
    list of str, in order of name
    """
    clock = {zone: offsets(zone, year).key for zone in set(pieces["legal_zone"])}
    of = pieces.groupby("area", sort=True)["legal_zone"]
    return [str(area) for area, zones in of if len({clock[zone] for zone in zones}) > 1]


def _pieces(outline, zones: dict, year: int) -> dict:
    """Legal zone to its piece of the outline; the outline itself when one zone has it all."""
    if len(zones) < 2:
        return dict.fromkeys(zones, outline)
    cut = {zone: polygons_in(shapely.intersection(outline, shape)) for zone, shape in zones.items()}
    cut = {zone: shapely.union_all(parts) for zone, parts in cut.items() if parts}
    _settle_overlaps(cut)

    area_m2, around_m = _size(outline)
    quarter_m = 2 * area_m2 / max(around_m, 1.0) / 4
    kept: dict[str, list] = {}
    narrow: dict[tuple, list] = {}
    for zone, piece in cut.items():
        for part in polygons_in(piece):
            part_m2, part_around_m = _size(part)
            width_m = 2 * part_m2 / max(part_around_m, 1e-9)
            if (part_m2 < TINY_SHARE * area_m2 and part_m2 < TINY_KM2 * 1e6) or width_m < min(STRIP_WIDTH_M, quarter_m):
                continue
            if width_m < min(SLIVER_WIDTH_M, quarter_m):
                narrow.setdefault(offsets(zone, year).key, []).append((zone, part, part_m2))
            else:
                kept.setdefault(zone, []).append(part)
    for strips in narrow.values():
        if sum(part_m2 for _, _, part_m2 in strips) >= SLIVER_SHARE * area_m2:
            for zone, part, _ in strips:
                kept.setdefault(zone, []).append(part)
    if len(kept) < 2:
        # Nothing kept: an outline of slivers only. It goes to the zone with most of it.
        most = list(kept) or sorted(cut, key=lambda zone: (-_square_m(cut[zone]), zone))[:1]
        return dict.fromkeys(most, outline)
    rest = polygons_in(shapely.difference(outline, shapely.union_all(sum(kept.values(), []))))
    solid = {zone: shapely.union_all(parts) for zone, parts in kept.items()}
    # The nearest; where several are, the largest, then the first by name.
    order = sorted(solid, key=lambda zone: (-solid[zone].area, zone))
    of, zone = shapely.STRtree([solid[name] for name in order]).query_nearest(rest, all_matches=True)
    nearest = np.full(len(rest), len(order))
    np.minimum.at(nearest, of, zone)
    for part, number in zip(rest, nearest):
        kept[order[number]].append(part)
    return {zone: shapely.union_all(parts) for zone, parts in kept.items()}


def _settle_overlaps(cut: dict) -> None:
    """Give land that two outlines claim to the one that the point look-up names; in place."""
    zones = sorted(cut)
    for i, a in enumerate(zones):
        for b in zones[i + 1:]:
            for part in polygons_in(shapely.intersection(cut[a], cut[b])):
                loser = a if _zone_inside(part) == b else b
                cut[loser] = shapely.difference(cut[loser], part)


def _zone_inside(shape) -> str:
    point = shapely.point_on_surface(shape)
    return str(zone_names()[int(zone_number_at([point.y], [point.x])[0])])


def _size(shape) -> tuple[float, float]:
    """Surface [m2] and length of the outline [m] on the ellipsoid."""
    surface, around = _GEOD.geometry_area_perimeter(shapely.orient_polygons(shape))
    return abs(surface), around


def _square_m(shape) -> float:
    return sum(_size(part)[0] for part in polygons_in(shape))
