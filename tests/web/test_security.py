"""What must not get in or out: other hosts' names, files, scripts, bodies; on every page."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from typing import Any

import pytest
from fastapi.testclient import TestClient

from server.app import create_app
from server.records.database import Database
from server.settings import Settings
from tests.web.workshop import BASE_URL, LOOPBACK, Workshop, code_of, new_key

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

    anyio.run(ask)
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


class Loose(HTMLParser):
    """Collects what a strict policy would block, and what a planted text might have become."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.faults: list[str] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if (tag == "script" and "src" not in given) or tag in ("style", "iframe", "object", "img"):
            self.faults.append(f"<{tag}>")
        for name, value in attrs:
            self.words.append(value or "")
            if name.startswith("on") or name == "style" or (value or "").startswith("javascript:"):
                self.faults.append(f"{tag} {name}={value}")

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def handle_comment(self, data: str) -> None:
        self.words.append(data)


def check_strict(answer: Any) -> None:
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == "same-origin"
    assert "access-control-allow-origin" not in answer.headers
    if answer.headers.get("content-type", "").startswith("text/html"):
        assert Loose(answer.text).faults == []


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


# ---- scripts that somebody stored


def planted(where: str) -> str:
    return f"""<script>alert("{where}")</script>'"><img src=x onerror=alert(1)>{{{{7*7}}}}"""


SHORT = "<b>\"'&"  # where only a few letters fit


@pytest.fixture
def infested(shop: Workshop) -> list[str]:
    """Everything that takes text has been given script; the texts, to look for."""
    client = shop.client
    texts: list[str] = []

    def text(where: str, longest: int = 200) -> str:
        found = planted(where)[:longest]
        texts.append(found)
        return found

    def form(path: str, **fields: str) -> None:
        answer = client.post(path, data=fields, follow_redirects=False)
        assert answer.status_code == 303, (path, answer.text[:400])

    slide = {"counts": "diameter", "graduation": "0.02"}
    for number, via in enumerate(("api", "form")):
        unit = {"unit": "mm"}
        material = text(f"{via} material", 60)
        form(
            "/shop/materials",
            name=material,
            expansion="11.5",
            source=text(f"{via} source"),
        )
        if via == "api":
            body: dict[str, Any] = {"name": text("api lathe"), "cross_slide": slide}
            lathe = shop.post("/api/lathes", body | unit | {"compound": slide}, 201)["id"]
            body = {"name": text("api instrument"), "kind": "micrometer", "resolution": "0.001"}
            instrument = shop.post("/api/instruments", body | unit, 201)["id"]
            body = {"name": text("api wires"), "nominal": "0.8"}
            shop.post("/api/wire-sets", body | unit, 201)
            body = {"name": text("api part"), "number": text("api number", 80)}
            part = shop.post("/api/parts", body | unit | {"material": material}, 201)["id"]
            label = text("api label", 80)
            shop.feature(part, "25 h6", lathe, instrument, label=label)
            piece = shop.piece(part, serial=text("api serial", 80))
        else:
            form(
                "/crib/lathes",
                name=text("form lathe"),
                cross_slide_counts="diameter",
                cross_slide_graduation="0.02",
                compound_counts="travel",
                compound_graduation="0.02",
                angle_from="axis",
                **unit,
            )
            form(
                "/crib/instruments",
                name=text("form instrument"),
                kind="micrometer",
                resolution="0.001",
                **unit,
            )
            form("/crib/wires", name=text("form wires"), nominal="0.8", **unit)
            form(
                "/parts",
                name=text("form part"),
                number=text("form number", 80),
                material=material,
                **unit,
            )
            form(
                "/parts/2/features",
                label=text("form label", 80),
                designation="25 h6",
                method="direct",
                slide="cross_slide",
                lathe_id="2",
                instrument_id="2",
                **unit,
            )
            form("/parts/2/pieces", serial=text("form serial", 80))
            form(
                "/crib/checks",
                instrument_id="2",
                value="0.001",
                operator=text("form checker", 20),
                **unit,
            )
            piece = 2
        form("/shop/operators", initials=SHORT[number:], name=text(f"{via} operator", 60))
        feature = number + 1

        def log(
            kind: str, piece: int = piece, feature: int = feature, via: str = via, **fields: str
        ) -> None:
            body = {"feature_id": str(feature), "entry_key": new_key(), **fields} | {
                "note": text(f"{via} {kind} note"),
                "operator": text(f"{via} {kind}", 20),
            }
            if via == "form":
                form(f"/pieces/{piece}/{kind}", **body)
            else:
                given: dict[str, Any] = body | {"feature_id": feature}
                shop.post(f"/api/pieces/{piece}/{kind}", given, 201)

        log("readings", value="25.400", unit="mm", station=text(f"{via} station", 40))
        log("passes", dial_step="0.1", unit="mm")
        log("events", event="rezeroed")
        log("readings", value="25.300", unit="mm", confirm="true")
        struck = {"reason": text(f"{via} struck"), "operator": text(f"{via} striker", 20)}
        entry = shop.get(f"/api/pieces/{piece}/history")["features"][0]["entries"][-1]["id"]
        if via == "form":
            form(f"/readings/{entry}/strike", **struck)
        else:
            shop.post(f"/api/readings/{entry}/strike", struck, 200)
        end = {"as": "scrap", "reason": text(f"{via} scrapped"), "initials": text(f"{via} end", 20)}
        if via == "form":
            form(f"/pieces/{piece}/finish", **end)
        else:
            shop.post(f"/api/pieces/{piece}/finish", end, 200)
    return [*texts, SHORT]


