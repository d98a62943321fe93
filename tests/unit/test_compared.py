"""Figures of two runs side by side: what is compared, and what is not."""

from geozone.desk.compared import compared


def rows(one, other):
    return {row.words: (row.one, row.other, row.more, row.unit, row.same) for row in compared(one, other)}


def test_figures_and_what_one_has_more():
    one = {"job": {"year": 2027, "dark_min": 3.0, "dark_threshold": "sunset"}, "groups": {"count": 4},
           "drift": {"sites_within": 1204, "same_clock": {"worst_dark_min": 5.64}}}
    other = {"job": {"year": 2028, "dark_min": 3.0, "dark_threshold": "20 lx"},
             "drift": {"sites_within": 1300, "same_clock": {"worst_dark_min": None}}}
    found = rows(one, other)
    assert found["Year"] == ("2027", "2028", "", "", False) and found["Counts as dark"][:2] == ("sunset", "20 lx")
    assert found["Tolerance: unlit"] == ("3.0", "3.0", "", "min", True)
    assert found["Fewest settings: found"] == ("4", "–", "", "", False)
    assert found["Shared setting: sites within"] == ("1,204", "1,300", "+96", "", False)
    assert found["Shared setting: worst unlit"] == ("5.6", "–", "", "min", False) and "Lighting zones" not in found


def test_costs_of_two_currencies_are_not_subtracted():
    one, other = {"hours": {"cost": 100.0, "currency": "AUD"}}, {"hours": {"cost": 80.4, "currency": "EUR"}}
    assert rows(one, other)["Cost in a year"] == ("100", "80", "", "", False)
    assert rows(one, {"hours": {"cost": 80.4, "currency": "AUD"}})["Cost in a year"] == ("100", "80", "-20", "AUD", False)
    assert rows({}, {}) == {} and rows(one, {})["Cost in a year"][3] == "AUD"
