import numpy as np
import pandas as pd
import pytest

from geozone.places.loads import read_loads
from geozone.places.tables import Table


def loads(heading, *cells, decimal=None, dtype="str"):
    frame = pd.DataFrame({heading: pd.Series(cells, dtype=dtype)})
    return read_loads(Table("a.csv", "", frame, np.arange(2, len(cells) + 2)), heading, decimal, np.ones(len(cells), bool))


@pytest.mark.parametrize("heading, cell, watts", [
    ("load_w", "150", 150), ("Watt", "150,5", 150.5), ("kW", "0.15", 150), ("Leistung [kW]", "0,15", 150),
    ("load", "70 W", 70), ("load", "0.07 kW", 70), ("W", "1,234.5", 1234.5)])
def test_watts(heading, cell, watts):
    assert loads(heading, cell)[0][0] == pytest.approx(watts)


def test_what_is_no_load_is_left_open_and_named():
    load, notes = loads("watt", "150", "old", "-5", "")
    assert load[0] == 150 and np.isnan(load[1:]).all()
    assert "2 loads" in notes[-1] and "row 3, 4" in notes[-1]


def test_units_are_said():
    assert "turned into W" in loads("kW", "1")[1][0] and "read as W" in loads("load", "1")[1][0]
    assert loads("load_w", "1")[1] == []
    assert np.isnan(read_loads(Table("a", "", pd.DataFrame({"x": ["1"]}), np.array([2])), None, None, np.array([True]))[0][0])
