"""Sharing: pairing this device, the devices that are let in, and who did what."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import Response

from server.logbook.problems import Problem as Fault
from server.logbook.problems import Refused
from server.logbook.trail import MOST_LINES, trail
from server.pages.audit_words import about_told, as_told
from server.pages.forms import Fields
from server.pages.parts import NO_PROBLEMS
from server.pages.render import book, page, problems_of, see_other, theme_of
from server.pages.view_sharing import AuditLine, AuditPage, DeviceLine, PairPage, SharingPage
from server.pages.views import Choice, Problem
from server.pages.words import clock, moment
from server.records import tables
from server.settings import Settings
from server.sharing import network, pairing
from server.sharing.admission import TooOften, hand_over, let_in
from server.sharing.caller import COOKIE, Caller
from server.sharing.certificates import Certificate
from server.sharing.roles import ROLE_NAMES, ROLE_WORDS, Role
from server.sharing.start import MINUTES, spaced
from server.wording import say

router = APIRouter()
Id = Annotated[int, Path(ge=1, le=2**31 - 1)]
ROLES = tuple(Choice(value=role.word, word=words) for role, words in ROLE_WORDS.items())


def caller_of(request: Request) -> Caller:
    found: Caller = request.state.caller
    return found


def is_plain_http(request: Request) -> bool:
    return str(request.scope.get("scheme", "http")) != "https"


def unkept(response: Response) -> Response:
    """The same answer, which no browser may keep a copy of."""
    response.headers["cache-control"] = "no-store"
    return response


@router.get("/pair")
def get_pair(request: Request) -> Response:
    return pair_page(request, status=request.scope.get("pairing_status", 200))


def pair_page(
    request: Request,
    typed: dict[str, str] | None = None,
    problems: tuple[Problem, ...] = NO_PROBLEMS,
    status: int = 200,
) -> Response:
    caller = caller_of(request)
    is_paired = caller.device_id is not None
    view = PairPage(
        title=say("Pair this device"),
        theme=theme_of(request),
        typed={name: text for name, text in (typed or {}).items() if name != "code"},
        problems=problems,
        is_paired=is_paired,
        device_words=device_words(caller),
        is_plain_http=is_plain_http(request),
    )
    return unkept(page(request, view, status))


def device_words(caller: Caller) -> str:
    if caller.role is Role.NOBODY:
        return ""
    if caller.role is Role.HOST:
        return say("This is the machine that Midlimit runs on: it needs no pairing.")
    role = ROLE_NAMES[caller.role.word]
    return say("Paired as {device}, role {role}.", device=caller.actor.device, role=role)


@router.post("/pair")
def post_pair(request: Request, fields: Fields) -> Response:
    new = pairing.NewDevice(fields.get("name", ""), fields.get("initials", ""))
    address = request.client.host if request.client else ""
    try:
        paired = let_in(book(request), request.app.state.pace, address, fields.get("code", ""), new)
    except Refused as refused:
        answer = pair_page(
            request, fields | {"form": "pair"}, problems_of(refused.problems), refused.status
        )
        if isinstance(refused, TooOften):
            answer.headers["retry-after"] = str(refused.wait_s)
        return answer
    response = see_other("/")
    hand_over(response, paired.token, is_https=not is_plain_http(request))
    return response


@router.post("/pair/end")
def post_end_own(request: Request) -> Response:
    """This device gives its own pairing up."""
    caller = caller_of(request)
    if caller.device_id is not None:
        with book(request).writing() as (session, now):
            pairing.end_device(session, caller.device_id, now)
    response = see_other("/pair")
    response.delete_cookie(COOKIE, path="/", httponly=True, samesite="strict")
    return unkept(response)


@router.get("/shop/sharing")
def get_sharing(request: Request) -> Response:
    return sharing_page(request)


def sharing_page(
    request: Request,
    code: pairing.NewCode | None = None,
    problems: tuple[Problem, ...] = NO_PROBLEMS,
    status: int = 200,
) -> Response:
    logbook = book(request)
    settings = logbook.settings
    with logbook.reading() as session:
        found = pairing.devices(session)
    urls = network.share_urls(settings) if settings.is_shared else ()
    qr = network.qr_code(urls[0]) if urls else None
    view = SharingPage(
        title=say("Sharing"),
        nav="shop",
        theme=theme_of(request),
        problems=problems,
        typed={"form": "code"} if problems else {},
        is_shared=settings.is_shared,
        is_host=caller_of(request).role is Role.HOST,
        is_plain_http=settings.scheme == "http",
        urls=urls,
        qr_side=qr.side if qr else 0,
        qr_path=qr.path if qr else "",
        fingerprint=fingerprint(settings),
        roles=ROLES,
        code=spaced(code.code) if code else "",
        code_words=code_words(code),
        devices=tuple(device_line(row) for row in found),
    )
    return unkept(page(request, view, status))


def code_words(code: pairing.NewCode | None) -> str:
    if code is None:
        return say("A code lets one device in, once, within {minutes} minutes.", minutes=MINUTES)
    return say(
        "For one device, role {role}, until {time}.",
        role=ROLE_NAMES[code.role.word],
        time=clock(code.expires_at),
    )


def fingerprint(settings: Settings) -> str:
    if settings.certificate is None or settings.key is None:
        return ""
    return Certificate(settings.certificate, settings.key).fingerprint()


def device_line(row: tables.DeviceRow) -> DeviceLine:
    return DeviceLine(
        device_id=row.id or 0,
        name=row.name,
        initials=row.initials,
        role=ROLE_NAMES.get(row.role, row.role),
        paired=moment(row.paired_at),
        seen=moment(row.seen_at),
        ended=moment(row.ended_at) if row.ended_at else "",
        end_action="" if row.ended_at else f"/shop/sharing/devices/{row.id}/end",
    )


@router.post("/shop/sharing/codes")
def post_code(request: Request, fields: Fields) -> Response:
    """The code is shown in this answer and nowhere else."""
    logbook = book(request)
    if not logbook.settings.is_shared:
        message = say("Sharing is off: start Midlimit with --share first.")
        fault = Fault("not_shared", message)
        return sharing_page(request, problems=problems_of([fault]), status=409)
    try:
        with logbook.writing() as (session, now):
            code = pairing.make_code(session, fields.get("role", ""), now)
    except Refused as refused:
        return sharing_page(request, problems=problems_of(refused.problems), status=refused.status)
    return sharing_page(request, code)


@router.post("/shop/sharing/devices/{device_id}/end")
def post_end(request: Request, device_id: Id) -> Response:
    with book(request).writing() as (session, now):
        pairing.end_device(session, device_id, now)
    return see_other("/shop/sharing")


@router.get("/shop/audit")
def get_audit(
    request: Request, before: Annotated[int | None, Query(ge=1, le=2**31 - 1)] = None
) -> Response:
    with book(request).reading() as session:
        rows = trail(session, before)
    view = AuditPage(
        title=say("Who did what"),
        nav="shop",
        theme=theme_of(request),
        lines=tuple(
            AuditLine(
                when=moment(row.at),
                who=row.who,
                device=as_told(row.device),
                action=as_told(row.action),
                about=about_told(row.action, row.about),
            )
            for row in rows
        ),
        older_url=f"/shop/audit?before={rows[-1].id}" if len(rows) == MOST_LINES else "",
    )
    return page(request, view)
