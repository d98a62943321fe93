"""In which way dusk and dawn are off, whatever was keyed: the same way, opposite ways, with the season; of two that fit both are said."""

from __future__ import annotations

import numpy as np

from .diagnosis import WATCH_MIN
from .latitudes import LatitudeFit, LatitudeShapes
from .logslips import Costs, Evidence, LogSlips
from .logsums import edge_sums, nearest_square

#: How switchings can be off, the simplest first; of these the later ones count only where no earlier one fits.
PATTERNS = (("planned",), ("same", "opposite", "season", "dusk", "dawn"), ("same and opposite", "same and season"), ("all",))


def patterns_of(evidence: Evidence, slips: LogSlips, shapes: LatitudeShapes, free: LatitudeFit, dated: Costs | None, doubtful,
                room) -> list[tuple[str, ...]]:
    """Which of `PATTERNS` fit at dusk and dawn, of the simplest kind that does."""
    own = slips.setting.display.error_min
    n = room.size
    right = [edge_sums(evidence.sun_min[:, edge], evidence.kept[:, edge], np.zeros((1, evidence.sun_min.shape[2])), evidence.centre_min[:, edge]) for edge in (0, 1)]
    every = np.arange(shapes.base_utc_min.shape[1])
    table = shapes.table(every)
    tried = [edge_sums(evidence.sun_min[:, edge], evidence.kept[:, edge], table[edge], evidence.centre_min[:, edge]) for edge in (0, 1)]
    wide, clock = np.inf, WATCH_MIN + evidence.step_min
    square = {"planned": nearest_square(right, clock, own)[:, 0], "same": nearest_square(right, wide, own)[:, 0],
              "opposite": nearest_square(right, clock, own, True)[:, 0], "same and opposite": nearest_square(right, wide, own, True)[:, 0],
              "season": _lowest(nearest_square(tried, clock, own)), "same and season": _lowest(nearest_square(tried, wide, own))}
    for name, edge in (("dusk", 1), ("dawn", 0)):
        count, mean, within, _ = (one[:, 0] for one in right[edge])
        square[name] = right[1 - edge][2][:, 0] + within + count * np.maximum(np.abs(mean) - clock - own, 0.0) ** 2
    if dated is not None:
        square["season"] = square["season"].copy()
        square["season"][doubtful] = np.minimum(square["season"][doubtful], dated.square.min(axis=1))
    square["all"] = np.full(n, -np.inf)
    # By what dusk and dawn alone leave: events at clock times are in the other sums.
    sun_least = np.minimum(free.rss, np.minimum.reduce([value for name, value in square.items() if name != "all"]))
    limit = sun_least + room
    return [next(fitting for names in PATTERNS if (fitting := tuple(name for name in names if square[name][i] <= limit[i]))) for i in range(n)]


def _lowest(square: np.ndarray) -> np.ndarray:
    """The least over all latitudes, between the nodes too: a parabola through three."""
    best = np.clip(square.argmin(axis=1), 1, square.shape[1] - 2)
    row = np.arange(square.shape[0])
    left, middle, right = square[row, best - 1], square[row, best], square[row, best + 1]
    bend = left - 2 * middle + right
    return np.maximum(np.where((bend > 0) & (middle <= left) & (middle <= right), middle - (right - left) ** 2 / (8 * np.where(bend > 0, bend, 1.0)), middle), 0.0)
