"""Rooms that are alike are laid out once, and what one takes over is what it would have got by itself."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchmarks.suite_jobs import suite_job
from nesting.domain.geometry import Point
from nesting.domain.job import Job, PatternPlacement, PlacementWish, Room
from nesting.seams import candidates
from nesting.seams.candidates import candidates_of
from nesting.seams.layouts import layouts_of_room
from nesting.seams.likeness import LaidOnce


def moved(room: Room, number: int, by: Point) -> Room:
    """Return the room under another name in another place."""

    def points(outline: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple((x + by[0], y + by[1]) for x, y in outline)

    def ends(pair: tuple[Point, Point]) -> tuple[Point, Point]:
        return (pair[0][0] + by[0], pair[0][1] + by[1]), (pair[1][0] + by[0], pair[1][1] + by[1])

    return replace(
        room,
        id=f"r{number}",
        name=f"Room number {number}",
        outline=points(room.outline),
        keep_outs=tuple(replace(zone, outline=points(zone.outline)) for zone in room.keep_outs),
        edges=tuple(replace(edge, door=f"{number} {edge.door}" if edge.door else "") for edge in room.edges),
        doors=tuple(
            replace(door, id=f"{number} {door.id}", joined=None, opening=ends(door.opening), line=ends(door.line))
            for door in room.doors
        ),
    )


def storeys(pattern: str, types: int, times: int) -> Job:
    """Return a job whose rooms come again on every storey, somewhere else."""
    job = replace(suite_job("tower", pattern, rooms=types), matches=())
    rooms = tuple(
        moved(job.rooms[number % types], number, (number // types * 12_345_678_901, number // types * 7_000_000_003))
        for number in range(types * times)
    )
    return replace(job, rooms=rooms)


@pytest.mark.parametrize("pattern", ["plain", "half-drop"])
def test_rooms_alike_get_what_they_would_get_alone(pattern: str, monkeypatch: pytest.MonkeyPatch) -> None:
    job = storeys(pattern, 5, 3)
    together = candidates_of(job, job.materials[0])
    monkeypatch.setattr(LaidOnce, "laid", lambda self, room, lays, asked, make, *, pinned: make(lays))
    assert together == candidates_of(job, job.materials[0])


def test_rooms_alike_are_laid_out_once(monkeypatch: pytest.MonkeyPatch) -> None:
    calls = []
    real = layouts_of_room

    def counted(room: Room, *given: object, **named: object) -> object:
        calls.append(room.id)
        return real(room, *given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(candidates, "layouts_of_room", counted)
    counts = []
    for times in (1, 4, 8):
        calls.clear()
        job = storeys("plain", 5, times)
        candidates_of(job, job.materials[0])
        counts.append(len(calls))
    assert counts[0] == counts[1] == counts[2]


def test_a_placed_pattern_stays_where_it_is() -> None:
    job = storeys("straight", 3, 2)
    centred = PatternPlacement(along=PlacementWish.MOTIF_CENTRED, across=PlacementWish.MOTIF_CENTRED)
    job = replace(job, rooms=tuple(replace(room, placement=centred) for room in job.rooms))
    phases = [{item.phase_nm for item in layouts} for layouts in candidates_of(job, job.materials[0]).laid.values()]
    assert all(one != other for one, other in zip(phases[:3], phases[3:], strict=True))
