"""Eight jobs that go through the whole program: the two demos, and six invented ones for what the demos leave out.

Every place is invented. Positions lie where the question needs them: on two clocks, in white nights, in a projected system.
Searches are small enough to end long before their time limit, so that no answer hangs on the speed of the machine.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
from pyproj import Transformer

DEMOS = {"demo": "border", "town": "town"}
_ADELAIDE = '[shared]\nlat_deg = -35.1\nlon_deg = 140.2\nlegal_zone = "Australia/Adelaide"\n'
_DUSK = '[[programme.event]]\nturn = "on"\nat = "dusk"\n'
_PROGRAMMES = ('[programmes]\ncolumn = "regime"\nlit_area_m2 = "lit_m2"\n'
               '[[programme]]\nname = "late"\n' + _DUSK + '[[programme.event]]\nturn = "off"\nat = "23:30"\n'
               '[[programme.event]]\nturn = "on"\nat = "06:00"\n[[programme.event]]\nturn = "off"\nat = "dawn"\nshift_min = -5\n'
               '[[programme]]\nname = "all night"\n' + _DUSK + '[[programme.event]]\nturn = "off"\nat = "dawn"\n'
               '[holidays]\ndates = ["2027-01-01", "2027-12-27"]\ncounts_as = "sat"\n'
               '[tariff]\nper_kwh = 0.3\ncurrency = "AUD"\n[timetable]\nperiod = "month"\nrounding_min = 5\n')
_GROUPS = "[groups]\ntime_limit_s = 60\n"
_BORDER, _NORTH = (-36.8, 139.6, -34.2, 142.2), (60.0, 10.0, 62.5, 12.0)

# name -> (box of the sites: south, west, north, east; what is dark and tolerated; further lines of the job file)
INVENTED = {
    "groups": (_BORDER, "[dark]\naltitude_deg = -4\n[tolerance]\ndark_min = 3\nexcess_min = 6\n",
               _ADELAIDE + _GROUPS + 'existing = "contract"\ncurve_to = 4\n'),
    "keypad": (_BORDER, "[dark]\nilluminance_lx = 20\n",
               _ADELAIDE + '[keypad]\nutc_offsets = ["+09:00", "+10:00"]\ndaylight_saving = ["none"]\nevent_limit = 8\n'
               'coordinate_step_deg = 0.25\n' + _GROUPS + "curve_to = 0\n" + _PROGRAMMES),
    "white nights": (_NORTH, '[dark]\ntwilight = "civil"\n[tolerance]\ndark_min = 10\nexcess_min = 20\nshallow_deg = 1\n',
                     _GROUPS + "curve_to = 2\n" + '[[programme]]\nname = "late"\n' + _DUSK
                     + '[[programme.event]]\nturn = "off"\nat = "23:00"\n[timetable]\nperiod = "fortnight"\nrounding_min = 10\n'),
    "master clock": (_BORDER, "[dark]\naltitude_deg = -4\n", '[shared]\nclock = "master"\n' + _PROGRAMMES),
    "together": (_BORDER, "[dark]\naltitude_deg = -0.8333\n[tolerance]\ndark_min = 4\nexcess_min = 8\n",
                 _GROUPS + 'offsets = false\nkeep_together = "cabinet"\nwithin = "district"\ncurve_to = 0\n'),
    "outlines": ((-36.4, 141.3, -34.9, 142.3), "[dark]\naltitude_deg = -6\n[tolerance]\ndark_min = 2\nexcess_min = 4\n",
                 '[sheet]\nsize = "A4"\nlanguage = "de"\nper = "area"\norientation = "portrait"\ncrs = "EPSG:32754"\n'
                 '[cards]\nsize = "A6"\nlanguage = "fr"\nfirst_day = "2027-06-01"\n' + _GROUPS + "curve_to = 0\n"),
}
NAMES = (*DEMOS, *INVENTED)


def write_job(name: str, folder: Path, examples: Path) -> None:
    """Write a job with its data into a new folder.

    Parameters
    ----------
    name : str
        One of `NAMES`.
    folder : Path
    examples : Path
        Where the demo jobs lie.
    """
    folder.mkdir(parents=True)
    if name in DEMOS:
        for path in sorted((examples / DEMOS[name]).iterdir()):
            shutil.copyfile(path, folder / path.name)
        return
    box, dark, more = INVENTED[name]
    own = name == "outlines"
    files = 'sites = "sites.csv"\n' + ('areas = "areas.geojson"\narea_names = "ward"\ncrs = "EPSG:7854"\n' if own else "")
    (folder / "job.toml").write_text(f'[job]\ntitle = "Invented: {name}"\nyear = 2027\n{files}{dark}{more}', encoding="utf-8")
    positions = _scattered(36, box)
    heads = "northing,easting" if own else "lat,lon"
    rows = [f"site_id,name,{heads},district,cabinet,contract,regime,load_w,lit_m2"]
    to_metres = Transformer.from_crs("EPSG:4326", "EPSG:7854", always_xy=True)
    for k, (lat, lon) in enumerate(positions):
        place = f"{lat},{lon}"
        if own:
            east, north = to_metres.transform(lon, lat)
            place = f"{north:.1f},{east:.1f}"
        # Cabinets of four neighbours; no district cuts one. The first two programmes' sites lie side by side.
        rows.append(f"V-{k + 1:03d},Lane {k + 1},{place},{('North', 'South')[k // 12 % 2]},C{k // 4},K{k % 5},"
                    f"{('late', 'all night')[k % 2]},{100 + 5 * k},{200 + k}")
    rows.append(f"V-999,Nowhere,{'x,y' if own else '95,140'},North,C9,K1,late,100,200")  # cannot be used
    (folder / "sites.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    if own:
        (folder / "areas.geojson").write_text(json.dumps(_wards(box)), encoding="utf-8")


def _scattered(n: int, box) -> list[tuple[float, float]]:
    """Latitude and longitude of n sites: runs of four within some kilometres of each other."""
    rng = np.random.default_rng(11)
    south, west, north, east = box
    middle = np.repeat(np.column_stack((rng.uniform(south, north, n // 4), rng.uniform(west, east, n // 4))), 4, axis=0)
    return [(round(float(lat), 4), round(float(lon), 4)) for lat, lon in middle + rng.uniform(-0.03, 0.03, (n, 2))]


def _wards(box) -> dict:
    """Three strips from west to east, with a margin round the sites."""
    south, west, north, east = box
    edges = np.linspace(west - 0.1, east + 0.1, 4).round(3).tolist()
    low, high = south - 0.1, north + 0.1
    strips = [{"type": "Feature", "properties": {"ward": f"Ward {k + 1}"}, "geometry": {"type": "Polygon", "coordinates": [
        [[a, low], [b, low], [b, high], [a, high], [a, low]]]}} for k, (a, b) in enumerate(zip(edges, edges[1:]))]
    return {"type": "FeatureCollection", "features": strips}
