"""Wrong settings that crews really key: what each changes, how likely it is, and how it is mended.

The weights only order a list: common practice, no source, except that clocks left unadjusted in autumn have been reported by
an authority (South Gloucestershire). Off by a factor of two or four they change the order little, so people are shown three
classes and never per cent.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from ..schema.column import step_decimals
from .keypad import Keypad, keyed_text
from .readings import Keyed
from .switchclock import SAVING_RULES, SwitchClock

CLASSES = ("usual", "now_and_then", "rare")
#: Least weight of a class.
_USUAL, _NOW_AND_THEN = 6.0, 2.0

#: Keyed values that a slip can be in, and so what is to be read next.
ABOUT = ("clock", "saving", "zone", "zone_and_saving", "latitude", "longitude", "position", "offset", "date", "threshold", "setting")


@dataclass(frozen=True)
class Slip:
    """One slip. Words for it stand in the catalogues of the paper, under its key.

    Attributes
    ----------
    key : str
        What was done wrong.
    about : str
        Which keyed value it is in: one of `ABOUT`.
    weight : float
        For the order only.
    keyed : Keyed
        What the switch then holds.
    values : tuple of (str, str)
        What the words of the key want filled in.
    right_lamps : bool
        True if lamps from dusk to dawn are right all the same.
    """

    key: str
    about: str
    weight: float
    keyed: Keyed
    values: tuple[tuple[str, str], ...] = ()
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
    return _merged(right, _all(right, keypad, on, list(others)))


def with_slips_of_the_visit(fixed: Iterable[Slip], right: Keyed, on: date) -> list[Slip]:
    """Slips that hang on no date, as `slips_of` gives them for 1 January, with those that hang on the date of a visit added.

    The same slips as `slips_of` gives for that date, many times as fast.
    """
    return _merged(right, [*fixed, *_visit_slips(right, on)])


def _merged(right: Keyed, slips: Iterable[Slip]) -> list[Slip]:
    found: dict[Keyed, Slip] = {}
    for slip in slips:
        if slip.keyed == right:
            continue
        there = found.get(slip.keyed)
        if there is None:
            found[slip.keyed] = slip
        else:
            likelier = there if there.weight >= slip.weight else slip
            found[slip.keyed] = replace(likelier, weight=there.weight + slip.weight)
    return sorted(found.values(), key=lambda slip: (-slip.weight, slip.key, slip.values))


def _all(right: Keyed, keypad: Keypad, on: date, others: list[tuple[str, Keyed]]) -> Iterator[Slip]:
    yield from _clock_slips(right)
    yield from _position_slips(right, keypad)
    yield from _offset_slips(right, keypad)
    yield from _date_slips(right, on)
    yield from _threshold_slips(right)
    for name, keyed in others:
        yield Slip("other_group", "setting", 8.0 / len(others), keyed, (("group", name),))


def _clock_slips(right: Keyed) -> Iterator[Slip]:
    standard, rule = right.clock.standard_min, right.clock.saving
    none = SAVING_RULES["none"]

    def clocked(standard_min=standard, saving=rule):
        return right.changed(clock=SwitchClock(standard_min, saving))

    if rule.start is not None:
        yield Slip("saving_off_by_hand", "saving", 8.0, clocked(saving=none))
        yield Slip("saving_off_on_standard", "saving", 8.0, clocked(saving=none).changed(clock_error_min=-float(rule.saving_min)),
                   right_lamps=True)
        yield Slip("saving_off_zone_east", "zone_and_saving", 3.0, clocked(standard + rule.saving_min, none))
    for other in SAVING_RULES.values():
        if other.start is not None and other != rule:
            yield Slip("saving_of_" + other.name.replace(" ", "_"), "saving", 3.0 if rule.start is None else 2.0, clocked(saving=other))
    yield Slip("zone_west", "zone", 4.0, clocked(standard - 60))
    yield Slip("zone_east", "zone", 4.0, clocked(standard + 60))
    if standard % 60:
        yield Slip("zone_part_lost", "zone", 3.0, clocked(standard - standard % 60))
    yield Slip("zone_sign", "zone", 3.0, clocked(-standard))
    for minutes, key, weight in ((5.0, "clock_minutes", 8.0), (60.0, "clock_hour", 4.0), (720.0, "clock_half_day", 4.0)):
        yield Slip(key, "clock", weight, right.changed(clock_error_min=minutes))


def _position_slips(right: Keyed, keypad: Keypad) -> Iterator[Slip]:
    lat, lon = right.lat_deg, right.lon_deg

    def placed(key: str, about: str, weight: float, lat_deg: float = lat, lon_deg: float = lon, values=()):
        lat_deg, lon_deg = keypad.round_deg(lat_deg), keypad.round_deg(lon_deg)
        if abs(lat_deg) <= 90 and abs(lon_deg) <= 180:
            yield Slip(key, about, weight, right.changed(lat_deg=lat_deg, lon_deg=lon_deg), values)

    yield from placed("latitude_sign", "latitude", 5.0, lat_deg=-lat)
    yield from placed("longitude_sign", "longitude", 8.0, lon_deg=-lon)
    yield from placed("both_signs", "position", 1.0, -lat, -lon)
    yield from placed("exchanged", "position", 5.0, lon, lat)
    for axis, value, limit in (("latitude", lat, 90.0), ("longitude", lon, 180.0)):
        where = "lat_deg" if axis == "latitude" else "lon_deg"

        def keyed(number: float, right_number: float = value) -> tuple[tuple[str, str], ...]:
            return ("keyed", _digits(number, keypad)), ("right", _digits(right_number, keypad))

        yield from placed(f"{axis}_point_right", axis, 3.0, **{where: value * 10}, values=keyed(value * 10))
        yield from placed(f"{axis}_point_left", axis, 3.0, **{where: value / 10}, values=keyed(value / 10))
        for number, weight in _one_digit_off(value, limit, keypad):
            yield from placed(f"{axis}_digit", axis, weight, **{where: number}, values=keyed(number))
        for number in _swapped(value, limit, keypad):
            yield from placed(f"{axis}_swapped", axis, 3.0, **{where: number}, values=keyed(number))
    yield from placed("minutes_as_decimals", "position", 5.0, _minutes_as_decimals(lat), _minutes_as_decimals(lon))
    yield from placed("decimals_as_minutes", "position", 2.0, _decimals_as_minutes(lat), _decimals_as_minutes(lon))


def _offset_slips(right: Keyed, keypad: Keypad) -> Iterator[Slip]:
    dusk, dawn = right.dusk_offset_min, right.dawn_offset_min

    def offset(key: str, weight: float, dusk_min: int = dusk, dawn_min: int = dawn, values=()):
        if max(abs(dusk_min), abs(dawn_min)) <= keypad.offset_limit_min:
            yield Slip(key, "offset", weight, right.changed(dusk_offset_min=dusk_min, dawn_offset_min=dawn_min), values)

    yield from offset("offsets_missing", 7.0, 0, 0)
    yield from offset("dusk_offset_sign", 6.0, dusk_min=-dusk)
    yield from offset("dawn_offset_sign", 6.0, dawn_min=-dawn)
    yield from offset("offsets_exchanged", 5.0, dawn, dusk)
    yield from offset("dusk_offset_missing", 3.0, dusk_min=0)
    yield from offset("dawn_offset_missing", 3.0, dawn_min=0)
    whole = Keypad(1.0, keypad.offset_limit_min)
    for key, which, value in (("dusk_offset_digit", "dusk_min", dusk), ("dawn_offset_digit", "dawn_min", dawn)):
        for number, weight in _one_digit_off(float(value), 99.0, whole):
            yield from offset(key, weight / 6, **{which: int(number)}, values=(("keyed", f"{int(number):+d}"), ("right", f"{value:+d}")))


def _visit_slips(right: Keyed, on: date) -> Iterator[Slip]:
    """Slips of the date that are other ones on another day; on 1 January there are none."""
    if on.day <= 12 and on.day != on.month:
        yield Slip("day_and_month", "date", 4.0, right.changed(date_error_days=(date(on.year, on.day, on.month) - on).days))
    yield Slip("power_lost", "date", 3.0, right.changed(date_error_days=(date(on.year, 1, 1) - on).days))


def _date_slips(right: Keyed, on: date) -> Iterator[Slip]:
    def dated(key: str, weight: float, shown: date):
        yield Slip(key, "date", weight, right.changed(date_error_days=(shown - on).days))

    yield from _visit_slips(right, on)
    for days, key in ((1, "date_day"), (10, "date_ten_days"), (30, "date_month")):
        yield from dated(f"{key}_ahead", 1.0, on + timedelta(days))
        yield from dated(f"{key}_behind", 1.0, on - timedelta(days))
    yield Slip("last_year", "date", 3.0, right.changed(year_error=-1))


def _threshold_slips(right: Keyed) -> Iterator[Slip]:
    for altitude, key in ((-50 / 60, "threshold_sunset"), (-6.0, "threshold_civil")):
        if abs(altitude - right.altitude_deg) > 0.05:
            yield Slip(key, "threshold", 3.0, right.changed(altitude_deg=altitude))


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
    return keyed_text(abs(value), keypad.coordinate_step_deg)


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

