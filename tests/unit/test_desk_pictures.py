"""Pictures beside the form: what they show is where it belongs, and what a click means is where it was clicked."""

import re
import shutil
import tomllib

import numpy as np
import pytest

from geozone.desk.darkpicture import dark_picture, threshold_of, words_of
from geozone.desk.guard import Keys
from geozone.desk.plans import Plans
from geozone.desk.positions import Frame, commonest, picture
from geozone.desk.runs import Trial
from geozone.desk.server import application
from geozone.desk.state import Desk
from geozone.jobs.examples import examples_folder
from geozone.jobs.job import job_of_text
from geozone.jobs.yearsoflight import years_of_light
from geozone.trade.basis import DarkThreshold
from geozone.trade.setting import Setting

OWN = "http://127.0.0.1:9432"
EXAMPLE = examples_folder() / "template" / "job.toml"
DRAWN = {"points": [[143.0, -35.0, 0], [145.0, -34.0, 0]], "lines": []}
FORM = {"Content-Type": "application/x-www-form-urlencoded"}


def heights(svg):
    """Where the labels of -6 and -12 degrees and the chosen line lie."""
    marks = {text: float(y) - 4.5 for y, text in re.findall(r'y="([\d.]+)" text-anchor="end"[^>]*>([^<]+)</text>', svg)}
    line = re.search(r'<path d="M\d+ ([\d.]+)H\d+" stroke="#8b1f1f"', svg)
    return marks["\u22126\u00b0"], marks["\u221212\u00b0"], float(line[1]) if line else None


@pytest.mark.parametrize("altitude_deg", [-9.0, -4.0, 0.0, 10.0, -30.0])
def test_the_threshold_lies_between_the_twilights_where_it_belongs(altitude_deg):
    six, twelve, chosen = heights(dark_picture(DarkThreshold(altitude_deg)))
    assert chosen == pytest.approx(six + (twelve - six) * (altitude_deg + 6.0) / -6.0, abs=0.5)


def test_without_a_threshold_there_is_no_line():
    assert heights(dark_picture(None))[2] is None
    for kind, text in (("altitude_deg", "a few"), ("altitude_deg", "91"), ("altitude_deg", "nan"), ("twilight", "noon"), ("illuminance_lx", "-1"),
                       ("illuminance_lx", "")):
        assert threshold_of(kind, text) is None, (kind, text)
    assert threshold_of("altitude_deg", "-4,5").altitude_deg == -4.5 and threshold_of("twilight", "civil").altitude_deg == -6


def test_lux_in_words_agrees_with_a_second_fit():
    """Brown's charts of 1952 in a Chebyshev fit by the US Naval Observatory: 756.8 lx at 0, 30.73 at -4, 3.472 at -6 and 0.356 at -8 degrees."""
    for altitude_deg, lux in ((0.0, 756.8), (-4.0, 30.73), (-6.0, 3.472), (-8.0, 0.356)):
        said = words_of(DarkThreshold(altitude_deg))
        assert float(re.search(r"about ([\d.,]+) lx", said)[1].replace(",", "")) == pytest.approx(lux, rel=0.08) and "factor of several" in said
    assert "lx" not in words_of(DarkThreshold(-19.0)) and words_of(DarkThreshold.of(illuminance_lx=20)).count("lx") == 1


def test_the_year_of_a_programme_has_its_hours():
    """Dark hours from sunset to sunrise in 2025 at longitude 0, by another engine (SPA, sampled every 30 s): 4284.6 at 50, 4337.8 at 0 degrees."""
    text = EXAMPLE.read_text(encoding="utf-8").replace("year = 2027", "year = 2025").replace("altitude_deg = -4.0", 'twilight = "sunset"') + """
[programmes]
column = "programme"
[[programme]]
name = "all night"
[[programme.event]]
turn = "on"
at = "dusk"
[[programme.event]]
turn = "off"
at = "dawn"
[[programme]]
name = "early"
[[programme.event]]
turn = "on"
at = "dusk"
shift_min = -90
[[programme.event]]
turn = "off"
at = "22:00"
"""
    job = job_of_text(text, EXAMPLE)
    for lat_deg, hours in ((50.0, 4284.6), (0.0, 4337.8)):
        whole, early = years_of_light(job, Setting(lat_deg, 0.0, "UTC"))
        assert whole.lit_h == pytest.approx(hours, abs=1.0) and not whole.wasted and early.wasted
        assert whole.svg.startswith("<svg") and "<script" not in whole.svg


@pytest.mark.parametrize("drawn", [DRAWN, {"points": [[179.9, 10.0, 0], [180.1, 10.0, 1]], "lines": []}, {"points": [[5.0, 50.0, 0]], "lines": []}])
def test_a_spot_and_its_position_go_both_ways(drawn):
    frame = Frame.of(drawn)
    for lon, lat, _ in drawn["points"]:
        back = frame.position(*frame.at(lon, lat))
        assert back[0] == pytest.approx(lat, abs=0.1 / frame.scale + 1e-9) and np.cos(np.radians(back[1] - lon)) == pytest.approx(1.0, abs=1e-4)
    assert picture(drawn, (drawn["points"][0][1], drawn["points"][0][0])).count("<svg") == 1
    assert commonest([{"zone": "a", "sites": 1}, {"zone": "b", "sites": 3}]) == "b" and commonest([]) == commonest(None) == ""


