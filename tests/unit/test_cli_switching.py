"""Groups and programmes through the commands: what a run writes, and a clear message with its line for every mistake."""

import json
import shutil
import tomllib

import pandas as pd
import pytest
from python_calamine import CalamineWorkbook

from geozone.jobs.examples import examples_folder

PROGRAMMES = '''
[[programme]]
name = "part-night"
areas = ["west"]

[[programme.event]]
turn = "on"
at = "dusk"

[[programme.event]]
turn = "off"
at = "23:30"
days = ["mon", "tue", "wed", "thu", "sun"]

[[programme.event]]
turn = "off"
at = "dawn"

[[programme]]
name = "early"
areas = ["east"]

[[programme.event]]
turn = "on"
at = "dusk"

[[programme.event]]
turn = "off"
at = "22:00"

[[programme.event]]
turn = "on"
at = "06:00"

[[programme.event]]
turn = "off"
at = "dawn"

[tariff]
per_kwh = 0.5
currency = "AUD"

[timetable]
period = "month"
rounding_min = 10
'''


@pytest.fixture
def job(tmp_path):
    folder = tmp_path / "job"
    shutil.copytree(examples_folder() / "template", folder)
    path = folder / "job.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text[:text.index("# Switching programmes")] + PROGRAMMES, encoding="utf-8")
    return path


def change(job, old, new):
    text = job.read_text(encoding="utf-8")
    assert old in text
    job.write_text(text.replace(old, new, 1), encoding="utf-8")


def line_of(job, text):
    return next(i for i, line in enumerate(job.read_text(encoding="utf-8").splitlines(), 1) if text in line)


def test_a_run_with_both_writes_every_file_and_the_figures_agree(geozone, job):
    listed = pd.read_csv(job.parent / "sites.csv", dtype=str, keep_default_na=False)
    listed.assign(cabinet=[f"=K{k // 2}" if k else "" for k in range(len(listed))]).to_csv(job.parent / "sites.csv", index=False)
    change(job, "curve_to = 3", 'curve_to = 3\nkeep_together = "cabinet"')
    code, out, err = geozone("run", job)
    assert code == 0, err
    folder = job.parent / "out"
    names = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    assert names >= {"groups.csv", "curve.csv", "hours.csv", "comparison.csv", "clocks.csv", "faulty.csv", "corrections.toml", "cabinets.csv",
                     "timetable.csv", "pictures/hours.png", "pictures/year-early-a.png", "calendars/early-a.ics"}
    summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    read = {name: pd.read_csv(folder / f"{name}.csv", encoding="utf-8-sig", keep_default_na=False) for name in
            ("sites", "groups", "hours", "comparison", "timetable")}
    assert summary["groups"]["count"] == len(read["groups"]) and summary["groups"]["proved"]
    assert set(read["sites"]["group"]) == set(read["groups"]["group"])
    by = summary["hours"]["by_programme"]
    sites = read["sites"]
    for name in ("part-night", "early"):
        mine = sites[sites["programme"] == name]
        assert len(mine) == by[name]["sites"] > 0
        assert by[name]["lit_h"] == pytest.approx(mine["lit_h"].astype(float).mean(), abs=0.06)
        # E = P H / 1000, MIL-HDBK-1133 equation 1; and the flat price.
        energy = (mine["load_w"].astype(float) * mine["lit_h"].astype(float)).sum() / 1000
        assert by[name]["kwh"] == pytest.approx(energy, rel=1e-4)
        assert by[name]["cost"] == pytest.approx(0.5 * by[name]["kwh"], abs=6e-4)  # both to three decimals
    assert summary["hours"]["dark_h"] == pytest.approx(sites["dark_h"].astype(float).sum(), abs=0.5)
    assert summary["hours"]["excess_h"] == pytest.approx(sites["excess_h"].astype(float).sum(), abs=0.5)
    assert list(read["comparison"]["way"]) == ["own setting", "groups", "one shared setting", "dusk to dawn"]
    assert "Faulty" in out and "Hours" in out and "Timetable" in out and "Groups" in out
    # Each month of a site adds up to its year.
    hours = read["hours"][read["hours"]["level"] == "site"]
    months = hours[[f"lit_{m:02d}_h" for m in range(1, 13)]].astype(float).sum(axis=1)
    assert (months - hours["lit_h"].astype(float)).abs().max() < 0.07
    assert set(read["timetable"]["programme"]) == {"part-night", "early"}
    # Hours of foolish nights: one column adds up to what the summary and the screen say, under the plan's own line.
    foolish = pd.read_csv(folder / "faulty.csv", encoding="utf-8-sig")
    assert foolish["counted_site_h"].sum() == pytest.approx(summary["hours"]["foolish_h"], abs=0.05) and summary["hours"]["foolish_h"] > 100
    lines = out.splitlines()
    plan = next(i for i, text in enumerate(lines) if "with these groups:" in text)
    assert f"faulty nights are about {summary['hours']['foolish_h']:,.0f} h of it" in lines[plan + 1]
    cure = summary["cures"]["early"]
    assert f"The price: {cure['dark_after_h']:,.1f} h a year of light that was first meant are lost at its {cure['sites']} sites together" in out
    assert cure["sites"] == by["early"]["sites"] and "(all " in (folder / "corrections.toml").read_text(encoding="utf-8")
    # What to key, setting and programme together, is the same with each site and with its group.
    for row in read["sites"].itertuples():
        told = read["groups"].set_index("group").loc[row.group, "key_events"]
        assert f"{row.programme}: {row.key_events}" in told.split(" | ") and "dusk" in row.key_events
    assert {"except", "also", "remark"} < set(read["timetable"].columns)
    assert (read["timetable"].loc[read["timetable"]["programme"] == "early", "remark"].str.contains("faulty nights")).all()
    # The cabinets say the same as their sites; a name that looks like a formula is text in both files.
    cabinets = pd.read_csv(folder / "cabinets.csv", encoding="utf-8-sig", keep_default_na=False)
    assert cabinets["cabinet"].str.startswith("'=K").sum() == len(cabinets) - 1 and cabinets["sites"].sum() == len(sites)
    for row in cabinets.itertuples():
        mine = sites[sites["site_id"].isin(row.site_ids.split("; "))]
        assert len(mine) == row.sites and set(mine["cabinet"]) == {row.cabinet} and set(mine["group"]) == {row.group}
        assert set(mine["key_dusk_offset_min"]) == {row.key_dusk_offset_min} and set(row.programme.split("; ")) == set(mine["programme"])
        assert row.clock_to_key == read["groups"].set_index("group")["clock_to_key"][row.group] != ""
    book = CalamineWorkbook.from_path(folder / "sites.xlsx")
    assert {"cabinets", "hours", "hours by site"} <= set(book.sheet_names)
    head, *by_site = book.get_sheet_by_name("hours by site").to_python()
    assert {row[head.index("Site")]: row[head.index("Operating hours [h]")]
            for row in by_site} == dict(zip(sites["site_id"], sites["lit_h"], strict=True))
    assert [row[0] for row in book.get_sheet_by_name("cabinets").to_python()[1:3]] == ["", "=K0"]


