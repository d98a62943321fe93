"""The commands as a user meets them: results on stdout, remarks on stderr, exit code 2 and no traceback for a mistake."""

import json
import shutil
import subprocess
import sys

import pandas as pd
import pytest

from geozone.jobs.examples import examples_folder


@pytest.fixture
def job(tmp_path):
    folder = tmp_path / "job"
    shutil.copytree(examples_folder() / "template", folder)
    return folder / "job.toml"


@pytest.fixture(scope="module")
def finished(tmp_path_factory):
    """The job with its finished run, made once."""
    folder = tmp_path_factory.mktemp("finished") / "job"
    shutil.copytree(examples_folder() / "template", folder)
    subprocess.run([sys.executable, "-m", "geozone.cli", "run", str(folder / "job.toml"), "--quiet"], check=True, capture_output=True)
    return folder


@pytest.fixture
def done(finished, tmp_path):
    return shutil.copytree(finished, tmp_path / "done") / "job.toml"


def change(job, old, new):
    text = job.read_text(encoding="utf-8")
    assert old in text
    job.write_text(text.replace(old, new), encoding="utf-8")


def test_run_writes_the_folder_and_the_summary(geozone, job):
    code, out, err = geozone("run", job)
    assert code == 0 and "Sites" in out and "geozone:" in err
    summary = json.loads((job.parent / "out" / "summary.json").read_text(encoding="utf-8"))
    sites = pd.read_csv(job.parent / "out" / "sites.csv", encoding="utf-8-sig")
    rejects = pd.read_csv(job.parent / "out" / "rejects.csv", encoding="utf-8-sig")
    assert summary["sites"]["used"] == len(sites)
    assert summary["sites"]["rejected"] == len(rejects)
    assert summary["sites"]["read"] == len(sites) + len(rejects)
    assert summary["drift"]["sites_beyond"] == (sites["result"] == "beyond").sum()
    # Tables are rounded for reading; the summary is not.
    assert summary["drift"]["worst_dark_min"] == pytest.approx(sites["worst_dark_min"].max(), abs=0.06)
    assert summary["drift"]["worst_excess_min"] == pytest.approx(sites["worst_excess_min"].max(), abs=0.06)
    assert sum(rule["sites"] for rule in summary["clock_rules"]) == len(sites)
    spread = pd.read_csv(job.parent / "out" / "spread.csv", encoding="utf-8-sig")
    assert len(spread) == 365
    assert summary["spread"]["dusk_worst_min"] == pytest.approx(spread["dusk_spread_min"].max(), abs=0.06)
    assert summary["second_opinion"]["largest_s"] < 30
    for name in ("geozone", "tz database", "zone boundaries"):
        assert summary["versions"][name]


def test_a_projected_list_goes_through_without_a_question(geozone, tmp_path, without_paper):
    """Eastings and northings of MGA zone 54, semicolons, decimal commas, CP1252; no outlines, no setting."""
    from pyproj import Transformer

    lon, lat = [139.5, 140.1, 140.8, 141.4], [-35.2, -34.6, -36.0, -35.1]
    x, y = Transformer.from_crs(4326, 7854, always_xy=True).transform(lon, lat)
    rows = ["Nr;Straße;Ostwert;Nordwert"]
    rows += [f"{i};Gasse {i};{a:.2f};{b:.2f}".replace(".", ",") for i, (a, b) in enumerate(zip(x, y))]
    (tmp_path / "liste.csv").write_bytes("\n".join(rows).encode("cp1252"))
    (tmp_path / "job.toml").write_text('[job]\ntitle = "Projected"\nyear = 2027\nsites = "liste.csv"\ncrs = "EPSG:7854"\n'
                                       '[dark]\nilluminance_lx = 20\n', encoding="utf-8")
    code, out, err = geozone("run", tmp_path / "job.toml")
    assert code == 0, err
    assert "4 used of 4 read" in out and "20 lx" in out and "hull" in out and "found by geozone" in out
    sites = pd.read_csv(tmp_path / "out" / "sites.csv", encoding="utf-8-sig")
    assert sites["lat_deg"].tolist() == pytest.approx(lat, abs=1e-6)
    assert sites["lon_deg"].tolist() == pytest.approx(lon, abs=1e-6)
    assert set(sites["tz_database"]) == {json.loads((tmp_path / "out" / "summary.json").read_text())["versions"]["tz database"]}


