"""The fewest rectangles between meridians and parallels for a ground, when all that counts is how wide each band of latitudes may be.

The ground is cut into blocks along meridians, each block into bands along parallels, each band into rectangles. Of all such
layouts the one with the fewest rectangles is found; layouts that are not made by cuts from edge to edge are not looked at.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .groundcells import GroundCells

# Of as many rectangles the layout with the fewest cuts is taken: a cut costs so much of a rectangle.
_RECTANGLE, _CUT = 10_000, 1


@dataclass(frozen=True, eq=False)
class Mesh:
    """A ground on a mesh of meridians and parallels.

    Attributes
    ----------
    step_deg : float
        Between lines [degree].
    west_deg, south_deg : float
        Where the first column and the first row begin.
    west, east, south, north : (n_row, n_column) float64 [degree]
        How far the ground reaches in each cell; NaN where there is none.
    """

    step_deg: float
    west_deg: float
    south_deg: float
    west: np.ndarray
    east: np.ndarray
    south: np.ndarray
    north: np.ndarray

    @classmethod
    def of(cls, cells: GroundCells) -> "Mesh":
        """The mesh of cells that are all of one size."""
        side = int(cells.boxes[0, 2])
        columns, rows = ((cells.boxes[:, axis] - cells.boxes[:, axis].min()) // side for axis in (0, 1))
        lat, lon = cells.corners()
        values = []
        for one in (lon[:, 0], lon[:, 1], lat[:, 0], lat[:, 2]):
            table = np.full((int(rows.max()) + 1, int(columns.max()) + 1), np.nan)
            table[rows, columns] = one
            values.append(table)
        return cls(side * cells.unit_deg, float(cells.boxes[:, 0].min() * cells.unit_deg), float(cells.boxes[:, 1].min() * cells.unit_deg), *values)

    @property
    def filled(self) -> np.ndarray:
        """(n_row, n_column) bool: cells with ground."""
        return ~np.isnan(self.west)

    def sides(self, rows: tuple[int, int], columns: tuple[int, int]) -> tuple[float, float, float, float]:
        """West, south, east and north side of a rectangle of cells, ends not included [degree]."""
        west, east = (round(self.west_deg + one * self.step_deg, 9) for one in columns)
        south, north = (round(self.south_deg + one * self.step_deg, 9) for one in rows)
        return west, south, east, north


@dataclass(frozen=True)
class Rectangle:
    """Rows and columns of a mesh, ends not included."""

    rows: tuple[int, int]
    columns: tuple[int, int]


def fewest_rectangles(mesh: Mesh, widest_deg: np.ndarray) -> list[Rectangle] | None:
    """The layout with the fewest rectangles.

    Parameters
    ----------
    mesh : Mesh
    widest_deg : (n_row, n_row) float64
        How far west to east the ground may reach in a rectangle of the rows from the first to the second, both included [degree];
        negative where none will do. Never wider for more rows.

    Returns
    -------
    list of Rectangle or None
        Together they hold all cells with ground, each has some; None where a cell is too wide by itself.
    """
    n_row, n_column = mesh.west.shape
    cost = {band: _in_band(mesh, band[0], band[1], float(widest_deg[band])) for band in _bands(mesh, widest_deg)}
    # Least cost of the rows south of each line, for every block of columns from the first to the second.
    never = np.int64(_RECTANGLE) * n_row * n_column
    least = np.full((n_row + 1, n_column, n_column + 1), never)
    before = np.zeros((n_row + 1, n_column, n_column + 1), np.int16)
    least[0] = 0
    for last in range(n_row):
        for first in range(last, -1, -1):
            if (first, last) not in cost:
                break
            new = least[first] + cost[first, last] + _CUT
            better = new < least[last + 1]
            least[last + 1][better] = new[better]
            before[last + 1][better] = first
    whole = np.full(n_column + 1, never)
    begins = np.zeros(n_column + 1, int)
    whole[0] = 0
    for end in range(1, n_column + 1):
        costs = whole[:end] + least[n_row, :end, end] + _CUT
        begins[end] = int(costs.argmin())
        whole[end] = costs[begins[end]]
    if whole[n_column] >= never:
        return None
    found: list[Rectangle] = []
    end = n_column
    while end > 0:
        begin, north = int(begins[end]), n_row
        while north > 0:
            south = int(before[north, begin, end])
            found += [Rectangle((south, north), columns) for columns in _columns(mesh, south, north - 1, float(widest_deg[south, north - 1]), begin, end)]
            north = south
        end = begin
    return found


def _bands(mesh: Mesh, widest_deg: np.ndarray):
    """Rows, first and last, in which every cell with ground is narrow enough by itself."""
    n_row = len(mesh.west)
    for first in range(n_row):
        for last in range(first, n_row):
            ground = mesh.filled[first:last + 1].any(axis=0)
            west, east = _reach(mesh, first, last)
            if ground.any() and (east[ground] - west[ground]).max() > widest_deg[first, last]:
                break
            yield first, last


def _reach(mesh: Mesh, first: int, last: int) -> tuple[np.ndarray, np.ndarray]:
    """How far west and how far east the ground of each column reaches; infinite where there is none."""
    filled = mesh.filled[first:last + 1]
    return (np.where(filled, mesh.west[first:last + 1], np.inf).min(axis=0), np.where(filled, mesh.east[first:last + 1], -np.inf).max(axis=0))


def _ends(west: np.ndarray, east: np.ndarray, widest_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """The first column with ground from each on, n_column for none; and the column before which a rectangle that begins there must end."""
    n_column = len(west)
    ground = np.append(np.isfinite(west), True)
    begins = np.minimum.accumulate(np.where(ground, np.arange(n_column + 1), n_column)[::-1])[::-1]
    reach = np.maximum.accumulate(east)
    ends = np.searchsorted(reach, np.append(west, np.inf)[begins] + widest_deg + 1e-9, side="right")
    return begins, np.where(begins < n_column, ends, n_column)


def _in_band(mesh: Mesh, first: int, last: int, widest_deg: float) -> np.ndarray:
    """(n_column, n_column + 1): cost of the rectangles that a band needs between two columns."""
    n_column = mesh.west.shape[1]
    begins, ends = _ends(*_reach(mesh, first, last), widest_deg)
    count = np.zeros((n_column, n_column + 1), np.int64)
    at = begins[:-1]
    while (at < n_column).any():
        count += at[:, None] < np.arange(n_column + 1)[None, :]
        at = begins[ends[at]]
    return count * _RECTANGLE


def _columns(mesh: Mesh, first: int, last: int, widest_deg: float, begin: int, end: int):
    """Columns of the rectangles of a band, from west to east, the last no farther than the block."""
    begins, ends = _ends(*_reach(mesh, first, last), widest_deg)
    at = int(begins[begin])
    while at < end:
        stop = min(int(ends[at]), end)
        # Up to the next one's first column nothing lies between: that ground is none.
        yield at, stop
        at = int(begins[stop])
