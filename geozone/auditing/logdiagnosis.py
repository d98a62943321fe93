"""From on and off times of many nights to all that can be keyed: which slips, which latitudes, which pattern; and lamps that follow no setting."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from ..numbers.civil import MIN_PER_DAY
from ..trade.readings import Keyed, wrapped
from ..trade.slips import Slip
from .clocksteps import Step, clock_steps
from .diagnosis import Explanation
from .latitudes import LatitudeFit, LatitudeShapes, latitude_fit
from .lightsensor import STRAYS, SWITCH_NOISE_MIN, straying
from .logexplained import dated_ways, explained, in_order, pair_ways, pairs_of
from .logpatterns import patterns_of
from .logslips import Costs, Evidence, LogSlips, allowed, clock_slip, of_one
from .logsums import GROSS_MIN
from .nightlog import Seen

LOG_STATES = ("agrees", "differs", "no known slip", "light sensor", "scatters", "too few nights", "not used")
#: Fewer nights, or switchings at dusk and dawn, are not held against a setting.
LEAST_NIGHTS, LEAST_SWITCHINGS = 7, 10
#: A clock that is put right by hand after a change of legal time is so within so many nights; the jump is then the saving to within so many minutes.
_BY_HAND_NIGHTS, _BY_HAND_MIN = 45, 8.0
#: Events at clock times that are off by figures farther apart than this have no one error of the clock [minute].
_STEADY_MIN = 20.0


@dataclass(frozen=True)
class LogFinding:
    """What the log of one site says.

    Attributes
    ----------
    state : str
        One of `LOG_STATES`, the last three of which conclude nothing.
    explanations : tuple of Explanation
        With "differs" all slips that fit, pairs only where no single one does; the likeliest first.
    hidden : tuple of Slip
        With "agrees" the slips that the log cannot tell from the right setting.
    patterns : tuple of str
        Ways of `logpatterns.PATTERNS` that fit.
    steps : tuple of Step
        Days on which the clock was put forward or back.
    by_hand : bool
        One of them follows a change of legal time, by the saving.
    clock_varies : bool
        Events at clock times are off by different figures on different nights, as where another summer-time rule is keyed.
    nights, switchings, unused, gap_nights : int
        Nights and switchings at dusk and dawn that count; switchings that belong to no event; longest run of nights without any.
    first_night, last_night : int
        Days of the year; -1 where there is none.
    noise_min, sum_min, sum_se_min, opposite_min, opposite_se_min, clock_fast_min : float
        NaN where not known. `clock_fast_min` is the clock's error by events at clock times; `sum_min` is with the offsets left open.
    lat_deg, free_lat_deg : float
        Best latitude with the offsets as planned, and with any; NaN where what fits reaches farther than half a degree from it.
    ranges_deg, free_ranges_deg : tuple of (float, float)
        All latitudes that fit.
    """

    state: str
    explanations: tuple[Explanation, ...] = ()
    hidden: tuple[Slip, ...] = ()
    patterns: tuple[str, ...] = ()
    steps: tuple[Step, ...] = ()
    by_hand: bool = False
    clock_varies: bool = False
    nights: int = 0
    switchings: int = 0
    unused: int = 0
    gap_nights: int = 0
    first_night: int = -1
    last_night: int = -1
    noise_min: float = float("nan")
    sum_min: float = float("nan")
    sum_se_min: float = float("nan")
    opposite_min: float = float("nan")
    opposite_se_min: float = float("nan")
    clock_fast_min: float = float("nan")
    lat_deg: float = float("nan")
    free_lat_deg: float = float("nan")
    ranges_deg: tuple[tuple[float, float], ...] = ()
    free_ranges_deg: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, eq=False)
class LogFindings:
    """Findings of n sites of one setting, with what is needed to look at neighbours and at readings of the display.

    Attributes
    ----------
    found : list of LogFinding
    left_min : (n, 2, n_night) float64
        What is left beside the best explanation.
    """

    found: list[LogFinding]
    left_min: np.ndarray
    _evidence: Evidence = field(repr=False)
    _least: np.ndarray = field(repr=False)
    _room: np.ndarray = field(repr=False)

    def possible(self, i: int, keyed: list[Keyed], slips: LogSlips) -> list[bool]:
        """Whether the log of site i leaves each of these switches possible, however its clock was set."""
        if not keyed:
            return []
        ways, moves = slips.ways_of_keyed(keyed)
        square = slips.costs(of_one(self._evidence, i), ways, moves).square[0]
        fits = square <= self._least[i] + self._room[i]
        found = [False] * len(keyed)
        for way, fit in zip(ways, fits.tolist(), strict=True):
            found[way.alike] |= fit
        return found


def diagnose_logs(seen: Seen, slips: LogSlips, clock_utc_min: np.ndarray, legal_ahead_min: np.ndarray, step_min: float = 0.0) -> LogFindings:
    """What the logs of n sites of one setting and one programme say.

    Parameters
    ----------
    seen : Seen
    slips : LogSlips
    clock_utc_min, legal_ahead_min : (n_slot, n_night) float64
        Planned clock times of the programme [UTC minute], and legal time minus UTC then.
    step_min : float
        Length of the log's own steps [minute]: 15 for a meter that writes down quarters of an hour.
    """
    n = seen.sun_min.shape[0]
    right, display = slips.right, slips.setting.display
    steps = clock_steps(seen.sun_min)
    usable, level, by_hand = _parts(seen.sun_min, steps, slips)
    shapes = LatitudeShapes(slips.base_utc_min, right.lon_deg, right.altitude_deg, slips.setting.year)
    levelled = np.where(usable[:, None, :], seen.sun_min + level[:, None, :], np.nan)
    known, free = (latitude_fit(levelled, shapes, offsets_known=one) for one in (True, False))
    kept = free.kept & usable[:, None, :]
    clock_min = seen.clock_min.reshape(n, -1)
    clock_min = np.where(np.tile(usable, (1, seen.clock_min.shape[1])), clock_min, np.nan)
    evidence = Evidence(seen.sun_min, kept, seen.centre_min, clock_min, np.nan_to_num(clock_utc_min.ravel()), legal_ahead_min.ravel(), step_min)
    count = kept.sum(axis=(1, 2)) + np.isfinite(clock_min).sum(axis=1)

    single = slips.costs(evidence, slips.ways, slips.moves)
    loose = slips.costs(evidence, slips.ways, slips.moves, sum_free=True)
    constant = slips.constant_clock_square(evidence)
    least = np.minimum(np.minimum(single.square.min(axis=1), loose.square.min(axis=1)), free.rss + constant)
    doubtful = np.flatnonzero(single.square[:, 0] > least + allowed(least, count, display.error_min))
    dated: Costs | None = None
    if doubtful.size:
        part = Evidence(evidence.sun_min[doubtful], kept[doubtful], seen.centre_min[doubtful], clock_min[doubtful], evidence.clock_utc_min,
                        evidence.legal_ahead_min, step_min)
        dated = slips.costs(part, *slips.dates())
        least[doubtful] = np.minimum(least[doubtful], dated.square.min(axis=1))
    room = allowed(least, count, display.error_min)
    gross = (np.abs(np.nan_to_num(_middles(seen.sun_min))) > GROSS_MIN).any(axis=1)
    # On which date a time is carried out that is hours off is not known: half a day's way of the sun either way.
    room = room + gross * count * 0.5 * (slips.daily_min ** 2).mean()

    left, strays = _least_straying(seen.sun_min, gross, usable, kept, free, single, dated, doubtful, slips, float(np.hypot(SWITCH_NOISE_MIN, step_min / np.sqrt(12.0))))
    patterns = patterns_of(replace(evidence, sun_min=levelled), slips, shapes, free, dated, doubtful, room)
    paired: dict | None = None
    found = []
    for i in range(n):
        base = _figures(i, seen, usable, levelled, kept, steps[i], bool(by_hand[i]), known, free, clock_min[i])
        if base.nights < LEAST_NIGHTS or base.switchings < LEAST_SWITCHINGS:
            found.append(replace(base, state="too few nights"))
            continue
        if strays[i] > STRAYS:
            found.append(replace(base, state="scatters", lat_deg=np.nan, free_lat_deg=np.nan, ranges_deg=(), free_ranges_deg=()))
            continue
        base = replace(base, patterns=patterns[i], noise_min=float(np.sqrt(least[i] / max(count[i] - 3, 1))))
        limit = least[i] + room[i]
        fits = single.square[i] <= limit
        if fits[0]:
            hidden = dict.fromkeys(way.slip for way, fit in zip(slips.ways[1:], fits[1:].tolist(), strict=True) if fit)
            found.append(replace(base, state="agrees", hidden=tuple(hidden), patterns=("planned",)))
            continue
        ways = [(way, cost) for way, cost in zip(slips.ways[1:], single.square[i, 1:].tolist(), strict=True) if cost <= limit]
        place = int(np.searchsorted(doubtful, i))
        if dated is not None and place < doubtful.size and doubtful[place] == i:
            ways += dated_ways(slips, dated.square[place], limit)
        explanations = explained(ways)
        alone = clock_slip(right, float(loose.sum_min[i, 0])) if loose.square[i, 0] <= limit else None
        if alone is not None:
            explanations = in_order([*explanations, Explanation((alone,), alone.keyed, 0, alone.weight)])
        if not explanations:
            paired = pair_ways(slips, max(base.first_night, 0)) if paired is None else paired
            explanations = pairs_of(i, slips, evidence, paired, loose, limit)
        found.append(replace(base, state="differs" if explanations else "no known slip", explanations=tuple(explanations)))
    return LogFindings(found, left, evidence, least, room)


def _parts(sun_min: np.ndarray, steps: list[tuple[Step, ...]], slips: LogSlips) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Which nights are held against slips, what levels the nights before a jump with those after it, and whether a jump follows a change of legal time.

    A clock that is put right by hand some days after legal time changed was wrong in between: these days say nothing of what is keyed. After any other jump
    only what follows it counts, if that is enough.
    """
    n, _, n_night = sun_min.shape
    usable, level, by_hand = np.ones((n, n_night), dtype=bool), np.zeros((n, n_night)), np.zeros(n, dtype=bool)
    saving = np.diff(slips.law_ahead_min)
    changes = [(int(night) + 1, float(saving[night])) for night in np.flatnonzero(saving)]
    for i in range(n):
        for step in steps[i]:
            level[i, :step.night] += step.minutes
            change = next((night for night, minutes in changes if 0 <= step.night - night <= _BY_HAND_NIGHTS
                           and abs(abs(step.minutes) - abs(minutes)) <= _BY_HAND_MIN), None)
            if change is not None:
                # The dawn of the night before comes after the change.
                usable[i, max(change - 1, 0):step.night] = False
                by_hand[i] = True
            elif np.isfinite(sun_min[i, :, step.night:]).sum() >= LEAST_SWITCHINGS:
                usable[i, :step.night] = False
            else:
                usable[i, step.night:] = False
    return usable, level, by_hand


