"""Bounds hold however much lies in the shop."""

from __future__ import annotations

from nesting.bounds.levels import MaterialBounds
from nesting.domain.rules import Goal
from nesting.progress import never_stop
from tests.making import MM, M, goods, job, rectangle, remnant, room


def test_a_piece_far_along_a_full_rack_still_serves() -> None:
    """Laid end to end, goods in hand reach farther than any order: a room in one piece may lie at the far end."""
    short = [remnant(f"short-{number:02}", 2 * M, 1 * M, lot=f"lot {number}") for number in range(40)]
    long = remnant("zz-long", 2 * M, 3_500 * MM, lot="long")
    one = room(rectangle(1_900 * MM, 3 * M), "one")
    whole = job([one], goods(2 * M), stock=(*short, long), goal=Goal())
    found = MaterialBounds(whole, whole.materials[0])
    assert found.searched(effort=2, seed=0, stop=never_stop) == 0  # one piece from what is in hand, no seam
