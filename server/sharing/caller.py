"""Who sent a request: the machine itself, a paired device, or nobody known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from starlette.requests import cookie_parser
from starlette.types import Scope

from server.logbook.actor import THIS_MACHINE, Actor
from server.logbook.book import Logbook
from server.settings import LOOPBACK_NAMES
from server.sharing import network, pairing
from server.sharing.roles import Role

COOKIE = "midlimit_device"
LONGEST_TOKEN = 64
# What a proxy adds. Such a header never lets anyone in; it shows that the request only looks
# as if it came from this machine.
FORWARDING = frozenset({"forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip"})

is_loopback = lru_cache(maxsize=256)(network.is_loopback)


@dataclass(frozen=True)
class Caller:
    role: Role
    actor: Actor
    device_id: int | None = None


HOST = Caller(Role.HOST, THIS_MACHINE)
NOBODY = Caller(Role.NOBODY, Actor("an unpaired device"))


def is_this_machine(scope: Scope, headers: Mapping[str, str], host: str) -> bool:
    """Came over loopback, under a loopback name, and not through a proxy."""
    client = scope.get("client")
    return (
        client is not None
        and is_loopback(client[0])
        and host in LOOPBACK_NAMES
        and FORWARDING.isdisjoint(headers)
    )


def token_in(headers: Mapping[str, str]) -> str:
    token = cookie_parser(headers.get("cookie", "")).get(COOKIE, "")
    return token if len(token) <= LONGEST_TOKEN else ""


class Door:
    """Looks a token up each time, so that an ended device is out at once."""

    def __init__(self, logbook: Logbook) -> None:
        self.logbook = logbook

    def caller(self, token: str) -> Caller:
        now = self.logbook.now()
        with self.logbook.reading() as session:
            row = pairing.device_of(session, token, now)
        if row is None or row.id is None:
            return NOBODY
        if pairing.is_seen_long_ago(row, now):
            with self.logbook.writing() as (session, now):
                pairing.note_seen(session, row.id, now)
        return Caller(Role[row.role.upper()], Actor(row.name, row.initials), row.id)
