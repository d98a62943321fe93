import numpy as np
import pandas as pd
import pytest

from geozone.errors import InputError
from geozone.places.numerals import as_numbers, check_decimal, find_decimal, tidy


def text(*values):
    return pd.Series(values, dtype="str")


@pytest.mark.parametrize("decimal, written, number", [
    (".", "-35.5", -35.5), (".", " 12 ", 12), (".", "1,234,567.5", 1234567.5), (".", "6 100 000.25", 6100000.25),
    (".", "−35.5", -35.5), (".", "\u00a035.5\u200b", 35.5), (".", "6\u202f100\u202f000", 6100000), (".", "1e3", 1000),
    (",", "-35,5", -35.5), (",", "1.234.567,5", 1234567.5), (",", "1.234", 1234), (",", "1'234,5", 1234.5),
    (",", "35", 35), (".", "+5", 5), (".", "12,34", np.nan), (".", "abc", np.nan), (".", "", np.nan),
    (".", "12 W", np.nan), (".", "nan", np.nan), (".", "inf", np.nan), (".", "1 2", np.nan), (",", "1,2,3", np.nan)])
def test_as_numbers(decimal, written, number):
    np.testing.assert_equal(as_numbers(text(written), decimal)[0], number)


def test_typed_cells_are_numbers_whatever_the_mark():
    assert as_numbers(pd.Series([35.5, "35,5"], dtype=object), ",").tolist() == [35.5, 35.5]
    assert np.isnan(as_numbers(pd.Series([True, False]))).all()
    assert np.isnan(as_numbers(pd.to_datetime(pd.Series(["2027-01-01"])))).all()
    assert np.isnan(as_numbers(pd.Series([np.inf])))[0]


@pytest.mark.parametrize("values, mark", [
    (["-35,5"], ","), (["-35.5"], "."), (["540123,5", "6100000,123"], ","), (["1,234.5"], "."), (["1.234,5"], ","),
    (["1,234,567"], "."), (["1,234"], None), (["12", "13"], None), (["6100000,123"], ","), (["0,125"], ","), (["1.234.567"], ","),
    (["51.533.310", "9.933.312"], ",")])
def test_find_decimal(values, mark):
    assert find_decimal([text(*values)]) == mark


def test_tidy_says_which_cells_had_hidden_characters():
    values, hidden = tidy(text("A1", "A1\u00a0", "\u200bB", " C "))
    assert values.tolist() == ["A1", "A1", "B", "C"] and hidden.tolist() == [False, True, True, False]


def test_check_decimal():
    assert check_decimal("comma") == "," and check_decimal(None) is None
    with pytest.raises(InputError):
        check_decimal(";")
