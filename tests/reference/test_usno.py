"""Switching times against whole-year tables of the US Naval Observatory, printed to the minute.

Source: tests/data/usno (see the README there): Anchorage and Singapore, rise and set 2020, civil twilight 2020 and
2023, Universal Time. Positions as the tables print them, to the arc minute.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from geozone.numbers.sun import State, switch_times

DATA = Path(__file__).resolve().parents[1] / "data" / "usno"

# The promise: every row within a minute, within two where the sun grazes the threshold.
ROW_MIN, GRAZING_MIN = 1.0, 2.0
GRAZING_DEG_PER_MIN = 0.05
# What can be expected of two right answers: half a minute of rounding, 0.9 s of UT1 - UTC (the tables are in UT), and
# a position printed to the arc minute, so half of one off in latitude and in longitude: 0.012 degrees of altitude.
ROUNDING_MIN, POSITION_DEG = 0.5 + 0.9 / 60, 0.5 / 60 * 2**0.5

ABOVE, BELOW = "////", "===="


@dataclass(frozen=True)
class Table:
    """One printed table: events as minutes since 1 January 0h UT, and the days without any."""

    lat_deg: float
    lon_deg: float
    year: int
    altitude_deg: float
    rising: np.ndarray
    setting: np.ndarray
    above: np.ndarray  # day numbers, 0 = 1 January
    below: np.ndarray
    printed_days: int


def parse(text: str) -> Table:
    """Read a table. Fails loudly on anything that it does not understand."""
    lines = text.splitlines()
    west_east, lon_d, lon_m, north_south, lat_d, lat_m = (
        lines[1].split("Location:")[1].replace(",", " ").replace("W", "W ").replace("E", "E ", 1)
        .replace("N", "N ").replace("S", "S ", 1).split()[:6])
    lon = (int(lon_d) + int(lon_m) / 60) * (-1 if west_east == "W" else 1)
    lat = (int(lat_d) + int(lat_m) / 60) * (-1 if north_south == "S" else 1)
    year = int(text.split(" for 20")[1][:2]) + 2000
    altitude = -6.0 if "Civil Twilight" in lines[1] else -50 / 60
    assert "Civil Twilight" in lines[1] or "Rise and Set for the Sun" in lines[1]
    assert "Universal Time" in text
    days_in = [31, 29 if year % 4 == 0 else 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    first_of = np.concatenate([[0], np.cumsum(days_in)])
    rising, setting, above, below, printed = [], [], [], [], set()
    day_of_month = None
    header = max(i for i, line in enumerate(lines) if line.startswith("     h m"))
    for line in lines[header + 1:]:
        if not line.strip():
            break
        # A continuation line (blank day) carries a second event of the day above it.
        day_of_month = int(line[:2]) if line[:2].strip() else day_of_month
        for month in range(12):
            cell = line[4 + 11 * month:13 + 11 * month].ljust(9)
            day = first_of[month] + day_of_month - 1
            for mark, events in ((cell[:4], rising), (cell[5:], setting)):
                if mark.strip() == "":
                    continue
                assert day_of_month <= days_in[month]
                printed.add(day)
                if mark == ABOVE:
                    above.append(day)
                elif mark == BELOW:
                    below.append(day)
                else:
                    assert mark.isdigit() and int(mark[:2]) < 24 and int(mark[2:]) < 60, line
                    events.append(day * 1440 + int(mark[:2]) * 60 + int(mark[2:]))
    return Table(lat, lon, year, altitude, *(np.sort(np.array(e, float)) for e in (rising, setting)),
                 *(np.unique(np.array(d, int)) for d in (above, below)), len(printed))


def computed(table: Table):
    """Our dawns and dusks around the table's year, on its own minutes, with how fast the sun crosses [deg/min]."""
    out = {"dawn": [], "dusk": []}
    start = np.datetime64(f"{table.year}-01-01")
    for year in (table.year - 1, table.year, table.year + 1):
        near = [switch_times(lat_deg=table.lat_deg, lon_deg=table.lon_deg, year=year, altitude_deg=table.altitude_deg + dh)
                for dh in (0.0, -0.01)]
        shift = (np.datetime64(f"{year}-01-01") - start).astype(int) * 1440.0
        for edge in out:
            here, lower = (getattr(t, f"{edge}_utc_min")[0] for t in near)
            rate = 0.01 / np.abs(lower - here)  # NaN where the sun no longer reaches 0.01 degrees lower: a graze
            keep = np.isfinite(here)
            out[edge].append(np.column_stack([here[keep] + shift, np.nan_to_num(rate[keep], nan=0.0)]))
    return {edge: np.concatenate(parts) for edge, parts in out.items()}


