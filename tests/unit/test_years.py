"""Groups and zones that are to hold for several years: the same sun as year by year, and no year in which a site leaves the tolerance unsaid."""

import shutil
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
import shapely

from geozone.errors import InputError
from geozone.grouping.groups import fewest_groups, groups_of, lasting_groups
from geozone.grouping.siteparts import GroupSites
from geozone.jobs.examples import examples_folder
from geozone.jobs.job import read_job
from geozone.jobs.steps import place, read
from geozone.jobs.zoneplan import planned_zones
from geozone.numbers import clock
from geozone.numbers.shallow import judged_nights
from geozone.numbers.sun import nights_of, switch_times
from geozone.sharing.drift import drift_at, keyed_times, night_label
from geozone.trade.basis import Basis, DarkThreshold
from geozone.trade.setting import Setting, Tolerance
from geozone.zoning import zoneyears
from geozone.zoning.zones import zones_of
from geozone.zoning.zonetables import zones_summary
from geozone.zoning.zoneyears import said_of_years, zones_in_years


def basis_of(dark, excess, years, shallow_deg=0.0):
    return Basis(2027, DarkThreshold(-4.0), Tolerance(dark, excess, shallow_deg=shallow_deg), years=years)


def test_nights_of_several_years_are_those_of_each():
    lat, lon = np.array([-35.0, 0.0, 52.0, 63.0, 70.0]), np.array([141.0, -60.0, 13.0, 10.0, 25.0])
    whole = switch_times(lat_deg=lat, lon_deg=lon, year=2027, altitude_deg=-4.0, years=3)
    begin = 0
    for year in (2027, 2028, 2029):
        one = switch_times(lat_deg=lat, lon_deg=lon, year=year, altitude_deg=-4.0)
        nights = slice(begin, begin + one.night.size)
        assert (whole.night[nights] == one.night).all() and (whole.state[:, nights] == one.state).all()
        for part, own in ((whole.dusk_utc_min, one.dusk_utc_min), (whole.dawn_utc_min, one.dawn_utc_min)):
            # The quartics' noise of 0.1 ms, and grazing nights where it counts for more.
            np.testing.assert_allclose(part[:, nights] - 1440.0 * begin, own, atol=2e-3, equal_nan=True)
            assert np.nanmedian(np.abs(part[:, nights] - 1440.0 * begin - own)) < 1e-5
        judged = judged_nights(lat, lon, 2027, -4.0, 1.0, 3)[:, nights]
        assert (judged == judged_nights(lat, lon, year, -4.0, 1.0)).all()
        begin += one.night.size
    assert begin == whole.night.size == 365 + 366 + 365 and (nights_of(2027, 3) == whole.night).all()
    assert night_label([0, 400, 1095, -1], 2027, 3).tolist() == ["2027-01-01", "2028-02-05", "2029-12-31", ""]


def test_drift_over_years_is_the_worst_of_each():
    rng = np.random.default_rng(5)
    lat, lon = 61 + rng.uniform(-2, 3, 30), 10 + rng.uniform(-2, 2, 30)
    setting, basis = Setting(61.5, 10.0, "Europe/Oslo", 2, -1), basis_of(8, 8, 4)
    whole = drift_at(lat, lon, setting, basis)
    each = [drift_at(lat, lon, setting, replace(basis, year=year, years=1)) for year in range(2027, 2031)]
    for name in ("worst_dark_min", "worst_excess_min"):
        np.testing.assert_allclose(getattr(whole, name), np.max([getattr(one, name) for one in each], axis=0), atol=0.02)
    assert (whole.nights_beyond == sum(one.nights_beyond for one in each)).mean() > 0.9
    # Clocks are known year by year.
    with pytest.raises(ValueError, match="year by year"):
        keyed_times(setting, year=2027, altitude_deg=-4.0, site_clock=clock.offsets("Europe/Helsinki", 2027), years=2)


@pytest.mark.parametrize(("middle_deg", "tolerance", "shallow_deg", "together"), [
    (45.0, (5, 5), 0.0, False), (-35.0, (3, 6), 0.0, False), (64.5, (10, 10), 1.0, False), (63.0, (10, 10), 0.0, True)])
def test_a_plan_that_is_to_hold_holds_in_each_year(middle_deg, tolerance, shallow_deg, together):
    """Judged year by year by the drift of that year alone; next to white nights one year's settings do not last."""
    rng = np.random.default_rng(0)
    n, years = 24, 4
    lat, lon = middle_deg + rng.uniform(-1, 1, n), 10 + rng.uniform(-3, 3, n)
    sites = GroupSites(lat, lon, 2027, legal_zone=np.full(n, "Europe/Oslo", dtype=object))
    basis = basis_of(*tolerance, years, shallow_deg)
    plan = lasting_groups(sites, basis, time_limit_s=5)
    assert plan.years_searched == (years if together else 1) and [one.year for one in plan.later] == [2028, 2029, 2030]
    assert plan.notes[-1].startswith("The settings hold from 2027 to 2030: no site in a group is a second beyond tolerance.")
    assert ("Settings found for one year alone would not" in plan.notes[-1]) == together
    for year in range(2027, 2027 + years):
        for one in plan.settings:
            mine = np.flatnonzero(np.asarray(plan.group_of_site) == one.name)
            found = drift_at(lat[mine], lon[mine], one.setting, replace(basis, year=year, years=1))
            assert mine.size and found.worst_dark_min.max() <= tolerance[0] + 0.015 and found.worst_excess_min.max() <= tolerance[1] + 0.015
            if together:
                assert found.worst_dark_min.max() <= one.worst_dark_min + 0.02 and found.worst_excess_min.max() <= one.worst_excess_min + 0.02
    alone = fewest_groups(sites, replace(basis, years=1), time_limit_s=5)
    if together:
        # The same one year's plan, as it is without being asked to last: it does not.
        assert any("The plan is for 2027. With the same settings some sites leave the tolerance later" in note for note in alone.notes)
        assert plan.worst_dark_min <= tolerance[0] + 1e-6
    else:
        assert plan.count == alone.count and (plan.group_of_site == alone.group_of_site).all()


