"""Wrong settings that crews really key: what each changes, how likely it is, and how it is mended.

The weights only order a list: common practice, no source, except that clocks left unadjusted in autumn have been reported by
an authority (South Gloucestershire). Off by a factor of two or four they change the order little, so people are shown three
classes and never per cent.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from ..schema.column import step_decimals
from .keypad import Keypad
from .readings import Keyed
from .switchclock import SAVING_RULES, SwitchClock

CLASSES = ("usual", "now and then", "rare")
#: Least weight of a class.
_USUAL, _NOW_AND_THEN = 6.0, 2.0

#: What a slip is about, and so what is to be read next.
READ_NEXT = {"clock": "the clock, against a watch", "saving": "the keyed summer-time rule", "zone": "the keyed clock zone",
             "zone and saving": "the keyed clock zone and summer-time rule", "latitude": "the keyed latitude",
             "longitude": "the keyed longitude", "position": "the keyed position", "offset": "the keyed offsets",
             "date": "the date, with the year", "threshold": "the chosen twilight or sunset", "setting": "all that is keyed"}


_WHERE = {"united states": "the United States", "european union": "the European Union",
          "southern australia": "southern Australia"}


@dataclass(frozen=True)
class Slip:
    """One slip.

    Attributes
    ----------
    name : str
        In the words of a crew: "latitude: sign wrong".
    about : str
        A key of `READ_NEXT`.
    weight : float
        For the order only.
    mend : str
        What to do.
    keyed : Keyed
        What the switch then holds.
    right_lamps : bool
        True if lamps from dusk to dawn are right all the same.
    """

    name: str
    about: str
    weight: float
    mend: str
    keyed: Keyed
    right_lamps: bool = False

    @property
    def likelihood(self) -> str:
        """One of `CLASSES`."""
        return CLASSES[0] if self.weight >= _USUAL else CLASSES[1] if self.weight >= _NOW_AND_THEN else CLASSES[2]


def slips_of(right: Keyed, keypad: Keypad, on: date, others: Iterable[tuple[str, Keyed]] = ()) -> list[Slip]:
    """Every slip that a keypad lets through, the likeliest first; slips that change nothing are left out.

    Parameters
    ----------
    right : Keyed
        What should be keyed.
    keypad : Keypad
    on : datetime.date
        Day of the visit, for slips of the date.
    others : iterable of (str, Keyed)
        Settings of other groups by name, which could have been keyed instead.

    Returns
    -------
    list of Slip
        No two with the same keyed values: of slips that come to the same, the likeliest is named and carries the sum of the
        weights.
    """
    found: dict[Keyed, Slip] = {}
    for slip in _all(right, keypad, on, list(others)):
        if slip.keyed == right:
            continue
        there = found.get(slip.keyed)
        if there is None:
            found[slip.keyed] = slip
        else:
            first, second = (there, slip) if there.weight >= slip.weight else (slip, there)
            found[slip.keyed] = Slip(first.name, first.about, first.weight + second.weight, first.mend, first.keyed,
                                     first.right_lamps)
    return sorted(found.values(), key=lambda slip: (-slip.weight, slip.name))


def _all(right: Keyed, keypad: Keypad, on: date, others: list[tuple[str, Keyed]]) -> Iterator[Slip]:
    yield from _clock_slips(right)
    yield from _position_slips(right, keypad)
    yield from _offset_slips(right, keypad)
    yield from _date_slips(right, on)
    yield from _threshold_slips(right)
    for name, keyed in others:
        yield Slip(f"setting of group {name}", "setting", 8.0 / len(others), "key this group's setting", keyed)


def _clock_slips(right: Keyed) -> Iterator[Slip]:
    standard, rule = right.clock.standard_min, right.clock.saving
    none = SAVING_RULES["none"]

    def clocked(standard_min=standard, saving=rule):
        return right.changed(clock=SwitchClock(standard_min, saving))

    if rule.start is not None:
        yield Slip("summer time off, clock put right by hand", "saving", 8.0, "key the summer-time rule", clocked(saving=none))
        yield Slip("summer time off, clock left on standard time", "saving", 8.0, "key the summer-time rule",
                   clocked(saving=none).changed(clock_error_min=-float(rule.saving_min)), right_lamps=True)
        yield Slip("summer time off and zone one east (looks right in summer)", "zone and saving", 3.0,
                   "key zone and summer-time rule", clocked(standard + rule.saving_min, none))
    for other in SAVING_RULES.values():
        if other.start is not None and other != rule:
            yield Slip(f"summer time as in {_WHERE.get(other.name, other.name)}", "saving", 3.0 if rule.start is None else 2.0,
                       "key the summer-time rule", clocked(saving=other))
    for step, side in ((-60, "west"), (60, "east")):
        yield Slip(f"clock zone one too far {side}", "zone", 4.0, "key the clock zone", clocked(standard + step))
    if standard % 60:
        part = standard % 60
        yield Slip("clock zone without its part of an hour", "zone", 3.0, "key the clock zone", clocked(standard - part))
    yield Slip("clock zone with the wrong sign", "zone", 3.0, "key the clock zone", clocked(-standard))
    for minutes, words, weight in ((5.0, "clock a few minutes off", 8.0), (60.0, "clock an hour off", 4.0),
                                   (720.0, "clock 12 hours off", 4.0)):
        yield Slip(words, "clock", weight, "set the clock", right.changed(clock_error_min=minutes))


def _position_slips(right: Keyed, keypad: Keypad) -> Iterator[Slip]:
    lat, lon = right.lat_deg, right.lon_deg
    position = "key the position again, hemisphere last"

    def placed(name: str, about: str, weight: float, lat_deg: float = lat, lon_deg: float = lon):
        lat_deg, lon_deg = keypad.round_deg(lat_deg), keypad.round_deg(lon_deg)
        if abs(lat_deg) <= 90 and abs(lon_deg) <= 180:
            yield Slip(name, about, weight, position, right.changed(lat_deg=lat_deg, lon_deg=lon_deg))

    yield from placed("latitude: north and south exchanged", "latitude", 5.0, lat_deg=-lat)
    yield from placed("longitude: east and west exchanged", "longitude", 8.0, lon_deg=-lon)
    yield from placed("both hemispheres wrong", "position", 1.0, -lat, -lon)
    yield from placed("latitude and longitude exchanged", "position", 5.0, lon, lat)
    for axis, value, limit in (("latitude", lat, 90.0), ("longitude", lon, 180.0)):
        where = "lat_deg" if axis == "latitude" else "lon_deg"
        for times, words in ((10.0, "decimal point one place right"), (0.1, "decimal point one place left")):
            yield from placed(f"{axis}: {words}", axis, 3.0, **{where: value * times})
        for digits, weight in _one_digit_off(value, limit, keypad):
            yield from placed(f"{axis}: {_digits(digits, keypad)} for {_digits(value, keypad)}, one digit off", axis, weight,
                              **{where: digits})
        for digits in _swapped(value, limit, keypad):
            yield from placed(f"{axis}: {_digits(digits, keypad)} for {_digits(value, keypad)}, two digits swapped", axis, 3.0,
                              **{where: digits})
    yield from placed("degrees and minutes keyed as a decimal number", "position", 5.0, _minutes_as_decimals(lat),
                      _minutes_as_decimals(lon))
    yield from placed("decimals keyed as minutes", "position", 2.0, _decimals_as_minutes(lat), _decimals_as_minutes(lon))


def _offset_slips(right: Keyed, keypad: Keypad) -> Iterator[Slip]:
    dusk, dawn = right.dusk_offset_min, right.dawn_offset_min
    mend = "key the offsets again, with their signs"

    def offset(name: str, weight: float, dusk_min: int = dusk, dawn_min: int = dawn):
        if max(abs(dusk_min), abs(dawn_min)) <= keypad.offset_limit_min:
            yield Slip(name, "offset", weight, mend, right.changed(dusk_offset_min=dusk_min, dawn_offset_min=dawn_min))

    yield from offset("both offsets not keyed", 7.0, 0, 0)
    yield from offset("dusk offset with the wrong sign", 6.0, dusk_min=-dusk)
    yield from offset("dawn offset with the wrong sign", 6.0, dawn_min=-dawn)
    yield from offset("dusk and dawn offsets exchanged", 5.0, dawn, dusk)
    yield from offset("dusk offset not keyed", 3.0, dusk_min=0)
    yield from offset("dawn offset not keyed", 3.0, dawn_min=0)
    for words, which, value in (("dusk", "dusk_min", dusk), ("dawn", "dawn_min", dawn)):
        whole = Keypad(1.0, keypad.offset_limit_min)
        for digits, weight in _one_digit_off(float(value), 99.0, whole):
            yield from offset(f"{words} offset: {int(digits):+d} for {value:+d}, one digit off", weight / 6,
                              **{which: int(digits)})


def _date_slips(right: Keyed, on: date) -> Iterator[Slip]:
    mend = "set the date, with the year"

    def dated(name: str, weight: float, shown: date | None):
        if shown is not None:
            yield Slip(name, "date", weight, mend, right.changed(date_error_days=(shown - on).days))

    if on.day <= 12 and on.day != on.month:
        yield from dated("day and month exchanged", 4.0, date(on.year, on.day, on.month))
    yield from dated("power lost: date back to 1 January", 3.0, date(on.year, 1, 1))
    for days, words in ((1, "a day"), (10, "ten days"), (30, "a month")):
        for sign, side in ((1, "ahead"), (-1, "behind")):
            yield from dated(f"date {words} {side}", 1.0, on + timedelta(sign * days))
    yield Slip("date of last year", "date", 3.0, mend, right.changed(year_error=-1))


def _threshold_slips(right: Keyed) -> Iterator[Slip]:
    for altitude, words in ((-50 / 60, "sunset and sunrise"), (-6.0, "civil twilight")):
        if abs(altitude - right.altitude_deg) > 0.05:
            yield Slip(f"{words} chosen for dusk and dawn", "threshold", 3.0, "choose the dark threshold of the plan",
                       right.changed(altitude_deg=altitude))


def _shown_digits(value: float, limit: float, keypad: Keypad) -> tuple[str, int]:
    """Digits as keyed without sign and point, leading noughts included, and how many stand behind the point."""
    behind = step_decimals(keypad.coordinate_step_deg)
    before = len(str(int(limit)))
    return f"{round(abs(value) * 10 ** behind):0{before + behind}d}", behind


def _of_digits(digits: str, behind: int, value: float) -> float:
    number = int(digits) / 10 ** behind
    return -number if value < 0 else number


def _one_digit_off(value: float, limit: float, keypad: Keypad) -> Iterator[tuple[float, float]]:
    """Values with one digit changed, each with its weight: keys beside each other on a number block count double."""
    digits, behind = _shown_digits(value, limit, keypad)
    share = 6.0 / (9 * len(digits))
    for place, digit in enumerate(digits):
        for other in "0123456789":
            if other != digit:
                near = 2.0 if abs(int(other) - int(digit)) in (1, 3) and "0" not in (other, digit) else 1.0
                yield _of_digits(digits[:place] + other + digits[place + 1:], behind, value), share * near


def _swapped(value: float, limit: float, keypad: Keypad) -> Iterator[float]:
    digits, behind = _shown_digits(value, limit, keypad)
    for place in range(len(digits) - 1):
        if digits[place] != digits[place + 1]:
            yield _of_digits(digits[:place] + digits[place + 1] + digits[place] + digits[place + 2:], behind, value)


def _digits(value: float, keypad: Keypad) -> str:
    return f"{abs(value):.{step_decimals(keypad.coordinate_step_deg)}f}"


def _minutes_as_decimals(value: float) -> float:
    """34.5, which is 34 degrees 30 minutes, keyed as 34.30."""
    whole = int(abs(value))
    number = whole + round((abs(value) - whole) * 60) / 100
    return -number if value < 0 else number


def _decimals_as_minutes(value: float) -> float:
    """34.5 keyed as 34 degrees 5 (or 50) minutes: here as 50 minutes, where there are that many."""
    whole = int(abs(value))
    minutes = round((abs(value) - whole) * 100)
    if minutes >= 60:
        return float("nan")
    number = whole + minutes / 60
    return -number if value < 0 else number

