"""Columns of whole numbers for the page, against arithmetic done by hand."""

import numpy as np
import pandas as pd

from geozone.screens.mapcolumns import MISSING, coded, packed, steps_of_line, tenths


def unpacked(column, n):
    """The same rule as web/unpack.js, written from its description."""
    if "runs" in column:
        return np.repeat(column["runs"][::2], column["runs"][1::2]).tolist()
    return np.cumsum(column["steps"]).tolist()[:n]


def test_runs_and_steps_come_back():
    for values in ([], [5], [-3, -3, -3, -3], [1, 2, 2, 9, -1], list(range(50)), [0] * 99 + [7]):
        assert unpacked(packed(values), len(values)) == values


def test_the_shorter_way_is_taken():
    assert packed([4] * 100) == {"runs": [4, 100]}
    assert packed([3, 5, 4]) == {"steps": [3, 2, -1]}


def test_tenths_round_as_a_table_does():
    values = [0.0, 0.04, 0.05, 0.15, 0.25, 7.449999, 7.45, 1234.56, np.nan]
    table = pd.DataFrame({"x": values}).round(1)["x"]
    assert [v / 10 for v in tenths(values)[:-1]] == table[:-1].tolist()
    assert tenths(values)[-1] == MISSING


def test_coded_texts():
    assert coded(["b", "", "a", "b", None])[0] == ["b", "a"]
    assert coded(["b", "", "a", "b", None])[1].tolist() == [0, MISSING, 1, 0, MISSING]
    assert coded(["", "x"], blank=None)[1].tolist() == [0, 1]


def test_line_in_steps_without_repeats():
    assert steps_of_line([(141.0, -35.0), (141.0, -35.0), (141.00002, -35.00001)]) == [14100000, -3500000, 2, -1]
    assert steps_of_line([(1.0, 1.0), (1.000000001, 1.0)]) == []
