"""What each address asks for: the one table of method, path and role.

A request that no line names asks for MANAGE, so a route that was forgotten is closed, not open.
"""

from __future__ import annotations

import re
from contextvars import ContextVar
from enum import IntEnum

from server.wording import say, say_as


class Role(IntEnum):
    """Each role may do what those below it may."""

    NOBODY = 0  # not paired
    LOOK = 1
    LOG = 2
    MANAGE = 3
    HOST = 4  # the machine that Midlimit runs on

    @property
    def word(self) -> str:
        return self.name.lower()


GIVEN = (Role.LOOK, Role.LOG, Role.MANAGE)  # what a pairing code can give
ROLE_NAMES = {
    Role.LOOK.word: say_as("a device's role", "look"),
    Role.LOG.word: say_as("a device's role", "log"),
    Role.MANAGE.word: say_as("a device's role", "manage"),
}
ROLE_WORDS = {
    Role.LOOK: say("look: see every page, change nothing"),
    Role.LOG: say("log: look, and log readings, cuts and finished pieces"),
    Role.MANAGE: say("manage: log, and set up parts, the tool crib and the shop"),
}

TABLE: dict[tuple[str, str], Role] = {
    ("GET", "/pair"): Role.NOBODY,
    ("POST", "/pair"): Role.NOBODY,
    ("POST", "/pair/end"): Role.NOBODY,
    ("POST", "/api/pair"): Role.NOBODY,
    ("GET", "/static/{path}"): Role.NOBODY,
    ("GET", "/sw.js"): Role.NOBODY,
    ("GET", "/"): Role.LOOK,
    ("GET", "/targets"): Role.LOOK,
    ("GET", "/parts/{part_id}"): Role.LOOK,
    ("GET", "/parts/{part_id}/lot"): Role.LOOK,
    ("GET", "/pieces/{piece_id}/lathe"): Role.LOOK,
    ("GET", "/pieces/{piece_id}/events-stream"): Role.LOOK,
    ("GET", "/pieces/{piece_id}/history"): Role.LOOK,
    ("GET", "/pieces/{piece_id}/history.csv"): Role.LOOK,
    ("GET", "/pieces/{piece_id}/finish"): Role.LOOK,
    ("GET", "/pieces/{piece_id}/working"): Role.LOOK,
    ("GET", "/pieces/{piece_id}/record"): Role.LOOK,
    ("GET", "/pieces/{piece_id}/record.csv"): Role.LOOK,
    ("GET", "/pieces/{piece_id}/record.xlsx"): Role.LOOK,
    ("GET", "/parts/{part_id}/record"): Role.LOOK,
    ("GET", "/parts/{part_id}/record.csv"): Role.LOOK,
    ("GET", "/parts/{part_id}/record.xlsx"): Role.LOOK,
    ("GET", "/api/pieces/{piece_id}/record"): Role.LOOK,
    ("GET", "/api/parts/{part_id}/record"): Role.LOOK,
    ("GET", "/crib"): Role.LOOK,
    ("GET", "/shop"): Role.LOOK,
    ("POST", "/language"): Role.LOOK,  # of the screens of one device
    ("GET", "/help"): Role.LOOK,
    ("GET", "/api/openapi.json"): Role.LOOK,
    ("GET", "/api/health"): Role.LOOK,
    ("POST", "/api/targets"): Role.LOOK,  # works out, stores nothing
    ("POST", "/targets"): Role.MANAGE,
    ("GET", "/api/pieces/{piece_id}/history"): Role.LOOK,
    ("GET", "/api/pieces/{piece_id}/features/{feature_id}/working"): Role.LOOK,
    ("GET", "/api/parts/{part_id}/lot"): Role.LOOK,
    ("GET", "/api/shop"): Role.LOOK,
    ("GET", "/api/materials"): Role.LOOK,
    ("GET", "/api/instruments"): Role.LOOK,
    ("POST", "/parts/{part_id}/pieces"): Role.LOG,
    ("POST", "/pieces/{piece_id}/readings"): Role.LOG,
    ("POST", "/pieces/{piece_id}/passes"): Role.LOG,
    ("POST", "/pieces/{piece_id}/events"): Role.LOG,
    ("POST", "/pieces/{piece_id}/gauges"): Role.LOG,
    ("POST", "/pieces/{piece_id}/setup"): Role.LOG,
    ("POST", "/pieces/{piece_id}/undo"): Role.LOG,
    ("POST", "/pieces/{piece_id}/finish"): Role.LOG,
    ("POST", "/pieces/{piece_id}/rework"): Role.LOG,
    ("POST", "/api/pieces/{piece_id}/rework"): Role.LOG,
    ("POST", "/readings/{entry_id}/strike"): Role.LOG,
    ("POST", "/crib/checks"): Role.LOG,
    ("POST", "/api/parts/{part_id}/pieces"): Role.LOG,
    ("POST", "/api/pieces/{piece_id}/readings"): Role.LOG,
    ("POST", "/api/pieces/{piece_id}/passes"): Role.LOG,
    ("POST", "/api/pieces/{piece_id}/events"): Role.LOG,
    ("POST", "/api/pieces/{piece_id}/gauges"): Role.LOG,
    ("POST", "/api/features/{feature_id}/setup"): Role.LOG,
    ("POST", "/api/pieces/{piece_id}/finish"): Role.LOG,
    ("POST", "/api/readings/{entry_id}/strike"): Role.LOG,
    ("POST", "/api/passes/{entry_id}/strike"): Role.LOG,
    ("POST", "/api/instruments/{instrument_id}/zero-checks"): Role.LOG,
    ("POST", "/parts"): Role.MANAGE,
    ("GET", "/start"): Role.MANAGE,
    ("POST", "/start"): Role.MANAGE,
    ("POST", "/parts/{part_id}/copy"): Role.MANAGE,
    ("POST", "/api/parts/{part_id}/copy"): Role.MANAGE,
    ("POST", "/parts/{part_id}/features"): Role.MANAGE,
    ("POST", "/crib/lathes"): Role.MANAGE,
    ("POST", "/crib/instruments"): Role.MANAGE,
    ("POST", "/crib/wires"): Role.MANAGE,
    ("POST", "/shop"): Role.MANAGE,
    ("POST", "/shop/operators"): Role.MANAGE,
    ("POST", "/shop/materials"): Role.MANAGE,
    ("GET", "/shop/audit"): Role.MANAGE,
    ("GET", "/shop/sharing"): Role.MANAGE,
    ("POST", "/shop/sharing/devices/{device_id}/end"): Role.MANAGE,
    ("POST", "/api/lathes"): Role.MANAGE,
    ("POST", "/api/instruments"): Role.MANAGE,
    ("POST", "/api/shop"): Role.MANAGE,
    ("POST", "/api/shop/temperature"): Role.MANAGE,
    ("POST", "/api/materials"): Role.MANAGE,
    ("POST", "/api/wire-sets"): Role.MANAGE,
    ("POST", "/api/parts"): Role.MANAGE,
    ("POST", "/api/parts/{part_id}/features"): Role.MANAGE,
    ("GET", "/api/sharing"): Role.MANAGE,
    ("POST", "/api/sharing/devices/{device_id}/end"): Role.MANAGE,
    ("POST", "/shop/sharing/codes"): Role.HOST,  # a code is shown on the host's screen only
    ("POST", "/api/sharing/codes"): Role.HOST,
}

SEGMENT = re.compile(r"\\\{\w+\\\}")


def pattern_of(path: str) -> re.Pattern[str]:
    anything = ".+" if path.startswith("/static/") else "[^/]+"
    return re.compile(SEGMENT.sub(anything, re.escape(path)))


PATTERNS = [
    (method, pattern_of(path), role) for (method, path), role in TABLE.items() if "{" in path
]


def role_needed(method: str, path: str) -> Role:
    """The least role that may ask for this; MANAGE where the table has no line for it."""
    asked = "GET" if method == "HEAD" else method
    exact = TABLE.get((asked, path))
    if exact is not None:
        return exact
    for known, pattern, role in PATTERNS:
        if known == asked and pattern.fullmatch(path):
            return role
    return Role.MANAGE


ASKING: ContextVar[Role] = ContextVar("asking", default=Role.HOST)  # set once for a request


def may(method: str, path: str) -> bool:
    """Whether whoever asks now may ask for this too: pages leave out what would be refused."""
    return ASKING.get() >= role_needed(method, path)
