"""The files of a run with programmes: tables, programme corrections, calendars, pictures. Draws finished answers; computes nothing."""

from __future__ import annotations

import re
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from .folder import is_device
from .hourspicture import draw_hours
from .yearpicture import YearPicture, draw_year

if TYPE_CHECKING:
    from ..answers import Answers

PICTURES, CALENDARS = "pictures", "calendars"


def programme_tables(answers: "Answers") -> list[tuple[str, pd.DataFrame]]:
    """Tables by name: hours, comparison, clocks, faulty, timetable."""
    found = answers.programmes
    dated = [one.rows.assign(programme=one.programme, group=one.group) for one in found.timetables]
    for one in dated:
        foolish = np.where(one["programme"].isin(list(found.cures)), "faulty nights: see faulty.csv and corrections.toml", "")
        one["remark"] = ["; ".join(filter(None, both)) for both in zip(one["remark"], foolish)]
    timetable = pd.concat(dated, ignore_index=True) if dated else pd.DataFrame()
    first = ["group", "programme"]
    timetable = timetable[first + [c for c in timetable.columns if c not in first]] if dated else timetable
    comparison = found.comparison.reset_index()
    if (comparison["cost"] > 0).any():  # of one kilowatt-hour
        comparison.insert(comparison.columns.get_loc("cost") + 1, "mean_price", (comparison["cost"] / comparison["kwh"]).round(4))
    return [("hours", found.hours), ("comparison", comparison), ("clocks", found.clocks),
            ("faulty", found.foolish), ("timetable", timetable)]


def group_key_events(found) -> dict[str, str]:
    """For each setting's label what its switches have to do, programme by programme."""
    pairs = found.sites[["setting_label", "programme", "key_events"]].drop_duplicates().sort_values(["setting_label", "programme"])
    return {str(label): " | ".join(f"{one.programme}: {one.key_events}" for one in rows.itertuples())
            for label, rows in pairs.groupby("setting_label")}


def write_programme_files(answers: "Answers", folder: Path) -> None:
    """Programme corrections as lines for the job file, calendars and pictures, into an existing folder.

    Raises
    ------
    OSError
        If the disk refuses.
    """
    found = answers.programmes
    if found.cures:
        (folder / "corrections.toml").write_bytes("\n".join(_cure_text(name, cure) for name, cure in found.cures.items()).encode())
    if found.timetables:
        (folder / CALENDARS).mkdir()
        names = _names([(one.programme, one.group) for one in found.timetables])
        for name, one in zip(names, found.timetables, strict=True):
            (folder / CALENDARS / f"{name}.ics").write_bytes(one.calendar)
    (folder / PICTURES).mkdir()
    by = found.hours[found.hours["level"] == "programme"].set_index("programme")
    (folder / PICTURES / "hours.png").write_bytes(draw_hours(by, answers.title, "png"))
    for name, year in zip(_names([(one.programme, one.group) for one in found.years]), found.years, strict=True):
        picture = YearPicture(f"{year.programme}: {_group_words(year.group)}", year_words(year, answers), answers.year,
                              year.clock, year.lit, year.dark)
        (folder / PICTURES / f"year-{name}.png").write_bytes(draw_year(picture, "png"))


def year_words(one, answers: "Answers") -> str:
    """What a picture of a year shows, in one line."""
    sites = "1 site" if one.sites == 1 else f"{one.sites:,} sites"
    return f"{answers.year}, {sites}, clock {one.clock_text}; dark: {answers.threshold_text}, at the keyed position"


def _group_words(group: str) -> str:
    return f"group {group}" if re.fullmatch(r"[A-Z]+", group) else f"{group} setting" if group == "shared" else group


def _cure_text(name: str, cure) -> str:
    said = (f"{cure.wrong_before_h:.1f} hours a year not as meant before, {cure.wrong_after_h:.1f} after ({_over(cure.sites)}). The price: "
            f"light that was first meant and is left out, {cure.dark_after_h:.1f} hours a year ({_over(cure.sites)}), at most "
            f"{cure.dark_one_h:.2f} at one site and {np.ceil(cure.dark_after_min - 1e-9):.0f} min in a night. Where somebody has ordered these hours, ask first.")
    proof = "Run through the year with every setting of this plan: no faulty night is left." if cure.verified else \
        "NOT a full correction. Left: " + "; ".join(cure.left)
    head = [f"Programme {name!r}: put this in the place of it in the job file. Made for one year: run it again for another.", proof, said,
            *filter(None, [cure.clock_note])]
    return "".join(f"# {' '.join(line.split())}\n" for line in head) + cure.toml


def _over(sites: int) -> str:
    return "at its one site" if sites == 1 else f"all {sites:,} sites together"


def _names(pairs: list[tuple[str, str]]) -> list[str]:
    """File names from names of people: plain letters, no two the same."""
    taken: set[str] = set()
    out = []
    for pair in pairs:
        parts = [re.sub(r"[^a-z0-9]+", "-", unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower())
                 .strip("-")[:40] for text in pair]
        name, count = "-".join(filter(None, parts)) or "programme", 1
        name = f"{name}-programme" if is_device(name) else name
        stem = name
        while name in taken:
            count += 1
            name = f"{stem}-{count}"
        taken.add(name)
        out.append(name)
    return out
