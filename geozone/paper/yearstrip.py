"""The year of a programme as a small picture for a card: quick to draw, without a letter; its scales are set as text."""

from __future__ import annotations

import numpy as np

from ..files.yearpicture import DARKNESS, LAMPS, WASTE, left_of, night_boxes
from ..numbers.clock import OffsetSequence
from ..numbers.sun import nights_of

#: Minutes of a unit of the picture's height, and waste shorter than this [minute] is not drawn.
_UNIT_MIN, _LEAST_WASTE_MIN = 6.0, 60.0


def year_strip(lit: np.ndarray, dark: np.ndarray, clock: OffsetSequence, year: int) -> tuple[str, bool]:
    """A year as SVG, nights across, noon to noon upwards, without scales.

    Parameters
    ----------
    lit, dark : (2, n) ndarray
        Starts and ends of lit and of dark intervals [UTC minutes from 1 January].
    clock : OffsetSequence
        Whose hours are shown.
    year : int

    Returns
    -------
    svg : str
    wasted : bool
        Whether lamps burn in daylight for over an hour anywhere.
    """
    nights = nights_of(year).size
    wasted = night_boxes(left_of(lit, dark), clock, nights)
    wasted = [box for box in wasted if box[2][1] - box[0][1] > _LEAST_WASTE_MIN]
    height = 1440 / _UNIT_MIN
    shapes = [f'<path fill="{colour}" d="{_path(boxes, height)}"/>'
              for boxes, colour in ((night_boxes(dark, clock, nights), DARKNESS), (night_boxes(lit, clock, nights), LAMPS), (wasted, WASTE)) if len(boxes)]
    hatch = f'<path fill="url(#h)" d="{_path(wasted, height)}"/>' if wasted else ""
    lines = "".join(f"M0,{y:g}h{nights}" for y in np.arange(0, height + 1, height / 4)) + \
        "".join(f"M{x},0v{height:g}" for x in [*month_starts(year), nights])
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {nights} {height:g}" width="{nights}" height="{height:g}" '
            'preserveAspectRatio="none" shape-rendering="crispEdges"><defs><pattern id="h" width="6" height="6" patternUnits="userSpaceOnUse">'
            f'<path d="M0,6L6,0" stroke="#ffffff" stroke-width="1.2"/></pattern></defs>{"".join(shapes)}{hatch}'
            f'<path d="{lines}" stroke="#121a3a" stroke-width="0.4" fill="none"/></svg>'), bool(wasted)


def month_starts(year: int) -> list[int]:
    """First nights of the months, from 0."""
    month = nights_of(year).astype("datetime64[M]")
    return np.flatnonzero(np.append(True, month[1:] != month[:-1])).tolist()


def _path(boxes, height: float) -> str:
    """Rectangles (night, wall minute) as one path, the later hours above."""
    if not len(boxes):
        return ""
    corners = np.asarray(boxes)
    top = height - (corners[:, 2, 1] - 720) / _UNIT_MIN
    tall = height - (corners[:, 0, 1] - 720) / _UNIT_MIN - top
    return "M%.0f,%.1fh1v%.1fh-1z" * len(corners) % tuple(np.column_stack([corners[:, 0, 0], top, tall]).ravel().tolist())
