"""Invented answers for looking at the page: a made-up lighting authority in south-east Australia.

Every site, name and figure here is invented; the drift comes from a short formula that is near enough to look right and
is no claim about the sun. The page draws what it is given, so it is the page that these answers test, nothing else.
"""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from contourpy import contour_generator

from geozone.answers import Answers
from geozone.sharing.shared import FoundSetting
from geozone.trade.basis import Basis
from geozone.trade.setting import Setting, Tolerance

YEAR = 2027
ADELAIDE, MELBOURNE, SYDNEY = "Australia/Adelaide", "Australia/Melbourne", "Australia/Sydney"
TEXTS = {ADELAIDE: "UTC+09:30, +10:30 to 4 Apr and from 3 Oct", MELBOURNE: "UTC+10:00, +11:00 to 4 Apr and from 3 Oct"}
TEXTS[SYDNEY] = TEXTS[MELBOURNE]

PLACES = ("Wirrapunda Blacktail Kingshook Merriang Yarrowie Coolamatta Tallis Boorabin Quondine Pelham Marwood Ninnes "
          "Halloway Tarpeena-Nord Gellert Mundoo Wattle-Reach Carrow Brentside Lowan-Vale Swanfield Kettleby Noora-Plain "
          "Tresco-Bend Mallin").split()
STREETS = ("Bridge St", "Station Rd", "Silo Lane", "Wharf Parade", "Pepper Tree Ave", "Showground Rd", "Post Office Corner")
DISTRICTS = {"Upper Mallin": (139.55, -35.05, 140.6, -34.0), "Lower Mallin": (139.55, -36.1, 140.6, -35.05),
             "Coorannie": (139.55, -37.6, 140.6, -36.1), "Border Plains": (140.6, -35.9, 141.5, -34.0),
             "Wirra Forest": (140.6, -37.6, 141.5, -35.9), "East Reach": (141.5, -37.6, 142.4, -34.0)}

PIECE_COLUMNS = ["area", "legal_zone", "clock_rule_text", "share", "geometry"]


def half_nights_min(lat_deg) -> np.ndarray:
    """Half the night, for every fourth night of the year, in minutes: shape (n, nights)."""
    nights = np.arange(0, 365, 4)
    declination = np.radians(23.44) * np.sin(2 * np.pi * (nights - 80) / 365)
    lat = np.radians(np.asarray(lat_deg, dtype=float))[:, None]
    cosine = (np.sin(np.radians(-4)) - np.sin(lat) * np.sin(declination)) / (np.cos(lat) * np.cos(declination))
    return 720 - np.degrees(np.arccos(np.clip(cosine, -1, 1))) * 4


def drift_table(lat_deg, lon_deg, setting: Setting, tolerance: Tolerance) -> pd.DataFrame:
    """Made-up drift of the setting at places, with the columns of a site."""
    east = 4 * (np.asarray(lon_deg, dtype=float) - setting.lon_deg)[:, None]
    longer = half_nights_min(lat_deg) - half_nights_min([setting.lat_deg])
    late_dusk, late_dawn = east + longer, east - longer  # the setting's switching minus the sun's
    dates = [str(np.datetime64(f"{YEAR}-01-01") + 4 * k) for k in range(late_dusk.shape[1])]
    table = {}
    for kind, dusk, dawn in (("dark", late_dusk, -late_dawn), ("excess", -late_dusk, late_dawn)):
        both = np.clip(np.stack([dusk, dawn]), 0, None)
        night = both.max(axis=0).argmax(axis=1)
        edge = both[:, np.arange(len(night)), night].argmax(axis=0)
        worst = both.max(axis=(0, 2))
        table[f"worst_{kind}_min"] = worst
        table[f"worst_{kind}_night"] = [dates[k] if w > 0 else "" for k, w in zip(night, worst)]
        table[f"worst_{kind}_edge"] = [("dusk", "dawn")[k] if w > 0 else "" for k, w in zip(edge, worst)]
        table[f"{kind}_year_min"] = both.sum(axis=(0, 2)) * 4
    over = (np.maximum(late_dusk, -late_dawn) > tolerance.dark_min) | (np.maximum(-late_dusk, late_dawn) > tolerance.excess_min)
    table["nights_beyond"] = np.minimum(over.sum(axis=1) * 4, 365)
    table["tolerance_share"] = np.maximum(table["worst_dark_min"] / tolerance.dark_min, table["worst_excess_min"] / tolerance.excess_min)
    return pd.DataFrame(table)


