"""Make the as-found list of the border demo: ``python data/make_found.py [FILE]``.

Some 120 switches as a crew could find them: most are right, and every slip that geozone knows is keyed into one at least. What they
show is the emulated switch's, at the settings that the demo's own plan gives. Everything is invented; the same command gives the same
file as long as the plan does. To be run after `make_demo.py`.
"""

from __future__ import annotations

import csv
import datetime
import sys
from pathlib import Path
from random import Random

from geozone.jobs.auditplan import right_settings
from geozone.jobs.job import read_job
from geozone.jobs.plan import compute
from geozone.paper.carddata import keyed_of
from geozone.trade.readings import readings
from geozone.trade.slips import Slip, slips_of

HERE = Path(__file__).parent
SEED = 1313
ROWS, A_DAY, FIRST_DAY = 116, 12, datetime.date(2027, 3, 9)
HEADINGS = ["site_id", "read_on", "dusk_shown", "dawn_shown", "clock_shown", "true_time", "date_shown", "keyed_lat", "keyed_lon", "keyed_zone", "keyed_saving",
            "keyed_dusk_offset_min", "keyed_dawn_offset_min", "keyed_threshold", "switched_on", "switched_off"]


def demo_answers():
    """The demo's plan."""
    return compute(read_job(HERE / "border" / "job.toml").model_copy(update={"zones": None}))


def switches(answers) -> list[tuple[dict, Slip | None]]:
    """What was read at each switch, and the slip that was made there."""
    settings, _, keyings = right_settings(answers)
    ids = answers.sites["site_id"].astype(str).tolist()
    random, made, keyed_already = Random(SEED), [], set()
    step = len(ids) // ROWS
    for number in range(ROWS):
        site = number * step + int(random.random() * step)
        right = keyed_of(settings[site], keyings[site], answers.altitude_deg)
        # Nine days from one day of work to the next, so that readings fall on both sides of the end of summer time.
        on = FIRST_DAY + datetime.timedelta(9 * (number // A_DAY))
        slip = None
        if number % 2:
            open_ = [one for one in slips_of(right, answers.keypad, on) if one.key not in keyed_already]
            slip = open_[int(random.random() * len(open_))] if open_ and number < 100 else None
        if slip is not None:
            keyed_already.add(slip.key)
        made.append((_row(ids[site], right, slip, on, random, number), slip))
    missing = {one.key for right in {keyed_of(*both, answers.altitude_deg) for both in zip(settings, keyings, strict=True)}
               for on in {FIRST_DAY + datetime.timedelta(9 * (number // A_DAY)) for number in range(ROWS)}
               for one in slips_of(right, answers.keypad, on)} - keyed_already
    assert not missing, missing
    return made


def rows(answers) -> list[dict]:
    """The list: a row a switch, and four rows that cannot be used."""
    made = [row for row, _ in switches(answers)]
    bad = [{**made[3], "site_id": "ZZ-001"}, {**made[10], "dusk_shown": "25:71"}, {**made[20], "read_on": "2026-03-27"},
           {**made[30], "dawn_shown": "03:03"}]  # unknown; impossible digits; outside the year; contradicts its other row
    return [*made, *bad]


def _row(site_id: str, right, slip: Slip | None, on: datetime.date, random: Random, number: int) -> dict:
    keyed = right if slip is None else slip.keyed
    shown = readings([keyed], on.year)
    day = (on - datetime.date(on.year, 1, 1)).days
    dusk, dawn = (one[0, day] + 0.6 * (random.random() - 0.5) for one in (shown.dusk_min, shown.dawn_min))
    true = 8 * 60 + 30 + 25 * (number % A_DAY)
    summer = (on < datetime.date(2027, 4, 4))
    fast = keyed.clock_error_min if summer or slip is None or slip.key != "saving_off_on_standard" else 0.0
    row = dict.fromkeys(HEADINGS, "")
    row |= {"site_id": site_id, "read_on": on.isoformat(), "dusk_shown": _time(dusk), "dawn_shown": _time(dawn)}
    if number % 4 != 2:  # some crews had no watch
        row |= {"true_time": _time(true), "clock_shown": _time(true + fast + int(random.random() * 3) - 1)}
    if number % 5 != 4:
        held = on + datetime.timedelta(keyed.date_error_days)
        row["date_shown"] = held.replace(year=held.year + keyed.year_error).isoformat()
    if number % 3 == 1:  # and some read back what is keyed
        row |= {"keyed_lat": f"{keyed.lat_deg:.1f}", "keyed_lon": f"{keyed.lon_deg:.1f}", "keyed_dusk_offset_min": keyed.dusk_offset_min,
                "keyed_dawn_offset_min": keyed.dawn_offset_min, "keyed_saving": keyed.clock.saving.name}
    return row


def _time(minutes: float) -> str:
    whole = int(minutes // 1) % 1440
    return "--:--" if minutes != minutes else f"{whole // 60:02d}:{whole % 60:02d}"


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "border" / "as_found.csv"
    with open(target, "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, HEADINGS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows(demo_answers()))
