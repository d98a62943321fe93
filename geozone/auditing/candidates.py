"""Every slip and pair of slips of one setting, and what a display reads with each on any day: what diagnosis looks through."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

import numpy as np

from ..numbers.civil import MIN_PER_DAY
from ..trade.keypad import Keypad
from ..trade.readings import Display, Keyed, wrapped
from ..trade.slipdifferences import CLOCK_HARM_MIN, HARM_MIN
from ..trade.slips import Slip, slips_of, with_slips_of_the_visit
from ..trade.switchclock import SwitchClock
from .candidaterecords import FIELDS, Candidates, Pairs
from .keyedsun import KeyedSun, day_of_year

_CLOCK_ALONE = 1 << FIELDS.index("clock_error_min")
#: The one keyed value of which slips hang on the day of the reading.
_OF_THE_DAY = "date_error_days"
#: What keeps the clocks of one table apart: more than any time that is looked up [minute].
_APART_MIN = 1e8


class SettingSlips:
    """One setting with its slips over a year: the sun of every keyed position is computed once, whatever the days of reading.

    Parameters
    ----------
    right : Keyed
    keypad : Keypad
    display : Display
    year : int
    others : iterable of (str, Keyed)
        Settings of other groups by name.
    """

    def __init__(self, right: Keyed, keypad: Keypad, display: Display, year: int, others: Iterable[tuple[str, Keyed]] = ()):
        self.right, self.keypad, self.display, self.year, self.others = right, keypad, display, year, tuple(others)
        self._start = date(year, 1, 1)
        self.days = (date(year + 1, 1, 1) - self._start).days
        # On 1 January no date but those a fixed number of days away is a slip.
        self._fixed = tuple(slips_of(right, keypad, self._start, self.others))
        self._sun = KeyedSun(year)
        self._clocks = tuple(dict.fromkeys([right.clock, *(slip.keyed.clock for slip in self._fixed)]))
        self._sun.want_far(_places([right, *(slip.keyed for slip in self._fixed)]))
        self._steps = [_clock_steps(clock, self._sun.years, year) for clock in self._clocks]
        self._last: tuple[int, tuple[Slip, ...]] = (-1, ())
        self._pairs: dict[bytes, Pairs] = {}
        self._table: tuple = ()
        self._judge()

    def _judge(self) -> None:
        """Which of the fixed slips do harm, which read alike all year, and from which days they show."""
        keyed = [self.right, *(slip.keyed for slip in self._fixed)]
        shown = self.year_times(keyed)
        offsets = np.array([[one.dusk_offset_min, one.dawn_offset_min] for one in keyed], dtype=float)
        times = np.stack([shown[0], shown[1 if self.display.dawn != "coming" else 2]], axis=1)
        delivered = times + offsets[:, :, None]
        off = np.abs(wrapped(delivered[1:] - delivered[0]))
        gone = np.isnan(delivered[1:]) != np.isnan(delivered[0])
        harm = (gone | (off >= HARM_MIN)).any(axis=(1, 2)) | np.array([abs(s.keyed.clock_error_min) >= CLOCK_HARM_MIN for s in self._fixed], dtype=bool)
        self._harm = {slip.keyed: bool(bad) for slip, bad in zip(self._fixed, harm, strict=True)}
        self._alike = _alike(self._fixed, delivered[1:])
        self._seen = dict(zip((slip.keyed for slip in self._fixed), self._shows(shown, offsets), strict=True))

    def _shows(self, shown, offsets: np.ndarray) -> np.ndarray:
        """(k, n_day) bool: whether a display tells a switch from the right one for sure, the first row of the arguments.

        What is not known of the display may be either, for the wrong switch and for what the right one is taken to show: only days on
        which no reading of the one can be a reading of the other count.
        """
        included = (1.0, 0.0) if self.display.includes_offsets is None else (float(self.display.includes_offsets),)
        dawns = {"morning": (1,), "coming": (2,), None: (1, 2)}[self.display.dawn]

        def alike(edge: int, of: float, which: int, other_of: float, other: int) -> np.ndarray:
            wrong, right = shown[which][1:] + of * offsets[1:, edge, None], shown[other][:1] + other_of * offsets[:1, edge, None]
            return self.display.fits(np.floor(wrong), right) | self.display.fits(np.floor(wrong + 0.5), right)

        reads_right = np.zeros(shown[0][1:].shape, dtype=bool)
        for of in included:
            for other_of in included:
                dawn = np.zeros_like(reads_right)
                for which in dawns:
                    for other in dawns:
                        dawn |= alike(1, of, which, other_of, other)
                reads_right |= alike(0, of, 0, other_of, 0) & dawn
        return ~reads_right

    def first_seen(self, slip: Slip, day: int) -> int | None:
        """First day after one on which the display tells a slip from the right setting; None if it does not again this year."""
        if slip.keyed not in self._seen:  # one that hangs on the date of the reading
            keyed = [self.right, slip.keyed]
            self._seen[slip.keyed] = self._shows(self.year_times(keyed), np.array([[one.dusk_offset_min, one.dawn_offset_min] for one in keyed], dtype=float))[0]
        seen = self._seen[slip.keyed]
        after = np.flatnonzero(seen[day + 1:])
        return int(after[0]) + day + 1 if after.size else None

    def on(self, day: int, pairs: bool = True) -> Candidates:
        """Every candidate of one day of the year; without pairs of slips only the single ones, which are the same entries."""
        slips = self._slips_on(day)
        keyed = [self.right, *(slip.keyed for slip in slips)]
        code = {clock: place for place, clock in enumerate(self._clocks)}
        values = {name: np.array([code[one.clock] if name == "clock" else getattr(one, name) for one in keyed]) for name in FIELDS}
        both = self._in_common(values, pairs)
        date = values[_OF_THE_DAY]
        held = {**both.held, _OF_THE_DAY: np.concatenate([date, np.where(both.other_date, date[both.two], date[both.one])])}
        first, second = both.first, both.second
        standard = np.array([slip.key == "saving_off_on_standard" for slip in slips], dtype=bool)
        winter = not self._saves_on(day)
        fast = held["clock_error_min"].astype(float)
        if winter and standard.any():
            mine = np.flatnonzero(standard)
            fast[np.isin(first, mine) | np.isin(second, mine)] = 0.0
        dusk, dawn, coming = self._times(held, np.array([day]), (both.row, both.far))
        extra = iter(range(1 << 20, 1 << 21))
        alike = np.array([self._alike[slip.keyed] if slip.keyed in self._alike else next(extra) for slip in slips], dtype=np.int64)
        return Candidates(slips, first, second, alike, held, self._clocks, dusk[:, 0], dawn[:, 0], coming[:, 0], fast, both.clock_only)

    def _in_common(self, values: dict[str, np.ndarray], pairs: bool) -> Pairs:
        """The pairs of right setting and slips, made once for all days on which these differ in the same values."""
        date = values[_OF_THE_DAY]
        key = b"".join([bytes([pairs]), (date != date[0]).tobytes(), *(values[name].tobytes() for name in FIELDS if name != _OF_THE_DAY)])
        if key in self._pairs:
            return self._pairs[key]
        bits = np.zeros(date.size, dtype=np.int64)
        for place, name in enumerate(FIELDS):
            bits |= (values[name] != values[name][0]).astype(np.int64) << place
        apart = np.triu((bits[:, None] & bits[None, :]) == 0, 1) & (bits[:, None] > 0) if pairs else np.zeros((1, 1), dtype=bool)
        one, two = np.nonzero(apart)
        takes = {name: (bits[two] >> place & 1).astype(bool) for place, name in enumerate(FIELDS)}
        held = {name: np.concatenate([values[name], np.where(takes[name], values[name][two], values[name][one])]) for name in FIELDS}
        alone = (bits & ~_CLOCK_ALONE == 0) & (bits > 0)
        far = (held[_OF_THE_DAY] != 0) | (held["year_error"] != 0)
        none = np.full(date.size, -1)
        self._pairs[key] = Pairs(one, two, takes[_OF_THE_DAY], np.concatenate([np.arange(-1, date.size - 1), one - 1]), np.concatenate([none, two - 1]),
                                  np.concatenate([alone, alone[one] | alone[two]]), held, far,
                                  self._sun.rows(held["altitude_deg"], held["lat_deg"], held["lon_deg"], far))
        return self._pairs[key]

    def harmful(self) -> list[tuple[Slip, int]]:
        """Slips that hang on no date of a visit and do harm, the likeliest first, each with the number of those that read like it all year."""
        return [(slip, self._alike[slip.keyed]) for slip in self._fixed if self._harm[slip.keyed]]

    def sun_and_clock(self, keyed: list[Keyed]) -> tuple[np.ndarray, np.ndarray]:
        """Dusk and the coming dawn of every date as switches compute them, without offsets, and what their clocks are then ahead of UTC.

        Returns
        -------
        utc_min, ahead_min : (k, 2, n_day) float64
            NaN where there is none; a switch with a wrong date has the times of the date that it holds.
        """
        values = self._values(keyed)
        dusk, _, dawn = self._utc(values, np.arange(self.days))
        utc = np.stack([dusk, dawn], axis=1)
        return utc, self._ahead(values["clock"], utc)

    def clock_ahead(self, keyed: list[Keyed], utc_min: np.ndarray) -> np.ndarray:
        """(k, ...) what their keyed clocks are ahead of UTC at given instants [minute]; with a wrong date by the rule on the date that it holds."""
        held = [(self._code(one.clock), one.date_error_days) for one in keyed]
        made = {(code, days): _at(self._steps[code], utc_min + days * MIN_PER_DAY) for code, days in set(held)}
        return np.stack([made[one] for one in held])

    def _slips_on(self, day: int) -> tuple[Slip, ...]:
        """Slips of one day that do harm; those of the last day asked for are kept."""
        if self._last[0] != day:
            # Slips that hang on the date of the reading are two at most, and a date that is wrong by that much does harm.
            self._last = day, tuple(slip for slip in with_slips_of_the_visit(self._fixed, self.right, self._start + timedelta(day))
                                    if self._harm.get(slip.keyed, True))
        return self._last[1]

    def _saves_on(self, day: int) -> bool:
        noon = np.array([day * MIN_PER_DAY + 720.0 - self.right.clock.standard_min])
        return bool(_at(self._steps[0], noon)[0] != self.right.clock.standard_min)

    def year_times(self, keyed: list[Keyed]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """(k, n_day) minutes of the day that displays show for dusk, the morning's and the coming dawn, without offsets."""
        return self._times(self._values(keyed), np.arange(self.days))

    def day_times(self, keyed: list[Keyed], day: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """(k,) the same of one day of the year."""
        dusk, dawn, coming = self._times(self._values(keyed), np.array([day]))
        return dusk[:, 0], dawn[:, 0], coming[:, 0]

    def on_standard(self, keyed: Keyed) -> bool:
        """Whether the summer-time rule is off and the clock was left on standard time: then it is behind in summer, and acts right."""
        law = self.right.clock
        return law.saving.start is not None and keyed.clock == SwitchClock(law.standard_min) and keyed.clock_error_min == -float(law.saving.saving_min)

    def _values(self, keyed: list[Keyed]) -> dict[str, np.ndarray]:
        return {name: np.array([self._code(one.clock) if name == "clock" else getattr(one, name) for one in keyed]) for name in FIELDS}

    def _code(self, clock: SwitchClock) -> int:
        if clock not in self._clocks:
            self._clocks += (clock,)
            self._steps.append(_clock_steps(clock, self._sun.years, self.year))
        return self._clocks.index(clock)

    def _times(self, values: dict[str, np.ndarray], days: np.ndarray, where=None) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        return tuple(np.mod(utc + self._ahead(values["clock"], utc), MIN_PER_DAY) for utc in self._utc(values, days, where))

    def _utc(self, values: dict[str, np.ndarray], days: np.ndarray, where=None) -> list[np.ndarray]:
        """Dusk of a date, dawn of its morning and the coming dawn, as the switch takes them for the date that it holds [UTC minute]."""
        held = self._held(values["date_error_days"], values["year_error"], days)
        if where is None:
            far = (values["date_error_days"] != 0) | (values["year_error"] != 0)
            where = self._sun.rows(values["altitude_deg"], values["lat_deg"], values["lon_deg"], far), far
        row, far = where
        return [self._sun.times(edge, row, at, far) for edge, at in (("dusk", held), ("dawn", held - 1), ("dawn", held))]

    def _held(self, ahead, years, days) -> np.ndarray:
        held = days[None, :] + ahead[:, None]
        for error in np.unique(years[years != 0]):
            mine = years == error
            day = np.datetime64(self._start, "D") + held[mine].astype("timedelta64[D]")
            months = day.astype("datetime64[M]")
            other = (months + np.timedelta64(12 * int(error), "M")).astype("datetime64[D]") + (day - months)
            held[mine] = (other - np.datetime64(self._start, "D")).astype(np.int64)
        return held

    def _ahead(self, clock: np.ndarray, utc: np.ndarray) -> np.ndarray:
        """What keyed clocks are ahead of UTC, (m, ...) as the times [minute]."""
        starts, ahead, begin = self._clock_table()
        one_each = (-1,) + (1,) * (utc.ndim - 1)
        place = np.searchsorted(starts, utc + (clock * _APART_MIN).reshape(one_each), side="right") - 1
        return ahead[np.maximum(place, begin[clock].reshape(one_each))]

    def _clock_table(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """The steps of all clocks behind each other, `_APART_MIN` apart: from when, how far ahead, and where each clock begins."""
        if not self._table or self._table[2].size != len(self._steps):
            sizes = [starts.size for starts, _ in self._steps]
            self._table = (np.concatenate([starts + code * _APART_MIN for code, (starts, _) in enumerate(self._steps)]),
                           np.concatenate([values for _, values in self._steps]), np.cumsum([0, *sizes[:-1]]))
        return self._table

    def acts(self, keyed: list[Keyed]) -> tuple[np.ndarray, np.ndarray]:
        """When switches act over the year if their clocks are kept on legal time: (k, n_day) dusk and dawn [UTC minute], NaN for none.

        The right setting's clock stands for legal time. A summer-time rule that is off with the clock left on standard time acts right.
        """
        values = self._values(keyed)
        dusk, _, dawn = self._utc(values, np.arange(self.days))
        right = self._values([self.right])
        base_dusk, _, base_dawn = self._utc(right, np.arange(self.days))
        made = []
        for utc, base, offset in ((dusk, base_dusk, "dusk_offset_min"), (dawn, base_dawn, "dawn_offset_min")):
            shift = self._ahead(values["clock"], utc) - self._ahead(np.full(len(keyed), right["clock"][0]), utc) - values["clock_error_min"][:, None]
            shift[np.array([self.on_standard(one) for one in keyed], dtype=bool)] = 0.0
            acted = utc + shift + values[offset][:, None]
            # A switch acts at a time of the day: a longitude or a date that is far off moves no event by whole days.
            made.append(np.where(np.isfinite(base), base + wrapped(acted - base), acted - MIN_PER_DAY * np.round((acted - _plain(utc.shape[1])) / MIN_PER_DAY)))
        return made[0], made[1]


def _plain(days: int) -> np.ndarray:
    return np.arange(days) * MIN_PER_DAY + 720.0


def _places(keyed: list[Keyed]) -> set[tuple[float, float, float]]:
    return {(one.altitude_deg, one.lat_deg, one.lon_deg) for one in keyed}


def _alike(slips: tuple[Slip, ...], times: np.ndarray) -> dict[Keyed, int]:
    """A number for each slip: those of one number are in the same keyed value, and their times differ by less than `HARM_MIN` all year."""
    found: dict[Keyed, int] = {}
    heads: dict[tuple, list[int]] = {}
    for i, slip in enumerate(slips):
        mine = heads.setdefault((slip.about, slip.keyed.clock_error_min), [])
        for head in mine:
            off = np.abs(wrapped(times[i] - times[head]))
            if not (off >= HARM_MIN).any() and (np.isnan(times[i]) == np.isnan(times[head])).all():
                found[slip.keyed] = head
                break
        else:
            mine.append(i)
            found[slip.keyed] = i
    return found


def _clock_steps(clock: SwitchClock, years: list[int], year: int) -> tuple[np.ndarray, np.ndarray]:
    """From which UTC minute of the year a keyed clock is how far ahead."""
    starts, values = [], []
    for y in years:
        begin, sequence = day_of_year(y, year) * MIN_PER_DAY, clock.sequence(y)
        starts += [begin, *(np.asarray(sequence.start_utc_min[1:]) + begin)]
        values += list(sequence.offset_min)
    return np.array(starts, dtype=float), np.array(values, dtype=float)


def _at(steps: tuple[np.ndarray, np.ndarray], utc: np.ndarray) -> np.ndarray:
    place = np.searchsorted(steps[0], utc, side="right") - 1
    return steps[1][np.clip(place, 0, steps[1].size - 1)]
