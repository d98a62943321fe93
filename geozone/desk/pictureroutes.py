"""Pictures beside the form: the sun's height for the threshold, the year of each programme, and the map that a click takes a position from."""

from __future__ import annotations

import asyncio
import base64
import hashlib
import re
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from ..errors import GeozoneError, InputError
from .askroutes import faults_of
from .darkpicture import dark_picture, threshold_of, words_of
from .jobform import edited
from .jobtext import JobText
from .nested import value_at
from .pages import address_of, go, not_there
from .planroutes import of_plan, save_form
from .plans import Plan, summary_of
from .positions import Frame, commonest, picture
from .runs import error_of
from .state import Desk

_KINDS = ("altitude_deg", "twilight", "illuminance_lx")
_SVG = "image/svg+xml"
_SETTING = ("lat_deg", "lon_deg", "legal_zone", "dusk_offset_min", "dawn_offset_min")


@of_plan
async def dark(request: Request, desk: Desk, plan: Plan) -> Response:
    """The sun's height for what the form holds, as a picture and, asked for as JSON, in words."""
    kind, text = request.query_params.get("kind", ""), request.query_params.get("value", "")[:40]
    chosen = threshold_of(kind, text.strip()) if kind in _KINDS else None
    if request.headers.get("accept") == "application/json":
        return JSONResponse({"src": _data(dark_picture(chosen)), "words": words_of(chosen) if chosen else "This is no threshold yet."})
    return Response(dark_picture(chosen), media_type=_SVG)


@of_plan
async def years(request: Request, desk: Desk, plan: Plan) -> Response:
    """The years of the programmes as the form holds them now, nothing saved."""
    sent = await request.form(max_fields=20_000)
    posted = {key: str(value) for key, value in sent.items() if key not in ("do", "sum")}
    try:
        shown = desk.seen_job(str(sent.get("sum", ""))) or desk.job_of(plan)
        text = edited(JobText(shown.text), posted).text
    except (GeozoneError, ValueError) as why:
        return JSONResponse({"error": str(why), "years": []})
    found = await _years_of(desk, plan, text)
    return JSONResponse({**found, "years": [{"src": _data(one["svg"]), "words": words_of_year(one)} for one in found["years"]]})


@of_plan
async def year(request: Request, desk: Desk, plan: Plan) -> Response:
    """The year of one programme of the job as it is saved."""
    number = request.path_params["number"]
    found = (await _years_of(desk, plan, desk.job_of(plan).text))["years"]
    if not number.isdecimal() or len(number) > 4 or int(number) >= len(found):
        return not_there(request, "There is no picture of this programme.")
    return Response(found[int(number)]["svg"], media_type=_SVG)


async def _years_of(desk: Desk, plan: Plan, text: str) -> dict[str, Any]:
    """"years" as `tasks.years`, none with an "error" where the job cannot be read; what was asked last is kept."""
    faults = faults_of(plan, text)
    if faults:
        return {"error": "The picture follows when what is marked can be read: " + faults[0][1].what + ".", "years": []}
    setting = setting_found(plan)
    key = hashlib.sha256(f"{text} {setting}".encode()).hexdigest()
    if desk.years.get(plan.name, ("", None))[0] != key:
        task = {"do": "years", "job": str(plan.job), "text": text, "setting": setting}
        desk.years[plan.name] = key, asyncio.create_task(desk.runs.ask(task))
    result = await asyncio.shield(desk.years[plan.name][1])
    if "done" in result:
        return {"error": "", "years": result["done"]["years"]}
    desk.years.pop(plan.name, None)
    why = error_of(result)
    return {"error": f"{why['what'][:1].upper()}{why['what'][1:]}. {why.get('next_step') or ''}".strip(), "years": []}


def setting_found(plan: Plan) -> dict | None:
    """The shared setting of the last run, which stands in where the job names none."""
    shared = value_at(summary_of(plan), ("shared",))
    return {name: shared[name] for name in _SETTING} if isinstance(shared, dict) and all(name in shared for name in _SETTING) else None


def words_of_year(one: dict) -> str:
    """A picture of a year in words."""
    wasted = "; lamps burn in daylight for over an hour on some nights" if one["wasted"] else ""
    return f"{one['programme']}: {one['lit_h']:,.0f} hours of light in the year{wasted}."


def _data(svg: str) -> str:
    return f"data:{_SVG};base64,{base64.b64encode(svg.encode()).decode()}"


@of_plan
async def spots(request: Request, desk: Desk, plan: Plan) -> Response:
    """The sites, with the shared setting of the job as it is saved."""
    drawn = await map_of(desk, plan)
    if drawn is None:
        return not_there(request)
    lat, lon = (value_at(desk.job_of(plan).data or {}, ("shared", name)) for name in ("lat_deg", "lon_deg"))
    given = all(isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) <= 180 for value in (lat, lon))
    return Response(picture(drawn, (lat, lon) if given else None), media_type=_SVG)


async def map_of(desk: Desk, plan: Plan) -> dict | None:
    """Points and outlines of the plan's files; None where there are none."""
    task = desk.look(plan)
    return (await asyncio.shield(task)).get("done", {}).get("map") if task is not None else None


@of_plan
async def spot(request: Request, desk: Desk, plan: Plan) -> Response:
    """The form saved with the position that was clicked, on the keypad's step."""
    sent = await request.form(max_fields=20_000)
    posted = {key: str(value) for key, value in sent.items() if key not in ("do", "spot.x", "spot.y")}
    address, drawn = address_of(plan, "ask"), await map_of(desk, plan)
    x, y = (str(sent.get(name, "")) for name in ("spot.x", "spot.y"))
    if drawn is None or not all(re.fullmatch(r"\d{1,4}", text) for text in (x, y)) or x == y == "0":
        return go(address, desk, InputError("no spot of the map was clicked", next_step="click one, or type latitude and longitude"), "shared")
    lat, lon = Frame.of(drawn).position(float(x), float(y))
    zone = await common_zone(desk, plan)

    def moved(job: JobText) -> tuple[JobText, str]:
        step = value_at(job.data, ("keypad", "coordinate_step_deg"))
        step = float(step) if isinstance(step, (int, float)) and 0 < step <= 5 else 0.1
        for name, value in (("lat_deg", lat), ("lon_deg", lon)):
            job = job.with_value(("shared", name), round(round(value / step) * step, 9))
        if not job.has(("shared", "legal_zone")) and zone:
            job = job.with_value(("shared", "legal_zone"), zone)
        return job, "shared"

    return save_form(desk, plan, posted, address, "The position was taken and saved.", moved)


async def common_zone(desk: Desk, plan: Plan) -> str:
    """The legal zone that most sites keep; "" where it is not known."""
    task = desk.look(plan)
    return commonest(((await asyncio.shield(task)).get("done", {}).get("list") or {}).get("zones") if task is not None else None)
