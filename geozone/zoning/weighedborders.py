"""Borders that would rather run along given lines, such as outlines of districts or roads, than across open ground.

Cells are split where a line runs through them, so that a border can follow it, and a kilometre along a line counts less. Where borders
are made straight afterwards, what lies on a line stays on it.
"""

from __future__ import annotations

import numpy as np
import shapely

from ..places.zoneshapes import polygons_in
from .groundcells import GroundCells
from .outlines import geodesic_km
from .straightborders import border_lines, joined_faces, noded_boundaries
from .zones import ZonePlan

#: What a kilometre of border along a line counts for.
ALONG = 0.2
# What is nearer to a line than this lies on it [degree]: a centimetre. A part of a cell smaller than this is rounding's [square degree].
_ON_DEG, _CRUMB_DEG2 = 1e-7, 1e-10
# A corner nearer than this to the line between its neighbours is none: a millimetre.
_SAME_DEG = 1e-8
_EDGE, _ON, _FREE = range(3)
_KM_PER_DEG = 111.195


def lines_of(pieces, along=None) -> np.ndarray:
    """(n,) array of LineString: borders between outlines, coasts and outer edges among them, and further lines, in segments [degree].

    Parameters
    ----------
    pieces : (m,) array of Polygon or MultiPolygon
    along : iterable of shapely geometry, optional
        Of a surface its outline counts.
    """
    found = list(shapely.boundary(np.asarray(pieces, dtype=object)))
    found += [shapely.boundary(one) if one.geom_type.endswith("Polygon") else one for one in (along if along is not None else ())]
    parts = shapely.get_parts(np.array(found, dtype=object))
    return parts[shapely.length(parts) > 0]


def split_cells(cells: GroundCells, member: np.ndarray, lines: np.ndarray) -> tuple[GroundCells, np.ndarray]:
    """Cells, in parts where lines run through them; a part is served by what serves its cell.

    Parameters
    ----------
    cells : GroundCells
    member : (n, n_setting) bool
    lines : (m,) array of LineString

    Returns
    -------
    cells : GroundCells
        The boxes of parts are those of their cells.
    member : (n_part, n_setting) bool
    """
    cell, line = shapely.STRtree(lines).query(cells.shapes, predicate="intersects") if len(lines) else (np.empty(0, int),) * 2
    parts: dict[int, list] = {}
    for number in np.unique(cell):
        faces = _faces(cells.shapes[number], lines[line[cell == number]])
        if len(faces) > 1:
            parts[int(number)] = faces
    rows = np.repeat(np.arange(len(cells.boxes)), [len(parts.get(one, (0,))) for one in range(len(cells.boxes))])
    shapes = [part for one, shape in enumerate(cells.shapes) for part in parts.get(one, (shape,))]
    return GroundCells(cells.unit_deg, cells.boxes[rows], np.array(shapes, dtype=object)), member[rows]


def _faces(shape, lines) -> list:
    """Parts of a cell's ground between lines; the whole alone where they leave crumbs, for those would be lost."""
    inner = [part for part in shapely.get_parts(shapely.intersection(lines, shape)) if part.geom_type == "LineString"]
    if not inner:
        return [shape]
    edges = shapely.union_all([shapely.boundary(shape), *inner])
    faces = np.array(shapely.get_parts(shapely.polygonize(shapely.get_parts(edges))), dtype=object)
    faces = faces[shapely.intersects(shape, shapely.point_on_surface(faces))]
    whole = len(faces) and shapely.area(faces).min() > _CRUMB_DEG2 and abs(shapely.area(faces).sum() - shape.area) < _CRUMB_DEG2
    return list(faces) if whole else [shape]


def weighed(cells: GroundCells, pairs: np.ndarray, length_km: np.ndarray, lines: np.ndarray) -> np.ndarray:
    """(m,) float64: what the side that two neighbours share counts for [km]; pairs and lengths as `neighbours` gives them."""
    if not len(pairs) or not len(lines):
        return length_km
    box = cells.boxes
    i, j = pairs.T
    counted = length_km.copy()
    # Two parts of one cell have nothing but lines between them.
    same = (box[i] == box[j]).all(axis=1)
    for row in np.flatnonzero(same):
        shared = shapely.intersection(cells.shapes[i[row]], cells.shapes[j[row]])
        counted[row] = _km(shared)
    low, high = np.maximum(box[i, :2], box[j, :2]), np.minimum(box[i, :2] + box[i, 2:], box[j, :2] + box[j, 2:])
    middle = shapely.points(0.5 * (low + high) * cells.unit_deg)
    on = same.copy()
    on[np.unique(shapely.STRtree(lines).query(middle, predicate="dwithin", distance=_ON_DEG)[0])] |= True
    return np.where(on, ALONG * counted, counted)


