"""Who may talk to the server, and how: known hosts, our own pages, bodies of a sane size, and
only those whose role allows what they ask for."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from urllib.parse import urlsplit

from fastapi import Request
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.logbook.actor import ACTING
from server.logbook.problems import Problem
from server.sharing.caller import HOST, NOBODY, Caller, Door, is_this_machine, token_in
from server.sharing.network import is_address
from server.sharing.roles import ASKING, ROLE_NAMES, Role, role_needed
from server.wording import say

LARGEST_BODY = 256 * 1024  # bytes; the longest form is far below
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
AUTHORITY = re.compile(r"(\[[0-9a-f:.]+\]|[a-z0-9._-]+)(:[0-9]{1,5})?", re.IGNORECASE)
ONCE_ONLY = (b"host", b"origin", b"content-length")

HEADERS = [
    (
        b"content-security-policy",
        b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
        b"connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; "
        b"base-uri 'none'; frame-ancestors 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
]

Answer = Callable[[Request, int, list[Problem]], Response]


def host_name(authority: str) -> str:
    """The name in a Host header or an Origin's authority, without port, lower case."""
    found = AUTHORITY.fullmatch(authority)
    return found[1].strip("[]").lower() if found else ""


def is_same_origin(origin: str, host: str) -> bool:
    try:
        return bool(host) and urlsplit(origin).netloc.lower() == host.lower()
    except ValueError:
        return False


class Guard:
    """ASGI middleware around every page, answer and file.

    hosts: names a request may ask for; where is_shared, the address it came in by as well.
    """

    def __init__(
        self,
        app: ASGIApp,
        hosts: frozenset[str],
        is_shared: bool,
        door: Door,
        answer: Answer,
        wants_json: Callable[[Request], bool],
    ) -> None:
        self.app = app
        self.hosts = hosts
        self.is_shared = is_shared
        self.door = door
        self.answer = answer
        self.wants_json = wants_json

    def knows(self, host: str, scope: Scope) -> bool:
        if host in self.hosts:
            return True
        server = scope.get("server")
        return self.is_shared and server is not None and host == server[0] and is_address(host)

    def fault(self, scope: Scope, headers: Mapping[str, str]) -> tuple[int, str, str] | None:
        names = [name for name, _ in scope["headers"]]
        if any(names.count(name) > 1 for name in ONCE_ONLY):
            return 400, "bad_request", "The request repeats a header that may come once."
        host = headers.get("host", "")
        if not self.knows(host_name(host), scope):
            return (
                400,
                "foreign_host",
                "This server does not answer to that host name. If it is a name of this machine, "
                "start Midlimit with --allow-host.",
            )
        if "origin" in headers and not is_same_origin(headers["origin"], host):
            return 403, "foreign_origin", "Requests from another site are refused."
        is_write = scope["method"] not in SAFE_METHODS
        if is_write and headers.get("sec-fetch-site", "none") not in ("same-origin", "none"):
            return 403, "foreign_origin", "Requests from another site are refused."
        length = headers.get("content-length", "0")
        if not (length.isascii() and length.isdigit()):
            return 400, "bad_request", "The request's length can't be read."
        if len(length) > 12 or int(length) > LARGEST_BODY:
            return 413, "too_large", "The request is too large."
        return None

    async def caller_of(self, scope: Scope, headers: Mapping[str, str]) -> Caller:
        if is_this_machine(scope, headers, host_name(headers["host"])):
            return HOST
        token = token_in(headers)
        return await run_in_threadpool(self.door.caller, token) if token else NOBODY

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = {
            name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]
        }
        fault = self.fault(scope, headers)
        if fault is not None:
            await refuse(send, *fault)
            return
        caller = await self.caller_of(scope, headers)
        scope.setdefault("state", {})["caller"] = caller
        ACTING.set(caller.actor)
        ASKING.set(caller.role)
        app = self.app
        if caller.role is not Role.HOST:
            app, scope = self.let_in(caller, scope)
        await app(scope, counted(receive), with_headers(send))

    def let_in(self, caller: Caller, scope: Scope) -> tuple[ASGIApp, Scope]:
        """What answers this request: the application, or a refusal.  People who are not paired
        get the pairing page in place of any other."""
        needed = role_needed(scope["method"], scope["path"])
        if caller.role >= needed:
            return self.app, scope
        request = Request(scope)
        if caller.role is Role.NOBODY and not self.wants_json(request):
            there = {"method": "GET", "path": "/pair", "raw_path": b"/pair", "query_string": b""}
            return self.app, {**scope, **there, "pairing_status": 401}
        return self.answer(request, *why_not(caller, needed)), scope


def why_not(caller: Caller, needed: Role) -> tuple[int, list[Problem]]:
    if caller.role is Role.NOBODY:
        words = say(
            "This device is not paired. Open /pair on it, with a code from the shop's machine."
        )
        return 401, [Problem("not_paired", words)]
    if needed is Role.HOST:
        words = say(
            "That is done on the machine that Midlimit runs on, at its own address 127.0.0.1."
        )
    else:
        words = say(
            "This device was paired with the role “{role}”; that takes the role “{needed}”. Pair "
            "it again with another code to change that.",
            role=ROLE_NAMES[caller.role.word],
            needed=ROLE_NAMES[needed.word],
        )
    return 403, [Problem("role", words)]


def counted(receive: Receive) -> Receive:
    """receive, stopped where a body sent without a length grows too large."""
    seen = 0

    async def counting() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > LARGEST_BODY:
            raise HTTPException(413)
        return message

    return counting


def with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = [*message.get("headers", []), *HEADERS]
        await send(message)

    return sending


async def refuse(send: Send, status: int, code: str, message: str) -> None:
    body = json.dumps({"error": {"code": code, "message": message, "field": ""}}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", b"%d" % len(body))]
    await send({"type": "http.response.start", "status": status, "headers": headers + HEADERS})
    await send({"type": "http.response.body", "body": body})
