"""Work that comes back, and what stays of it: lots, copies, search, records, scrap, rework."""

from __future__ import annotations

import subprocess
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from playwright.sync_api import Page, expect

from tests.browser.conftest import Server, crib, pages_of

pytestmark = pytest.mark.xdist_group("browser")

COLD = {"temperature": {"value": 68, "unit": "F"}, "operator": "RT", "confirm": True}
THREAD = {
    "label": "Impeller thread",
    "designation": "5/8-18 UNF-2A",
    "method": "over_wires",
    "wire": "0.032",
    "slide": "compound",
    "tool": {"flat": "0.007"},
}
SEAT = {
    "label": "Seat",
    "designation": "0.7500 +0.0000/-0.0010",
    "method": "direct",
    "slide": "cross_slide",
}
CUTS = (("0.6531", None), ("0.6424", "0.0070"), ("0.6377", "0.0028"), ("0.6332", "0.0026"))
TOO_FAR = (("0.6531", None), ("0.6424", "0.0070"), ("0.6210", "0.0120"))
VERDICTS = {
    "in_limits": "In limits",
    "past_limit": "Past the limit",
    "stock_left": "Stock left",
    "too_close": "Too close to call",
}
SEATS = ("0.7493", "0.7494", "0.7495", "0.7496", "0.7497", "0.7498")  # a tool that wears


@dataclass(frozen=True)
class Shop:
    """Six finished shafts, the last one scrapped on its thread, and one in work."""

    server: Server
    part: int
    seat: int
    thread: int
    pieces: tuple[int, ...]
    in_work: int


def log(server: Server, piece: int, feature: int, value: str, step: str | None = None) -> Any:
    body = {"feature_id": feature, "value": value, "unit": "in", "entry_key": str(uuid.uuid4())}
    moved = {"dial_step": step} if step else {}
    return server.post(f"/api/pieces/{piece}/readings", body | moved | COLD)


def turn(server: Server, part: int, seat: int, thread: int, size: str, is_lost: bool) -> int:
    piece = int(server.post(f"/api/parts/{part}/pieces", {})["id"])
    log(server, piece, seat, size)
    for value, step in TOO_FAR if is_lost else CUTS:
        log(server, piece, thread, value, step)
    finish = {"as": "scrap", "reason": "Misread the dial"} if is_lost else {"as": "good"}
    server.post(f"/api/pieces/{piece}/finish", {"initials": "RT"} | finish)
    return piece


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    server = Server(tmp_path_factory.mktemp("finished") / "data")
    server.start()
    lathe, instrument = crib(server)
    tools = {"lathe_id": lathe, "instrument_id": instrument}
    told = {"name": "Pump shaft", "number": "WP-104", "material": "brass", "unit": "in"}
    part = server.post("/api/parts", told)["id"]
    seat, thread = (
        server.post(f"/api/parts/{part}/features", feature | tools)["id"]
        for feature in (SEAT, THREAD)
    )
    pieces = tuple(
        turn(server, part, seat, thread, size, is_lost=size == SEATS[-1]) for size in SEATS
    )
    in_work = int(server.post(f"/api/parts/{part}/pieces", {})["id"])
    yield Shop(server, part, seat, thread, pieces, in_work)
    server.stop()


def on_a_new_lathe(shop: Shop) -> tuple[int, int]:
    """(piece, feature): the same thread where nothing was cut before."""
    lathe, instrument = crib(shop.server)
    told = {"name": "Other shaft", "material": "brass", "unit": "in"}
    part = shop.server.post("/api/parts", told)["id"]
    feature = THREAD | {"lathe_id": lathe, "instrument_id": instrument}
    number = shop.server.post(f"/api/parts/{part}/features", feature)["id"]
    return shop.server.post(f"/api/parts/{part}/pieces", {})["id"], number


def rows_of(page: Page, table: str) -> list[list[str]]:
    """The cells of a table's body as they are read, white space folded."""
    rows = page.locator(f"{table} tbody tr").all()
    return [
        [" ".join(text.split()) for text in row.locator("th, td").all_inner_texts()] for row in rows
    ]