def along_km(plan: ZonePlan, pieces, along=None) -> float:
    """How much of the borders between zones runs along outlines or given lines [km].

    Parameters
    ----------
    plan : ZonePlan
    pieces : GeoDataFrame
        As of `freezones.free_zones_of`, and so is `along`.
    """
    near = shapely.buffer(shapely.union_all(lines_of(pieces.geometry, along)), _ON_DEG)
    return sum(geodesic_km(shapely.intersection(shapely.LineString(corners), near)) for _, _, corners in border_lines([zone.outline for zone in plan.zones]))


def _km(line) -> float:
    """Length on the ground, roughly: what borders are weighed by."""
    found = 0.0
    for part in shapely.get_parts(line):
        at = shapely.get_coordinates(part)
        step = np.diff(at, axis=0)
        found += float(np.hypot(step[:, 0] * np.cos(np.radians(0.5 * (at[1:, 1] + at[:-1, 1]))), step[:, 1]).sum())
    return found * _KM_PER_DEG


def straightened(shapes: dict[int, shapely.Geometry], step_deg: float, lines: np.ndarray) -> dict[int, shapely.Geometry] | None:
    """The same zones with straighter borders where these lie on no line.

    Parameters
    ----------
    shapes : dict
        As `put_together` makes it.
    step_deg : float
        How far a border may move [degree].
    lines : (m,) array of LineString

    Returns
    -------
    dict or None
        None if the borders would cross each other, or a zone came to nothing.
    """
    ends, kind = _segments(noded_boundaries(shapes.values()), list(shapes.values()), lines)
    # What lies on a line keeps its corners, but not those that the sides of cells made on it.
    straight = [shapely.simplify(shapely.LineString(at), step, preserve_topology=False)
                for one, step in ((_ON, _SAME_DEG), (_FREE, step_deg)) for at in _chains(ends, kind == one)]
    found = joined_faces(shapely.union_all([*shapely.linestrings(ends[kind == _EDGE]), *straight]), shapes)
    if found is None or _parts_and_area(found)[0] != _parts_and_area(shapes)[0] or not np.isclose(_parts_and_area(found)[1], _parts_and_area(shapes)[1], rtol=1e-9):
        return None
    return found


def _parts_and_area(shapes: dict[int, shapely.Geometry]) -> tuple[int, float]:
    return sum(len(polygons_in(one)) for one in shapes.values()), sum(one.area for one in shapes.values())


def _segments(edges, outlines, lines) -> tuple[np.ndarray, np.ndarray]:
    """(n, 2, 2) ends of all segments of borders and edges, and (n,) what each is: an edge, or a border on a line or on none."""
    parts = [shapely.get_coordinates(part) for part in shapely.get_parts(edges)]
    ends = np.concatenate([np.stack([one[:-1], one[1:]], axis=1) for one in parts])
    middle = shapely.points(ends.mean(axis=1))
    beside = np.bincount(shapely.STRtree(outlines).query(middle, predicate="dwithin", distance=_ON_DEG)[0], minlength=len(ends))
    kind = np.where(beside >= 2, _FREE, _EDGE)
    on = np.unique(shapely.STRtree(lines).query(middle, predicate="dwithin", distance=_ON_DEG)[0])
    kind[on] = np.where(kind[on] == _FREE, _ON, _EDGE)
    return ends, kind


def _chains(ends: np.ndarray, chosen: np.ndarray) -> list[np.ndarray]:
    """Segments of one kind put together to lines between corners that must stay: where three meet, or one comes to another kind."""
    vertices, of = np.unique(ends.reshape(-1, 2), axis=0, return_inverse=True)
    of = of.reshape(-1, 2)
    degree = np.bincount(of.ravel(), minlength=len(vertices))
    mine: dict[int, list[int]] = {}
    segments: list[int] = np.flatnonzero(chosen).tolist()
    for segment in segments:
        for vertex in of[segment]:
            mine.setdefault(int(vertex), []).append(segment)
    passes = {vertex for vertex, here in mine.items() if len(here) == 2 and degree[vertex] == 2}
    left = set(segments)
    found: list[list[int]] = []

    def walk(vertex: int, segment: int) -> list[int]:
        path = [vertex]
        while True:
            left.discard(segment)
            a, b = of[segment]
            vertex = int(b if a == vertex else a)
            path.append(vertex)
            onward = [one for one in mine[vertex] if one in left] if vertex in passes else []
            if not onward:
                return path
            segment = onward[0]

    for vertex in sorted(set(mine) - passes):
        for segment in mine[vertex]:
            if segment in left:
                found.append(walk(vertex, segment))
    while left:  # rings that touch nothing else
        segment = min(left)
        found.append(walk(int(of[segment, 0]), segment))
    return [vertices[path] for path in found]
