"""The pages of the list of plans and of one plan's files."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from functools import wraps
from importlib.resources import files

from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response

from ..errors import GeozoneError, InputError
from ..files.leftovers import turn_taken
from .fields import section_named
from .jobform import edited, shown_form
from .jobtext import JobText
from .labels import KEYS
from .pages import address_of, go, not_there, page
from .plans import Plan
from .positions import picture
from .state import Desk
from .uploads import USES, put_into

# How long a page waits for the worker before it says that it is still reading [s].
_PATIENCE_S = 1.5
_WEB = {"desk.css": "text/css; charset=utf-8", "desk.js": "text/javascript; charset=utf-8", "whatif.js": "text/javascript; charset=utf-8",
        "form.js": "text/javascript; charset=utf-8"}
ROLES = ("site_id", "name", "lat", "lon", "position", "legal_zone", "load_w")
_ENCODINGS = ("utf-8", "cp1252", "cp1250", "cp1251", "latin-1", "shift_jis", "gb18030", "utf-16")


def plan_of(request: Request):
    """The plan that an address names; None where there is none."""
    return request.app.state.desk.plans.find(request.path_params["name"])


def of_plan(route: Callable[[Request, Desk, Plan], Awaitable[Response]]) -> Callable[[Request], Awaitable[Response]]:
    """A page about the plan that its address names, handed over with the desk; where there is none, that is said."""
    @wraps(route)
    async def found(request: Request) -> Response:
        plan = plan_of(request)
        return not_there(request) if plan is None else await route(request, request.app.state.desk, plan)

    return found


async def list_of_plans(request: Request) -> Response:
    desk: Desk = request.app.state.desk
    return page(request, "plans.html", plan=None, plans=desk.plans.all(), thrown=desk.plans.thrown(), folder=str(desk.plans.root),
                running={name.partition("/")[0] for name in desk.runs.of if desk.runs.busy(name)})


async def change_plans(request: Request) -> Response:
    """New, copy, rename, to the bin and back."""
    desk: Desk = request.app.state.desk
    sent = await request.form()
    what, name, new = (str(sent.get(key, "")) for key in ("do", "plan", "name"))
    try:
        if what in ("rename", "bin") and (desk.runs.at_work(name) or (plan := desk.plans.find(name)) is not None and turn_taken(plan.out)):
            raise InputError("the plan is running", value=name, rule="here, in another desk, or by a command",
                             next_step="cancel the run, or wait for its end")
        if what == "new":
            made = desk.plans.new(new, str(sent.get("kind", "empty")))
            return go(address_of(made), desk, f"The plan {made} was made.")
        if what == "copy":
            made = desk.plans.copy(name, new)
            return go("/", desk, f"{name} was copied to {made}, without its answers.")
        if what == "rename":
            made = desk.plans.rename(name, new)
            desk.runs.renamed(name, made)
            return go("/", desk, f"{name} is called {made} now.")
        if what == "bin":
            desk.plans.throw(name)
            desk.forget(name)
            return go("/", desk, f"{name} lies in the bin. It can be taken back below.")
        if what == "restore":
            made = desk.plans.restore(str(sent.get("thrown", "")))
            return go("/", desk, f"{made} is back.")
        raise InputError("the page has no such button", value=what[:80], next_step="load it again")
    except GeozoneError as why:
        return go("/", desk, why)


@of_plan
async def files_page(request: Request, desk: Desk, plan: Plan) -> Response:
    """What was read of the plan's files, and where to say otherwise."""
    if desk.read_only:
        return go(address_of(plan, "answers"))
    saved = desk.job_of(plan)
    data = saved.data
    near = " ".join(request.query_params.get("near", "").split())[:80]
    task = desk.look(plan, near)
    seen, reading = None, False
    if task is not None:
        await asyncio.wait({task}, timeout=_PATIENCE_S)
        reading = not task.done()
        seen = None if reading else _seen(task.result())
    sections, _ = shown_form(data or {}, [], (section_named("columns"), section_named("reading")))
    job = data.get("job") if data and isinstance(data.get("job"), dict) else {}
    return page(request, "files.html", plan=plan, tab="", saved=saved, job=job, readable=data is not None, seen=seen, reading=reading, sections=sections,
                near=near, choices=_choices(seen),
                labels={role: KEYS[f"columns.{role}"] for role in ROLES})


def _seen(result: dict) -> dict:
    if "done" in result:
        return result["done"]
    from .runs import error_of

    return {"trouble": error_of(result), "map": None}


def _choices(seen: dict | None) -> dict[str, list[str]]:
    """What may be chosen for keys that name something of the list: columns that fit first."""
    listed = (seen or {}).get("list")
    made: dict[str, list[str]] = {"reading.encoding": list(_ENCODINGS), "reading.separator": [",", ";", "tab", "|"], "reading.decimal": [".", ","]}
    if listed:
        for role in ROLES:
            columns = sorted(listed["columns"], key=lambda one: role not in one["candidate_for"])
            made[f"columns.{role}"] = [one["name"] for one in columns]
        made["reading.layer"] = listed["layers"]
    return made


