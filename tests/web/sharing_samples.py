"""Invented views of the pairing, sharing and audit screens."""

from __future__ import annotations

from server.pages.view_sharing import AuditLine, AuditPage, DeviceLine, PairPage, SharingPage
from server.pages.views import Choice, Page, Problem
from server.sharing.network import qr_code

URL = "http://192.168.7.20:8020/pair"
ROLES = (Choice(value="look", word="look: see every page"), Choice(value="log", word="log: log"))
QR = qr_code(URL)
DEVICES = (
    DeviceLine(
        device_id=2,
        name="Tablet at the long bed",
        initials="KJ",
        role="log",
        paired="2 May 2026 07:10",
        seen="2 May 2026 10:42",
        end_action="/shop/sharing/devices/2/end",
    ),
    DeviceLine(
        device_id=1,
        name="Old tablet",
        role="look",
        paired="3 January 2026 09:00",
        seen="1 March 2026 16:20",
        ended="1 March 2026 16:30",
    ),
)


def sharing(code: str = "") -> SharingPage:
    return SharingPage(
        title="Sharing",
        nav="shop",
        is_shared=True,
        is_host=True,
        is_plain_http=True,
        urls=(URL, "http://lathe-pc.local:8020/pair"),
        qr_side=QR.side,
        qr_path=QR.path,
        roles=ROLES,
        code=code,
        code_words="For one device, role log, until 10:47." if code else "A code lets one in.",
        devices=DEVICES,
    )


SHARING_SAMPLES: dict[str, Page] = {
    "pair": PairPage(title="Pair this device"),
    "pair-refused": PairPage(
        title="Pair this device",
        typed={"form": "pair", "name": "Tablet"},
        problems=(Problem(field="code", message="That code is not in force."),),
    ),
    "pair-done": PairPage(
        title="Pair this device",
        is_paired=True,
        device_words="Paired as Tablet, role log.",
        is_plain_http=False,
    ),
    "sharing": sharing(),
    "sharing-code": sharing("041 927"),
    "sharing-off": SharingPage(
        title="Sharing",
        nav="shop",
        is_shared=False,
        is_host=True,
        is_plain_http=True,
        roles=ROLES,
    ),
    "audit": AuditPage(
        title="Who did what",
        nav="shop",
        lines=(
            AuditLine(
                when="2 May 2026 10:42",
                who="KJ",
                device="Tablet at the long bed",
                action="reading logged",
                about="entry 17, piece 3",
            ),
            AuditLine(when="2 May 2026 07:10", device="this machine", action="lathe added"),
        ),
        older_url="/shop/audit?before=17",
    ),
}
