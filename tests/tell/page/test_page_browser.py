"""The page as a player uses it, on a phone with touch and on a desktop: from the photo to forgetting."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, Route, expect

from facemark.tell.book.store import Book
from tests.tell.page.browser import begin, choose, chromium, opened
from tests.tell.page.served import Phone, served

SERIOUS = {"serious", "critical"}
expect.set_options(timeout=120_000)  # a machine under load is slow, not wrong; longer than reading may take


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def book_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("browser") / "test.db"


@pytest.fixture(scope="module")
def address(book_path: Path, browser: Browser) -> Iterator[str]:
    with served(book_path) as found:
        yield found


@pytest.fixture
def photo(fixtures: Path) -> str:
    return str(fixtures / "photos" / "driver-tags.jpg")


@pytest.fixture
def ten(fixtures: Path) -> str:
    """Ten marks on top of each other, with a card."""
    return str(fixtures / "photos" / "driver-card.jpg")


def _marks_shown(page: Page) -> None:
    expect(page.locator("svg.view [data-letter]").first).to_be_visible()
    expect(page.get_by_text("average strike alone")).to_be_visible()


def _accessible(page: Page) -> None:
    """No serious finding of axe-core (WCAG 2.2, level AA)."""
    found = Axe().run(page)
    serious = [
        (one["id"], [node["target"] for node in one["nodes"]][:3])
        for one in found.response["violations"]
        if one["impact"] in SERIOUS
    ]
    assert not serious


def _large_enough(page: Page) -> None:
    """Whatever can be pressed is at least 44 px high and wide (WCAG 2.5.5, target size, enhanced)."""
    for button in page.locator("button:visible, input:visible, summary:visible").all():
        box = button.bounding_box()
        assert box is not None
        small = button.evaluate("node => node.type === 'checkbox'")  # its whole line can be pressed
        assert small or (box["height"] >= 44 and box["width"] >= 44), button.evaluate(
            "node => node.outerHTML"
        )


def _drag(page: Page, letter: str, right: float, down: float) -> None:
    box = page.locator(f"svg.view [data-letter={letter}] .touch").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + right / 2, y + down / 2)
    page.mouse.move(x + right, y + down)
    page.mouse.up()


@pytest.mark.parametrize("size", ["phone", "desktop"])
def test_from_the_photo_to_forgetting(
    browser: Browser, address: str, ten: str, size: str, book_path: Path
) -> None:
    player = f"Ada {size}"
    # axe-core is put into the page by the test; the page's own policy would refuse it.
    with opened(browser, address, size, bypass_csp=True) as page:
        expect(page).to_have_url(f"{address}/")  # the key is out of the address at once
        _accessible(page)
        begin(page, player=player, balls=10, tag_mm=None)
        _accessible(page)
        _large_enough(page)
        choose(page, ten)
        _marks_shown(page)
        n_marks = page.locator("svg.view [data-letter]").count()
        assert n_marks >= 5
        _accessible(page)
        _large_enough(page)

        page.get_by_role("button", name="Put it right").click()
        _accessible(page)
        before = page.locator(".place").inner_text()
        _drag(page, "A", 40, -20)
        expect(page.get_by_text("Corrected by hand: 1 mark moved")).to_be_visible()
        assert page.locator(".place").inner_text() != before
        page.get_by_role("button", name="Delete").click()
        page.locator("svg.view [data-letter=B] .touch").click()
        expect(page.get_by_text("Corrected by hand: 1 mark moved, 1 mark deleted")).to_be_visible()
        expect(page.locator("svg.view [data-letter]")).to_have_count(n_marks - 1)
        page.get_by_role("button", name="Undo").click()
        expect(page.locator("svg.view [data-letter]")).to_have_count(n_marks)
        page.get_by_role("button", name="Redo").click()
        expect(page.locator("svg.view [data-letter]")).to_have_count(n_marks - 1)
        page.get_by_role("button", name="No mark is missing").click()
        expect(
            page.get_by_text("Corrected by hand: 1 mark moved, 1 mark deleted, marks said")
        ).to_be_visible()
        page.get_by_role("button", name="Done").click()
        for name, start in (("Report (PDF)", b"%PDF-"), ("Picture", b"\x89PNG")):
            with page.expect_download() as download:
                page.get_by_role("button", name=name, exact=True).click()
            assert Path(download.value.path()).read_bytes().startswith(start)

        page.get_by_role("button", name="Balls").click()
        for number in range(1, 11):
            expect(page.get_by_role("heading", name=f"Ball {number}", exact=True)).to_be_visible()
            page.get_by_role("button", name="Right of it").click()
            page.get_by_role("group", name="Then it curved").get_by_role("button", name="Left").click()
        expect(page.get_by_role("heading", name="10 noted")).to_be_visible()
        expect(page.get_by_text("Next photo now.")).to_be_visible()
        _accessible(page)
        _large_enough(page)

        page.get_by_role("button", name="What does it mean?").click()
        expect(page.get_by_text(re.compile("Path: .*in to out"))).to_be_visible()
        _accessible(page)
        page.get_by_role("button", name="What next?").click()
        expect(page.get_by_role("alert")).to_contain_text("head's length")  # asked for, not assumed
        page.get_by_label("Head, longest way").fill("118")
        page.get_by_role("button", name="Plan again").click()
        expect(page.get_by_role("heading", name="Block done?")).to_be_visible()
        _accessible(page)
        _large_enough(page)
        page.get_by_text("Drawn to scale").click()
        expect(page.get_by_role("img", name="drawn to scale")).to_be_visible()
        for _ in range(8):
            page.get_by_role("button", name="Of these, passed: one more").click()
        page.get_by_role("button", name="Book it").click()
        expect(page.get_by_text("8 of 10").first).to_be_visible()

        page.get_by_role("link", name="facemark").click()
        expect(page.get_by_text("Corrected by hand.")).to_be_visible()
        _accessible(page)
        page.get_by_text("Privacy").click()
        forget = page.get_by_role("button", name=f"Forget {player}")
        forget.click()
        page.get_by_role("button", name="Really? Press again").click()
        expect(page.get_by_text(re.compile(f"{player} is forgotten"))).to_be_visible()
    with Book.open(book_path) as book:
        assert player not in [one.name for one in book.players()]


def test_keys_do_what_fingers_do(browser: Browser, address: str, photo: str) -> None:
    with opened(browser, address, "desktop") as page:
        begin(page, player="Keys", balls=4)
        choose(page, photo)
        _marks_shown(page)
        page.get_by_role("button", name="Put it right").click()
        page.locator("svg.view [data-letter=A]").focus()
        page.keyboard.press("Shift+ArrowRight")
        expect(page.get_by_text("Corrected by hand: 1 mark moved")).to_be_visible()
        assert page.evaluate("document.activeElement.dataset.letter") == "A"  # it can be moved on
        page.keyboard.press("Delete")
        expect(page.get_by_text("Corrected by hand: 1 mark moved, 1 mark deleted")).to_be_visible()


def test_key_after_key_is_one_edit_and_none_is_lost(
    browser: Browser, address: str, photo: str, book_path: Path
) -> None:
    with opened(browser, address, "desktop") as page:
        begin(page, player="Quick", balls=6)
        choose(page, photo)
        _marks_shown(page)
        page.get_by_role("button", name="Put it right").click()
        page.locator("svg.view [data-letter=A]").focus()
        for _ in range(8):
            page.keyboard.press("ArrowRight")  # faster than the answers
        expect(page.get_by_text("Corrected by hand: 1 mark moved")).to_be_visible()
        page.get_by_role("button", name="Done").click()
        page.get_by_role("link", name="facemark").click()
        expect(page.get_by_text("Corrected by hand.")).to_be_visible()
    with Book.open(book_path) as book:
        row = book.readings(player_id=book.find_player("Quick").id)[-1]
        raw, now = (record["marks"][0] for record in (row.record, row.current))
    # Eight steps of half a millimetre.
    assert math.hypot(now["toe_mm"] - raw["toe_mm"], now["high_mm"] - raw["high_mm"]) == pytest.approx(
        4.0, abs=0.4
    )


def test_a_lost_network_loses_nothing(browser: Browser, address: str, photo: str) -> None:
    with opened(browser, address, "phone") as page:
        begin(page, player="Lost", balls=7)
        cut = {"news": 2, "corrections": 3}

        def sometimes(route: Route) -> None:
            which = "news" if "since" in route.request.url else "corrections"
            cut[which] -= 1
            if cut[which] >= 0:
                route.abort()
            else:
                route.continue_()

        page.route("**/photos/*?since=*", sometimes)
        page.route("**/corrections", sometimes)
        choose(page, photo)
        _marks_shown(page)
        page.get_by_role("button", name="Put it right").click()
        _drag(page, "A", 30, -10)
        expect(page.locator("p.how")).to_contain_text("does not answer")
        expect(page.get_by_text("Corrected by hand: 1 mark moved")).to_be_visible()
        page.get_by_role("button", name="Done").click()
        page.get_by_role("link", name="facemark").click()
        expect(page.get_by_text("Corrected by hand.")).to_be_visible()


def test_two_who_correct_the_same_reading_hear_of_each_other(
    browser: Browser, address: str, photo: str, book_path: Path
) -> None:
    with opened(browser, address, "phone") as page:
        begin(page, player="Twice", balls=8)
        choose(page, photo)
        _marks_shown(page)
        page.get_by_role("button", name="Put it right").click()
        with Book.open(book_path) as book:
            reading = book.readings(player_id=book.find_player("Twice").id)[-1].id
        other = Phone(address)
        edits = [{"edit": "delete_mark", "letter": "B"}]
        assert other.ask("PUT", f"/readings/{reading}/corrections", json={"edits": edits}).status_code == 200
        other.client.close()
        _drag(page, "A", 30, -10)
        expect(page.locator("p.how")).to_contain_text("Somebody else has put this reading right")
        expect(page.get_by_text("Corrected by hand: 1 mark deleted")).to_be_visible()


def test_a_photo_stays_with_who_sent_it(browser: Browser, address: str, photo: str) -> None:
    with opened(browser, address, "phone") as page:
        begin(page, player="Sender", balls=9)
        held: list[Route] = []
        page.route("**/photos/*?since=*", lambda route: held.append(route))  # news that comes late
        choose(page, photo)
        expect(page.get_by_text(re.compile("Opening|Reading|Waiting"))).to_be_visible()
        page.get_by_role("button", name="Balls").click()
        page.get_by_role("navigation").get_by_role("button", name="Photo").click()
        expect(page.get_by_text(re.compile("Opening|Reading|Waiting"))).to_be_visible()  # still going on
        expect(page.get_by_label("Choose a photo")).to_be_hidden()
        page.get_by_role("link", name="facemark").click()
        page.get_by_role("button", name="Somebody else is hitting").click()
        begin(page, player="Next", balls=3, tag_mm=None)
        with page.expect_response("**/photos/*?since=*"):
            held[0].continue_()
        page.wait_for_timeout(500)  # time enough to show what should not be shown
        expect(page.get_by_role("heading", name="Photograph the face")).to_be_visible()
        expect(page.get_by_role("button", name="Marks")).to_be_disabled()
        expect(page.get_by_label("Choose a photo")).to_be_attached()


def test_every_tool(browser: Browser, address: str, photo: str) -> None:
    with opened(browser, address, "desktop") as page:
        begin(page, player="Tools", balls=5)
        choose(page, photo)
        _marks_shown(page)
        page.get_by_role("button", name="Put it right").click()
        area = page.locator("svg.view").bounding_box()
        assert area is not None
        middle = (area["x"] + area["width"] / 2, area["y"] + area["height"] / 2)
        n_marks = page.locator("svg.view [data-letter]").count()
        added, split = (chr(ord("A") + n_marks + i) for i in range(2))
        page.locator("[data-tool=add]").click()
        page.mouse.click(middle[0] - 120, middle[1] + 25)
        expect(page.locator(f"svg.view [data-letter={added}]")).to_be_visible()
        page.locator("[data-tool=merge]").click()
        page.locator("svg.view [data-letter=A] .touch").click()
        page.locator(f"svg.view [data-letter={added}] .touch").click()
        expect(page.locator(f"svg.view [data-letter={added}]")).to_have_count(0)
        page.locator("[data-tool=split]").click()
        page.locator("svg.view [data-letter=B] .touch").click()
        expect(page.locator(f"svg.view [data-letter={split}]")).to_be_visible()
        page.locator("[data-tool=spot]").click()
        page.mouse.click(middle[0] + 10, middle[1])
        expect(page.get_by_text("sweet spot moved").first).to_be_visible()
        page.locator("[data-tool=outline]").click()
        handle = page.get_by_label("Edge, handle 3 of 14").bounding_box()
        assert handle is not None
        page.mouse.move(handle["x"] + 10, handle["y"] + 10)
        page.mouse.down()
        page.mouse.move(handle["x"] + 22, handle["y"] + 2, steps=4)
        page.mouse.up()
        expect(page.get_by_text("outline redrawn").first).to_be_visible()
        page.locator("[data-tool=add]").click()
        page.mouse.click(area["x"] + 8, area["y"] + 8)  # off the face: refused, with what to do
        expect(page.locator("p.how")).to_contain_text("off the face")


def test_a_photo_that_cannot_be_read_says_what_to_do(browser: Browser, address: str, photo: str) -> None:
    with opened(browser, address, "phone") as page:
        begin(page, player="Wrong", tag_mm="190")
        choose(page, photo)
        expect(page.get_by_role("alert")).to_be_visible()
        page.get_by_text("Was something else in the photo?").click()
        page.get_by_label("Side of a tag").fill("23.9")
        page.get_by_role("button", name="Read it again").click()
        _marks_shown(page)


def test_a_photo_of_another_set_opens_that_set_only_when_asked(
    browser: Browser, address: str, photo: str
) -> None:
    for player in ("First", "Second"):
        with opened(browser, address, "phone") as page:
            begin(page, player=player, balls=2)
            choose(page, photo)
            if player == "First":
                _marks_shown(page)
            else:  # said, and nobody else's set is opened unasked
                expect(page.get_by_text("This photo is in the book already.")).to_be_visible()
                expect(page.get_by_text("of another player")).to_be_visible()
                expect(page.locator("#where")).to_contain_text("Second")
                page.get_by_role("button", name="Open that set").click()
                _marks_shown(page)
                expect(page.locator("#where")).to_contain_text("First")


def test_without_the_key_nothing_is_shown(browser: Browser, address: str) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(address)
    expect(page.get_by_role("heading", name="The key is missing")).to_be_visible()
    context.close()
