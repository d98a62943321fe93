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
    assert "2 loads" in notes[-1] and 'row 3: "old" holds no number' in notes[-1] and 'row 4: "-5" is negative' in notes[-1]


@pytest.mark.parametrize("cell, watts", [("66 (LED)", 66), ("66 W LED", 66), ("LED 66 W", 66), ("ca. 66", 66), ("66,5 (LED)", 66.5),
                                         ("66 W (alt)", 66), ("0.066 kW (LED)", 66), ("NAV 70 W", 70), ("1 200 W Mast", 1200)])
def test_words_beside_a_number_are_read_and_said(cell, watts):
    load, notes = loads("watt", "150", cell, decimal="," if "," in cell else ".")
    assert load[1] == pytest.approx(watts) and f'row 3: "{cell}" is read as {watts:g} W' in notes[-1]


@pytest.mark.parametrize("cell", ["250/85", "2x58", "2 x 58 W", "66-80", "66 VA", "66 lm", "4000 K", "66 (4000 K)", "< 100", "max 100",
                                  "50 %", "66 W je Leuchte", "66 V", "12 mW", "LED66", "0,5 A", "E27"])
def test_two_numbers_or_another_unit_are_left_open_and_said(cell):
    load, notes = loads("watt", "150", cell)
    assert np.isnan(load[1]) and f'row 3: "{cell}"' in notes[-1] and "left open" in notes[-1], load


def test_the_same_text_in_many_rows_is_said_once():
    load, notes = loads("watt", *["66 (LED)"] * 300, *[f"{i}/{i + 1}" for i in range(50)])
    assert load[299] == 66 and "row 2, 3, 4, 5, 6 and 295 more" in notes[-2] and "and 38 more with other texts" in notes[-1]


def test_kilowatts_in_the_heading_hold_for_words_too():
    assert loads("kW", "0.066 (LED)")[0][0] == pytest.approx(66) and loads("kW", "66 W")[0][0] == 66


def test_units_are_said():
    assert "turned into W" in loads("kW", "1")[1][0] and "read as W" in loads("load", "1")[1][0]
    assert loads("load_w", "1")[1] == []
    assert np.isnan(read_loads(Table("a", "", pd.DataFrame({"x": ["1"]}), np.array([2])), None, None, np.array([True]))[0][0])
