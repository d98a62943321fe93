"""The command line, and an application asked without a network, in this process, as several files of tests use them."""

import asyncio
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest

from geozone import cli


@pytest.fixture
def geozone(monkeypatch, capsys):
    def call(*arguments):
        monkeypatch.setattr(sys, "argv", ["geozone", *map(str, arguments)])
        with pytest.raises(SystemExit) as stopped:
            cli.main()
        text = capsys.readouterr()
        assert "Traceback" not in text.err + text.out
        return stopped.value.code or 0, text.out, text.err
    return call


@pytest.fixture
def without_paper(monkeypatch):
    """Whole runs without sheet and cards, which take half of their time, for tests that look at neither."""
    from geozone.jobs import paperagain

    monkeypatch.setattr(paperagain, "write_paper", lambda *asked: ())


@pytest.fixture
def asked():
    """Asks an application as a server would: status, headers (the last of a name) and body."""
    def ask(app, method, path, headers=(), body=(), host="127.0.0.1:9432"):
        given = [] if host is None else [(b"host", host.encode())]
        given += [(name.lower().encode(), value.encode("latin-1")) for name, value in (headers.items() if isinstance(headers, dict) else headers)]
        path, _, query = path.partition("?")
        scope = {"type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method, "scheme": "http", "path": path,
                 "raw_path": path.encode(), "root_path": "", "query_string": query.encode(), "headers": given, "server": ("127.0.0.1", 9432), "client": None}
        parts, sent = list(body), []

        async def receive():
            return {"type": "http.request", "body": parts.pop(0) if parts else b"", "more_body": bool(parts)}

        async def send(message):
            sent.append(message)

        # In a thread of its own: tests of pages leave a loop running in theirs.
        with ThreadPoolExecutor(1) as apart:
            apart.submit(lambda: asyncio.run(app(scope, receive, send))).result()
        found = {name.decode().lower(): value.decode("latin-1") for name, value in sent[0]["headers"]}
        return sent[0]["status"], found, b"".join(message.get("body", b"") for message in sent[1:])

    return ask
