"""What to do now, in words and in the order in which it is done: order, re-cut, cut, and what not to cut."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from nesting.domain.geometry import bounding_rect
from nesting.domain.job import Job
from nesting.domain.layout import RoomLayout
from nesting.domain.lying import placed_size
from nesting.domain.plan import CutSource, Placement, Plan
from nesting.estimating.changes import (
    Changes,
    CutChange,
    Fate,
    GoneCut,
    OrderChange,
    Owner,
    OwnerChange,
    OwnerFate,
    changes_of,
)
from nesting.estimating.front_words import runs_of
from nesting.units import format_length

NOTHING = "Nothing changes: go on as planned."

MOST_LINES = 30
"""More lines than these nobody reads at the bench: then counts, by room, stand for single cuts."""


class StepKind(StrEnum):
    """What is to be done, in the order in which it is said."""

    ORDER = "order"
    RECUT = "re-cut"
    ROOM = "room"  # a room laid another way, or new, or no more, with its cuts
    MOVED = "moved"
    NEW = "new"
    GONE = "gone"  # not to be cut any more
    NOT_NEEDED = "not needed"  # goods in hand that nothing is cut from any more


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do. `cuts`: ids of the cuts that it is about; `source`: id of the goods."""

    kind: StepKind
    text: str
    cuts: tuple[str, ...] = ()
    owner: str = ""
    source: str = ""


def steps_now(before: Plan, after: Plan, remade: frozenset[str] = frozenset()) -> tuple[Step, ...]:
    """Return what to do now that `after` takes the place of `before`; () if nothing changes. See `changes_of`."""
    return steps_of(after.job, changes_of(before, after, remade))


def steps_of(job: Job, changes: Changes) -> tuple[Step, ...]:
    """Return the steps of changes in the words and the unit of the new job."""
    if changes.nothing:
        return ()
    by_owner = {change.owner: change for change in changes.owners}
    steps = {kind: list[Step]() for kind in StepKind}
    steps[StepKind.ORDER] = [_order_step(job, order, accepted=changes.by_the_rules) for order in changes.orders]
    for item in changes.cuts:
        kind = _kind(item)
        if kind is StepKind.RECUT or (kind is not None and item.cut.owner not in by_owner):
            steps[kind].append(_cut_step(job, item))
    steps[StepKind.ROOM] = [_owner_step(change, changes) for change in changes.owners]
    steps[StepKind.GONE] = [_gone_step(item) for item in changes.gone if item.cut.owner not in by_owner]
    steps[StepKind.NOT_NEEDED] = [_not_needed(source) for source in changes.no_longer_used]
    return tuple(_grouped(job, steps))


def step_lines(steps: Sequence[Step]) -> list[str]:
    """Return the steps as numbered lines."""
    if not steps:
        return [NOTHING]
    wide = len(str(len(steps)))
    return [f"{number:{wide}}. {step.text}" for number, step in enumerate(steps, start=1)]


def _kind(item: CutChange) -> StepKind | None:
    kinds = {Fate.RECUT: StepKind.RECUT, Fate.MOVED: StepKind.MOVED, Fate.RESIZED: StepKind.MOVED,
             Fate.NEW: StepKind.NEW}  # fmt: skip
    return kinds.get(item.fate)


# --- ordering ---


def _order_step(job: Job, order: OrderChange, *, accepted: bool) -> Step:
    def length(nm: int) -> str:
        return format_length(nm, job.unit.value, rounding="up", with_unit=True)

    name = next(item.name for item in job.materials if item.id == order.material_id)
    what = f"{name}, " if len(job.materials) > 1 else ""
    goods = f"{what}{_lot(order)}, {format_length(order.width_nm, job.unit.value, with_unit=True)} wide"
    total, was = sum(order.rolls_nm), sum(order.was_nm)
    if not order.rolls_nm:
        text = f"do not order the {length(was)} of {goods}, that were planned"
    else:
        text = f"order {length(total)}{' more' if order.on else ''} of {goods}"
        text += f", as {' + '.join(map(length, order.rolls_nm))}" if len(order.rolls_nm) > 1 else ""
        text += f", and {length(order.repeat_tolerance_nm)} in case the repeat runs off" * bool(
            order.repeat_tolerance_nm
        )
        if order.stands:
            text += ", as planned"
        elif was:
            text += f", instead of {length(was)}" if was != total else ", in other lengths than planned"
        text += "" if accepted else ", but not before this plan is accepted: it is NOT BY THE RULES"
    return Step(kind=StepKind.ORDER, text=text)