def test_script_stored_in_any_text_field_is_shown_as_text(
    shop: Workshop, infested: list[str]
) -> None:
    shown: list[str] = []
    query = planted("searched")
    for path, params in (
        ("/", {}),
        ("/", {"q": query}),
        ("/", {"q": "alert"}),
        ("/targets", {"designation": query}),
        ("/targets", {"designation": "M10", "wire": query, "aim": query}),
        ("/parts/1", {}),
        ("/parts/2", {}),
        ("/crib", {}),
        ("/shop", {}),
        ("/shop/sharing", {}),
        ("/shop/audit", {}),
        ("/pieces/1/lathe", {}),
        ("/pieces/2/lathe", {}),
        ("/pieces/1/history", {}),
        ("/pieces/2/history", {}),
        ("/pieces/1/finish", {}),
        ("/pieces/1/working", {}),
    ):
        answer = shop.client.get(path, params=params)
        assert answer.status_code in (200, 422), (path, answer.status_code)
        assert answer.headers["content-type"].startswith("text/html")
        assert "<script>alert(" not in answer.text, path
        check_strict(answer)
        shown += Loose(answer.text).words
    everything = "\n".join(shown)
    assert len(infested) > 40
    seldom_shown = ("api station", "form station")
    missing = [
        text
        for text in infested
        if text not in everything and not any(name in text for name in seldom_shown)
    ]
    assert missing == [], "these are shown on no page, or not as they were typed"
    assert "{{7*7}}" in everything


def test_script_that_was_refused_is_shown_as_text(shop: Workshop) -> None:
    """Every form gives back what was typed, whatever it was."""
    job = shop.job("25 h6", "mm")
    piece = f"/pieces/{job.piece_id}"
    names = """name number material unit initials expansion source kind resolution max_error due
        nominal measured cross_slide_counts cross_slide_graduation compound_counts rule serial
        compound_graduation compound_angle_deg angle_from designation label method slide wire aim
        nose_radius flat crest_diameter value dial_step temperature_value temperature_unit touch
        station note operator reason as code make new_part standard cut advised_step
        shop_temperature past_limit_percent event gauge""".split()
    forms = {
        "/parts": "part",
        "/shop": "shop",
        "/shop/operators": "operator",
        "/shop/materials": "material",
        "/crib/lathes": "lathe",
        "/crib/instruments": "instrument",
        "/crib/wires": "wire",
        "/crib/checks": "check-1",
        f"/parts/{job.part_id}/features": "feature",
        f"{piece}/readings": "log",
        f"{piece}/passes": "pass",
        f"{piece}/events": "event",
        f"{piece}/gauges": "gauge",
        f"{piece}/setup": "setup",
        f"{piece}/finish": "finish",
        "/targets": "card",
        "/pair": "pair",
        "/shop/sharing/codes": "code",
    }
    ids = {"lathe_id": "1", "instrument_id": "1", "feature_id": str(job.feature_id)}
    for path, form in forms.items():
        fields = {name: planted(name) for name in names} | ids | {"form": form}
        answer = shop.client.post(path, data=fields | {"entry_key": new_key()})
        assert 400 <= answer.status_code < 500, (path, answer.status_code)
        assert "<script>alert(" not in answer.text, path
        check_strict(answer)


