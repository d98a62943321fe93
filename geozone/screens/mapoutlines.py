"""The lines and outlines of the map page: thinned for the screen, cut to the map's surroundings, packed.

Nothing here is untrusted: names travel beside the outlines as plain text and are shown as text.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from ..places.antimeridian import span_deg
from .mapcolumns import STEPS_PER_DEG, steps_of_line

WORLD = Path(__file__).parent / "vendor" / "world" / "countries-50m.json"

#: Vertices that one kind of outline may bring to the page: 40,000 vertices are some 350 kB, of the 4 MB that a page of
#: 50,000 sites may have.
MOST_VERTICES = 40_000

#: The same for the world's outlines, which only say where on Earth one is.
MOST_WORLD_VERTICES = 12_000

#: Legal-zone borders and outlines are first thinned by this much [degree]: some 20 m on the ground, one pixel at the
#: zoom where a whole village fills the window.
FINEST_THINNING_DEG = 0.0002

#: 1:50 million outlines mislead by kilometres; below this size of the map [degree] they are left away.
SMALLEST_WORLD_EXTENT_DEG = 0.6


#: Where the sites' own extent is less than this part of that of their areas, the map opens on the sites.
LITTLE_OF_AREAS = 0.4


class Frame:
    """The map's surroundings: what is seen at first, and on which side of the antimeridian longitudes are counted.

    Attributes
    ----------
    crosses : bool
        True if sites and areas reach over the antimeridian: negative longitudes are then shown 360 degrees higher.
    bounds : tuple of float
        west, south, east, north [degree] of the sites and areas.
    first_view : tuple of float
        The same of what is shown at first: everything, or the sites alone where they fill little of their areas.
    """

    def __init__(self, sites: gpd.GeoDataFrame, areas: gpd.GeoDataFrame):
        west, east = span_deg(sites["lon_deg"], areas.geometry)
        self.crosses = bool(east < west and (east - west) % 360 < 180)
        boxes = [self.unrolled(frame.geometry).total_bounds for frame in (sites, areas) if len(frame)]
        self.first_view = _roomy(boxes[0])
        boxes = np.array([box for box in boxes if np.isfinite(box).all()])
        west, south = boxes[:, :2].min(axis=0)
        east, north = boxes[:, 2:].max(axis=0)
        self.bounds = (float(west), float(south), float(east), float(north))
        if self.extent_deg < _extent_deg(self.first_view):  # no areas: a frame on the outermost sites would be too tight
            self.bounds = self.first_view
        elif _extent_deg(self.first_view) > LITTLE_OF_AREAS * self.extent_deg:
            self.first_view = self.bounds

    def unrolled(self, shapes: gpd.GeoSeries) -> gpd.GeoSeries:
        """The shapes with longitudes counted as this map counts them; empty and missing shapes dropped."""
        shapes = shapes[~(shapes.isna() | shapes.is_empty)]
        if not self.crosses:
            return shapes
        moved = shapely.transform(shapes.to_numpy(), lambda xy: np.column_stack(
            [np.where(xy[:, 0] < 0, xy[:, 0] + 360, xy[:, 0]), xy[:, 1]]))
        # Outlines are cut at the antimeridian; on this map their pieces meet again, without a seam.
        whole = [shapely.union_all(shapely.get_parts(shape)) if shape.geom_type == "MultiPolygon" else shape for shape in moved]
        return gpd.GeoSeries(whole, index=shapes.index, crs=shapes.crs)

    @property
    def extent_deg(self) -> float:
        """The longer side of the bounds [degree]."""
        return _extent_deg(self.bounds)

    def around(self, factor: float) -> tuple[float, float, float, float]:
        """The bounds, grown on every side by `factor` times its longer side (at least 0.2 degree)."""
        west, south, east, north = self.bounds
        margin = max(self.extent_deg * factor, 0.2)
        return west - margin, max(south - margin, -89), east + margin, min(north + margin, 89)


def _extent_deg(box) -> float:
    west, south, east, north = box
    return max(east - west, north - south)


def _roomy(box) -> tuple[float, float, float, float]:
    """A box with a margin of an eighth of its longer side, and never less than 0.01 degree (a kilometre)."""
    margin = max(_extent_deg(box) / 8, 0.01)
    west, south, east, north = (float(side) for side in box)
    return west - margin, south - margin, east + margin, north + margin


def thinned(shapes: gpd.GeoSeries, thinning_deg: float = FINEST_THINNING_DEG, most: int = MOST_VERTICES) -> gpd.GeoSeries:
    """Shapes with as few vertices as the page can carry; corners that matter on the screen stay."""
    result = shapes.simplify(thinning_deg, preserve_topology=True)
    while len(result.get_coordinates()) > most and thinning_deg < 1:
        thinning_deg *= 2
        result = shapes.simplify(thinning_deg, preserve_topology=False)
    return result[~(result.is_empty | result.isna())]


def line_parts(shape) -> list[list[int]]:
    """The packed lines of a shape: of a polygon its rings, of a point nothing."""
    if shape.geom_type.endswith("Polygon"):
        shape = shape.boundary
    lines = [part for part in shapely.get_parts(shape, return_index=False) if part.geom_type in ("LineString", "LinearRing")] \
        if shape.geom_type != "LinearRing" else [shape]
    packed_lines = [steps_of_line(shapely.get_coordinates(line)) for line in lines]
    return [line for line in packed_lines if line]


def rings(shape) -> list[list[list[int]]]:
    """The packed polygons of a shape, each a list of rings, the outer one first."""
    result = []
    for polygon in shapely.get_parts(shape):
        if polygon.geom_type == "Polygon":
            packed_rings = [steps_of_line(shapely.get_coordinates(ring)) for ring in (polygon.exterior, *polygon.interiors)]
            if packed_rings[0]:
                result.append([ring for ring in packed_rings if ring])
    return result


def places_for_a_name(shape, n_across: int = 7) -> list[int]:
    """Points well inside an outline, the roomiest first, as ``[lon, lat, lon, lat, ...]`` in steps of 1e-5 degree."""
    biggest = max(shapely.get_parts(shape), key=lambda part: part.area)
    centre = shapely.get_coordinates(shapely.maximum_inscribed_circle(biggest, tolerance=np.sqrt(biggest.area) / 50))[0]
    west, south, east, north = biggest.bounds
    across = (np.arange(n_across) + 0.5) / n_across
    lon, lat = (axis.ravel() for axis in np.meshgrid(west + across * (east - west), south + across * (north - south)))
    inside = shapely.contains_xy(biggest, lon, lat)
    room = shapely.distance(biggest.boundary, shapely.points(lon[inside], lat[inside]))
    order = np.argsort(-room, kind="stable")
    points = np.vstack([centre, np.column_stack([lon[inside][order], lat[inside][order]])])
    return np.rint(points * STEPS_PER_DEG).astype(np.int64).ravel().tolist()


def areas(table: gpd.GeoDataFrame, frame: Frame) -> list[dict]:
    """Outlines of the areas: name, rings, and places where the name fits."""
    shapes = thinned(frame.unrolled(table.geometry))
    return [{"name": str(table.at[row, "area"]), "rings": rings(shape), "places": places_for_a_name(shape)}
            for row, shape in shapes.items() if shape.geom_type.endswith("Polygon")]


def boundaries(table: gpd.GeoDataFrame, zones: gpd.GeoDataFrame, clock_texts: dict[str, str], frame: Frame) -> list[dict]:
    """Legal-zone borders: each line with the zone on its left and on its right, as one walks along it."""
    shapes = thinned(frame.unrolled(table.geometry))
    polygons = {row.legal_zone: row.geometry for row in zones.assign(geometry=frame.unrolled(zones.geometry)).itertuples()
                if row.geometry is not None}
    result = []
    for row, shape in shapes.items():
        names = (str(table.at[row, "zone_a"]), str(table.at[row, "zone_b"]))
        merged = shapely.line_merge(shape)
        for line in shapely.get_parts(merged):
            packed_line = steps_of_line(shapely.get_coordinates(line))
            if packed_line:
                left, right = _sides(line, names, polygons)
                result.append({"line": packed_line, "same_clock": bool(table.at[row, "same_clock"]),
                               "left": [left, clock_texts.get(left, "")], "right": [right, clock_texts.get(right, "")]})
    return result


def _sides(line, names: tuple[str, str], polygons: dict) -> tuple[str, str]:
    """Which of two zones lies left of a line: the one that holds more of the points just left of it."""
    votes = 0
    for along in (0.1, 0.3, 0.5, 0.7, 0.9):
        here, ahead = (shapely.get_coordinates(line.interpolate(min(along + step, 1.0), normalized=True))[0] for step in (0, 1e-3))
        direction = ahead - here
        length = np.hypot(*direction)
        if length > 0:
            left = shapely.Point(here + np.array([-direction[1], direction[0]]) / length * 1e-3)
            votes += sum(sign for name, sign in zip(names, (1, -1)) if name in polygons and polygons[name].contains(left))
    return names if votes >= 0 else names[::-1]


def drift_lines(table: gpd.GeoDataFrame, frame: Frame) -> list[dict]:
    """Lines of equal drift and of equal dusk with their labels; the tolerance line last, so that it is drawn on top."""
    shapes = thinned(frame.unrolled(table.geometry))
    kinds = table["kind"].reindex(shapes.index).map({"dusk": 0, "drift": 1, "tolerance": 2}).sort_values(kind="stable")
    return [{"kind": str(table.at[row, "kind"]), **_said(str(table.at[row, "kind"]), str(table.at[row, "label"])),
             "lines": line_parts(shapes[row])} for row in kinds.index]


def _said(kind: str, label: str) -> dict[str, str]:
    """A line's label, and what stands small below it: the date and clock of a dusk."""
    first, _, rest = label.partition(" on ") if kind == "dusk" else (label, "", "")
    return {"label": first, "more": rest}


