"""A file of plain data gives back what was put into it, bit for bit."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geozone.files.plainpack import FLAG, NUMBER, SHAPE, TEXT, WHOLE, DamagedError, TooLargeError, Unpacked, packed

ROW = st.tuples(st.text(st.characters(codec=None), max_size=20), st.floats(), st.integers(-2**63, 2**63 - 1), st.booleans())
COLUMNS = {"text": TEXT, "number": NUMBER, "whole": WHOLE, "flag": FLAG}


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("pack") / "a.zip"


def there_and_back(path, table, columns):
    path.write_bytes(packed(b"{}", {"t": table}, {"t": columns}))
    with Unpacked(path) as pack:
        assert pack.document() == b"{}"
        found = pack.table("t", columns)
        pack.end()
    return found


@given(rows=st.lists(ROW, max_size=8))
@settings(max_examples=80, deadline=None)
def test_texts_and_numbers(path, rows):
    table = pd.DataFrame({name: pd.Series([row[i] for row in rows], dtype=kind) for i, (name, kind) in
                          enumerate(zip(COLUMNS, (object, float, "int64", bool)))})
    found = there_and_back(path, table, COLUMNS)
    assert found["text"].tolist() == table["text"].tolist() and found["flag"].tolist() == table["flag"].tolist()
    assert found["whole"].tolist() == table["whole"].tolist()
    assert found["number"].to_numpy().tobytes() == table["number"].to_numpy().tobytes()  # also -0.0 and which NaN


def test_shapes_of_every_kind(path):
    ring = [(0, 0), (4, 0), (4, 4), (0, 0)]
    shapes = [shapely.Point(1, 2), shapely.LineString(ring), shapely.Polygon(ring, [[(1, .5), (2, .5), (2, 1), (1, .5)]]), None, shapely.Polygon(),
              shapely.MultiPoint([(1, 2), (3, 4)]), shapely.MultiLineString([ring, ring]), shapely.MultiPolygon([shapely.Polygon(ring)]),
              shapely.GeometryCollection([shapely.Point(1, 2), shapely.MultiPoint([(1, 2)])]), shapely.Point()]
    found = there_and_back(path, gpd.GeoDataFrame(geometry=shapes, crs="EPSG:4326"), {"geometry": SHAPE})
    assert found.crs == "EPSG:4326" and [one is None for one in found.geometry] == [one is None for one in shapes]
    assert [shapely.to_wkb(one) for one in found.geometry] == [shapely.to_wkb(one) for one in shapes]


def test_nothing_is_read_that_was_not_asked_for(path):
    path.write_bytes(packed(b"{}", {"t": pd.DataFrame({"a": [1.0], "b": ["x"]})}, {"t": {"a": NUMBER, "b": TEXT}}))
    with Unpacked(path) as pack:
        pack.document()
        pack.table("t", {"a": NUMBER})
        with pytest.raises(DamagedError, match="a part that no run writes"):
            pack.end()
        with pytest.raises(DamagedError, match="missing"):
            pack.table("t", {"c": NUMBER})


def test_what_would_not_be_read_is_not_written(monkeypatch):
    from geozone.files import plainpack

    monkeypatch.setattr(plainpack, "MOST_BYTES", 100)
    with pytest.raises(TooLargeError, match="to keep"):
        packed(b"{}", {"t": pd.DataFrame({"a": np.zeros(20)})}, {"t": {"a": NUMBER}})
