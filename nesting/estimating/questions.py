"""What a plan is asked: the same job of one material without a rule, or without a room or piece.

Of a job that has begun it is asked with what is cut held where and as it was cut, its layouts and phases with it.
Allowances are not lifted in a room of which something is cut: the cuts that are there have them, and what joins these
is measured from the same corner. What is cut of a room or piece cannot be uncut, and its goods serve nothing else: to
leave out the rest of it would be another job, half laid. So it is not asked what it costs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from nesting.domain.job import Job, PatternPlacement, Room
from nesting.domain.material import Material, Turning
from nesting.domain.pin_list import only_what_is_cut
from nesting.domain.pins import RoomPins
from nesting.domain.rules import RuleId
from nesting.rule_costs import with_rooms, without_room_rules, without_rule
from nesting.seams.clusters import tied_rooms
from nesting.seams.likeness import nameless

Eased = tuple[str, str, Job]
"""The id of a rule, words for it, and the job without it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What would be saved if a rule, or a room or piece, were not there? `owners`: the rooms or pieces of the latter.

    Owners that are alike in everything but their names have one question in common: each by itself saves as much.
    """

    id: str
    words: str
    job: Job
    owners: tuple[str, ...] = ()

    @property
    def material(self) -> Material | None:
        """The one material of the job; None where nothing is left to cover."""
        return self.job.materials[0] if self.job.rooms or self.job.loose or self.job.strips else None


def questions_about(job: Job) -> tuple[Question, ...]:
    """Return all questions about a job of one material: first its rules that can bind, then what it covers."""
    rules = (Question(id=ident, words=words, job=eased) for ident, words, eased in _without_rules(job))
    return (*rules, *_without_owners(job))


def _without_rules(job: Job) -> Iterator[Eased]:
    rooms = list(job.rooms)
    if rooms:
        yield from without_room_rules(job, rooms)
        yield from _without_seam_rules(job, rooms)
        yield from _without_allowances(job, rooms)
    yield from _without_pattern(job)
    yield from _without_limits_of_goods(job)


def _without_seam_rules(job: Job, rooms: list[Room]) -> Iterator[Eased]:
    """Yield the job without the rules for seams that hold in every room."""
    material = job.materials[0]
    crossed = {room.id for room in rooms if _may_be_crossed(room, material)}
    several_lots = bool(job.stock) or material.sale.lot_limit_nm is not None
    seam_lines = bool(material.seam_lines_across_nm or material.seam_lines_along_nm)
    everywhere = {room.id for room in rooms}
    for rule, words, where in (
        (RuleId.LEAST_BREADTH, "the least breadth", everywhere),
        (RuleId.CROSS_SEAMS, "the limit on cross seams", everywhere),
        (RuleId.LEAST_LENGTH, "the least length beside a cross seam", crossed),
        (RuleId.CROSS_SEAM_STAGGER, "keeping cross seams apart", crossed),
        (RuleId.SEAM_LINES, "keeping seams to the seam lines", everywhere if seam_lines else set()),
        (RuleId.LAY_DIRECTION, "one lay direction through joined doors", set(tied_rooms(job, material))),
        (RuleId.ONE_LOT, "cutting a room from one lot", everywhere if several_lots else set()),
    ):
        held = {room.id for room in rooms if room.id in where and room.rules.holds(rule)}
        if held:
            yield rule.value, words, with_rooms(job, held, partial(without_rule, rule))
    yield from _without_pins(job, rooms)
    whole = {room.id for room in rooms if room.rules.whole_rectangles}
    if job.one_lot:
        yield "rooms-of-one-lot", "cutting several rooms from one lot", replace(job, one_lot=())
    if whole:
        notched = partial(_with_rules, whole_rectangles=False)
        yield "whole-rectangles", "cutting whole rectangles only", with_rooms(job, whole, notched)


def _without_pins(job: Job, rooms: list[Room]) -> Iterator[Eased]:
    """Yield the job without the user's pins; where something is cut, what that settles stays."""
    begun = job.begun
    left = {room.id: only_what_is_cut(room.pinned, begun=room.id in begun) for room in rooms}
    pinned = {room.id for room in rooms if room.pinned.any and room.pinned != left[room.id]}

    def lifted(room: Room) -> Room:
        if left[room.id] != RoomPins():
            return replace(room, pins=left[room.id])
        return without_rule(RuleId.PINS, room)

    if pinned:
        yield RuleId.PINS.value, "what is pinned in the rooms", with_rooms(job, pinned, lifted)


def _may_be_crossed(room: Room, material: Material) -> bool:
    """Tell whether a room may have cross seams: allowed, or forced by the longest roll."""
    rules = room.rules
    allowed = rules.cross_seams_per_breadth > 0 or not rules.holds(RuleId.CROSS_SEAMS)
    return allowed or (rules.forced_cross_seams and material.longest_nm is not None)


def _with_rules(room: Room, **changes: Any) -> Room:
    return replace(room, rules=replace(room.rules, **changes))


def _without_allowances(job: Job, rooms: list[Room]) -> Iterator[Eased]:
    begun = job.begun
    trimmed = {room.id for room in rooms if room.trim_nm and room.id not in begun}
    if trimmed:
        bare: Callable[[Room], Room] = partial(replace, trim_nm=0, least_trim_nm=None, least_end_trim_nm=None)
        yield "trim", "the trim at the walls", with_rooms(job, trimmed, bare)
    loose = {room.id for room in rooms if room.out_of_square_nm and room.id not in begun}
    if loose:
        square: Callable[[Room], Room] = partial(replace, out_of_square_nm=0)
        yield "out-of-square", "the out-of-square allowance", with_rooms(job, loose, square)


