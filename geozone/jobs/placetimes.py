"""Dusk and dawn of one place in legal time, as text for a person with one question."""

from __future__ import annotations

import csv
import datetime as dt
import io

import numpy as np

from ..errors import InputError
from ..numbers import clock, daylight
from ..numbers.sun import State, checked_positions, switch_times
from ..places import zoneshapes
from ..sharing.drift import unwrapped_lon_deg

_WORDS = {State.ABOVE: "the sun stays above the threshold: no darkness",
          State.BELOW: "the sun stays below the threshold: dark all day",
          State.DUSK_ONLY: "still dark at the next noon", State.DAWN_ONLY: "dark since before noon"}


def place_times(*, lat_deg: float, lon_deg: float, date: str | None = None, year: int | None = None,
                legal_zone: str | None = None, **dark) -> str:
    """The answer of `geozone times`.

    Parameters
    ----------
    lat_deg, lon_deg : float [degree]
    date : str, optional
        ISO date of the evening; left out with `year` left out: today at the place.
    year : int, optional
        All nights of this year, as CSV.
    legal_zone : str, optional
        Left out: the legal zone of the place.
    **dark
        The dark threshold by its kind (`geozone.numbers.daylight.THRESHOLDS`), at most one; none: sunset.

    Returns
    -------
    str

    Raises
    ------
    InputError
    """
    if date is not None and year is not None:
        raise InputError("give a date or a year, not both", next_step="leave out --date or --year")
    altitude, zone = asked_sky(lat_deg, lon_deg, legal_zone, dark)
    if year is not None:
        return _year_as_csv(lat_deg, lon_deg, year, altitude, zone)
    night = asked_date(date, zone)
    times, legal = _legal_times(lat_deg, lon_deg, night.year, altitude, zone)
    k = int((np.datetime64(night) - times.night[0]).astype(int))
    lines = [f"Place       {lat_deg:g}, {lon_deg:g}",
             f"Legal zone  {zone}, {clock.rule_text(clock.offsets(zone, night.year), night.year)} "
             f"(tz database {clock.tz_version()})",
             f"Dark        sun {abs(altitude):.4g} degrees {'below' if altitude < 0 else 'above'} the horizon",
             f"Night of    {night:%d} {night:%B} {night.year}".replace("    0", "    ")]
    state = State(int(times.state[0, k]))
    for edge in ("dusk", "dawn"):
        at = legal[edge][k]
        if not np.isnat(at):
            moment = at.astype("datetime64[m]").item()
            day = "" if moment.date() == night else f" on {moment.day} {moment:%B}"
            lines.append(f"{edge.capitalize():<11} {moment:%H:%M}{day}")
    if state != State.CROSSES:
        lines.append(f"            {_WORDS[state]}")
    lines.append("Flat horizon and clear sky; to the nearest minute.")
    return "\n".join(lines)


def _year_as_csv(lat_deg, lon_deg, year, altitude, zone) -> str:
    times, legal = _legal_times(lat_deg, lon_deg, year, altitude, zone)
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(["night", "dusk", "dawn", "state", "legal_zone", "tz_database"])
    for k, night in enumerate(times.night):
        row = ["" if np.isnat(legal[edge][k]) else str(legal[edge][k]).replace("T", " ") for edge in ("dusk", "dawn")]
        table.writerow([str(night), *row, State(int(times.state[0, k])).name.lower().replace("_", " "), zone,
                        clock.tz_version()])
    return text.getvalue().rstrip("\n")


def _legal_times(lat_deg, lon_deg, year, altitude, zone):
    lon = float(unwrapped_lon_deg(lon_deg, zone, year))
    times = switch_times(lat_deg=lat_deg, lon_deg=lon, year=year, altitude_deg=altitude)
    return times, {"dusk": clock.to_legal(times.dusk_utc_min[0], zone, year),
                   "dawn": clock.to_legal(times.dawn_utc_min[0], zone, year)}


def asked_sky(lat_deg, lon_deg, legal_zone, dark: dict) -> tuple[float, str]:
    """The dark threshold [degree] and the legal zone that were asked for, at a position on the globe."""
    checked_place(lat_deg, lon_deg)
    return threshold_deg(dark), zone_of(lat_deg, lon_deg, legal_zone)


def asked_date(text: str | None, zone: str) -> dt.date:
    """The ISO date that was given; left out: today in the zone."""
    clock.use_packaged_tz()
    from zoneinfo import ZoneInfo

    return checked_date(text) if text is not None else dt.datetime.now(ZoneInfo(zone)).date()


def checked_place(lat_deg, lon_deg) -> None:
    """Refuse a position off the globe."""
    for name, value, limit in (("--lat", lat_deg, 90.0), ("--lon", lon_deg, 180.0)):
        if not abs(value) <= limit:
            raise InputError(f"{name} is out of range", value=value, rule=f"degrees from -{limit:g} to {limit:g}")
    checked_positions(lat_deg, lon_deg)


def threshold_deg(dark: dict) -> float:
    """The one dark threshold that was given [degree]; sunset where none was."""
    given = {kind: value for kind, value in dark.items() if value is not None} or {"twilight": "sunset"}
    if len(given) > 1:
        raise InputError("more than one dark threshold",
                         rule="give one of " + ", ".join("--" + kind.replace("_", "-") for kind in daylight.THRESHOLDS))
    return daylight.dark_threshold(*given.popitem())[0]


def zone_of(lat_deg, lon_deg, legal_zone) -> str:
    """The legal zone that was given, or that of the place."""
    if legal_zone is not None:
        if not clock.valid_zone(legal_zone):
            near = clock.near_zones(legal_zone)
            raise InputError("no such legal zone", value=legal_zone, rule="a name of the IANA time zone database",
                             next_step=f"did you mean {', '.join(near)}?" if near else None)
        return legal_zone
    number = int(zoneshapes.zone_number_at([lat_deg], [lon_deg])[0])
    if number < 0:
        raise InputError("no legal zone at this place", value=f"{lat_deg}, {lon_deg}",
                         rule="a place on land, or --legal-zone stated", next_step="check the position, or add --legal-zone")
    return str(zoneshapes.zone_names()[number])


def checked_date(text: str) -> dt.date:
    """An ISO date."""
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise InputError("not a date", value=text, rule="year-month-day, such as 2027-06-21") from None


def offsets_given(text: str) -> tuple[int, int]:
    """Two whole minutes in one text: "-2,1"."""
    parts = text.replace(";", ",").split(",")
    try:
        dusk, dawn = (int(part) for part in parts)
    except ValueError:
        raise InputError("--offsets cannot be used", value=text, rule="whole minutes at dusk and dawn, such as -2,1",
                         next_step="write --offsets=-2,1") from None
    return dusk, dawn


def threshold_given(text: str | None) -> dict:
    """A dark threshold by name or altitude as arguments of `place_readings`."""
    if text is None:
        return {}
    try:
        return {"altitude_deg": float(text)}
    except ValueError:
        return {"twilight": text}
