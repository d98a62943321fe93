"""The searched setting in a run: which sites it is searched for, and what the screen, the map and the summary say of it."""

import pytest

from geozone.jobs.job import read_job
from geozone.jobs.plan import compute
from geozone.screens.console import report
from geozone.screens.webmap import draw_map

TWO_CLOCKS = """A1,-34.6,139.9,Australia/Adelaide
A2,-34.7,140.1,Australia/Adelaide
A3,-34.8,140.3,Australia/Adelaide
M1,-34.7,142.1,Australia/Melbourne
M2,-34.8,142.3,Australia/Melbourne
"""
# Either side of the date line, 200 km apart, clocks a day apart.
TWO_DATES = """U1,-13.83,-171.77,Pacific/Apia
U2,-13.60,-172.40,Pacific/Apia
T1,-14.28,-170.70,Pacific/Pago_Pago
"""


def computed(folder, rows, clock="own", tolerance="dark_min = 8\nexcess_min = 8"):
    (folder / "sites.csv").write_text("site_id,lat,lon,legal_zone\n" + rows, encoding="utf-8")
    (folder / "job.toml").write_text(f"""[job]
title = "t"
year = 2027
sites = "sites.csv"
[dark]
altitude_deg = -4.0
[tolerance]
{tolerance}
[shared]
clock = "{clock}"
""", encoding="utf-8")
    return compute(read_job(folder / "job.toml"))


def test_with_own_clocks_it_is_searched_for_the_commonest_clock(tmp_path):
    answers = computed(tmp_path, TWO_CLOCKS)
    assert answers.search.sites == answers.search.served == answers.search.served_at_most == 3
    assert abs(answers.setting.lon_deg - 140.1) < 1.0 and answers.setting.legal_zone == "Australia/Adelaide"
    assert answers.sites["result"].tolist() == ["within"] * 3 + ["other clock"] * 2
    shared = answers.summary["shared"]
    assert shared["found"] and shared["searched_for_sites"] == 3 and shared["sites_served_at_most"] == 3
    assert shared["factor_at_least"] <= shared["factor"] <= 1
    assert "            No setting near the sites uses a smaller share of the tolerance at its worst site." in report(answers, tmp_path).splitlines()


def test_with_a_master_clock_it_is_searched_for_all_sites(tmp_path):
    answers = computed(tmp_path, TWO_CLOCKS, clock="master")
    assert answers.search.sites == answers.search.served == 5
    assert abs(answers.setting.lon_deg - 141.1) < 1.0
    assert set(answers.sites["result"]) == {"within"}


def test_a_master_clock_across_the_date_line_switches_every_site_in_the_same_evening(tmp_path):
    answers = computed(tmp_path, TWO_DATES, clock="master")
    # 1.7 degrees of longitude are 7 minutes; a night that is missed would be hundreds.
    assert answers.search.served == 3 and answers.sites["worst_dark_min"].max() < 5
    worst = answers.sites[["worst_dark_min", "worst_excess_min"]].to_numpy().max()
    assert worst == pytest.approx(answers.search.factor * 8, abs=1e-6)


def test_where_none_serves_all_the_screen_the_map_and_the_summary_say_so(tmp_path):
    answers = computed(tmp_path, TWO_CLOCKS, clock="master", tolerance="dark_min = 1\nexcess_min = 1")
    found = answers.search
    assert 0 < found.served == found.served_at_most < 5
    assert found.served == (answers.sites["result"] == "within").sum()
    words = (f"No setting keeps all 5 sites within tolerance from dusk to dawn; this one serves {found.served} of 5, "
             "and no setting near the sites serves more.")
    assert f"            {words}" in report(answers, tmp_path).splitlines()
    assert answers.summary["shared"]["words"] == words and words in draw_map(answers)