def test_groups_are_a_layer_with_its_look_and_can_be_kept_within_areas(geozone, job, without_paper):
    import pyogrio

    change(job, "curve_to = 3", 'curve_to = 0\nwithin = "area"')
    code, out, err = geozone("run", job)
    assert code == 0, err
    folder = job.parent / "out"
    hulls = pyogrio.read_dataframe(folder / "geozone.gpkg", layer="groups")
    sites = pyogrio.read_dataframe(folder / "geozone.gpkg", layer="sites")
    styles = pyogrio.read_dataframe(folder / "geozone.gpkg", layer="layer_styles")
    assert "groups" in set(styles["f_table_name"]) and hulls.crs.to_epsg() == 4326
    assert sorted(hulls["within"]) == ["east", "west"]
    assert hulls["within"].tolist() == [sites["area"][sites["group"] == name].unique().item() for name in hulls["group"]]
    for row in hulls.itertuples():
        assert set(sites["group"][sites.within(row.geometry)]) == {row.group}
    assert not (folder / "curve.csv").exists()


def test_the_cure_that_is_proposed_cures(geozone, job, without_paper):
    """Its lines are put into the job file in the place of the programme, and the next run finds nothing foolish."""
    assert geozone("run", job)[0] == 0
    cure = tomllib.loads((job.parent / "out" / "corrections.toml").read_text(encoding="utf-8"))["programme"][0]
    assert cure["name"] == "early"
    text = job.read_text(encoding="utf-8")
    start, stop = text.index('[[programme]]\nname = "early"'), text.index("[tariff]")
    job.write_text(text[:start] + (job.parent / "out" / "corrections.toml").read_text(encoding="utf-8") + "\n" + text[stop:],
                   encoding="utf-8")
    before = json.loads((job.parent / "out" / "summary.json").read_text(encoding="utf-8"))
    code, out, err = geozone("run", job)
    assert code == 0, err
    after = json.loads((job.parent / "out" / "summary.json").read_text(encoding="utf-8"))
    assert before["foolish"] and not after["foolish"] and "Faulty" not in out
    assert after["hours"]["excess_h"] < before["hours"]["excess_h"] - 100
    assert not (job.parent / "out" / "corrections.toml").exists()