def backdrop(table: gpd.GeoDataFrame | None, frame: Frame) -> list[list[int]]:
    """The user's own drawing, cut to the map's surroundings, as lines."""
    if table is None or not len(table):
        return []
    shapes = frame.unrolled(table.geometry)
    outlines = shapes.where(~shapes.geom_type.isin(["Polygon", "MultiPolygon"]), shapes.boundary)
    cut = outlines.clip_by_rect(*frame.around(0.5))
    return [line for shape in thinned(cut[~cut.is_empty]) for line in line_parts(shape)]


def world(frame: Frame) -> list[list[list[int]]]:
    """Land around the map, country by country, from 1:50 million outlines; nothing for a map the size of a town."""
    if frame.extent_deg < SMALLEST_WORLD_EXTENT_DEG:
        return []
    west, south, east, north = frame.around(4)
    # Longitudes of the window and of the land may be counted differently: the land is looked for at every turn.
    cut = []
    for turn in (-360.0, 0.0, 360.0):
        box = shapely.box(west - turn, south, east - turn, north)
        near = _countries()[shapely.intersects(shapely.box(*_countries().bounds.to_numpy().T), box)]
        cut.append(near.clip_by_rect(*box.bounds).translate(turn))
    cut = pd.concat(cut)
    coarse = thinned(cut[~cut.is_empty], thinning_deg=frame.extent_deg / 3000, most=MOST_WORLD_VERTICES)
    return [polygon for shape in coarse for polygon in rings(shape)]


