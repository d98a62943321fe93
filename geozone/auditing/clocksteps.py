"""Days on which a clock was put forward or back by hand: the middle of dusk and dawn jumps there and nowhere else."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

#: A jump by less is not looked for [minute].
LEAST_STEP_MIN = 10.0
#: So many nights on either side.
_LEAST_NIGHTS = 4
#: The jump squared, in what the middles of the two sides stray: high, because every night is tried.
_SURE = 60.0
_MOST_STEPS = 4
#: Middles farther off than this are mistakes of the log [minute].
_MOST_MIN = 150.0


class Step(NamedTuple):
    """A jump.

    Attributes
    ----------
    night : int
        First night after it.
    minutes : float
        How much later lamps switch from then on; a clock put back by 60 min makes it 60.
    """

    night: int
    minutes: float


def clock_steps(sun_min: np.ndarray) -> list[tuple[Step, ...]]:
    """Jumps of n sites.

    Parameters
    ----------
    sun_min : (n, 2, n_night) float64
        Dusk and dawn less what is planned [minute]; NaN where none was seen.

    Returns
    -------
    list of tuple of Step, n
        In the order of the nights. Latitude, offsets and dark threshold move dusk and dawn opposite ways or one of them by a constant: they make none.

    Examples
    --------
    >>> night = np.where(np.arange(60) < 25, -60.0, 0.0)
    >>> clock_steps(np.stack([night, night])[None])[0]
    (Step(night=25, minutes=60.0),)
    """
    middle = sun_min.mean(axis=1)
    found: list[tuple[Step, ...]] = [()] * middle.shape[0]
    seen = np.isfinite(middle)
    # Most sites have none: one look at all of them together.
    for i in np.flatnonzero(_may_jump(middle, seen)):
        nights = np.flatnonzero(seen[i])
        values = middle[i, nights]
        sane = np.abs(values - np.median(values)) <= _MOST_MIN
        found[i] = _steps_of(nights[sane], values[sane])
    return found


def _may_jump(middle: np.ndarray, seen: np.ndarray) -> np.ndarray:
    count = seen.sum(axis=1)
    centre = np.array([np.median(row[mine]) if mine.any() else 0.0 for row, mine in zip(middle, seen, strict=True)])
    values = np.where(seen, np.clip(middle - centre[:, None], -_MOST_MIN, _MOST_MIN), 0.0)
    before, total = np.cumsum(seen, axis=1), np.cumsum(values, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        jump = np.abs(total / before - (total[:, -1:] - total) / (count[:, None] - before))
    wide = (before >= _LEAST_NIGHTS) & (count[:, None] - before >= _LEAST_NIGHTS)
    return np.asarray((np.where(wide, jump, 0.0) >= LEAST_STEP_MIN / 3).any(axis=1))


def _steps_of(nights: np.ndarray, values: np.ndarray) -> tuple[Step, ...]:
    cuts = [0, values.size]
    while len(cuts) - 2 < _MOST_STEPS:
        best = max((_best_cut(values, a, b) for a, b in zip(cuts[:-1], cuts[1:], strict=True)), default=(0.0, 0))
        if best[0] < _SURE:
            break
        cuts = sorted([*cuts, best[1]])
    parts = [values[a:b] for a, b in zip(cuts[:-1], cuts[1:], strict=True)]
    return tuple(Step(int(nights[cut]), float(np.round(np.median(after) - np.median(before), 1)))
                 for cut, before, after in zip(cuts[1:-1], parts[:-1], parts[1:], strict=True))


def _best_cut(values: np.ndarray, a: int, b: int) -> tuple[float, int]:
    """How sure the best cut between two places is, and where it lies; 0 where there is none."""
    if b - a < 2 * _LEAST_NIGHTS:
        return 0.0, a
    mine = values[a:b]
    # By what neighbours differ, which a jump moves once only.
    noise = max(1.4826 * float(np.median(np.abs(np.diff(mine)))) / np.sqrt(2), 0.7)
    place = np.arange(_LEAST_NIGHTS, mine.size - _LEAST_NIGHTS + 1)
    sums = np.cumsum(mine)
    jump = (sums[-1] - sums[place - 1]) / (mine.size - place) - sums[place - 1] / place
    sure = jump ** 2 * place * (mine.size - place) / mine.size / noise ** 2
    best = int(np.argmax(sure))
    cut = int(place[best])
    size = abs(float(np.median(mine[cut:]) - np.median(mine[:cut])))
    return (float(sure[best]), a + cut) if size >= LEAST_STEP_MIN else (0.0, a)
