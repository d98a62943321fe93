"""Diagnoses in words: every sentence is true of all that fits, and names no one slip where two fit."""

from __future__ import annotations

import numpy as np

from ..auditing.candidates import SettingSlips
from ..auditing.diagnosis import Diagnosis, Explanation
from ..paper.carddata import slip_words
from ..paper.words import Words
from ..plurals import counted
from ..trade.slips import Slip

#: Explanations that are named one by one; of the others the number is said.
NAMED = 4
_OWN = {"dusk": "dusk on the display", "dawn": "dawn on the display", "other_date": "dusk and dawn on the display again, half a year from that day"}
#: Slips in words, by what their words hang on: a fleet has the same few thousand again and again.
_SAID: dict[tuple, str] = {}
_MOST_SAID = 20_000
AS_READ = "what was read back of the keyed values, which is not what should be keyed"


def explanation_text(one: Explanation, words: Words) -> str:
    """One explanation: a slip, or two together; slips that read the same all year are counted."""
    text = " together with ".join(_slip(slip, words) for slip in one.slips)
    more = f" (or {one.alternatives} much like it)" if one.alternatives else ""
    return text + more


def _slip(slip: Slip, words: Words) -> str:
    if slip.key == "as_read":
        return AS_READ
    known = words.language, slip.key, slip.values, slip.right_lamps
    if known not in _SAID:
        if len(_SAID) >= _MOST_SAID:
            _SAID.clear()
        _SAID[known] = slip_words(slip, words) + (f" ({words('lamps_right')})" if slip.right_lamps else "")
    return _SAID[known]


def diagnosis_text(found: Diagnosis, words: Words) -> str:
    """What can have happened, for a table."""
    if found.state == "not read":
        return ""
    if found.state == "agrees":
        return "reads as the right setting does"
    if found.state == "no known slip":
        return "no slip and no pair of slips that is known reads so: read dusk, dawn and date again, then all that is keyed"
    likely = found.likely
    text = "; or ".join(explanation_text(one, words) for one in likely[:NAMED])
    if len(likely) > NAMED:
        text += f"; or one of {len(likely) - NAMED} more"
    pairs = len(found.explanations) - len(likely)
    return text + (f". {counted(pairs, 'pair')} of slips would read so as well" if pairs else "")


def next_text(found: Diagnosis, words: Words) -> str:
    """What to read next."""
    name = found.next_reading
    return "" if not name else _OWN[name] if name in _OWN else words(f"about_{name}")


def mend_text(found: Diagnosis, words: Words) -> str:
    """What mends each of the named explanations."""
    if found.state == "no known slip":
        return words("mend_setting")
    about = dict.fromkeys(slip.about for one in found.likely[:NAMED] for slip in one.slips)
    return "; ".join(words(f"mend_{name}") for name in about)


def hidden_by_date(found: Diagnosis, setting: SettingSlips, words: Words) -> list[tuple[str, str]]:
    """Slips that fit as well, by the ISO date from which the display shows them; "" for those that it does not show again in the plan's year."""
    by_day: dict[int | None, list[str]] = {}
    for slip, day in found.hidden:
        by_day.setdefault(day, []).append(_slip(slip, words))
    dated = [(str(np.datetime64(f"{setting.year}-01-01") + day), "; or ".join(dict.fromkeys(by_day[day]))) for day in sorted(d for d in by_day if d is not None)]
    return dated + ([("", "; or ".join(dict.fromkeys(by_day[None])))] if None in by_day else [])


def hidden_text(dated: list[tuple[str, str]]) -> str:
    """The same in one cell."""
    return ". ".join(f"Shows on {day}: {what}" if day else f"Dusk and dawn on the display need not show it again this year: {what}" for day, what in dated)
