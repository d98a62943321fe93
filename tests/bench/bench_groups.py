"""Fewest settings: time, memory, proof and the plain greedy cover beside it. Run: python -m tests.bench.bench_groups

Invented sites over 7 x 6 degrees, fixed seeds. Seconds are wall time with compiled kernels ready; each case runs in a
process of its own, so that the peak of memory is its own.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time

import numpy as np

YEAR, ALTITUDE = 2027, -4.0
# name, sites, towns, tolerance [min], points of the curve, seconds allowed, gap allowed, GB allowed
CASES = [
    ("3,000 sites in 30 towns", 3_000, 30, 10.0, 0, 5.0, 0, 3.0),
    ("3,000 sites in 30 towns", 3_000, 30, 5.0, 0, 5.0, 0, 3.0),
    ("the same with a curve to 6", 3_000, 30, 5.0, 6, 35.0, 0, 3.0),
    ("50,000 sites in 500 towns", 50_000, 500, 10.0, 0, 60.0, 1, 3.0),
    ("50,000 sites in 500 towns", 50_000, 500, 5.0, 0, 60.0, 2, 3.0),
]


def invented_sites(sites: int, towns: int, seed: int = 20270000):
    rng = np.random.default_rng(seed + towns)
    lat, lon = rng.uniform(-38, -32, towns), rng.uniform(140, 147, towns)
    town = rng.integers(0, towns, sites)
    return lat[town] + rng.normal(0, 0.05, sites), lon[town] + rng.normal(0, 0.05, sites)


def run_case(sites: int, towns: int, tolerance_min: float, curve_to: int, with_greedy: bool) -> dict:
    from geozone.grouping.allowedshifts import AllowedShifts
    from geozone.grouping.groups import fewest_groups
    from geozone.grouping.keylattice import KeyLattice
    from geozone.grouping.settingcover import SettingCover
    from geozone.grouping.siteparts import GroupSites
    from geozone.setcover.greedy import plain_greedy
    from geozone.trade.basis import Basis
    from geozone.trade.setting import Tolerance

    few = invented_sites(200, 5, 1)
    basis = Basis(YEAR, ALTITUDE, Tolerance(tolerance_min, tolerance_min))
    fewest_groups(GroupSites(*few, YEAR), basis, curve_to=min(curve_to, 2))  # compiles
    lat, lon = invented_sites(sites, towns)
    begun, used = time.perf_counter(), time.process_time()
    answer = fewest_groups(GroupSites(lat, lon, YEAR), basis, curve_to=curve_to, time_limit_s=60.0)
    seconds, processor = time.perf_counter() - begun, time.process_time() - used
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    greedy = None
    if with_greedy:
        order = np.lexsort((lat, lon))
        shifts = AllowedShifts(lat[order], lon[order], np.arange(sites), basis, KeyLattice.of(basis.keypad, True))
        greedy = int(plain_greedy(SettingCover(shifts, np.arange(sites)).columns(np.arange(sites), False)).shape[0])
    return {"seconds": seconds, "processor": processor, "peak_gb": peak, "count": answer.count,
            "bound": answer.lower_bound, "greedy": greedy, "witnesses": answer.witnesses.kind,
            "factor": max(s.tolerance_factor for s in answer.settings),
            "curve": [[p.k, p.factor, p.bound_factor, p.proved] for p in answer.curve]}


def main() -> int:
    print(f"{'case':28s} {'tol':>4s} {'plan':>4s} {'bound':>5s} {'greedy':>6s} {'factor':>6s} {'wall s':>6s} {'cpu s':>6s} {'GB':>5s}  "
          f"proof")
    failures = []
    for name, sites, towns, tolerance_min, curve_to, allowed_s, gap, allowed_gb in CASES:
        call = [sys.executable, "-m", "tests.bench.bench_groups", "--case",
                json.dumps([sites, towns, tolerance_min, curve_to, curve_to == 0])]
        got = json.loads(subprocess.run(call, check=True, capture_output=True, text=True).stdout.splitlines()[-1])
        greedy = "" if got["greedy"] is None else str(got["greedy"])
        print(f"{name:28s} {tolerance_min:4.0f} {got['count']:4d} {got['bound']:5d} {greedy:>6s} {got['factor']:6.3f} "
              f"{got['seconds']:6.1f} {got['processor']:6.1f} {got['peak_gb']:5.2f}  {got['witnesses']}", flush=True)
        for k, factor, bound, proved in got["curve"]:
            print(f"    {k} settings: {factor * tolerance_min:6.2f} minutes, not below {bound * tolerance_min:6.2f}"
                  f"{', proved' if proved else ''}")
        failures += [f"{name}, {tolerance_min:g} min: {text}" for wrong, text in (
            (got["seconds"] > allowed_s, f"{got['seconds']:.1f} s of {allowed_s:g}"),
            (got["count"] - got["bound"] > gap, f"gap {got['count'] - got['bound']} of {gap}"),
            (got["peak_gb"] > allowed_gb, f"{got['peak_gb']:.2f} GB of {allowed_gb:g}"),
            (got["greedy"] is not None and got["count"] > got["greedy"], "more settings than greedy"),
        ) if wrong]
    print("\n".join(failures) or "all goals met")
    return 1 if failures else 0


if __name__ == "__main__":
    if "--case" in sys.argv:
        print(json.dumps(run_case(*json.loads(sys.argv[sys.argv.index("--case") + 1]))))
    else:
        sys.exit(main())
