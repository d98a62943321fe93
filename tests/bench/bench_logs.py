"""How long the logs of 2,000 sites over a year take, the plan apart: python tests/bench/bench_logs.py

1.46 million rows, a row a switching, written to a file and read from it; one site in ten has a slip. Printed, not asserted: seconds hang on the machine.
"""

import resource
import tempfile
import time
from pathlib import Path

import geopandas
import numpy as np

import geozone
from geozone.jobs.asfound import nothing_found
from geozone.jobs.auditplan import audited, keyed_of, right_settings
from geozone.jobs.logged import logged_at
from geozone.jobs.plan import compute
from geozone.places.loglists import read_log
from geozone.trade.readings import readings
from geozone.trade.slips import slips_of

N = 2_000


def main() -> None:
    rng = np.random.default_rng(1)
    sites = geopandas.GeoDataFrame({"site_id": [f"S{i}" for i in range(N)]}, crs=4326,
                                   geometry=geopandas.points_from_xy(rng.uniform(138.5, 140.5, N), rng.uniform(-36, -33, N)))
    job = geozone.Job.of(sites, year=2027, dark={"altitude_deg": -4.0}, shared={"lat_deg": -34.5, "lon_deg": 139.5, "legal_zone": "Australia/Adelaide"})
    begin = time.perf_counter()
    answers = compute(job)
    print(f"the plan itself: {time.perf_counter() - begin:.1f} s", flush=True)
    settings, plain, keyings = right_settings(answers)
    right = keyed_of(settings[0], keyings[0], answers.altitude_deg)
    slips = [one for one in slips_of(right, answers.keypad, np.datetime64("2027-03-01").astype(object)) if one.about != "date"]
    keyed = [right, *(slips[int(k)].keyed for k in rng.integers(len(slips), size=20))]
    shown = readings(keyed, 2027)
    first = np.datetime64("2027-01-01T00:00", "m")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        with open(path, "w", encoding="utf-8") as file:
            file.write("site_id,time,state\n")
            for i in range(N):
                which = int(rng.integers(1, len(keyed))) if rng.random() < 0.1 else 0
                for state, times, later in (("on", shown.dusk_min, 0), ("off", shown.coming_dawn_min, 1)):
                    minutes = (np.arange(364) + later) * 1440 + times[which, :364] + rng.normal(0, 2, 364)
                    minutes = minutes[np.isfinite(minutes)]
                    at = np.datetime_as_string(first + np.rint(minutes).astype("timedelta64[m]"), unit="m")
                    file.writelines(f"S{i},{one},{state}\n" for one in at)
        begin, used = time.perf_counter(), time.process_time()
        log = read_log(path)
    print(f"read: {time.perf_counter() - begin:.1f} s ({time.process_time() - used:.1f} s of processors), {log.site.size:,} switchings", flush=True)
    seen = logged_at(log, answers.sites["site_id"].astype(str).tolist(), answers.sites["legal_zone"].astype(str).tolist(), 2027)
    del log
    done = audited(job, answers, settings, plain, keyings, nothing_found(), lambda text: None, seen)
    print(f"in all: {time.perf_counter() - begin:.1f} s ({time.process_time() - used:.1f} s of processors), "
          f"largest memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB")
    print(done.summary["audit"]["log"])


if __name__ == "__main__":
    main()