def test_what_stands_in_the_files_is_no_order_for_the_terminal(geozone, job, without_paper):
    change(job, "Example: three hamlets", "\\u001b[2J\\u009b1m\\u202eExample")
    listed = job.parent / "sites.csv"
    listed.write_text(listed.read_text(encoding="utf-8").replace("S01,", "S\x1b[01,").replace("load_w", "load_w\x9b"), encoding="utf-8")
    code, out, err = geozone("run", job)
    # a cell with such a character makes the list no text: both answers are right, an obeyed one is not
    assert code in (0, 2) and not {"\x1b", "\x9b", "\u202e"} & set(out + err)
    listed.write_text(listed.read_text(encoding="utf-8").replace("\x1b", ""), encoding="utf-8")
    code, out, err = geozone("run", job)
    assert code == 0 and not {"\x1b", "\x9b", "\u202e"} & set(out + err) and "\u241b[2J<U+009B>1m<U+202E>Example" in out
    change(job, "excess_min =", '"\\u001b[2J" =')
    code, out, err = geozone("run", job)
    assert code == 2 and "\x1b" not in err and "\u241b[2J" in err


def test_quiet_prints_the_folder_only(geozone, job):
    code, out, err = geozone("run", job, "--quiet")
    assert (code, out.strip(), err) == (0, str(job.parent / "out"), "")


def test_a_setting_is_found_when_none_is_given(geozone, job, without_paper):
    text = job.read_text(encoding="utf-8")
    job.write_text(text[:text.rindex("\n[shared]") + 1], encoding="utf-8")
    code, out, _ = geozone("run", job)
    assert code == 0 and "found by geozone" in out


@pytest.mark.parametrize("old, new, expected", [
    ('sites = "sites.csv"', 'sites = "site.csv"', "sites.csv"),
    ('areas = "areas.geojson"', 'areas = "nothing.geojson"', "nothing.geojson"),
    ("dark_min = 5", "dark_min = -5", "tolerance.dark_min"),
    ("year = 2027", "year = 12027", "job.year"),
    ("year = 2027", "yaer = 2027", "did you mean year?"),
    ('legal_zone = "Australia/Sydney"', 'legal_zone = "Australia/Sidney"', "did you mean Australia/Sydney"),
    ("dusk_offset_min = 0", "dusk_offset_min = 100", "at most 99 minutes"),
])
def test_mistakes_in_the_job(geozone, done, old, new, expected):
    before = {p.name: p.read_bytes() for p in (done.parent / "out").iterdir()}
    assert "map.html" in before
    change(done, old, new)
    code, out, err = geozone("run", done)
    assert code == 2 and out == "" and expected in err
    assert {p.name: p.read_bytes() for p in (done.parent / "out").iterdir()} == before


@pytest.mark.parametrize("content, expected", [
    (b"", "sites.csv"),
    (b"site_id,lat,lon\n", "sites.csv"),
    (b"site_id,lat,lon\n1,abc,def\n2,,\n", "no column holds positions"),
    (b"site_id,lat,lon\n1,0,0\n2,0,0\n", "none of the 2 rows can be used"),
    (b"site_id,lat,lon\n1,6120000,300000\n2,6120100,300100\n", "EPSG:"),
    (b"\x00\x01\x02\x03\xff\xfe\x00", "sites.csv"),
])
def test_mistakes_in_the_site_list(geozone, job, content, expected):
    (job.parent / "sites.csv").write_bytes(content)
    code, out, err = geozone("run", job)
    assert code == 2 and out == "" and expected.lower() in err.lower(), err
    assert not (job.parent / "out").exists()


def test_a_whole_list_with_exchanged_headings_is_refused(geozone, job):
    path = job.parent / "sites.csv"
    text = path.read_text(encoding="utf-8-sig")
    head, rest = text.split("\n", 1)
    assert "lat" in head.split(",") and "lon" in head.split(",")
    swapped = [{"lat": "lon", "lon": "lat"}.get(name, name) for name in head.split(",")]
    # Only headings change; the values stay, so latitudes read 144 and the list is refused, row by row or whole.
    path.write_text(",".join(swapped) + "\n" + rest, encoding="utf-8")
    code, out, err = geozone("run", job)
    assert code == 2 and out == "" and "exchanged" in err
    # Where both numbers are valid latitudes, only the outlines or the setting can tell.
    path.write_text("site_id,lat,lon\n1,11.4,47.3\n2,11.5,47.4\n", encoding="utf-8")
    (job.parent / "job.toml").write_text(
        '[job]\ntitle = "x"\nyear = 2027\nsites = "sites.csv"\n[dark]\naltitude_deg = -4\n'
        '[shared]\nlat_deg = 47.3\nlon_deg = 11.4\nlegal_zone = "Europe/Vienna"\n', encoding="utf-8")
    code, out, err = geozone("run", job)
    assert code == 2 and "look exchanged in the whole list" in err


def test_a_site_list_is_no_job(geozone, job):
    code, _, err = geozone("run", job.parent / "sites.csv")
    assert code == 2 and "this is a list, not a job file" in err


def test_a_given_position_that_the_keypad_rounds_is_said(geozone, job, without_paper):
    change(job, "lat_deg = -34.6 ", "lat_deg = -34.63 ")
    code, out, _ = geozone("run", job)
    assert code == 0 and "was rounded to -34.6" in out


