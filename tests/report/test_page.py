"""The page and the labels as text: what must stand on them, and that names stay text."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from html.parser import HTMLParser

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.domain.done import CutState
from nesting.domain.plan import Plan
from nesting.drawing.front_chart import FrontChart, Mark, front_scene
from nesting.drawing.metrics import clean
from nesting.report.labels import labels
from nesting.report.packet import FrontPage, FrontRowWords, packet
from nesting.units import both_systems
from tests.drawing import plans

PLANS = {name: make() for name, make in plans.ALL.items()}
EMPTY = {"area", "br", "col", "hr", "img", "input", "link", "meta", "rect", "use", "path", "circle", "line"}


class Reader(HTMLParser):
    """Reads a page: its tags with their attributes, its texts, and whether tags are closed as they were opened."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.texts: list[str] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        if tag in EMPTY and (not self.open or self.open[-1] != tag):
            return
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    @property
    def text(self) -> str:
        return " ".join("".join(self.texts).split())

    def values(self, name: str) -> list[str]:
        return [attributes[name] for _, attributes in self.tags if name in attributes]


def front() -> FrontPage:
    chart = FrontChart(title="Job", lines=("Sheet",), axis="roll ordered, m", bounds=((0, 9.0), (1, 8.0)), least=8.0,
                       rows=(Mark(seams=0, amount=10.0, text="10 m"), Mark(seams=1, amount=8.5, text="8.5 m")),
                       chosen=Mark(seams=1, amount=8.5, text="8.5 m"))  # fmt: skip
    rows = (
        FrontRowWords(seams="0", ordered="10 m", cost="100 EUR", least="9 m", is_this=False),
        FrontRowWords(seams="1", ordered="8.5 m", cost="85 EUR", least="8 m", is_this=True),
    )
    return FrontPage(material="Sheet", chart=front_scene(chart), rows=rows, steps=("No seam costs 1.5 m more.",),
                     known=("No more is known.",))  # fmt: skip


@pytest.mark.parametrize("name", PLANS)
def test_every_cut_offcut_and_room_stands_on_the_page(name: str) -> None:
    plan = PLANS[name]
    page = Reader(packet(plan, no_front="none"))
    pieces = set(page.values("data-piece"))
    assert {cut.id for part in plan.materials for cut in part.cuts} == pieces
    for part in plan.materials:
        for offcut in part.offcuts:
            assert f"offcut-{offcut.id}" in page.values("data-tick")
        for source in part.sources:
            assert source.stock_id or source.id in page.text
    for room in plan.job.rooms:
        assert " ".join(clean(room.name).split()) in page.text


@pytest.mark.parametrize("name", PLANS)
def test_ids_are_unique_and_every_reference_has_its_target(name: str) -> None:
    page = Reader(packet(PLANS[name], fronts=[front()]))
    ids = page.values("id")
    assert len(ids) == len(set(ids))
    targets = [href[1:] for href in page.values("href")] + page.values("aria-labelledby") + page.values("data-print")
    assert targets
    assert set(targets) <= set(ids)
    hatches = set(re.findall(r"url\(#([\w-]+)\)", packet(PLANS[name])))
    assert hatches <= set(ids)


@pytest.mark.parametrize("name", PLANS)
def test_the_page_needs_nothing_from_outside(name: str) -> None:
    for text in (packet(PLANS[name], fronts=[front()]), labels(PLANS[name])):
        page = Reader(text)
        assert "default-src 'none'" in next(value for value in page.values("content") if "default-src" in value)
        assert all(href.startswith("#") for href in page.values("href"))
        assert not page.values("src")
        assert not [tag for tag, _ in page.tags if tag in ("link", "img", "iframe", "object", "embed", "base")]
        assert "@import" not in text
        assert not re.search(r"url\((?!#)", text)


def test_sizes_stand_in_both_systems() -> None:
    plan = PLANS["clinic"]
    page = Reader(packet(plan))
    text = Reader(labels(plan)).text
    for part in plan.materials:
        for cut in part.cuts:
            if len(cut.rects) == 1:
                for nm in (cut.rects[0].width_nm, cut.rects[0].length_nm):
                    for shown in both_systems(nm, plan.job.unit.value, rounding="up"):
                        assert shown in page.text
                        assert shown in text


def test_weight_and_lifters_or_that_they_are_not_known() -> None:
    plan = PLANS["clinic"]

    def weighing(grams: int | None) -> str:
        weight = None if grams is None else Fraction(grams)
        materials = tuple(replace(material, weight_g_per_m2=weight) for material in plan.job.materials)
        found = replace(plan, job=replace(plan.job, materials=materials))
        text = packet(found)
        return Reader(text[text.index('<section id="cuts"') : text.index('<section id="rooms"')]).text

    assert "weight not known" in weighing(None)
    assert "weight not known" not in weighing(2_900)
    assert re.search(r"\d\.\d kg \d+\.\d lb", weighing(2_900))
    assert "1 person" in weighing(100)
    assert "not by hand" in weighing(100_000)