def _least_straying(sun_min, gross, usable, kept, free: LatitudeFit, single: Costs, dated: Costs | None, doubtful, slips: LogSlips,
                    noise_min: float) -> tuple[np.ndarray, np.ndarray]:
    """What is left beside the explanation under which the times stray least: a wrong date is no latitude, and no weather either."""
    left = _less_a_date(free.left_min, kept, slips)
    # Of times that are hours off some may be carried out on another date than others.
    # Up to the next half minute: the explanations that are tried are made once for each noise.
    wider = float(np.ceil(2 * np.hypot(noise_min, np.sqrt((slips.daily_min ** 2).mean()))) / 2)

    def strays_of(left, rows):
        of = np.where(usable[rows][:, None, :], left, np.nan)
        return np.where(gross[rows], straying(of, wider), straying(of, noise_min)) if gross[rows].any() else straying(of, noise_min)

    strays = strays_of(left, np.arange(gross.size))
    tried = [(np.arange(single.square.shape[0]), slips.moves[single.square.argmin(axis=1)])]
    if dated is not None:
        tried.append((doubtful, slips.dates()[1][dated.square.argmin(axis=1)]))
    for rows, moves in tried:
        rows, moves = rows[strays[rows] > STRAYS], moves[strays[rows] > STRAYS]
        if rows.size:
            other = _off_the_face(sun_min[rows], moves)
            its = strays_of(other, rows)
            better = its < strays[rows]
            left[rows[better]], strays[rows[better]] = other[better], its[better]
    return np.where(usable[:, None, :], left, np.nan), strays


