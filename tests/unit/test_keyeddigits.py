"""A keyed position has the digits of the keypad's step wherever it stands: what is printed is what the display shows."""

import csv
import re
import shutil

import pytest
from python_calamine import CalamineWorkbook

from geozone.jobs.examples import examples_folder
from geozone.trade.keypad import Keypad, keyed_position, keyed_text


@pytest.mark.parametrize("value, step, sides, text", [
    (140.0, 0.1, "", "140.0"), (-34.6, 0.1, "NS", "34.6° S"), (140.25, 0.25, "", "140.25"), (140.5, 0.25, "EW", "140.50° E"),
    (140.0, 1.0, "EW", "140° E"), (-0.1, 0.1, "EW", "0.1° W"), (-0.0, 0.1, "", "0.0"), (-1e-9, 0.1, "NS", "0.0° N"), (7.5, 2.5, "", "7.5")])
def test_digits_of_a_step(value, step, sides, text):
    assert keyed_text(value, step, sides) == text


def test_another_language_writes_its_own_numbers():
    assert keyed_position(-34.5, 7.0, 0.1, lambda value, places: f"{value:.{places}f}".replace(".", ",")) == "34,5° S, 7,0° E"


@pytest.mark.parametrize("step, digits, shown", [(0.1, r"-?\d+\.\d", "144.0"), (0.25, r"-?\d+\.\d\d", "144.00"), (1, r"-?\d+", "144")])
def test_a_run_writes_them_on_every_screen_and_in_every_table(geozone, tmp_path, step, digits, shown):
    shutil.copytree(examples_folder() / "template", tmp_path / "job")
    job = tmp_path / "job" / "job.toml"
    text = job.read_text(encoding="utf-8")
    for old, new in (("coordinate_step_deg = 0.1", f"coordinate_step_deg = {step}"), ("curve_to = 3", "curve_to = 0"),
                     ("dark_min = 5", "dark_min = 1"), ("excess_min = 10", "excess_min = 2")):
        assert old in text
        text = text.replace(old, new)
    job.write_text(text, encoding="utf-8")
    code, out, err = geozone("run", job)
    assert code == 0, err
    folder = tmp_path / "job" / "out"
    positions = re.findall(r"latitude (\S+), longitude (\S+), dusk", out)
    with open(folder / "groups.csv", encoding="utf-8-sig", newline="") as file:
        groups = list(csv.DictReader(file))
    assert len(positions) == 1 + min(len(groups), 12) and groups  # the shared setting and each group's
    assert positions[0][1] == shown
    assert [(row["lat_deg"], row["lon_deg"]) for row in groups[:12]] == positions[1:]
    with open(folder / "sites.csv", encoding="utf-8-sig", newline="") as file:
        sites = list(csv.DictReader(file))
    keyed = {(row["lat_deg"], row["lon_deg"]) for row in groups}
    assert {(row["key_lat_deg"], row["key_lon_deg"]) for row in sites if row["group"]} == keyed
    for text in (part for pair in [*positions, *keyed] for part in pair):
        assert re.fullmatch(digits, text) and Keypad(step).round_deg(float(text)) == float(text)
    # The page: every position with a side and with the digits.
    page = (folder / "map.html").read_text(encoding="utf-8")
    for lat, lon in positions:
        assert f'{lat.lstrip("-")}° S' in page and f"{lon}° E" in page
    about = dict(row[:2] for row in CalamineWorkbook.from_path(folder / "sites.xlsx").get_sheet_by_name("about").to_python())
    assert f"longitude {shown}, " in about["shared setting (given)"]
