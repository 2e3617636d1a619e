"""The security rules, each attacked."""

from __future__ import annotations

import asyncio
import http.client
import re
import socket
from dataclasses import dataclass
from urllib.parse import quote, urlsplit

import httpx
import pytest

from roomwright._errors import InputError
from roomwright.web.security import Guard, is_loopback
from roomwright.web.server import output_file

TOKEN = "correct-horse-battery"  # noqa: S105 - of the tests alone
EVERYWHERE = "0.0.0.0"  # noqa: S104 - what a person may ask for


@dataclass
class Answer:
    status: int
    headers: dict[str, str]
    text: str


async def inside(scope, receive, send):
    """Stand in for the application: takes the body, says hello on a socket."""
    if scope["type"] == "websocket":
        await send({"type": "websocket.accept"})
        return
    got, more = 0, True
    while more:
        message = await receive()
        if message["type"] == "http.disconnect":
            return
        got, more = got + len(message["body"]), message.get("more_body", False)
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": str(got).encode()})


class Browser:
    """Sends requests straight into a guard, with headers that real clients would not send."""

    def __init__(self, **options):
        self._guard = Guard(inside, **({"host": "127.0.0.1", "token": None} | options))
        self.cookie = ""

    def _said(self, kind, path, headers, pieces):
        headers = [*headers] if isinstance(headers, list) else [*(headers or {}).items()]
        if not any(name == "host" for name, _ in headers):
            headers.append(("host", "127.0.0.1:8000"))
        if self.cookie and not any(name == "cookie" for name, _ in headers):
            headers.append(("cookie", self.cookie))
        path, _, query = path.partition("?")
        scope = {
            "type": kind,
            "path": path,
            "query_string": query.encode("latin-1"),
            "headers": [(name.encode(), value.encode("latin-1")) for name, value in headers],
        }
        waiting = [
            {"type": "http.request", "body": piece, "more_body": number < len(pieces)}
            for number, piece in enumerate(pieces, start=1)
        ]
        said = []

        async def receive():
            return waiting.pop(0) if kind == "http" else {"type": "websocket.connect"}

        async def send(message):
            said.append(message)

        asyncio.run(self._guard(scope, receive, send))
        return said

    def get(self, path, headers=None, pieces=(b"",)):
        said = self._said("http", path, headers, pieces)
        if not said:
            return None
        found = {name.decode(): value.decode("latin-1") for name, value in said[0]["headers"]}
        if "set-cookie" in found:
            self.cookie = found["set-cookie"].partition(";")[0]
        return Answer(said[0]["status"], found, said[1]["body"].decode())

    def connects(self, path="/ws", **headers):
        """Whether a web socket is let in."""
        (answer,) = self._said("websocket", path, headers, ())
        return answer["type"] == "websocket.accept"


@pytest.mark.parametrize("host", ["127.0.0.1:8000", "localhost:1234", "LOCALHOST", "[::1]:8000"])
def test_our_own_names_are_taken(host):
    assert Browser().get("/", {"host": host}).status == 200


@pytest.mark.parametrize(
    "host",
    [
        "rebound.example",
        "rebound.example:8000",
        "127.0.0.1.rebound.example",
        "localhost.rebound.example",
        "192.168.1.7:8000",
        "127.0.0.1@rebound.example",
        "[::1",
        "",
    ],
)
def test_a_foreign_name_is_refused(host):
    browser = Browser()
    assert browser.get("/", {"host": host}).status == 421
    assert not browser.connects(host=host)


def test_two_names_at_once_are_refused():
    headers = [("host", "127.0.0.1:8000"), ("host", "rebound.example")]
    assert Browser().get("/", headers).status == 421


@pytest.mark.parametrize(
    "origin",
    ["http://rebound.example", "http://127.0.0.1:9999", "http://localhost:8000", "null", "file://"],
)
def test_a_foreign_page_is_refused(origin):
    browser = Browser()
    assert browser.get("/", {"origin": origin}).status == 403
    assert browser.get("/", {"origin": origin}).status == 403
    assert not browser.connects(origin=origin)


def test_our_own_page_is_taken():
    browser = Browser()
    assert browser.get("/", {"origin": "http://127.0.0.1:8000"}).status == 200
    assert browser.connects(host="127.0.0.1:8000", origin="http://127.0.0.1:8000")
    assert browser.connects()


@pytest.mark.parametrize("host", [EVERYWHERE, "192.168.1.7", "::", "studio.local"])
def test_other_addresses_need_a_token(host):
    with pytest.raises(InputError, match="a token is needed"):
        Browser(host=host)
    Browser(host=host, token=TOKEN)


@pytest.mark.parametrize("token", ["", "short", "fünfzehn-und-mehr-zeichen"])
def test_a_weak_token_is_refused(token):
    with pytest.raises(InputError, match="at least 16 ASCII characters"):
        Browser(token=token)


@pytest.mark.parametrize(
    ("host", "loopback"),
    [
        ("127.0.0.1", True),
        ("127.8.8.8", True),
        ("::1", True),
        ("localhost", True),
        (EVERYWHERE, False),
        ("10.0.0.1", False),
        ("localhost.example", False),
    ],
)
def test_what_counts_as_loopback(host, loopback):
    assert is_loopback(host) is loopback


def test_nothing_is_shown_without_the_token():
    browser = Browser(token=TOKEN)
    for path in ("/", "/job/small", "/_nicegui/anything", "/?token=", f"/?token={TOKEN}x"):
        answer = browser.get(path)
        assert answer.status == 401
        assert TOKEN not in answer.text
    assert browser.get("/").status == 401
    assert not browser.connects()
    assert not browser.connects(cookie=f"roomwright-token={TOKEN}x")
    assert browser.get("/?token=%ff%fe").status == 401


