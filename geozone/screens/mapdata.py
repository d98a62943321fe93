"""What the map page says and shows, as plain data: words, counts and the columns of the sites."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..answers import Answers
from ..plurals import counted
from ..grouping.cabinets import cabinet_names
from ..schema.vocabulary import EDGE, VERDICT
from ..trade.keypad import keyed_position
from . import mapoutlines
from .mapcolumns import MISSING, STEPS_PER_DEG, bits, coded, known_places, packed, raised, tenths
from .mapgroups import group_site_columns, page_groups
from .mapoutlines import Frame
from .mapprogrammes import page_programmes, programme_site_columns
from .mapsky import page_sky, solar_lon_deg
from .mapwords import clock_words, minutes, number, offset_words
from .mapzones import page_zones, zone_site_column


CAUTIONS = (
    "Dusk and dawn are computed for a flat horizon and a clear sky. Hills, trees, buildings and cloud bring darkness earlier.",
    "How bright a street must be, and at which hours, is for the road authority to decide.",
    "Work at the electricity supply is for qualified people under local rules. Isolate first.",
)


#: In the head of a map without a site list, whatever the view.
STAND_INS = "no site list: “sites” are points inside the outlines, standing in"


def page_data(answers: Answers) -> dict:
    """Everything that the page shows, ready for JSON; every text in it is untrusted and is shown as text only.

    Parameters
    ----------
    answers : Answers

    Returns
    -------
    dict
        Words (``title``, ``headline``, ``facts`` ...), ``counts``, ``groups`` (None if the run has no plan, see
        `page_groups`), ``zoning`` (the same for zones, see `page_zones`), ``programmes`` (only if the run has some, see `page_programmes`), ``sites`` (packed columns, see
        `site_columns`) and ``outlines`` (packed lines). The same answers
        give the same dict.
    """
    frame = Frame(answers.sites, answers.areas)
    counts = site_counts(answers)
    programmes = {} if answers.programmes is None else {"programmes": page_programmes(answers)}
    boxes = {name: [south, west, north, east] for name, (west, south, east, north) in
             (("bounds", frame.bounds), ("first", frame.first_view))}
    return {
        "title": str(answers.title),
        "year": int(answers.year),
        "headline": headline(counts),
        "where": "; ".join(filter(None, (str((answers.summary.get("where") or {}).get("text", "")), "" if answers.listed else STAND_INS))),
        "threshold": {"altitude_deg": float(answers.altitude_deg), "text": str(answers.threshold_text)},
        "tolerance": {"dark": number(answers.tolerance.dark_min), "excess": number(answers.tolerance.excess_min)},
        "counts": counts,
        "vocabulary": {one.name: one.words() for one in (VERDICT, EDGE)},
        "worst": {"dark": worst(answers.sites, "worst_dark_min"), "excess": worst(answers.sites, "worst_excess_min")},
        "setting": setting_facts(answers, frame),
        "sky": page_sky(answers),
        "groups": page_groups(answers, frame),
        "zoning": page_zones(answers, frame),
        **programmes,
        "facts": facts(answers, counts),
        "cut_areas": cut_areas(answers.area_pieces),
        "notes": [str(note) for note in answers.notes],
        "cautions": list(CAUTIONS),
        "versions": [[str(name), str(version)] for name, version in answers.versions.items()],
        **boxes,
        "sites": site_columns(answers, frame),
        "outlines": {
            "world": mapoutlines.world(frame),
            "backdrop": mapoutlines.backdrop(answers.backdrop, frame),
            "areas": mapoutlines.areas(answers.areas, frame),
            "boundaries": mapoutlines.boundaries(answers.boundaries, answers.zones, clock_texts(answers), frame),
            "drift": mapoutlines.drift_lines(answers.drift_lines, frame),
        },
    }


def site_counts(answers: Answers) -> dict[str, int]:
    """How many sites there are of each kind."""
    sites, tolerance = answers.sites, answers.tolerance
    beyond = sites["result"] == "beyond"
    return {
        "sites": len(sites),
        "within": int((sites["result"] == "within").sum()),
        "beyond": int(beyond.sum()),
        "beyond_dark": int((beyond & (sites["worst_dark_min"] > tolerance.dark_min)).sum()),
        "beyond_excess": int((beyond & (sites["worst_excess_min"] > tolerance.excess_min)).sum()),
        "other_clock": int((sites["result"] == "other clock").sum()),
        "confirm": int(sites["confirm_zone"].astype(bool).sum()),
        "rejected": len(answers.rejects),
    }


def headline(counts: dict[str, int]) -> str:
    """The answer in one sentence."""
    n, within, beyond, other = (counts[key] for key in ("sites", "within", "beyond", "other_clock"))
    if within == n:
        return f"One setting serves {'the one site' if n == 1 else 'both sites' if n == 2 else f'all {n:,} sites'}."
    parts = []
    if beyond:
        parts.append(f"{beyond:,} {'is' if beyond == 1 else 'are'} beyond tolerance")
    if other:
        parts.append(f"{other:,} {'keeps' if other == 1 else 'keep'} another clock")
    start = f"One setting serves {within:,} of {n:,} sites" if within else \
        ("The setting does not serve the one site" if n == 1 else f"The setting serves none of the {n:,} sites")
    return f"{start}; {' and '.join(parts)}." if n > 1 else f"{start}: it {' and '.join(p[2:] for p in parts)}."


def worst(sites: pd.DataFrame, column: str) -> str:
    """The most minutes off of the sites that keep the setting's clock, to one decimal; "" if there is none."""
    values = sites.loc[sites["result"] != "other clock", column].dropna()
    return minutes(values.max()) if len(values) else ""


