"""What the map page is handed of a plan: words, table, outlines, proof, curve, comparison."""

import json
import runpy
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import shapely

from geozone.grouping.grouphues import HUES, hues_apart
from geozone.grouping.grouprules import headline
from geozone.screens.mapdata import page_data
from geozone.screens.mapgroups import curve_points, curve_words, why_not_fewer
from geozone.screens.mapwords import minutes, offset_sign
from geozone.screens.webmap import draw_map

EXAMPLES = runpy.run_path(str(Path(__file__).parents[1] / "browser" / "example_answers.py"))


@pytest.fixture(scope="module")
def answers():
    return EXAMPLES["with_invented_groups"](EXAMPLES["example_answers"](200, 12), 11, lower_bound=9, n_unserved=3)


@pytest.fixture(scope="module")
def data(answers):
    return page_data(answers)


def column(data, name):
    packed = data["sites"]["columns"][name]
    return np.repeat(packed["runs"][::2], packed["runs"][1::2]) if "runs" in packed else np.cumsum(packed["steps"])


def ring(steps):
    return np.cumsum(np.array(steps).reshape(-1, 2), axis=0) / 1e5


@pytest.mark.parametrize("count, lower, n, without, sentence", [
    (4, 4, 620, 0, "4 settings serve all 620 sites, and fewer cannot."),
    (1, 1, 620, 0, "One setting serves all 620 sites."),
    (1, 1, 1, 0, "One setting serves the one site."),
    (2, 2, 2, 0, "2 settings serve both sites, and fewer cannot."),
    (23, 21, 20_000, 0, "23 settings serve all 20,000 sites; at least 21 are needed."),
    (2, 1, 40, 0, "2 settings serve all 40 sites; at least 1 is needed."),
    (4, 4, 620, 2, "4 settings serve 618 of 620 sites, and fewer cannot; no setting serves the other 2."),
    (4, 3, 620, 1, "4 settings serve 619 of 620 sites; at least 3 are needed; no setting serves the other one."),
    (0, 0, 5, 5, "No setting that the keypad holds serves any of the 5 sites."),
    (0, 0, 1, 1, "No setting that the keypad holds serves the one site."),
])
def test_headline(count, lower, n, without, sentence):
    assert headline(count, lower, n, without) == sentence


def test_words():
    assert [offset_sign(k) for k in (0, 3, -12)] == ["0", "+3", "\u221212"]
    assert [minutes(x) for x in (2.25, 0.0, np.nan, np.inf)] == ["2.2", "0.0", "", ""]  # 2.25 to even, as a table rounds it


def test_without_a_plan_there_is_nothing():
    answers = EXAMPLES["example_answers"](60, 6)
    data = page_data(answers)
    assert data["groups"] is None and "group" not in data["sites"]["columns"]
    assert "geozone.groups(" not in draw_map(answers)


def test_every_setting_is_there_as_the_plan_has_it(answers, data):
    table = answers.groups.settings
    assert [row["name"] for row in data["groups"]["settings"]] == table["group"].tolist()
    for row, expected in zip(data["groups"]["settings"], table.itertuples()):
        assert row["lat"] == f"{-expected.lat_deg:.1f}° S" and row["lon"] == f"{expected.lon_deg:.1f}° E"
        assert int(row["dusk"].replace("\u2212", "-")) == expected.dusk_offset_min
        assert int(row["dawn"].replace("\u2212", "-")) == expected.dawn_offset_min
        assert (row["sites"], row["zone"], row["clock"]) == (expected.sites, expected.legal_zone, expected.clock)
        assert row["dark"] == [f"{np.round(expected.worst_dark_min, 1):.1f}", expected.worst_dark_site, "2027-06-21", "dusk"]
        assert row["excess"][:2] == [f"{np.round(expected.worst_excess_min, 1):.1f}", expected.worst_excess_site]


def test_every_site_carries_its_group(answers, data):
    sites = answers.sites.set_index("site_id").loc[data["sites"]["id"]]
    names = [row["name"] for row in data["groups"]["settings"]]
    assert [names[k] if k >= 0 else "" for k in column(data, "group")] == sites["group"].tolist()
    assert (column(data, "group") == -1).sum() == data["groups"]["without"] == 3
    assert (column(data, "witness") == sites["proof_site"].to_numpy()).all() and column(data, "witness").sum() == 11
    shown = column(data, "group_dark")
    assert ((shown == -1) == sites["group_dark_min"].isna()).all()
    assert (shown / 10 == sites["group_dark_min"].round(1).fillna(-0.1).to_numpy()).all()


