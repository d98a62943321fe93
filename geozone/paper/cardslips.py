"""If a display reads something else: the rows of a card, what reads right all the same, and other dates that tell more."""

from __future__ import annotations

from datetime import date
from functools import lru_cache

import numpy as np

from ..numbers.clock import offset_min_at
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

    21 June, 21 December, and a day on which the keyed rule and another one differ for a short time only.
    """
    days = {date(year, 6, 21), date(year, 12, 21), day_between_rules(card.keying.switch_clock, year)} - {None}
    return sorted((day - date(year, 1, 1)).days for day in days)


@lru_cache(maxsize=256)
def day_between_rules(clock: SwitchClock, year: int) -> date | None:
    """The middle of the shortest time in a year in which one rule has been changed and the keyed one has not, or the reverse.

    None where 21 June or 21 December tells the rules apart as well.
    """
    first = date(year, 1, 1).toordinal()
    days = date(year + 1, 1, 1).toordinal() - first
    solstices = [date(year, month, 21).toordinal() - first for month in (6, 12)]
    mine, spans = _saving(clock, year, days), []
    for other in SAVING_RULES.values():
        differs = np.concatenate([[False], mine != _saving(SwitchClock(clock.standard_min, other), year, days), [False]])
        if not differs[1:][solstices].any():
            edges = np.flatnonzero(differs[1:] != differs[:-1])
            spans += [(end - begin, begin, end) for begin, end in zip(edges[::2], edges[1::2], strict=True)]
    return date.fromordinal(first + int(min(spans)[1] + min(spans)[2] - 1) // 2) if spans else None


def _saving(clock: SwitchClock, year: int, days: int) -> np.ndarray:
    """What a keyed clock shows at noon of each day [minute ahead of UTC]."""
    return offset_min_at(clock.sequence(year), np.arange(days) * 1440.0 + 720 - clock.standard_min)