def test_the_csv_of_a_history_runs_nothing_in_a_spreadsheet(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm", label="=cmd|' /C calc'!A0")
    job.read("25.400", note="@SUM(1+1)*cmd", operator="+1")
    answer = shop.client.get(f"/pieces/{job.piece_id}/history.csv")

    assert answer.headers["content-type"].startswith("text/csv")
    assert "attachment" in answer.headers["content-disposition"]
    assert "'=cmd" in answer.text
    assert "'@SUM" in answer.text


# ---- two tablets on one piece


def tablets(shop: Workshop) -> tuple[TestClient, TestClient]:
    return shop.client, TestClient(shop.client.app, base_url=BASE_URL, client=LOOPBACK)


def test_the_second_of_two_tablets_is_told_and_neither_overwrites_the_other(
    shop: Workshop,
) -> None:
    job = shop.job("25 h6", "mm")
    first, second = tablets(shop)
    path = f"/pieces/{job.piece_id}/readings"
    job.read("25.400")
    pages = [tablet.get(f"/pieces/{job.piece_id}/lathe").text for tablet in (first, second)]
    seen = {re.search(r'name="last_seq" value="([0-9]+)"', page) for page in pages}
    seqs = {match[1] for match in seen if match}
    assert len(seqs) == 1
    fields = {"feature_id": str(job.feature_id), "unit": "mm", "last_seq": seqs.pop()}

    one = fields | {"value": "25.200", "dial_step": "0.2", "entry_key": new_key()}
    two = fields | {"value": "25.201", "cut": "advised", "advised_step": "0.3"}
    two |= {"entry_key": new_key(), "note": "from the second"}
    assert first.post(path, data=one, follow_redirects=False).status_code == 303
    late = second.post(path, data=two)
    assert late.status_code == 409
    assert "Something was logged on this piece" in late.text
    assert 'value="25.201"' in late.text
    assert [entry["value"] for entry in job.entries()] == ["25.400", "25.200"]

    new_seq = re.search(r'name="last_seq" value="([0-9]+)"', late.text)
    assert new_seq is not None
    again = second.post(
        path,
        data=two | {"last_seq": new_seq[1], "cut": "none", "entry_key": new_key()},
        follow_redirects=False,
    )
    assert again.status_code == 303
    assert [entry["value"] for entry in job.entries()] == ["25.400", "25.200", "25.201"]


def test_two_tablets_that_log_at_once_store_both_or_say_so(shop: Workshop) -> None:
    """Sixteen readings from two tablets at the same moment: each answer is true."""
    from concurrent.futures import ThreadPoolExecutor

    job = shop.job("25 h6", "mm")
    newest = job.read("25.400")["reading"]["id"]
    pair = tablets(shop)

    def log(number: int) -> int:
        body = job.body(f"25.4{number:02d}", last_seq=newest)
        answer = pair[number % 2].post(f"/api/pieces/{job.piece_id}/readings", json=body)
        return answer.status_code

    with ThreadPoolExecutor(4) as pool:
        answers = list(pool.map(log, range(16)))
    assert sorted(set(answers)) == [201, 409]
    assert answers.count(201) == 1
    assert len(job.entries()) == 2
