"""What must not get in or out: other hosts' names, files, bodies; what every answer says."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

import pytest
from fastapi.testclient import TestClient

from server.app import create_app
from server.records.database import Database
from server.settings import Settings
from tests.web.strict import check_strict
from tests.web.workshop import BASE_URL, LOOPBACK, Workshop, code_of

SHARED = "http://192.168.7.20:8020"


@pytest.fixture
def shared(settings: Settings, database: Database) -> TestClient:
    """Another machine of the network, asking a server that is shared."""
    open_settings = replace(settings, share=True, host="0.0.0.0", allowed_hosts=("Lathe.shop",))
    return TestClient(
        create_app(open_settings, database), base_url=SHARED, client=("192.168.7.31", 40000)
    )


# ---- host and origin on the network


@pytest.mark.parametrize(
    "host", ["192.168.7.20:8020", "lathe.shop", "LATHE.SHOP:8020", "127.0.0.1:8020"]
)
def test_a_shared_server_answers_to_its_own_names(shared: TestClient, host: str) -> None:
    assert shared.get("/pair", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "evil.test",
        "192.168.7.20.evil.test",
        "lathe.shop.evil.test",
        "192.168.7.99",
        "x@192.168.7.20",
        "192.168.7.20:8020@evil.test",
        "192.168.7.20/",
        "192.168.7.20:port",
        "192.168.7.20:8020:1",
        "[::1",
        "",
        " ",
        "0x7f.1",
        "2130706433",
    ],
)
def test_a_shared_server_answers_to_no_other_name(shared: TestClient, host: str) -> None:
    for path in ("/", "/pair", "/api/health", "/static/app.css"):
        answer = shared.get(path, headers={"host": host})
        assert (answer.status_code, code_of(answer.json())) == (400, "foreign_host"), path


def test_a_header_that_decides_may_not_come_twice(shop: Workshop) -> None:
    for name, value in (("host", "127.0.0.1:8020"), ("origin", BASE_URL)):
        headers = [("host", "127.0.0.1:8020"), (name, value), (name, value)]
        answer = shop.client.get("/api/health", headers=headers)
        assert answer.status_code == 400
        assert code_of(answer.json()) == "bad_request"


@pytest.mark.parametrize("origin", ["http://evil.test", "null", "http://192.168.7.20:9999"])
def test_another_site_can_neither_pair_nor_post(shared: TestClient, origin: str) -> None:
    body = {"code": "123456", "name": "Tablet"}
    for path in ("/pair", "/api/pair", "/shop/sharing/codes", "/parts"):
        answer = shared.post(path, data=body, headers={"origin": origin})
        assert (answer.status_code, code_of(answer.json())) == (403, "foreign_origin")


# ---- files


@pytest.mark.parametrize(
    "path",
    [
        "/static/../server/app.py",
        "/static/%2e%2e/server/app.py",
        "/static/%2e%2e%2fserver%2fapp.py",
        "/static/..%2fpyproject.toml",
        "/static/..%5cpyproject.toml",
        "/static//etc/passwd",
        "/static/%2fetc%2fpasswd",
        "/static/vendor/../../pyproject.toml",
        "/static/%00app.css",
        "/static/app.css%00.png",
        "/static/....//pyproject.toml",
        "/static/",
        "/static/vendor",
        "/pieces/..%2f1/history.csv",
        "/pieces/1%2f..%2f..%2fetc/history.csv",
        "/pieces/..%2f..%2fpyproject.toml",
        "/pieces/1/history.csv%2f..%2f..%2fpyproject.toml",
        "/pieces/%2e%2e/history.csv",
    ],
)
def test_no_address_leads_out_of_the_static_files(shop: Workshop, path: str) -> None:
    answer = shop.client.get(path, follow_redirects=False)

    assert answer.status_code in (400, 404, 405, 422), answer.status_code
    for word in ("create_app", "[project]", "root:"):
        assert word not in answer.text


def raw_get(client: TestClient, path: str) -> tuple[int, str]:
    """A request whose path no client library has tidied up."""
    import anyio

    app: Any = client.app
    sent: list[dict[str, Any]] = []
    scope = {
        "type": "http",
        "http_version": "1.1",
        "method": "GET",
        "scheme": "http",
        "path": path,
        "raw_path": path.encode(),
        "query_string": b"",
        "root_path": "",
        "headers": [(b"host", b"127.0.0.1:8020")],
        "client": LOOPBACK,
        "server": ("127.0.0.1", 8020),
        "state": {},
    }

    coming = iter([{"type": "http.request", "body": b"", "more_body": False}])

    async def receive() -> dict[str, Any]:
        for message in coming:
            return message
        await anyio.sleep_forever()
        raise AssertionError

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    async def ask() -> None:
        await app(scope, receive, send)

    with ThreadPoolExecutor(1) as pool:  # a browser test on this worker may hold the loop
        pool.submit(anyio.run, ask).result()
    body = b"".join(message.get("body", b"") for message in sent)
    return sent[0]["status"], body.decode("utf-8", "replace")


@pytest.mark.parametrize(
    "path",
    [
        "/static/../server/app.py",
        "/static/../../../../../../etc/passwd",
        "/static//etc/passwd",
        "/static/..\\..\\pyproject.toml",
        "/static/vendor/../../pyproject.toml",
        "/static/\x00",
        "/static/" + "a" * 5000,
        "//etc/passwd",
        "/pieces/../1/history.csv",
    ],
)
def test_no_untidy_address_leads_out_either(shop: Workshop, path: str) -> None:
    status, body = raw_get(shop.client, path)

    assert status in (404, 405, 422)
    for word in ("create_app", "[project]", "root:"):
        assert word not in body


def test_the_raw_request_reaches_a_file_that_is_there(shop: Workshop) -> None:
    status, body = raw_get(shop.client, "/static/app.css")
    assert (status, "--paper" in body) == (200, True)


# ---- what every answer says


@pytest.fixture
def quiet(shop: Workshop) -> TestClient:
    return TestClient(
        shop.client.app, base_url=BASE_URL, client=LOOPBACK, raise_server_exceptions=False
    )


def test_every_page_and_every_refusal_forbids_inline_script(
    shop: Workshop, quiet: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.400")
    pages = f"""/ /?q=shaft /targets /targets?designation=M10 /parts/{job.part_id} /crib /shop
        /shop/sharing /shop/audit /pair /pieces/{job.piece_id}/lathe
        /pieces/{job.piece_id}/history /pieces/{job.piece_id}/finish
        /pieces/{job.piece_id}/history.csv /api/pieces/{job.piece_id}/history /api/openapi.json
        /static/app.css /static/icon.svg""".split()
    for path in pages:
        answer = quiet.get(path)
        assert answer.status_code == 200, path
        check_strict(answer)
    for method, path, status in (
        ("GET", "/nothing", 404),
        ("GET", "/static/nothing", 404),
        ("DELETE", "/shop", 405),
        ("POST", "/parts", 422),
        ("POST", f"/pieces/{job.piece_id}/readings", 422),
        ("GET", "/pieces/x/lathe", 422),
        ("POST", "/shop/sharing/codes", 409),
    ):
        answer = quiet.request(method, path)
        assert answer.status_code == status, path
        check_strict(answer)
    check_strict(quiet.post("/shop", content=b"x" * 300_000))
    check_strict(quiet.get("/", headers={"host": "evil.test"}))
    check_strict(quiet.get("/", headers={"origin": "null"}))

    def broken(*_: object) -> None:
        raise ZeroDivisionError("secret detail")

    monkeypatch.setattr("server.pages.shop.shop_page", broken)
    answer = quiet.get("/shop")
    assert answer.status_code == 500
    assert "secret" not in answer.text
    check_strict(answer)


def test_an_unpaired_device_gets_the_same_strict_pages(shared: TestClient) -> None:
    for answer in (shared.get("/"), shared.get("/api/health"), shared.post("/pair")):
        check_strict(answer)


# ---- bodies


def test_a_file_sent_to_a_form_is_not_taken(quiet: TestClient) -> None:
    for path in ("/parts", "/shop", "/crib/lathes", "/pair"):
        answer = quiet.post(path, files={"name": ("x.html", b"<script>", "text/html")})
        assert answer.status_code in (400, 422), path


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("multipart/form-data", b"--x"),
        ("multipart/form-data; boundary=x", b"--y\r\n"),
        ("multipart/form-data; boundary=", b"----"),
        ("application/x-www-form-urlencoded", b"%ff%fe=%00&=&=&&name=%"),
        ("application/x-www-form-urlencoded", b"a=1&" * 5000),
        ("text/plain", b"name=x"),
        ("application/json", b'{"name": "x"}'),
    ],
)
def test_a_body_that_is_no_form_is_refused_without_a_fault(
    quiet: TestClient, kind: str, body: bytes
) -> None:
    for path in ("/parts", "/shop/operators", "/pair", "/pieces/1/readings"):
        answer = quiet.post(path, content=body, headers={"content-type": kind})
        assert 400 <= answer.status_code < 500, (path, answer.status_code)
