"""The tables that follow the map sheet: settings, programmes with hours and energy, index of sites."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .maplayers import group_swatches
from .mapview import MapView
from .options import SheetOptions
from .phrases import clocks_in_words, clocks_to_key, headline_words, programme_words, signed
from .sheetdata import position_text
from .words import Words
from .zonewords import zone_lines

if TYPE_CHECKING:
    from ..answers import Answers

#: Largest number of sites in the index: more fill a book, and setting them takes a minute and 2 GB. `sites.csv` has all.
INDEX_LIMIT = 5_000


def sheet_tables(answers: "Answers", options: SheetOptions, view: MapView, words: Words) -> list[dict]:
    """Tables as plain data: heads, rows of text, widths (0 = as wide as its text) and which columns are figures."""
    parts = []
    if answers.groups is not None and len(answers.groups.settings):
        parts.append(_settings(answers, options, words))
    if answers.zoning is not None and len(answers.zoning.zones):
        parts.append(_zones(answers, options, words))
    if answers.programmes is not None:
        parts.append(_programmes(answers, options, words))
    parts.append(_index(answers, options, view, words))
    # Short tables and the index share a sheet; long ones would leave the index a strip.
    rows = sum(len(part["rows"]) for part in parts[:-1])
    parts[-1]["newpage"] = rows > 0.06 * options.paper.height
    parts[0]["newpage"] = False
    return parts


def _table(head: str, heads: list[str], rows: list[list[str]], widths: list[float], align: str, *, size: float, columns: int = 1,
           lines=(), newpage: bool = True) -> dict:
    return {"head": head, "heads": heads, "rows": rows, "widths": widths, "align": list(align), "size": size, "columns": columns,
            "lines": list(lines), "newpage": newpage}


def _is_wide(options: SheetOptions) -> bool:
    return options.paper.frame.width > 300


def _settings(answers: "Answers", options: SheetOptions, words: Words) -> dict:
    step = answers.keypad.coordinate_step_deg
    swatches, clocks = group_swatches(answers), clocks_to_key(answers, words)
    rows = [[{"svg": swatches[str(row.group)]}, str(row.group), words.number(row.sites), position_text(row, words, step), clocks[str(row.legal_zone)],
             signed(row.dusk_offset_min), signed(row.dawn_offset_min), words("min", n=words.number(row.worst_dark_min, 1)),
             words("min", n=words.number(row.worst_excess_min, 1))] for row in answers.groups.settings.itertuples()]
    heads = [words(key) for key in ("hatch", "group", "sites", "position", "clock_to_key", "dusk_offset", "dawn_offset", "worst_dark", "worst_excess")]
    return _table(words("settings_table"), heads, rows, [0, 0, 0, 0, 0 if _is_wide(options) else 1, 0, 0, 0, 0], "llrllrrrr", size=2.8 if _is_wide(options) else 2.1, lines=[headline_words(answers.groups, len(answers.sites), words)])


def _zones(answers: "Answers", options: SheetOptions, words: Words) -> dict:
    """Zones with the outlines that each is made of; hatched only where the map shows them and not groups."""
    step, zoning, drawn = answers.keypad.coordinate_step_deg, answers.zoning, answers.groups is None
    swatches = group_swatches(answers) if drawn else {}
    clocks = clocks_in_words(answers, zoning.zones["legal_zone"], words)
    rows = [[*([{"svg": swatches[str(row.zone)]}] if drawn else []), str(row.zone), str(row.areas), words.number(row.area_km2, 0), position_text(row, words, step),
             clocks[str(row.legal_zone)], signed(row.dusk_offset_min), signed(row.dawn_offset_min), words("min", n=words.number(row.worst_dark_min, 1)),
             words("min", n=words.number(row.worst_excess_min, 1))] for row in zoning.zones.itertuples()]
    keys = (*(("hatch",) if drawn else ()), "zone", "outlines", "km2", "position", "clock_to_key", "dusk_offset", "dawn_offset", "worst_dark", "worst_excess")
    wide = _is_wide(options)
    widths = [*([0] if drawn else []), 0, 1, 0, 0, 0 if wide else 1, 0, 0, 0, 0]
    return _table(words("zones_table"), [words(key) for key in keys], rows, widths, ("l" if drawn else "") + "llrllrrrr", size=2.8 if wide else 2.1,
                  lines=zone_lines(zoning, words), newpage=False)


def _programmes(answers: "Answers", options: SheetOptions, words: Words) -> dict:
    found = answers.programmes
    by = found.hours[found.hours["level"] == "programme"].set_index("programme")
    rows = []
    for programme in found.programmes:
        if programme.name not in by.index:
            continue
        row = by.loc[programme.name]
        cost = f"{words.number(row['cost'], 0)} {found.currency}".strip() if np.isfinite(row["cost"]) and row["cost"] > 0 else ""
        rows.append([programme.name, programme_words(programme, words), words.number(int(row["sites"])), words.number(row["lit_h"]),
                     words.number(row["kwh"]) if row["sites_with_load"] else "", cost])
    heads = [words(key) for key in ("programme", "events", "sites", "hours", "energy", "cost")]
    return _table(words("programmes"), heads, rows, [0, 0 if _is_wide(options) else 1, 0, 0, 0, 0], "llrrrr", size=2.8 if _is_wide(options) else 2.1,
                  newpage=False)


def _index(answers: "Answers", options: SheetOptions, view: MapView, words: Words) -> dict:
    sites = answers.sites
    if len(sites) > INDEX_LIMIT:
        return _table(words("index"), [], [], [], "", size=1.9, lines=[words("index_left_out", n=words.number(len(sites)))])
    x, y = view.on_sheet(sites["lon_deg"].to_numpy(float), sites["lat_deg"].to_numpy(float))
    grouped = answers.groups is not None
    step = answers.keypad.coordinate_step_deg
    rows = []
    order = sorted(range(len(sites)), key=lambda i: (str(sites["site_id"].iloc[i]).casefold(), i))
    keyed = {str(row.group): f"{position_text(row, words, step)}, {signed(row.dusk_offset_min)} / {signed(row.dawn_offset_min)}"
             for row in answers.groups.settings.itertuples()} if grouped else {}
    names, ids = sites["name"].astype(str).to_numpy(), sites["site_id"].astype(str).to_numpy()
    group = sites["group"].astype(str).to_numpy() if grouped else None
    for i in order:
        reference = options.paper.reference(float(x[i]), float(y[i])) if view.box.holds(float(x[i]), float(y[i])) else ""
        row = [ids[i], names[i] if names[i] != ids[i] else "", reference]
        rows.append(row + ([group[i] or words("alone"), keyed.get(group[i], "")] if grouped else []))
    heads = [words(key) for key in ("site", "name", "grid", *(("group", "key") if grouped else ()))]
    wide = options.paper.frame.width
    return _table(words("index"), heads, rows, [0, 1, 0, 0, 0] if grouped else [0, 1, 0], "lllll" if grouped else "lll", size=1.9,
                  columns=max(1, int(wide // (125 if grouped else 90))))
