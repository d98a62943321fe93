"""How long a year of a four-event programme takes at many sites, and how much memory.

Run: python tests/bench/bench_programmes.py [sites]

Prints, in one run: intervals, differences and hours for one common setting and for every site's own setting, by month
and tariff band; the fast way of plain dusk to dawn beside them; and the largest difference between both ways, so that
the speed is not bought with a wrong answer. The budget: 50,000 sites in 10 s and 2 GB on two cores.
"""

import resource
import sys
import time

import numpy as np

from geozone.sharing.drift import setting_drift
from geozone.switching.conditions import Conditions
from geozone.switching.programme_year import programme_year
from geozone.switching.tariff import Band, Tariff
from geozone.trade.programme import DUSK_TO_DAWN, Event, Programme
from geozone.trade.setting import Setting

FOUR_EVENTS = Programme("four", (Event("on", "dusk"), Event("off", 1410, days=frozenset((0, 1, 2, 3, 6))),
                                 Event("on", 330), Event("off", "dawn")))
TARIFF = Tariff(0.3, (Band("low", 0.2, 1320, 420),))
SETTING = Setting(-35.1, 141.0, "Australia/Adelaide")


def ran(programme, where, setting=SETTING):
    return programme_year(where["lat_deg"], where["lon_deg"], where["legal_zone"], programme, Conditions(2027, -4.0, tariff=TARIFF), setting=setting)


def main(n: int = 50_000) -> int:
    rng = np.random.default_rng(20270101)
    zones = np.array(["Australia/Adelaide", "Australia/Melbourne"], dtype=object)[rng.integers(0, 2, n)]
    where = {"lat_deg": rng.uniform(-39, -30, n), "lon_deg": rng.uniform(135, 150, n), "legal_zone": zones,
             "year": 2027, "altitude_deg": -4.0}
    few = {key: value[:300] if np.ndim(value) else value for key, value in where.items()}
    ran(FOUR_EVENTS, few)
    fast_few = setting_drift(setting=SETTING, **few)
    full_few = ran(DUSK_TO_DAWN, few).drift
    worst = max(float(np.abs(getattr(fast_few, name) - getattr(full_few, name)).max())
                for name in ("worst_dark_min", "worst_excess_min", "dark_year_min", "excess_year_min"))
    rows = {}
    for name, run in (
            ("plain dusk to dawn, fast way", lambda: setting_drift(setting=SETTING, **where)),
            ("four events, one setting", lambda: ran(FOUR_EVENTS, where)),
            ("four events, own settings", lambda: ran(FOUR_EVENTS, where, None))):
        wall, cpu = time.perf_counter(), time.process_time()
        run()
        rows[name] = time.perf_counter() - wall, time.process_time() - cpu
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(f"{n:,} sites, a year of nights; both ways of dusk to dawn differ by {worst * 60:.4f} s at most")
    for name, (wall, cpu) in rows.items():
        print(f"{name:30s} {wall:7.2f} s wall {cpu:7.2f} s processor {cpu / n / 365 * 1e9:7.0f} ns a site and night")
    print(f"peak memory {peak:.2f} GB")
    slowest = max(wall for wall, _ in rows.values())
    within = slowest <= 10 * n / 50_000 and peak <= 2.0 and worst * 60 < 1
    print("within the budget" if within else "OVER THE BUDGET")
    return 0 if within else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 50_000))
