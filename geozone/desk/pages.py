"""Pages made of templates: every text of a user is escaped by the template engine, none is ever markup."""

from __future__ import annotations

from importlib.resources import files
from typing import Any
from urllib.parse import quote

import jinja2
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse

from .. import __version__
from ..errors import GeozoneError, visible
from ..plurals import counted
from .plans import Plan
from .state import Desk

_TEMPLATES = jinja2.Environment(loader=jinja2.FunctionLoader(lambda name: (files("geozone.desk") / "templates" / name).read_text(encoding="utf-8")),
                                autoescape=True, trim_blocks=True, lstrip_blocks=True)
_TEMPLATES.filters["part"] = lambda text: quote(str(text), safe="")
_TEMPLATES.filters["seen"] = visible
_TEMPLATES.filters["plain_number"] = lambda text: text.rstrip("0").rstrip(".")
_TEMPLATES.globals["counted"] = counted
#: Tabs of a plan: end of the address, and what it is called.
TABS = (("", "Files"), ("ask", "Ask"), ("answers", "Answers"), ("audit", "Audit"), ("text", "Job file"))


def page(request: Request, name: str, status: int = 200, **values: Any) -> HTMLResponse:
    """A page with the sentence that its address asks for."""
    desk: Desk = request.app.state.desk
    said = desk.said(request.query_params.get("said", ""))
    values = {"plan": None, "tab": None, **values}
    plan = values["plan"]
    html = _TEMPLATES.get_template(name).render(read_only=desk.read_only, version=__version__, said=said, tabs=TABS if not desk.read_only else TABS[2:],
                                                busy=plan is not None and desk.runs.busy(plan.name), **values)
    return HTMLResponse(html, status)


def part_of(name: str, **values: Any) -> str:
    """A piece of a page, for a script to put in its place."""
    return _TEMPLATES.get_template(name).render(**values)


def go(address: str, desk: Desk | None = None, said: str | GeozoneError | None = None, at: str = "") -> RedirectResponse:
    """The answer to everything that is sent: look at this page, by a request of its own, so that back and reload send nothing again."""
    if said is not None and desk is not None:
        address += ("&" if "?" in address else "?") + f"said={desk.say(said)}"
    return RedirectResponse(address + (f"#{quote(at, safe='.')}" if at else ""), 303)


def address_of(plan: Plan | str, end: str = "") -> str:
    name = plan if isinstance(plan, str) else plan.name
    return f"/plan/{quote(name, safe='')}" + (f"/{end}" if end else "")


def not_there(request: Request, what: str = "There is no such page or plan here.") -> HTMLResponse:
    return page(request, "gone.html", 404, what=what)
