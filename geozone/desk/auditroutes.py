"""The page of an audit: an as-found list dropped, the audit run, its work list, tables and files."""

from __future__ import annotations

import asyncio
from pathlib import Path

from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from ..errors import GeozoneError, InputError
from ..files.folder import earlier_summary
from .answerroutes import answer_of, file_in, named_files, table_in, zip_of
from .askroutes import faults_of
from .jobtext import JobText
from .pages import address_of, go, not_there, page
from .planroutes import of_plan, plan_of
from .plans import Plan
from .state import Desk
from .tables import result_files
from .uploads import put_into

#: Folder of an audit in a plan, and what stands behind the plan's name where its run is asked for; no plan's name has a stroke.
OUT, RUN = "audit", "/audit"


def audit_folder(plan: Plan) -> Path:
    """Where the audit of a plan is written."""
    return plan.folder / OUT


@of_plan
async def audit_page(request: Request, desk: Desk, plan: Plan) -> Response:
    """What was found out, and where to drop a list."""
    out = audit_folder(plan)
    names = result_files(out)
    data = desk.job_of(plan).data or {}
    section = data.get("audit")
    found = section.get("found") if isinstance(section, dict) else None
    return page(request, "audit.html", plan=plan, tab="audit", run=desk.runs.of.get(plan.name + RUN), auditing=desk.runs.busy(plan.name + RUN),
                found=found if isinstance(found, str) else "", files=named_files(out), names=names, figures=_figures(out) if names else None,
                tables=[name for name in ("work.csv", "audit.csv", "watch.csv", "rejects.csv") if name in names])


def _figures(out: Path) -> dict | None:
    figures = earlier_summary(out).get("audit")
    return figures if isinstance(figures, dict) else None


@of_plan
async def drop(request: Request, desk: Desk, plan: Plan) -> Response:
    """An as-found list: put into the plan, named in its job, audited."""
    here = address_of(plan, "audit")
    async with request.form(max_files=2, max_fields=4) as sent:
        given = sent.get("found")
        if not isinstance(given, UploadFile) or not given.filename:
            return go(here, desk, InputError("no file was chosen", next_step="choose the as-found list, or drop it on its field"))
        try:
            name = await asyncio.to_thread(put_into, plan.folder, given.filename, given.file)
        except GeozoneError as why:
            return go(here, desk, why)
    saved = desk.job_of(plan)
    try:
        job = JobText(saved.text)
        job = job if (job.data.get("audit") or {}).get("found") == name else job.with_value(("audit", "found"), name)
        clash = None if job.text == saved.text else desk.save(plan, job.text, saved)
    except GeozoneError as why:
        return go(here, desk, why)
    except (ValueError, AttributeError):
        return go(here, desk, InputError("the list lies in the plan, but its name could not be written into the job file", value=name,
                                         next_step="write it there on the page Job file"))
    return go(address_of(plan, f"clash/{clash}")) if clash else _begun(desk, plan)


@of_plan
async def begin(request: Request, desk: Desk, plan: Plan) -> Response:
    """The audit of the list that the job names."""
    return _begun(desk, plan)


def _begun(desk: Desk, plan: Plan) -> Response:
    saved = desk.job_of(plan)
    faults = faults_of(plan, saved.text) if not saved.trouble else [((), InputError(saved.trouble))]
    if faults:
        return go(address_of(plan, "ask"), desk, faults[0][1])
    desk.runs.begin(plan.name + RUN, plan.job, do="audit")
    return go(address_of(plan, "audit"))


@of_plan
async def cancel(request: Request, desk: Desk, plan: Plan) -> Response:
    await desk.runs.cancel(plan.name + RUN)
    return go(address_of(plan, "audit"))


async def state(request: Request) -> Response:
    """How far the audit is, as `answerroutes.state` says it of a run."""
    plan = plan_of(request)
    return JSONResponse({"state": "gone"}, 404) if plan is None else await answer_of(request, plan.name + RUN)


async def audit_file(request: Request) -> Response:
    plan = plan_of(request)
    return not_there(request) if plan is None else await file_in(request, audit_folder(plan))


async def audit_zip(request: Request) -> Response:
    plan = plan_of(request)
    return not_there(request) if plan is None else await zip_of(request, audit_folder(plan), f"{plan.name} audit")


async def audit_table(request: Request) -> Response:
    plan = plan_of(request)
    if plan is None:
        return not_there(request)
    return await table_in(request, plan, audit_folder(plan), {}, "audit", f"{address_of(plan, 'audit')}/file/")
