"""Slips held against on and off times of many nights: every one that the log leaves possible, with its number."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import stats

from ..numbers.civil import MIN_PER_DAY
from ..trade.readings import Keyed, wrapped
from ..trade.slipdifferences import HARM_MIN
from ..trade.slips import Slip
from .candidates import SettingSlips
from .diagnosis import MOST_CREPT_MIN, WATCH_MIN
from .logsums import LEAST_SCALE_MIN, edge_sums, near_middle, nearest, row_middles

#: A right one is taken for wrong in so many of a thousand logs at most.
_HELD = 0.999
#: The number that all wrong dates have: which of their slips it was no log tells, and the mend is one.
_DATE = -1000


@dataclass(frozen=True)
class Kept:
    """One way in which a switch can hold a slip: its clock was set once, on a day on which legal time was so far off the keyed clock, or is put right at every change.

    Attributes
    ----------
    slip : Slip or None
        None: the right setting.
    keyed : Keyed
    alike : int
        Slips of one number are the same all year and are mended alike.
    standing_min : float
        What the clock's setting adds to every switching, positive is later; NaN: the clock is put right by hand whenever legal time changes.
    """

    slip: Slip | None
    keyed: Keyed
    alike: int
    standing_min: float


@dataclass(frozen=True, eq=False)
class Evidence:
    """What a log says of n sites of one setting.

    Attributes
    ----------
    sun_min : (n, 2, n_night) float64
        Dusk and dawn less what is planned [minute].
    kept : (n, 2, n_night) bool
        Which of them count.
    centre_min : (n, 2) float64
        As in `nightlog.Seen`.
    clock_min : (n, m) float64
        Events at clock times less what is planned; NaN where none was seen.
    clock_utc_min : (m,) float64
        When they are planned.
    legal_ahead_min : (m,) float64
        Legal time minus UTC then.
    step_min : float
        Length of the log's own steps, if it has any: its times may then all be so early or late.
    """

    sun_min: np.ndarray
    kept: np.ndarray
    centre_min: np.ndarray
    clock_min: np.ndarray
    clock_utc_min: np.ndarray
    legal_ahead_min: np.ndarray
    step_min: float = 0.0


def of_one(evidence: Evidence, i: int) -> Evidence:
    """The evidence of one of the sites."""
    mine = slice(i, i + 1)
    return replace(evidence, sun_min=evidence.sun_min[mine], kept=evidence.kept[mine], centre_min=evidence.centre_min[mine], clock_min=evidence.clock_min[mine])


@dataclass(frozen=True, eq=False)
class Costs:
    """How badly ways of holding a setting explain n logs.

    Attributes
    ----------
    square : (n, k) float64
        Sum of squares [minute squared] with what is allowed to a right switch taken off.
    sum_min : (n, k) float64
        What is left the same way at dusk and dawn.
    """

    square: np.ndarray
    sum_min: np.ndarray


class LogSlips:
    """One setting with its slips, as logs of a year show them.

    Parameters
    ----------
    setting : SettingSlips
    """

    def __init__(self, setting: SettingSlips):
        self.setting, self.right = setting, setting.right
        utc, ahead = setting.sun_and_clock([self.right])
        self.base_utc_min = np.stack([filled(edge) for edge in utc[0]])
        self._base_ahead = setting.clock_ahead([self.right], self.base_utc_min)[0]
        #: By how much dusk and dawn move from one night to the next, whichever way.
        self.daily_min = np.abs(np.gradient(self.base_utc_min - np.arange(self.base_utc_min.shape[1]) * MIN_PER_DAY, axis=1))
        self.law_ahead_min = self._base_ahead[0]
        chosen = [(slip, alike) for slip, alike in setting.harmful() if slip.about != "clock"]
        ways, moves = self._ways_of([(None, self.right, -1), *((slip, slip.keyed, place) for place, (slip, _) in enumerate(chosen))])
        self.ways, self.moves = self._put_together(ways, moves), moves
        self._dates: tuple[list[Kept], np.ndarray] | None = None

    @property
    def planned_utc_min(self) -> np.ndarray:
        """(2, n_night) dusk and dawn with the right offsets [UTC minute]."""
        return self.base_utc_min + np.array([[self.right.dusk_offset_min], [self.right.dawn_offset_min]])

    def dates(self) -> tuple[list[Kept], np.ndarray]:
        """The right setting with every wrong date, made when it is first asked for: after a loss of power any is possible."""
        if self._dates is None:
            keyed = [self.right.changed(date_error_days=days) for days in range(-182, 183) if days]
            self._dates = self._ways_of([(Slip("power_lost", "date", 3.0, one), one, _DATE) for one in keyed])
        return self._dates

    def ways_of_keyed(self, keyed: list[Keyed]) -> tuple[list[Kept], np.ndarray]:
        """Any switches, such as those that a reading of the display leaves possible."""
        return self._ways_of([(Slip("as_read", "setting", 1.0, one), one, i) for i, one in enumerate(keyed)])

    def _ways_of(self, held: list[tuple[Slip | None, Keyed, int]]) -> tuple[list[Kept], np.ndarray]:
        """Ways of holding them, and minutes by which each differs from what is planned: (k, 2, n_night)."""
        utc, ahead = self.setting.sun_and_clock([keyed for _, keyed, _ in held])
        ways, moves = [], []
        for (slip, keyed, alike), its_utc, its_ahead in zip(held, utc, ahead, strict=True):
            offsets = np.array([[keyed.dusk_offset_min - self.right.dusk_offset_min], [keyed.dawn_offset_min - self.right.dawn_offset_min]])
            sun = wrapped(its_utc - self.base_utc_min) + offsets
            parted = its_ahead - self._base_ahead
            for standing in self._standings(slip, keyed, parted):
                ways.append(Kept(slip, keyed, alike, standing))
                error = 0.0 if self.setting.on_standard(keyed) else keyed.clock_error_min
                moves.append(sun + (parted if np.isnan(standing) else standing) - error)
        return ways, np.stack(moves)

    def _put_together(self, ways: list[Kept], moves: np.ndarray) -> list[Kept]:
        """Slips that a log cannot tell apart and that are mended alike get one number."""
        heads: dict[str, list[tuple[int, np.ndarray]]] = {}
        number: dict[Keyed, int] = {}
        for place, (way, move) in enumerate(zip(ways, moves, strict=True)):
            if way.slip is None or way.keyed in number:
                continue
            about = "position" if way.slip.about in ("latitude", "longitude", "position") else way.slip.about
            mine = heads.setdefault(about, [])
            same = next((head for head, its in mine if _alike(its, move)), None)
            number[way.keyed] = place if same is None else same
            if same is None:
                mine.append((place, move))
        return [way if way.slip is None else replace(way, alike=_DATE if way.slip.about == "date" else number[way.keyed]) for way in ways]

    def _standings(self, slip: Slip | None, keyed: Keyed, parted: np.ndarray) -> list[float]:
        if slip is None or keyed.clock == self.right.clock:
            return [0.0]
        values = np.unique(np.round(parted[np.isfinite(parted)])).tolist()
        if self.setting.on_standard(keyed):
            return [0.0]
        if slip.key == "saving_off_by_hand":  # one that was never put right is `saving_off_on_standard`
            return [*(value for value in values if value), float("nan")]
        return values + [float("nan")] if len(values) > 1 else values

    def costs(self, evidence: Evidence, ways: list[Kept], moves: np.ndarray, *, sum_free: bool = False) -> Costs:
        """How badly each way explains each log.

        Parameters
        ----------
        evidence : Evidence
        ways : list of Kept, k
        moves : (k, 2, n_night) float64
        sum_free : bool
            True: the same minutes at dusk and dawn, whatever they are, cost nothing. Clock times must then be off by the same.
        """
        sums = [edge_sums(evidence.sun_min[:, edge], evidence.kept[:, edge], moves[:, edge], evidence.centre_min[:, edge], self.daily_min[edge]) for edge in (0, 1)]
        own, clocks, watch = self.setting.display.error_min, near_middle(evidence.clock_min), WATCH_MIN + evidence.step_min
        if not clocks.any():
            square, same = nearest(sums, np.inf if sum_free else watch, own)
            return Costs(square, same)
        # Events at clock times say what the clock is off: dusk and dawn may then be off by that and by the switch's own sun.
        count, mean, within, _ = edge_sums(evidence.clock_min, clocks, self._clock_moves(evidence, ways), row_middles(evidence.clock_min))
        most = np.where(count > 0, 0.0 if not sum_free else np.inf, watch if not sum_free else np.inf)
        error = np.clip(mean, -watch, watch) * (count > 0)
        shifted = [(n, u - error, w, none) for n, u, w, none in sums]
        square, same = nearest(shifted, most, own)
        beyond = np.maximum(np.abs(mean - error - (same if sum_free else 0.0)) - (own if sum_free else 0.0), 0.0)
        return Costs(square + within + count * beyond ** 2, same + error)

    def constant_clock_square(self, evidence: Evidence) -> np.ndarray:
        """(n,) what events at clock times leave beside any one error of the clock."""
        if not evidence.clock_min.size:
            return np.zeros(evidence.sun_min.shape[0])
        seen = near_middle(evidence.clock_min)
        return edge_sums(evidence.clock_min, seen, np.zeros((1, seen.shape[1])), row_middles(evidence.clock_min))[2][:, 0]

    def _clock_moves(self, evidence: Evidence, ways: list[Kept]) -> np.ndarray:
        """(k, m) by how much later events at clock times come: a clock that is ahead has them early."""
        fast = self.setting.clock_ahead([way.keyed for way in ways], evidence.clock_utc_min)
        standing = np.array([way.standing_min for way in ways])[:, None]
        error = np.array([0.0 if self.setting.on_standard(way.keyed) else way.keyed.clock_error_min for way in ways])[:, None]
        moves = -np.where(np.isnan(standing), 0.0, fast - np.nan_to_num(standing) - evidence.legal_ahead_min) - error
        # On the night of a change itself the order of a few hours decides: neighbours speak for it.
        by_night = moves.reshape(len(ways), -1, self.base_utc_min.shape[1])
        around = np.stack([by_night, np.roll(by_night, 1, axis=2), np.roll(by_night, -1, axis=2)])
        around[1][:, :, 0], around[2][:, :, -1] = by_night[:, :, 0], by_night[:, :, -1]
        return np.median(around, axis=0).reshape(moves.shape)


def allowed(least_square: np.ndarray, count: np.ndarray, own_sun_min: float) -> np.ndarray:
    """(n,) by how much a sum of squares may be above the least for a way to be left possible.

    Parameters
    ----------
    least_square : (n,) float64
        Of the best explanation.
    count : (n,) ndarray of int
        Switchings.
    own_sun_min : float
        How far a switch's own sun may be off; half of it may come and go with the season.
    """
    freedom = np.maximum(count - 3, 1)
    noise2 = np.maximum(least_square / freedom, LEAST_SCALE_MIN ** 2)
    return 3 * stats.f.ppf(_HELD, 3, freedom) * noise2 + count * (own_sun_min / 2) ** 2


def clock_slip(right: Keyed, sum_min: float) -> Slip | None:
    """The slip of the clock alone that makes dusk and dawn so much later, by its own name; None where none does."""
    fast = float(wrapped(-sum_min))
    if WATCH_MIN < abs(fast) <= MOST_CREPT_MIN:
        return Slip("clock_minutes", "clock", 8.0, right.changed(clock_error_min=round(fast, 1)))
    for minutes, key in ((60.0, "clock_hour"), (720.0, "clock_half_day")):
        if abs(abs(fast) - minutes) <= WATCH_MIN + 1.0:
            return Slip(key, "clock", 4.0, right.changed(clock_error_min=float(np.copysign(minutes, fast))))
    return None


def _alike(one: np.ndarray, other: np.ndarray) -> bool:
    off = np.abs(wrapped(one - other))
    return not (off >= HARM_MIN).any() and bool((np.isnan(one) == np.isnan(other)).all())


def filled(times: np.ndarray) -> np.ndarray:
    """Times of the nights that have none (the sun does not cross the threshold): between those that do."""
    night = np.arange(times.size)
    known = np.isfinite(times)
    if not known.any():
        return night * MIN_PER_DAY + MIN_PER_DAY / 2
    return np.interp(night, night[known], (times - night * MIN_PER_DAY)[known]) + night * MIN_PER_DAY