def test_a_lot_stands_side_by_side(page: Page, shop: Shop) -> None:
    page.goto(f"{shop.server.url}/parts/{shop.part}")
    page.get_by_role("link", name="The lot").click()
    page.wait_for_url("**/lot")

    rows = rows_of(page, ".lot-table")

    told = shop.server.get(f"/api/parts/{shop.part}/lot")
    assert [row[0] for row in rows] == [f"Piece {n}" for n in range(1, 8)]
    assert [row[1] for row in rows] == ["Good"] * 5 + ["Scrap", "In work"]
    for place, feature in enumerate(told["features"], start=2):
        cells = [row[place] for row in rows if row[place] != "no size"]
        assert cells == [
            f"{each['size']:.4f} ± {each['doubt']:.4f} {VERDICTS[each['verdict']]}"
            for each in feature["sizes"]
        ]
        assert cells[:5] == [cell for cell in cells[:5] if cell.endswith("In limits")]
    assert rows[5][3].endswith("Past the limit")
    seat = page.locator(".lot-feature").first
    words = seat.locator(".lot-words")
    expect(words).to_contain_text("First piece, 1: in limits")
    expect(words).to_contain_text("Last piece, 6: in limits")
    expect(words).to_contain_text("0.0001")
    expect(words).to_contain_text("as a tool that wears leaves it")
    expect(words).to_contain_text("this lot has 6")
    expect(seat.locator("svg.run-wide path.drift")).to_be_visible()
    expect(page.locator("svg.run-wide path.cross").first).to_be_visible()
    for dial in page.locator(".lot-centring").all_inner_texts():
        assert "next piece should come to" in dial


def test_a_part_is_used_again_with_what_was_learned(page: Page, shop: Shop) -> None:
    page.goto(f"{shop.server.url}/parts/{shop.part}")
    before = rows_of(page, ".ruled")
    page.get_by_text("Copy this part").click()
    page.get_by_label("Name of the copy").fill("Pump shaft, long")
    page.locator("#copy-number").fill("WP-105")
    page.get_by_role("button", name="Copy the part").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Pump shaft, long WP-105")

    after = rows_of(page, ".ruled")

    assert [row[:5] for row in after] == [row[:5] for row in before]
    for old, new in zip(before, after, strict=True):
        assert new[5].startswith(old[5]), "lathe, slide, wires and instrument come along"
        assert "Cut before on 6 pieces on Bench lathe: 5 good, 1 scrapped" in new[5]
    page.get_by_role("button", name="First piece").click()
    page.wait_for_url("**/lathe")
    page.get_by_role("link", name="Impeller thread").click()
    expect(page.locator(".tabs [aria-current]")).to_contain_text("Impeller thread")
    page.locator("#log-temperature_value").fill("68")
    page.locator("#log-value").fill(CUTS[0][0])
    page.locator("#log .send").click()
    expect(page.locator(".stamp")).to_contain_text("Stock left")
    advised = log(shop.server, shop.in_work, shop.thread, CUTS[0][0])["next_cut"]
    untaught = log(shop.server, *on_a_new_lathe(shop), CUTS[0][0])["next_cut"]
    assert untaught["landing"] != advised["landing"]
    expect(page.locator(".headline .figure")).to_have_text(f"{advised['dial_step']:.3f}")
    expect(page.locator(".landing-words")).to_contain_text(f"{advised['landing']['expected']:.4f}")
    expect(page.locator(".why")).to_contain_text(advised["why"][1:])


def test_finished_pieces_are_found(page: Page, shop: Shop) -> None:
    today = shop.server.get(f"/api/pieces/{shop.pieces[0]}/history")["piece"]["finished"]["at"][:10]
    for text, count in (
        ("pump", "6 finished pieces"),
        ("5/8-18 unf brass rt", "6 finished pieces"),
        (f"{today} scrap", "1 finished piece"),
        ("nowhere to be found", "Nothing finished found for “nowhere to be found”."),
    ):
        page.goto(shop.server.url)
        page.get_by_role("searchbox").fill(text)
        page.get_by_role("button", name="Search").click()
        expect(page.locator(".count")).to_have_text(count)
    page.goto(f"{shop.server.url}/?q=wp-104+scrap")
    page.get_by_role("link", name="Pump shaft, Piece 6 WP-104").click()
    page.wait_for_url(f"**/pieces/{shop.pieces[5]}/history")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_records_and_history_fit_their_pages(
    page: Page, shop: Shop, tmp_path: Path, paper: str
) -> None:
    record = shop.server.get(f"/api/pieces/{shop.pieces[0]}/record")
    sizes = [f"{feature['size']:.4f}" for feature in record["features"]]
    for path, wanted in (
        (f"/parts/{shop.part}/record", 7),
        (f"/pieces/{shop.pieces[0]}/record", 1),
        (f"/pieces/{shop.pieces[0]}/history", 1),
    ):
        page.goto(shop.server.url + path)
        pdf = tmp_path / "printed.pdf"
        page.pdf(path=pdf, format=paper)
        assert pages_of(pdf) == wanted, path
        text = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True)
        for words in ("Impeller thread", *sizes):
            assert words in text.stdout