def _without_pattern(job: Job) -> Iterator[Eased]:
    """Yield the job without rooms that match, without a placed pattern, and without any pattern."""
    everywhere = {room.id for room in job.rooms}
    if job.matches:
        yield (
            "matches",
            "laying rooms so that they match",
            with_rooms(replace(job, matches=()), everywhere - job.begun, _at_any_phase),
        )
    placed = {room.id for room in job.rooms if room.placement != PatternPlacement()}
    if job.materials[0].pattern is None:
        return
    anywhere: Callable[[Room], Room] = partial(replace, placement=PatternPlacement())
    if placed:
        yield "placement", "placing the pattern", with_rooms(job, placed, anywhere)
    plain = replace(job.materials[0], pattern=None, seam_lines_across_nm=(), seam_lines_along_nm=())
    without = replace(
        with_rooms(with_rooms(job, placed, anywhere), everywhere, _at_any_phase),
        stock=tuple(replace(item, phase_nm=None, phase_assumed=False) for item in job.stock),
    )
    yield "pattern", "matching the pattern", replace(without, materials=(plain,))


def _at_any_phase(room: Room) -> Room:
    return replace(room, pins=replace(room.pins, phase_nm=None))


def _without_limits_of_goods(job: Job) -> Iterator[Eased]:
    material = job.materials[0]
    goods: list[tuple[str, str, bool, dict[str, Any]]] = [
        ("in-sequence", "cutting drops in sequence", material.in_sequence, {"in_sequence": False}),
        (
            "turning",
            "not turning pieces end for end as one likes",
            material.pattern is None and material.turning is not Turning.FREE,
            {"turning": Turning.FREE},
        ),
        (
            "longest",
            "the longest roll made",
            material.longest_nm is not None and not material.sale.whole_rolls,
            {"longest_nm": None},
        ),
        (
            "lot-limit",
            "the longest supply of one lot",
            material.sale.lot_limit_nm is not None,
            {"sale": replace(material.sale, lot_limit_nm=None)},
        ),
    ]
    for ident, words, binds, changes in goods:
        if binds:
            yield ident, words, replace(job, materials=(replace(material, **changes),))
    if job.goal.most_seams is not None:
        yield "most-seams", "the most seams allowed", replace(job, goal=replace(job.goal, most_seams=None))
    if job.offcuts.bench_cuts:
        yield "bench-cuts", "bench cuts", replace(job, offcuts=replace(job.offcuts, bench_cuts=False))
    if any(piece.flaws for piece in job.stock):
        whole = tuple(replace(piece, flaws=()) for piece in job.stock)
        yield "flaws", "the flaws in the goods", replace(job, stock=whole)


def _without_owners(job: Job) -> Iterator[Question]:
    """Yield the job without each room, loose piece and strip not begun; rooms that are alike have one question."""
    begun = job.begun
    tied = {room for rooms in (*job.matches, *(pin.rooms for pin in job.one_lot)) for room in rooms}
    groups: dict[str, list[Room]] = {}
    for room in job.rooms:
        if room.id in begun:
            continue
        alone = room.id not in tied and not any(door.joined for door in room.doors)
        groups.setdefault(repr(nameless(room)) if alone else room.id, []).append(room)
    for rooms in groups.values():
        kept = {room.id for room in job.rooms} - {rooms[0].id}
        yield Question(
            id=f"room:{rooms[0].id}",
            words=f"{rooms[0].name}" if len(rooms) == 1 else f"{rooms[0].name}, or any of {len(rooms)} like it",
            job=_with_kept_rooms(job, kept),
            owners=tuple(room.id for room in rooms),
        )
    for piece in job.loose:
        if piece.id in begun:
            continue
        rest = replace(job, loose=tuple(item for item in job.loose if item is not piece))
        yield Question(id=f"loose:{piece.id}", words=piece.name, job=rest, owners=(piece.id,))
    for strip in job.strips:
        if strip.id in begun:
            continue
        rest = replace(job, strips=tuple(item for item in job.strips if item is not strip))
        yield Question(id=f"strip:{strip.id}", words=strip.name, job=rest, owners=(strip.id,))


def _with_kept_rooms(job: Job, kept: set[str]) -> Job:
    """Return the job with some of its rooms; what ties them to the others is gone."""
    rooms = (room for room in job.rooms if room.id in kept)
    matches = (tuple(room for room in match if room in kept) for match in job.matches)
    lots = (replace(pin, rooms=tuple(room for room in pin.rooms if room in kept)) for pin in job.one_lot)
    return replace(
        job,
        rooms=tuple(_parted(room, kept) for room in rooms),
        matches=tuple(match for match in matches if len(match) > 1),
        one_lot=tuple(pin for pin in lots if len(pin.rooms) > 1),
    )


def _parted(room: Room, kept: set[str]) -> Room:
    """Return the room with no door joined to a room that is not kept."""
    doors = tuple(
        replace(door, joined=None) if door.joined is not None and door.joined[0] not in kept else door
        for door in room.doors
    )
    return replace(room, doors=doors)