def setting_facts(answers: Answers, frame: Frame) -> dict:
    """The shared setting: where it lies, and what is keyed, in words."""
    setting = answers.setting
    position = keyed_position(setting.lat_deg, setting.lon_deg, answers.keypad.coordinate_step_deg)
    lon_deg = setting.lon_deg + 360 if frame.crosses and setting.lon_deg < 0 else setting.lon_deg
    return {
        "lat_deg": float(setting.lat_deg),
        "lon_deg": float(lon_deg),
        "position": position,
        "keyed": [["Position", position],
                  ["Clock", clock_words(answers.summary.get("shared", {}).get("clock_to_key", ""), setting.legal_zone)],
                  ["At dusk", offset_words(setting.dusk_offset_min)],
                  ["At dawn", offset_words(setting.dawn_offset_min)]],
        "origin": f"Found by geozone. {answers.search.words}" if answers.search is not None else "Given in the job file.",
        "clock": "Every switch runs its own clock with this setting." if answers.clock == "own"
                 else "One switch on this clock commands all sites.",
        "master": answers.clock == "master",
    }


def facts(answers: Answers, counts: dict[str, int]) -> list[list[str]]:
    """What the results rest on, as label and text."""
    tolerance = answers.tolerance
    lines = [
        ["Tolerance", f"at any one switching at most {number(tolerance.dark_min)} min unlit (on late or off early) "
                      f"and {number(tolerance.excess_min)} min lit too long (on early or off late)"],
        ["Dark threshold", str(answers.threshold_text)],
        ["Year", f"every night of {answers.year}"],
        ["Keypad", f"position in steps of {number(answers.keypad.coordinate_step_deg)}°, "
                   f"offsets up to {answers.keypad.offset_limit_min} min"],
    ]
    for rule in answers.clock_rules.itertuples():
        lines.append([f"Clock of {counted(int(rule.sites), 'site')}", f"{', '.join(map(str, rule.legal_zones))}: {rule.text}"])
    if counts["rejected"]:
        lines.append(["Left out", f"{counted(counts['rejected'], 'row')} of the site list "
                                  "could not be used: see rejects.csv"])
    opinion = answers.summary.get("second_opinion") or {}
    largest_s = opinion.get("largest_s")
    if isinstance(largest_s, (int, float)) and np.isfinite(largest_s):
        missed = opinion.get("unmatched") or 0
        lines.append(["Checked", f"a sample of these times against a second calculation (astral): largest difference {largest_s:,.1f} s"
                      + (f"; {missed:,} not found by it" if missed else "")])
    return lines


def clock_texts(answers: Answers) -> dict[str, str]:
    """The clock of each legal zone in words, as far as sites or areas lie in it."""
    texts = {str(row.legal_zone): str(row.clock_rule_text) for row in answers.area_pieces.itertuples()}
    for rule in answers.clock_rules.itertuples():
        texts.update({str(zone): str(rule.text) for zone in rule.legal_zones})
    return texts


def cut_areas(pieces: pd.DataFrame) -> list[str]:
    """The areas that a legal-zone boundary cuts, with each side's share."""
    lines = []
    for area, rows in pieces.groupby("area", sort=False):
        if len(rows) > 1:
            shares = ", ".join(f"{share_words(row.share)} {row.legal_zone}"
                               for row in rows.sort_values("share", ascending=False).itertuples())
            lines.append(f"{area}: {shares}")
    return lines


