"""This machine as the shop network sees it: its addresses, its names, and a QR code of them."""

from __future__ import annotations

import ipaddress
import socket
from dataclasses import dataclass

from server.settings import Settings

# One address of each private range and one that is set aside for examples (RFC 1918, RFC 5737):
# asking for the route there sends nothing, and names the address it would leave by.
ROUTES = ("192.168.255.254", "172.31.255.254", "10.255.255.254", "192.0.2.1")


def own_addresses() -> tuple[str, ...]:
    """IPv4 addresses that other machines may reach this one by, the likeliest first."""
    found: list[str] = []
    for target in ROUTES:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            try:
                probe.connect((target, 9))
                found.append(probe.getsockname()[0])
            except OSError:
                continue
    try:
        named = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
    except OSError:
        named = []
    found += [str(entry[4][0]) for entry in named]
    return tuple(dict.fromkeys(address for address in found if not is_loopback(address)))


def own_names() -> tuple[str, ...]:
    """The names this machine may be called by: its host name, plain and as .local."""
    name = socket.gethostname().lower()
    short = name.split(".")[0]
    return tuple(dict.fromkeys(each for each in (name, f"{short}.local", short) if short))


def is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True


def is_loopback(address: str) -> bool:
    """127.0.0.0/8, ::1, and the first written as IPv6; nothing else, a name least of all."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return False
    if isinstance(found, ipaddress.IPv6Address) and found.ipv4_mapped is not None:
        found = found.ipv4_mapped
    return found.is_loopback


def allowed_hosts(settings: Settings) -> frozenset[str]:
    """Names a request may ask for, beside loopback's."""
    names = {each.lower() for each in settings.allowed_hosts}
    if settings.is_shared:
        names |= {*own_addresses(), *own_names()}
    return frozenset(names | {settings.host.lower()})


def share_urls(settings: Settings) -> tuple[str, ...]:
    """What to type on another device, the likeliest first."""
    if settings.host in ("0.0.0.0", "::", ""):
        hosts = [*own_addresses(), *own_names()[1:2]]
    else:
        hosts = [settings.host]
    hosts += [name for name in settings.allowed_hosts if name not in hosts]
    return tuple(
        f"{settings.scheme}://{f'[{host}]' if ':' in host else host}:{settings.port}/pair"
        for host in hosts
    )


@dataclass(frozen=True)
class QrCode:
    """A QR code as one SVG path of unit squares, quiet zone included."""

    side: int
    path: str


def qr_code(text: str) -> QrCode:
    import segno

    found = segno.make(text, micro=False, error="m")
    rows = list(found.matrix_iter(border=4))
    path = "".join(
        f"M{x} {y}h1v1h-1z"
        for y, row in enumerate(rows)
        for x, is_dark in enumerate(row)
        if is_dark
    )
    return QrCode(len(rows), path)


def qr_for_terminal(text: str) -> str:
    """The QR code in block letters, for a dark terminal."""
    import io

    import segno

    page = io.StringIO()
    segno.make(text, micro=False, error="m").terminal(out=page, border=2, compact=True)
    return page.getvalue()
