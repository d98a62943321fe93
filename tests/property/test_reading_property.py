"""Whatever a list holds: every row is used or rejected, and what is written can be read back."""

import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from geozone.errors import InputError
from geozone.places.coordinates import parse_angle, parse_pair
from geozone.places.numerals import as_numbers
from geozone.places.sites import read_sites

CELL = st.one_of(st.sampled_from(["", "-35.1", "141.2", "0", "-35,5", "abc", "−35.2", "\u00a0", "35°12'S", "141 E", "999", "A",
                                  "1e5", "nan", "12 O", "\"", "$1", "-35.1, 141.2"]),
                 st.floats(-200, 200).map(repr), st.text(max_size=8))


def quoted(cell):
    return '"' + cell.replace('"', '""') + '"'


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(CELL, CELL, CELL), min_size=1, max_size=12))
def test_read_is_used_plus_rejected(rows):
    rows = [tuple(c.replace("\r", " ").replace("\x00", "") for c in row) for row in rows]
    text = "id,lat,lon\nfirst,-35,141\n" + "".join(",".join(map(quoted, row)) + "\n" for row in rows)
    filled = 1 + sum(any(c.strip() for c in row) for row in rows)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sites.csv"
        path.write_bytes(text.encode("utf-8", errors="replace"))
        try:
            got = read_sites(path)
        except InputError:
            return  # one clear message is an answer too; anything else fails the test
    assert got.read == len(got.sites) + len(got.rejects) == filled
    assert not set(got.sites["row"]) & set(got.rejects["row"])
    assert got.sites.site_id.is_unique and (got.sites.site_id != "").all()
    assert got.sites.lat_deg.between(-90, 90).all() and got.sites.lon_deg.between(-180, 180).all()
    assert (got.rejects["reason"] != "").all()


@settings(max_examples=30, deadline=None)
@given(st.permutations(range(14)), st.randoms(use_true_random=False))
def test_the_order_of_rows_decides_nothing(order, _):
    lines = [f"S{i},-35.{i},141.{i}" for i in range(10, 20)] + ["x,141.5,-35.5", "y,0,0", "z,,141", "w,abc,141"]
    found = []
    for sequence in (range(14), order):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "sites.csv"
            path.write_text("id,lat,lon\n" + "\n".join(lines[i] for i in sequence) + "\n")
            got = read_sites(path)
        found.append((set(got.sites.site_id), sorted(got.rejects["reason"])))
    assert found[0] == found[1]


PARTS = st.tuples(st.integers(0, 89), st.integers(0, 59), st.integers(0, 5999))
WRITINGS = ["{d}°{m}'{s}\"{h}", "{d}° {m}′ {s}″ {h}", "{h} {d} {m} {s}", "{d} {m} {s} {h}", "{d}:{m}:{s}{h}", "{d}d{m}m{s}s {h}",
            "{h}{d}°{m}'{s}\""]


@given(PARTS, st.sampled_from("NSEW"), st.sampled_from(WRITINGS), st.booleans())
def test_degrees_minutes_seconds_come_back(parts, letter, writing, comma):
    degrees, minutes, hundredths = parts
    seconds = f"{hundredths / 100:.2f}".replace(".", "," if comma else ".")
    value, axis = parse_angle(writing.format(d=degrees, m=minutes, s=seconds, h=letter))
    sign = -1 if letter in "SW" else 1
    assert value == pytest.approx(sign * (degrees + minutes / 60 + hundredths / 360000), abs=1e-9)
    assert axis == ("lat" if letter in "NS" else "lon")


@given(st.floats(-90, 90).map(lambda v: round(v, 6)), st.floats(-180, 180).map(lambda v: round(v, 6)),
       st.sampled_from([", ", "; ", " ", ",", " | "]))
def test_pairs_come_back(lat, lon, between):
    first, second, _ = parse_pair(f"{lat:.6f}{between}{lon:.6f}")
    assert (first, second) == (lat, lon)


@given(st.lists(st.floats(-1e7, 1e7).map(lambda v: round(v, 3)), min_size=1, max_size=20), st.sampled_from([",", "."]))
def test_grouped_numbers_come_back(numbers, decimal):
    written = [f"{v:,.3f}".translate(str.maketrans(",.", ".,")) if decimal == "," else f"{v:,.3f}" for v in numbers]
    np.testing.assert_allclose(as_numbers(pd.Series(written, dtype="str"), decimal), numbers, rtol=0, atol=1e-9)


WORDS = st.sampled_from(["", "lat", "lon", "x", "y", "id", "°", "W", "m", "Breite", "Länge", "Lage", "name", "N", "E", "A7", "-35.1",
                         "141.2",
                         "unknown", "Total"])


@settings(max_examples=120, deadline=None)
@given(st.lists(st.tuples(WORDS, WORDS, WORDS), max_size=5), st.sampled_from(["id;lat;lon", "Nr;Breite;Länge", "id;y;x", "id;Lage;lon"]))
def test_rows_of_heading_words_are_values_too(rows, heading):
    # a row of nothing but units, or one that names both numbers, is a row of headings by any reading
    pairs = [{"lat", "lon"}, {"x", "y"}, {"Breite", "Länge"}, {"N", "E"}, {"lat", "Länge"}, {"lon", "Breite"}, {"y", "E"}, {"x", "N"}]
    assume(not any(set(row) <= {"", "°", "W", "m", "E", "N"} and any(row) or any(pair <= set(row) for pair in pairs) for row in rows))
    text = f"{heading}\n" + "".join(";".join(row) + "\n" for row in rows) + "a;-35.2;141.1\nb;-35.3;141.2\nc;-35.4;141.3\n"
    filled = 3 + sum(any(row) for row in rows)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sites.csv"
        path.write_text(text, encoding="utf-8")
        try:
            got = read_sites(path)
        except InputError:
            return
    assert got.read == len(got.sites) + len(got.rejects) == filled, (got.notes, got.rejects)
