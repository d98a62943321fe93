"""From what was read off switches to every slip, and pair of slips, that explains it; never one confident guess where two fit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..numbers.civil import MIN_PER_DAY
from ..trade.readings import Display, Keyed, wrapped
from ..trade.slips import Slip
from ..trade.switchclock import SAVING_RULES
from .asread import AsRead
from .candidaterecords import Candidates
from .candidates import SettingSlips
from .nextreading import best_next

#: A watch is read in whole minutes and is itself a minute off, so a clock that differs by this much may be right [minute].
WATCH_MIN = 2.0
#: A clock that is off by up to this much was set or has crept wrong; more, other than an hour or half a day, no slip explains [minute].
MOST_CREPT_MIN = 45.0
#: Two altitudes that differ by less are one dark threshold [degree].
_SAME_ALTITUDE_DEG = 0.05

STATES = ("agrees", "differs", "no known slip", "not read")


@dataclass(frozen=True)
class Explanation:
    """One way in which a switch can have come to read what it reads.

    Attributes
    ----------
    slips : tuple of Slip
        One, or two that are in different keyed values.
    keyed : Keyed
        What the switch then holds.
    alternatives : int
        How many more slips, or pairs, are the same for the reader: all year they read within three minutes, and are mended alike.
    weight : float
        For the order among single slips, or among pairs, only.
    """

    slips: tuple[Slip, ...]
    keyed: Keyed
    alternatives: int
    weight: float


@dataclass(frozen=True)
class Diagnosis:
    """What the readings of one switch can mean.

    Attributes
    ----------
    state : {"agrees", "differs", "no known slip", "not read"}
        "agrees": the right setting reads so, which does not prove that it is keyed.
    explanations : tuple of Explanation
        With "differs" all that fit, single slips before pairs, the likeliest first; else none.
    hidden : tuple of (Slip, int or None)
        With "agrees" the single slips that read so as well, each with the day of the year from which the display shows it.
    clock_open : bool
        The clock was not held against a watch: slips of the clock alone are then in neither list.
    next_reading : str
        The one further reading that tells most of them apart: one of `nextreading.READINGS`; "" where none does or none is needed.
    """

    state: str
    explanations: tuple[Explanation, ...] = ()
    hidden: tuple[tuple[Slip, int | None], ...] = ()
    clock_open: bool = False
    next_reading: str = ""

    @property
    def likely(self) -> tuple[Explanation, ...]:
        """The single slips that fit; pairs only where no single one does."""
        return tuple(one for one in self.explanations if len(one.slips) == len(self.explanations[0].slips))


def diagnose(read: AsRead, *, setting: SettingSlips, most: int | None = None) -> list[Diagnosis]:
    """Which slips, and pairs of slips, explain what was read off switches that should all have one setting.

    Parameters
    ----------
    read : AsRead
        n switches.
    setting : SettingSlips
        What they should have, with how their display shows it.
    most : int, optional
        At most so many explanations are handed over for each; left out: all.

    Returns
    -------
    list of Diagnosis, n
        In the order of the readings.

    Notes
    -----
    A display may round or cut seconds off, and its own sun may be off by `display.error_min`. What is not known of the display (does
    it include offsets? whose dawn?) may be either, the same at dusk and dawn. A clock fits within two minutes. What was read back of
    the keyed values must be equal.
    """
    found: list[Diagnosis | None] = [None] * len(read)
    nothing = read.nothing_read()
    known: dict[bytes, Diagnosis] = {}
    keys = read.keys()
    for day in np.unique(read.day).tolist():
        singles, both = None, _Once(setting, day)
        for i in np.flatnonzero(read.day == day).tolist():
            if nothing[i]:
                found[i] = Diagnosis("not read", clock_open=True)
                continue
            key = keys[i]
            if key not in known:
                singles = singles or setting.on(day, pairs=False)
                known[key] = _one(read, i, day, singles, both, setting, most)
            found[i] = known[key]
    return found


class _Once:
    """All candidates of a day, made when a reading first wants them: most switches are right, and single slips suffice for these."""

    def __init__(self, setting: SettingSlips, day: int):
        self._setting, self._day = setting, day
        self._made: Candidates | None = None

    def __call__(self) -> Candidates:
        self._made = self._made or self._setting.on(self._day)
        return self._made


def _one(read: AsRead, i: int, day: int, candidates: Candidates, both: _Once, setting: SettingSlips, most: int | None) -> Diagnosis:
    fits = _fits(read, i, candidates, setting)
    clock_open = bool(np.isnan(read.clock_fast_min[i]))
    unread = _unread(read, i)
    if fits[0]:
        hidden = tuple((slip, setting.first_seen(slip, day)) for slip, fit, alone in
                       zip(candidates.slips, fits[1:].tolist(), candidates.clock_only[1:].tolist(), strict=True) if fit and not (alone and clock_open))
        places = [0, *(np.flatnonzero(fits[1:] & ~(candidates.clock_only[1:] & clock_open)) + 1).tolist()]
        return Diagnosis("agrees", (), hidden, clock_open, best_next(candidates, places, unread, setting, day) if len(places) > 1 else "")
    candidates = both()
    fits = _fits(read, i, candidates, setting)
    if clock_open:
        fits &= ~candidates.clock_only
    explanations, heads = _merged(candidates, np.flatnonzero(fits))
    as_read = _as_read(read, i, day, setting, candidates)
    if as_read is not None and not any(_same(one.keyed, as_read.keyed) for one in explanations):
        explanations = [as_read, *explanations] if not any(len(one.slips) == 1 for one in explanations) else [*explanations, as_read]
    if not explanations:
        return Diagnosis("no known slip", (), (), clock_open, next(iter(unread), ""))
    asked = best_next(candidates, heads, unread, setting, day) if len(heads) > 1 else ""
    return Diagnosis("differs", tuple(explanations[:most]), (), clock_open, asked)


def _fits(read: AsRead, i: int, candidates: Candidates, setting: SettingSlips) -> np.ndarray:
    """(m,) bool: which candidates explain all that was read."""
    keyed = candidates.keyed
    fits = display_fits(setting.display, (candidates.dusk_min, candidates.dawn_min, candidates.coming_dawn_min),
                        keyed["dusk_offset_min"], keyed["dawn_offset_min"], read, i)
    if np.isfinite(read.clock_fast_min[i]):
        fits &= _clock_fits(candidates, float(read.clock_fast_min[i]))
    if np.isfinite(read.date_ahead_days[i]):
        # An old year is 365 or 366 days behind.
        ahead = keyed["date_error_days"] + np.where(keyed["year_error"] != 0, _year_days(setting, int(read.day[i])), 0)
        fits &= ahead == read.date_ahead_days[i]
    half = setting.keypad.coordinate_step_deg / 2 + 1e-9
    for name, room in (("lat_deg", half), ("lon_deg", half), ("dusk_offset_min", 0.0), ("dawn_offset_min", 0.0), ("altitude_deg", _SAME_ALTITUDE_DEG)):
        value = getattr(read, name)[i]
        if np.isfinite(value):
            fits &= np.abs(keyed[name] - value) <= room
    if np.isfinite(read.standard_min[i]):
        fits &= np.array([clock.standard_min for clock in candidates.clocks])[keyed["clock"]] == read.standard_min[i]
    if read.saving[i]:
        fits &= np.array([clock.saving.name == read.saving[i] for clock in candidates.clocks])[keyed["clock"]]
    return fits


def _year_days(setting: SettingSlips, day: int) -> int:
    on = np.datetime64(f"{setting.year}-01-01") + day
    months = on.astype("datetime64[M]")
    before = (months - np.timedelta64(12, "M")).astype("datetime64[D]") + (on - months)
    return int((before - on).astype(int))


def display_fits(display: Display, times, dusk_offset, dawn_offset, read: AsRead, i: int) -> np.ndarray:
    """(m,) bool: whether what a display shows is what switches show that hold given values, whatever is not known of the display.

    Parameters
    ----------
    display : Display
    times : (dusk, morning's dawn, coming dawn), (m,) float64 each
        Without offsets [minute of the day].
    dusk_offset, dawn_offset : (m,) float64 [minute]
    read : AsRead
    i : int
        Which of the readings.
    """
    dusk, morning, coming = times
    dusk_read, dawn_read = np.isfinite(read.dusk_min[i]) or read.dusk_none[i], np.isfinite(read.dawn_min[i]) or read.dawn_none[i]
    fits = np.zeros(dusk.shape, dtype=bool)
    for included in ((True, False) if display.includes_offsets is None else (display.includes_offsets,)):
        here = np.ones(dusk.shape, dtype=bool)
        if dusk_read:
            here &= display.fits(read.dusk_min[i], dusk + (dusk_offset if included else 0))
        if dawn_read:
            shown = {"morning": (morning,), "coming": (coming,), None: (morning, coming)}[display.dawn]
            here &= np.any([display.fits(read.dawn_min[i], dawn + (dawn_offset if included else 0)) for dawn in shown], axis=0)
        fits |= here
    return fits


def _clock_fits(candidates: Candidates, fast: float) -> np.ndarray:
    """A clock may be off by any few minutes, an hour either way or half a day; as far as a watch tells."""
    mine = candidates.clock_fast_min
    fits = np.abs(wrapped(fast - mine)) <= WATCH_MIN
    place = {slip.key: i for i, slip in enumerate(candidates.slips) if slip.about == "clock"}
    for key, may_be in (("clock_minutes", WATCH_MIN < abs(wrapped(fast)) <= MOST_CREPT_MIN), ("clock_hour", abs(abs(float(wrapped(fast))) - 60) <= WATCH_MIN),
                        ("clock_half_day", abs(abs(float(wrapped(fast))) - MIN_PER_DAY / 2) <= WATCH_MIN)):
        if key in place:
            fits[(candidates.first == place[key]) | (candidates.second == place[key])] = bool(may_be)
    return fits


def _merged(candidates: Candidates, places: np.ndarray) -> tuple[list[Explanation], list[int]]:
    """Explanations that are the same for the reader put together, single slips before pairs, the likeliest first."""
    found: dict[tuple[int, ...], list[int]] = {}
    weights: dict[int, float] = {}
    alike, weight_of = candidates.alike.tolist(), [slip.weight for slip in candidates.slips]
    for place, one, other in zip(places.tolist(), candidates.first[places].tolist(), candidates.second[places].tolist(), strict=True):
        # The right setting, without any slip, is no explanation of what differs.
        key = (alike[one],) if other < 0 else tuple(sorted((alike[one], alike[other])))
        weights[place] = weight_of[one] * (weight_of[other] if other >= 0 else 1.0)
        found.setdefault(key, []).append(place)
    made = []
    for mine in found.values():
        head = max(mine, key=lambda place: (weights[place], -place))
        slips = tuple(candidates.slips[s] for s in (int(candidates.first[head]), int(candidates.second[head])) if s >= 0)
        made.append((Explanation(slips, candidates.record(head), len(mine) - 1, sum(weights[place] for place in mine)), head))
    made.sort(key=lambda one: (len(one[0].slips), -one[0].weight, [(slip.key, slip.values) for slip in one[0].slips]))
    return [one for one, _ in made], [head for _, head in made]


def _as_read(read: AsRead, i: int, day: int, setting: SettingSlips, candidates: Candidates) -> Explanation | None:
    """What was read back of the keyed values, taken as it stands: a value that no slip leads to is known all the same."""
    right = setting.right
    changes: dict = {}
    for name in ("lat_deg", "lon_deg", "dusk_offset_min", "dawn_offset_min", "altitude_deg"):
        value = getattr(read, name)[i]
        room = {"lat_deg": setting.keypad.coordinate_step_deg / 2, "lon_deg": setting.keypad.coordinate_step_deg / 2, "altitude_deg": _SAME_ALTITUDE_DEG}.get(name, 0)
        if np.isfinite(value) and abs(value - getattr(right, name)) > room + 1e-9:
            changes[name] = int(value) if name.endswith("_min") else float(value)
    clock = right.clock
    if np.isfinite(read.standard_min[i]) and read.standard_min[i] != clock.standard_min:
        clock = type(clock)(int(read.standard_min[i]), clock.saving)
    if read.saving[i] and read.saving[i] != clock.saving.name:
        clock = type(clock)(clock.standard_min, SAVING_RULES[read.saving[i]])
    if clock != right.clock:
        changes["clock"] = clock
    if np.isfinite(read.date_ahead_days[i]) and read.date_ahead_days[i]:
        changes["date_error_days"] = int(read.date_ahead_days[i])
    fast = read.clock_fast_min[i]
    if np.isfinite(fast) and abs(wrapped(fast)) > WATCH_MIN:
        changes["clock_error_min"] = float(wrapped(fast))
    if not changes or any(abs(changes.get(name, 0)) > limit for name, limit in (("date_error_days", 364), ("lat_deg", 90), ("lon_deg", 180))):
        return None
    keyed = right.changed(**changes)
    times = setting.day_times([keyed], day)
    if not display_fits(setting.display, times, np.array([keyed.dusk_offset_min]), np.array([keyed.dawn_offset_min]), read, i)[0]:
        return None
    return Explanation((Slip("as_read", _about(changes), 1.0, keyed),), keyed, 0, 1.0)


def _about(changes: dict) -> str:
    kinds = {"lat_deg": "latitude", "lon_deg": "longitude", "dusk_offset_min": "offset", "dawn_offset_min": "offset", "altitude_deg": "threshold",
             "clock": "zone_and_saving", "date_error_days": "date", "clock_error_min": "clock"}
    found = {kinds[name] for name in changes}
    return found.pop() if len(found) == 1 else "position" if found == {"latitude", "longitude"} else "setting"


def _same(one: Keyed, other: Keyed) -> bool:
    """Whether both hold the same but for minutes of the clock, of which a slip has no number of its own."""
    return one.changed(clock_error_min=0.0) == other.changed(clock_error_min=0.0) and bool(one.clock_error_min) == bool(other.clock_error_min)


def _unread(read: AsRead, i: int) -> list[str]:
    """What could still be read, in the order of asking when nothing is known."""
    def missing(*names):
        return any(np.isnan(getattr(read, name)[i]) for name in names)

    edge = {"dusk": missing("dusk_min") and not read.dusk_none[i], "dawn": missing("dawn_min") and not read.dawn_none[i]}
    asked = {"clock": missing("clock_fast_min"), **edge, "zone_and_saving": missing("standard_min") or not read.saving[i],
             "position": missing("lat_deg", "lon_deg"), "offset": missing("dusk_offset_min", "dawn_offset_min"), "date": missing("date_ahead_days"),
             "threshold": missing("altitude_deg")}
    return [name for name, open_ in asked.items() if open_]
