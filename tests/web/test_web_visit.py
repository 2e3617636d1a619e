"""A browser that leaves before its answer came is no failure; what fails is still said."""

from __future__ import annotations

import asyncio
import re
import socket
import time
from urllib.parse import urlsplit

import httpx
import pytest
from starlette.middleware.base import BaseHTTPMiddleware
from web_server import serving

from roomwright.web.visit import Visit

SCOPE = {"type": "http", "method": "GET", "path": "/", "query_string": b"", "headers": []}
LEFT = {"type": "http.disconnect"}
ASKED = {"type": "http.request", "body": b"", "more_body": False}


async def waits_for_the_browser(_scope, receive, _send):
    """Never answer: what an application does whose browser left while it was answering."""
    while (await receive())["type"] != "http.disconnect":
        pass


async def fails(scope, receive, send):
    await waits_for_the_browser(scope, receive, send)
    raise ValueError("a real mistake")


async def passes(request, call_next):
    return await call_next(request)


def visited(app, *messages, maximum=1000):
    """What is sent to a browser that sends some messages and leaves."""
    waiting, said = list(messages), []

    async def receive():
        return waiting.pop(0) if waiting else LEFT

    async def send(message):
        said.append(message)

    asyncio.run(Visit(SCOPE, receive, send, maximum_body_bytes=maximum).pass_to(app))
    return said


def test_leaving_before_the_answer_is_no_failure():
    behind = BaseHTTPMiddleware(waits_for_the_browser, dispatch=passes)
    assert visited(behind, ASKED) == []


def test_no_answer_to_a_browser_that_waits_is_a_failure():
    async def silent(_scope, _receive, _send):
        return

    with pytest.raises(RuntimeError, match="No response returned"):
        visited(BaseHTTPMiddleware(silent, dispatch=passes), ASKED)


@pytest.mark.parametrize("app", [fails, BaseHTTPMiddleware(fails, dispatch=passes)])
def test_a_mistake_is_said_even_if_the_browser_left(app):
    with pytest.raises(ValueError, match="a real mistake"):
        visited(app, ASKED)


def test_too_long_is_said_whatever_the_application_makes_of_it():
    piece = {"type": "http.request", "body": b"x" * 600, "more_body": True}

    async def answers_500(scope, receive, send):
        await waits_for_the_browser(scope, receive, send)
        await send({"type": "http.response.start", "status": 500, "headers": []})
        await send({"type": "http.response.body", "body": b""})

    for app in (
        answers_500,
        waits_for_the_browser,
        BaseHTTPMiddleware(waits_for_the_browser, dispatch=passes),
    ):
        assert visited(app, piece, piece)[0]["status"] == 413


def test_whoever_waits_when_the_server_ends_is_told():
    said = []

    async def receive():
        await asyncio.Event().wait()

    async def send(message):
        said.append(message)

    async def run():
        visit = Visit(SCOPE, receive, send, maximum_body_bytes=1000)
        waiting = asyncio.create_task(visit.pass_to(waits_for_the_browser))
        await asyncio.sleep(0)
        visit.end()
        await waiting

    asyncio.run(run())
    assert [said[0]["status"], said[1]["body"]] == [503, b"The server has just been stopped."]


def test_an_answer_that_has_begun_is_finished_when_the_server_ends():
    said = []

    async def run():
        begun, go_on = asyncio.Event(), asyncio.Event()

        async def app(_scope, _receive, send):
            await send({"type": "http.response.start", "status": 200, "headers": []})
            begun.set()
            await go_on.wait()
            await send({"type": "http.response.body", "body": b"whole"})

        async def send(message):
            said.append(message)

        visit = Visit(SCOPE, None, send, maximum_body_bytes=1000)
        answering = asyncio.create_task(visit.pass_to(app))
        await begun.wait()
        visit.end()
        go_on.set()
        await answering

    asyncio.run(run())
    assert [said[0]["status"], said[1]["body"]] == [200, b"whole"]


def test_a_server_prints_nothing_about_browsers_that_left(jobs):
    with serving(jobs=jobs) as server:
        place = urlsplit(server.address)
        page = httpx.get(f"{server.address}/job/small", timeout=60).text
        files = sorted(set(re.findall(r"/_nicegui/[^\"' ]+\.(?:js|css)", page)))
        assert len(files) > 10

        def ask(path):
            browser = socket.create_connection((place.hostname, place.port))
            browser.sendall(f"GET {path} HTTP/1.1\r\nHost: {place.netloc}\r\n\r\n".encode())
            return browser

        for path in files * 2:
            browser = ask(path)
            time.sleep(0.004)  # so that some leave while they are answered
            browser.close()
        waiting = [ask(path) for path in ("/", "/job/small", "/job/small?stage=tuning")]
    for browser in waiting:
        browser.close()
    assert server.printed == [""]
