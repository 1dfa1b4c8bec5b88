"""Every error of the JSON API has one shape, the framework's own included."""

from __future__ import annotations

import logging
import secrets
from collections.abc import Sequence
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from server.guard import HEADERS, Answer
from server.logbook.problems import Problem, Refused
from server.sharing.admission import TooOften
from server.wording import say

log = logging.getLogger("midlimit")


def error_body(problems: Sequence[Problem]) -> dict[str, Any]:
    first = problems[0]
    body: dict[str, Any] = {
        "error": {"code": first.code, "message": first.message, "field": first.field}
    }
    if len(problems) > 1:
        body["problems"] = [problem.__dict__ for problem in problems]
    return body


def wants_json(request: Request) -> bool:
    """Programs use /api, or say that they take JSON and no page."""
    accept = request.headers.get("accept", "")
    asks = "application/json" in accept and "text/html" not in accept
    return asks or f"{request.url.path}/".startswith("/api/")


def validation_problems(error: RequestValidationError) -> list[Problem]:
    found = []
    for fault in error.errors():
        if fault["type"] == "json_invalid":
            return [Problem("invalid", say("The request is not JSON that can be read."))]
        where = [str(step) for step in fault["loc"] if step not in ("body", "query", "path")]
        message = fault["msg"].removeprefix("Value error, ")
        field = ".".join(where)
        code = "missing" if fault["type"] == "missing" else "invalid"
        found.append(
            Problem(
                code,
                say("{field}: {message}.", field=field or say("the request"), message=message),
                field,
            )
        )
    return found or [Problem("invalid", FRAMEWORK_MESSAGES[400])]


FRAMEWORK_CODES = {404: "not_found", 405: "method_not_allowed", 413: "too_large"}
FRAMEWORK_MESSAGES = {
    404: say("There is nothing at this address."),
    405: say("This address does not take that method."),
    413: say("The request is too large."),
    400: say("The request can't be read."),
}


def install(app: FastAPI, page: Any) -> Answer:
    """page(request, status, problems) answers people; /api answers programs."""

    def answer(request: Request, status: int, problems: Sequence[Problem]) -> Response:
        if wants_json(request):
            return JSONResponse(error_body(problems), status_code=status)
        response: Response = page(request, status, problems)
        return response

    @app.exception_handler(Refused)
    def on_refused(request: Request, error: Refused) -> Response:
        response = answer(request, error.status, error.problems)
        if isinstance(error, TooOften):
            response.headers["retry-after"] = str(error.wait_s)
        return response

    @app.exception_handler(RequestValidationError)
    def on_invalid(request: Request, error: RequestValidationError) -> Response:
        return answer(request, 422, validation_problems(error))

    @app.exception_handler(HTTPException)
    def on_http(request: Request, error: HTTPException) -> Response:
        message = FRAMEWORK_MESSAGES.get(error.status_code, str(error.detail))
        code = FRAMEWORK_CODES.get(error.status_code, "refused")
        response = answer(request, error.status_code, [Problem(code, message)])
        response.headers.update(error.headers or {})
        return response

    @app.exception_handler(Exception)
    def on_fault(request: Request, error: Exception) -> Response:
        reference = secrets.token_hex(4)
        log.error("fault %s at %s", reference, request.url.path, exc_info=error)
        problem = Problem(
            "fault",
            say(
                "Something went wrong here (reference {reference}). If you were logging a "
                "reading, open the page again to see whether it was saved before you log it once "
                "more.",
                reference=reference,
            ),
        )
        response = answer(request, 500, [problem])
        response.raw_headers.extend(HEADERS)  # this answer does not pass the guard
        return response

    return answer
