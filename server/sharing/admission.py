"""One try at a pairing code: paced, counted, and answered the same way whatever was wrong."""

from __future__ import annotations

from starlette.responses import Response

from server.logbook.book import Logbook
from server.logbook.problems import Problem, Refused, refuse
from server.sharing.caller import COOKIE
from server.sharing.pace import Pace
from server.sharing.pairing import CODE_DIGITS, DEVICE_LIFE, NewDevice, Paired, pair
from server.wording import say

COOKIE_LIFE_S = int(DEVICE_LIFE.total_seconds())


class TooOften(Refused):
    """Too many wrong codes; wait_s says when the next one is looked at."""

    def __init__(self, wait_s: int) -> None:
        minutes = -(-wait_s // 60)
        words = say("Too many wrong codes. Try again in {minutes} min.", minutes=minutes)
        super().__init__(429, Problem("too_often", words, "code"))
        self.wait_s = wait_s


def let_in(logbook: Logbook, pace: Pace, address: str, code: str, new: NewDevice) -> Paired:
    """The paired device.  Refused for a wrong code, TooOften for too many of them."""
    wait_s = pace.wait_s(address)
    if wait_s:
        raise TooOften(wait_s)
    device = new.checked()
    digits = "".join(letter for letter in code if letter not in " -\u00a0\t")
    if not (digits.isascii() and digits.isdigit() and len(digits) == CODE_DIGITS):
        message = say("A pairing code has {digits} digits.", digits=CODE_DIGITS)
        raise refuse(422, "not_a_code", message, "code")
    with logbook.writing() as (session, now):
        paired = pair(session, digits, device, now)
    if paired is None:
        pace.note_wrong(address)
        raise refuse(
            403,
            "wrong_code",
            say(
                "That code is not in force. A code works once, for five minutes and five tries; "
                "make a new one on the shop's machine."
            ),
            "code",
        )
    return paired


def hand_over(response: Response, token: str, *, is_https: bool) -> None:
    """The token as a cookie that no script reads and no other site sends."""
    response.set_cookie(
        COOKIE,
        token,
        max_age=COOKIE_LIFE_S,
        path="/",
        httponly=True,
        samesite="strict",
        secure=is_https,
    )
    response.headers["cache-control"] = "no-store"