def zones_table() -> gpd.GeoDataFrame:
    """Three invented legal zones that meet at 141 east and along a winding river."""
    lon = np.linspace(141.0, 146.5, 60)
    river = np.column_stack([lon, -34.15 - 0.32 * (lon - 141) + 0.09 * np.sin(9 * lon)])
    west = shapely.box(136.5, -40, 141.0, -31.5)
    south = shapely.Polygon([*river, (146.5, -40), (141.0, -40)])
    north = shapely.Polygon([*river, (146.5, -31.5), (141.0, -31.5)])
    return gpd.GeoDataFrame({"legal_zone": [ADELAIDE, MELBOURNE, SYDNEY]}, geometry=[west, south, north], crs=4326)


def boundaries_table(zones: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    rows = []
    for a in range(len(zones)):
        for b in range(a + 1, len(zones)):
            names = zones.legal_zone[a], zones.legal_zone[b]
            shared = shapely.intersection(zones.geometry[a], zones.geometry[b])
            lines = [part for part in shapely.get_parts(shared) if part.geom_type == "LineString"]
            rows.append({"zone_a": names[0], "zone_b": names[1], "same_clock": TEXTS[names[0]] == TEXTS[names[1]],
                         "geometry": shapely.MultiLineString(lines)})
    return gpd.GeoDataFrame(rows, crs=4326)


def lines_table(bounds, setting: Setting, tolerance: Tolerance) -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame]:
    west, south, east, north = bounds
    lon, lat = np.linspace(west - 0.3, east + 0.3, 60), np.linspace(south - 0.3, north + 0.3, 60)
    grid_lon, grid_lat = np.meshgrid(lon, lat)
    drift = drift_table(grid_lat.ravel(), grid_lon.ravel(), setting, tolerance)
    factor = drift["tolerance_share"].to_numpy().reshape(grid_lon.shape)
    rows = []
    for level in (0.5, 1.0, 1.5, 2.0, 2.5):
        label = f"{tolerance.dark_min * level:g} min unlit or {tolerance.excess_min * level:g} min lit too long"
        for line in contour_generator(lon, lat, factor).lines(level):
            rows.append({"kind": "tolerance" if level == 1 else "drift", "factor": level, "label": label,
                         "geometry": shapely.LineString(line)})
    dusk = -4 * grid_lon - half_nights_min(grid_lat.ravel())[:, 88].reshape(grid_lon.shape)
    start = np.ceil(dusk.min() / 5) * 5
    for k, level in enumerate(np.arange(start, dusk.max(), 5)):
        minutes = 18 * 60 + 5 * k
        for line in contour_generator(lon, lat, dusk).lines(level):
            rows.append({"kind": "dusk", "factor": np.nan, "label": f"dusk {minutes // 60:02d}:{minutes % 60:02d} on 22 Dec, UTC+09:30",
                         "geometry": shapely.LineString(line)})
    lattice = gpd.GeoDataFrame({"lat_deg": grid_lat.ravel(), "lon_deg": grid_lon.ravel()},
                               geometry=shapely.points(grid_lon.ravel(), grid_lat.ravel()), crs=4326)
    lattice[["worst_dark_min", "worst_excess_min", "tolerance_share"]] = drift[["worst_dark_min", "worst_excess_min", "tolerance_share"]]
    return gpd.GeoDataFrame(rows, crs=4326), lattice


def invented_sites(n: int, n_places: int, seed: int = 7) -> pd.DataFrame:
    """Sites in clusters: some in each of `n_places` places, two of them at one position."""
    rng = np.random.default_rng(seed)
    centre_lon = rng.uniform(139.7, 141.9, n_places)
    centre_lat = rng.uniform(-37.4, -34.2, n_places)
    place = np.sort(rng.integers(0, n_places, n))
    spread = rng.uniform(0.008, 0.035, n_places)[place]
    lon, lat = centre_lon[place] + rng.normal(0, 1, n) * spread, centre_lat[place] + rng.normal(0, 0.8, n) * spread
    if n > 12:
        lon[11], lat[11] = lon[10], lat[10]
    names = [f"{PLACES[p % len(PLACES)].replace('-', ' ')}, {STREETS[k % len(STREETS)]} {k % 89 + 1}" for k, p in enumerate(place)]
    return pd.DataFrame({"site_id": [f"CB-{k + 1:04d}" for k in range(n)], "name": names, "lat_deg": lat, "lon_deg": lon,
                         "load_w": np.where(rng.random(n) < 0.8, rng.integers(2, 90, n) * 50.0, np.nan)})