def test_output_folder_in_use(geozone, job, tmp_path):
    used = tmp_path / "used"
    used.mkdir()
    (used / "letter.txt").write_text("mine", encoding="utf-8")
    code, _, err = geozone("run", job, "-o", used)
    assert code == 2 and "in use" in err and "letter.txt" in err
    assert [p.name for p in used.iterdir()] == ["letter.txt"]


def test_missing_job(geozone, tmp_path):
    code, _, err = geozone("run", tmp_path / "nothing.toml")
    assert code == 2 and "there is no such job file" in err


def test_new_refuses_a_folder_in_use(geozone, tmp_path):
    (tmp_path / "mine.txt").write_text("x", encoding="utf-8")
    code, _, err = geozone("new", tmp_path)
    assert code == 2 and "mine.txt" in err


def test_times(geozone):
    # US Naval Observatory, 39.0 N 105.0 W, 2 August 2015: sunset 19:10 MST, sunrise on the 3rd not tabulated.
    code, out, _ = geozone("times", "--lat=39.0", "--lon=-105.0", "--date=2015-08-02")
    assert code == 0 and "America/Denver" in out and "Dusk        20:10" in out  # summer time


@pytest.mark.parametrize("arguments, expected", [
    (["--lat=95", "--lon=1"], "--lat is out of range"),
    (["--lat=nan", "--lon=1"], "--lat is out of range"),
    (["--lat=5", "--lon=1", "--date=2027-02-30"], "not a date"),
    (["--lat=5", "--lon=1", "--year=1066"], "year"),
    (["--lat=51", "--lon=1", "--twilight=dusk"], "no such twilight"),
    (["--lat=51", "--lon=1", "--twilight=civil", "--illuminance-lx=5"], "more than one dark threshold"),
    (["--lat=51", "--lon=1", "--legal-zone=Europe/Lundon"], "did you mean"),
    (["--lat=51", "--lon=1", "--date=2027-01-01", "--year=2027"], "not both"),
])
def test_mistakes_in_times(geozone, arguments, expected):
    code, out, err = geozone("times", *arguments)
    assert code == 2 and out == "" and expected in err


def test_help_loads_nothing_heavy():
    code = ("import sys\nfrom geozone import cli\n"
            "heavy = {'numba', 'pandas', 'geopandas', 'folium', 'matplotlib', 'scipy', 'timezonefinder', 'numpy'}\n"
            "print(sorted(heavy & set(sys.modules)))")
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


def test_a_plan_that_cannot_be_checked_leaves_the_rest(geozone, job, monkeypatch, without_paper):
    from geozone.errors import PlanCheckError
    from geozone.jobs import groupplan

    def fails(*args, **more):
        raise PlanCheckError("a site is in no group, or in two")

    monkeypatch.setattr(groupplan, "groups_of", fails)
    code, out, err = geozone("run", job)
    assert code == 0 and "Result" in out and "The groups are left out: their plan failed its own check" in out
    folder = job.parent / "out"
    assert (folder / "sites.csv").exists() and not (folder / "groups.csv").exists()
    assert "groups" not in json.loads((folder / "summary.json").read_text(encoding="utf-8"))


def test_nights_that_are_not_judged_are_told_apart(geozone, tmp_path, without_paper):
    (tmp_path / "sites.csv").write_text("site_id,lat,lon\nA,62.7,9.0\nB,63.0,9.1\nC,58.0,9.0\n", encoding="utf-8")
    text = ('[job]\ntitle = "North"\nyear = 2027\nsites = "sites.csv"\n[dark]\naltitude_deg = -4.0\n'
            '[shared]\nlat_deg = 62.8\nlon_deg = 9.0\nlegal_zone = "Europe/Oslo"\n[tolerance]\ndark_min = 10\nexcess_min = 10\n')
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    code, out, _ = geozone("run", tmp_path / "job.toml")
    assert code == 0 and "shallow_deg = 1.0 leaves these out" in out
    assert "nights_not_judged" not in pd.read_csv(tmp_path / "out" / "sites.csv", encoding="utf-8-sig").columns
    (tmp_path / "job.toml").write_text(text + "shallow_deg = 1.0\n", encoding="utf-8")
    code, out, _ = geozone("run", tmp_path / "job.toml")
    sites = pd.read_csv(tmp_path / "out" / "sites.csv", encoding="utf-8-sig")
    drift = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))["drift"]
    assert code == 0 and "are not judged there: up to" in out
    assert sites["nights_not_judged"].tolist()[2] == 0 and drift["sites_with_nights_not_judged"] == 2
    assert drift["nights_not_judged_most"] == sites["nights_not_judged"].max() > 20
    assert drift["dark_not_judged_h"] == pytest.approx(sites["dark_not_judged_min"].sum() / 60, abs=0.01)
