"""The best shared setting on keypads from a tenth of a degree to the finest that is allowed, for two sites.

    python tests/bench/bench_shared.py

A step ten thousand times as fine may take 100 times as long, and two minutes.
"""

from __future__ import annotations

import resource
import time

from geozone import Keypad, best_shared_setting
from geozone.trade.keypad import FINEST_STEP_DEG

LIMIT_S, LIMIT_RATIO, LIMIT_MB = 120.0, 100.0, 2000.0


def searched(step_deg: float) -> tuple[float, float, float]:
    """Processor time [s], and the position found."""
    begun = time.process_time()
    found = best_shared_setting(lat_deg=[-35.0, -34.7], lon_deg=[140.0, 140.3], year=2027, altitude_deg=-4.0, legal_zone="Australia/Adelaide",
                                keypad=Keypad(step_deg))
    return time.process_time() - begun, found.lat_deg, found.lon_deg


def main() -> None:
    searched(0.1)
    took = {step: searched(step) for step in (0.1, 0.01, 0.001, FINEST_STEP_DEG)}
    for step, (seconds, lat, lon) in took.items():
        print(f"step {step:g} degrees: {seconds:.1f} s of processor time, {lat:.5f}, {lon:.5f}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{peak:,.0f} MB at most")
    assert took[FINEST_STEP_DEG][0] < min(LIMIT_S, LIMIT_RATIO * max(took[0.1][0], 0.5)) and peak < LIMIT_MB


if __name__ == "__main__":
    main()