@pytest.mark.parametrize("old, new, line, said", [
    ('at = "23:30"', 'at = "25:30"', 'at = "25:30"', "impossible time"),
    ('at = "23:30"', 'at = "half past"', "half past", "impossible time"),
    ('"thu", "sun"]', '"thu", "sunday"]', "sunday", "unknown day"),
    ('turn = "off"\nat = "22:00"', 'turn = "of"\nat = "22:00"', 'turn = "of"\n', "did you mean off?"),
    ('at = "06:00"', 'at = "06:00"\nshift = 5', "shift = 5", "unknown key programme.event.shift"),
    ('turn = "on"\nat = "dusk"', 'turn = "on"\nat = "dusk"\nshift_min = 120', "[[programme.event]]", "beyond what the keypad holds"),
    ('turn = "on"\nat = "dusk"', 'turn = "on"\nat = "dusk"\nseason = { from = "13-01", to = "03-31" }', "13-01", "no such day"),
    ('name = "early"', 'name = "part-night"', None, "same name"),
    ('areas = ["east"]', 'areas = ["esat"]', None, "esat"),
    ('areas = ["east"]', 'areas = ["west"]', None, "two programmes"),
    ("per_kwh = 0.5", "per_kwh = -0.5", "per_kwh = -0.5", "price"),
    ('period = "month"', 'period = "quarter"', "quarter", "period"),
    ("rounding_min = 10", "rounding_min = 7", "rounding_min = 7", "1, 5 or 10"),
    ("offset_limit_min = 99", "offset_limit_min = 99\nevent_limit = 3", '[[programme.event]]', "more events"),
    ("offset_limit_min = 99", 'offset_limit_min = 99\nutc_offsets = ["9.5"]', "utc_offsets", "offset from UTC"),
    ("offset_limit_min = 99", 'offset_limit_min = 99\ndaylight_saving = ["europe"]', "daylight_saving", "summer-time rule"),
    ("altitude_deg = -4.0", "altitude_deg = -4,0", "altitude_deg = -4,0", "decimal point: -4.0"),
    ('period = "month"', "period = month", "period = month", 'double quotes: "month"'),
    ("[tariff]", "[holidays]\ndates = 2027-01-01\n\n[tariff]", "dates = 2027-01-01", "square brackets"),
    ('"thu", "sun"]', '["thu"], "sun"]', '["thu"]', "unknown day"),
    ('currency = "AUD"', 'currency = "AUD"\nband = [1]', "band = [1]", "[[tariff.band]]"),
    ('currency = "AUD"', 'currency = "AUD"\n[tariff.band]\nname = "x"', None, "double brackets"),
    ("offset_limit_min = 99", 'offset_limit_min = 99\ndaylight_saving = [["none"]]', "daylight_saving", "summer-time rule"),
    ("offset_limit_min = 99", "offset_limit_min = 99\nsaving_rule = [1]", "saving_rule", "[[keypad.saving_rule]]"),
    ("curve_to = 3", "curve_to = -1", "curve_to", "groups.curve_to"),
    ("offsets = true", 'offsets = "yes"', 'offsets = "yes"', "groups.offsets"),
    ("curve_to = 3", 'curve_to = 3\nexisting = "contractor"', None, "contractor"),
    ("curve_to = 3", 'curve_to = 3\nkeep_togther = "name"', "keep_togther", "keep_together"),
])
def test_a_mistake_is_named_with_its_line(geozone, job, old, new, line, said):
    change(job, old, new)
    code, out, err = geozone("run", job)
    assert code == 2 and out == ""
    assert said in err, err
    assert str(job) in err or "site list, row" in err, err
    if line is not None:
        text = job.read_text(encoding="utf-8")
        numbers = [text[:at].count("\n") + 1 for at in range(len(text)) if text.startswith(line.strip("\n"), at)]
        assert any(f"line {number}" in err for number in numbers), err
    assert not (job.parent / "out").exists()


def test_a_column_of_programmes_with_a_blank_or_an_unknown_name(geozone, job, without_paper):
    text = job.read_text(encoding="utf-8").replace('areas = ["west"]\n', "").replace('areas = ["east"]\n', "")
    job.write_text(text + '\n[programmes]\ncolumn = "programme"\n', encoding="utf-8")
    sites = pd.read_csv(job.parent / "sites.csv")
    for value, said in (("", "name no programme"), ("parttime", "unknown programme")):
        wrong = sites.assign(programme=["part-night", "early"] * 6)
        wrong.loc[4, "programme"] = value
        wrong.to_csv(job.parent / "sites.csv", index=False)
        code, _, err = geozone("run", job)
        assert code == 2 and said in err and "row 6" in err and "part-night, early" in err, err
    sites.assign(programme="early").to_csv(job.parent / "sites.csv", index=False)
    code, _, err = geozone("run", job)
    assert code == 2 and "nobody uses programme 'part-night'" in err
    good = sites.assign(programme=["part-night", " early "] * 6)
    good.to_csv(job.parent / "sites.csv", index=False)
    assert geozone("run", job)[0] == 0
    table = pd.read_csv(job.parent / "out" / "sites.csv", encoding="utf-8-sig")
    assert table["programme"].str.strip().tolist() == ["part-night", "early"] * 6
    assert [name for name in table.columns if name.startswith("programme")] == ["programme", "programme_dark_min",
                                                                                "programme_excess_min"]


