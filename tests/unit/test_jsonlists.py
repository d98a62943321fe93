import json
import math
import zipfile

import pytest

from geozone.errors import InputError
from geozone.places.sites import SiteReading, read_sites


def feature(name, lon, lat):
    return {"type": "Feature", "properties": {"id": name, "watt": 66}, "geometry": {"type": "Point", "coordinates": [lon, lat]}}


def collection(*features, **more):
    return {"type": "FeatureCollection", **more, "features": list(features)}


A, B = feature("a", 141, -35), feature("b", 141.5, -35.5)
# 141 E, 35 S in spherical Mercator, by its formula
MERCATOR = {"x": 6378137 * math.radians(141), "y": 6378137 * math.log(math.tan(math.pi / 4 + math.radians(-35) / 2))}
OUTLINE = {"type": "Feature", "properties": {"name": "west"},
           "geometry": {"type": "Polygon", "coordinates": [[[140, -36], [142, -36], [142, -34], [140, -34], [140, -36]]]}}
SHAPES = {
    "list of collections": json.dumps([collection(A), collection(B)]),
    "collections by name": json.dumps({"north": collection(A), "south": collection(B)}),
    "one after the other": json.dumps(collection(A)) + "\n" + json.dumps(collection(B)) + "\n",
    "lines of features": json.dumps(A) + "\n" + json.dumps(B) + "\n",
    "text sequence": "\x1e" + json.dumps(A) + "\n\x1e" + json.dumps(B) + "\n",
    "collections in a collection": json.dumps(collection(collection(A), collection(B))),
    "list of features": json.dumps([A, B]),
    "records": json.dumps([{"id": "a", "lat": -35, "lon": 141, "watt": 66}, {"id": "b", "lat": -35.5, "lon": 141.5, "watt": 66}]),
    "records in an answer": json.dumps({"count": 2, "results": [{"id": "a", "lat": "-35", "lon": "141"},
                                                                {"id": "b", "lat": -35.5, "lon": 141.5}]}),
    "records with a geometry": json.dumps([{"id": p["properties"]["id"], "location": p["geometry"]} for p in (A, B)]),
    "with outlines": json.dumps({"sites": collection(A, B), "districts": collection(OUTLINE)}),
    "a server's": json.dumps({"geometryType": "point", "spatialReference": {"wkid": 4326}, "features": [
        {"attributes": p["properties"], "geometry": dict(zip("xy", p["geometry"]["coordinates"]))} for p in (A, B)]}),
}


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("name", ["a.geojson", "a.json", "a.zip"])
def test_every_shape_gives_the_same_sites(tmp_path, shape, name):
    if name == "a.zip":
        with zipfile.ZipFile(tmp_path / name, "w") as packed:
            packed.writestr("deep/list.geojson", SHAPES[shape])
            packed.writestr("deep/readme.pdf", "x")
    else:
        (tmp_path / name).write_text(SHAPES[shape])
    got = read_sites(tmp_path / name)
    assert got.sites.site_id.tolist() == ["a", "b"] and got.sites.lat_deg.tolist() == [-35, -35.5]
    assert got.sites.lon_deg.tolist() == [141, 141.5] and got.sites["row"].tolist() == [1, 2]


def test_a_servers_answer_in_its_own_system(tmp_path):
    answer = {"spatialReference": {"wkid": 102100, "latestWkid": 3857}, "features": [
        {"attributes": {"id": "a"}, "geometry": MERCATOR}, {"attributes": {"id": "b"}, "geometry": {"x": "NaN", "y": "NaN"}}]}
    (tmp_path / "a.json").write_text(json.dumps(answer))
    got = read_sites(tmp_path / "a.json")
    assert (got.sites.lon_deg[0], got.sites.lat_deg[0]) == pytest.approx((141, -35), abs=1e-7)
    assert got.rejects["reason"].tolist() == ["no position"]


@pytest.mark.parametrize("flag", [{"exceededTransferLimit": True}, {"properties": {"exceededTransferLimit": True}},
                                  {"numberMatched": 7000, "numberReturned": 2}, {"numberMatched": 7000}])
def test_an_answer_that_says_that_it_is_cut_is_refused(tmp_path, flag):
    (tmp_path / "a.geojson").write_text(json.dumps(collection(A, B, **flag)))
    with pytest.raises(InputError, match="cut at its page size") as raised:
        read_sites(tmp_path / "a.geojson")
    assert raised.value.next_step and raised.value.rule and raised.value.value
    (tmp_path / "b.geojson").write_text(json.dumps(collection(A, B)))  # as it says: the flag deleted
    assert len(read_sites(tmp_path / "b.geojson").sites) == 2
    (tmp_path / "c.geojson").write_text(json.dumps(collection(A, B, exceededTransferLimit=False, numberMatched=2)))
    assert len(read_sites(tmp_path / "c.geojson").sites) == 2


def test_a_zip_with_two_lists_is_asked_about(tmp_path):
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as packed:
        packed.writestr("north.csv", "id,lat,lon\na,-35,141\n")
        packed.writestr("south.csv", "id,lat,lon\nb,-36,141\n")
    with pytest.raises(InputError, match="several lists") as raised:
        read_sites(tmp_path / "a.zip")
    assert 'layer = "north.csv"' in raised.value.next_step
    got = read_sites(tmp_path / "a.zip", SiteReading(layer="south.csv"))
    assert got.sites.site_id.tolist() == ["b"] and not any("not used" in n for n in got.notes)


@pytest.mark.parametrize("text", ['{"type":"FeatureCollection","features":[', "[]", "{}", "7", '"a"', "[[1,2]]", '{"type":"Topology"}',
                                  "[" * 900 + "]" * 900, '[{"type":"FeatureCollection","features":[7]}]', '[{"a":null}]'])
def test_what_is_no_list_is_refused(tmp_path, text):
    (tmp_path / "a.json").write_text(text)
    with pytest.raises(InputError):
        read_sites(tmp_path / "a.json")