def share_words(share: float) -> str:
    """A part of an area in per cent: never all of it, nor none, where there is another part."""
    return "under 1%" if share < 0.01 else "over 99%" if share > 0.99 else f"{share:.0%}"


def site_columns(answers: Answers, frame: Frame) -> dict:
    """The sites as packed columns, neighbours on the ground beside each other, so that differences stay small.

    Returns
    -------
    dict
        ``count``; ``id`` and ``name`` as text (``name`` empty if no site has one); ``tables`` of the texts that columns
        point to; ``columns`` of integers: minutes and watts in tenths, positions in 1e-5 degree, distances in 100 m.
    """
    sites = answers.sites.assign(solar_lon=solar_lon_deg(answers))
    order = np.argsort(_along_a_curve(sites), kind="stable")
    sites = sites.iloc[order]
    lon_deg = sites["lon_deg"].to_numpy(dtype=float)
    lon_deg = np.where(lon_deg < 0, lon_deg + 360, lon_deg) if frame.crosses else lon_deg
    boundary = sites["boundary_m"].to_numpy(dtype=float)
    near = np.isfinite(boundary)
    areas, area = coded(sites["area"])
    zones, zone = coded(sites["legal_zone"], blank=None)
    nights, night = coded([*sites["worst_dark_night"], *sites["worst_excess_night"]])
    rules = {rule: place for place, rule in enumerate(answers.clock_rules.index)}
    columns = {
        "lat": np.rint(sites["lat_deg"].to_numpy(dtype=float) * STEPS_PER_DEG),
        "lon": np.rint(lon_deg * STEPS_PER_DEG),
        "turn": np.rint((sites["solar_lon"].to_numpy(dtype=float) - lon_deg) / 360.0),
        "verdict": known_places(sites["result"], VERDICT.codes, blank=None),
        "dark": tenths(sites["worst_dark_min"]),
        "dark_night": night[:len(sites)],
        "dark_edge": known_places(sites["worst_dark_edge"], EDGE.codes),
        "excess": tenths(sites["worst_excess_min"]),
        "excess_night": night[len(sites):],
        "excess_edge": known_places(sites["worst_excess_edge"], EDGE.codes),
        "nights_beyond": sites["nights_beyond"].fillna(MISSING),
        "dark_year": tenths(sites["dark_year_min"]),
        "excess_year": tenths(sites["excess_year_min"]),
        "area": area,
        "zone": zone,
        "zone_listed": sites["legal_zone_source"] == "site list",
        "rule": sites["clock_rule"].map(rules).fillna(MISSING),
        "confirm": sites["confirm_zone"].astype(bool),
        "boundary": np.where(near, np.rint(np.where(near, boundary, 0.0) / 100), MISSING),
        "load": tenths(sites["load_w"]),
    }
    cabinets: dict[str, list[str]] = {}
    if answers.groups is not None and answers.groups.keep_together:
        cabinets["cabinets"], columns["cabinet"] = coded(cabinet_names(sites, answers.groups.keep_together))
    if answers.groups is not None:
        columns |= group_site_columns(sites, answers.groups.settings["group"].astype(str).tolist())
    if answers.zoning is not None:
        columns |= zone_site_column(sites, answers.zoning.zones["zone"].astype(str).tolist())
    if answers.programmes is not None:
        columns |= programme_site_columns(sites, answers.programmes)
        plain = {programme.name for programme in answers.programmes.programmes if programme.plain}
        columns["plain"] = answers.programmes.sites.loc[sites.index, "programme"].isin(plain)
    names = sites["name"].astype(str)
    return {
        "count": len(sites),
        "id": sites["site_id"].astype(str).tolist(),
        "name": names.tolist() if (names != "").any() else [],
        "tables": {"areas": areas, "zones": zones, "nights": nights, "edges": list(EDGE.codes), "verdicts": list(VERDICT.codes),
                   "rules": [str(text) for text in answers.clock_rules["text"]], **cabinets},
        "columns": {name: packed(np.asarray(values, dtype=np.int64)) for name, values in columns.items()}
        | {f"{name}_raised": bits(raised(sites[f"worst_{name}_min"])) for name in ("dark", "excess")},
    }


def _along_a_curve(sites) -> np.ndarray:
    """Distance along a space-filling curve: neighbours in this order are neighbours on the ground."""
    west, south, east, north = sites.total_bounds
    if not (east > west and north > south):  # one point, or points on one parallel or meridian: a curve needs a square
        return np.lexsort((sites["lat_deg"], sites["lon_deg"])).argsort()
    return sites.geometry.hilbert_distance(level=16).to_numpy()
