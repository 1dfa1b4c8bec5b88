"""What sharing does when the server starts, and the pairing code asked for at a terminal."""

from __future__ import annotations

import json
import ssl
import urllib.error
import urllib.request
from dataclasses import replace

from server.records.database import Database
from server.settings import LOOPBACK_NAMES, Settings
from server.sharing import network
from server.sharing.certificates import Certificate, CertificateRefused, checked, self_made
from server.sharing.pairing import CODE_LIFE, make_code

MINUTES = int(CODE_LIFE.total_seconds() // 60)


def with_certificate(settings: Settings) -> Settings:
    """The settings with the files that https is served by.  Raises CertificateRefused."""
    if settings.certificate is not None and settings.key is not None:
        found = checked(settings.certificate, settings.key)
    elif settings.certificate is not None or settings.key is not None:
        raise CertificateRefused("--certificate and --key go together: give both files.")
    elif settings.self_signed:
        names = {"localhost", "127.0.0.1", "::1", *network.allowed_hosts(settings)}
        named = tuple(sorted(names - {"0.0.0.0", "::", ""}))
        found = self_made(settings.data_dir, named, settings.clock())
    else:
        return settings
    return replace(settings, certificate=found.certificate, key=found.key)


def spaced(code: str) -> str:
    return f"{code[:3]} {code[3:]}"


def sharing_lines(settings: Settings, database: Database, *, shows_code: bool) -> list[str]:
    """What to print once the server is about to listen.  A code is made only where it is shown."""
    scheme, port = settings.scheme, settings.port
    is_everywhere = settings.host in (*LOOPBACK_NAMES, "0.0.0.0", "::")
    here = f"{scheme}://{'127.0.0.1' if is_everywhere else settings.host}:{port}/"
    lines = [f"Open {here}"]
    if not settings.is_shared:
        return lines
    urls = network.share_urls(settings)
    if not urls:
        lines.append("Sharing is on, but this machine has no address on a network yet.")
    lines += [f"On other devices open {url}" for url in urls]
    if settings.certificate is not None and settings.key is not None:
        shown = Certificate(settings.certificate, settings.key).fingerprint()
        lines.append(f"Certificate SHA-256 {shown}")
    if not shows_code:
        lines.append("Make a pairing code on this machine: Shop, Sharing, or `midlimit pair`.")
        return lines
    with database.writing() as session:
        code = make_code(session, "log", settings.clock())
    if urls:
        lines.append(network.qr_for_terminal(urls[0]))
    lines.append(
        f"Pairing code {spaced(code.code)}: one device, role {code.role.word}, {MINUTES} minutes."
    )
    return lines


def code_from_running_server(role: str, port: int, is_https: bool) -> tuple[str, bool]:
    """(what to print, whether a code was made) by the server that listens on this machine."""
    address = f"{'https' if is_https else 'http'}://127.0.0.1:{port}/api/sharing/codes"
    request = urllib.request.Request(
        address,
        data=json.dumps({"role": role}).encode(),
        headers={"Content-Type": "application/json"},
    )
    trusting = ssl.create_default_context()
    trusting.check_hostname = False
    trusting.verify_mode = ssl.CERT_NONE  # loopback: nobody stands between
    opener = urllib.request.build_opener(
        urllib.request.ProxyHandler({}), urllib.request.HTTPSHandler(context=trusting)
    )
    try:
        with opener.open(request, timeout=10) as answer:
            body = json.load(answer)
    except urllib.error.HTTPError as error:
        return f"midlimit: {json.load(error)['error']['message']}", False
    except (OSError, ValueError) as error:
        return f"midlimit: no server answers at {address} ({error}).", False
    lines = [f"On the other device open {url}" for url in body["urls"]]
    lines.append(f"Pairing code {spaced(body['code'])}: one device, {MINUTES} minutes.")
    return "\n".join(lines), True
