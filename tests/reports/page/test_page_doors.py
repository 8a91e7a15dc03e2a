"""Who may come in: host, origin and key, at the level of raw requests."""

from __future__ import annotations

import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.page.server import guard
from reports.page.server.controller import ControlLock
from reports.page.server.guard import (
    NO_KEY,
    NOT_UNDERSTOOD,
    TOO_MUCH,
    WRONG_HOST,
    WRONG_ORIGIN,
    AccessGuard,
    StartKey,
)

KEY = "k" * 32
PORT = 8471
HOST = (b"host", b"127.0.0.1:8471")
COOKIE = (b"cookie", f"other=1; coilwise-{PORT}={KEY}".encode())


async def _inside(scope, receive, send):
    kind = "http.response.start" if scope["type"] == "http" else "websocket.accept"
    await send({"type": kind, "status": 200, "headers": [(b"x-inside", b"1")]})


@pytest.fixture(autouse=True, scope="module")
def start_file(tmp_path_factory):
    """Every secret and every key is the same; the file that leads to the page."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(guard.secrets, "token_urlsafe", lambda length: KEY)
        START.append(StartKey(tmp_path_factory.mktemp("start") / "start.html", port=PORT))
        yield START[0]._file


START: list[StartKey] = []


def asked(*headers, kind="http", query="", path="/") -> list[dict]:
    """What comes back."""
    sent: list[dict] = []

    async def send(message):
        sent.append(message)

    async def receive():
        return {"type": "http.request"}

    scope = {"type": kind, "path": path, "query_string": query.encode(), "headers": list(headers)}
    with pytest.raises(StopIteration):  # nothing in it waits, so one step is all of it, and needs no loop
        AccessGuard(_inside, start=START[0], port=PORT)(scope, receive, send).send(None)
    return sent


def came_in(sent: list[dict]) -> bool:
    return sent[0]["type"] == "websocket.accept" or (b"x-inside", b"1") in sent[0].get("headers", [])


@pytest.mark.parametrize("kind", ["http", "websocket"])
def test_with_cookie_at_its_own_name_it_comes_in(kind):
    assert came_in(asked(HOST, COOKIE, kind=kind))
    assert came_in(asked((b"host", b"localhost:8471"), COOKIE, kind=kind))
    assert came_in(asked(HOST, COOKIE, (b"origin", b"http://127.0.0.1:8471"), kind=kind))


@pytest.mark.parametrize(
    ("headers", "why"),
    [
        ((HOST,), NO_KEY),
        ((HOST, (b"cookie", b"coilwise-8471=" + b"x" * 32)), NO_KEY),
        ((HOST, (b"cookie", b"coilwise-8472=" + KEY.encode())), NO_KEY),
        ((HOST, (b"cookie", b"coilwise-8471=")), NO_KEY),
        (((b"host", b"bench.example:8471"), COOKIE), WRONG_HOST),
        (((b"host", b"127.0.0.1"), COOKIE), WRONG_HOST),
        (((b"host", b"127.0.0.1:8471"), (b"host", b"bench.example"), COOKIE), WRONG_HOST),
        ((COOKIE,), WRONG_HOST),
        ((HOST, COOKIE, (b"origin", b"http://bench.example")), WRONG_ORIGIN),
        ((HOST, COOKIE, (b"origin", b"https://127.0.0.1:8471")), WRONG_ORIGIN),
        ((HOST, COOKIE, (b"origin", b"http://127.0.0.1:9000")), WRONG_ORIGIN),
        ((HOST, COOKIE, (b"origin", b"null")), WRONG_ORIGIN),
    ],
)
def test_all_else_is_refused_with_one_sentence(headers, why):
    start, body = asked(*headers)
    assert start["status"] == 403
    assert body["body"].decode() == why
    (closed,) = asked(*headers, kind="websocket")
    assert closed["type"] == "websocket.close"


def test_the_key_goes_from_the_address_into_a_cookie_that_no_script_and_no_other_site_has():
    start, body = asked(HOST, query=f"key={KEY}")
    assert b"url=/" in body["body"]
    assert KEY.encode() not in body["body"]
    headers = dict(start["headers"])
    assert start["status"] == 200
    cookie = headers[b"set-cookie"].decode()
    assert cookie.startswith(f"coilwise-{PORT}={KEY};")
    assert {"HttpOnly", "SameSite=Strict"} <= {part.strip() for part in cookie.split(";")}


def test_a_right_key_from_another_site_or_under_another_name_is_refused():
    assert asked(HOST, (b"origin", b"http://bench.example"), query=f"key={KEY}")[0]["status"] == 403
    assert asked((b"host", b"bench.example"), query=f"key={KEY}")[0]["status"] == 403


def test_pages_load_nothing_from_elsewhere():
    (start, *_) = asked(HOST, COOKIE)
    policy = dict(start["headers"])[b"content-security-policy"].decode()
    assert "default-src 'self'" in policy
    assert "http" not in policy.replace("'self'", "")
    assert dict(start["headers"])[b"referrer-policy"] == b"no-referrer"


@given(st.binary(max_size=60), st.binary(max_size=60))
def test_no_cookie_and_no_key_that_is_guessed_comes_in(cookie, query):
    assert not came_in(asked(HOST, (b"cookie", cookie), query=query.decode("latin-1")))


@pytest.mark.parametrize("announced", [b"11", b"3", None])
def test_no_request_brings_more_than_the_page_takes(announced):
    """Said beforehand or not: what is beyond is not read, and what reads it is not left waiting."""
    sent, left = [], [{"type": "http.request", "body": b"12345", "more_body": True}] * 9

    async def reads_all(scope, receive, send):
        while (await receive())["type"] != "http.disconnect":
            pass
        raise OSError("the sender is gone")

    async def receive():
        return left.pop()

    async def send(message):
        sent.append(message)

    length = () if announced is None else ((b"content-length", announced),)
    scope = {"type": "http", "path": "/", "query_string": b"", "headers": [HOST, COOKIE, *length]}
    with pytest.raises(StopIteration):
        AccessGuard(reads_all, start=START[0], port=PORT, most_bytes=10)(scope, receive, send).send(None)
    assert (sent[0]["status"], sent[1]["body"].decode()) == (413, TOO_MUCH)
    assert len(left) == (9 if announced == b"11" else 6)


def test_one_acts_and_the_others_watch():
    lock = ControlLock()
    assert lock.acquire("one")
    assert not lock.acquire("two")
    lock.seize("two")
    assert not lock.acquire("one")
    lock.release("one")
    assert lock.acquire("two")
    lock.release("two")
    assert lock.acquire("three")
    assert not lock.acquire("one")


def test_a_report_of_any_job_folder_runs_no_script_and_has_no_origin():
    (start, *_) = asked(HOST, COOKIE, path="/report/found")
    policies = [value.decode() for name, value in start["headers"] if name == b"content-security-policy"]
    assert len(policies) == 1
    assert "sandbox" in policies[0]
    assert "default-src 'none'" in policies[0]
    assert "allow" not in policies[0]
    assert "script" not in policies[0]


@pytest.mark.parametrize("path", ["/a\0b", "/a\rb", "/\N{REPLACEMENT CHARACTER}", "/report/\n"])
def test_an_address_that_is_no_text_is_refused(path):
    start, body = asked(HOST, COOKIE, path=path)
    assert (start["status"], body["body"].decode()) == (400, NOT_UNDERSTOOD)


def test_a_start_key_is_good_once_and_the_next_is_for_this_user_alone(tmp_path, monkeypatch):
    keys = iter(["one" * 8, "two" * 8, "three" * 8])
    monkeypatch.setattr(guard.secrets, "token_urlsafe", lambda length: next(keys))
    start = StartKey(tmp_path / "start.html", port=PORT)
    first = start.address
    assert not start.spend("guessed")
    assert start.spend("one" * 8)
    assert not start.spend("one" * 8)
    assert start.address != first
    text = (tmp_path / "start.html").read_text()
    assert ("two" * 8 in text, "one" * 8 in text) == (True, False)
    assert os.name != "posix" or (tmp_path / "start.html").stat().st_mode & 0o777 == 0o600
    start.remove()
    assert list(tmp_path.iterdir()) == []
