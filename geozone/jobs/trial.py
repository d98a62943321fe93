"""What a job would answer first: the shared setting's verdicts, and how many settings are needed; without writing anything."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import pandas as pd

from ..errors import PlanCheckError
from ..places.servicearea import check_setting_place
from ..switching.sitedrift import BEYOND, OTHER_CLOCK, WITHIN
from .groupplan import counted_settings
from .job import Job
from .steps import Judged, Placed, judge


def trial(job: Job, placed: Placed, limits_s: Iterable[float]) -> Iterator[dict]:
    """Parts of the answer as they are known.

    Parameters
    ----------
    job : Job
    placed : Placed
        Of its files.
    limits_s : iterable of float [second]
        How long the fewest settings are looked for, one search after the other, until the number is proved; none is longer than the
        job's own limit. None at all: they are not looked for.

    Yields
    ------
    dict
        "verdicts": sites by result, the worst minutes of those on the setting's clock, and the setting. "settings": how many were found, how
        many are needed at least, sites that none serves, whether it is proved, and whether this is the last that is said of it; None
        for a job that does not ask.

    Raises
    ------
    InputError
        For a setting that does not fit the sites, as in a run.
    """
    if job.shared.given:
        check_setting_place(placed.sites, job.shared.lat_deg, job.shared.lon_deg, job.called)
    yield {"verdicts": _verdicts(job, judge(job, placed))}
    if job.groups is None:
        yield {"settings": None}
        return
    limits = list(dict.fromkeys(min(limit, job.groups.time_limit_s) for limit in limits_s))
    for number, limit in enumerate(limits):
        try:
            plan = counted_settings(job, placed.sites, limit)
        except PlanCheckError:
            yield {"settings": None}
            return
        last = plan.proved or number + 1 == len(limits)
        yield {"settings": {"found": plan.count, "at_least": plan.lower_bound, "proved": plan.proved, "last": last,
                            "in_no_group": sum(len(one.site_ids) for one in plan.unserved)}}
        if last:
            return


def _verdicts(job: Job, judged: Judged) -> dict:
    columns, setting = judged.columns, judged.setting
    count = columns["result"].value_counts()
    mine: pd.DataFrame = columns[columns["result"] != OTHER_CLOCK]
    worst = {name: float(mine[f"worst_{name}"].max()) if len(mine) else None for name in ("dark_min", "excess_min")}
    return {"within": int(count.get(WITHIN, 0)), "beyond": int(count.get(BEYOND, 0)), "other_clock": int(count.get(OTHER_CLOCK, 0)), **worst,
            "dark": job.basis.dark.words, "given": judged.search is None,
            "setting": {name: getattr(setting, name) for name in ("lat_deg", "lon_deg", "legal_zone", "dusk_offset_min", "dawn_offset_min")}}