def test_where_clocks_part_later_it_is_said(monkeypatch):
    """Two places that keep one clock in the plan's year and two in a later one: nothing that is keyed mends it."""
    real, parted = clock.offsets, clock.offsets("Etc/GMT-3", 2029)
    monkeypatch.setattr(clock, "offsets", lambda zone, year: parted if (zone, year) == ("Europe/Vienna", 2029) else real(zone, year))
    table = gpd.GeoDataFrame({"site_id": ["a", "b"], "lat_deg": [48.2, 48.3], "lon_deg": [13.0, 13.1], "legal_zone": ["Europe/Berlin", "Europe/Vienna"]},
                             geometry=gpd.points_from_xy([13.0, 13.1], [48.2, 48.3]), crs=4326)
    plan = groups_of(table, basis_of(5, 5, 3), time_limit_s=5)
    assert plan.count == 1 and [(one.year, one.groups_beyond, one.sites_beyond) for one in plan.later] == [(2028, 0, 0), (2029, 1, 1)]
    assert "was to hold from 2027 to 2029 and does not wholly (a change of clock that is known today" in plan.notes[-1]
    units = gpd.GeoDataFrame({"area": ["A", "B"], "legal_zone": ["Europe/Berlin", "Europe/Vienna"], "share": 1.0},
                             geometry=[shapely.box(13, 48, 13.2, 48.2), shapely.box(13.2, 48, 13.4, 48.2)], crs=4326)
    zones = zones_of(units, basis_of(5, 5, 1), time_limit_s=5)
    years = zones_in_years(zones, units, basis_of(5, 5, 3))
    assert zones.count == 1 and [one.zones_parted for one in years] == [(), ("Z1",)] and all(not one.zones_beyond for one in years)
    assert said_of_years(years, 2027, False).endswith("2029: ground of Z1 no longer keeps one clock.")


def test_zones_over_ten_years_move_by_less_than_two_thousandths_of_a_minute():
    """0.0015 min: measured over 413,000 km2 by a prototype that shares this project's sun; here on one outline, asked of each year's drift."""
    ground = gpd.GeoDataFrame({"area": ["A"], "legal_zone": ["Etc/UTC"], "share": 1.0}, geometry=[shapely.box(10, 40, 11.5, 41)], crs=4326)
    plan = zones_of(ground, basis_of(5, 5, 1), time_limit_s=5)
    years = zones_in_years(plan, ground, basis_of(5, 5, 10))
    assert len(years) == 9 and 0 < max(one.moved_min for one in years) < 0.002 and not any(one.zones_beyond for one in years)
    assert said_of_years(years, 2027, False).startswith("The zones hold from 2027 to 2036. They were found for 2027 and tried night by night in each of the others")


def test_zones_that_a_later_year_leaves_are_found_again_for_all_years(tmp_path, monkeypatch):
    folder = shutil.copytree(examples_folder() / "border", tmp_path / "border")
    text = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(text[:text.index("[groups]")].replace("year = 2027", "year = 2027\nyears = 3") + "[zones]\ntime_limit_s = 5\n", encoding="utf-8")
    job = read_job(folder / "job.toml")
    assert job.lasting_basis.years == 3 and job.basis.years == 1
    found = read(job)
    placed = place(found.sites, found.areas, job.basis.year)
    zoning, _, notes = planned_zones(job, placed.sites, placed.pieces, None)
    assert any(note.startswith("The zones hold from 2027 to 2029. They were found for 2027") for note in notes)
    assert zones_summary(zoning)["years_searched"] == 1
    # As if a later year left the tolerance: all nights are searched, and the answer tells that they were.
    real, asked = zoneyears.zones_in_years, []

    def first_beyond(plan, ground, basis):
        asked.append(plan)
        found = real(plan, ground, basis)
        return (replace(found[0], zones_beyond=("Z1",), over_min=0.3), *found[1:]) if len(asked) == 1 else found

    monkeypatch.setattr("geozone.jobs.zoneplan.zones_in_years", first_beyond)
    zoning, _, notes = planned_zones(job, placed.sites, placed.pieces, None)
    assert len(asked) == 2 and zoning.plan.years_searched == 3 and "Settings found for one year alone would not" in notes[0]
    assert {str(row.worst_dark_night)[:4] for row in zoning.zones.itertuples()} <= {"2027", "2028", "2029"} and zoning.certified


@pytest.mark.parametrize(("years", "said"), [(0, "years"), (21, "years"), ("2.5", "years"), (2, "reaches beyond what can be computed")])
def test_years_that_cannot_be(tmp_path, years, said):
    folder = shutil.copytree(examples_folder() / "town", tmp_path / "town")
    text = (folder / "job.toml").read_text(encoding="utf-8")
    year = 2098 if years == 2 else 2027
    (folder / "job.toml").write_text(text.replace("year = 2027", f"year = {year}\nyears = {years}"), encoding="utf-8")
    with pytest.raises(InputError, match=said):
        read_job(folder / "job.toml")
    with pytest.raises(InputError, match="cannot be computed"):
        basis_of(5, 5, 0)
