"""Jobs that have begun, for the tests of planning again: any state of a plan, and what must be true of what follows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from math import floor

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from nesting.checker import check_plan
from nesting.domain.done import CutState
from nesting.domain.geometry import Point, Rect, bounding_rect
from nesting.domain.job import Job, Room
from nesting.domain.layout import Cut, RoomLayout
from nesting.domain.material import Material, Pattern
from nesting.domain.plan import CutSource, MaterialPlan, Placement, Plan, SourceKind
from nesting.domain.state import Delivered, FlawFound, Spoiled, State
from nesting.estimating.again import Again
from tests import strategies as jobs

MM = 1_000_000


@st.composite
def begun_states(draw: DrawFn, plan: Plan, *, spoiling: bool = True, goods: bool = True) -> State:
    """Any state of a plan: cuts made or laid, some spoiled, goods that came otherwise, flaws, offcuts gone."""
    made = _made(draw, plan)
    laid = tuple(name for name in made if draw(st.integers(0, 3)) == 0)
    spoiled = tuple(name for name in made if spoiling and draw(st.integers(0, 3)) == 0)
    state = State(
        cut=made,
        laid=laid,
        spoiled=tuple(Spoiled(cut_id=name, left=_left(draw, plan, name)) for name in spoiled),
    )
    if not goods:
        return state
    whole = frozenset(made) - frozenset(spoiled)
    return replace(
        state,
        delivered=tuple(_deliveries(draw, plan, bool(made))),
        flaws=tuple(_flaws(draw, plan, whole)),
        gone=tuple(item.id for part in plan.materials for item in part.offcuts if draw(st.integers(0, 4)) == 0),
    )


def _made(draw: DrawFn, plan: Plan) -> tuple[str, ...]:
    """Mostly the first cuts in cutting order, seldom any."""
    cuts = sorted(cuts_of(plan), key=lambda cut: cut.number)
    if draw(st.integers(0, 3)):
        return tuple(cut.id for cut in cuts[: draw(st.integers(0, len(cuts)))])
    return tuple(cut.id for cut in cuts if draw(st.booleans()))


def _left(draw: DrawFn, plan: Plan, cut_id: str) -> tuple[Rect, ...]:
    """Nothing, or the lower left part of a cut as it lay."""
    part, place, _ = place_of(plan, cut_id)
    cut = next(item for item in part.cuts if item.id == cut_id)
    box = bounding_rect(cut.rects)
    width, length = (box.length_nm, box.width_nm) if place.turn % 2 else (box.width_nm, box.length_nm)
    shares = (None, (4, 4), (4, 3), (2, 4), (4, 1))
    share = draw(st.sampled_from(shares if len(cut.rects) == 1 else shares[:1]))
    return () if share is None else (Rect(0, 0, width * share[0] // 4, length * share[1] // 4),)


def _deliveries(draw: DrawFn, plan: Plan, any_made: bool) -> Iterator[Delivered]:
    for part in plan.materials:
        pattern = material_of(plan, part).pattern
        wound = not any_made and draw(st.integers(0, 4)) == 0
        longer = None if any_made or pattern is None or draw(st.integers(0, 4)) else pattern.along_nm + 3 * MM
        for source in part.sources:
            if source.kind is not SourceKind.ORDER or (not wound and draw(st.booleans())):
                continue
            length = source.length_nm + draw(st.sampled_from([0, 0, -100, -1_000, 500])) * MM
            width = source.width_nm + draw(st.sampled_from([0, 0, 0, -10, -200, 20])) * MM
            marked = pattern is not None and draw(st.booleans())
            yield Delivered(
                source_id=source.id,
                length_nm=max(length, 500 * MM),
                width_nm=width,
                lot=draw(st.sampled_from([None, "L7"])),
                lot_orderable=draw(st.booleans()),
                first_mark_nm=(draw(st.integers(0, 300)) * MM, draw(st.integers(0, 600)) * MM) if marked else None,
                wound_other_way=wound,
                along_nm=longer,
            )


def _flaws(draw: DrawFn, plan: Plan, whole: frozenset[str]) -> Iterator[FlawFound]:
    """A flaw somewhere that is not in a cut that was made and is whole."""
    for part in plan.materials:
        for source in part.sources:
            if draw(st.integers(0, 2)):
                continue
            x = source.width_nm * draw(st.integers(0, 9)) // 10
            y = source.length_nm * draw(st.integers(0, 9)) // 10
            rect = Rect(x, y, min(x + 30 * MM, source.width_nm), min(y + 40 * MM, source.length_nm))
            lying = [item for name in whole for item in _rects_on(part, source.id, name)]
            if not any(_meet(rect, other) for other in lying):
                yield FlawFound(source_id=source.id, rect=rect)


@st.composite
def jobs_of_today(draw: DrawFn, job: Job) -> Job:
    """The job with its rooms as they are today: one measured again, one more, one less."""
    what = draw(st.sampled_from(["larger", "smaller", "more", "less"]))
    rooms = list(job.rooms)
    at = draw(st.integers(0, len(rooms) - 1))
    if what in ("larger", "smaller"):
        by = draw(st.sampled_from([5, 20, 150])) * MM * (1 if what == "larger" else -1)
        axis = draw(st.integers(0, 1))
        rooms[at] = measured_again(rooms[at], axis, by)
    elif what == "more":
        rooms.append(draw(jobs.rooms(number=len(rooms) + 7, outlines=jobs.rectangles(1_000, 2_500))))
    elif len(rooms) > 1:
        gone = rooms.pop(at).id
        one_lot = tuple(pin for pin in job.one_lot if gone not in pin.rooms)
        matches = tuple(match for match in job.matches if gone not in match)
        job = replace(job, one_lot=one_lot, matches=matches)
    return replace(job, rooms=tuple(rooms))


def measured_again(room: Room, axis: int, by_nm: int) -> Room:
    """Return a room whose far walls along an axis lie elsewhere."""
    far = max(point[axis] for point in room.outline)

    def moved(point: Point) -> Point:
        if point[axis] != far:
            return point
        return (point[0] + by_nm, point[1]) if axis == 0 else (point[0], point[1] + by_nm)

    return replace(room, outline=tuple(moved(point) for point in room.outline))


# --- what must be true -----------------------------------------------------------------------------------------------


def see_that_nothing_made_moved(before: Plan, state: State, found: Again) -> None:
    """See that what is made and not spoiled is in the new plan as and where it was, its rooms laid as they were."""
    after = found.plan
    assert after is not None
    made = {cut.id: cut.state for cut in cuts_of(before) if cut.state != CutState.PLANNED}
    made |= dict.fromkeys(state.cut, CutState.CUT.value)
    made |= dict.fromkeys(state.laid, CutState.LAID.value)
    told = {item.cut_id for item in state.spoiled}
    assert told <= found.remade <= made.keys()
    assert not {name for name in found.remade - told if made[name] == CutState.LAID}
    marked = {item.source_id for item in state.delivered if item.first_mark_nm is not None}
    for name, how in made.items():
        if name in found.remade:
            continue
        part, place, source = place_of(before, name)
        new_part, new_place, new_source = place_of(after, name)
        cut, new = cut_named(part, name), cut_named(new_part, name)
        assert (new.state, new.number) == (how, cut.number)
        assert (new.kind, new.owner, new.breadth, new.low, new.high) == (
            cut.kind, cut.owner, cut.breadth, cut.low, cut.high,
        )  # fmt: skip
        assert sorted(new.rects) == sorted(cut.rects)
        assert new_place == place
        assert new_source.id == source.id
        assert _way(part, cut.owner) == _way(new_part, cut.owner)
        if source.id not in marked:
            pattern = material_of(before, part).pattern
            assert pattern is None or _phases_agree(pattern, part, new_part, cut.owner, source, new_source)


def see_that_it_is_sound(found: Again) -> None:
    """See that the new plan checks, that its names are unique and that its bounds are below it."""
    plan = found.plan
    assert plan is not None
    assert check_plan(plan) == ()
    numbers = [cut.number for cut in cuts_of(plan)]
    assert len(numbers) == len(set(numbers))
    in_hand = [piece.id for piece in plan.job.stock]
    offcuts = [item.id for part in plan.materials for item in part.offcuts]
    ordered = [line.source_id for part in plan.materials for line in part.order]
    names = [*in_hand, *offcuts, *ordered]
    assert len(names) == len(set(names)), names
    for part in plan.materials:
        for bound in part.bounds:
            assert bound.value <= bound.attained, bound


def _way(part: MaterialPlan, owner: str) -> object:
    layouts = [item for item in part.layouts if item.room_id == owner]
    return [_seams(item) for item in layouts]


def _seams(layout: RoomLayout) -> object:
    return layout.direction, [s.at_nm for s in layout.seams], [(s.breadth, s.at_nm) for s in layout.cross_seams]


def _phases_agree(
    pattern: Pattern, before: MaterialPlan, after: MaterialPlan, owner: str, old: CutSource, new: CutSource
) -> bool:
    """Tell whether φ moved as σ of the goods did, up to the lattice: the pattern lies in the room as it did."""
    was = next((item.phase_nm for item in before.phase_groups if owner in item.room_ids), None)
    now = next((item.phase_nm for item in after.phase_groups if owner in item.room_ids), None)
    if was is None or now is None or old.phase_nm is None or new.phase_nm is None:
        return was == now
    x = now[0] - was[0] - (new.phase_nm[0] - old.phase_nm[0])
    y = now[1] - was[1] - (new.phase_nm[1] - old.phase_nm[1])
    if pattern.across_nm is None:
        return y % pattern.along_nm == 0
    if pattern.at_seam:
        return True  # the pitch is that of the width it was cut from: the checker sees to it
    times, rest = divmod(x, pattern.across_nm)
    up = floor(Fraction(times) * pattern.drop_nm)
    return rest == 0 and (y - up) % pattern.along_nm in (0, 1, pattern.along_nm - 1)


def cuts_of(plan: Plan) -> list[Cut]:
    """Return all cuts of a plan."""
    return [cut for part in plan.materials for cut in part.cuts]


def cut_named(part: MaterialPlan, name: str) -> Cut:
    """Return a cut by its id."""
    return next(cut for cut in part.cuts if cut.id == name)


def place_of(plan: Plan, cut_id: str) -> tuple[MaterialPlan, Placement, CutSource]:
    """Return where a cut lies, and on what."""
    for part in plan.materials:
        for place in part.placements:
            if place.cut_id == cut_id:
                return part, place, next(item for item in part.sources if item.id == place.source_id)
    raise AssertionError(f"{cut_id} is not in the plan")


def material_of(plan: Plan, part: MaterialPlan) -> Material:
    """Return the material of a part of a plan."""
    return next(item for item in plan.job.materials if item.id == part.material_id)


def _rects_on(part: MaterialPlan, source_id: str, cut_id: str) -> list[Rect]:
    place = next((item for item in part.placements if item.cut_id == cut_id), None)
    if place is None or place.source_id != source_id:
        return []
    box = bounding_rect(cut_named(part, cut_id).rects)
    width, length = (box.length_nm, box.width_nm) if place.turn % 2 else (box.width_nm, box.length_nm)
    return [Rect(place.x_nm, place.y_nm, place.x_nm + width, place.y_nm + length)]


def _meet(one: Rect, other: Rect) -> bool:
    across = one.x0_nm < other.x1_nm and other.x0_nm < one.x1_nm
    return across and one.y0_nm < other.y1_nm and other.y0_nm < one.y1_nm
