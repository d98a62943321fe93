"""If the display reads something else: differences from the right reading in the week of a visit, and which slips make them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..compiled import kernel
from ..numbers.cores import on_all_cores
from .readings import Display, Keyed, Readings, readings, wrapped
from .slips import CLASSES, Slip

#: A slip matters if somewhere in the year dusk or dawn is off by this much, or its clock by the second [minute].
HARM_MIN, CLOCK_HARM_MIN = 3.0, 2.0
#: Differences within this range stand in one row, and one that moves by more in the week is marked [minute].
SAME_MIN = 2.0
#: Settings whose readings are computed together: a year of theirs and of all their slips takes some 20 MB.
_AT_ONCE = 8


@dataclass(frozen=True)
class Row:
    """Slips that make the same difference in the week.

    Attributes
    ----------
    dusk_min, dawn_min : tuple of (float, float)
        Least and largest difference from the right reading [minute], positive is later; NaN where no time is shown.
    slips : tuple of Slip
        The likeliest first.
    needs_offsets : bool
        True if the display shows the difference only where its times include the keyed offsets.
    dusk_time, dawn_time : {"shown", "none", "appears", "some"}
        In white nights: "none": the display shows no time; "appears": it shows one although the right reading is none; "some": one
        of the two has no time on some of the days. Else "shown".
    """

    dusk_min: tuple[float, float]
    dawn_min: tuple[float, float]
    slips: tuple[Slip, ...]
    needs_offsets: bool = False
    dusk_time: str = "shown"
    dawn_time: str = "shown"

    @property
    def weight(self) -> float:
        return sum(slip.weight for slip in self.slips)

    @property
    def likelihood(self) -> str:
        """The likeliest class among its slips."""
        return min((slip.likelihood for slip in self.slips), key=CLASSES.index)

    @property
    def moves(self) -> bool:
        """True if a difference moves by more than two minutes in the week."""
        return any(high - low > SAME_MIN for low, high in (self.dusk_min, self.dawn_min))

    @property
    def read_next(self) -> str:
        """Which keyed value tells its slips apart, or proves the only one: one of `slips.ABOUT`."""
        about = {slip.about for slip in self.slips}
        for several, one in (({"saving", "zone", "zone_and_saving"}, "zone_and_saving"),
                             ({"latitude", "longitude", "position"}, "position")):
            if len(about) > 1 and about <= several:
                return one
        return self.slips[0].about


@dataclass(frozen=True)
class Unseen:
    """A slip that reads right in the week of the visit.

    Attributes
    ----------
    slip : Slip
    first : numpy.datetime64 or None
        First date from which the display tells it from the right setting; None: dusk and dawn on the display never do.
    """

    slip: Slip
    first: np.datetime64 | None


@dataclass(frozen=True)
class SlipTable:
    """What a display that reads wrong, or right, in one week can mean.

    Attributes
    ----------
    rows : tuple of Row
        The likeliest first.
    unseen : tuple of Unseen
        Slips that read right in that week.
    first, last : numpy.datetime64
        The week.
    """

    rows: tuple[Row, ...]
    unseen: tuple[Unseen, ...]
    first: np.datetime64
    last: np.datetime64


def slip_table(right: Keyed, slips: Sequence[Slip], display: Display, *, year: int, first_day: int, days: int = 7) -> SlipTable:
    """Differences that slips make on the display in a week.

    Parameters
    ----------
    right : Keyed
    slips : sequence of Slip
        See `slips_of`.
    display : Display
    year : int
    first_day : int
        Day of the year, 0 for 1 January; the week ends with the year at the latest.
    days : int

    Returns
    -------
    SlipTable
        Slips that do no harm anywhere in the year are in neither list.
    """
    return slip_tables([(right, slips)], display, year=year, first_day=first_day, days=days)[0]


def slip_tables(switches: Sequence[tuple[Keyed, Sequence[Slip]]], display: Display, *, year: int, first_day: int,
                days: int = 7) -> list[SlipTable]:
    """`slip_table` of several settings at once, which is quicker: the sun is computed for all of them together."""
    dawn = "coming" if display.dawn == "coming" else "morning"

    def tables(begin: int) -> list[SlipTable]:
        some = switches[begin:begin + _AT_ONCE]
        keyed = [one for right, slips in some for one in (right, *(slip.keyed for slip in slips))]
        delivered = readings(keyed, year, dawn=dawn)
        shown = delivered if display.includes_offsets is not False else readings(keyed, year, offsets=False, dawn=dawn)
        made, place = [], 0
        for _, slips in some:
            mine = slice(place, place + 1 + len(slips))
            made.append(_table(slips, _rows_of(delivered, mine), _rows_of(shown, mine), display, slice(first_day, min(first_day + days, shown.date.size))))
            place = mine.stop
        return made

    return [table for some in on_all_cores(tables, range(0, len(switches), _AT_ONCE)) for table in some]


def _rows_of(times: Readings, mine: slice) -> Readings:
    morning, coming = (None if dawn is None else dawn[mine] for dawn in (times.dawn_min, times.coming_dawn_min))
    return Readings(times.dusk_min[mine], morning, coming, times.date)


def _table(slips: Sequence[Slip], delivered: Readings, shown: Readings, display: Display, week: slice) -> SlipTable:
    """The table of one setting; the first row of the readings is the right one's."""
    dawn = "coming_dawn_min" if display.dawn == "coming" else "dawn_min"
    face = 60.0 * display.hours
    times = np.stack([shown.dusk_min, getattr(shown, dawn)], axis=1)  # (1 + slip, edge, date)
    off = wrapped(times[1:] - times[0], face)
    harms = _harms(np.stack([delivered.dusk_min, getattr(delivered, dawn)], axis=1), slips)
    seen = np.logical_not(_reads_right(times, display))
    rows, kinds_of = _Rows(off[:, :, week]), _time_kinds(times[:, :, week])
    seen_now = seen[:, week].any(axis=1)
    unseen = []
    for i, slip in enumerate(slips):
        if not harms[i]:
            continue
        if seen_now[i]:
            rows.add(i, slip.about == "offset", kinds_of[i])
            continue
        after, before = np.flatnonzero(seen[i, week.stop:]), np.flatnonzero(seen[i, :week.start])
        first = week.stop + after[0] if after.size else before[0] if before.size else None
        unseen.append(Unseen(slip, None if first is None else shown.date[first]))
    made = [Row(dusk, dawn, tuple(slips[i] for i in row), display.includes_offsets is None and slips[row[0]].about == "offset", *kinds)
            for row, kinds, (dusk, dawn) in rows.made()]
    made.sort(key=lambda row: (CLASSES.index(row.likelihood), -row.weight, row.slips[0].key, row.slips[0].values))
    return SlipTable(tuple(made), tuple(unseen), shown.date[week.start], shown.date[week.stop - 1])


