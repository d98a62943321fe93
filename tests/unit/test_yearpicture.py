"""Pictures: drawn from numbers, the same bytes every time, untrusted text harmless. They were looked at by eye, too."""

import io
import xml.etree.ElementTree as ET

import numpy as np
import pandas as pd
import pytest

from geozone.files.hourspicture import draw_hours
from geozone.files.yearpicture import DARKNESS, LAMPS, WASTE, YearPicture, draw_year, left_of, night_boxes
from geozone.numbers import clock
from geozone.switching.programme_year import intended
from geozone.trade.programme import DUSK_TO_DAWN, Event, Programme

HERE = {"lat_deg": -35.1, "lon_deg": 141.0, "legal_zone": "Australia/Adelaide", "year": 2027, "altitude_deg": -4.0}
SEQUENCE = clock.offsets("Australia/Adelaide", 2027)


def picture(programme, title="p", reading="obeyed"):
    return YearPicture(title, "words", 2027, SEQUENCE, intended(programme, **HERE, reading=reading).ends,
                       intended(DUSK_TO_DAWN, **HERE).ends)


def colour_share(png, colour):
    from matplotlib.image import imread

    pixels = np.round(imread(io.BytesIO(png))[..., :3] * 255).astype(int)
    return float((pixels == [int(colour[i:i + 2], 16) for i in (1, 3, 5)]).all(-1).mean())


def test_a_programme_that_burns_by_day_shows_it_and_another_does_not():
    burning = draw_year(picture(Programme("b", (*DUSK_TO_DAWN.events, Event("on", 330)))), "png")
    quiet = draw_year(picture(DUSK_TO_DAWN), "png")
    assert colour_share(burning, WASTE) > 0.01 and colour_share(quiet, WASTE) == 0
    assert colour_share(quiet, LAMPS) > 0.15 and colour_share(quiet, DARKNESS) < 0.005


def test_part_night_leaves_darkness():
    png = draw_year(picture(Programme("p", (Event("on", "dusk"), Event("off", 1410)))), "png")
    assert colour_share(png, DARKNESS) > 0.08


def test_boxes_add_up_to_the_lit_minutes_of_the_year():
    ends = intended(DUSK_TO_DAWN, **HERE).ends
    boxes = night_boxes(ends, SEQUENCE, 365)
    heights = boxes[:, 2, 1] - boxes[:, 0, 1]
    from geozone.numbers.intervals import lit_minutes

    first, last = 720 - 630, 365.5 * 1440 - 630
    assert heights.sum() == pytest.approx(lit_minutes(ends, first=first, last=last), abs=1e-6)
    assert boxes[:, :, 1].min() >= 720 and boxes[:, :, 1].max() <= 2160 + 60  # the night of a clock put forward


def test_without_by_hand():
    a, b = np.array([[0.0, 10.0], [5.0, 20.0]]), np.array([[3.0], [12.0]])
    assert left_of(a, b).tolist() == [[0.0, 12.0], [3.0, 20.0]]
    assert left_of(np.empty((2, 0)), b).shape[1] == 0


@pytest.mark.parametrize("title", ["$\\frac$ <script>alert(1)</script> & --> ]]>", "夜間 {x} %s", "", "x" * 5000])
def test_hostile_titles(title):
    svg = draw_year(picture(DUSK_TO_DAWN, title))
    root = ET.fromstring(svg)
    assert not [e for e in root.iter() if e.tag.endswith("script")] and svg == draw_year(picture(DUSK_TO_DAWN, title))
    assert b"2026" not in svg.split(b"</metadata>")[0]  # no date of the drawing


def test_hours_picture():
    by = pd.DataFrame({"lit_h": [4100.0, 2000.0], **{f"lit_{m:02d}_h": [300.0 + m, 100.0 + 10 * m] for m in range(1, 13)}},
                      index=["dusk to dawn", "$x$ <b>"])
    assert draw_hours(by, "t") == draw_hours(by, "t")
    assert colour_share(draw_hours(by, "t", "png"), LAMPS) > 0.1
    ET.fromstring(draw_hours(by, "a & b"))


def test_other_kinds_are_refused():
    with pytest.raises(ValueError):
        draw_year(picture(DUSK_TO_DAWN), "gif")
