"""The whole run at 50,000 sites: seconds, memory, size of the map. Whole process, as a user starts it.

    python tests/bench/bench_run.py
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

JOB = """
[job]
title = "Bench: 50,000 sites in 500 places"
year = 2027
sites = "sites.csv"
[dark]
altitude_deg = -4.0
"""


def measured(*command):
    """Wall seconds and peak memory [GB] of a process."""
    start = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    if status:
        sys.exit(f"{command} failed")
    return time.perf_counter() - start, usage.ru_maxrss / 1e6


def main():
    rng = np.random.default_rng(7)
    town = np.column_stack([rng.uniform(-38, -32, 500), rng.uniform(136.5, 143.5, 500)])
    position = town[rng.integers(0, 500, 50_000)] + rng.normal(0, 0.02, (50_000, 2))
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        pd.DataFrame({"site_id": np.arange(50_000), "lat": position[:, 0].round(6), "lon": position[:, 1].round(6),
                      "name": [f"Street {i}" for i in range(50_000)]}).to_csv(folder / "sites.csv", index=False)
        (folder / "job.toml").write_text(JOB, encoding="utf-8")
        measured(sys.executable, "-m", "geozone.cli", "times", "--lat=0", "--lon=10")  # compiled code in the cache
        seconds, gb = measured(sys.executable, "-m", "geozone.cli", "run", str(folder / "job.toml"))
        seconds, gb = min((seconds, gb), measured(sys.executable, "-m", "geozone.cli", "run", str(folder / "job.toml")))
        map_mb = (folder / "out" / "map.html").stat().st_size / 1e6
    helped = min(measured(sys.executable, "-m", "geozone.cli", "--help")[0] for _ in range(5))
    bare = min(measured(sys.executable, "-c", "pass")[0] for _ in range(5))
    print(f"run, 50,000 sites   {seconds:6.1f} s, peak {gb:.2f} GB, map.html {map_mb:.2f} MB")
    print(f"--help              {helped:6.2f} s (a bare interpreter {bare:.2f} s)")
    failed = [text for ok, text in [(seconds <= 20, "more than 20 s"), (gb <= 1.5, "more than 1.5 GB"),
                                    (map_mb <= 4, "map above 4 MB"), (helped < 0.5, "--help takes 0.5 s or more")] if not ok]
    sys.exit("; ".join(failed) or 0)


if __name__ == "__main__":
    main()
