"""The pages on which a job is written: the form, its text, and what was changed by two at once."""

from __future__ import annotations

import difflib
from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response

from ..errors import GeozoneError, InputError
from ..places import limits
from .darkpicture import threshold_of, words_of
from .fields import sent
from .jobform import changed, shown_form, without_setting
from .labels import HINTS
from .nested import value_at
from .pages import address_of, go, not_there, page
from .planroutes import of_plan, plan_of, save_form
from .plans import Plan
from .positions import Frame, commonest
from .state import Desk
from .whatif import DARK_KINDS

_MOST_DIFFERENCES = 400


def faults_of(plan, text: str) -> list:
    """Everything that a run would refuse in a job's text, by key."""
    from ..jobs.job import all_faults

    return all_faults(text, Path(plan.job.name))


@of_plan
async def ask_page(request: Request, desk: Desk, plan: Plan) -> Response:
    if desk.read_only:
        return go(address_of(plan, "answers"))
    saved = desk.job_of(plan)
    if (data := saved.data) is None:
        return go(address_of(plan, "text"), desk, InputError("the form cannot be shown", rule="the job file must be readable for that",
                                                             next_step="mend its text"))
    from .fields import OF_THE_FILES, form

    faults = faults_of(plan, saved.text)
    sections, others = shown_form(data, faults, tuple(one for one in form() if one.name not in OF_THE_FILES))
    task = desk.look(plan)
    done = task.result().get("done", {}) if task is not None and task.done() else {}
    seen, drawn = done.get("list"), done.get("map")
    kind = next((name for name, _ in DARK_KINDS if value_at(data, ("dark", name)) is not None), "altitude_deg")
    chosen = threshold_of(kind, sent(value_at(data, ("dark", kind))))
    return page(request, "ask.html", plan=plan, tab="ask", saved=saved, sections=sections, others=others, wrong=len(faults),
                hints=HINTS, dark={"kind": kind, "value": sent(value_at(data, ("dark", kind))), "words": words_of(chosen) if chosen else "No threshold is said yet."},
                frame=Frame.of(drawn) if drawn else None, zone=commonest((seen or {}).get("zones")), columns=[one["name"] for one in seen["columns"]] if seen else [])


@of_plan
async def ask(request: Request, desk: Desk, plan: Plan) -> Response:
    """Save the form; its buttons may also add, remove or run."""
    posted_form = await request.form(max_fields=20_000)
    posted = {key: str(value) for key, value in posted_form.items() if key != "do"}
    what = str(posted_form.get("do", "save"))
    if what in ("save", "run"):
        answer = save_form(desk, plan, posted, address_of(plan, "ask"), "Saved.")
        if what == "run" and "/clash/" not in answer.headers["location"] and not (found := faults_of(plan, desk.job_of(plan).text)):
            desk.begin(plan)
            return go(address_of(plan, "answers"))
        if what == "run" and "/clash/" not in answer.headers["location"]:
            return go(address_of(plan, "ask"), desk, InputError("saved, but it cannot run yet", value=len(found), next_step="mend what is marked below"))
        return answer
    if what == "best":
        return save_form(desk, plan, posted, address_of(plan, "ask"), "Saved: the next run finds the best setting.", lambda job: (without_setting(job), "shared"))
    return save_form(desk, plan, posted, address_of(plan, "ask"), "Saved.", lambda job: changed(job, what))


@of_plan
async def text_page(request: Request, desk: Desk, plan: Plan) -> Response:
    saved = desk.job_of(plan)
    faults = [] if saved.trouble else faults_of(plan, saved.text)
    return page(request, "text.html", plan=plan, tab="text", saved=saved, faults=[str(why) for _, why in faults])


@of_plan
async def write_text(request: Request, desk: Desk, plan: Plan) -> Response:
    """Save the text, if the file still is what was seen."""
    sent = await request.form(max_part_size=4_000_000)
    # A browser drops one empty line at the beginning of a field, and the template puts one there.
    text, address = str(sent.get("text", "")), address_of(plan, "text")
    now = desk.job_of(plan)
    seen = desk.seen_job(str(sent.get("sum", "")))
    if now.trouble:
        return go(address, desk, InputError("the job file cannot be edited here", value=now.trouble, next_step="use a text editor"))
    if len(text.encode()) > limits.MOST_JOB_BYTES:
        return go(address, desk, InputError("the text is longer than a job file can be", rule=f"at most {limits.MOST_JOB_BYTES / 1e6:.0f} MB",
                                            next_step="nothing was written"))
    try:
        if seen is None or seen.sum != now.sum:
            return go(address_of(plan, f"clash/{desk.clash(plan, text)}"))
        clash = desk.save(plan, text, seen)
    except GeozoneError as why:
        return go(address, desk, why)
    return go(address_of(plan, f"clash/{clash}")) if clash else go(address, desk, "Saved.")


async def clash_page(request: Request) -> Response:
    """Two versions of a job file, line by line where they differ."""
    desk: Desk = request.app.state.desk
    plan, clash = plan_of(request), desk.clashed(request.path_params["number"])
    if plan is None or clash is None or clash.plan != plan.name:
        return not_there(request, "What was changed here is not kept any more.")
    now = desk.job_of(plan)
    mine = clash.mine.replace("\r\n", "\n")
    lines = list(difflib.unified_diff(now.shown.splitlines(), mine.splitlines(), lineterm="", n=1))[2:]
    return page(request, "clash.html", plan=plan, tab="text", saved=now, mine=mine, lines=lines[:_MOST_DIFFERENCES], more=len(lines) > _MOST_DIFFERENCES)
