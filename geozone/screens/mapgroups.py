"""The fewest settings on the map page, as plain data: headline, settings table, outlines, proof, curve, comparison."""

from __future__ import annotations

import numpy as np
import pandas as pd
import shapely

from ..answers import Answers
from ..plurals import counted
from ..grouping.grouptables import GroupAnswers
from ..grouping.grouphues import hues_apart
from ..trade.keypad import keyed_text
from .mapcolumns import known_places, tenths
from .mapoutlines import Frame, places_for_a_name, rings, thinned
from .mapwords import minutes, offset_sign, offset_words

#: Pieces of an outline that may carry its letter: a group that lies scattered is found by its colour and in the list.
LETTERED_PIECES = 6

#: Rows of a list of existing or unserved groups; existing.csv and unserved.csv have them all.
MOST_LISTED = 40

#: Below this a further setting is not worth a switch of its own: half of the whole minute that a keypad can be set to.
STOPS_PAYING_MIN = 0.5


def page_groups(answers: Answers, frame: Frame) -> dict | None:
    """Everything that the page shows of a plan; None if the run has none.

    Returns
    -------
    dict or None
        ``headline``, ``count``, ``lower_bound``, ``proved``, ``settings`` (a row a group, with its outline), ``why``,
        ``curve``, ``existing``, ``unserved``, ``notes``. Every text in it is untrusted and is shown as text only.
    """
    groups = answers.groups
    if groups is None:
        return None
    plan = groups.plan
    without = int((np.asarray(plan.group_of_site, dtype=object) == "").sum())
    return {
        "headline": groups.headline,
        "count": int(plan.count),
        "lower_bound": int(plan.lower_bound),
        "proved": bool(plan.proved),
        "without": without,
        "keep_together": str(groups.keep_together),
        "within": str(groups.within),
        "offsets": bool(groups.offsets),
        "settings": settings_rows(groups, frame, answers.keypad.coordinate_step_deg),
        "shared_spots": int(groups.hulls["shared_spots"].max()) if len(groups.hulls) else 0,
        "no_setting": groups.rules.no_setting,
        "why": why_not_fewer(groups),
        "curve": curve_points(groups.curve, plan),
        "curve_words": curve_words(groups.curve, plan.count),
        "clocks": len(answers.clock_rules),
        "existing": existing_rows(groups),
        "unserved": unserved_rows(groups),
        "notes": [str(note) for note in plan.notes],
    }


