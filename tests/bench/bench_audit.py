"""How long an audit of 20,000 switches takes, the plan apart: python tests/bench/bench_audit.py

A tenth of the switches have a slip, read on twenty days under thirty settings. Printed, not asserted: seconds hang on the machine.
"""

import datetime
import resource
import time
from dataclasses import replace

import geopandas
import numpy as np
import pandas as pd

import geozone
from geozone.jobs.asfound import found_at
from geozone.jobs.auditplan import audited, keyed_of, right_settings
from geozone.jobs.plan import compute
from geozone.places.foundlists import FoundList
from geozone.trade.readings import readings
from geozone.trade.slips import slips_of

N, SETTINGS, DAYS = 20_000, 30, 20


def text(minutes: float) -> str:
    return "--:--" if np.isnan(minutes) else f"{int(minutes) // 60 % 24:02d}:{int(minutes) % 60:02d}"


def main() -> None:
    rng = np.random.default_rng(1)
    sites = geopandas.GeoDataFrame({"site_id": [f"S{i}" for i in range(N)]}, crs=4326,
                                   geometry=geopandas.points_from_xy(rng.uniform(138.5, 140.5, N), rng.uniform(-36, -33, N)))
    job = geozone.Job.of(sites, year=2027, dark={"altitude_deg": -4.0}, shared={"lat_deg": -34.5, "lon_deg": 139.5, "legal_zone": "Australia/Adelaide"})
    begin = time.perf_counter()
    answers = compute(job)
    print(f"the plan itself: {time.perf_counter() - begin:.1f} s")
    _, plain, keyings = right_settings(answers)
    settings = [replace(one, dusk_offset_min=int(i % SETTINGS)) for i, one in enumerate(plain)]
    rights = [keyed_of(*both, answers.altitude_deg) for both in zip(settings, keyings, strict=True)]
    shown: dict = {}
    rows = []
    for i, right in enumerate(rights):
        day = int(rng.integers(60, 60 + DAYS))
        on = datetime.date(2027, 1, 1) + datetime.timedelta(day)
        key = (right, day)
        if key not in shown:
            slips = slips_of(right, answers.keypad, on)
            keyed = [right, *(slips[int(j)].keyed for j in rng.integers(len(slips), size=8))]
            shown[key] = readings(keyed, 2027)
        which = int(rng.integers(1, 9)) if rng.random() < 0.1 else 0
        rows.append({"site_id": f"S{i}", "read_on": str(on), "dusk_shown": text(shown[key].dusk_min[which, day] + rng.uniform(-0.5, 0.5)),
                     "dawn_shown": text(shown[key].dawn_min[which, day] + rng.uniform(-0.5, 0.5)), "clock_shown": "10:00", "true_time": "10:00"})
    listed = FoundList(pd.DataFrame(rows), np.arange(2, N + 2), "invented.csv", (), ())
    begin = time.perf_counter()
    found = found_at(listed, answers.sites["site_id"].tolist(), rights, answers.keypad, 2027)
    read, used = time.perf_counter(), time.process_time()
    done = audited(job, answers, settings, plain, keyings, found, lambda text: None)
    print(f"reading {read - begin:.1f} s, audit {time.perf_counter() - read:.1f} s ({time.process_time() - used:.1f} s of processors), "
          f"largest memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB")
    print(done.summary["audit"])


if __name__ == "__main__":
    main()
