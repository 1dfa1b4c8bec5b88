"""A digest over the readings of a piece or a lot, so that a changed record shows."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from hashlib import sha256

from server.records.tables import EntryRow, StrikeRow
from server.wording import say

OVER = say(
    "SHA-256 over one line for each reading, in the order logged: a JSON list of its number, the "
    "value and unit as typed, the time, and the time and reason of its strike or null"
)
OVER_LOT = say("SHA-256 over one line for each piece, in order: its number, a space, its digest")


@dataclass(frozen=True)
class Digest:
    value: str
    readings: int
    over: str = OVER

    @property
    def groups(self) -> str:
        """In groups of eight, to be compared by eye."""
        return " ".join(self.value[at : at + 8] for at in range(0, len(self.value), 8))


def canonical(rows: Iterable[EntryRow], strikes: dict[int, StrikeRow]) -> str:
    """The text that the digest is taken over.  rows: a piece's entries in order."""
    lines: list[str] = []
    for row in rows:
        if row.type != "reading":
            continue
        strike = strikes.get(row.id or 0)
        struck = None if strike is None else [strike.at, strike.reason]
        line = [len(lines) + 1, row.value, row.unit, row.at, struck]
        lines.append(json.dumps(line, ensure_ascii=False, separators=(",", ":")))
    return "".join(line + "\n" for line in lines)


def piece_digest(rows: Sequence[EntryRow], strikes: dict[int, StrikeRow]) -> Digest:
    text = canonical(rows, strikes)
    return Digest(sha256(text.encode()).hexdigest(), text.count("\n"))


def lot_digest(pieces: Sequence[tuple[int, Digest]]) -> Digest:
    """pieces: (number, digest of its readings), in order."""
    text = "".join(f"{number} {digest.value}\n" for number, digest in pieces)
    readings = sum(digest.readings for _, digest in pieces)
    return Digest(sha256(text.encode()).hexdigest(), readings, OVER_LOT)
