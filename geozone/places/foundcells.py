"""One cell of an as-found list: a time, a date, an angle, a zone; with the rule where it is none."""

from __future__ import annotations

import datetime as dt
import re

from ..errors import InputError
from ..numbers.clock import offsets, valid_zone
from ..numbers.daylight import dark_threshold
from ..schema.column import step_decimals
from ..trade.switchclock import SAVING_RULES, best_keying
from .angles import parse_angle
from .numerals import narrow

#: What a display shows, or a crew writes, where the sun does not cross the threshold.
_NO_TIME = re.compile(r"-{1,2}\s*[:.]?\s*-{1,2}|none|no time|never")
_TIME = re.compile(r"(\d{1,2})\s*[:.h]\s*(\d{2})(?:[:.]\d{2}(?:\.0+)?)?\s*(am|pm|a\.m\.|p\.m\.)?")
_DIGITS = re.compile(r"(\d{2})(\d{2})")
_SAVINGS = {"none": "none", "off": "none", "no": "none", "0": "none", "us": "united states", "usa": "united states", "eu": "european union",
            **{name: name for name in SAVING_RULES}}


class CellError(ValueError):
    """A cell that cannot be used: what is wrong with it, by which rule, and what to do."""

    def __init__(self, what: str, rule: str, next_step: str):
        super().__init__(f"{what}. Rule: {rule}. Next: {next_step}")


def time_of_day(text: str) -> float | None:
    """Minutes of the day; None where the display showed that there is no such time.

    Examples
    --------
    >>> time_of_day("17:05"), time_of_day("5:05 pm"), time_of_day("0612"), time_of_day("--:--")
    (1025.0, 1025.0, 372.0, None)
    """
    text = narrow(text).strip().casefold()
    text = text.split("t")[-1] if re.match(r"\d{4}-\d\d-\d\dt", text) else re.sub(r"^\d{4}-\d\d-\d\d ", "", text)
    if _NO_TIME.fullmatch(text):
        return None
    match = _TIME.fullmatch(text) or _DIGITS.fullmatch(text)
    half = match[3] if match and match.re is _TIME else None
    if match:
        hour, minute = int(match[1]), int(match[2])
        if half and 1 <= hour <= 12:
            hour = hour % 12 + (12 if half[0] == "p" else 0)
        elif half:
            hour = 99
        if hour < 24 and minute < 60:
            return float(hour * 60 + minute)
    raise CellError("no time of a day", "hours 0 to 23 and minutes 0 to 59, such as 17:05, or --:-- where the display shows none", "look at the note of that visit")


def day_first(texts: list[str]) -> bool | None:
    """Whether dates with strokes name the day first, as far as a column tells; None where it does not."""
    first = second = False
    for text in texts:
        match = re.fullmatch(r"(\d{1,2})/(\d{1,2})/\d{4}", narrow(text).strip())
        if match:
            first |= int(match[1]) > 12
            second |= int(match[2]) > 12
    return None if first == second else first


def calendar_date(text: str, day_comes_first: bool | None = None) -> dt.date:
    """A date.

    Examples
    --------
    >>> calendar_date("2027-06-21") == calendar_date("21.6.2027") == calendar_date("21/06/2027")
    True
    """
    text = re.sub(r"[ T]00:00(:00)?(\.0+)?$", "", narrow(text).strip())
    try:
        if match := re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", text):
            return dt.date(int(match[1]), int(match[2]), int(match[3]))
        if match := re.fullmatch(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})", text):
            return dt.date(int(match[3]), int(match[2]), int(match[1]))
        if match := re.fullmatch(r"(\d{1,2})/(\d{1,2})/(\d{4})", text):
            one, two, year = (int(match[place]) for place in (1, 2, 3))
            if one <= 12 and two <= 12 and one != two and day_comes_first is None:
                raise CellError("day and month cannot be told apart", "a list whose dates are all like this does not say which comes first",
                                "write dates as 2027-06-21")
            return dt.date(year, two, one) if one > 12 or one == two or (two <= 12 and day_comes_first) else dt.date(year, one, two)
    except CellError:
        raise
    except ValueError:
        pass
    raise CellError("no date", "a date of the calendar such as 2027-06-21", "look at the note of that visit")