def test_the_token_is_shown_once_and_leaves_the_address():
    browser = Browser(token=TOKEN)
    answer = browser.get(f"/job/small?token={TOKEN}&stage=room")
    assert (answer.status, answer.headers["location"]) == (303, "/job/small?stage=room")
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert browser.get("/job/small").status == 200
    assert browser.connects()


@pytest.mark.parametrize("path", ["//rebound.example/", "/\\rebound.example", "///rebound.example"])
def test_the_token_leads_nowhere_else(path):
    answer = Browser(token=TOKEN).get(f"{path}?token={TOKEN}")
    place = urlsplit(answer.headers["location"])
    assert place.netloc == ""
    assert not answer.headers["location"].startswith(("//", "/\\"))


def test_with_a_token_numeric_addresses_are_taken_but_foreign_names_are_not():
    browser = Browser(host=EVERYWHERE, token=TOKEN)
    browser.cookie = f"roomwright-token={TOKEN}"
    assert browser.get("/", {"host": "192.168.1.7:8000"}).status == 200
    assert browser.get("/", {"host": "rebound.example"}).status == 421
    name = socket.gethostname()
    assert browser.get("/", {"host": f"{name}:8000"}).status == 200


def test_a_long_body_is_refused_announced_or_not():
    browser = Browser(maximum_body_bytes=1000)
    pieces = [b"x" * 100] * 10
    assert browser.get("/", {"content-length": "1000"}, pieces).text == "1000"
    assert browser.get("/", {"content-length": "1001"}).status == 413
    assert browser.get("/", pieces=pieces).text == "1000"
    assert browser.get("/", pieces=[*pieces, b"x"]).status == 413
    for length in ("-1", "1e3", "abc"):
        assert browser.get("/", {"content-length": length}).status == 413


def test_every_answer_keeps_the_browser_careful():
    for browser in (Browser(), Browser(token=TOKEN)):
        headers = browser.get("/").headers
        assert headers["x-content-type-options"] == "nosniff"
        assert "frame-ancestors 'self'" in headers["content-security-policy"]
        assert "http" not in headers["content-security-policy"]
        assert headers["referrer-policy"] == "no-referrer"


def test_files_outside_outputs_are_not_served(jobs):
    job = jobs / "small"
    outputs = job / "outputs"
    outputs.mkdir()
    (outputs / "settings.csv").write_text("fine")
    (jobs / "secret.txt").write_text("secret")
    assert output_file(job, "settings.csv") is not None
    for file in (
        "../job.json",
        "../../secret.txt",
        str(jobs / "secret.txt"),
        "fir/../../job.json",
        "",
        ".",
        "missing.csv",
        "nul\0.csv",
    ):
        assert output_file(job, file) is None
    try:
        (outputs / "link").symlink_to(jobs / "secret.txt")
    except OSError:
        return  # an account that may not make links
    assert output_file(job, "link") is None


def raw(address, path, **headers):
    """Ask for a path exactly as written: other clients would tidy it."""
    place = urlsplit(address)
    connection = http.client.HTTPConnection(place.hostname, place.port, timeout=10)
    connection.putrequest("GET", path, skip_host="host" in headers)
    for name, value in headers.items():
        connection.putheader(name, value)
    connection.endheaders()
    answer = connection.getresponse()
    found = answer.status, answer.read()
    connection.close()
    return found


def test_a_running_server_keeps_the_rules(served, served_job):
    secret = served.jobs / "secret.txt"
    secret.write_text("very secret")
    outputs = served_job.folder / "outputs"
    outputs.mkdir()
    (outputs / "settings.csv").write_text("fine")
    job = urlsplit(served_job.address).path
    assert raw(served.address, f"{job}/outputs/settings.csv") == (200, b"fine")
    assert raw(served.address, "/", host="rebound.example")[0] == 421
    assert raw(served.address, "/", origin="http://rebound.example")[0] == 403
    polling = "/_nicegui_ws/socket.io/?EIO=4&transport=polling"
    assert raw(served.address, polling, origin="http://rebound.example")[0] == 403
    for path in (
        f"{job}/outputs/../job.json",
        f"{job}/outputs/%2e%2e/job.json",
        f"{job}/outputs/..%2f..%2fsecret.txt",
        f"{job}/outputs/{quote(str(secret), safe='')}",
        f"{job}/outputs/%2fetc%2fpasswd",
        "/job/..%2fsecret.txt",
        "/job/../outputs/secret.txt",
        "/../secret.txt",
        "//etc/passwd",
    ):
        _, body = raw(served.address, path)
        assert b"very secret" not in body
        assert b"schema_version" not in body
        assert b"root:" not in body
    page = httpx.get(served_job.address, timeout=30)
    assert page.status_code == 200
    assert not re.findall(r"""(?:src|href)=["']?(?:https?:)?//""", page.text)


def test_a_server_for_others_asks_for_the_token(serve_jobs):
    server = serve_jobs("--host", EVERYWHERE, "--token", TOKEN)
    assert httpx.get(server.address).status_code == 401
    with httpx.Client(follow_redirects=True, timeout=30) as browser:
        opened = browser.get(f"{server.address}/?token={TOKEN}")
        assert (opened.status_code, opened.url.query) == (200, b"")
        assert browser.get(f"{server.address}/job/small").status_code == 200