def _middles(sun_min: np.ndarray) -> np.ndarray:
    """(n, 2) medians of what was seen; NaN where nothing was."""
    return np.array([[np.median(edge[np.isfinite(edge)]) if np.isfinite(edge).any() else np.nan for edge in one] for one in sun_min])


def _off_the_face(sun_min: np.ndarray, moves: np.ndarray) -> np.ndarray:
    """(n, 2, n_night) minutes off beside given ones, on the face of a clock, about the middle of each edge."""
    off = wrapped(sun_min - moves)
    for one in off:
        for edge in one:
            seen = edge[np.isfinite(edge)]
            if seen.size:
                centre = seen[np.argmin(np.abs(wrapped(seen[:, None] - seen[None, :])).sum(axis=0))] if np.ptp(seen) > MIN_PER_DAY / 2 else np.median(seen)
                edge[:] = wrapped(edge - centre)
    return off


def _less_a_date(left: np.ndarray, kept: np.ndarray, slips: LogSlips) -> np.ndarray:
    """What is left without what a date that is off by up to a day and a half would do, which no latitude does."""
    plain = slips.base_utc_min - np.arange(left.shape[2]) * MIN_PER_DAY
    daily = np.gradient(plain, axis=1)
    share = np.where(kept, left * daily, 0.0).sum(axis=(1, 2)) / np.maximum(np.where(kept, daily * daily, 0.0).sum(axis=(1, 2)), 1e-9)
    return left - np.clip(share, -1.5, 1.5)[:, None, None] * daily


