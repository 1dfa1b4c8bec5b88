"""A shared server as the machines of its network see it."""

from __future__ import annotations

import re
from collections.abc import Callable

from fastapi.testclient import TestClient

from tests.web.workshop import Json

LAN = "http://192.168.7.20:8020"
TABLET, OTHER = "192.168.7.31", "192.168.7.32"
Guest = Callable[..., TestClient]  # guest(address, base_url) comes from another machine


def make_code(host: TestClient, role: str = "log") -> str:
    response = host.post("/api/sharing/codes", json={"role": role})
    assert response.status_code == 201, response.text
    code: str = response.json()["code"]
    assert re.fullmatch(r"[0-9]{6}", code)
    return code


def pair(
    host: TestClient, device: TestClient, role: str = "log", name: str = "Tablet", **more: str
) -> Json:
    response = device.post("/api/pair", json={"code": make_code(host, role), "name": name} | more)
    assert response.status_code == 201, response.text
    answer: Json = response.json()
    return answer


def wrong(code: str, step: int = 1) -> str:
    return f"{(int(code) + step) % 1_000_000:06d}"
