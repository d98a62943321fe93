"""Make the demo jobs of this folder: ``python data/make_demo.py [FOLDER]``.

Writes border/, town/ and template/ into FOLDER (default: the folder of this file). Everything is invented and drawn with a
fixed seed; the same command gives the same files. The job.toml files are written by hand and are copied, not made.
"""

from __future__ import annotations

import csv
import datetime
import json
import math
import shutil
import sqlite3
import sys
from pathlib import Path
from random import Random

import geopandas as gpd
import invention
import pyogrio
import shapely
import xlsxwriter

HERE = Path(__file__).parent
SEED = 2027  # only Random.random() is drawn from: the one stream that Python promises never to change

HEADINGS = ["site_id", "name", "place", "lat", "lon", "legal_zone", "use", "lamp", "lamps", "load_w", "feeder", "cabinet",
            "contract", "installed", "regime"]


def make_border(folder: Path) -> None:
    """The job of the invented authority: site list, districts, roads."""
    random = Random(SEED)
    streets, sites = [], []
    for place in invention.PLACES:
        sites += _town_sites(place, streets, random)
    for number, (name, kind, joined, turn_offs) in enumerate(invention.ROADS, start=1):
        road = invention.Street(name, kind, invention.road_line(joined, random))
        streets.append(road)
        sites += _road_sites(road, f"R{number:02d}", turn_offs, random)
    with open(folder / "sites.csv", "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, HEADINGS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(_with_bad_rows(sites))
    _write_outlines(folder / "districts.geojson", "district", invention.DISTRICTS)
    _write_roads(folder / "roads.gpkg", streets)


def _town_sites(place: tuple, streets: list, random: Random) -> list[dict]:
    name, code = place[:2]
    contract = next(key for key, codes in invention.CONTRACTS.items() if code in codes)
    sites, cabinet = [], 0
    for rank, (street, count) in enumerate(invention.town_streets(place, random)):
        streets.append(street)
        left_in_cabinet = 0
        for i in range(count):
            if left_in_cabinet == 0:
                cabinet += 1
                # 2 to 4 sites a cabinet, none left alone at the end of a street
                left = count - i
                left_in_cabinet = left if left <= 4 else 2 + int(random.random() * 2)
            left_in_cabinet -= 1
            lon_deg, lat_deg = invention.point_along(street.line, (i + 0.3 + 0.4 * random.random()) / count)
            use = "main road" if rank < 2 else ("street", "street", "crossing", "car park", "path")[int(random.random() * 5)]
            sites.append(_site(
                f"{code}-{len(sites) + 1:03d}", f"{street.name.split(',')[0]} {i + 1}", name, lat_deg, lon_deg, use,
                f"{code}-F{1 + rank // 4}", f"{code}-C{cabinet:02d}", contract, random))
    return sites


def _road_sites(road: invention.Street, code: str, turn_offs: int, random: Random) -> list[dict]:
    """Turn-offs and rest areas along a road: two sites and one cabinet each."""
    sites = []
    for i in range(turn_offs):
        share = (i + 0.6 + 0.3 * random.random()) / (turn_offs + 0.5)
        # Highways were let in one lot a year, wherever they lie.
        contract = f"K{1 + (len(road.name) + 3 * i) % len(invention.CONTRACTS)}"
        for side in range(2):
            lon_deg, lat_deg = invention.point_along(road.line, share + 0.002 * side)
            sites.append(_site(f"{code}-{len(sites) + 1:03d}", f"{road.name}, turn-off {i + 1} {'ab'[side]}", road.name,
                               lat_deg, lon_deg, "highway", f"{code}-F1", f"{code}-C{i + 1:02d}", contract, random))
    return sites


def _site(site_id, name, place, lat_deg, lon_deg, use, feeder, cabinet, contract, random: Random) -> dict:
    lamp, lamp_w, fewest, most = invention.LAMPS[use]
    lamps = fewest + int(random.random() * (most - fewest + 1))
    return {"site_id": site_id, "name": name, "place": place, "lat": f"{lat_deg:.5f}", "lon": f"{lon_deg:.5f}",
            "legal_zone": invention.KEEPS_NEIGHBOURS_TIME.get(place, ""), "use": use, "lamp": lamp, "lamps": lamps,
            "load_w": lamps * lamp_w, "feeder": feeder, "cabinet": cabinet, "contract": contract,
            "installed": 2006 + int(random.random() * 20), "regime": invention.regime(place, use)}


def _with_bad_rows(sites: list[dict]) -> list[dict]:
    """The list as people have it: nine more rows that cannot be used, each wrong in its own way."""
    bad = [
        (40, {"lat": sites[40]["lon"], "lon": sites[40]["lat"]}),  # exchanged
        (95, {"lat": "0", "lon": "0"}),
        (150, {"lat": ""}),
        (210, {"lat": "", "lon": ""}),
        (265, {"lat": "see plan 114"}),
        (330, {"lon": sites[330]["lon"].replace(".", "", 1)[:4] + "." + sites[330]["lon"][-4:]}),  # point slipped
        (402, {"lat": sites[402]["lat"].replace(".", "")[:4] + "." + sites[402]["lat"][-4:]}),  # point slipped
        (455, {"legal_zone": "Australia/Overline"}),
        (520, {"site_id": sites[519]["site_id"]}),  # given twice
    ]
    rows = list(sites)
    for place, wrong in reversed(bad):
        row = {**sites[place], "site_id": f"NEW-{place:03d}", "name": sites[place]["name"] + " (new)"}
        rows.insert(place + 1, {**row, **wrong})
    return rows


def _write_outlines(path: Path, key: str, outlines: dict[str, list[tuple[float, float]]]) -> None:
    """GeoJSON as RFC 7946 wants it: longitude first, exterior rings counter-clockwise and closed."""
    features = []
    for name, ring in outlines.items():
        assert shapely.LinearRing(ring).is_ccw, name
        features.append({"type": "Feature", "properties": {key: name},
                         "geometry": {"type": "Polygon", "coordinates": [[list(point) for point in [*ring, ring[0]]]]}})
    lines = ",\n".join(json.dumps(feature) for feature in features)
    path.write_text('{"type": "FeatureCollection", "features": [\n' + lines + "\n]}\n", encoding="utf-8")


def _write_roads(path: Path, streets: list) -> None:
    table = gpd.GeoDataFrame({"name": [street.name for street in streets], "class": [street.kind for street in streets]},
                             geometry=[shapely.LineString(street.line) for street in streets], crs="EPSG:4326")
    path.unlink(missing_ok=True)
    pyogrio.write_dataframe(table, path, layer="roads", driver="GPKG", geometry_type="LineString")
    connection = sqlite3.connect(path)
    with connection:  # no clock reading in a file that is kept under version control
        connection.execute("UPDATE gpkg_contents SET last_change = '2000-01-01T00:00:00.000Z'")
    connection.close()


def make_town(folder: Path) -> None:
    """The job of one small town: a workbook with positions in degrees, minutes and seconds."""
    random = Random(SEED + 1)
    place = ("Pepperbark", "PEP", "", -36.4021, 144.9043, 40, 12)
    rows = []
    for street, count in invention.town_streets(place, random):
        for i in range(count):
            lon_deg, lat_deg = invention.point_along(street.line, (i + 0.3 + 0.4 * random.random()) / count)
            lamps = 4 + int(random.random() * 14)
            rows.append([f"P{len(rows) + 1:02d}", f"{street.name.split(',')[0]} {i + 1}", _sexagesimal(lat_deg, "NS"),
                         _sexagesimal(lon_deg, "EW"), lamps, lamps * 40])
    rows.insert(17, ["P41", "Football ground", "36°24'73.5\"S", "144°54'10.0\"E", 6, 516])  # no minute has 73.5 seconds
    with xlsxwriter.Workbook(str(folder / "sites.xlsx"), {"strings_to_formulas": False, "in_memory": True}) as book:
        book.set_properties({"title": "Pepperbark, invented", "created": datetime.datetime(2000, 1, 1)})
        sheet = book.add_worksheet("Switches")
        bold = book.add_format({"bold": True})
        sheet.write_row(0, 0, ["Switch", "Street", "Latitude", "Longitude", "Lamps", "Load (W)"], bold)
        for i, row in enumerate(rows, start=1):
            sheet.write_row(i, 0, row)
        sheet.set_column(1, 3, 20)


def _sexagesimal(value_deg: float, signs: str) -> str:
    """Degrees as 36°24'07.6"S, to a tenth of a second (3 m)."""
    tenths = round(abs(value_deg) * 36_000)
    degrees, rest = divmod(tenths, 36_000)
    minutes, rest = divmod(rest, 600)
    return f"{degrees}°{minutes:02d}'{rest / 10:04.1f}\"{signs[0] if value_deg >= 0 else signs[1]}"


def make_template(folder: Path) -> None:
    """The job that ``geozone new`` hands out: twelve sites at three hamlets, two outlines."""
    random = Random(SEED + 2)
    hamlets = [("Upper Weir", -34.352, 143.248, "west"), ("Long Yard", -34.617, 144.051, "west"),
               ("Dry Bridge", -34.249, 145.302, "east")]
    with open(folder / "sites.csv", "w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["site_id", "name", "lat", "lon", "load_w"])
        for i in range(12):
            name, lat_deg, lon_deg, _ = hamlets[i % 3]
            place = (lat_deg + 0.01 * (random.random() - 0.5), lon_deg + 0.01 * (random.random() - 0.5))
            writer.writerow([f"S{i + 1:02d}", f"{name} {i // 3 + 1}", f"{place[0]:.5f}", f"{place[1]:.5f}",
                             40 * (4 + math.floor(random.random() * 10))])
    _write_outlines(folder / "areas.geojson", "area", {
        "west": [(142.95, -34.00), (143.00, -34.45), (143.60, -34.68), (144.60, -34.80), (144.60, -34.00)],
        "east": [(144.60, -34.00), (144.60, -34.80), (145.60, -34.75), (145.60, -34.00)]})


def main(target: Path) -> None:
    for name, make in (("border", make_border), ("town", make_town), ("template", make_template)):
        folder = target / name
        folder.mkdir(parents=True, exist_ok=True)
        make(folder)
        if target.resolve() != HERE.resolve():
            shutil.copy(HERE / name / "job.toml", folder / "job.toml")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
