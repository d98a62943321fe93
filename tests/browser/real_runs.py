"""Answers of real runs: small invented site lists that go through `geozone.compute` whole, so that no page is judged by figures
that geozone never made.

Every place is invented; positions lie where the question needs them: on two clocks, in the far north, across the antimeridian.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from geozone import compute, read_job

ADELAIDE = ('lat_deg = -35.1\nlon_deg = 140.2\nlegal_zone = "Australia/Adelaide"\n')
EVENTS = '[[programme.event]]\nturn = "on"\nat = "dusk"\n[[programme.event]]\nturn = "off"\nat = {off}\n'
PROGRAMMES = ('[[programme]]\nname = "late"\n' + EVENTS.format(off='"23:30"') + '[[programme]]\nname = "all night"\n'
              + EVENTS.format(off='"dawn"') + '[programmes]\ncolumn = "regime"\n')


def scattered(n: int, box, seed: int) -> list[tuple[float, float]]:
    """Latitude and longitude of n invented sites in a box of south, west, north, east."""
    rng = np.random.default_rng(seed)
    south, west, north, east = box
    lon = (rng.uniform(west, east, n) + 180) % 360 - 180
    return [(round(float(a), 4), round(float(b), 4)) for a, b in zip(rng.uniform(south, north, n), lon)]


def town(lat: float, lon: float, n: int = 4) -> list[tuple[float, float]]:
    """A few sites some hundred metres apart."""
    return [(round(lat + 0.004 * (k % 2), 4), round(lon + 0.005 * (k // 2), 4)) for k in range(n)]


BORDER = scattered(24, (-36.8, 139.6, -34.2, 142.2), 3) + town(-35.36, 141.05) + town(-34.75, 140.55)
NORTH = [spot for lat, lon in ((62.6, 6.2), (63.5, 10.5), (66.5, 13.2), (69.0, 18.0), (70.2, 25.4), (62.3, 27.6), (65.1, 25.6),
                               (66.6, 26.0), (68.4, 23.8), (69.6, 27.1), (70.1, 29.6)) for spot in town(lat, lon, 2)]
OCEAN = [spot for lat, lon in ((-18.1, 178.3), (-17.8, 177.5), (-16.5, 179.4), (-16.8, -179.97), (-13.85, -171.8), (-13.6, -172.4),
                               (-14.3, -170.7)) for spot in town(lat, lon, 2)] + [(-14.0, -171.1)]  # the last off the coast
WHITE = [spot for lat, lon in ((60.2, 24.9), (61.3, 24.0)) for spot in town(lat, lon, 2)]
GROUPS = "[groups]\ncurve_to = 5\ntime_limit_s = 10\n"

#: name -> (positions, tolerances, further lines of the job file); `plain` has neither groups nor programmes.
RUNS = {
    "plain": (BORDER, (5, 10), "[shared]\n" + ADELAIDE),
    "border": (BORDER, (3, 6), "[shared]\n" + ADELAIDE + GROUPS + 'existing = "contract"\n'),
    "within": (BORDER, (3, 6), "[shared]\n" + ADELAIDE + GROUPS + 'within = "district"\n'),
    "together": (BORDER, (3, 6), GROUPS + 'keep_together = "cabinet"\n'),
    "rules": (BORDER, (4, 8), GROUPS + 'offsets = false\nkeep_together = "cabinet"\nwithin = "district"\n'),
    "master": (BORDER, (5, 10), "[shared]\n" + ADELAIDE + 'clock = "master"\n'),
    "programmes": (BORDER, (5, 10), "[shared]\n" + ADELAIDE + GROUPS + PROGRAMMES),
    "keypad": (BORDER, (5, 10), "[shared]\n" + ADELAIDE + '[keypad]\nutc_offsets = ["+09:00", "+10:00"]\ndaylight_saving = ["none"]\n'
               + GROUPS + PROGRAMMES),
    "north": (NORTH, (8, 16), '[dark]\naltitude_deg = -2\n[shared]\nlat_deg = 65\nlon_deg = 20\nlegal_zone = "Europe/Oslo"\n'),
    "white": (WHITE, (15, 30), '[dark]\ntwilight = "civil"\n[shared]\nlat_deg = 60\nlon_deg = 24\nlegal_zone = "Europe/Helsinki"\n' + GROUPS.replace("5", "0")),
    "ocean": (OCEAN, (5, 10), GROUPS),
    "many": (scattered(60, (-37.5, 139.6, -33.0, 145.5), 5) + town(-33.6, 139.9, 6), (1, 2), "[groups]\ncurve_to = 0\ntime_limit_s = 10\n"),
    "one": ([(-35.2, 140.4)], (5, 10), GROUPS + 'existing = "contract"\n'),
    "unserved": (BORDER, (0.02, 0.02), "[keypad]\noffset_limit_min = 0\n" + GROUPS.replace("5", "0") + 'existing = "contract"\n'),
}


def job_text(name: str, lines: str, tolerance) -> str:
    dark = "" if "[dark]" in lines else "[dark]\naltitude_deg = -4\n"
    return (f'[job]\ntitle = "Invented: {name}"\nyear = 2027\nsites = "sites.csv"\n{dark}'
            f"[tolerance]\ndark_min = {tolerance[0]}\nexcess_min = {tolerance[1]}\n{lines}")


def site_list(positions) -> str:
    rows = ["site_id,name,lat,lon,district,cabinet,contract,regime,load_w"]
    for k, (lat, lon) in enumerate(positions):
        # A cabinet is never cut by a district: both follow the same run of four sites.
        rows.append(f"V-{k + 1:03d},Lane {k + 1},{lat},{lon},{('North', 'South', 'Reach')[k // 4 % 3]},,"
                    f"K{k % 3 + 1},{('late', 'all night')[k % 2]},{100 + 5 * k}")
    return "\n".join(rows) + "\n"


def with_cabinets(text: str) -> str:
    """The two towns' sites as one cabinet each; all others stand alone."""
    rows = text.splitlines()
    for k in range(25, len(rows)):
        cells = rows[k].split(",")
        cells[5] = f"C{(k - 25) // 4}"
        rows[k] = ",".join(cells)
    return "\n".join(rows) + "\n"


def run(name: str, folder: Path):
    """Answers of one run, computed in a folder of its own."""
    positions, tolerance, lines = RUNS[name]
    folder.mkdir(parents=True, exist_ok=True)
    text = site_list(positions)
    text = with_cabinets(text) if positions is BORDER else text
    text += "V-999,Nowhere,95,140,North,,K1,late,100\n" if name == "plain" else ""  # a row that is rejected
    (folder / "sites.csv").write_text(text, encoding="utf-8")
    (folder / "job.toml").write_text(job_text(name, lines, tolerance), encoding="utf-8")
    return compute(read_job(folder / "job.toml"))
