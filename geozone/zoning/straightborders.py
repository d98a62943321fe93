"""Zones put together from cells, faces between lines, and the borders that zones share."""

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
    found = joined_faces(noded_boundaries(shapes), dict(zip(numbers.tolist(), shapes, strict=True)))
    if found is None:
        raise ValueError("cells put together leave a zone without ground")
    return found


def noded_boundaries(shapes) -> shapely.Geometry:
    """Boundaries of shapes as lines with a corner wherever two meet.

    Where cells of two sizes meet, a corner of one lies in the middle of the other's side.
    """
    return shapely.union_all([shapely.boundary(shape) for shape in shapes], grid_size=_GRID_DEG)


def joined_faces(lines, shapes: dict[int, shapely.Geometry]) -> dict[int, shapely.Geometry] | None:
    """The faces between lines, put together by the shape in which each lies; None if one of the shapes has no face."""
    numbers, outlines = list(shapes), list(shapes.values())
    faces = np.array(shapely.get_parts(shapely.polygonize(shapely.get_parts(lines))), dtype=object)
    inner = shapely.point_on_surface(faces)
    face, shape = shapely.STRtree(outlines).query(inner, predicate="intersects")
    if set(shape.tolist()) != set(range(len(outlines))):
        return None
    return {numbers[one]: shapely.coverage_union_all(faces[face[shape == one]]) for one in range(len(outlines))}


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
