"""What serves as a planned cut: the same cell, on the same grid, no smaller; layouts without it are left out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.domain.done import CutState, DoneCut
from nesting.domain.geometry import Rect
from nesting.domain.job import Job, LoosePiece
from nesting.domain.layout import Cut, CutKind
from nesting.domain.pins import PinnedLayout, RoomPins
from nesting.domain.rules import RuleId
from nesting.seams.candidates import candidates_of
from nesting.seams.done import done_by_owner, serves_as, with_done
from tests.making import ALONG_X, ALONG_Y, GOODS, MM, M, goods, job, rectangle, room

DROP = Cut(id="room-1", number=1, kind=CutKind.DROP, owner="room", label="Room 1", rects=(Rect(0, 0, 2 * M, 3 * M),))
STEP = 10 * MM


@pytest.mark.parametrize(
    ("rects", "serves"),
    [
        ((Rect(0, 0, 2 * M, 3 * M),), True),
        ((Rect(0, 0, 2 * M, 3 * M + STEP),), True),  # longer than it must be
        ((Rect(-STEP, -STEP, 2 * M, 3 * M),), True),
        ((Rect(0, 0, M, 3 * M), Rect(M, 0, 2 * M, 3 * M)), True),  # the same in two
        ((Rect(0, 0, 2 * M, 3 * M - 1),), False),
        ((Rect(0, 1, 2 * M, 3 * M + 1),), False),
        ((Rect(-1, 0, 2 * M, 3 * M),), False),  # off the grid
        ((Rect(0, 0, M, 3 * M), Rect(M, 0, 2 * M, 2 * M)), False),  # a notch where floor is
    ],
)
def test_a_drop_serves_that_covers_what_is_planned(rects: tuple[Rect, ...], serves: bool) -> None:
    assert serves_as(replace(DROP, rects=rects), DROP, STEP) is serves


@pytest.mark.parametrize("change", [{"breadth": 1}, {"low": 0}, {"high": 0}, {"kind": CutKind.INSERT}, {"of_item": 1}])
def test_a_cut_for_another_cell_does_not_serve(change: dict[str, object]) -> None:
    assert not serves_as(replace(DROP, **change), DROP, STEP)  # type: ignore[arg-type]


def test_a_loose_piece_serves_in_its_own_size_alone() -> None:
    mat = replace(DROP, kind=CutKind.LOOSE, rects=(Rect(0, 0, M, M),))
    assert serves_as(mat, mat, STEP)
    assert not serves_as(replace(mat, rects=(Rect(0, 0, M, M + STEP),)), mat, STEP)


def done(cut: Cut) -> DoneCut:
    return DoneCut(cut=replace(cut, state=CutState.CUT.value), source_id="R", x_nm=0, y_nm=0)


def pinned(a_job: Job, seams_nm: tuple[int, ...], **changes: object) -> Job:
    layout = PinnedLayout(direction=ALONG_Y, seams_nm=seams_nm)
    first = replace(a_job.rooms[0], pins=RoomPins(layout=layout), **changes)
    return replace(a_job, rooms=(first, *a_job.rooms[1:]))


def test_layouts_have_what_is_cut_as_it_is_cut() -> None:
    material = goods(2 * M)
    plain = pinned(job([room(rectangle(4 * M, 3 * M))], material), (2 * M,))
    made = replace(DROP, rects=(Rect(0, -MM, 2 * M, 3 * M),))
    today = replace(plain, done=(done(made),))
    found = with_done(candidates_of(today, material), today, material)
    assert found.refusals == () and found.laid["room"]
    for way in found.laid["room"]:
        (cut,) = [cut for cut in way.cuts if cut.id == made.id]
        assert (cut.rects, cut.state) == (made.rects, "cut")
    assert done_by_owner(today) == {"room": today.done}
    assert with_done(candidates_of(plain, material), plain, material) == candidates_of(plain, material)


def test_a_room_whose_cuts_serve_in_no_layout_is_refused_with_their_numbers() -> None:
    material = goods(2 * M)
    today = pinned(job([room(rectangle(4 * M, 3 * M))], material), (2 * M,))
    short = replace(DROP, number=7, rects=(Rect(0, 0, 2 * M, 3 * M - MM),))
    today = replace(today, done=(done(short),))
    found = with_done(candidates_of(today, material), today, material)
    assert [(item.owner, item.rule) for item in found.refusals] == [("room", RuleId.PINS)]
    assert found.refusals[0].text == "Room: no layout by the rules uses what is cut of it (cut 7) as it is"
    unknown = replace(today, done=(done(replace(DROP, id="room-9")),))
    assert with_done(candidates_of(unknown, material), unknown, material).refusals


def test_a_room_that_matches_is_laid_as_the_one_that_is_begun() -> None:
    material = goods(2 * M, directed=True)
    rooms = [room(rectangle(4 * M, 3 * M), plan_id="p"), room(rectangle(2 * M, 3 * M), "bath", plan_id="p")]
    today = pinned(job(rooms, material, matches=(("room", "bath"),)), (2 * M,))
    today = replace(today, done=(done(DROP),))
    found = with_done(candidates_of(today, material), today, material)
    assert {way.layout.direction for way in found.laid["bath"]} == {ALONG_Y}
    across = replace(today, rooms=(today.rooms[0], replace(today.rooms[1], lays=(ALONG_X,))))
    refused = with_done(candidates_of(across, material), across, material).refusals
    assert refused and all(item.owner in ("room", "bath") for item in refused)


def test_a_loose_piece_keeps_the_ways_that_have_what_is_cut() -> None:
    """1.5 m in up to two parts: once a part of 1.5 m is cut, it is not made of two any more."""
    material = goods(2 * M)
    mat = LoosePiece(
        id="mat", name="Mat", material_id=GOODS, width_nm=M, length_nm=1500 * MM, most_parts=2, least_part_nm=500 * MM
    )
    plain = job([], material, loose=(mat,))
    every = candidates_of(plain, material).loose["mat#1"]
    whole = next(way for way in every if len(way) == 1)
    assert any(len(way) == 2 for way in every)
    today = replace(plain, done=(done(whole[0]),))
    kept = with_done(candidates_of(today, material), today, material).loose["mat#1"]
    assert [len(way) for way in kept] == [1] and kept[0][0].state == "cut"
    wrong = replace(plain, done=(done(replace(whole[0], rects=(Rect(0, 0, M, M),))),))
    refused = with_done(candidates_of(wrong, material), wrong, material).refusals
    assert [item.text for item in refused] == ["mat: what is cut of it is not of its size"]
