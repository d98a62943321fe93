"""Who the desk answers, and what of a request never reaches a plan. Attacks as a page, a program or another user would try them."""

import shutil

import pytest

from geozone.desk.guard import MOST_FORM_BYTES, POLICY, RESULT_POLICY, Keys
from geozone.desk.plans import Plans
from geozone.desk.server import application
from geozone.desk.state import Desk
from geozone.jobs.examples import examples_folder

OWN = "http://127.0.0.1:9432"


@pytest.fixture
def desk(tmp_path):
    shutil.copytree(examples_folder() / "template", tmp_path / "plans" / "Three hamlets")
    (tmp_path / "secret.toml").write_text("secret")
    desk, keys = Desk(Plans(tmp_path / "plans")), Keys(9432)
    desk.look = lambda plan, near="": None  # the worker belongs to a desk that is open: tests/unit/test_desk_worker.py
    yield application(desk, keys), keys, tmp_path
    shutil.rmtree(desk.runs._folder)


@pytest.fixture
def inside(desk, asked):
    """A browser that was let in."""
    app, keys, _ = desk
    cookie = {"Cookie": asked(app, "GET", keys.address.removeprefix(OWN))[1]["set-cookie"].split(";")[0]}

    def ask(method, path, more=(), **how):
        headers = {**cookie, **({} if method == "GET" else {"Origin": OWN, "Sec-Fetch-Site": "same-origin"}), **dict(more)}
        return asked(app, method, path, {name: value for name, value in headers.items() if value is not None}, **how)

    return ask


def test_the_address_works_once_and_goes_on_without_a_redirect(desk, asked):
    app, keys, _ = desk
    first = keys.address.removeprefix(OWN)
    status, headers, body = asked(app, "GET", first, {"Sec-Fetch-Site": "cross-site"})
    assert status == 200 and b'http-equiv="refresh"' in body and "location" not in headers
    assert headers["set-cookie"].startswith("desk_9432=") and {"HttpOnly", "SameSite=Strict"} <= set(headers["set-cookie"].split("; "))
    assert asked(app, "GET", first)[0] == 403 and keys.address.removeprefix(OWN) != first
    assert asked(app, "GET", "/open/" + "é" * 8)[0] == 403
    assert asked(app, "POST", keys.address.removeprefix(OWN), {"Origin": OWN})[0] == 403


def test_without_the_cookie_nothing_is_told(desk, asked):
    app, _, _ = desk
    for path in ("/", "/plan/Three%20hamlets", "/web/desk.css", "/plan/Three hamlets/state"):
        status, _, body = asked(app, "GET", path)
        assert status == 403 and b"hamlets" not in body, path
    for cookie in ("desk_9432=", "desk_9432=x", "desk_1=x; desk_9432=\xe9", "=;;,", "x" * 3000):
        assert asked(app, "GET", "/", {"Cookie": cookie})[0] == 403, cookie


