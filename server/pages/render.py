"""A view in, an HTML answer out; and the page for everything that went wrong elsewhere."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from jinja2 import Environment
from sqlmodel import Session

from server.logbook.book import Logbook
from server.logbook.problems import Problem as Fault
from server.logbook.problems import Refused
from server.pages import view_render
from server.pages.language import language_of
from server.pages.views import ErrorPage, Page, Problem
from server.wording import joined, say

HEADINGS = {
    400: say("That could not be read"),
    401: say("Not paired"),
    403: say("Not with this role"),
    404: say("Nothing at this address"),
    405: say("Not that way"),
    409: say("Not as things stand"),
    413: say("Too large"),
    422: say("That could not be read"),
    500: say("Something went wrong here"),
    503: say("The database does not answer"),
}
THEMES = ("auto", "light", "dark")


def book(request: Request) -> Logbook:
    found: Logbook = request.app.state.logbook
    return found


def environment(request: Request) -> Environment:
    """The templates in the language of the reader."""
    found: Environment = request.app.state.templates[language_of(request)]
    return found


def theme_of(request: Request) -> str:
    theme = request.cookies.get("theme", "auto")
    return theme if theme in THEMES else "auto"


def page(request: Request, view: Page, status: int = 200) -> HTMLResponse:
    return HTMLResponse(view_render.page(environment(request), view), status)


def fragment(request: Request, view: Page, status: int = 200) -> HTMLResponse:
    return HTMLResponse(view_render.fragment(environment(request), view), status)


def see_other(url: str) -> RedirectResponse:
    """After a form that was carried out: the browser fetches the page it leads to."""
    return RedirectResponse(url, 303)


def problems_of(faults: Sequence[Fault]) -> tuple[Problem, ...]:
    return tuple(Problem(field=fault.field, message=fault.message) for fault in faults)


def error_page(request: Request, status: int, faults: Sequence[Fault]) -> Any:
    """error.html for what has no page of its own."""
    heading = HEADINGS.get(status, say("Refused"))
    again = say("Go back: what you typed is still in the form.")
    view = ErrorPage(
        title=heading,
        theme=theme_of(request),
        status=status,
        heading=heading,
        message=joined((fault.message for fault in faults), " "),
        remedy=again if status in (409, 422) else "",
    )
    return page(request, view, status)


def carried_out(
    request: Request,
    fields: dict[str, str],
    change: Callable[[Session, datetime], object],
    again: Callable[[dict[str, str], tuple[Problem, ...], int], Response],
    url: str,
) -> Response:
    """Writes what a form asks for and leads to url; refused, the page again with what was typed.

    again  the page of the form, from (typed, problems, status)
    """
    try:
        with book(request).writing() as (session, now):
            change(session, now)
    except Refused as refused:
        return again(fields, problems_of(refused.problems), refused.status)
    return see_other(url)