def example_answers(n: int = 620, n_places: int = 25, *, sites: pd.DataFrame | None = None, districts: bool = True,
                    title: str = "Mallin Valley Lighting Authority, cabinets 2027", **changes) -> Answers:
    """Answers for `n` invented sites, or for a table with site_id, name, lat_deg, lon_deg, load_w."""
    tolerance = changes.pop("tolerance", Tolerance(5, 10))
    setting = changes.get("setting", Setting(-35.4, 140.6, ADELAIDE))
    table = invented_sites(n, n_places) if sites is None else sites.copy()
    zones = zones_table()
    points = shapely.points(table["lon_deg"], table["lat_deg"])
    inside = [[zone for zone, shape in zip(zones.legal_zone, zones.geometry) if shape.covers(point)][:1] or [ADELAIDE] for point in points]
    table["legal_zone"] = [names[0] for names in inside]
    table["legal_zone_given"] = ""
    table["legal_zone_source"] = "boundary data"
    table["row"] = np.arange(2, len(table) + 2)
    border = shapely.LineString([(141, -40), (141, -31.5)])
    table["boundary_m"] = shapely.distance(points, border) * 91_000
    table.loc[table["boundary_m"] > 200_000, "boundary_m"] = np.inf
    table["confirm_zone"] = table["boundary_m"] < 2000
    rules = [name for name in (ADELAIDE, MELBOURNE) if (table["legal_zone"].map(TEXTS) == TEXTS[name]).any()]
    table["clock_rule"] = table["legal_zone"].map(lambda zone: [TEXTS[rule] for rule in rules].index(TEXTS[zone]))
    table["solar_lon_deg"] = table["lon_deg"]
    table = pd.concat([table, drift_table(table["lat_deg"], table["lon_deg"], setting, tolerance)], axis=1)
    table["result"] = np.where(table["tolerance_share"] <= 1, "within", "beyond")
    table.loc[table["legal_zone"].map(TEXTS) != TEXTS[setting.legal_zone], "result"] = "other clock"

    frame = gpd.GeoDataFrame(table, geometry=points, crs=4326)
    areas = gpd.GeoDataFrame({"area": list(DISTRICTS)}, geometry=[shapely.box(*box) for box in DISTRICTS.values()], crs=4326) \
        if districts else gpd.GeoDataFrame({"area": ["service area"]}, geometry=[frame.union_all().convex_hull.buffer(0.1)], crs=4326)
    frame["area"] = ""
    for name, shape in zip(areas["area"], areas.geometry):
        frame.loc[frame.within(shape), "area"] = name
    pieces = [{"area": name, "legal_zone": zone, "clock_rule_text": TEXTS[zone], "share": shape.intersection(part).area / shape.area,
               "geometry": shape.intersection(part)}
              for name, shape in zip(areas["area"], areas.geometry) for zone, part in zip(zones.legal_zone, zones.geometry)
              if shape.intersection(part).area > 0]
    lines, lattice = lines_table(areas.total_bounds, setting, tolerance)
    clock_rules = pd.DataFrame([{"text": TEXTS[rule], "legal_zones": sorted(set(frame.loc[frame.clock_rule == k, "legal_zone"])),
                                 "sites": int((frame.clock_rule == k).sum())} for k, rule in enumerate(rules)])
    clock_rules.index.name = "clock_rule"
    fields = dict(
        title=title, basis=Basis(YEAR, -4.0, tolerance), setting=setting, search=FoundSetting(setting, len(frame), 0, 0, 9.0, 9.0, True),
        sites=frame,        rejects=pd.DataFrame({"file": ["cabinets.csv"] * 3, "row": [17, 81, 400], "value": ["0, 0", "", "x"], "reason": ["a", "b", "c"]}),
        areas=areas, area_pieces=gpd.GeoDataFrame(pieces, columns=PIECE_COLUMNS, geometry="geometry", crs=4326), zones=zones, boundaries=boundaries_table(zones),
        drift_lines=lines, lattice=lattice, spread=pd.DataFrame(), clock_rules=clock_rules, backdrop=None,
        summary={"second_opinion": {"largest_s": 1.34}, "where": {"text": "Australia: middle 35.3° S, 140.7° E, 200 km east of Adelaide; "
                                                                          "220 km west to east, 300 km north to south"}},
        notes=("Columns: site_id from 'Cabinet', position from 'Lat' and 'Lon'.", "Separator ';' and decimal comma found."),
        versions={"geozone": "0.1.0", "tz database": "2026f", "zone boundaries": "2026b (timezonefinder 9.0)", "astral": "3.2"})
    return Answers(**{**fields, **changes})


