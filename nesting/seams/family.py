"""The layout family of a room: where its seams may run at all, and how few breadths it needs."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass

from nesting.domain.geometry import LayDirection
from nesting.domain.job import Room
from nesting.domain.material import Material
from nesting.domain.rules import RuleId
from nesting.floor.outlines import lay_floor
from nesting.floor.zones import Stretch
from nesting.seams.rules import Ground, allowed_between, forbidden_stretches, ground_of

Interval = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """All layouts of a room in one direction, as stretches of allowed seam positions."""

    ground: Ground
    forbidden: tuple[tuple[RuleId, Stretch], ...]
    allowed: tuple[Interval, ...]


def family_of(room: Room, material: Material, direction: LayDirection) -> Family:
    """Return the layout family of a room in one direction."""
    ground = ground_of(room, lay_floor(room, material, direction))
    forbidden = forbidden_stretches(ground)
    low, _, high, _ = ground.floor.box
    return Family(
        ground=ground,
        forbidden=forbidden,
        allowed=allowed_between(low, high, (stretch for _, stretch in forbidden)),
    )


def allowed_seams(room: Room, material: Material, direction: LayDirection) -> tuple[Interval, ...]:
    """Return where a seam may run, as closed intervals of u in the lay frame, nm.

    The intervals hold every position that the hard rules allow to one seam by itself, on the cutting step or off it:
    a minimum over them is a bound for every lawful layout.
    """
    return family_of(room, material, direction).allowed


def last_allowed(allowed: tuple[Interval, ...], limit: int) -> int | None:
    """Return the greatest allowed position that is not above a limit."""
    i = bisect_right(allowed, (limit, 1 << 62)) - 1
    return None if i < 0 else min(limit, allowed[i][1])


def next_allowed(allowed: tuple[Interval, ...], limit: int) -> int | None:
    """Return the least allowed position that is not below a limit."""
    i = bisect_left(allowed, (limit, -(1 << 62)))
    if i > 0 and allowed[i - 1][1] >= limit:
        return limit
    return allowed[i][0] if i < len(allowed) else None