def test_outlines_on_the_page_hold_their_sites(answers, data):
    """The page's own outline, unpacked again, holds every site of its group that no other shares a spot with."""
    sites = answers.sites
    assert {row["name"] for row in data["groups"]["settings"]} == set(sites["group"]) - {""} != set()
    for row in data["groups"]["settings"]:
        shape = shapely.union_all([shapely.Polygon(ring(rings[0]), [ring(hole) for hole in rings[1:]]) for rings in row["rings"]])
        mine, others = sites[sites.group == row["name"]], sites[sites.group != row["name"]]
        assert shapely.contains_xy(shape, mine.lon_deg, mine.lat_deg).mean() > 0.95
        assert shapely.contains_xy(shape, others.lon_deg, others.lat_deg).mean() < 0.02
        places = np.array(row["places"][0]).reshape(-1, 2) / 1e5
        assert len(places) and shapely.contains_xy(shape, places[:, 0], places[:, 1]).all()


def test_hues_are_each_groups_own_up_to_eight():
    assert hues_apart([shapely.Point(k, 0) for k in range(HUES)]) == [(k, 0) for k in range(HUES)]


@pytest.mark.parametrize("n", [9, 15, 26, 60])
def test_neighbours_never_share_a_hue(n):
    """A chessboard of touching squares in reading order: the hardest lie of the land that a map of groups comes to."""
    across = int(np.ceil(np.sqrt(n)))
    squares = [shapely.box(k % across, -(k // across), k % across + 1, -(k // across) + 1) for k in range(n)]
    looks = hues_apart(squares)
    assert len(set(looks)) == n
    touching = [(a, b) for a in range(n) for b in range(a) if squares[a].intersects(squares[b])]
    assert touching and not [pair for pair in touching if looks[pair[0]][0] == looks[pair[1]][0]]
    assert max(cycle for _, cycle in looks) <= -(-n // HUES)


def test_empty_outlines_do_not_break_the_hues():
    assert len(set(hues_apart([shapely.Point()] * 20))) == 20


def test_the_names_of_the_witnesses_are_not_said_twice(answers):
    groups = answers.groups
    listed = replace(groups.plan.witnesses, site_ids=("b", "a"), weight=(1.0, 1.0), kind="apart",
                     sentence="These 2 sites need 2 settings: b, a.")
    why = why_not_fewer(replace(groups, plan=replace(groups.plan, witnesses=listed)))
    assert why == {"kind": "apart", "sentence": "These 2 sites need 2 settings.", "reason": "", "sites": ["b", "a"], "weights": []}
    weighed = replace(listed, kind="weights", weight=(0.25, 1.0), sentence="Heavy.")
    why = why_not_fewer(replace(groups, plan=replace(groups.plan, witnesses=weighed)))
    assert (why["sentence"], why["sites"], why["weights"]) == ("Heavy.", ["a", "b"], ["1.00", "0.25"])
    trivial = replace(listed, kind="none", sentence="Every plan needs at least one setting.")
    assert why_not_fewer(replace(groups, plan=replace(groups.plan, witnesses=trivial)))["sites"] == []


def curve(*worst):
    return pd.DataFrame([{"k": k, "worst_min": w, "worst_dark_min": w / 2, "worst_excess_min": w, "factor": w, "at_least_share": w, "proved": True}
                         for k, w in enumerate(worst, start=1)])


def test_the_curve_says_where_there_is_no_plan():
    points = curve_points(curve(np.nan, 7.774), plan_of(2, 3.887, 7.774))
    assert points[0] == {"k": 1, "proved": True, "plan": False, "dark": None, "excess": None, "worst": None, "dark_text": "",
                         "excess_text": ""}
    assert (points[1]["excess"], points[1]["excess_text"], points[1]["dark_text"], points[1]["plan"]) == (7.774, "7.8", "3.9", True)


def plan_of(count, dark, excess, unserved=()):
    return SimpleNamespace(count=count, worst_dark_min=dark, worst_excess_min=excess, unserved=unserved)


def test_a_point_is_this_plan_only_with_the_plans_own_figures():
    table = curve(9.0, 6.0, 4.0)
    assert [point["plan"] for point in curve_points(table, plan_of(2, 3.0, 6.0))] == [False, True, False]
    assert not any(point["plan"] for point in curve_points(table, plan_of(2, 3.0, 6.2)))  # the curve's search came further
    assert not any(point["plan"] for point in curve_points(table, plan_of(2, 3.0, 6.0, unserved=("one",))))


@pytest.mark.parametrize("worst, count, words", [
    ((np.nan, 7.8, 6.3, 5.1, 4.2, 3.8), 4, "A 5th setting would take 0.9 minutes off the worst, a 6th another 0.4. "
                                           "From 5 settings on, one more takes off less than half a minute, as far as the table goes."),
    ((9.0, 6.0, 4.0), 1, "A 2nd setting would take 3.0 minutes off the worst, a 3rd another 2.0. Each one more in this table takes off half a minute or more."),
    ((9.0, 8.9, 8.8), 1, "A 2nd setting would take 0.1 minutes off the worst, a 3rd another 0.1. "
                         "From 1 setting on, one more takes off less than half a minute, as far as the table goes."),
    # 0.46 is shown as 5.1 less 4.6: what is said follows the figures that stand in the table.
    ((np.nan, 5.06, 4.6), 2, "A 3rd setting would take 0.5 minutes off the worst. Each one more in this table takes off half a minute or more."),
    ((6.0, 5.0, 5.0), 1, "A 2nd setting would take 1.0 minute off the worst, a 3rd nothing. "
                         "From 2 settings on, one more takes off less than half a minute, as far as the table goes."),
    ((6.0, 6.0, 3.0), 1, "A 2nd setting would take nothing off the worst, a 3rd 3.0 minutes."),  # no end of paying in sight
    ((*[9.0] * 7, 8.0), 7, "An 8th setting would take 1.0 minute off the worst. Each one more in this table takes off half a minute or more."),
])
def test_where_one_more_setting_stops_paying(worst, count, words):
    assert curve_words(curve(*worst), count) == words


def test_a_curve_that_ends_at_the_plan_says_nothing_of_more():
    assert curve_words(curve(9.0, 6.0), 2) == ""
    assert curve_words(curve(9.0).iloc[:0], 2) == ""


def test_todays_groups(data):
    existing = data["groups"]["existing"]
    assert (existing["column"], existing["groups"], existing["needed"], existing["saved"]) == ("contract", 2, 4, -7)
    assert existing["one_setting"] == 1
    assert [(row["name"], row["needed"], row["beyond"][0]["dark"], row["beyond"][0]["excess"])
            for row in existing["rows"]] == [("North", 3, "7.0", "14.0")]


def test_a_group_on_two_clocks_is_not_called_beyond(answers):
    groups = answers.groups
    table = pd.concat([groups.existing.assign(existing="K", served=True, settings_needed=1, clock=clock)
                       for clock in ("one", "two")]).iloc[[0, 2]]
    existing = page_data(replace(answers, groups=replace(groups, existing=table)))["groups"]["existing"]
    assert existing["rows"] == [] and existing["several_clocks"] == ["K (2)"] and existing["one_setting"] == 0


def test_unserved_sites_have_the_tolerance_that_would_do(answers, data):
    rows = data["groups"]["unserved"]["rows"]
    assert [(row["dark"], row["excess"]) for row in rows] == [("9.5", "17.0"), ("8.5", "16.0"), ("7.5", "15.0")]
    assert {row["unit"] for row in rows} == set(answers.sites.loc[answers.sites.group == "", "site_id"])


def test_same_plan_same_bytes_and_no_nan(answers, data):
    assert json.dumps(page_data(answers), allow_nan=False) == json.dumps(data, allow_nan=False)
    assert draw_map(answers) == draw_map(answers)


def test_a_plan_across_the_antimeridian_lies_side_by_side():
    sites = pd.DataFrame({"site_id": [f"S{k}" for k in range(8)], "name": "", "lat_deg": np.linspace(-17, -16.3, 8),
                          "lon_deg": [179.2, 179.4, 179.6, 179.8, -179.8, -179.6, -179.4, -179.2], "load_w": np.nan})
    answers = EXAMPLES["example_answers"](sites=sites, districts=False)
    plan = EXAMPLES["with_invented_groups"](replace(answers, areas=answers.areas.iloc[:0], drift_lines=answers.drift_lines.iloc[:0]), 2)
    settings = page_data(plan)["groups"]["settings"]
    assert len(settings) == 2
    for row in settings:
        lon = np.concatenate([ring(rings[0])[:, 0] for rings in row["rings"]])
        assert 178 < lon.min() and lon.max() < 182
