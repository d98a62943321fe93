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

    def _slices(self, box: Box):
        x0, y0 = (box.x - self.frame.x) / _CELL_MM, (box.y - self.frame.y) / _CELL_MM
        x1, y1 = (box.right - self.frame.x) / _CELL_MM, (box.bottom - self.frame.y) / _CELL_MM
        return slice(max(int(np.floor(y0)), 0), int(np.ceil(y1))), slice(max(int(np.floor(x0)), 0), int(np.ceil(x1)))

    def free(self, box: Box) -> bool:
        inside = box.x >= self.frame.x and box.y >= self.frame.y and box.right <= self.frame.right and box.bottom <= self.frame.bottom
        return inside and not self.cells[self._slices(box)].any()

    def take(self, box: Box) -> None:
        self.cells[self._slices(box)] = True


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
    for x, y in signs_mm:
        if frame.holds(x, y):
            taken.take(Box(x - sign_radius_mm, y - sign_radius_mm, 2 * sign_radius_mm, 2 * sign_radius_mm))
    for box in covered:
        taken.take(box)
    labels, left = [], []
    for one in wanted:
        label = _place(one, taken, sign_radius_mm)
        if label is None:
            left.append(one)
        else:
            taken.take(Box(label.box.x - 0.3, label.box.y - 0.3, label.box.width + 0.6, label.box.height + 0.6))
            labels.append(label)
    return labels, left


def _place(one: Wanted, taken: _Taken, sign_radius_mm: float) -> Label | None:
    width, height = width_mm(one.text, one.size_mm, one.bold), one.size_mm * LINE
    for x, y in one.places:
        for dx, dy in _around(one, width, height, sign_radius_mm):
            box = Box(x + dx - width / 2, y + dy - height / 2, width, height)
            if taken.free(box):
                return Label(one.text, one.kind, box, one.size_mm, one.bold)
    return None


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
