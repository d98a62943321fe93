"""What a display must read at one setting, as text for a person with one question."""

from __future__ import annotations

import datetime as dt

import numpy as np

from ..errors import InputError
from ..numbers import clock
from ..paper.carddata import GroupCard, change_days, clock_text, joined_slips, reading_days
from ..paper.cardslips import edge_text, mends
from ..paper.words import words_in
from ..trade.keypad import Keypad, keyed_text
from ..trade.readings import Display, Keyed
from ..trade.setting import Setting
from ..trade.slipdifferences import slip_table
from ..trade.slips import slips_of
from ..trade.switchclock import SAVING_RULES, Keying, SwitchClock, best_keying, wrong_spans
from .placetimes import asked_date, asked_sky

#: Rows of differences on the terminal.
_ROWS = 12


def place_readings(*, lat_deg: float, lon_deg: float, legal_zone: str | None = None, offsets_min: tuple[int, int] = (0, 0),
                   clock_rule: str | None = None, date: str | None = None, display: Display = Display(), keypad: Keypad = Keypad(),
                   **dark) -> str:
    """The answer of `geozone readings`: a fortnight of readings, and which slips make a display read something else.

    Parameters
    ----------
    lat_deg, lon_deg : float [degree]
        What is keyed.
    legal_zone : str, optional
        Left out: the legal zone of the place.
    offsets_min : (int, int) [minute]
        Keyed offsets at dusk and dawn.
    clock_rule : str, optional
        Keyed summer-time rule by name, where it is not the one that follows legal time best.
    date : str, optional
        First day; left out: today at the place.
    display : Display
    keypad : Keypad
    **dark
        The dark threshold by its kind, at most one; none: sunset.

    Returns
    -------
    str

    Raises
    ------
    InputError
    """
    altitude, zone = asked_sky(lat_deg, lon_deg, legal_zone, dark)
    first = asked_date(date, zone)
    year, day = first.year, (first - dt.date(first.year, 1, 1)).days
    legal = clock.offsets(zone, year)
    keying = best_keying(legal, year) if clock_rule is None else _keyed_rule(clock_rule, legal, year)
    setting = Setting(lat_deg, lon_deg, zone, *offsets_min).on_keypad(keypad)
    right = Keyed(setting.lat_deg, setting.lon_deg, keying.switch_clock, altitude, *offsets_min)
    slips = tuple(slips_of(right, keypad, first))
    table = slip_table(right, slips, display, year=year, first_day=day)
    return _text(GroupCard("", (), setting, keying, right, slips, table), altitude, year, day, display, keypad.coordinate_step_deg)


def _keyed_rule(name: str, legal, year: int) -> Keying:
    if name not in SAVING_RULES:
        raise InputError("no such summer-time rule", value=name, rule=f"one of {', '.join(SAVING_RULES)}")
    standard = int(legal.offset_min.min())
    keyed = SwitchClock(standard, SAVING_RULES[name])
    sequence = keyed.sequence(year)
    return Keying(keyed, sequence, wrong_spans(sequence, legal, year))


def _text(card: GroupCard, altitude: float, year: int, day: int, display: Display, step_deg: float) -> str:
    words = words_in()
    setting = card.setting
    side = "below" if altitude < 0 else "above"
    lines = [f"Keyed       latitude {keyed_text(setting.lat_deg, step_deg)}, longitude {keyed_text(setting.lon_deg, step_deg)}, {card.keying.switch_clock.text()}",
             f"            offsets: dusk {setting.dusk_offset_min:+d} min, dawn {setting.dawn_offset_min:+d} min",
             f"Dark        sun {abs(altitude):.4g} degrees {side} the horizon",
             f"Legal zone  {setting.legal_zone} (tz database {clock.tz_version()})"]
    if not card.keying.exact:
        lines.append("            " + words("readings_clock_keyed", when="; ".join(span.text() for span in card.keying.wrong)))
    columns = reading_days(card, year, display)
    names = {"dusk": "dusk", "dawn": "dawn", "coming": "next dawn"}
    both = any(key.startswith("without_") for key in columns)
    heads = [names[key.removeprefix("without_")] + ("" if not both else " without" if key.startswith("without_") else " with")
             for key in columns]
    lines += ["", "The display must read, within " f"{int(np.ceil(display.error_min + 1))} minutes:"
              + (" (with or without offsets)" if both else ""),
              "            " + "  ".join(f"{head:>17}" for head in heads)]
    changes = change_days(card, year)
    for k in range(day, min(day + 14, len(columns["dusk"]))):
        when = dt.date(year, 1, 1) + dt.timedelta(k)
        cells = "  ".join(f"{clock_text(float(times[k]), display, words):>17}" for times in columns.values())
        lines.append(f"{when:%a %d %b}  {cells}" + ("  clock change" if k in changes else ""))
    lines += ["", f"If it reads something else ({_day(card.table.first)} to {_day(card.table.last)}), minutes from the right reading:",
              f"{'dusk':>12} {'dawn':>12}  what may have been keyed"]
    for row in card.table.rows[:_ROWS]:
        mark = " (moves in the week)" if row.moves else ""
        mark += " (only if the display includes offsets)" if row.needs_offsets else ""
        lines.append(f"{edge_text(row.dusk_min, row.dusk_time, words):>12} {edge_text(row.dawn_min, row.dawn_time, words):>12}  {joined_slips(row.slips, words)}{mark}; "
                     f"read {words(f'about_{row.read_next}')}; mend: {mends(row.slips, words)}")
    if len(card.table.rows) > _ROWS:
        lines.append(f"            and {len(card.table.rows) - _ROWS} more")
    if card.table.unseen:
        lines += ["", "Reads right this week and may still be wrong:"]
        by_date: dict = {}
        for one in card.table.unseen:
            by_date.setdefault(one.first, []).append(one.slip)
        for first in sorted(one for one in by_date if one is not None):
            lines.append(f"  shows from {_day(first)}: {joined_slips(by_date[first], words, 8)}")
        if None in by_date:
            lines.append(f"  never shows in dusk and dawn: {joined_slips(by_date[None], words, 8)}")
    lines += ["", words("caution_supply"), words("caution_horizon")]
    return "\n".join(lines)


def _day(when: np.datetime64) -> str:
    return str(when.astype("datetime64[D]"))

