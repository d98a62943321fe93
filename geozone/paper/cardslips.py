"""If a display reads something else: the rows of a card, what reads right all the same, and other dates that tell more."""

from __future__ import annotations

from datetime import date

import numpy as np

from ..trade.slips import CLASSES
from ..trade.switchclock import SAVING_RULES, SwitchClock
from .carddata import ROWS, GroupCard, difference_text, joined_slips
from .words import Words

#: What `Row` and words call a time that a display shows or does not show.
_TIMES = {"none": "readings_none", "appears": "else_appears"}


def something_else(card: GroupCard, words: Words) -> dict:
    """The last part of a card as data: rows of differences by likelihood, the mend of each, and slips that read right today."""
    table = card.table
    shown = table.rows[:ROWS]
    rows: list[dict] = []
    for likelihood in CLASSES:
        mine = [row for row in shown if row.likelihood == likelihood]
        if mine:
            rows.append({"kind": "class", "text": words(likelihood)})
        for row in mine:
            marks = [words("else_moves")] * row.moves + [words("else_offsets")] * row.needs_offsets
            marks += [words("else_some")] * ("some" in (row.dusk_time, row.dawn_time))
            marks += [words("lamps_right")] * any(slip.right_lamps for slip in row.slips)
            rows.append({"kind": "row", "dusk": edge_text(row.dusk_min, row.dusk_time, words), "dawn": edge_text(row.dawn_min, row.dawn_time, words),
                         "slips": joined_slips(row.slips, words), "next": words(f"about_{row.read_next}"), "mend": mends(row.slips, words),
                         "mark": "; ".join(marks)})
    by_date: dict = {}
    for one in table.unseen:
        by_date.setdefault(one.first, []).append(one.slip)
    unseen = [words("unseen_from", date=words.date(day_of(first), "medium"), slips=joined_slips(by_date[first], words, 8))
              + " " + words("unseen_mend", mend=mends(by_date[first], words)) for first in sorted(one for one in by_date if one is not None)]
    if None in by_date:
        unseen.append(words("unseen_never", slips=joined_slips(by_date[None], words, 8)) + " " + words("unseen_mend", mend=mends(by_date[None], words)))
    more = len(table.rows) - len(shown)
    white = any(time != "shown" for row in shown for time in (row.dusk_time, row.dawn_time))
    return {"else_head": words("card_else", first=words.date(day_of(table.first), "medium"), last=words.date(day_of(table.last), "medium")),
            "rows": rows, "unseen": unseen, "more": words("else_more", n=more) if more else words("else_all"), "white": words("else_none") if white else ""}


def mends(slips, words: Words) -> str:
    """What is done about each of some slips, once each."""
    return "; ".join(words(f"mend_{about}") for about in dict.fromkeys(slip.about for slip in slips))


def edge_text(off: tuple[float, float], time: str, words: Words) -> str:
    """A row's difference at one edge in words: minutes, or whether a time is shown at all."""
    return words(_TIMES[time]) if time in _TIMES else difference_text(*off)


def day_of(when: np.datetime64) -> date:
    """A date as one of Python's."""
    return when.astype("datetime64[D]").item()


def other_days(card: GroupCard, year: int) -> list[int]:
    """Days of the year, from 0, whose readings tell most slips apart, for a make that can show the times of another date.

    21 June, 21 December, and the day in the middle of the shortest time between a change of the keyed clock and one by another
    rule, where both are changed in the year.
    """
    days = {date(year, 6, 21), date(year, 12, 21), day_between_rules(card.keying.switch_clock, year)} - {None}
    return sorted((day - date(year, 1, 1)).days for day in days)


def day_between_rules(clock: SwitchClock, year: int) -> date | None:
    """The day in the middle of the shortest time in a year between a change by the keyed rule and one by another; None without."""
    if clock.saving.start is None:
        return None
    found = []
    for other in SAVING_RULES.values():
        if other.start is None or other == clock.saving:
            continue
        theirs = _change_days(SwitchClock(clock.standard_min, other), year)
        found += [(abs(a - b), min(a, b), max(a, b)) for a in _change_days(clock, year) for b in theirs if abs(a - b) >= 2]
    if not found:
        return None
    _, first, last = min(found)
    return date.fromordinal(date(year, 1, 1).toordinal() + (first + last) // 2)


def _change_days(clock: SwitchClock, year: int) -> list[int]:
    sequence = clock.sequence(year)
    return [int((start + before) // 1440) for start, before in zip(sequence.start_utc_min[1:], sequence.offset_min[:-1], strict=True)
            if 0 <= (start + before) // 1440 < 365]

