"""The commands. Results go to standard output, progress and remarks to standard error.

Exit codes: 0 done, 1 a defect of geozone, 2 something in the input or the output folder to be mended by the user.
"""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Optional

import typer

from . import __version__
from .errors import GeozoneError

app = typer.Typer(add_completion=False, no_args_is_help=True, pretty_exceptions_enable=False, rich_markup_mode=None,
                  help="Where one shared dusk-to-dawn setting is good enough for outdoor lighting, and where it is not.")


# What a shell takes for "ended by an interrupt".
_INTERRUPTED = 130


class PaperPart(StrEnum):
    """What of the paper can be made alone."""

    cards = "cards"
    sheet = "sheet"


Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Say nothing but the result.")]


@app.command()
def run(job: Annotated[Path, typer.Argument(metavar="JOB.toml", help="The job file.")],
        out: Annotated[Optional[Path], typer.Option("--out", "-o", metavar="OUT",
                                                    help="Output folder. [default: out, beside the job file]")] = None,
        quiet: Quiet = False):
    """Read a job, check it, compute it and write one output folder."""
    from .jobs.job import read_job

    checked = read_job(job)
    _run(checked, out if out is not None else checked.folder / "out", quiet)


@app.command()
def paper(job: Annotated[Path, typer.Argument(metavar="JOB.toml", help="The job file of a finished run.")],
          out: Annotated[Optional[Path], typer.Option("--out", "-o", metavar="OUT",
                                                      help="Output folder of that run. [default: out, beside the job file]")] = None,
          only: Annotated[Optional[PaperPart], typer.Option("--only", metavar="cards|sheet", help="Make only these again.")] = None,
          quiet: Quiet = False):
    """Make sheet and cards again from what a run kept.

    For a change in [sheet], [cards] or the display_ keys of [keypad]; nothing else is computed, and of
    the other files only summary.json, which names them, is written.
    """
    from .invocation import command
    from .jobs.job import read_job
    from .screens import console

    checked = read_job(job)
    folder = out if out is not None else checked.folder / "out"
    say = console.silent if quiet else console.progress()
    say("loading")
    from .jobs.paperagain import make_again

    made = make_again(checked, folder, say, only.value if only else "", command("run", job, *(("-o", out) if out is not None else ())),
                      lambda: console.prepare(say, ("sun",)))
    say(None)
    if not quiet:
        console.say_troubles()
    print(console.paper_report(made, folder, quiet))


@app.command()
def new(folder: Annotated[Path, typer.Argument(metavar="DIR", help="A folder that does not exist yet, or is empty.")]):
    """Write a job folder: a commented job file, a small example site list and outlines."""
    from .invocation import command
    from .jobs.examples import write_example

    job = write_example("template", folder)
    print(f"Written: {job.parent}\nEdit:    {job}\nRun:     {command('run', job)}")


@app.command()
def demo(folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where to put the demo job.")] = Path("geozone-demo"),
         quiet: Quiet = False):
    """Write the demo job, run it, and say which file to open."""
    from .jobs.examples import write_example
    from .jobs.job import read_job

    job = write_example("demo", folder)
    out = _run(read_job(job), job.parent / "out", quiet)
    print(f"\nOpen this file in a browser: {out / 'map.html'}")


@app.command()
def times(lat: Annotated[float, typer.Option("--lat", help="Latitude [degree], north positive.")],
          lon: Annotated[float, typer.Option("--lon", help="Longitude [degree], east positive.")],
          date: Annotated[Optional[str], typer.Option("--date", help="One night, named by its evening: 2027-06-21. "
                                                                     "[default: tonight]")] = None,
          year: Annotated[Optional[int], typer.Option("--year", help="All nights of a year, as CSV.")] = None,
          altitude_deg: Annotated[Optional[float], typer.Option("--altitude-deg", help="Dark threshold: altitude of the "
                                                                "sun [degree]. [default: -0.8333, sunset]")] = None,
          twilight: Annotated[Optional[str], typer.Option("--twilight", help="sunset, civil or nautical.")] = None,
          illuminance_lx: Annotated[Optional[float], typer.Option("--illuminance-lx", help="Dark threshold in lux, "
                                                                  "clear sky.")] = None,
          legal_zone: Annotated[Optional[str], typer.Option("--legal-zone", help="IANA name; left out: the legal zone "
                                                            "of the place.")] = None):
    """Dusk and dawn of one place in legal time."""
    from .jobs.placetimes import place_times

    print(place_times(lat_deg=lat, lon_deg=lon, date=date, year=year, altitude_deg=altitude_deg, twilight=twilight,
                      illuminance_lx=illuminance_lx, legal_zone=legal_zone))


