"""The year of each programme of a job as a small picture, for a switch that holds one setting; without sites."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..numbers import clock
from ..numbers.sun import nights_of
from ..paper.yearstrip import year_strip
from ..switching.conditions import Conditions
from ..switching.programme_year import delivered, intended
from ..trade.programme import DUSK_TO_DAWN
from ..trade.setting import Setting
from .job import Job


@dataclass(frozen=True)
class YearPicture:
    """A programme's year.

    Attributes
    ----------
    programme : str
    svg : str
        As `year_strip`.
    wasted : bool
        Whether lamps burn in daylight for over an hour somewhere in it.
    lit_h : float
        Hours of light.
    """

    programme: str
    svg: str
    wasted: bool
    lit_h: float


def years_of_light(job: Job, setting: Setting) -> list[YearPicture]:
    """What a switch with a setting does under each programme of a job, on the legal clock of its zone.

    Examples
    --------
    >>> from geozone.jobs.examples import examples_folder
    >>> from geozone.jobs.job import read_job
    >>> job = read_job(examples_folder() / "border" / "job.toml")
    >>> [(one.programme, one.wasted) for one in years_of_light(job, Setting(-35.1, 140.2, "Australia/Adelaide"))]
    [('dusk to dawn', False), ('part-night', False), ('split night', False), ('market morning', True)]
    """
    if job.switching is None:
        return []
    conditions = Conditions.of(job.basis, holidays=job.switching.holidays, tariff=job.switching.tariff)
    legal = clock.offsets(setting.legal_zone, job.basis.year)
    dark = intended(DUSK_TO_DAWN, lat_deg=setting.lat_deg, lon_deg=setting.lon_deg, legal_zone=setting.legal_zone, year=job.basis.year,
                    altitude_deg=job.basis.altitude_deg).ends
    # The year by that clock; intervals go on beyond its ends.
    begins = -float(clock.offset_min_at(legal, np.zeros(1))[0])
    ends = begins + 1440.0 * nights_of(job.basis.year).size
    made = []
    for programme in job.switching.programmes:
        lit = delivered(programme, legal, conditions, setting).ends
        svg, wasted = year_strip(lit, dark, legal, job.basis.year)
        made.append(YearPicture(programme.name, svg, wasted, float(np.diff(np.clip(lit, begins, ends), axis=0).sum() / 60.0)))
    return made
