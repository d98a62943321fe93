"""The pages of a run and of its answers."""

from __future__ import annotations

import asyncio
import os
import tempfile
from pathlib import Path
from urllib.parse import quote

from starlette.background import BackgroundTask
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response

from ..errors import InputError
from .askroutes import faults_of
from .compared import compared
from .guard import RESULT_POLICY
from .pages import address_of, go, not_there, page
from .planroutes import of_plan, plan_of
from .plans import Plan, summary_of
from .runs import DONE
from .state import Desk
from .tables import kind_of_file, result_files, table_page, zipped
from .tryroutes import shown
from .whatif import DARK_KINDS, fields_of

# How long a question for news is kept open [s]; only a page that is seen asks.
_WAIT_S = 20.0
_DRAWN = (".html", ".svg", ".pdf", ".png")


@of_plan
async def answers_page(request: Request, desk: Desk, plan: Plan) -> Response:
    names = result_files(plan.out)
    tables = [name for name in names if name.endswith(".csv") and "/" not in name]
    run, summary = desk.runs.of.get(plan.name), summary_of(plan)
    changes = compared(run.before, summary) if run is not None and run.state == DONE and run.before and summary else None
    others = [one.name for one in desk.plans.all() if one.headline and one.name != plan.name] if summary else []
    saved = desk.job_of(plan)
    trial = desk.trial(plan, saved)
    asked = None if desk.read_only or saved.data is None else fields_of(saved.data, summary)
    return page(request, "answers.html", plan=plan, tab="answers", saved=saved, asked=asked, dark_kinds=DARK_KINDS, **shown(trial, summary),
                run=run, changes=changes, others=others,
                files=named_files(plan.out),
                tables=tables, summary=summary)


def named_files(out: Path) -> list[tuple[str, str]]:
    """Files of a result with their sizes in words."""
    return [(name, _size(out / name)) for name in result_files(out)]


def _size(path: Path) -> str:
    try:
        size = path.stat().st_size
    except OSError:
        return ""
    return f"{size / 1e6:.1f} MB" if size >= 1e5 else f"{size / 1e3:.1f} kB"


async def beside(request: Request) -> Response:
    """The figures of two plans side by side."""
    plan, other = plan_of(request), request.app.state.desk.plans.find(request.query_params.get("other", ""))
    one, two = (summary_of(found) if found is not None else {} for found in (plan, other))
    if not one or not two:
        return not_there(request, "Both plans need answers to be compared.")
    return page(request, "beside.html", plan=plan, other=other, tab="answers", rows=compared(one, two))


@of_plan
async def run(request: Request, desk: Desk, plan: Plan) -> Response:
    saved = desk.job_of(plan)
    faults = faults_of(plan, saved.text) if not saved.trouble else [((), InputError(saved.trouble))]
    if faults:
        return go(address_of(plan, "ask"), desk, faults[0][1])
    desk.begin(plan)
    return go(address_of(plan, "answers"))


@of_plan
async def cancel(request: Request, desk: Desk, plan: Plan) -> Response:
    await desk.runs.cancel(plan.name)
    return go(address_of(plan, "answers"))


async def state(request: Request) -> Response:
    """How far the run is; with what was seen last, the answer waits until there is more."""
    plan = plan_of(request)
    return JSONResponse({"state": "gone"}, 404) if plan is None else await answer_of(request, plan.name)


async def answer_of(request: Request, name: str) -> Response:
    """How far a run is, by the name under which it was begun."""
    desk: Desk = request.app.state.desk
    found = desk.runs.of.get(name)
    if found is not None and request.query_params.get("seen") == _mark(found):
        await desk.runs.news(_WAIT_S)
        found = desk.runs.of.get(name)
    if found is None:
        return JSONResponse({"state": "none", "mark": "", "said": [], "seconds": 0})
    return JSONResponse({"state": found.state, "mark": _mark(found), "said": found.said, "seconds": round(found.seconds, 1)})


def _mark(found) -> str:
    return f"{found.number}-{found.state}-{len(found.said)}"


async def result_file(request: Request) -> Response:
    plan = plan_of(request)
    return not_there(request) if plan is None else await file_in(request, plan.out)


async def file_in(request: Request, out: Path) -> Response:
    """A file of a result, looked up in the list of its files; pages that a run wrote are sealed off from the desk."""
    name = request.path_params["file"]
    if name not in result_files(out):
        return not_there(request, "There is no such file among the answers.")
    shown = "keep" not in request.query_params and name.endswith(_DRAWN)
    headers = {"Content-Disposition": f"{'inline' if shown else 'attachment'}; filename*=UTF-8''{quote(name.rsplit('/', 1)[-1], safe='')}"}
    if name.endswith((".html", ".svg")):
        headers["Content-Security-Policy"] = RESULT_POLICY
    elif name.endswith(".pdf"):
        # A browser's own reader draws it; the page that it makes for that may load nothing.
        headers["Content-Security-Policy"] = "default-src 'none'; object-src 'self'; style-src 'unsafe-inline'; frame-ancestors 'self'"
    # Read before it is sent: a run may put another folder in its place meanwhile.
    try:
        data = await asyncio.to_thread((out / name).read_bytes)
    except OSError:
        return not_there(request, "The answers are just being replaced. Load the page again.")
    return Response(data, media_type=kind_of_file(name), headers=headers)


async def result_zip(request: Request) -> Response:
    plan = plan_of(request)
    return not_there(request) if plan is None else await zip_of(request, plan.out, plan.name)


async def zip_of(request: Request, out: Path, name: str) -> Response:
    """All files of a result in one archive of a name."""
    if not result_files(out):
        return not_there(request, "There are no answers yet.")
    handle, path = tempfile.mkstemp(prefix="geozone-desk-", suffix=".zip")
    os.close(handle)
    try:
        await asyncio.to_thread(zipped, out, Path(path))
    except OSError:
        os.unlink(path)
        return not_there(request, "The answers are just being replaced. Load the page again.")
    return FileResponse(path, media_type="application/zip", headers={"Content-Disposition": f"attachment; filename*=UTF-8''{quote(name, safe='')}.zip"},
                        background=BackgroundTask(os.unlink, path))


async def table(request: Request) -> Response:
    """One result table, sorted, filtered and in pages."""
    plan = plan_of(request)
    if plan is None:
        return not_there(request)
    return await table_in(request, plan, plan.out, summary_of(plan), "answers", f"{address_of(plan)}/file/")


async def table_in(request: Request, plan: Plan, out: Path, summary: dict, tab: str, base: str) -> Response:
    """A table of one of a plan's results; `base`: where its files are fetched."""
    asked = request.query_params
    name = asked.get("file", "")
    if "/" in name or not name.endswith(".csv") or name not in result_files(out):
        return not_there(request, "There is no such table among the answers.")
    separator = (summary.get("csv") or {}).get("separator", ",")
    number = asked.get("page", "1")
    try:
        made = await asyncio.to_thread(lambda: table_page(
            out / name, separator if isinstance(separator, str) and len(separator) == 1 else ",", text=asked.get("text", "")[:200],
            column=asked.get("column", ""), sort=asked.get("sort", ""), down=asked.get("down") == "1", page=int(number) if number.isdecimal() and len(number) < 9 else 1))
    except (OSError, ValueError, StopIteration):
        return not_there(request, "The table cannot be read. Load the page again.")
    tables = [one for one in result_files(out) if one.endswith(".csv") and "/" not in one]
    return page(request, "table.html", plan=plan, tab=tab, base=base, file=name, tables=tables, made=made,
                asked={key: asked.get(key, "") for key in ("text", "column", "sort", "down")})