def keyed_degrees(text: str, axis: str, step_deg: float) -> float:
    """A keyed latitude or longitude: degrees, degrees and minutes, or the digits of a keypad without a point, leading noughts kept.

    Examples
    --------
    >>> keyed_degrees("-35.1", "lat", 0.1), keyed_degrees("35°06' S", "lat", 0.1), keyed_degrees("1402", "lon", 0.1), keyed_degrees("-0351", "lat", 0.1)
    (-35.1, -35.1, 140.2, -35.1)
    """
    most, limit = ("90", 90.0) if axis == "lat" else ("180", 180.0)
    whole = narrow(text).strip()
    behind = step_decimals(step_deg)
    # A point that is not shown: a nought in front, or more than there are degrees.
    if behind and re.fullmatch(r"[+-]?\d+", whole) and (whole.lstrip("+-").startswith("0") and len(whole.lstrip("+-")) > behind + 1 or abs(int(whole)) > limit):
        value = int(whole) / 10 ** behind
    else:
        try:
            value = parse_angle(text, axis)[0]
        except ValueError:
            raise CellError(f"no {'latitude' if axis == 'lat' else 'longitude'}", "degrees, degrees and minutes, or the keypad's digits without the point",
                            "read the switch again") from None
    if abs(value) > limit:
        raise CellError("digits that no position has", f"-{most} to {most} degrees", "read the switch again")
    return round(value, 6)


def whole_minutes(text: str, limit: int) -> float:
    """An offset in whole minutes."""
    if not re.fullmatch(r"[+-]?\d{1,4}", narrow(text).strip()) or abs(int(text)) > limit:
        raise CellError("no offset that the keypad holds", f"whole minutes from -{limit} to {limit} (keypad.offset_limit_min)", "read the switch again")
    return float(int(text))


def standard_minutes(text: str, year: int) -> float:
    """A keyed zone as standard time minus UTC: +9:30, UTC+09:30, 9.5 (hours), or a name of the IANA database.

    Examples
    --------
    >>> standard_minutes("UTC+09:30", 2027), standard_minutes("-3.5", 2027), standard_minutes("Europe/Oslo", 2027)
    (570.0, -210.0, 60.0)
    """
    text = narrow(text).strip()
    if valid_zone(text):
        return float(best_keying(offsets(text, year), year).switch_clock.standard_min)
    match = re.fullmatch(r"(?:UTC|GMT)?\s*([+-]?)(\d{1,2})(?::?(\d{2})|([.,]\d+))?", text, re.IGNORECASE)
    if match:
        minutes = int(match[2]) * 60 + (int(match[3]) if match[3] else 60 * float(match[4].replace(",", ".")) if match[4] else 0)
        minutes = -minutes if match[1] == "-" else minutes
        if -720 <= minutes <= 840 and minutes == round(minutes):
            return float(minutes)
    raise CellError("no clock zone", "hours from UTC such as +9:30 or -3, or a name of the IANA database", "read the switch again")


def saving_name(text: str, right: str) -> str:
    """A keyed summer-time rule by its published name; "on" is taken for the right rule, where there is one."""
    text = narrow(text).strip().casefold()
    if text in ("on", "yes", "1") and right != "none":
        return right
    if text in _SAVINGS:
        return _SAVINGS[text]
    raise CellError("no summer-time rule", f"one of {', '.join(SAVING_RULES)}; or off, and on for the rule that is right there", "read the switch again")


def threshold_degrees(text: str) -> float:
    """A dark threshold: sunset, civil, nautical, or an altitude of the sun [degree]."""
    text = narrow(text).strip().casefold()
    try:
        if re.fullmatch(r"[+-]?\d+([.,]\d+)?", text) and abs(value := float(text.replace(",", "."))) <= 90:
            return value
        return float(dark_threshold("twilight", text)[0])
    except InputError as why:
        raise CellError("no dark threshold", "sunset, civil, nautical, or an altitude of the sun in degrees", "read the switch again") from why
