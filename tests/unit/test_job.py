"""The job file: what is refused, and what the message says."""

import pytest

from geozone.errors import InputError
from geozone.jobs.job import read_job

GOOD = """
[job]
title = "Test"
year = 2027
sites = "sites.csv"
[dark]
altitude_deg = -4.0
"""


def message(tmp_path, text, encoding="utf-8"):
    path = tmp_path / "job.toml"
    path.write_bytes(text.encode(encoding))
    with pytest.raises(InputError) as caught:
        read_job(path)
    return str(caught.value)


def test_defaults(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(GOOD, encoding="utf-8")
    job = read_job(path)
    assert (job.tolerance.dark_min, job.tolerance.excess_min) == (5, 10)
    assert job.shared.clock == "own" and not job.shared.given
    assert job.beside("sites.csv") == tmp_path.resolve() / "sites.csv"


@pytest.mark.parametrize("added, expected", [
    ("[tolerance]\ndark_mins = 5\n", ["unknown key tolerance.dark_mins", "did you mean dark_min?", "line 9"]),
    ("[toleranz]\ndark_min = 5\n", ["unknown key toleranz", "did you mean tolerance?", "line 8"]),
    ("[keypad]\ndark_min = 5\n", ["unknown key keypad.dark_min", "dark_min belongs in [tolerance]"]),
    ("[tolerance]\ndark_min = -1\n", ["tolerance.dark_min cannot be used", "found: -1", "greater than 0", "line 9"]),
    ("[tolerance]\ndark_min = 'five'\n", ["tolerance.dark_min cannot be used", "found: 'five'"]),
    ("[tolerance]\ndark_min = nan\n", ["tolerance.dark_min cannot be used"]),
    ("[shared]\nlat_deg = 95\nlon_deg = 1\nlegal_zone = 'UTC'\n", ["shared.lat_deg cannot be used", "found: 95"]),
    ("[shared]\nlat_deg = 5\n", ["a setting needs lat_deg, lon_deg and legal_zone; lon_deg, legal_zone is missing"]),
    ("[shared]\ndusk_offset_min = 5\n", ["offsets belong to a position"]),
    ("[shared]\nlat_deg = 5\nlon_deg = 1\nlegal_zone = 'UTC'\ndusk_offset_min = 1.5\n", ["shared.dusk_offset_min"]),
    ("[shared]\nclock = 'both'\n", ["shared.clock cannot be used", '"own" or "master"']),
    ("[keypad]\ncoordinate_step_deg = 0\n", ["keypad.coordinate_step_deg cannot be used"]),
    ("title = 5\n", ["unknown key dark.title", "title belongs in [job]"]),
    ("[dark]\n", ["cannot be read"]),
    ("twilight = 'civil'\n", ["exactly one of altitude_deg, twilight, illuminance_lx"]),
])
def test_refusals_name_the_place_and_the_way_out(tmp_path, added, expected):
    text = message(tmp_path, GOOD + added)
    for part in expected:
        assert part in text, text


@pytest.mark.parametrize("year", ["1066", "20270", "'next'", "2027.0", "true"])
def test_impossible_years(tmp_path, year):
    assert "job.year cannot be used" in message(tmp_path, GOOD.replace("2027", year))


def test_missing_parts(tmp_path):
    assert "dark is missing" in message(tmp_path, GOOD.split("[dark]")[0])
    assert "job.sites is missing" in message(tmp_path, GOOD.replace('sites = "sites.csv"', ""))


def test_missing_file_and_folder(tmp_path):
    (tmp_path / "other.toml").write_text(GOOD, encoding="utf-8")
    with pytest.raises(InputError, match="found there: other.toml"):
        read_job(tmp_path / "job.toml")
    with pytest.raises(InputError, match="this is a folder"):
        read_job(tmp_path)


def test_encodings(tmp_path):
    path = tmp_path / "job.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())
    assert read_job(path).job.year == 2027
    assert "not UTF-8" in message(tmp_path, GOOD.replace("Test", "Straßen"), "cp1252")