def _lot(order: OrderChange) -> str:
    unnamed = order.lot.startswith(("new lot", "lot of "))
    if order.on and unnamed:
        return f"the lot of {order.on[0]}"
    return "a new lot" if unnamed else f"lot {order.lot}"


# --- cuts ---


def _cut_step(job: Job, item: CutChange) -> Step:
    name, source = f"{item.cut.label} (cut {item.cut.number})", _source_name(item.source)
    where = _where(job, item.spot)
    if item.fate is Fate.RECUT:
        text = f"re-cut {name} from {source}: {_size(job, item)} {where}"
    elif item.fate is Fate.NEW:
        text = f"cut {name} from {source}: {_size(job, item)} {where}"
    elif item.fate is Fate.RESIZED:
        text = f"now cut {name} from {source} as {_size(job, item)}{_instead_of(job, item)}, {where}"
    elif item.same_goods:
        was = f", which was cut {item.was.number}" if item.was and item.was.number != item.cut.number else ""
        text = f"cut {name}{was}, as planned: {_size(job, item)} {where} of {source}"
    elif item.was_at is not None and item.was_at.source_id == item.source.id:
        old = _where(job, item.was_at)
        moved = f"{where} instead of {old}" if old != where else where
        text = f"now cut {name} elsewhere on {source}: {_size(job, item)} {moved}"
    else:
        was_on = item.was_at.source_id if item.was_at else ""
        text = f"now cut {name} from {source} instead of {was_on}: {_size(job, item)} {where}"
    kind = _kind(item) or StepKind.NEW
    return Step(kind=kind, text=text, cuts=(item.cut.id,), owner=item.cut.owner, source=item.source.id)


def _source_name(source: CutSource) -> str:
    return source.stock_id or source.id


def _size(job: Job, item: CutChange) -> str:
    """Return across × along as the cut lies on its goods."""
    across, along = placed_size(item.cut, item.spot)
    notched = sum(rect.area_nm2 for rect in item.cut.rects) < across * along
    more = [f"turned {item.spot.turn * 90}°"] if item.spot.turn else []
    more += ["notched: see the map"] if notched else []
    return _across_along(job, across, along) + (f" ({', '.join(more)})" if more else "")


def _across_along(job: Job, across: int, along: int) -> str:
    unit = job.unit.value
    return f"{format_length(across, unit, rounding='up')} × {format_length(along, unit, rounding='up', with_unit=True)}"


def _instead_of(job: Job, item: CutChange) -> str:
    assert item.was is not None and item.was_at is not None
    old, new = bounding_rect(item.was.rects), bounding_rect(item.cut.rects)
    if (old.width_nm, old.length_nm) == (new.width_nm, new.length_nm):
        return " in another shape"
    return f" instead of {_across_along(job, *placed_size(item.was, item.was_at))}"


def _where(job: Job, spot: Placement) -> str:
    def length(nm: int) -> str:
        return format_length(nm, job.unit.value, with_unit=True) if nm else "0"

    return f"at {length(spot.y_nm)} from the start, {length(spot.x_nm)} from the left"


def _gone_step(item: GoneCut) -> Step:
    name = f"{item.cut.label} (cut {item.cut.number})"
    text = f"do not lay {name}, which is cut already" if item.made else f"do not cut {name}"
    return Step(kind=StepKind.GONE, text=text, cuts=(item.cut.id,), owner=item.cut.owner, source=item.source_id)


def _not_needed(source: CutSource) -> Step:
    text = f"{_source_name(source)} is not needed: nothing is cut from it any more"
    return Step(kind=StepKind.NOT_NEEDED, text=text, source=source.id)


# --- rooms ---


def _owner_step(change: OwnerChange, changes: Changes) -> Step:
    """Return a room's line with all its cuts, but for those that are re-cut: they have lines of their own."""
    own = [item for item in changes.cuts if item.cut.owner == change.owner]
    cuts = [item for item in own if _kind(item) not in (None, StepKind.RECUT)]
    gone = [item for item in changes.gone if item.cut.owner == change.owner]
    before = sorted(
        {item.was.number for item in cuts if item.was} | {item.cut.number for item in gone if not item.made}
    )
    made = [item.cut.number for item in gone if item.made]
    sources = dict.fromkeys(_source_name(item.source) for item in cuts)
    now = f"cut {_numbers(item.cut.number for item in cuts)} from {_listed(list(sources))}" if cuts else ""
    if change.fate is OwnerFate.ADDED:
        text = f"{'new room' if change.is_room else 'new:'} {change.name}: {now or 'no cuts of its own'}"
    elif change.fate is OwnerFate.DROPPED:
        text = f"{change.name} is {'not laid' if change.is_room else 'not wanted'} any more"
        text += f": do not cut {_numbers(before)}" if before else ""
    else:
        text = f"lay {change.name} another way, {_way(change.was, change.now)}"
        instead = [number for number in before if number not in {item.cut.number for item in cuts}]
        text += f": {now or ('re-cut as above' if Fate.RECUT in {item.fate for item in own} else 'its cuts stay')}"
        text += f", instead of {_numbers(instead)}" if instead else ""
    text += f"; {_numbers(made)} {'is' if len(made) == 1 else 'are'} cut already and not used as such" if made else ""
    ids = (*(item.cut.id for item in cuts), *(item.cut.id for item in gone))
    return Step(kind=StepKind.ROOM, text=text, cuts=ids, owner=change.owner)


