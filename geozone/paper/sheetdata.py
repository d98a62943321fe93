"""What stands on the sheet, as plain data for its template."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from ..trade.keypad import keyed_position
from .inset import inset_box, inset_picture
from .maplabels import graticule_labels, map_labels
from .maplayers import BORDER, LINES, OUTLINE, ground_points, group_swatches, map_layers
from .mapview import MapView
from .options import SheetOptions
from .pdfmap import END
from .phrases import clocks_to_key, headline_words, signed, threshold_words
from .signs import sign_pictures
from .sizes import Box
from .words import Words
from .zonewords import keyed_ground, zone_lines

if TYPE_CHECKING:
    from ..answers import Answers

#: Height of the strip that holds title block, revisions and cautions, and of the title block's usual width [mm].
STRIP_MM, TITLE_BLOCK_MM = 34.0, 180.0
#: Name of the layer of names.
LABELS = "Labels"
_LABEL_COLOURS = {"group": "#121a3a", "area": "#585140", "line": "#121a3a", "border": "#a5342a", "site": "#121a3a"}
_FURNITURE_MM = 11.0
#: Room for the labels of the graticule round the map [mm].
_RIM_MM = 4.2
#: More settings have no room in any panel; all of them stand in the table that follows.
_PANEL_SETTINGS = 60


def layout(options: SheetOptions) -> dict[str, Box]:
    """Where the parts of a map sheet lie [mm]: map, furniture, panel, remarks, titleblock."""
    frame = options.paper.frame
    narrow = frame.width < 300
    strip = 2 * STRIP_MM if frame.width < TITLE_BLOCK_MM + 80 else STRIP_MM
    above = frame.height - strip
    block_width = min(TITLE_BLOCK_MM, frame.width)
    block = Box(frame.right - block_width, frame.bottom - STRIP_MM, block_width, STRIP_MM)
    remarks = Box(frame.x, frame.y + above, frame.width, STRIP_MM) if strip > STRIP_MM else \
        Box(frame.x, block.y, frame.width - block_width, STRIP_MM)
    if options.paper.orientation == "landscape":
        panel_width = max(82.0, 0.29 * frame.width) if not narrow else 82.0
        panel = Box(frame.right - panel_width, frame.y, panel_width, above)
        left = Box(frame.x, frame.y, frame.width - panel_width, above)
    else:
        panel_height = max(62.0, 0.24 * frame.height)
        panel = Box(frame.x, frame.y + above - panel_height, frame.width, panel_height)
        left = Box(frame.x, frame.y, frame.width, above - panel_height)
    furniture = Box(left.x, left.bottom - _FURNITURE_MM, left.width, _FURNITURE_MM)
    area = Box(left.x + _RIM_MM, left.y + _RIM_MM, left.width - 2 * _RIM_MM, left.height - _FURNITURE_MM - 2 * _RIM_MM)
    return {"map": area, "furniture": furniture, "panel": panel, "remarks": remarks, "titleblock": block}


def position_text(setting, words: Words, step_deg: float) -> str:
    """A keyed position with the keypad's digits and hemispheres."""
    return keyed_position(setting.lat_deg, setting.lon_deg, step_deg, words.number)


def title_fields(answers: "Answers", options: SheetOptions, words: Words) -> dict[str, str]:
    """Fields of the title block."""
    names = ("owner", "department", "reference", "status", "supplement", "number", "revision", "creator", "approver")
    fields = {name: getattr(options, name) for name in names}
    fields["document_type"] = options.document_type or words("default_type")
    fields["date"] = words.date(date.fromisoformat(options.issued), "medium") if options.issued else ""
    return fields