def test_a_unit_on_two_clocks_cannot_stay_together(geozone, job):
    sites = pd.read_csv(job.parent / "sites.csv").assign(cabinet="C1", legal_zone="")
    sites.loc[0, "legal_zone"] = "Australia/Adelaide"
    sites.to_csv(job.parent / "sites.csv", index=False)
    change(job, "curve_to = 3", 'curve_to = 3\nkeep_together = "cabinet"')
    code, _, err = geozone("run", job)
    assert code == 2 and "keep different clocks" in err and "C1" in err and "sites.csv, column 'cabinet'" in err
    assert "Australia/Adelaide" in err and "Australia/Sydney" in err and "S01" in err


def test_energy_by_lit_area_only_where_areas_are_given(geozone, job, without_paper):
    sites = pd.read_csv(job.parent / "sites.csv").assign(road_m2=[500.0] * 6 + [None] * 6)
    sites.to_csv(job.parent / "sites.csv", index=False)
    job.write_text(job.read_text(encoding="utf-8") + '\n[programmes]\nlit_area_m2 = "road_m2"\n', encoding="utf-8")
    assert geozone("run", job)[0] == 0
    summary = json.loads((job.parent / "out" / "summary.json").read_text(encoding="utf-8"))
    table = pd.read_csv(job.parent / "out" / "sites.csv", encoding="utf-8-sig")
    assert summary["hours"]["kwh_per_m2"] == pytest.approx(table["kwh"][:6].sum() / 3000, rel=1e-3)
    change(job, '"road_m2"', '"name"')
    code, _, err = geozone("run", job)
    assert code == 2 and "lit area" in err


def test_lit_areas_with_decimal_commas(geozone, job, without_paper):
    """A spreadsheet's list: semicolons and decimal commas. No cell may be dropped in silence."""
    sites = pd.read_csv(job.parent / "sites.csv").assign(road_m2=[500.5] * 12)
    sites.to_csv(job.parent / "sites.csv", index=False, sep=";", decimal=",")
    job.write_text(job.read_text(encoding="utf-8") + '\n[programmes]\nlit_area_m2 = "road_m2"\n', encoding="utf-8")
    assert geozone("run", job)[0] == 0
    summary = json.loads((job.parent / "out" / "summary.json").read_text(encoding="utf-8"))
    assert summary["hours"]["kwh_per_m2"] == pytest.approx(summary["hours"]["kwh"] / (12 * 500.5), rel=1e-6)


def test_same_job_elsewhere_same_bytes(geozone, job, tmp_path):
    assert geozone("run", job)[0] == 0
    other = tmp_path / "elsewhere" / "deep"
    shutil.copytree(job.parent, other, ignore=shutil.ignore_patterns("out"))
    assert geozone("run", other / "job.toml")[0] == 0
    for path in sorted((job.parent / "out").rglob("*")):
        if path.is_file():
            same = (other / "out" / path.relative_to(job.parent / "out")).read_bytes() == path.read_bytes()
            assert same, path.name


def test_a_list_that_was_one_of_our_own_tables(geozone, job, without_paper):
    """Headings that a run adds are kept beside the new ones and not mixed up with them."""
    assert geozone("run", job)[0] == 0
    shutil.copyfile(job.parent / "out" / "sites.csv", job.parent / "sites.csv")
    change(job, '# site_id = "site_id"', 'site_id = "site_id"')
    code, _, err = geozone("run", job)
    assert code == 0, err
    table = pd.read_csv(job.parent / "out" / "sites.csv", encoding="utf-8-sig")
    assert (table["result"] == table["result_given"]).all() and (table["group"] == table["group_given"]).all()


def test_a_keypad_that_knows_another_countrys_rule_costs_minutes(geozone, job, without_paper):
    change(job, "offset_limit_min = 99", 'offset_limit_min = 99\nutc_offsets = ["+10:00"]\ndaylight_saving = ["none"]')
    code, out, err = geozone("run", job)
    assert code == 0, err
    clocks = pd.read_csv(job.parent / "out" / "clocks.csv", encoding="utf-8-sig")
    # Half a year on daylight saving time: 4 October to 3 April is about 26 weeks.
    assert clocks["exact"].tolist() == ["no"] and clocks["wrong_weeks"].iloc[0] == pytest.approx(26, abs=0.5)
    # "off at 23:30" comes an hour late then, on five nights of seven, at the sites in the west.
    assert clocks["excess_h"].iloc[0] > 100 and "No clock of this keypad" in out
