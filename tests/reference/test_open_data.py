"""A list as a city publishes it: park lights of Cambridge, Massachusetts (PDDL 1.0, see tests/data/open/README.md).

The expected values come from the file itself, read with the standard library's json only.
"""

import json
from collections import Counter
from pathlib import Path

import pytest

from geozone.places.sites import SiteReading, read_sites

FILE = Path(__file__).parents[1] / "data" / "open" / "cambridge_ma_park_lights.geojson"


@pytest.fixture(scope="module")
def features():
    return json.loads(FILE.read_text(encoding="utf-8"))["features"]


def test_every_light_is_used_or_rejected(features):
    got = read_sites(FILE)
    assert len(features) == 858 == got.read
    assert any('site_id from "PoleID"' in note for note in got.notes)
    ids = [f["properties"]["PoleID"] for f in features]
    assert got.sites.site_id.tolist() == list(dict.fromkeys(ids))  # the first of each id stays
    assert len(got.rejects) == sum(n - 1 for n in Counter(ids).values())
    unknown = [number for number, i in enumerate(ids, 1) if i == "929-P?"]
    refused = got.rejects[got.rejects["value"] == "929-P?"]
    assert refused["row"].tolist() == unknown[1:] and set(refused["reason"]) == {f"id already used in feature {unknown[0]}"}


def test_positions_are_those_of_the_file(features):
    got = read_sites(FILE)
    for site in got.sites.itertuples():
        lon, lat = features[site.row - 1]["geometry"]["coordinates"][:2]
        assert (site.lat_deg, site.lon_deg) == pytest.approx((lat, lon), abs=1e-12)
    assert set(features[0]["properties"]) - {"PoleID", "ParkName"} <= set(got.sites)


def test_without_a_crs_member_it_is_wgs84_as_rfc_7946_says():
    assert "crs" not in json.loads(FILE.read_text(encoding="utf-8"))
    assert read_sites(FILE).sites.total_bounds == pytest.approx([-71.16, 42.35, -71.06, 42.41], abs=0.02)


def test_as_a_list_without_usable_ids(features, tmp_path):
    rows = [(f["properties"]["ParkName"], *f["geometry"]["coordinates"][:2]) for f in features]
    path = tmp_path / "lights.csv"
    path.write_text("park;lon;lat\n" + "".join(f"{n};{x};{y}\n" for n, x, y in rows), encoding="utf-8")
    got = read_sites(path, SiteReading(name="park"))
    assert len(got.sites) == 858 and got.sites.site_id[0] == "row-2" and len(got.rejects) == 0
    twice = len(rows) - len({(round(x, 12), round(y, 12)) for _, x, y in rows})
    assert any(f"{twice:,} sites stand at the position" in n for n in got.notes) == (twice > 0)
