"""Who may talk to the server at all: known hosts, our own pages, bodies of a sane size."""

from __future__ import annotations

import json
from urllib.parse import urlsplit

from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_BODY = 256 * 1024  # bytes; the longest form is far below
LOOPBACK_NAMES = frozenset({"127.0.0.1", "localhost", "::1"})
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})

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


def host_name(authority: str) -> str:
    """The name in a Host header or an Origin's authority, without port, lower case."""
    try:
        return (urlsplit(f"//{authority}").hostname or "").lower()
    except ValueError:
        return ""


def is_same_origin(origin: str, host: str) -> bool:
    try:
        return bool(host) and urlsplit(origin).netloc.lower() == host.lower()
    except ValueError:
        return False


class Guard:
    """ASGI middleware: refuses a foreign Host or Origin and a body that is too large."""

    def __init__(self, app: ASGIApp, hosts: frozenset[str]) -> None:
        self.app = app
        self.hosts = hosts

    def fault(self, scope: Scope) -> tuple[int, str, str] | None:
        headers = {
            name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]
        }
        host = headers.get("host", "")
        if host_name(host) not in self.hosts:
            return 400, "foreign_host", "This server does not answer to that host name."
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

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        fault = self.fault(scope)
        if fault is not None:
            await refuse(send, *fault)
            return
        seen = 0

        async def counted() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > LARGEST_BODY:
                raise HTTPException(413)  # a body sent without a length
            return message

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", []), *HEADERS]
            await send(message)

        await self.app(scope, counted, with_headers)


async def refuse(send: Send, status: int, code: str, message: str) -> None:
    body = json.dumps({"error": {"code": code, "message": message, "field": ""}}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", b"%d" % len(body))]
    await send({"type": "http.response.start", "status": status, "headers": headers + HEADERS})
    await send({"type": "http.response.body", "body": body})
