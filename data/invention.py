"""The invented country of the border demo: places, districts, roads. No place, road, authority or district here exists.

Only the ground is real: positions lie where South Australia, Victoria and New South Wales meet, because legal time changes
by half an hour there. Imported by make_demo.py; needs nothing but Python.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from random import Random

AUTHORITY = "Saltbush Plains Lighting Authority"

# name, code, district, latitude, longitude, sites, direction of the main street [degree from east]
PLACES = [
    ("Quill Landing", "QUI", "North Bend", -34.052, 139.618, 31, 20),
    ("Tallow Bend", "TAL", "North Bend", -34.351, 140.123, 38, -35),
    ("Ninety Pines", "NIN", "North Bend", -34.117, 140.287, 8, 0),
    ("Oxbow Lock", "OXB", "North Bend", -34.548, 139.553, 18, 65),
    ("Kestrel Point", "KES", "Corner", -34.021, 140.716, 42, 10),
    ("Three Fords", "THR", "Corner", -34.383, 140.797, 22, -15),
    ("Sandlewick", "SAN", "Corner", -34.452, 141.347, 28, 40),
    ("Petrel Bore", "PET", "Corner", -33.948, 141.452, 11, 0),
    ("Lunette", "LUN", "Corner", -33.981, 141.952, 15, 75),
    ("Thistlebank", "THI", "Westmark", -34.923, 139.547, 40, -10),
    ("Dunnage", "DUN", "Westmark", -35.249, 139.851, 28, 30),
    ("Mallowdene", "MAL", "Westmark", -35.503, 139.722, 17, 5),
    ("Cinder Siding", "CIN", "Westmark", -34.951, 139.987, 8, -50),
    ("Wexley Cross", "WEX", "Centre", -35.052, 140.398, 53, 15),
    ("Larkspur Tank", "LAR", "Centre", -35.381, 140.617, 13, 80),
    ("Brindlegate", "BRI", "Centre", -35.018, 140.944, 20, 0),
    ("Halfmoon Tank", "HAL", "Centre", -35.548, 140.302, 9, 45),
    ("Overline", "OVE", "Eastmark", -35.203, 141.021, 18, -5),
    ("Marchmont Wells", "MAR", "Eastmark", -35.101, 141.553, 29, 25),
    ("Tinder Flat", "TIN", "Eastmark", -35.619, 141.402, 24, -60),
    ("Sallow Creek", "SAL", "Eastmark", -36.101, 141.748, 22, 10),
    ("Gannet Plain", "GAN", "South Reach", -36.049, 140.303, 24, 35),
    ("Stonecrop", "STO", "South Reach", -36.352, 140.721, 33, -20),
    ("Lantern Hill", "LAN", "South Reach", -36.681, 140.449, 20, 55),
    ("Averdell", "AVE", "South Reach", -36.018, 140.852, 11, 0),
]

# In Victoria by the map, but its people shop, school and set their clocks on the South Australian side.
KEEPS_NEIGHBOURS_TIME = {"Overline": "Australia/Adelaide"}

# The state border as far as districts follow it, north to south [degree]; a few metres beside the legal-zone outlines.
_BORDER = [
    (140.964652, -34.708298), (140.965188, -34.870123), (140.966815, -35.656777), (140.961902, -35.799788),
    (140.963618, -35.962038), (140.964399, -36.034478), (140.966479, -36.250785), (140.966931, -36.305206),
    (140.967299, -36.373973), (140.967697, -36.427038), (140.968076, -36.501131), (140.968504, -36.599303),
    (140.968803, -36.668975), (140.969860, -36.870000)]
_NORTH, _MIDDLE, _EAST_END, _SOUTH = 0, 3, 7, 13  # corners of districts among the border's points

# Outlines, longitude first, counter-clockwise, neighbours share their vertices. "Corner" is the one that the border cuts.
DISTRICTS = {
    "North Bend": [(139.25, -33.85), (139.25, -34.70), (140.15, -34.74), (140.45, -34.75), (140.45, -33.85)],
    "Corner": [(140.45, -33.85), (140.45, -34.75), _BORDER[_NORTH], (142.25, -34.72), (142.25, -33.85)],
    "Westmark": [(139.25, -34.70), (139.45, -35.20), (139.60, -35.75), (140.15, -35.72), (140.15, -34.74)],
    "Centre": [(140.15, -34.74), (140.15, -35.72), *reversed(_BORDER[_NORTH:_MIDDLE + 1]), (140.45, -34.75)],
    "Eastmark": [*_BORDER[_NORTH:_EAST_END + 1], (142.20, -36.35), (142.25, -34.72)],
    "South Reach": [(139.60, -35.75), (140.05, -36.40), (140.12, -36.87), *reversed(_BORDER[_MIDDLE:_SOUTH + 1]),
                    (140.15, -35.72)],
}

# name, class, places it joins, turn-offs along it (two sites each)
ROADS = [
    ("Saltbush Highway", "highway", ["Thistlebank", "Cinder Siding", "Wexley Cross", "Brindlegate", "Overline",
                                     "Marchmont Wells"], 3),
    ("Bends Road", "highway", ["Oxbow Lock", "Quill Landing", "Tallow Bend", "Three Fords", "Sandlewick"], 3),
    ("Lock Road", "road", ["Thistlebank", "Oxbow Lock"], 0),
    ("Pines Track", "road", ["Tallow Bend", "Ninety Pines", "Kestrel Point"], 2),
    ("Point Road", "highway", ["Three Fords", "Kestrel Point", "Petrel Bore", "Lunette"], 2),
    ("Wexley Road", "road", ["Tallow Bend", "Wexley Cross"], 2),
    ("Dunnage Road", "road", ["Thistlebank", "Dunnage", "Mallowdene"], 0),
    ("Half Moon Road", "road", ["Dunnage", "Halfmoon Tank", "Larkspur Tank", "Brindlegate"], 0),
    ("South Highway", "highway", ["Wexley Cross", "Halfmoon Tank", "Gannet Plain", "Lantern Hill"], 3),
    ("Stonecrop Road", "road", ["Lantern Hill", "Stonecrop", "Averdell"], 0),
    ("Averdell Road", "road", ["Gannet Plain", "Averdell", "Tinder Flat"], 2),
    ("Eastern Highway", "highway", ["Sandlewick", "Marchmont Wells", "Tinder Flat", "Sallow Creek"], 2),
]

_ALONG = ["Station Street", "Wharf Street", "Silo Road", "Quince Street", "Almond Street", "Weighbridge Road"]
_ACROSS = ["Church Street", "Mill Lane", "School Street", "Bakery Lane", "Saleyard Road", "Fig Street", "Tank Lane"]

# Contracts as they grew: who offered the best price in which year, not who is whose neighbour. Codes of places.
CONTRACTS = {
    "K1": ["QUI", "WEX", "SAL"], "K2": ["TAL", "MAR", "HAL"], "K3": ["KES", "DUN", "AVE"], "K4": ["THI", "SAN", "NIN"],
    "K5": ["STO", "OXB", "BRI", "PET"], "K6": ["GAN", "THR", "OVE"], "K7": ["TIN", "MAL", "LUN", "CIN"],
    "K8": ["LAN", "LAR"]}

# lamp text, watt a lamp with its gear, lamps a site (fewest, most)
LAMPS = {
    "main road": ("LED 110 W", 118, 8, 24), "street": ("LED 36 W", 40, 6, 20), "crossing": ("LED 62 W", 67, 2, 6),
    "car park": ("LED 80 W", 86, 4, 12), "path": ("LED 18 W", 20, 5, 16), "highway": ("HPS 250 W", 276, 4, 16)}

# Which switching programme the sites of a use run; the saleyards' car parks have one of their own.
_REGIMES = {"main road": "dusk to dawn", "highway": "dusk to dawn", "crossing": "dusk to dawn", "street": "part-night",
            "path": "split night", "car park": "split night"}


def regime(place: str, use: str) -> str:
    """The programme of a site."""
    return "market morning" if (place, use) == ("Tinder Flat", "car park") else _REGIMES[use]


_M_PER_DEG = 111_200.0


@dataclass(frozen=True)
class Street:
    """A street or road: name, class, and its line as (longitude, latitude) pairs."""

    name: str
    kind: str
    line: list[tuple[float, float]]


def town_streets(place: tuple, random: Random) -> list[tuple[Street, int]]:
    """The streets of a place and how many sites stand on each.

    Streets run along and across the main street, 220 m apart; a street has 2 to 7 sites, some 150 m from each other.
    """
    name, _, _, lat_deg, lon_deg, sites, turn_deg = place
    counts = []
    while sum(counts) < sites:
        left = sites - sum(counts)
        count = min(4 + int(random.random() * 3), left)
        counts.append(count + 1 if left - count == 1 else count)  # no street with a single site
    streets = []
    for i, count in enumerate(counts):
        along = i % 2 == 0
        names = _ALONG if along else _ACROSS
        rank = i // 2
        title = names[rank % len(names)] + (" South" if rank >= len(names) else "")
        # 0, +1, -1, +2, -2 ... blocks away from the centre
        aside_m = 220.0 * ((rank + 1) // 2) * (1 if rank % 2 else -1)
        length_m = 150.0 * count + 120.0
        start = (-length_m / 2, aside_m) if along else (aside_m, -length_m / 2)
        end = (length_m / 2, aside_m) if along else (aside_m, length_m / 2)
        line = [_turned(point, turn_deg, lat_deg, lon_deg) for point in (start, end)]
        streets.append((Street(f"{title}, {name}", "street", line), count))
    return streets


def road_line(places: list[str], random: Random) -> list[tuple[float, float]]:
    """A road through the places with a gentle bend every few kilometres."""
    where = {place[0]: (place[4], place[3]) for place in PLACES}
    line = [where[places[0]]]
    for a, b in zip(places, places[1:]):
        (x0, y0), (x1, y1) = where[a], where[b]
        pieces = max(2, round(math.hypot(x1 - x0, y1 - y0) / 0.12))
        for i in range(1, pieces):
            aside = (random.random() - 0.5) * 0.05
            share = i / pieces
            line.append((round(x0 + share * (x1 - x0) - aside * (y1 - y0), 5),
                         round(y0 + share * (y1 - y0) + aside * (x1 - x0), 5)))
        line.append((x1, y1))
    return line


def point_along(line: list[tuple[float, float]], share: float) -> tuple[float, float]:
    """The point at a share (0..1) of the line's length, in degrees, which is near enough here."""
    lengths = [math.hypot(b[0] - a[0], b[1] - a[1]) for a, b in zip(line, line[1:])]
    left = share * sum(lengths)
    for (a, b), length in zip(zip(line, line[1:]), lengths):
        if left <= length:
            return a[0] + left / length * (b[0] - a[0]), a[1] + left / length * (b[1] - a[1])
        left -= length
    return line[-1]


def _turned(point_m: tuple[float, float], turn_deg: float, lat_deg: float, lon_deg: float) -> tuple[float, float]:
    x, y = point_m
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    east_m, north_m = x * cos - y * sin, x * sin + y * cos
    return (round(lon_deg + east_m / (_M_PER_DEG * math.cos(math.radians(lat_deg))), 5),
            round(lat_deg + north_m / _M_PER_DEG, 5))
