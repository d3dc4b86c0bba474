"""The page in a real browser: ticks, lighting, keyboard, narrow and wide, dark and on paper."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from nesting.domain.plan import Plan
from nesting.report.labels import labels
from nesting.report.packet import packet
from tests.drawing import plans
from tests.report.test_page import front

if TYPE_CHECKING:
    from playwright.sync_api import Page

PLANS = {name: make() for name, make in plans.ALL.items()}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Every plan's page and labels in a folder, as files."""
    at = tmp_path_factory.mktemp("pages")
    for name, plan in PLANS.items():
        (at / f"{name}.html").write_text(packet(plan, fronts=[front()]), encoding="utf-8")
        (at / f"{name}-labels.html").write_text(labels(plan), encoding="utf-8")
    return at


def opened(page: Page, folder: Path, name: str, *, width: int = 1200, dark: bool = False) -> list[str]:
    """Open a page from its file; returns a list that its errors will come to stand in."""
    errors: list[str] = []
    page.on("console", lambda message: errors.append(message.text) if message.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.set_viewport_size({"width": width, "height": 800})
    page.emulate_media(color_scheme="dark" if dark else "light")
    page.goto((folder / f"{name}.html").as_uri())
    return errors


def some_cut(plan: Plan) -> str:
    return plan.materials[0].cuts[0].id


FEW = ("clinic", "strange-names")
ALL = [name if name in FEW else pytest.param(name, marks=pytest.mark.slow) for name in PLANS]


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("width", [360, 1600])
def test_nothing_is_wider_than_the_screen(page: Page, folder: Path, name: str, width: int) -> None:
    for which in (name, f"{name}-labels"):
        errors = opened(page, folder, which, width=width)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        beyond = page.evaluate(
            """() => [...document.querySelectorAll('body *')].filter((node) => {
                const box = node.getBoundingClientRect();
                return box.width && box.right > innerWidth + 1 && !node.closest('.paper, .skip, .unseen, .side, thead');
            }).map((node) => node.outerHTML.slice(0, 120))"""
        )
        assert beyond == []
        assert errors == []


def test_ticks_and_notes_survive_a_reload_and_stay_with_their_plan(page: Page, folder: Path) -> None:
    opened(page, folder, "corner")
    cut = page.locator(f"[data-tick='cut-{some_cut(PLANS['corner'])}']")
    note = page.locator("[data-note]").first
    cut.check()
    note.fill("dry")
    page.reload()
    assert cut.is_checked()
    assert note.input_value() == "dry"
    assert page.locator(".tick:checked").count() == 1
    opened(page, folder, "clinic")
    assert page.locator(".tick:checked").count() == 0  # another plan
    opened(page, folder, "corner")
    page.get_by_role("button", name="Take all ticks away").click()
    page.reload()
    assert page.locator(".tick:checked").count() == 0
    assert note.input_value() == "dry"


def test_a_piece_lights_up_on_the_roll_in_its_room_and_in_the_list(page: Page, folder: Path) -> None:
    opened(page, folder, "corner")
    piece = some_cut(PLANS["corner"])

    def lit() -> list[str]:
        return page.evaluate("[...document.querySelectorAll('.lit')].map((node) => node.dataset.piece)")

    assert lit() == []
    for place in ("rolls", "rooms"):
        page.locator(f"#{place} g[tabindex][data-piece='{piece}']").focus()
        assert set(lit()) == {piece}
        for other in ("rolls", "cuts", "rooms"):
            assert page.locator(f"#{other} .lit[data-piece='{piece}']").count() >= 1
        assert page.locator("#lit").is_visible()
        page.keyboard.press("Escape")
        assert lit() == []
        assert page.locator("#lit").is_hidden()
    page.locator(f"#rolls g[tabindex][data-piece='{piece}'] path").first.click()
    assert set(lit()) == {piece}
    page.get_by_role("button", name="Cut list", exact=True).click()
    assert page.evaluate("document.activeElement.dataset.show") == piece
    page.get_by_role("button", name="Room", exact=True).click()
    assert page.evaluate("document.activeElement.closest('section').id") == "rooms"
    page.get_by_role("button", name="Close").click()
    assert lit() == []


def test_a_piece_that_is_lit_looks_other_than_before(page: Page, folder: Path) -> None:
    opened(page, folder, "corner")
    drawn = page.locator(f"#rooms g[tabindex][data-piece='{some_cut(PLANS['corner'])}'] path").first
    before = drawn.evaluate("(node) => getComputedStyle(node).fill + getComputedStyle(node).strokeWidth")
    drawn.dispatch_event("click")
    assert drawn.evaluate("(node) => getComputedStyle(node).fill + getComputedStyle(node).strokeWidth") != before


def test_everything_that_does_something_is_reached_with_the_tab_key(page: Page, folder: Path) -> None:
    opened(page, folder, "corner")
    wanted = page.evaluate(
        """() => [...document.querySelectorAll('a, button, input, [tabindex]')].filter((node) =>
            !node.disabled && getComputedStyle(node).display !== 'none' && !node.closest('[hidden]') &&
            node.getBoundingClientRect().width).length"""
    )
    seen = set()
    for _ in range(wanted + 40):
        page.keyboard.press("Tab")
        spot = page.evaluate(
            """() => document.activeElement === document.body ? '' :
                [...document.querySelectorAll('*')].indexOf(document.activeElement).toString()"""
        )
        if spot:
            seen.add(spot)
        if not page.evaluate("document.activeElement.matches(':focus-visible, body')"):
            at = page.evaluate("document.activeElement.outerHTML.slice(0, 200)")
            pytest.fail(f"the focus cannot be seen: {at}")
    assert len(seen) >= wanted


def test_the_skip_link_comes_first_and_leads_on(page: Page, folder: Path) -> None:
    opened(page, folder, "corner")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className").startswith("skip")
    page.keyboard.press("Enter")
    assert page.url.endswith("#summary")


@pytest.mark.parametrize("name", [*FEW, pytest.param("guest-house", marks=pytest.mark.slow)])
@pytest.mark.parametrize(("width", "dark"), [(360, False), (1200, True)])
def test_it_reads_well_to_a_screen_reader_and_to_weak_eyes(
    page: Page, folder: Path, name: str, width: int, dark: bool
) -> None:
    """The rules of WCAG 2.2 (W3C) that a program can judge, contrast in both schemes among them, by axe-core."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    for which in (name, f"{name}-labels"):
        opened(page, folder, which, width=width, dark=dark)
        if which == name:
            page.locator("g[tabindex]").first.focus()  # with a piece lit up
        found: dict[str, Any] = axe.Axe().run(page).response
        assert [(one["id"], one["nodes"][0]["html"][:120]) for one in found["violations"]] == []


def test_pieces_are_read_out(page: Page, folder: Path) -> None:
    opened(page, folder, "corner")
    tree = page.locator("#rolls").aria_snapshot()
    cut = PLANS["corner"].materials[0].cuts[0]
    assert re.search(rf'img "[^"]*{re.escape(cut.label)}', tree)


def test_one_section_is_printed_by_itself(page: Page, folder: Path) -> None:
    opened(page, folder, "corner")
    page.evaluate("window.print = () => { window.printed = document.documentElement.className; }")
    for section in page.locator("main > section").all():
        ident = section.get_attribute("id")
        page.evaluate("window.printed = ''")
        section.get_by_role("button", name=re.compile("Print this section")).click()
        assert page.evaluate("window.printed") == "print-one"
        page.emulate_media(media="print")
        shown = page.evaluate(
            "[...document.querySelectorAll('main > section')].filter((one) => one.offsetHeight).map((one) => one.id)"
        )
        assert shown == [ident]
        page.emulate_media(media="screen")
        page.evaluate("window.dispatchEvent(new Event('afterprint'))")
        assert page.evaluate("document.documentElement.className") == ""


def paper_sizes(pdf: bytes) -> list[tuple[int, int]]:
    """Return the size of every page of a PDF in whole points."""
    found = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", pdf)
    return [(round(float(wide)), round(float(high))) for wide, high in found]


@pytest.mark.parametrize(("paper", "short", "long"), [("A4", 595, 842), ("Letter", 612, 792)])
def test_sheets_print_in_full_size_on_a_page_each(page: Page, folder: Path, paper: str, short: int, long: int) -> None:
    opened(page, folder, "corner")
    sheets = page.locator("#rolls .sheet, #rooms .sheet, #client .sheet")
    across = sum(not (sheet.get_attribute("class") or "").count("upright") for sheet in sheets.all())
    sizes = paper_sizes(page.pdf(format=paper))
    lying = [size for size in sizes if size[0] > size[1]]
    assert len(lying) == across
    assert all(abs(wide - long) <= 2 and abs(high - short) <= 2 for wide, high in lying)
    assert all(abs(size[0] - short) <= 2 for size in sizes if size not in lying)
    page.emulate_media(media="print")
    box = page.locator("#rolls svg.drawing").first.bounding_box()
    assert box is not None
    assert round(box["width"] / 96 * 25.4) == 279  # millimetres: 1 : 50 is 1 : 50


@pytest.mark.parametrize("name", ["clinic", "small-pieces", "strange-names"])
def test_labels_fit_their_fields_on_either_paper(page: Page, folder: Path, name: str) -> None:
    opened(page, folder, f"{name}-labels")
    page.emulate_media(media="print")
    cut_off = page.evaluate(
        """() => [...document.querySelectorAll('.label')].flatMap((label) => {
            const outer = label.getBoundingClientRect();
            return [...label.querySelectorAll('.number, .name, .size, .job, svg, .end')].filter((node) => {
                const box = node.getBoundingClientRect();
                return box.right > outer.right + 1 || box.bottom > outer.bottom + 1 || box.left < outer.left - 1;
            }).map((node) => label.id + ' ' + node.className + ' ' + node.textContent.slice(0, 40));
        })"""
    )
    assert cut_off == []
    count = page.locator(".sheet").count()
    for paper in ("A4", "Letter"):
        assert len(paper_sizes(page.pdf(format=paper))) == count


def test_it_works_where_the_browser_keeps_nothing(page: Page, folder: Path) -> None:
    page.add_init_script("Object.defineProperty(window, 'localStorage', { get() { throw new Error('no'); } });")
    errors = opened(page, folder, "corner")
    page.locator(".tick").first.check()
    page.locator("g[tabindex]").first.focus()
    assert page.locator("#lit").is_visible()
    assert errors == []
