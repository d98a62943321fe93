"""What the log of an audit says, site by site: `logs.csv`, and its words."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..answers import Answers
from ..auditing.diagnosis import Diagnosis
from ..auditing.logdiagnosis import LOG_STATES, LogFinding
from ..paper.words import Words
from ..plurals import counted
from ..schema.audit_columns import LOGS
from .auditwords import NAMED, explanation_text
from .logplan import AuditLog

#: What every reader of a log is told.
CAUTION = ("On and off times at dusk and dawn never show the summer-time rule, unless events at clock times are in the log or the clock was put right by hand; "
           "longitude, zone, clock and equal offsets are one number in them.")
_OTHER = {"same": "the same way all through: clock, zone, longitude or equal offsets", "opposite": "opposite ways by a constant: offsets or dark threshold",
          "season": "opposite ways, more or less with the season: latitude or date", "dusk": "dusk alone: its offset", "dawn": "dawn alone: its offset",
          "same and opposite": "dusk and dawn by two constants: offsets, or one of the others together with an offset or the dark threshold",
          "same and season": "with the season and the same way as well: latitude or date, together with clock, zone, longitude or equal offsets",
          "all": "in no way that one or two keyed values make", "planned": "as planned"}
_ENDS = {"light sensor": "lamps on a light sensor: their times scatter together with those of neighbours, as under one sky, and follow no setting",
         "scatters": "times scatter and follow no setting: a light sensor, or a switch that scatters for security; neighbours under the same sky, 30 nights, tell",
         "too few nights": "too few nights to conclude from: seven at least, with ten switchings at dusk and dawn",
         "not used": "nothing was concluded: the programme has no event at dusk or dawn, or the times are not legal time (see the notes)"}


def ends_text(found: LogFinding | None) -> str:
    """What is said where no slip is looked for: scatter, too few nights."""
    return "" if found is None else _ENDS.get(found.state, "")


def log_text(found: Diagnosis) -> str:
    """What can have happened at a switch of which only a log is known, where no slip is named."""
    return "switches as the right setting does" if found.state == "agrees" else \
        "no slip and no pair of slips that is known switches so: read clock, date and all that is keyed"


def pattern_text(found: LogFinding) -> str:
    """In which way dusk and dawn are off; of two that fit both."""
    return "; or ".join(_OTHER[name] for name in found.patterns)


def steps_text(found: LogFinding, year: int) -> str:
    """Days on which the clock was put forward or back."""
    start = np.datetime64(f"{year}-01-01")
    return "; ".join(f"{start + step.night}: lamps {abs(step.minutes):.0f} min {'later' if step.minutes > 0 else 'earlier'} from then on" for step in found.steps) \
        + ("; a clock put right by hand after legal time changed does so: summer-time rule" if found.by_hand else "") \
        + ("; " * bool(found.steps) + "events at clock times are off on some nights and not on others: summer-time rule" if found.clock_varies else "")


def ranges_text(ranges: tuple[tuple[float, float], ...]) -> str:
    """Latitudes that fit, from south to north.

    Examples
    --------
    >>> ranges_text(((-34.96, -34.12),)), ranges_text(((-50.0, -40.0), (40.0, 50.0))), ranges_text(((-1.0, 2.0),)), ranges_text(())
    ('35.0 S to 34.1 S', '50.0 S to 40.0 S, or 40.0 N to 50.0 N', '1.0 S to 2.0 N', '')
    """
    def outwards(value: float, up: bool) -> str:
        tenth = (np.ceil(10 * value - 1e-9) if up else np.floor(10 * value + 1e-9)) / 10
        return f"{abs(tenth):.1f} {'S' if tenth < 0 else 'N'}"

    return ", or ".join(f"{outwards(a, False)} to {outwards(b, True)}" for a, b in ranges)


def possible_text(found: LogFinding, words: Words, may_be_utc: bool, contradicted: bool) -> str:
    """Every slip that the log alone leaves possible, or what it is instead."""
    if found.state in _ENDS:
        return _ENDS[found.state]
    if found.state == "agrees":
        text = "the right setting" + (f", or one of {counted(len(found.hidden), 'slip')} that these nights do not show" if found.hidden else "")
    elif found.explanations:
        text = "; or ".join(explanation_text(one, words) for one in found.explanations[:NAMED])
        text += f"; or one of {len(found.explanations) - NAMED} more" if len(found.explanations) > NAMED else ""
    else:
        text = "no slip and no pair of slips that is known switches so"
    text += "; or the times of this log are UTC" if may_be_utc else ""
    return text + (". What was read on the display does not go with it: was something keyed, or the clock set, in between?" if contradicted else "")


def log_table(log: AuditLog, answers: Answers, words: Words) -> pd.DataFrame:
    """`LOGS`: a row a site in the log, in the order of the site list."""
    start = np.datetime64(f"{answers.year}-01-01")
    ids, names = answers.sites["site_id"].astype(str).tolist(), answers.sites["name"].astype(str).tolist()
    rows = []
    for site in sorted(log.found):
        one = log.found[site]

        def date(night: int) -> str:
            return str(start + night) if night >= 0 else ""

        concluded = one.state not in _ENDS
        rows.append({
            "site_id": ids[site], "name": names[site], "log": one.state, "nights": one.nights, "switchings": one.switchings, "unused": one.unused,
            "first_night": date(one.first_night), "last_night": date(one.last_night), "gap_nights": one.gap_nights, "scatter_min": one.noise_min,
            "pattern": pattern_text(one) if concluded else "", "sum_min": one.sum_min if concluded else np.nan,
            "opposite_min": one.opposite_min if concluded else np.nan, "lat_deg": one.lat_deg, "lat_ranges": ranges_text(one.ranges_deg),
            "free_lat_deg": one.free_lat_deg, "free_lat_ranges": ranges_text(one.free_ranges_deg), "clock_fast_min": one.clock_fast_min,
            "clock_steps": steps_text(one, answers.year), "possibilities": len(one.explanations) if concluded else np.nan,
            "possible": possible_text(one, words, log.may_be_utc(site), site in log.contradicted)})
    return pd.DataFrame(rows, columns=list(LOGS.names))


def log_figures(log: AuditLog) -> dict:
    """Figures of the log under names that stay."""
    states = [one.state for one in log.found.values()]
    return {"file": log.logged.file, "rows": log.logged.rows, "sites": len(states), "switchings": int(log.logged.site.size),
            "unused": int(sum(one.unused for one in log.found.values())), "rejected_rows": len(log.rejects),
            "states": {state: states.count(state) for state in LOG_STATES}}
