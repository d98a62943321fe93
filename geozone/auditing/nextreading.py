"""The one further reading that tells most explanations apart."""

from __future__ import annotations

from collections import Counter

import numpy as np

from .candidaterecords import Candidates
from .candidates import SettingSlips

#: What can still be read. "other_date": dusk and dawn again half a year later, or shown for that date where a make can do so.
READINGS = ("clock", "dusk", "dawn", "zone_and_saving", "position", "offset", "date", "threshold", "other_date")
#: A display tells times apart that differ by more [minute].
_TOLD_MIN = 4.0
#: More explanations than these are not weighed: the likeliest decide what is read next.
_MOST = 60


def best_next(candidates: Candidates, places: list[int], unread: list[str], setting: SettingSlips, day: int) -> str:
    """Which further reading leaves the fewest explanations on average, all taken to be equally likely.

    Parameters
    ----------
    candidates : Candidates
    places : list of int
        The explanations as places among the candidates, the likeliest first.
    unread : list of str
        What has not been read, of `READINGS` without the last, in the order in which equally good ones are asked for.
    setting : SettingSlips
    day : int
        Day of the reading.

    Returns
    -------
    str
        "" where no further reading tells them apart.
    """
    mine = np.array(places[:_MOST])
    best, least = "", float(mine.size)
    for name in unread:
        left = _left(_told(name, candidates, mine))
        if left < least - 1e-9:
            best, least = name, left
    # A second visit costs more than a look at what is keyed: only where that tells nothing.
    if not best:
        other = (day + 182) % setting.days
        records = [candidates.record(int(place)) for place in mine]
        dusk, dawn, _ = setting.day_times(records, other)
        shown = np.stack([dusk + [one.dusk_offset_min for one in records], dawn + [one.dawn_offset_min for one in records]], axis=1)
        if _left(_rounded(shown)) < least - 1e-9:
            best = "other_date"
    return best


def _told(name: str, candidates: Candidates, mine: np.ndarray) -> np.ndarray:
    """(k, values): what each explanation would read; equal rows are not told apart."""
    keyed = {field: values[mine] for field, values in candidates.keyed.items()}
    if name == "clock":
        return _rounded(candidates.clock_fast_min[mine][:, None])
    if name == "dusk":
        return _rounded((candidates.dusk_min[mine] + keyed["dusk_offset_min"])[:, None])
    if name == "dawn":
        return _rounded((candidates.dawn_min[mine] + keyed["dawn_offset_min"])[:, None])
    fields = {"zone_and_saving": ("clock",), "position": ("lat_deg", "lon_deg"), "offset": ("dusk_offset_min", "dawn_offset_min"),
              "date": ("date_error_days", "year_error"), "threshold": ("altitude_deg",)}[name]
    return np.stack([keyed[field].astype(float) for field in fields], axis=1)


def _rounded(minutes: np.ndarray) -> np.ndarray:
    """Times as far as a display tells them; no time is one more value."""
    return np.where(np.isnan(minutes), -9999.0, np.floor(np.nan_to_num(minutes) / _TOLD_MIN))


def _left(told: np.ndarray) -> float:
    """How many explanations are left on average."""
    counts = Counter(map(tuple, told.tolist())).values()
    return sum(count * count for count in counts) / sum(counts)