def with_groups(answers: Answers, **options) -> Answers:
    """The same answers with the fewest settings, computed by geozone for these invented sites."""
    import geozone
    from geozone.grouping.grouptables import group_answers, group_columns
    named = {key: options[key] for key in ("keep_together", "within") if key in options}
    named |= {"existing_column": options["existing"]} if "existing" in options else {}
    plan = geozone.groups_of(answers.sites, answers.basis, **options)
    return _with(answers, group_answers(plan, answers.sites, answers.clock_rules, **named), group_columns(plan, answers.sites, answers.basis))


def with_invented_groups(answers: Answers, count: int, *, lower_bound: int | None = None, n_unserved: int = 0, kind: str = "weights",
                         names=lambda k: chr(65 + k) if k < 26 else "A" + chr(65 + k - 26), zone=lambda k: ADELAIDE,
                         columns: tuple[str, str, str] = ("", "contract", ""), **changes) -> Answers:
    """The same answers with invented groups: strips of sites from west to east, every figure made up."""
    from geozone.grouping.grouptables import group_answers
    from geozone.grouping.planrecords import CurvePoint, ExistingComparison, ExistingGroup, Groups, GroupSetting, Unserved, Witnesses
    sites, n = answers.sites, len(answers.sites)
    strip = np.argsort(np.argsort(sites["lon_deg"].to_numpy(), kind="stable"), kind="stable") * count // n
    group = np.array([names(k) for k in strip], dtype=object)
    ids = sites["site_id"].to_numpy(dtype=object)
    left_out = np.arange(n)[:n_unserved]
    group[left_out] = ""
    kept = [names(k) for k in range(count)]
    settings = []
    for k, name in enumerate(kept):
        mine = np.flatnonzero(group == name)
        keyed = Setting(round(-34.2 - 0.1 * k, 1), round(139.8 + 0.1 * k, 1), ADELAIDE, k % 5 - 2, (2 * k) % 7 - 3)
        settings.append(GroupSetting(name, keyed, 0, "", len(mine), 1.25 + k / 10, ids[mine[0]], "2027-06-21", "dusk",
                                     2.35 + k / 10, ids[mine[-1]], "2027-12-22", "dawn", 0.5))
    first = tuple(ids[np.flatnonzero(group == name)[0]] for name in kept)
    lower = count if lower_bound is None else lower_bound
    curve = tuple(CurvePoint(k, 8 / k, 40 / k, 30 / k, 40 / k, 8 / k, k % 2 == 0, ()) if k > 1
                  else CurvePoint(1, np.nan, np.nan, np.nan, np.nan, np.inf, True, ()) for k in range(1, count + 3))
    old = (ExistingGroup("North", 0, 30, settings[0].setting, False, 1.4, 7.04, 13.96, 3),
           ExistingGroup("South", 0, n - 30, settings[0].setting, True, 0.4, 2.0, 3.0, 1))
    unserved = tuple(Unserved(str(ids[k]), (ids[k],), settings[0].setting, 1.5 + k, 7.5 + k, 15.0 + k) for k in left_out)
    plan = Groups(count, lower, lower == count, count - lower, tuple(settings), group,
                  Witnesses(first, kind, (0.75,) * count, f"These {count} sites prove it."), curve,
                  ExistingComparison(old, 4, 4 - count), unserved, 0.0, ("A note on the plan.",))
    shown = group_answers(plan, sites, answers.clock_rules, keep_together=columns[0], existing_column=columns[1], within=columns[2])
    # A setting takes known zones only; the page has to stand whatever a table says.
    shown.settings["legal_zone"] = [zone(k) for k in range(len(shown.settings))]
    # Smooth over the ground, as real drift is: a page of 50,000 sites must not be judged by noise.
    drift = 2 + 2 * np.sin(3 * sites["lat_deg"].to_numpy() + 2 * sites["lon_deg"].to_numpy())
    drift = np.where(group == "", np.nan, drift)
    table = pd.DataFrame({"group": group, "group_dark_min": drift, "group_excess_min": 2 * drift,
                          "proof_site": sites["site_id"].isin(first)}, index=sites.index)
    return _with(answers, shown, table, **changes)


def _with(answers: Answers, groups, columns: pd.DataFrame, **changes) -> Answers:
    from dataclasses import replace
    sites = gpd.GeoDataFrame(pd.concat([answers.sites, columns], axis=1), geometry="geometry", crs=4326)
    return replace(answers, groups=groups, sites=sites, **changes)
