"""Names on the map frame: placed where they cover no sign and no other name, or listed beside the map."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from .fonts import LINE, width_mm
from .sizes import Box

#: Side of a cell of the grid that knows what is taken [mm].
_CELL_MM = 0.4


@dataclass(frozen=True)
class Wanted:
    """A name and where it may stand.

    Attributes
    ----------
    text : str
    kind : str
        "group", "area", "line", "border" or "site": how it is set.
    places : sequence of (float, float)
        Middles that would do [mm on the sheet], the best first.
    size_mm : float
    bold : bool
    beside : bool
        True for the name of a sign: tried around each place rather than on it.
    """

    text: str
    kind: str
    places: Sequence[tuple[float, float]]
    size_mm: float
    bold: bool = False
    beside: bool = False


@dataclass(frozen=True)
class Label:
    """A name with its place: `box` is what its letters take."""

    text: str
    kind: str
    box: Box
    size_mm: float
    bold: bool


@dataclass
class _Taken:
    """Which cells of the frame are taken."""

    frame: Box
    cells: np.ndarray = field(init=False)

    def __post_init__(self):
        self.cells = np.zeros((int(np.ceil(self.frame.height / _CELL_MM)), int(np.ceil(self.frame.width / _CELL_MM))), dtype=bool)

    def _cells(self, boxes: np.ndarray) -> np.ndarray:
        """First and last-but-one column and row (n, 4) of what boxes (n, 4: left, upper, right, lower edge) [mm] touch."""
        at = (boxes - [self.frame.x, self.frame.y] * 2) / _CELL_MM
        cells = np.concatenate([np.floor(at[:, :2]), np.ceil(at[:, 2:])], axis=1).astype(np.int64)
        return np.clip(cells, 0, [*self.cells.shape[::-1]] * 2)

    def take(self, boxes: np.ndarray) -> None:
        for x0, y0, x1, y1 in self._cells(boxes).tolist():
            self.cells[y0:y1, x0:x1] = True

    def settle(self) -> None:
        """Count what is taken by now, so that most boxes are refused at a glance."""
        self._sums = np.zeros(np.add(self.cells.shape, 1), dtype=np.int32)
        np.cumsum(np.cumsum(self.cells, axis=0, dtype=np.int32), axis=1, out=self._sums[1:, 1:])

    def first_free(self, boxes: np.ndarray) -> int | None:
        """Place of the first box that lies in the frame and on nothing taken."""
        frame = self.frame
        inside = (boxes[:, 0] >= frame.x) & (boxes[:, 1] >= frame.y) & (boxes[:, 2] <= frame.right) & (boxes[:, 3] <= frame.bottom)
        cells, sums = self._cells(boxes), self._sums
        x0, y0, x1, y1 = cells.T
        open_to = inside & (sums[y1, x1] - sums[y0, x1] - sums[y1, x0] + sums[y0, x0] == 0)
        for place in np.flatnonzero(open_to).tolist():
            x0, y0, x1, y1 = cells[place]
            if not self.cells[y0:y1, x0:x1].any():
                return place
        return None


def placed(wanted: Sequence[Wanted], frame: Box, signs_mm: np.ndarray, sign_radius_mm: float,
           covered: Sequence[Box] = ()) -> tuple[list[Label], list[Wanted]]:
    """Place names in the order given; the first come first.

    Parameters
    ----------
    wanted : sequence of Wanted
    frame : Box
        No letter leaves it.
    signs_mm : (n, 2) ndarray
        Middles of signs that no letter may cover [mm on the sheet].
    sign_radius_mm : float
    covered : sequence of Box
        What else no letter may stand on.

    Returns
    -------
    labels : list of Label
        No two boxes overlap, none covers a sign or leaves the frame.
    left : list of Wanted
        Names without room.
    """
    taken = _Taken(frame)
    middles = np.asarray(signs_mm, dtype=float).reshape(-1, 2)
    shown = (middles[:, 0] >= frame.x) & (middles[:, 0] <= frame.right) & (middles[:, 1] >= frame.y) & (middles[:, 1] <= frame.bottom)
    middles = np.unique(np.round(middles[shown], 2), axis=0)
    taken.take(np.concatenate([middles - sign_radius_mm - 0.005, middles + sign_radius_mm + 0.005], axis=1))
    taken.take(np.array([[box.x, box.y, box.right, box.bottom] for box in covered]).reshape(-1, 4))
    taken.settle()
    labels, left = [], []
    for one in wanted:
        box = _place(one, taken, sign_radius_mm)
        if box is None:
            left.append(one)
        else:
            taken.take(np.array([[box.x - 0.3, box.y - 0.3, box.right + 0.3, box.bottom + 0.3]]))
            labels.append(Label(one.text, one.kind, box, one.size_mm, one.bold))
    return labels, left


def _place(one: Wanted, taken: _Taken, sign_radius_mm: float) -> Box | None:
    width, height = width_mm(one.text, one.size_mm, one.bold), one.size_mm * LINE
    shifts = np.array(list(_around(one, width, height, sign_radius_mm)))
    places = np.asarray(one.places, dtype=float).reshape(-1, 2)
    # A place that the projection does not have is none.
    places = places[np.isfinite(places).all(axis=1)]
    corner = (places[:, None, :] + shifts - [width / 2, height / 2]).reshape(-1, 2)
    place = taken.first_free(np.concatenate([corner, corner + [width, height]], axis=1))
    return None if place is None else Box(float(corner[place, 0]), float(corner[place, 1]), width, height)


def _around(one: Wanted, width: float, height: float, sign_radius_mm: float):
    """Shifts of the middle to try, the nearest first."""
    if not one.beside:
        # On the place itself, then spiralling outwards by half its height.
        yield 0.0, 0.0
        for ring in range(1, 5):
            for angle in range(0, 360, 45):
                yield ring * 0.5 * height * np.cos(np.radians(angle)), ring * 0.5 * height * np.sin(np.radians(angle))
        return
    gap = sign_radius_mm + 0.5
    for side in (1, -1):
        yield side * (gap + width / 2), 0.0
    for side in (-1, 1):
        yield 0.0, side * (gap + height / 2)
    for x, y in ((1, -1), (1, 1), (-1, -1), (-1, 1)):
        yield x * (gap + width / 2) * 0.95, y * (gap + height / 2) * 0.9