@app.command()
def readings(lat: Annotated[float, typer.Option("--lat", help="Keyed latitude [degree], north positive.")],
             lon: Annotated[float, typer.Option("--lon", help="Keyed longitude [degree], east positive.")],
             zone: Annotated[Optional[str], typer.Option("--zone", help="IANA name; left out: the legal zone of the place.")] = None,
             offsets: Annotated[str, typer.Option("--offsets", help="Keyed offsets at dusk and dawn [min], such as -2,1.")] = "0,0",
             clock_rule: Annotated[Optional[str], typer.Option("--clock-rule", help="Keyed summer-time rule: none, united states, "
                                                               "european union, southern australia. [default: as the law has it]")] = None,
             threshold: Annotated[Optional[str], typer.Option("--threshold", help="Dark threshold: sunset, civil, nautical, or an "
                                                              "altitude of the sun [degree]. [default: sunset]")] = None,
             date: Annotated[Optional[str], typer.Option("--date", help="First day: 2027-06-21. [default: today]")] = None):
    """What the display of a switch must read, and what it means if it reads something else."""
    from .jobs.placereadings import place_readings
    from .jobs.placetimes import offsets_given, threshold_given

    print(place_readings(lat_deg=lat, lon_deg=lon, legal_zone=zone, offsets_min=offsets_given(offsets), clock_rule=clock_rule,
                         date=date, **threshold_given(threshold)))


@app.command()
def which(out: Annotated[Path, typer.Argument(metavar="OUT", help="Output folder of a finished run with zones or groups.")],
          places: Annotated[Optional[Path], typer.Argument(metavar="[LIST]", help="A site list; else give --lat and --lon.")] = None,
          lat: Annotated[Optional[float], typer.Option("--lat", help="Latitude of a place [degree], north positive.")] = None,
          lon: Annotated[Optional[float], typer.Option("--lon", help="Longitude of a place [degree], east positive.")] = None,
          zone: Annotated[Optional[str], typer.Option("--zone", help="Its legal zone, an IANA name; left out: that of the place.")] = None,
          target: Annotated[Path, typer.Option("--out", "-o", metavar="FILE", help="CSV file to write for a list.")] = Path("which.csv")):
    """Which setting of a finished plan a place gets that the plan did not know, and how many minutes off it would be there."""
    from .errors import InputError
    from .plurals import counted

    if (places is None) == (lat is None or lon is None) or (places is not None and not (lat is None and lon is None and zone is None)):
        raise InputError("it is not said which places are meant", value="a list and a position" if places is not None else "neither",
                         rule="a site list, or --lat and --lon", next_step="for example geozone which out --lat -35.1 --lon 140.2")
    from .jobs.whichplace import list_which, place_which

    if places is None:
        print(place_which(out, lat, lon, zone))
        return
    count, without, rejected = list_which(out, places, target)
    print(f"{counted(count, 'place')}, {without:,} without a setting of the plan" + (f"; {counted(rejected, 'row')} of the list could not be used" if rejected else "")
          + f"\nWritten     {target}")


@app.command()
def desk(folder: Annotated[Path, typer.Argument(metavar="[FOLDER]", help="Folder of plans; a missing one is made, with the demo in it.")] = Path("geozone-plans"),
         port: Annotated[int, typer.Option("--port", help="Port on this machine. [default: any that is free]", min=0, max=65535, show_default=False)] = 0,
         no_browser: Annotated[bool, typer.Option("--no-browser", help="Print the address and open no browser.")] = False,
         read_only: Annotated[bool, typer.Option("--read-only", help="Show plans and their answers; change and run nothing.")] = False):
    """Open a page in the browser in which the whole job is done: files, questions, run, answers.

    It runs on this machine, for this user, and asks nothing of the network. A machine on which others are logged in is no place for it.
    """
    from .desk.server import open_desk

    open_desk(folder, port, not no_browser, read_only)