def test_only_its_own_host_and_its_own_pages(inside, asked, desk):
    assert inside("GET", "/")[0] == 200
    for host in ("localhost:9432", "127.0.0.1", "127.0.0.1:80", "[::1]:9432", "0.0.0.0:9432", "evil.example", None):
        assert inside("GET", "/", host=host)[0] == 421, host
    assert asked(desk[0], "GET", "/", [("Host", "127.0.0.1:9432")])[0] == 421  # two of them
    for more in ({"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}, {"Origin": "http://evil.example"}, {"Origin": "null"},
                 {"Origin": "http://127.0.0.1:9431"}):
        assert inside("GET", "/", more)[0] == 403, more
        assert inside("POST", "/plans", more, body=[b"do=bin&plan=Three+hamlets"])[0] == 403, more
    for more in ({"Origin": None}, {"Sec-Fetch-Site": "none"}):
        assert inside("POST", "/plans", more)[0] == 403, more
    assert (desk[2] / "plans" / "Three hamlets" / "job.toml").is_file()


def test_pages_keep_to_themselves(inside):
    _, headers, _ = inside("GET", "/")
    assert headers["content-security-policy"] == POLICY and "unsafe" not in POLICY and headers["x-content-type-options"] == "nosniff"
    assert "allow-same-origin" not in RESULT_POLICY and "default-src 'none'" in RESULT_POLICY
    assert inside("GET", "/nothing")[1]["content-security-policy"] == POLICY


PATHS = ["/plan/..", "/plan/../secret.toml", "/plan/%2e%2e", "/plan/..\\secret.toml", "/plan/Three hamlets\x00", "/plan/" + "a" * 3000, "/plan//etc",
         "/plan/.bin", "/plan/Three hamlets/file/../job.toml", "/plan/Three hamlets/file//etc/passwd", "/plan/Three hamlets/file/\x00",
         "/plan/Three hamlets/table?file=../job.toml", "/plan/Three hamlets/table?file=%2Fetc%2Fpasswd.csv", "/web/..", "/web/desk.css/../../guard.py",
         "/web/../guard.py", "/plan/link", "/plan/Three hamlets/file/link.csv", "/plan/Three hamlets/file/away/secret.toml", "/plan/Three hamlets/clash/x",
         "/plan/Three hamlets/table?file=link.csv"]


@pytest.mark.parametrize("path", PATHS)
def test_no_path_leaves_the_folder(inside, desk, path):
    plan = desk[2] / "plans" / "Three hamlets"
    (plan / "out").mkdir()
    (plan / "out" / "there.csv").write_text("a,b\n1,2\n")
    (plan / "out" / "link.csv").symlink_to(desk[2] / "secret.toml")
    (plan / "out" / "away").symlink_to(desk[2])
    (desk[2] / "plans" / "link").symlink_to(desk[2])
    assert inside("GET", "/plan/Three hamlets/file/there.csv")[0] == 200
    status, _, body = inside("GET", path)
    assert status == 404 and b"secret" not in body.replace(b"secret.toml", b"")


def test_too_much_is_refused_before_and_while_it_comes(inside):
    status, _, body = inside("POST", "/plan/Three hamlets/upload", {"Content-Length": "200000000"})
    assert status == 413 and b"100 MB" in body
    assert inside("POST", "/plans", {"Content-Length": "-1"})[0] == 400
    assert inside("POST", "/plans", {"Content-Length": str(MOST_FORM_BYTES + 1)})[0] == 413
    head = b'--x\r\nContent-Disposition: form-data; name="sites"; filename="a.csv"\r\nContent-Type: text/csv\r\n\r\n'
    sent = [head] + 30 * [b"x" * 4_000_000]
    status, _, body = inside("POST", "/plan/Three hamlets/upload", {"Content-Type": "multipart/form-data; boundary=x"}, body=sent)
    assert status == 413 and b"100 MB" in body


def test_read_only_takes_nothing(asked, tmp_path):
    shutil.copytree(examples_folder() / "template", tmp_path / "plans" / "Three hamlets")
    desk, keys = Desk(Plans(tmp_path / "plans", True), True), Keys(9432)
    app = application(desk, keys)
    cookie = asked(app, "GET", keys.address.removeprefix(OWN))[1]["set-cookie"].split(";")[0]
    before = sorted(tmp_path.rglob("*"))
    for path in ("/plans", "/plan/Three hamlets/run", "/plan/Three hamlets/text", "/plan/Three hamlets/upload"):
        status, _, body = asked(app, "POST", path, {"Cookie": cookie, "Origin": OWN}, [b"do=bin&plan=Three+hamlets"])
        assert status == 403 and b"--read-only" in body
    status, _, body = asked(app, "GET", "/plan/Three hamlets/answers", {"Cookie": cookie})
    assert status == 200 and b"<form" not in body and sorted(tmp_path.rglob("*")) == before
    shutil.rmtree(desk.runs._folder)


FORM = {"Content-Type": "application/x-www-form-urlencoded"}


def test_everything_that_is_sent_is_answered_by_a_page_to_get(inside, desk):
    """Back, forward and reload then send nothing again."""
    for path, body in (("/plans", b"do=new&name=North&kind=empty"), ("/plans", b"do=new&name=..&kind=empty"), ("/plans", b"do=nothing"),
                       ("/plan/North/text", b"text=x"), ("/plan/North/ask", b"do=save"), ("/plan/North/ask", b"do=add+nothing"), ("/plan/North/run", b""),
                       ("/plan/North/reading", b""), ("/plan/North/cancel", b""), ("/plans", b"do=bin&plan=North")):
        status, headers, _ = inside("POST", path, FORM, body=[body])
        assert status == 303 and headers["location"].startswith("/"), path
        status, _, page = inside("GET", headers["location"].split("#")[0].replace("%20", " "))
        assert status in (200, 303), (path, headers["location"])
    assert (desk[2] / "plans" / ".bin").is_dir() and not (desk[2] / "plans" / "North").exists()
    assert inside("POST", "/plan/North/run")[0] == 404


def test_names_are_text_and_what_changed_meanwhile_is_told(inside, desk):
    plan = desk[2] / "plans" / "<b>x"
    shutil.copytree(examples_folder() / "template", plan)
    job = plan / "job.toml"
    job.write_text(job.read_text().replace("Example: three hamlets, one setting", "<script>alert(1)</script>"))
    for path in ("/", "/plan/<b>x/ask", "/plan/<b>x/text"):
        status, _, page = inside("GET", path)
        assert status == 200 and b"<script>alert" not in page and b"<b>x" not in page and b"&lt;b&gt;x" in page, path
    text = inside("GET", "/plan/<b>x/ask")[2].decode()
    seen = text.split('name="sum" value="')[1].split('"')[0]
    before = job.read_text()
    job.write_text(before.replace("dark_min = 5 ", "dark_min = 4 "))  # by another program
    status, headers, _ = inside("POST", "/plan/<b>x/ask", FORM, body=[f"sum={seen}&do=save&tolerance.excess_min=8&tolerance.dark_min=5".encode()])
    assert status == 303 and "/clash/" in headers["location"] and "dark_min = 4 " in job.read_text()
    page = inside("GET", "/plan/<b>x" + headers["location"].removeprefix("/plan/%3Cb%3Ex"))[2].decode()
    # Only what this page edited: the other's 4 stays.
    assert "+excess_min = 8" in page and "dark_min = 5" not in page.split('class="diff"')[1].split("</pre>")[0]
    assert inside("POST", "/plan/<b>x/ask", FORM, body=[b"do=save&tolerance.excess_min=8"])[0] == 303
    assert "excess_min = 8 " in job.read_text() and "dark_min = 4 " in job.read_text()
