"""The question "what if" on the page of answers: asked, told as it becomes known, and taken into the job."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from ..errors import GeozoneError, InputError
from .askroutes import faults_of
from .faults import fault
from .jobtext import JobText
from .pages import address_of, go, part_of
from .planroutes import of_plan, save_form
from .plans import Plan, summary_of
from .runs import Trial
from .state import Desk, state_of_files
from .whatif import LIMITS_S, asked_job, rows_of, sentence_of

# How long a question for news is kept open [s].
_WAIT_S = 20.0
_MOST_LETTERS = 60


@of_plan
async def ask(request: Request, desk: Desk, plan: Plan) -> Response:
    """Try what the fields say; a script gets a mark to ask on with, a page without one is sent to the answers."""
    posted = await _posted(request)
    saved, summary = desk.job_of(plan), summary_of(plan)
    try:
        text = asked_job(JobText(saved.text), posted, summary).text
        faults = faults_of(plan, text)
        error = faults[0][1] if faults else None
    except ValueError:
        error = InputError("the job file cannot be read", next_step="mend its text first")
    except GeozoneError as why:
        error = why
    if error is not None:
        desk.runs.forget_trial(plan.name)
        trial = desk.runs.trials[plan.name] = Trial(posted=posted, error=fault(error), done=True)
    else:
        trial = desk.runs.try_out(plan.name, plan.job, text, state_of_files(plan), posted, LIMITS_S)
    trial.of = saved.sum
    if request.headers.get("accept") == "application/json":
        return JSONResponse(_told(trial, summary))
    return go(address_of(plan, "answers"), at="whatif")


@of_plan
async def tried(request: Request, desk: Desk, plan: Plan) -> Response:
    """What is known of the last question; with what was seen last, the answer waits until there is more."""
    trial = desk.runs.trials.get(plan.name)
    if trial is not None and request.query_params.get("seen") == _mark(trial):
        await desk.runs.news(_WAIT_S)
        trial = desk.runs.trials.get(plan.name)
    return JSONResponse(_told(trial, summary_of(plan)) if trial is not None else {"mark": "", "done": True, "html": ""})


@of_plan
async def take(request: Request, desk: Desk, plan: Plan) -> Response:
    """Write what the fields say into the job."""
    sent = await _posted(request)
    summary = summary_of(plan)
    answer = save_form(desk, plan, {"sum": sent.get("sum", "")}, address_of(plan, "answers"),
                       "Taken into the plan's job. The answers and files below are still those of before: a run makes them anew.",
                       lambda job: (asked_job(job, sent, summary), ""))
    desk.runs.forget_trial(plan.name)
    return answer


@of_plan
async def drop(request: Request, desk: Desk, plan: Plan) -> Response:
    """Back to what the job says."""
    desk.runs.forget_trial(plan.name)
    return go(address_of(plan, "answers"), at="whatif")


async def _posted(request: Request) -> dict[str, str]:
    sent = await request.form(max_fields=40)
    return {key: str(value)[:_MOST_LETTERS] if key != "sum" else str(value)[:100] for key, value in sent.items()}


def _mark(trial: Trial) -> str:
    return f"{trial.number}-{trial.heard}-{trial.done}"


def _told(trial: Trial, summary: dict) -> dict:
    return {"mark": _mark(trial), "done": trial.done, "html": part_of("tried.html", **shown(trial, summary))}


def shown(trial: Trial | None, summary: dict) -> dict:
    """What the template of an answer needs."""
    if trial is None:
        return {"trial": None}
    return {"trial": trial, "sentence": sentence_of(trial.parts, trial.done), "rows": rows_of(summary, trial.parts)}
