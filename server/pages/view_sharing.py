"""What pair.html, sharing.html and audit.html may read."""

from __future__ import annotations

from dataclasses import dataclass

from server.pages.view_base import Choice, Page


@dataclass(frozen=True, kw_only=True)
class PairPage(Page):
    """pair.html at /pair, and in place of every page a device may not see.

    POST /pair      code, name, initials
    POST /pair/end  nothing: this device gives its pairing up
    """

    help: str = "sharing"
    is_paired: bool = False
    device_words: str = ""  # "Paired as Bench tablet, role log."
    is_plain_http: bool = True


@dataclass(frozen=True, kw_only=True)
class DeviceLine:
    device_id: int
    name: str
    initials: str = ""
    role: str
    paired: str  # "2 May 2026 10:42"
    seen: str
    ended: str = ""  # when it was ended
    end_action: str = ""  # "/shop/sharing/devices/3/end"; "" where it is ended


@dataclass(frozen=True, kw_only=True)
class SharingPage(Page):
    """sharing.html at /shop/sharing.

    POST /shop/sharing/codes  role
    """

    help: str = "sharing"
    is_shared: bool
    is_host: bool  # only the host may make and see codes
    is_plain_http: bool
    urls: tuple[str, ...] = ()
    qr_side: int = 0
    qr_path: str = ""
    fingerprint: str = ""
    roles: tuple[Choice, ...]
    code: str = ""  # "123 456", once, right after it was made
    code_words: str = ""
    devices: tuple[DeviceLine, ...] = ()


@dataclass(frozen=True, kw_only=True)
class AuditLine:
    when: str
    who: str = ""
    device: str = ""
    action: str
    about: str = ""


@dataclass(frozen=True, kw_only=True)
class AuditPage(Page):
    """audit.html at /shop/audit (GET ?before=ID goes further back)."""

    help: str = "sharing"
    lines: tuple[AuditLine, ...] = ()
    older_url: str = ""