def _figures(i, seen, usable, levelled, kept, steps, by_hand, known: LatitudeFit, free: LatitudeFit, clock_min) -> LogFinding:
    any_seen = np.flatnonzero(np.isfinite(seen.sun_min[i]).any(axis=0) & usable[i])
    gap = int(np.diff(any_seen).max(initial=1)) - 1
    clock = clock_min[np.isfinite(clock_min)]

    def ranges(fit: LatitudeFit):
        return tuple((float(a), float(b)) for a, b in zip(fit.least_deg[i], fit.most_deg[i], strict=True) if np.isfinite(a))

    def figure(fit: LatitudeFit) -> float:
        return float(fit.lat_deg[i]) if fit.within_half[i] else float("nan")

    both = np.isfinite(free.sum_min[i])
    known_clock = clock.size >= LEAST_NIGHTS
    varies = bool(known_clock and np.ptp(np.quantile(clock, (0.1, 0.9))) > _STEADY_MIN)
    return LogFinding(
        "", steps=steps, by_hand=by_hand, nights=any_seen.size, switchings=int(np.isfinite(levelled[i]).sum()), unused=int(seen.unused[i]), gap_nights=gap,
        first_night=int(any_seen[0]) if any_seen.size else -1, last_night=int(any_seen[-1]) if any_seen.size else -1,
        noise_min=float(free.noise_min[i] if both else known.noise_min[i]), sum_min=float((free if both else known).sum_min[i]),
        sum_se_min=float((free if both else known).sum_se_min[i]), opposite_min=float(free.opposite_min[i]), opposite_se_min=float(free.opposite_se_min[i]),
        clock_fast_min=float(-np.median(clock)) if known_clock and not varies else float("nan"), clock_varies=varies, lat_deg=figure(known), free_lat_deg=figure(free),
        ranges_deg=ranges(known), free_ranges_deg=ranges(free))
