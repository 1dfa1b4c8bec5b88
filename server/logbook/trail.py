"""The audit trail: read, never changed.  It is kept in English and told in any language."""

from __future__ import annotations

import re

from sqlmodel import Session, col, select

from server.records.tables import AuditRow
from server.wording import say

MOST_LINES = 100
DEVICES = (say("this machine"), say("an unpaired device"))
LOGGED = (say("reading logged"), say("pass logged"), say("event logged"), say("gauge logged"))
STRUCK = (say("reading struck"), say("pass struck"), say("event struck"), say("gauge struck"))
FINISHED = (
    say("piece finished as good"),
    say("piece finished as scrap"),
    say("piece finished as concession"),
    say("piece finished as good reworked"),
    say("piece finished as scrap reworked"),
    say("piece finished as concession reworked"),
)
OF_THE_SHOP = (
    say("lathe added"),
    say("instrument added"),
    say("wires added"),
    say("zero checked"),
    say("material added"),
    say("operator added"),
    say("shop temperature"),
    say("shop settings"),
    say("part opened"),
    say("part copied"),
    say("feature added"),
    say("set-up changed"),
    say("piece opened"),
    say("pairing code made"),
    say("pairing code ended"),
    say("device paired"),
    say("device ended"),
)
ENDED = say("too many wrong tries")
WORDS: dict[str, str] = {
    words: words for words in (*DEVICES, *LOGGED, *STRUCK, *FINISHED, *OF_THE_SHOP, ENDED)
}


def trail(session: Session, before: int | None = None) -> list[AuditRow]:
    """The newest lines, or the newest of those before a line's number."""
    lines = select(AuditRow).order_by(col(AuditRow.id).desc()).limit(MOST_LINES)
    if before is not None:
        lines = lines.where(col(AuditRow.id) < before)
    return list(session.exec(lines))


def as_told(kept: str) -> str:
    """The device or the action of a line, as it is told."""
    return WORDS.get(kept, kept)


def about_told(action: str, about: str) -> str:
    """What a line is about, as it is told."""
    if action in LOGGED and (found := re.fullmatch(r"entry (\d+), piece (\d+)", about)):
        return say("entry {entry}, piece {piece}", entry=found[1], piece=found[2])
    if action in FINISHED and (found := re.fullmatch(r"(?s)piece (\d+): (.*)", about)):
        if not found[2]:
            return say("piece {piece}", piece=found[1])
        return say("piece {piece}: {reason}", piece=found[1], reason=found[2])
    if action == "piece opened" and (found := re.fullmatch(r"(?s)(.*), piece (\d+)", about)):
        return say("{part}, piece {piece}", part=found[1], piece=found[2])
    if action == "set-up changed" and (found := re.fullmatch(r"feature (\d+): (\w+)", about)):
        return say("feature {feature}: {slide}", feature=found[1], slide=found[2])
    if action == "pairing code made" and (found := re.fullmatch(r"role (\w+)", about)):
        return say("role {role}", role=found[1])
    if action == "device paired" and (found := re.fullmatch(r"(?s)(.*), role (\w+)", about)):
        return say("{device}, role {role}", device=found[1], role=found[2])
    return as_told(about) if action == "pairing code ended" else about
