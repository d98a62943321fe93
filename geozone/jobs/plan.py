"""The run from top to bottom: read, place, sun, drift, groups, programmes, write."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from ..answers import Answers
from ..files.leftovers import turn_at
from ..files.outputs import write_outputs
from ..places.located import with_columns
from ..screens.webmap import draw_map
from ..sharing.overarea import over_area
from ..sharing.second_opinion import opinion_on
from ..summary import summarise, versions
from .groupplan import planned_groups
from .job import Job
from .kept import Kept, keep
from .paperagain import source_sums, write_and_keep
from .paperwork import check_paper, crew_list
from .placechecks import check_early
from .programmeplan import planned_programmes
from .steps import judge
from .zoneplan import planned_zones


def run(job: Job, out, say: Callable[[str], None] = lambda text: None, kept: Kept | None = None) -> Answers:
    """Compute a job and write its output folder, whole or not at all.

    Parameters
    ----------
    job : Job
    out : path-like
        The output folder.
    say : callable
        Told in one line what is being done.
    kept : Kept, optional
        What an earlier run read and placed; used where it still fits.

    Returns
    -------
    Answers

    Raises
    ------
    InputError, OutputError
        Nothing was written then, and an earlier output folder is untouched.
    """
    check_early(job, out)
    check_paper(job)
    with turn_at(Path(out).resolve()):
        sources = source_sums(job)
        answers = compute(job, say, kept)
        say("writing")
        on_paper: list[str] = []
        remarks = write_outputs(answers, Path(out), draw_map(answers),
                                lambda folder: on_paper.extend(write_and_keep(job, answers, sources, folder, say)),
                                crew_list(job, answers))
    return replace(answers, notes=answers.notes + remarks + tuple(on_paper))


def compute(job: Job, say: Callable[[str], None] = lambda text: None, kept: Kept | None = None) -> Answers:
    """Everything that a run finds out, without writing anything: step by step, each with what it depends on.

    Parameters
    ----------
    job : Job
    say : callable
    kept : Kept, optional
        As for `run`.

    Returns
    -------
    Answers
    """
    basis = job.basis
    kept = kept if kept is not None and kept.fits(job) else keep(job, say)
    files, placed = kept.files, kept.placed
    say("computing the shared setting's minutes off")
    judged = judge(job, placed)
    sites, notes = with_columns(placed.sites, judged.columns), files.notes + placed.notes + judged.notes

    groups = programmes = zoning = None
    if job.groups is not None:
        say("finding the fewest settings")
        groups, columns, said = planned_groups(job, sites, placed.clock_rules)
        sites, notes = with_columns(sites, columns), notes + said
    if job.zones is not None:
        say("dividing the area into zones")
        zoning, columns, said = planned_zones(job, sites, placed.pieces, groups, along=files.along)
        sites, notes = with_columns(sites, columns), notes + said
    if judged.switching is not None:
        say("running the programmes through the year")
        programmes, columns = planned_programmes(job, judged.switching, sites, placed.clock_rules, judged.setting, groups)
        sites, notes = with_columns(sites, columns), notes + programmes.notes

    say("computing dusk and dawn over the area")
    ground = over_area(files.areas, placed.pieces, judged.setting, basis)
    say("checking against a second calculation")
    opinion = opinion_on(sites, basis)
    answers = Answers(
        title=job.job.title, basis=basis, setting=judged.setting, search=judged.search, sites=sites, rejects=files.rejects,
        areas=files.areas, area_pieces=placed.pieces, zones=placed.zones, boundaries=placed.boundaries, drift_lines=ground.drift_lines,
        lattice=ground.lattice, spread=ground.spread, clock_rules=placed.clock_rules, backdrop=files.backdrop, summary={}, notes=notes,
        versions=versions(), groups=groups, programmes=programmes, zoning=zoning, manner=files.manner, where=placed.where,
        outlined=bool(job.job.areas), listed=bool(job.job.sites), opinion=opinion)
    return replace(answers, summary=summarise(answers))
