"""If the display reads something else: differences from the right reading in the week of a visit, and which slips make them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .readings import Display, Keyed, readings, wrapped
from .slips import CLASSES, Slip

#: A slip matters if somewhere in the year dusk or dawn is off by this much, or its clock by the second [minute].
HARM_MIN, CLOCK_HARM_MIN = 3.0, 2.0
#: Differences within this range stand in one row, and one that moves by more in the week is marked [minute].
SAME_MIN = 2.0


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
        for several, one in (({"saving", "zone", "zone_and_saving"}, "zone_and_saving"), ({"latitude", "longitude", "position"}, "position")):
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
    switches = [right, *(slip.keyed for slip in slips)]
    delivered = readings(switches, year)
    shown = delivered if display.includes_offsets is not False else readings(switches, year, offsets=False)
    dawn = "coming_dawn_min" if display.dawn == "coming" else "dawn_min"
    face = 60.0 * display.hours
    dusk_off, dawn_off = (wrapped(times[1:] - times[0], face) for times in (shown.dusk_min, getattr(shown, dawn)))
    week = slice(first_day, min(first_day + days, shown.date.size))
    rows: list[list[int]] = []
    unseen = []
    for i, slip in enumerate(slips):
        if not _harms(delivered, dawn, i, slip):
            continue
        seen = ~_reads_right(shown, dawn, i, display)
        if not seen[week].any():
            after = np.flatnonzero(seen[week.stop:])
            before = np.flatnonzero(seen[:week.start])
            first = week.stop + after[0] if after.size else before[0] if before.size else None
            unseen.append(Unseen(slip, None if first is None else shown.date[first]))
            continue
        kinds = [_time_kind(times, i, week) for times in (shown.dusk_min, getattr(shown, dawn))]
        mine = next((row for row in rows if _same(dusk_off, [*row, i], week) and _same(dawn_off, [*row, i], week)
                     and [_time_kind(times, row[0], week) for times in (shown.dusk_min, getattr(shown, dawn))] == kinds
                     and (slips[row[0]].about == "offset") == (slip.about == "offset")), None)
        if mine is None:
            rows.append([i])
        else:
            mine.append(i)
    made = [Row(_range(dusk_off[row, week]), _range(dawn_off[row, week]), tuple(slips[i] for i in row),
                needs_offsets=display.includes_offsets is None and slips[row[0]].about == "offset",
                dusk_time=_time_kind(shown.dusk_min, row[0], week), dawn_time=_time_kind(getattr(shown, dawn), row[0], week)) for row in rows]
    made.sort(key=lambda row: (CLASSES.index(row.likelihood), -row.weight, row.slips[0].key, row.slips[0].values))
    return SlipTable(tuple(made), tuple(unseen), shown.date[week.start], shown.date[week.stop - 1])


def _harms(delivered, dawn: str, i: int, slip: Slip) -> bool:
    if abs(slip.keyed.clock_error_min) >= CLOCK_HARM_MIN:
        return True
    for times in (delivered.dusk_min, getattr(delivered, dawn)):
        off = np.abs(wrapped(times[i + 1] - times[0]))
        if (np.isnan(times[i + 1]) != np.isnan(times[0])).any() or (off >= HARM_MIN).any():
            return True
    return False


def _reads_right(shown, dawn: str, i: int, display: Display) -> np.ndarray:
    """Per date: whether every reading that the wrong switch may show could be a right one's, seconds cut off or rounded."""
    fits = np.ones(shown.date.size, dtype=bool)
    for times in (shown.dusk_min, getattr(shown, dawn)):
        exact = times[i + 1]
        for seen in (np.floor(exact), np.floor(exact + 0.5)):
            fits &= display.fits(seen, times[0])
    return fits


def _time_kind(times: np.ndarray, i: int, week: slice) -> str:
    """Whether a wrong switch shows a time in the week, as `Row` says it."""
    right, wrong = np.isnan(times[0, week]), np.isnan(times[i + 1, week])
    if not right.any() and not wrong.any():
        return "shown"
    return "none" if wrong.all() else "appears" if right.all() and not wrong.any() else "some"


def _same(off: np.ndarray, row: list[int], week: slice) -> bool:
    """Whether slips differ alike: on each date within `SAME_MIN` of each other; one that shows no time only with its like."""
    part = off[row, week]
    gone = np.isnan(part)
    if gone.any():
        return bool((gone == gone[0]).all()) and (gone.all() or bool((np.ptp(part[:, ~gone[0]], axis=0) <= SAME_MIN).all()))
    return bool((np.ptp(part, axis=0) <= SAME_MIN).all())


def _range(off: np.ndarray) -> tuple[float, float]:
    known = off[~np.isnan(off)]
    return (float(known.min()), float(known.max())) if known.size else (float("nan"), float("nan"))
