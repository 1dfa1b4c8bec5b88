"""Pairing: a code made on the host lets one device in; the device then keeps a token.

Code and token are stored as hashes. A code lives five minutes, takes five tries and works once;
making a new one ends the one before. A device is let in until it is ended, or for 400 days.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session, col, select

from server.logbook.problems import not_found, one_of, optional_text, short_text
from server.logbook.shop import note_change, stamp
from server.records.tables import DeviceRow, PairingRow
from server.sharing.roles import GIVEN, Role
from server.wording import say

CODE_DIGITS = 6
CODE_TRIES = 5
CODE_LIFE = timedelta(minutes=5)
DEVICE_LIFE = timedelta(days=400)  # as long as a browser keeps a cookie
SEEN_EVERY = timedelta(minutes=10)
TOKEN_BYTES = 16
NAME_LONGEST = 40
INITIALS_LONGEST = 8


@dataclass(frozen=True)
class NewCode:
    code: str
    role: Role
    expires_at: str


def role_given(word: str) -> Role:
    words = tuple(role.word for role in GIVEN)
    return Role[one_of(word, words, "role", say("The role")).upper()]


def hashed(text: str, salt: str = "") -> str:
    return hashlib.sha256(f"{salt}{text}".encode()).hexdigest()


def make_code(session: Session, role_word: str, now: datetime) -> NewCode:
    """A fresh code; the only time that it can be read."""
    role = role_given(role_word)
    for earlier in session.exec(select(PairingRow).where(col(PairingRow.ended_at).is_(None))):
        earlier.ended_at = stamp(now)
        session.add(earlier)
    code = f"{secrets.randbelow(10**CODE_DIGITS):0{CODE_DIGITS}d}"
    salt = secrets.token_hex(8)
    row = PairingRow(
        salt=salt,
        code_hash=hashed(code, salt),
        role=role.word,
        made_at=stamp(now),
        expires_at=stamp(now + CODE_LIFE),
        tries_left=CODE_TRIES,
    )
    session.add(row)
    note_change(session, now, "", "pairing code made", f"role {role.word}")
    return NewCode(code, role, row.expires_at)


@dataclass(frozen=True)
class NewDevice:
    """name and initials as typed on the device that wants in."""

    name: str
    initials: str = ""

    def checked(self) -> NewDevice:
        return NewDevice(
            short_text(self.name, "name", say("The device's name"), NAME_LONGEST),
            optional_text(self.initials, "initials", say("The initials"), INITIALS_LONGEST),
        )


@dataclass(frozen=True)
class Paired:
    device: DeviceRow
    token: str


def pair(session: Session, code: str, new: NewDevice, now: datetime) -> Paired | None:
    """Let a device in.  None where the code is not in force or is wrong: that try is counted,
    so the caller must commit either way.  code is digits only, and new has been checked."""
    row = session.exec(
        select(PairingRow)
        .where(col(PairingRow.ended_at).is_(None))
        .order_by(col(PairingRow.id).desc())
        .limit(1)
        .with_for_update()
    ).first()
    if row is None or not row.made_at <= stamp(now) < row.expires_at:
        return None
    is_right = hmac.compare_digest(hashed(code, row.salt), row.code_hash)
    row.tries_left -= 1
    if is_right or row.tries_left <= 0:
        row.ended_at = stamp(now)
    session.add(row)
    if not is_right:
        if row.tries_left <= 0:
            note_change(session, now, "", "pairing code ended", "too many wrong tries")
        return None
    token = secrets.token_urlsafe(TOKEN_BYTES)
    device = DeviceRow(
        name=new.name,
        initials=new.initials,
        role=row.role,
        token_hash=hashed(token),
        paired_at=stamp(now),
        seen_at=stamp(now),
    )
    session.add(device)
    session.flush()
    note_change(session, now, new.initials, "device paired", f"{new.name}, role {row.role}")
    return Paired(device, token)


def device_of(session: Session, token: str, now: datetime) -> DeviceRow | None:
    """The device that holds this token, unless it was ended or its time is over."""
    row = session.exec(select(DeviceRow).where(DeviceRow.token_hash == hashed(token))).first()
    if row is None or row.ended_at is not None or row.paired_at < stamp(now - DEVICE_LIFE):
        return None
    return row


def is_seen_long_ago(row: DeviceRow, now: datetime) -> bool:
    return row.seen_at < stamp(now - SEEN_EVERY)


def note_seen(session: Session, device_id: int, now: datetime) -> None:
    row = session.get(DeviceRow, device_id)
    if row is not None:
        row.seen_at = stamp(now)
        session.add(row)


def devices(session: Session) -> list[DeviceRow]:
    """Every device ever paired, those still let in first, the newest first."""
    rows = session.exec(select(DeviceRow).order_by(col(DeviceRow.id).desc())).all()
    return sorted(rows, key=lambda row: row.ended_at is not None)


def end_device(session: Session, device_id: int, now: datetime) -> DeviceRow:
    """Let a device in no more.  Ending it twice changes nothing."""
    row = session.get(DeviceRow, device_id)
    if row is None:
        raise not_found(say("device"), device_id)
    if row.ended_at is None:
        row.ended_at = stamp(now)
        session.add(row)
        note_change(session, now, "", "device ended", row.name)
    return row