@pytest.fixture
def inside(tmp_path, asked):
    shutil.copytree(EXAMPLE.parent, tmp_path / "plans" / "Three hamlets")
    desk, keys = Desk(Plans(tmp_path / "plans")), Keys(9432)

    async def seen():
        return {"done": {"map": DRAWN, "list": {"zones": [{"zone": "Australia/Sydney", "sites": 9}]}}}

    desk.look = lambda plan, near="": seen()
    asked_of = []
    desk.runs.try_out = lambda *what: asked_of.append(what) or desk.runs.trials.setdefault("Three hamlets", Trial(number=1, posted=what[4]))
    app = application(desk, keys)
    cookie = asked(app, "GET", keys.address.removeprefix(OWN))[1]["set-cookie"].split(";")[0]

    def ask(method, path, body=b"", more=()):
        headers = {"Cookie": cookie, **({} if method == "GET" else {"Origin": OWN, "Sec-Fetch-Site": "same-origin", **FORM}), **dict(more)}
        return asked(app, method, "/plan/Three hamlets" + path, headers, body=[body])

    yield ask, tmp_path / "plans" / "Three hamlets" / "job.toml", asked_of
    shutil.rmtree(desk.runs._folder)


def test_a_click_on_the_map_is_a_position_on_the_keypads_step(inside):
    ask, job, _ = inside
    frame = Frame.of(DRAWN)
    x, y = frame.at(143.77, -34.43)
    status, headers, _ = ask("POST", "/spot", f"spot.x={x:.0f}&spot.y={y:.0f}&tolerance.dark_min=4".encode())
    said = tomllib.loads(job.read_text(encoding="utf-8"))
    assert status == 303 and (said["shared"]["lat_deg"], said["shared"]["lon_deg"]) == (-34.4, 143.8) and said["tolerance"]["dark_min"] == 4
    before = job.read_bytes()
    for body in (b"", b"spot.x=0&spot.y=0", b"spot.x=-5&spot.y=1", b"spot.x=1e9&spot.y=1", b"spot.x=%00&spot.y=2"):
        assert ask("POST", "/spot", body)[0] == 303 and job.read_bytes() == before, body
    assert b"#8b1f1f" in ask("GET", "/spots.svg")[2]
    assert ask("POST", "/ask", b"do=best")[0] == 303
    assert "lat_deg" not in tomllib.loads(job.read_text(encoding="utf-8"))["shared"]
    assert b"#8b1f1f" not in ask("GET", "/spots.svg")[2]


def test_the_suns_height_is_drawn_for_whatever_is_typed(inside):
    ask, _, _ = inside
    for query in ("kind=altitude_deg&value=-4", "kind=twilight&value=civil", "kind=&value=", "kind=__class__&value=1",
                  "kind=altitude_deg&value=%3Cb%3E", "value=" + "9" * 3000):
        status, headers, body = ask("GET", f"/dark.svg?{query}")
        assert status == 200 and headers["content-type"] == "image/svg+xml" and b"<b>" not in body, query
    assert b"30 lx" in ask("GET", "/dark.svg?kind=altitude_deg&value=-4", more={"Accept": "application/json"})[2]


def test_what_if_writes_nothing_until_it_is_taken(inside):
    ask, job, asked_of = inside
    before = job.read_bytes()
    json = {"Accept": "application/json"}
    status, _, body = ask("POST", "/try", b"tolerance.dark_min=2&shared.lat_deg=-34.9", json)
    assert status == 200 and b'"done":false' in body and "dark_min = 2 " in asked_of[-1][2] and "lat_deg = -34.9" in asked_of[-1][2]
    assert ask("POST", "/try", b"tolerance.dark_min=2")[1]["location"].endswith("/answers#whatif")
    status, _, body = ask("POST", "/try", b"tolerance.dark_min=%3Cb%3Ea+few", json)
    assert status == 200 and b'"done":true' in body and b"&lt;b&gt;a few" in body and b"<b>" not in body and len(asked_of) == 2
    for body in (b"dark.kind=job&dark.value=1", b"shared.lat_deg=%00", b"nothing=1", b"dark.kind=twilight&dark.value=" + b"a" * 3000):
        assert ask("POST", "/try", body)[0] == 303
    assert ask("POST", "/untry")[0] == 303 and job.read_bytes() == before
    assert ask("POST", "/take", b"tolerance.dark_min=2")[0] == 303
    assert tomllib.loads(job.read_text(encoding="utf-8"))["tolerance"]["dark_min"] == 2
    assert ask("GET", "/tried")[0] == 200 and ask("GET", "/year/x")[0] in (303, 404)
