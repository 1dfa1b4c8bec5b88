"""The lines of the audit trail, which are kept in English, as a screen tells them."""

from __future__ import annotations

import re

from server.metrology.decision import GuardRule
from server.pages.entry_lines import UNDONE
from server.pages.words import SLIDE_WORDS, UNITS
from server.sharing.roles import ROLE_NAMES
from server.wording import joined, say

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
ACTIONS = (*LOGGED, *STRUCK, *FINISHED, *OF_THE_SHOP)
ENDED = say("too many wrong tries")
WORDS: dict[str, str] = {words: words for words in (*DEVICES, *ACTIONS, ENDED)}
UNIT_WORDS = {unit.value: unit.word for unit in UNITS}
RULE_WORDS = {rule.value: rule.words for rule in GuardRule}


def as_told(kept: str) -> str:
    """The device or the action of a line, as it is told."""
    return WORDS.get(kept, kept)


def about_told(action: str, about: str) -> str:
    """What a line is about, as it is told."""
    if action in LOGGED and (found := re.fullmatch(r"entry (\d+), piece (\d+)", about)):
        return say("entry {entry}, piece {piece}", entry=found[1], piece=found[2])
    if action in STRUCK and (found := re.fullmatch(r"(\d+): " + UNDONE, about)):
        return joined((found[1], UNDONE), ": ")
    if action in FINISHED and (found := re.fullmatch(r"(?s)piece (\d+): (.*)", about)):
        if not found[2]:
            return say("piece {piece}", piece=found[1])
        return say("piece {piece}: {reason}", piece=found[1], reason=found[2])
    if action == "piece opened" and (found := re.fullmatch(r"(?s)(.*), piece (\d+)", about)):
        return say("{part}, piece {piece}", part=found[1], piece=found[2])
    if action == "part copied" and about.count(" to ") == 1:  # else a name may hold it
        old, new = about.split(" to ")
        return say("{old} to {new}", old=old, new=new)
    if action == "set-up changed" and (found := re.fullmatch(r"feature (\d+): (\w+)", about)):
        slide = SLIDE_WORDS.get(found[2], found[2])
        return say("feature {feature}: {slide}", feature=found[1], slide=slide)
    if action == "shop settings":
        return settings_told(about)
    if action == "pairing code made" and (found := re.fullmatch(r"role (\w+)", about)):
        return say("role {role}", role=ROLE_NAMES.get(found[1], found[1]))
    if action == "device paired" and (found := re.fullmatch(r"(?s)(.*), role (\w+)", about)):
        role = ROLE_NAMES.get(found[2], found[2])
        return say("{device}, role {role}", device=found[1], role=role)
    return as_told(about) if action == "pairing code ended" else about


def settings_told(about: str) -> str:
    found = re.fullmatch(r"(\w+), (\w+), ([\d.]+)", about)
    if not found:
        return about
    return say(
        "{unit}; {rule}; chance past a limit {percent} %",
        unit=UNIT_WORDS.get(found[1], found[1]),
        rule=RULE_WORDS.get(found[2], found[2]),
        percent=f"{float(found[3]) * 100:g}",
    )
