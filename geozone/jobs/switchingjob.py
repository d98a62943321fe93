"""What a job says about switching programmes, as records."""

from __future__ import annotations

from dataclasses import dataclass

from ..switching.tariff import Tariff
from ..trade.keypad import check_programme
from ..trade.programme import DUSK_TO_DAWN, Holidays, Programme
from ..trade.switchclock import ClockKeypad
from .jobplaces import Places
from .programme_models import HolidaysSection, ProgrammesSection, SwitchingSections, TariffSection
from .programme_sections import clock_keypad_of, holidays_of, programmes_of, tariff_of
from .sections import KeypadSection

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
    clock_keypad : ClockKeypad
        The clocks that can be keyed.
    offset_limit_min, event_limit : int
        What the keypad holds; None for any number of events.
    timetable : tuple of (str, int) or None
        Period and rounding [minute] of a dated timetable.
    """

    programmes: tuple[Programme, ...]
    column: str | None
    lit_area_column: str | None
    holidays: Holidays
    tariff: Tariff
    clock_keypad: ClockKeypad
    offset_limit_min: int
    event_limit: int | None
    timetable: tuple[str, int] | None


def switching_of(job: SwitchingSections, keypad: KeypadSection, places: Places) -> SwitchingJob | None:
    """The programme sections of a checked job.

    Parameters
    ----------
    job : SwitchingSections
    keypad : KeypadSection
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
                        tariff_of(job.tariff or TariffSection()), clock_keypad_of(keypad), keypad.offset_limit_min,
                        keypad.event_limit, None if timetable is None else (timetable.period, timetable.rounding_min))
