"""The desk opened: a socket on this machine alone, the guard before it, the worker behind it."""

from __future__ import annotations

import contextlib
import socket
import sys
import threading
import webbrowser
from pathlib import Path

import uvicorn
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from ..errors import InputError
from . import answerroutes, askroutes, auditroutes, pictureroutes, planroutes, tryroutes
from .guard import Guard, Keys, plain_page
from .pages import not_there
from .plans import Plans
from .state import Desk

#: The name of the first plan of a folder in which nothing was.
FIRST_PLAN = "Demo"
_AT_ONCE = 64

_ROUTES = (
    ("GET", "/", planroutes.list_of_plans), ("POST", "/plans", planroutes.change_plans), ("GET", "/web/{name}", planroutes.web_file),
    ("GET", "/plan/{name}", planroutes.files_page), ("POST", "/plan/{name}/upload", planroutes.drop), ("POST", "/plan/{name}/reading", planroutes.say_reading),
    ("GET", "/plan/{name}/rows-to-mend.csv", planroutes.to_mend), ("GET", "/plan/{name}/positions.svg", planroutes.small_map),
    ("GET", "/plan/{name}/ask", askroutes.ask_page), ("POST", "/plan/{name}/ask", askroutes.ask),
    ("GET", "/plan/{name}/dark.svg", pictureroutes.dark), ("POST", "/plan/{name}/years", pictureroutes.years),
    ("GET", "/plan/{name}/year/{number}", pictureroutes.year), ("GET", "/plan/{name}/spots.svg", pictureroutes.spots),
    ("POST", "/plan/{name}/spot", pictureroutes.spot),
    ("GET", "/plan/{name}/text", askroutes.text_page), ("POST", "/plan/{name}/text", askroutes.write_text),
    ("GET", "/plan/{name}/clash/{number}", askroutes.clash_page),
    ("GET", "/plan/{name}/answers", answerroutes.answers_page), ("POST", "/plan/{name}/run", answerroutes.run),
    ("POST", "/plan/{name}/try", tryroutes.ask), ("GET", "/plan/{name}/tried", tryroutes.tried), ("POST", "/plan/{name}/take", tryroutes.take),
    ("POST", "/plan/{name}/untry", tryroutes.drop), ("POST", "/plan/{name}/cancel", answerroutes.cancel), ("GET", "/plan/{name}/state", answerroutes.state),
    ("GET", "/plan/{name}/beside", answerroutes.beside), ("GET", "/plan/{name}/table", answerroutes.table), ("GET", "/plan/{name}/all.zip", answerroutes.result_zip),
    ("GET", "/plan/{name}/file/{file:path}", answerroutes.result_file),
    ("GET", "/plan/{name}/audit", auditroutes.audit_page), ("POST", "/plan/{name}/audit/upload", auditroutes.drop),
    ("POST", "/plan/{name}/audit/run", auditroutes.begin), ("POST", "/plan/{name}/audit/cancel", auditroutes.cancel),
    ("GET", "/plan/{name}/audit/state", auditroutes.state), ("GET", "/plan/{name}/audit/table", auditroutes.audit_table),
    ("GET", "/plan/{name}/audit/all.zip", auditroutes.audit_zip), ("GET", "/plan/{name}/audit/file/{file:path}", auditroutes.audit_file),
)


def application(desk: Desk, keys: Keys) -> Guard:
    """The desk as an application, with its guard before it."""
    @contextlib.asynccontextmanager
    async def open_worker(app):
        if not desk.read_only:
            await desk.runs.start()
        try:
            yield
        finally:
            await desk.runs.close()

    app = Starlette(routes=[Route(path, function, methods=[method]) for method, path, function in _ROUTES], lifespan=open_worker,
                    exception_handlers={HTTPException: _refused, 500: _broken})
    app.state.desk = desk
    return Guard(app, keys, desk.read_only)


async def _refused(request: Request, why: Exception) -> Response:
    status = getattr(why, "status_code", 400)
    if status == 404:
        return not_there(request)
    return HTMLResponse(plain_page("The desk did not take this", str(getattr(why, "detail", ""))), status)


async def _broken(request: Request, why: Exception) -> Response:
    return HTMLResponse(plain_page("geozone broke off", f"This is a defect of the program, not of your files: {type(why).__name__}. "
                                   "Nothing of a plan was half-written. Go back and try again."), 500)


def open_desk(folder: str | Path, port: int = 0, browser: bool = True, read_only: bool = False) -> None:
    """Open the desk and keep it open until it is stopped.

    Parameters
    ----------
    folder : path-like
        Of plans; made if it is missing, with the demo as its first plan.
    port : int
        0 for any that is free.
    browser : bool
        Whether to try to open one. The address is printed whatever comes of it.
    read_only : bool

    Raises
    ------
    InputError, OutputError
        If the folder or the port cannot be used.
    """
    plans = Plans(folder, read_only)
    if plans.fresh and not read_only:
        plans.new(FIRST_PLAN, "demo")
    if not read_only:
        plans.put_in_order()
    listening = _bound(port)
    keys = Keys(listening.getsockname()[1], lambda address: _say(f"Again       {address}\n            (an address works once: for another browser)"))
    desk = Desk(plans, read_only)
    _say(f"Plans       {plans.root}\nOpen        {keys.address}\nStop        Ctrl+C\n"
         "            For this machine and you alone: no place for it is one on which others are logged in.")
    if browser:
        threading.Thread(target=_browse, args=(keys.address,), daemon=True).start()
    server = uvicorn.Server(uvicorn.Config(application(desk, keys), log_level="error", access_log=False, limit_concurrency=_AT_ONCE, ws="none", http="h11",
                                           timeout_graceful_shutdown=1, timeout_keep_alive=15, server_header=False, date_header=False, lifespan="on"))
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=[listening])
    _say("The desk is closed.")


def _bound(port: int) -> socket.socket:
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if sys.platform != "win32":  # there it would let another program take the port over
            made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind(("127.0.0.1", port))
        made.listen(128)
    except (OSError, OverflowError) as why:
        made.close()
        raise InputError("the desk cannot be opened at this port", value=port, rule=getattr(why, "strerror", None) or str(why),
                         next_step="name another with --port, or leave it out for any that is free") from None
    return made


def _say(text: str) -> None:
    print(text, flush=True)


def _browse(address: str) -> None:
    """Ask for a browser; whether one came nobody can tell, so nothing rests on it."""
    with contextlib.suppress(Exception):
        webbrowser.open(address)
