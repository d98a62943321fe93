"""Zones put together from cells, with borders of few corners instead of steps."""

from __future__ import annotations

import numpy as np
import shapely

from .groundcells import GroundCells
from .outlines import shared_line

# Corners nearer to each other than this are one [degree]: a tenth of a millimetre.
_GRID_DEG = 1e-9


def put_together(cells: GroundCells, of_cell: np.ndarray) -> dict[int, shapely.Geometry]:
    """The ground of each setting, so that neighbours have all corners of their border in common.

    Parameters
    ----------
    cells : GroundCells
    of_cell : (n,) int64
        Its setting.

    Returns
    -------
    dict of int to Polygon or MultiPolygon
    """
    numbers = np.unique(of_cell)
    shapes = [shapely.union_all(cells.shapes[of_cell == number], grid_size=_GRID_DEG) for number in numbers]
    if len(shapes) == 1:
        return {int(numbers[0]): shapes[0]}
    # Where cells of two sizes meet, a corner of one lies in the middle of the other's side.
    lines = shapely.union_all([shapely.boundary(shape) for shape in shapes], grid_size=_GRID_DEG)
    faces = np.array(shapely.get_parts(shapely.polygonize(shapely.get_parts(lines))), dtype=object)
    inner = shapely.point_on_surface(faces)
    face, shape = shapely.STRtree(shapes).query(inner, predicate="intersects")
    return {int(numbers[one]): shapely.coverage_union_all(faces[face[shape == one]]) for one in range(len(shapes))}


def straightened(shapes: dict[int, shapely.Geometry], step_deg: float) -> dict[int, shapely.Geometry] | None:
    """The same zones with straighter borders; the outer edge stays as it is.

    Parameters
    ----------
    shapes : dict
        As `put_together` makes it.
    step_deg : float
        About the square root of the area that a corner may cut off [degree].

    Returns
    -------
    dict or None
        None if they do not fit each other corner by corner, or if a zone came to nothing.
    """
    found = np.array(list(shapes.values()), dtype=object)
    if len(found) < 2 or not shapely.coverage_is_valid(found):
        return None
    found = shapely.coverage_simplify(found, step_deg, simplify_boundary=False)
    if shapely.is_empty(found).any() or not shapely.is_valid(found).all():
        return None
    return dict(zip(shapes, found, strict=True))


def border_lines(outlines) -> list[tuple[int, int, np.ndarray]]:
    """Borders between zones as lines.

    Parameters
    ----------
    outlines : sequence of Polygon or MultiPolygon

    Returns
    -------
    list of (int, int, (k, 2) array)
        Two zones, and a line between them: longitude and latitude of its corners [degree]. Coasts and the outer edge are none.
    """
    outlines = np.array(list(outlines), dtype=object)
    edges = [shapely.boundary(one) for one in outlines]
    found = []
    for i, j in sorted(zip(*shapely.STRtree(outlines).query(outlines, predicate="intersects"), strict=True)):
        if i < j:
            for line in shapely.get_parts(shared_line(edges[i], edges[j])):
                found.append((int(i), int(j), shapely.get_coordinates(line)))
    return found
