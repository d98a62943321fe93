"""What a job says about switching programmes, as records."""

from __future__ import annotations

from dataclasses import dataclass

from ..switching.tariff import Tariff
from ..trade.keypad import Keypad, check_programme
from ..trade.programme import DUSK_TO_DAWN, Holidays, Programme
from .jobplaces import Places
from .programme_models import HolidaysSection, ProgrammesSection, SwitchingSections, TariffSection
from .programme_sections import holidays_of, programmes_of, tariff_of

# A job with one of these, but no programme, is about lamps lit from dusk to dawn.
SECTIONS = tuple(SwitchingSections.model_fields)


@dataclass(frozen=True)
class SwitchingJob:
    """What a job says about programmes.

    Attributes
    ----------
    programmes : tuple of Programme
    column : str or None
        Column of the site list that names each site's programme.
    lit_area_column : str or None
        Column with the lit area of each site [square metre].
    holidays : Holidays
    tariff : Tariff
    timetable : tuple of (str, int) or None
        Period and rounding [minute] of a dated timetable.
    """

    programmes: tuple[Programme, ...]
    column: str | None
    lit_area_column: str | None
    holidays: Holidays
    tariff: Tariff
    timetable: tuple[str, int] | None


def switching_of(job: SwitchingSections, keypad: Keypad, places: Places) -> SwitchingJob | None:
    """The programme sections of a checked job.

    Parameters
    ----------
    job : SwitchingSections
    keypad : Keypad
    places : Places
        Lines of the file: an event keeps its own, for messages and findings.

    Returns
    -------
    SwitchingJob or None
        None if the job has no such section.

    Raises
    ------
    InputError
        For a programme that the keypad cannot hold.
    """
    if all(getattr(job, name) is None for name in SECTIONS):
        return None
    programmes = (DUSK_TO_DAWN,) if job.programme is None else programmes_of(job.programme, places)
    for programme in programmes:
        check_programme(programme, keypad)
    columns, timetable = job.programmes or ProgrammesSection(), job.timetable
    return SwitchingJob(programmes, columns.column, columns.lit_area_m2, holidays_of(job.holidays or HolidaysSection()),
                        tariff_of(job.tariff or TariffSection()), None if timetable is None else (timetable.period, timetable.rounding_min))