def _way(was: RoomLayout | None, now: RoomLayout | None) -> str:
    assert was is not None and now is not None
    if was.direction != now.direction:
        return "in another direction"
    parts = []
    for name, old, new in (("seam", len(was.seams), len(now.seams)),
                           ("cross seam", len(was.cross_seams), len(now.cross_seams))):  # fmt: skip
        if old != new:
            parts.append(f"{new} {name}{'s' if new != 1 else ''} instead of {old}")
    return " and ".join(parts) or "with its seams elsewhere"


def _numbers(numbers: Iterable[int]) -> str:
    """Return `3, 5 to 8`."""
    parts: list[str] = []
    for low, high in runs_of(sorted(numbers)):
        parts += [f"{low} to {high}"] if high > low + 1 else [str(number) for number in range(low, high + 1)]
    return ", ".join(parts)


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


# --- long lists ---

_FIRST_COUNTED = (StepKind.MOVED, StepKind.NEW, StepKind.GONE, StepKind.RECUT)
"""What is counted by room first where the list is too long; what is re-cut keeps its own lines longest."""


def _grouped(job: Job, steps: dict[StepKind, list[Step]]) -> Iterator[Step]:
    """Yield the steps in order, counted by room and then in all as far as it takes to keep the list short."""
    owners: list[Owner] = [*job.rooms, *job.loose, *job.strips]
    names = {owner.id: owner.name or owner.id for owner in owners}
    rounds: tuple[Callable[[StepKind, list[Step]], list[Step]], ...] = (
        lambda kind, many: _by_owner(kind, many, names),
        lambda kind, many: [_counted(kind, many, _rooms_text(many))] if len(many) > 1 else many,
    )
    for counted in rounds:
        for kind in _FIRST_COUNTED:
            if sum(map(len, steps.values())) > MOST_LINES:
                steps[kind] = counted(kind, steps[kind])
    if sum(map(len, steps.values())) > MOST_LINES:
        for kind in (StepKind.ROOM, StepKind.NOT_NEEDED):
            if len(steps[kind]) > 1:
                steps[kind] = [_all_in_one(kind, steps[kind])]
    for kind in StepKind:
        yield from steps[kind]


def _by_owner(kind: StepKind, steps: list[Step], names: dict[str, str]) -> list[Step]:
    groups: dict[str, list[Step]] = {}
    for step in steps:
        groups.setdefault(step.owner, []).append(step)
    return [
        many[0] if len(many) == 1 else _counted(kind, many, f"of {names.get(owner, owner)}", owner)
        for owner, many in groups.items()
    ]


def _rooms_text(steps: list[Step]) -> str:
    count = len({step.owner for step in steps})
    return f"of {count} rooms and pieces" if count > 1 else "of one room"


def _counted(kind: StepKind, steps: list[Step], whose: str, owner: str = "") -> Step:
    ids = tuple(ident for step in steps for ident in step.cuts)
    text = {
        StepKind.RECUT: f"re-cut {len(ids)} cuts {whose}: see the maps",
        StepKind.MOVED: f"now cut {len(ids)} cuts {whose} elsewhere or in other sizes: see the maps",
        StepKind.NEW: f"cut {len(ids)} new cuts {whose}: see the maps",
        StepKind.GONE: f"{len(ids)} cuts {whose} are no longer wanted: do not cut what is not on the maps",
    }[kind]
    return Step(kind=kind, text=text, cuts=ids, owner=owner)


def _all_in_one(kind: StepKind, steps: list[Step]) -> Step:
    ids = tuple(ident for step in steps for ident in step.cuts)
    words = {
        StepKind.ROOM: f"{len(steps)} rooms and pieces are laid another way, new or dropped, with {len(ids)} cuts: "
        "see the maps",
        StepKind.NOT_NEEDED: f"{len(steps)} rolls and remnants are not needed: {_listed([s.source for s in steps])}",
    }
    return Step(kind=kind, text=words[kind], cuts=ids)