def map_sheet(answers: "Answers", options: SheetOptions, view: MapView, words: Words, heading: str, match: list[str]) -> dict:
    """One sheet with a map."""
    paper, parts = options.paper, layout(options)
    layers = map_layers(answers, view)
    corner = inset_box(view, ground_points(answers, view))
    labels, left = map_labels(answers, view, words, corner)
    bar_m, bar_mm, bar_words = view.bar(min(60.0, 0.4 * view.box.width))
    return {
        "heading": heading, "scale": f"1:{words.number(view.scale)}", "projection": view.projection.name,
        "paper": {"width": paper.width, "height": paper.height, "frame": _box(paper.frame),
                  "across": [{"name": name, "begin": begin, "end": end} for name, begin, end in paper.fields("x")],
                  "down": [{"name": name, "begin": begin, "end": end} for name, begin, end in paper.fields("y")]},
        "map": {**_box(view.box), "labels_layer": LABELS, "end": END, "layers": [{"name": layer.name, "svg": layer.svg.decode()} for layer in layers],
                "labels": [{**_box(one.box), "text": one.text, "size": one.size_mm, "bold": one.bold, "colour": _LABEL_COLOURS[one.kind]}
                           for one in labels],
                "graticule": [{"text": text, "side": side, "place": place} for text, side, place in graticule_labels(view)]},
        "bar": {"length": bar_mm, "words": bar_words, "ground_m": bar_m}, "north": _north(view, words),
        **{name: _box(parts[name]) for name in ("furniture", "panel", "remarks", "titleblock")},
        "panel_columns": 1 if paper.orientation == "landscape" else max(2, int(parts["panel"].width // 85)),
        "parts": _panel(answers, options, words, left, match), "inset": None if corner is None else inset_picture(view, corner, words),
    }


def _box(box: Box) -> dict[str, float]:
    return {"x": float(box.x), "y": float(box.y), "width": float(box.width), "height": float(box.height)}


def _north(view: MapView, words: Words) -> dict:
    turn = view.convergence_deg()
    if abs(turn) < 0.05:
        return {"turn": 0.0, "words": words("north_same")}
    return {"turn": 0.0, "words": words("north_true", degrees=words.number(abs(turn), 1), side=words("east" if turn > 0 else "west"))}


def _panel(answers: "Answers", options: SheetOptions, words: Words, left: list, match: list[str]) -> list[dict]:
    """Legend, settings, notes and what found no room on the map. The template measures them, and what has no room follows."""
    parts = [_signs(answers, words), _lines_part(answers, words), _settings(answers, words)]
    curve = _curve(answers, words)
    if curve:
        parts.append(curve)
    if match:
        parts.append({"kind": "text", "head": words("neighbours"), "lines": match})
    parts.append(_notes(answers, words))
    if left:
        lines = []
        for one in left:
            x, y = one.places[0]
            lines.append(words("no_room_row", text=one.text, reference=options.paper.reference(float(x), float(y))))
        parts.append({"kind": "text", "head": words("no_room"), "lines": ["; ".join(lines)]})
    return parts


def _signs(answers: "Answers", words: Words) -> dict:
    verdict, signs = answers.sites["result"], sign_pictures()
    return {"kind": "signs", "head": words("legend"),
            "rows": [{"svg": signs[code], "words": words(f"verdict_{code.replace(' ', '_')}"), "count": words.number(int((verdict == code).sum()))}
                     # Under one master clock a site's own clock does not matter, and none is counted by it.
                     for code in ("within", "beyond", *(() if answers.clock == "master" else ("other clock",)))]}


def _lines_part(answers: "Answers", words: Words) -> dict:
    def look(colour, width, dash):
        return {"colour": colour, "width": width, "dash": list(dash)}

    present = set(answers.drift_lines["kind"])
    rows = [{"look": look(*LINES[kind]), "words": words(f"line_{kind}")} for kind in ("tolerance", "drift") if kind in present]
    if "dusk" in present:
        night = answers.spread.loc[answers.spread["dusk_spread_min"].idxmax(), "night"]
        rows.append({"look": look(*LINES["dusk"]),
                     "words": words("line_dusk", zone=answers.setting.legal_zone, date=words.date(date.fromisoformat(str(night)), "medium"))})
    if (~answers.boundaries["same_clock"].astype(bool)).any():
        rows.append({"look": look(*BORDER), "words": words("line_border")})
    rows.append({"look": look(OUTLINE, 0.45, ()), "words": words("line_outline")})
    return {"kind": "lines", "head": words("lines"), "rows": rows}


def _settings(answers: "Answers", words: Words) -> dict:
    step, ground = answers.keypad.coordinate_step_deg, keyed_ground(answers)
    if ground is None or not len(ground[0]):
        text = _shared_setting(answers, words)
        lines = [headline_words(answers.groups, len(answers.sites), words)] if answers.groups is not None else \
            zone_lines(answers.zoning, words) + [words("settings_shared", setting=text)] if answers.zoning is not None else \
            [words("settings_none", setting=text)]
        lines += _master(answers, words)
        return {"kind": "text", "head": words("settings"), "lines": lines}
    table, swatches, clocks = ground[0], group_swatches(answers), clocks_to_key(answers, words)
    last = "sites" if answers.groups is not None else "km2"
    heads = [words(key) for key in ("hatch", "group" if last == "sites" else "zone", "position", "clock", "offsets", last)]
    rows = [{"svg": swatches[str(row.group)], "group": str(row.group), "position": position_text(row, words, step),
             "clock": clocks[str(row.legal_zone)], "offsets": f"{signed(row.dusk_offset_min)} / {signed(row.dawn_offset_min)}",
             "sites": words.number(row.sites if last == "sites" else row.area_km2, 0)} for row in table.head(_PANEL_SETTINGS).itertuples()]
    return {"kind": "settings", "head": words("settings"), "heads": heads, "rows": rows, "total": len(table)}


def _shared_setting(answers: "Answers", words: Words) -> str:
    setting = answers.setting
    return (f"{position_text(setting, words, answers.keypad.coordinate_step_deg)}, {setting.legal_zone}, {signed(setting.dusk_offset_min)} / "
            f"{signed(setting.dawn_offset_min)}")


def _master(answers: "Answers", words: Words) -> list[str]:
    return [words("settings_master", zone=answers.setting.legal_zone)] if answers.one_master else []


def _curve(answers: "Answers", words: Words) -> dict | None:
    if answers.groups is None or len(answers.groups.curve.dropna(subset=["worst_min"])) < 2:
        return None
    from .curvepicture import curve_picture

    known = answers.groups.curve.dropna(subset=["worst_min"])
    return {"kind": "picture", "head": words("curve"), "alt": words("curve"),
            "svg": curve_picture(known["k"].to_numpy(), known["worst_min"].to_numpy(), answers.groups.plan.count).decode()}


def _notes(answers: "Answers", words: Words) -> dict:
    lines = [words("note_threshold", threshold=threshold_words(answers.basis.dark, words)),
             words("note_tolerance", dark=words.number(answers.tolerance.dark_min, _needed(answers.tolerance.dark_min)),
                   excess=words.number(answers.tolerance.excess_min, _needed(answers.tolerance.excess_min))),
             words("note_year", year=answers.year), words("lines_note")]
    lines[0:0] = _plans(answers, words)
    if not answers.listed:
        lines.insert(0, words("note_stand_ins"))
    if len(answers.rejects):
        lines.append(words.count(len(answers.rejects), "note_rejected"))
    lines.append(words("note_versions", tz=answers.versions.get("tz database", ""), zones=answers.versions.get("zone boundaries", ""),
                       geozone=answers.versions.get("geozone", "")))
    if not words.read_by_a_crew:
        lines.append(words("unchecked"))
    return {"kind": "text", "head": words("notes"), "lines": lines}


def _plans(answers: "Answers", words: Words) -> list[str]:
    """Groups and zones in short sentences; and which of the settings on the sheet are to be keyed, where there are several kinds."""
    lines = [headline_words(answers.groups, len(answers.sites), words)] if answers.groups is not None else []
    if answers.zoning is None or (answers.groups is None and not len(answers.zoning.zones)):
        return lines  # without a zone, the panel of settings says it
    lines += zone_lines(answers.zoning, words)
    if answers.groups is None:
        # What a crew is handed is another setting than those that stand here.
        return lines + ([words("zones_cards", setting=_shared_setting(answers, words)), *_master(answers, words)] if answers.listed else [])
    return lines + ([words("zones_or_groups")] if len(answers.groups.settings) and len(answers.zoning.zones) else [])


def _needed(value: float) -> int:
    return 0 if float(value).is_integer() else 1 if np.isclose(value * 10, round(value * 10)) else 2