def test_the_trade_off_is_shown_or_said_to_be_missing() -> None:
    plan = PLANS["corner"]
    with_it, without = Reader(packet(plan, fronts=[front()])), Reader(packet(plan, no_front="Not made here."))
    assert "8.5 m" in with_it.text
    assert "1 (this plan)" in with_it.text
    assert "front-1-chosen" in with_it.values("id")
    assert with_it.text.count("No seam costs 1.5 m more.") == 2  # once for the client
    assert "Not made here." in without.text


def test_the_client_sees_seams_and_price_but_no_bound() -> None:
    plan = PLANS["guest-house"]
    text = packet(plan, fronts=[front()])
    client = Reader(text[text.index('<section id="client"') : text.index('<section id="front"')]).text
    for room in plan.job.rooms:
        assert room.name in client
    assert "seam" in client
    assert "Price of the material" in client
    assert not re.search(r"\bbound|\bgap\b|proved", client)


def test_a_plan_that_is_not_by_the_rules_says_so_first() -> None:
    plan = PLANS["corner"]
    assert "NOT BY THE RULES" not in packet(plan)
    from nesting.domain.plan import Consent
    from nesting.domain.rules import RuleId

    refused = replace(plan, consents=(Consent(rule=RuleId.TRIM, owner="bath", text="<b>less trim</b>"),))
    text = Reader(packet(refused)).text
    assert text.index("NOT BY THE RULES") < text.index("Summary and order", text.index("For the client"))
    assert "<b>less trim</b>" in text
    assert "NOT BY THE RULES" in labels(refused)


def test_what_is_done_is_ticked_for_good_and_has_no_label() -> None:
    plan = PLANS["corner"]
    part = plan.materials[0]
    first = part.cuts[0]
    cuts = (replace(first, state=CutState.LAID), *part.cuts[1:])
    begun = replace(plan, materials=(replace(part, cuts=cuts),))
    page = Reader(packet(begun, now=["Cut the rest."], changed=frozenset({part.cuts[1].id})))
    tick = next(attributes for _, attributes in page.tags if attributes.get("data-tick") == f"cut-{first.id}")
    assert {"checked", "disabled"} <= set(tick)
    assert "Cut the rest." in page.text
    assert "LAID" in page.text
    assert "NEW" in page.text
    assert Reader(labels(begun)).values("data-piece") == [cut.id for cut in part.cuts[1:]]


def test_same_plan_same_bytes() -> None:
    assert packet(plans.guest_house()) == packet(plans.guest_house())
    assert labels(plans.guest_house()) == labels(plans.guest_house())


@pytest.mark.parametrize("name", ["clinic", "guest-house", "strange-names"])
def test_the_page_is_as_kept(name: str, golden: Callable[[str, str], None]) -> None:
    golden(f"report/{name}-packet.html", packet(PLANS[name], fronts=[front()] if name == "guest-house" else ()))
    golden(f"report/{name}-labels.html", labels(PLANS[name]))


HARD = (
    "<script>alert(1)</script>", "</title><b>", "a\" onclick='x' b", "{{ 7 * 7 }}", "{% raw %}", "]]>", "<!-- -->",
    "שלום 3.5 m", "\u202eabc", "👩‍👩‍👧 stair", "x" * 500, "&amp;", "</style>", "\x00\x07bell", "a\nb", "‏",
    "'; --", "${x}",
)  # fmt: skip
names = st.sampled_from(HARD) | st.text(min_size=1, max_size=60)


def renamed(plan: Plan, taken: Iterator[str]) -> Plan:
    """Return a plan in which everything that a user names is named anew."""
    job = plan.job
    job = replace(
        job,
        name=next(taken),
        currency=next(taken),
        rooms=tuple(replace(room, name=next(taken)) for room in job.rooms),
        materials=tuple(replace(material, name=next(taken)) for material in job.materials),
        stock=tuple(replace(piece, place=next(taken)) for piece in job.stock),
    )
    parts = tuple(
        replace(
            part,
            cuts=tuple(replace(cut, label=next(taken)) for cut in part.cuts),
            sources=tuple(replace(source, lot=next(taken)) for source in part.sources),
            notices=tuple(replace(notice, text=next(taken)) for notice in part.notices),
        )
        for part in plan.materials
    )
    return replace(plan, job=job, materials=parts)


@settings(max_examples=25)
@given(st.data())
def test_names_stay_text(data: st.DataObject) -> None:
    plan = PLANS[data.draw(st.sampled_from(["clinic", "corner", "guest-house"]))]
    pool = data.draw(st.lists(names, min_size=4, max_size=8))
    named = renamed(plan, (pool[k % len(pool)] for k in range(10**6)))
    for make in (packet, labels):
        plain, strange = Reader(make(plan)), Reader(make(named))
        for tag in ("script", "style", "b", "title", "section", "article", "input", "table", "g"):
            there, here = ([one for one, _ in page.tags].count(tag) for page in (plain, strange))
            assert there == here, tag
        assert {name for _, attributes in strange.tags for name in attributes} <= {
            name for _, attributes in plain.tags for name in attributes
        } | {"lang"}