def test_the_spreadsheet_says_what_the_screen_says(page: Page, shop: Shop, tmp_path: Path) -> None:
    page.goto(f"{shop.server.url}/parts/{shop.part}/record")
    screen = rows_of(page, ".inspection-table")
    digests = page.locator(".inspection-foot code:first-child").all_inner_texts()
    with page.expect_download() as download:
        page.get_by_role("link", name="Spreadsheet").click()
    file = tmp_path / "record.xlsx"
    download.value.save_as(file)

    book = load_workbook(file)

    head, *lines = book["Features"].values
    sheet = [dict(zip(head, line, strict=True)) for line in lines]
    assert len(sheet) == len(screen) == 14
    for line, (label, low, high, size, verdict, how) in zip(sheet, screen, strict=True):
        assert label.startswith(f"{line['feature']} {line['designation']}")
        assert low == f"{line['low']:.4f}"
        assert high == f"{line['high']:.4f} {line['unit']}"
        if line["size"] is None:
            assert size == "no size"
        else:
            assert size == f"{line['size']:.4f} ± {line['doubt']:.4f}"
            assert verdict.startswith(VERDICTS[line["verdict"]])
            assert str(line["instrument"]) in how
            assert str(line["operator"]) in how
    of_pieces = [digests[n] for n in range(0, len(digests), 2)]
    assert list(dict.fromkeys(line["digest"] for line in sheet)) == [
        digest.replace(" ", "") for digest in dict.fromkeys(of_pieces)
    ]
    readings = list(book["Readings"].values)[1:]
    assert [row[3] for row in readings[:5]] == [SEATS[0], *(value for value, _ in CUTS)]


def test_scrap_names_its_cut_and_is_reworked_with_a_reason(page: Page, shop: Shop) -> None:
    page.goto(f"{shop.server.url}/pieces/{shop.pieces[5]}/history")
    lost = page.locator("tr", has=page.locator(".wrong-cut"))
    expect(lost).to_have_count(1)
    expect(lost).to_contain_text("0.6210")
    expect(lost.locator(".wrong-cut")).to_contain_text("This cut went past the limit by 0.00")
    expect(lost.locator(".wrong-cut")).to_contain_text("was advised, 0.0120 in was dialled")
    page.goto(f"{shop.server.url}/shop")
    scrap = page.locator("section", has=page.get_by_role("heading", name="What scraps parts here"))
    expect(scrap.locator("li")).to_have_count(1)
    expect(scrap).to_contain_text("Misread the dial 1 piece, last on")
    expect(scrap).to_contain_text("Impeller thread past the limit")
    page.goto(f"{shop.server.url}/pieces/{shop.pieces[5]}/history")
    page.get_by_text("Rework: open this piece again").click()
    page.locator("#rework-reason").fill("Thread cut off, sleeve fitted")
    page.locator("#rework-initials").fill("JK")
    page.get_by_role("button", name="Open it again").click()
    page.wait_for_url("**/lathe**")
    page.goto(f"{shop.server.url}/pieces/{shop.pieces[5]}/history")
    closings = page.locator(".closings li")
    expect(closings).to_have_count(2)
    expect(closings.first).to_contain_text("Misread the dial")
    expect(closings.last).to_contain_text("JK: Thread cut off, sleeve fitted")
    page.goto(f"{shop.server.url}/shop")
    expect(page.locator("body")).to_contain_text("No piece was scrapped yet.")