@lru_cache(maxsize=1)
def _countries() -> gpd.GeoSeries:
    """Every country's land, its outlines running on across the antimeridian instead of back round the Earth."""
    table = gpd.read_file(WORLD, layer="countries", engine="pyogrio")
    return gpd.GeoSeries([shapely.union_all([_running_on(part) for part in shapely.get_parts(shape)]) for shape in table.geometry], crs="EPSG:4326")


def _running_on(polygon: shapely.Polygon) -> shapely.Geometry:
    """A polygon whose outline jumps from one side of the antimeridian to the other, in one piece.

    The file has Russia, Fiji and Antarctica so. Read as plain figures the jump is a line round the Earth, with land on its
    wrong side. A ring that ends a whole turn away goes round a pole, and is closed over it.
    """
    rings = []
    for ring in (polygon.exterior, *polygon.interiors):
        at = shapely.get_coordinates(ring)
        lon = np.unwrap(at[:, 0], period=360.0)
        if abs(lon[-1] - lon[0]) > 180.0:
            pole = np.copysign(90.0, at[:, 1].mean())
            lon, lat = np.r_[lon, lon[-1], lon[0]], np.r_[at[:, 1], pole, pole]
        else:
            lat = at[:, 1]
        rings.append(np.column_stack([lon, lat]))
    # A few outlines cross themselves: mended, so that they can be cut.
    return shapely.make_valid(shapely.Polygon(rings[0], rings[1:]))