@of_plan
async def drop(request: Request, desk: Desk, plan: Plan) -> Response:
    """Files that were dropped or chosen: put into the plan, and named in its job."""
    async with request.form(max_files=6, max_fields=6) as sent:
        given = [(use, one) for use in USES if isinstance(one := sent.get(use), UploadFile) and one.filename]
        if not given:
            return go(address_of(plan), desk, InputError("no file was chosen", next_step="choose one, or drop it on the page"))
        try:
            done = [(use, await asyncio.to_thread(put_into, plan.folder, one.filename, one.file)) for use, one in given]
        except GeozoneError as why:
            return go(address_of(plan), desk, why)
    saved = desk.job_of(plan)
    try:
        job = JobText(saved.text)
        for use, name in done:
            if (job.data.get("job") or {}).get(use) != name:
                job = job.with_value(("job", use), name)
    except (GeozoneError, ValueError, AttributeError) as why:
        said = why if isinstance(why, GeozoneError) else InputError("the file lies in the plan, but its name could not be written into the job file",
                                                                   next_step="write it there on the page Job file")
        return go(address_of(plan), desk, said)
    return _written(desk, plan, job.text, saved, address_of(plan), f"{', '.join(name for _, name in done)}: put into the plan.")


@of_plan
async def say_reading(request: Request, desk: Desk, plan: Plan) -> Response:
    """Which column holds what, how the list is written, and its coordinate system."""
    sent = await request.form()
    return save_form(desk, plan, {key: str(value) for key, value in sent.items()}, address_of(plan), "Taken over; the list was read again.")


def save_form(desk: Desk, plan, posted: dict[str, str], address: str, said: str, then=lambda job: (job, "")) -> Response:
    """Write what was edited in a form; `then` makes a further change and says where to go on.

    Where the file was changed since the form was shown, the edits are made in the file as it is now and shown before anything is written.
    """
    saved = desk.job_of(plan)
    shown = desk.seen_job(posted.get("sum", "")) or saved
    try:
        job, at = then(edited(JobText(shown.text), posted))
        if shown.sum == saved.sum:
            return _written(desk, plan, job.text, saved, address, said, at)
        mine = {name: text for name, text in posted.items() if name != "sum"}
        changed = _only_edits(shown.text, mine)
        job, at = then(edited(JobText(saved.text), changed))
    except ValueError:
        return go(address_of(plan, "text"), desk, InputError("the job file cannot be read any more", next_step="mend its text first; nothing was written"))
    except GeozoneError as why:
        return go(address, desk, why)
    if job.text == saved.text:
        return go(address, desk, said, at)
    return go(address_of(plan, f"clash/{desk.clash(plan, job.text)}"))


def _only_edits(text: str, posted: dict[str, str]) -> dict[str, str]:
    before = JobText(text)
    return {name: value for name, value in posted.items() if edited(before, {name: value}).text != before.text}


def _written(desk: Desk, plan, text: str, saved, address: str, said: str, at: str = "") -> Response:
    try:
        clash = None if text == saved.text else desk.save(plan, text, saved)
    except GeozoneError as why:
        return go(address, desk, why)
    if clash is not None:
        return go(address_of(plan, f"clash/{clash}"))
    return go(address, desk, said, at)


async def to_mend(request: Request) -> Response:
    """The rows that cannot be used, as a list."""
    plan = plan_of(request)
    listed = await _list_now(request, plan)
    if not listed or not listed.get("to_mend"):
        return not_there(request, "There are no rows to mend.")
    return Response(("\ufeff" + listed["to_mend"]).encode("utf-8"), media_type="text/csv; charset=utf-8",
                    headers={"Content-Disposition": 'attachment; filename="rows-to-mend.csv"'})


async def _list_now(request: Request, plan) -> dict | None:
    task = request.app.state.desk.look(plan) if plan is not None else None
    return (await asyncio.shield(task)).get("done", {}).get("list") if task is not None else None


async def small_map(request: Request) -> Response:
    """The picture of the positions, from the look that the page shows."""
    plan = plan_of(request)
    task = request.app.state.desk.look(plan) if plan is not None else None
    seen = (await asyncio.shield(task)).get("done", {}) if task is not None else {}
    if not seen.get("map"):
        return not_there(request)
    return Response(picture(seen["map"]), media_type="image/svg+xml")


async def web_file(request: Request) -> Response:
    name = request.path_params["name"]
    if name not in _WEB:
        return not_there(request)
    return Response((files("geozone.desk") / "web" / name).read_bytes(), media_type=_WEB[name])
