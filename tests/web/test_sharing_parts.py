"""Certificates, addresses, QR codes, and the small parsers that read what strangers send."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.guard import host_name, is_same_origin
from server.settings import Settings, settings_from
from server.sharing import network
from server.sharing.caller import FORWARDING, is_this_machine, token_in
from server.sharing.certificates import CertificateRefused, checked, self_made
from server.sharing.roles import Role, role_needed
from server.sharing.start import with_certificate

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
NAMES = ("127.0.0.1", "::1", "lathe-pc.local", "localhost")


# ---- certificates


def test_a_self_made_certificate_serves_until_a_month_before_its_end(tmp_path: Path) -> None:
    pytest.importorskip("cryptography")
    first = self_made(tmp_path, NAMES, NOW).fingerprint()
    assert self_made(tmp_path, NAMES, NOW + timedelta(days=360)).fingerprint() == first
    assert self_made(tmp_path, NAMES[:2], NOW).fingerprint() == first
    renewed = self_made(tmp_path, NAMES, NOW + timedelta(days=370)).fingerprint()
    assert renewed != first
    wider = self_made(tmp_path, (*NAMES, "10.0.0.7"), NOW + timedelta(days=371)).fingerprint()
    assert wider != renewed
    assert len(wider) == 32 * 3 - 1


def test_the_key_of_a_self_made_certificate_is_for_its_owner_only(tmp_path: Path) -> None:
    pytest.importorskip("cryptography")
    made = self_made(tmp_path, NAMES, NOW)
    assert made.key.stat().st_mode & 0o077 == 0
    assert sorted(each.name for each in tmp_path.iterdir()) == ["self-made.crt", "self-made.key"]


def test_a_damaged_certificate_is_made_anew(tmp_path: Path) -> None:
    pytest.importorskip("cryptography")
    made = self_made(tmp_path, NAMES, NOW)
    made.certificate.write_text("rubbish")
    assert len(self_made(tmp_path, NAMES, NOW).fingerprint()) == 95


def test_a_certificate_and_a_key_that_do_not_belong_together_are_refused(tmp_path: Path) -> None:
    pytest.importorskip("cryptography")
    one, two = self_made(tmp_path / "a", NAMES, NOW), self_made(tmp_path / "b", NAMES, NOW)
    assert checked(one.certificate, one.key) == one
    for certificate, key, words in (
        (one.certificate, two.key, "can't be used together"),
        (one.key, one.key, "can't be used together"),
        (one.certificate, tmp_path / "none", "There is no file"),
    ):
        with pytest.raises(CertificateRefused, match=words):
            checked(certificate, key)


def test_half_a_certificate_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CertificateRefused, match="give both"):
        with_certificate(Settings(data_dir=tmp_path, certificate=tmp_path / "a.pem"))
    alone = Settings(data_dir=tmp_path)
    assert with_certificate(alone) == alone


# ---- settings and addresses


def test_sharing_is_off_until_it_is_asked_for(tmp_path: Path) -> None:
    alone = settings_from({}, data_dir=str(tmp_path))
    assert (alone.host, alone.is_shared, alone.scheme) == ("127.0.0.1", False, "http")
    assert network.allowed_hosts(alone) == {"127.0.0.1"}
    shared = settings_from({}, data_dir=str(tmp_path), share=True, allowed_hosts=["Lathe.Shop"])
    assert (shared.host, shared.is_shared) == ("0.0.0.0", True)
    assert "lathe.shop" in network.allowed_hosts(shared)
    named = settings_from({}, data_dir=str(tmp_path), host="10.1.2.3", share=True)
    assert network.share_urls(named) == ("http://10.1.2.3:8020/pair",)
    six = replace(named, host="fd00::7", self_signed=True)
    assert network.share_urls(six) == ("https://[fd00::7]:8020/pair",)


@pytest.mark.parametrize("address", ["127.0.0.1", "127.255.0.1", "::1", "::ffff:127.0.0.1"])
def test_loopback_is_known(address: str) -> None:
    assert network.is_loopback(address)


@pytest.mark.parametrize(
    "address",
    ["", "localhost", "127.0.0.1.evil.test", "128.0.0.1", "0.0.0.0", "::", "127.1", "10.0.0.1"],
)
def test_nothing_else_is_loopback(address: str) -> None:
    assert not network.is_loopback(address)


def test_own_addresses_are_addresses_and_none_is_loopback() -> None:
    for address in network.own_addresses():
        assert network.is_address(address)
        assert not network.is_loopback(address)


def test_the_qr_code_has_its_three_corners_and_quiet_zone() -> None:
    """Finder patterns of 7 modules inside a border of 4: ISO/IEC 18004, 6.3.3 and 6.3.8."""
    found = network.qr_code("http://192.168.7.20:8020/pair")
    dark = {
        tuple(int(part) for part in each.removesuffix("h1v1h-1").split())
        for each in found.path.replace("M", " ").split("z")
        if each
    }
    assert (found.side - 8 - 17) % 4 == 0
    far = found.side - 4 - 7
    for x0, y0 in ((4, 4), (far, 4), (4, far)):
        ring = {(x0 + i, y0) for i in range(7)} | {(x0, y0 + i) for i in range(7)}
        assert ring <= dark
        assert (x0 + 3, y0 + 3) in dark
        assert (x0 + 1, y0 + 1) not in dark
    assert min(x for x, _ in dark) == 4
    assert max(x for x, _ in dark) == found.side - 5
    assert "\x1b" in network.qr_for_terminal("http://192.168.7.20:8020/pair") or "█" in (
        network.qr_for_terminal("http://192.168.7.20:8020/pair")
    )


# ---- what strangers send

HEADER = st.text(st.characters(max_codepoint=255), max_size=80)
ONE_LINE = HEADER.filter(lambda text: "\r" not in text and "\n" not in text)
NAME = st.sampled_from(
    ["host", "origin", "cookie", "content-length", "sec-fetch-site", "accept", *FORWARDING]
)


@given(HEADER, HEADER)
def test_any_host_and_origin_can_be_read(host: str, origin: str) -> None:
    name = host_name(host)
    assert name == name.lower()
    assert not set(name) & set("/@ []")
    if is_same_origin(origin, host):
        assert origin.lower().split("#")[0].count(host.lower()) >= 1


@given(st.dictionaries(NAME, HEADER), HEADER)
def test_any_cookie_and_any_client_can_be_read(headers: dict[str, str], client: str) -> None:
    assert len(token_in(headers)) <= 64
    scope = {"client": (client, 1)}
    if is_this_machine(scope, headers, host_name(headers.get("host", ""))):
        assert client.startswith(("127.", ":", "0"))


@given(st.text(max_size=60), st.text(max_size=60))
def test_any_method_and_path_asks_for_some_role(method: str, path: str) -> None:
    assert role_needed(method, path) >= Role.LOOK or path.startswith(("/pair", "/static/"))


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    headers=st.dictionaries(NAME, ONE_LINE),
    path=st.text(st.characters(min_codepoint=33, max_codepoint=126), max_size=40),
    method=st.sampled_from(["GET", "POST", "PUT", "HEAD", "OPTIONS", "TRACE"]),
)
def test_no_header_or_path_makes_a_fault(
    client: TestClient, headers: dict[str, str], path: str, method: str
) -> None:
    encoded = {name: text.encode("latin-1") for name, text in headers.items()}
    answer = client.request(
        method, "/" + path.replace("?", "%3f").lstrip("/"), headers=encoded, follow_redirects=False
    )
    assert answer.status_code < 500


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    code=st.text(max_size=20) | st.from_regex(r"[0-9]{6}", fullmatch=True),
    name=st.text(max_size=60),
    initials=st.text(max_size=12),
)
def test_nothing_typed_on_the_pairing_page_makes_a_fault(
    client: TestClient, code: str, name: str, initials: str
) -> None:
    body = {"code": code, "name": name, "initials": initials}
    answer = client.post("/api/pair", json=body)
    assert answer.status_code in (403, 422, 429)