def _harms(times: np.ndarray, slips: Sequence[Slip]) -> np.ndarray:
    """Per slip: whether it does harm anywhere in the year."""
    off = np.abs(wrapped(times[1:] - times[0]))
    gone = np.isnan(times[1:]) != np.isnan(times[0])
    return (gone | (off >= HARM_MIN)).any(axis=(1, 2)) | np.array([abs(slip.keyed.clock_error_min) >= CLOCK_HARM_MIN for slip in slips], dtype=bool)


def _reads_right(times: np.ndarray, display: Display) -> np.ndarray:
    """Per slip and date: whether every reading that the wrong switch may show could be a right one's, seconds cut off or rounded."""
    exact = times[1:]
    fits = display.fits(np.floor(exact), times[0]) & display.fits(np.floor(exact + 0.5), times[0])
    return fits.all(axis=1)


def _time_kinds(times: np.ndarray) -> list[tuple[str, str]]:
    """Per slip: whether the wrong switch shows dusk and dawn in the week, as `Row` says it."""
    none = np.isnan(times)
    right, wrong = none[0], none[1:]
    kinds = np.full(wrong.shape[:2], "some", dtype=object)
    kinds[right.all(axis=1) & ~wrong.any(axis=2)] = "appears"
    kinds[wrong.all(axis=2)] = "none"
    kinds[~right.any(axis=1) & ~wrong.any(axis=2)] = "shown"
    return [(dusk, dawn) for dusk, dawn in kinds.tolist()]


class _Rows:
    """Slips put together that differ alike: on each date within `SAME_MIN` of each other, and no time only with its like."""

    def __init__(self, off: np.ndarray):
        self._off = off
        self._codes: dict[tuple[bool, tuple[str, str]], int] = {}
        self._added: list[tuple[int, int]] = []

    def add(self, i: int, offset: bool, kinds: tuple[str, str]) -> None:
        self._added.append((i, self._codes.setdefault((offset, kinds), len(self._codes))))

    def made(self) -> Iterator[tuple[list[int], tuple[str, str], list[tuple[float, float]]]]:
        """Slips, kinds of times, and the range of differences at dusk and at dawn of each row."""
        added = np.array(self._added, dtype=np.int64).reshape(-1, 2)
        row, least, most = _put_together(self._off[added[:, 0]].reshape(len(added), -1), added[:, 1], SAME_MIN)
        rows: list[list[int]] = [[] for _ in least]
        kinds_of: dict[int, tuple[str, str]] = {}
        names = list(self._codes)
        for (i, code), place in zip(self._added, row.tolist(), strict=True):
            rows[place].append(i)
            kinds_of[place] = names[code][1]
        shape = (len(least), *self._off.shape[1:])
        # A range without any time is not a number, silently.
        low, high = np.fmin.reduce(least.reshape(shape), axis=2).tolist(), np.fmax.reduce(most.reshape(shape), axis=2).tolist()
        for place, slips in enumerate(rows):
            yield slips, kinds_of[place], list(zip(low[place], high[place], strict=True))


@kernel()
def _put_together(off, code, same_min):
    """The row of each slip, in their order, and each row's least and largest differences; not a number is alike only itself."""
    n, width = off.shape
    row, code_of, count = np.empty(n, dtype=np.int64), np.empty(n, dtype=np.int64), 0
    least, most = np.empty((n, width)), np.empty((n, width))
    for i in range(n):
        place = count
        for k in range(count):
            alike = code_of[k] == code[i]
            for j in range(width):
                if not alike:
                    break
                none = np.isnan(off[i, j])
                alike = np.isnan(least[k, j]) == none and (none or max(most[k, j], off[i, j]) - min(least[k, j], off[i, j]) <= same_min)
            if alike:
                place = k
                break
        if place == count:
            count += 1
            code_of[place], least[place], most[place] = code[i], off[i], off[i]
        for j in range(width):
            least[place, j], most[place, j] = min(least[place, j], off[i, j]), max(most[place, j], off[i, j])
        row[i] = place
    return row, least[:count], most[:count]