@pytest.fixture(scope="module", params=["usno_anchorage", "usno_anchorage-civil", "usno_singapore",
                                        "usno_singapore-civil"])
def pair(request):
    table = parse((DATA / f"{request.param}.txt").read_text(encoding="ascii"))
    return table, computed(table)


def test_the_whole_table_was_read(pair):
    table, _ = pair
    days = 366 if table.year % 4 == 0 else 365
    assert table.printed_days == days
    quiet = np.union1d(table.above, table.below).size
    assert table.rising.size + quiet == pytest.approx(days, abs=1)
    assert table.setting.size + quiet == pytest.approx(days, abs=1)


@pytest.mark.parametrize("edge, column", [("dawn", "rising"), ("dusk", "setting")])
def test_every_printed_time(pair, edge, column):
    table, ours = pair
    printed, mine = getattr(table, column), ours[edge]
    apart = np.abs(printed[:, None] - mine[None, :, 0])
    nearest = apart.argmin(axis=1)
    off, rate = apart.min(axis=1), mine[nearest, 1]
    grazing = rate < GRAZING_DEG_PER_MIN
    assert np.unique(nearest).size == printed.size
    assert off.max() <= GRAZING_MIN
    assert off[~grazing].max() <= ROW_MIN
    assert (off <= ROUNDING_MIN + POSITION_DEG / rate).all()
    # Grazing is the exception: five weeks around a white night, none in a place that has none.
    assert grazing.sum() <= (35 if table.above.size else 0)


@pytest.mark.parametrize("edge, column", [("dawn", "rising"), ("dusk", "setting")])
def test_no_time_that_is_not_printed(pair, edge, column):
    table, ours = pair
    printed = getattr(table, column)
    days = 366 if table.year % 4 == 0 else 365
    mine = ours[edge][(ours[edge][:, 0] >= 0) & (ours[edge][:, 0] < days * 1440)]
    off = np.abs(mine[:, None, 0] - printed[None, :]).min(axis=1)
    unprinted = mine[off > GRAZING_MIN]
    # Only a graze within minutes of the white nights' first or last one may be ours alone.
    assert len(unprinted) <= 1
    assert (unprinted[:, 1] < GRAZING_DEG_PER_MIN).all()


def test_days_without_an_event(pair):
    """//// and ==== against our states: night d - 1 or d covers the middle of the sun's low half of day d."""
    table, _ = pair
    ours = switch_times(lat_deg=table.lat_deg, lon_deg=table.lon_deg, year=table.year, altitude_deg=table.altitude_deg)
    # The night whose midnight (noon + 12 h) falls on UT day d.
    midnight_day = np.floor((np.arange(ours.night.size) * 1440 + 1440 - 4 * table.lon_deg) / 1440).astype(int)
    disagree = []
    for days, state in ((table.above, State.ABOVE), (table.below, State.BELOW)):
        for day in days:
            k = int(np.flatnonzero(midnight_day == day)[0])
            if ours.state[0, k] != state:
                disagree.append(day)
    for k in np.flatnonzero(ours.state[0] != State.CROSSES):
        marked = table.above if ours.state[0, k] == State.ABOVE else table.below
        if midnight_day[k] not in marked:
            disagree.append(midnight_day[k])
    assert disagree == []
    # The tables say: four weeks without a civil night in Anchorage, none elsewhere.
    white = table.altitude_deg == -6 and table.lat_deg > 60
    assert table.above.size == (28 if white else 0) and table.below.size == 0


def test_a_day_with_two_events():
    """The parser on a continuation line. Layout of such a line from memory; the four tables hold none."""
    text = (DATA / "usno_singapore.txt").read_text(encoding="ascii").splitlines()
    row = next(i for i, line in enumerate(text) if line.startswith("01 "))
    text.insert(row + 1, " " * 9 + "2359")
    plain, more = (parse("\n".join(lines)) for lines in (text[:row + 1] + text[row + 2:], text))
    assert set(more.setting) - set(plain.setting) == {23 * 60 + 59}
    assert more.rising.tolist() == plain.rising.tolist()
    assert more.printed_days == plain.printed_days