def settings_rows(groups: GroupAnswers, frame: Frame, step_deg: float) -> list[dict]:
    """A row a group: what to key in, how its sites fare, its look on the map and its outline."""
    shapes = frame.unrolled(groups.hulls.set_index("group").geometry)
    names = groups.settings["group"].astype(str).tolist()
    looks = dict(zip(names, hues_apart([shapes.get(name, shapely.Point()) for name in names])))
    shapes = thinned(shapes)
    rows = []
    for row in groups.settings.itertuples():
        hue, cycle = looks[str(row.group)]
        shape = shapes.get(row.group, shapely.MultiPolygon())
        pieces = sorted((part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"),
                        key=lambda part: part.area, reverse=True)
        rows.append({
            "name": str(row.group), "hue": hue, "cycle": cycle, "sites": int(row.sites), "within": str(row.within),
            **keyed(row, step_deg), "clock": str(row.clock), "to_key": str(row.clock_to_key),
            "dark": worst_of(row, "dark"), "excess": worst_of(row, "excess"),
            "rings": rings(shape), "places": [places_for_a_name(piece, 5) for piece in pieces[:LETTERED_PIECES]],
        })
    return rows


def keyed(row, step_deg: float) -> dict[str, str]:
    """What is keyed in, as a table and as sentences have it."""
    return {"lat": keyed_text(row.lat_deg, step_deg, "NS"), "lon": keyed_text(row.lon_deg, step_deg, "EW"), "zone": str(row.legal_zone),
            "dusk": offset_sign(row.dusk_offset_min), "dawn": offset_sign(row.dawn_offset_min),
            "dusk_words": offset_words(row.dusk_offset_min), "dawn_words": offset_words(row.dawn_offset_min)}


def worst_of(row, kind: str) -> list[str]:
    """Minutes, site, night and edge of the worst switching of one kind."""
    return [minutes(getattr(row, f"worst_{kind}_min")),
            *(str(getattr(row, f"worst_{kind}_{what}")) for what in ("site", "night", "edge"))]


def why_not_fewer(groups: GroupAnswers) -> dict:
    """The proof: its sentence without the list of names, and the witness sites, the heaviest first."""
    witnesses = groups.plan.witnesses
    names = [str(one) for one in witnesses.site_ids] if witnesses.kind != "none" else []
    weights = list(witnesses.weight) if len(witnesses.weight) == len(names) else [1.0] * len(names)
    order = sorted(range(len(names)), key=lambda k: (-weights[k], k))
    listed = f": {', '.join(names)}."
    sentence = str(witnesses.sentence)
    return {"kind": witnesses.kind, "sentence": f"{sentence.removesuffix(listed)}." if names and sentence.endswith(listed) else sentence,
            "reason": groups.reason, "sites": [names[k] for k in order],
            "weights": [f"{weights[k]:.2f}" for k in order] if witnesses.kind == "weights" else []}


def curve_points(curve: pd.DataFrame, plan) -> list[dict]:
    """Points of the curve: figures to draw (None where no plan exists) and the same in words.

    ``plan`` is true where a point has the very figures of the plan: the curve is drawn for all sites, so where some are in
    no group, or where the search for the curve came further, its point of as many settings is another grouping.
    """
    own = minutes(plan.worst_dark_min), minutes(plan.worst_excess_min)
    whole = not plan.unserved
    return [{"k": int(row.k), "proved": bool(row.proved),
             "plan": whole and int(row.k) == plan.count and (minutes(row.worst_dark_min), minutes(row.worst_excess_min)) == own,
             **{name: round(float(value), 3) if np.isfinite(value) else None
                for name, value in (("dark", row.worst_dark_min), ("excess", row.worst_excess_min), ("worst", row.worst_min))},
             "dark_text": minutes(row.worst_dark_min), "excess_text": minutes(row.worst_excess_min)}
            for row in curve.itertuples()]


def curve_words(curve: pd.DataFrame, count: int) -> str:
    """What the settings after the plan's own number take off the worst minutes; "" if the curve does not go on there.

    All of it is said of the figures as they are shown, to one decimal, so that no sentence contradicts the table.
    """
    worst = {int(row.k): float(np.round(row.worst_min, 1)) for row in curve.itertuples() if np.isfinite(row.worst_min)}
    gains = [(k + 1, max(0.0, round(worst[k] - worst[k + 1], 1))) for k in sorted(worst) if k >= count and k + 1 in worst]
    if not gains:
        return ""
    words, so_far = "", 0.0
    for k, gain in gains[:4]:
        step = "nothing" if not gain else f"another {gain:.1f}" if so_far else counted(gain, "minute")
        article = "an" if k in (8, 11, 18) else "a"
        words += f", {article} {_ordinal(k)} {step}" if words else f"{article.capitalize()} {_ordinal(k)} setting would take {step} off the worst"
        so_far += gain
    words += "."
    small = [gain < STOPS_PAYING_MIN for _, gain in gains]
    if not any(small):
        return words + " Each one more in this table takes off half a minute or more."
    if small[-1]:
        start = gains[max((i for i, less in enumerate(small) if not less), default=-1) + 1][0] - 1
        words += f" From {counted(start, 'setting')} on, one more takes off less than half a minute, as far as the table goes."
    return words


def _ordinal(n: int) -> str:
    return f"{n}{'th' if n % 100 in (11, 12, 13) else {1: 'st', 2: 'nd', 3: 'rd'}.get(n % 10, 'th')}"


def existing_rows(groups: GroupAnswers) -> dict | None:
    """Today's groups against the plan: totals, those on several clocks, and those that no single setting serves."""
    comparison, table = groups.plan.existing, groups.existing
    if comparison is None:
        return None
    rows = []
    for name, parts in table.groupby("existing", sort=False):
        bad = parts[~parts["served"].astype(bool)]
        rows.append({"name": str(name), "sites": int(parts["sites"].sum()), "needed": int(parts["settings_needed"].sum()),
                     "clocks": len(parts),
                     "beyond": [{"clock": str(part.clock), "sites": int(part.sites), "needed": int(part.settings_needed),
                                 "dark": minutes(part.worst_dark_min), "excess": minutes(part.worst_excess_min)}
                                for part in bad.itertuples()]})
    beyond = sorted((row for row in rows if row["beyond"]), key=lambda row: (-row["needed"], row["name"]))
    several = [f"{row['name']} ({row['clocks']})" for row in rows if not row["beyond"] and row["clocks"] > 1]
    return {"column": str(groups.existing_column), "groups": len(rows), "needed": int(comparison.settings_needed),
            "saved": int(comparison.settings_saved), "without": int(comparison.without), "proved": bool(comparison.proved),
            "one_setting": len(rows) - len(beyond) - len(several),
            "several_clocks": several[:MOST_LISTED], "more_clocks": max(0, len(several) - MOST_LISTED),
            "rows": beyond[:MOST_LISTED], "more": max(0, len(beyond) - MOST_LISTED)}


def unserved_rows(groups: GroupAnswers) -> dict:
    """Units in no group, with tolerances that would do, the nearest miss last."""
    table = groups.unserved.sort_values("tolerance_share", ascending=False, kind="stable")
    rows = [{"unit": str(row.unit), "sites": int(row.sites), "dark": minutes(row.dark_min), "excess": minutes(row.excess_min)}
            for row in table.head(MOST_LISTED).itertuples()]
    return {"rows": rows, "more": max(0, len(table) - MOST_LISTED), "proved": all(one.proved for one in groups.plan.unserved)}


def group_site_columns(sites: pd.DataFrame, names: list[str]) -> dict[str, np.ndarray]:
    """The plan's columns of the sites as whole numbers: place of the group in `names`, minutes in tenths, witness.

    Parameters
    ----------
    sites : DataFrame, n rows
        Columns group, group_dark_min, group_excess_min, witness.
    names : list of str
        Groups in the order of the settings table.
    """
    return {"group": known_places(sites["group"].astype(str), tuple(names)),
            "group_dark": tenths(sites["group_dark_min"]),
            "group_excess": tenths(sites["group_excess_min"]),
            "witness": sites["proof_site"].astype(bool)}