@app.command()
def audit(job: Annotated[Path, typer.Argument(metavar="JOB.toml", help="The job file.")],
          found: Annotated[Optional[Path], typer.Argument(metavar="[AS_FOUND]", help="The as-found list: what was read at the switches. "
                                                                                   "[default: found in the job's [audit]]", show_default=False)] = None,
          log: Annotated[Optional[Path], typer.Option("--log", metavar="LOG", help="On and off times seen through many nights, by a crew, a meter "
                                                      "or a current logger.")] = None,
          out: Annotated[Optional[Path], typer.Option("--out", "-o", metavar="OUT", help="Output folder. [default: audit, beside the job file]")] = None,
          quiet: Quiet = False):
    """What can be keyed in out there, which slips explain what was read, and where to go first."""
    from .jobs.job import read_job
    from .screens import console

    checked = read_job(job)
    folder = out if out is not None else checked.folder / "audit"
    say = console.silent if quiet else console.progress()
    say("loading")
    from .jobs.auditlists import found_list
    from .jobs.auditplan import audit as run_audit
    from .screens.preparing import parts_of

    console.prepare(say, tuple(dict.fromkeys((*parts_of(checked), "programmes"))))  # energy needs the lit intervals
    if found is None and (log is None or checked.audit.found is not None):
        found = found_list(checked)
    done = run_audit(checked, found, folder, say, log)
    say(None)
    if not quiet:
        console.say_troubles()
    print(console.audit_report(done, folder, quiet))


@app.command()
def rules(job: Annotated[Path, typer.Argument(metavar="JOB.toml", help="The job file.")],
          old: Annotated[str, typer.Option("--from", metavar="OLD", help="The earlier tz database: a tzdata wheel, a source archive, a folder of "
                                                                         "compiled zones.")] = "installed",
          new: Annotated[str, typer.Option("--to", metavar="NEW", help="The later one.")] = "installed",
          out: Annotated[Optional[Path], typer.Option("--out", "-o", metavar="OUT", help="Output folder. [default: rules, beside the job file]")] = None,
          quiet: Quiet = False):
    """Which sites need a visit when legal time changes, from which date, and which clock to key then.

    Two releases of the tz database are compared; "installed" is the one that geozone works with. Nothing is fetched from the network.
    """
    from .jobs.job import read_job
    from .screens import console

    checked = read_job(job)
    folder = out if out is not None else checked.folder / "rules"
    say = console.silent if quiet else console.progress()
    say("loading")
    from .jobs.lawplan import compare_laws
    from .screens.lawreport import law_report
    from .screens.preparing import parts_of

    console.prepare(say, parts_of(checked))
    done = compare_laws(checked, old, new, folder, say)
    say(None)
    if not quiet:
        console.say_troubles()
    print(law_report(done, folder, quiet))


def _run(job, out: Path, quiet: bool) -> Path:
    from .screens import console

    say = console.silent if quiet else console.progress()
    say("loading")
    from .jobs.placechecks import check_early
    from .jobs.plan import run as run_plan
    from .screens.preparing import parts_of

    check_early(job, out)
    console.prepare(say, parts_of(job))
    answers = run_plan(job, out, say)
    say(None)
    if not quiet:
        console.say_troubles()
    print(console.report(answers, out, quiet))
    return out


def _version(wanted: bool):
    if wanted:
        print(f"geozone {__version__}")
        raise typer.Exit()


@app.callback()
def _common(version: Annotated[bool, typer.Option("--version", callback=_version, is_eager=True,
                                                  help="Print the version and stop.")] = False):
    pass


def main():
    """The entry point: one clean message and exit code 2 for a mistake that the user can mend."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            # A console in an old code page must not stop a run at the first accented place name.
            stream.reconfigure(errors="replace")
    try:
        app()
    except GeozoneError as error:
        print(f"geozone: {error}", file=sys.stderr)
        sys.exit(2)
    except BrokenPipeError:
        sys.exit(0)
    except KeyboardInterrupt:
        _stopped()
    except SystemExit as end:
        if end.code != _INTERRUPTED:
            raise
        _stopped()  # the library of the commands turns an interrupt into this


def _stopped():
    print("geozone: stopped; nothing is half-written", file=sys.stderr)
    sys.exit(_INTERRUPTED)


if __name__ == "__main__":
    main()
