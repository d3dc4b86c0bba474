"""What makes equal pieces and equal choices differ, so that the solver need not look at both."""

from __future__ import annotations

from nesting.model.instance import Option
from nesting.model.variables import Slot, Variables


def c11_symmetry(v: Variables) -> None:
    """C11: equal pieces of a choice lie in rising y; equal choices take their options and their places in rising order.

    It leaves out no value: any solution can be renamed so that it holds.
    """
    last: dict[tuple[int, object], Slot] = {}
    for slot in v.slots:
        if any(v.instance.choices[slot.choice].options[taken].order for taken, _ in slot.uses):
            continue
        before = last.get((slot.choice, slot.key))
        if before is not None and before.rank == slot.rank - 1:
            v.model.add(before.y <= slot.y).only_enforce_if(slot.present)
        last[slot.choice, slot.key] = slot
    seen: dict[object, int] = {}
    for number, choice in enumerate(v.instance.choices):
        if number in v.task.frozen or choice.lot_group is not None:
            continue
        if any(piece.group is not None for option in choice.options for piece in option.pieces):
            continue
        key = (
            v.task.menu[number],
            choice.arrow_group,
            choice.sources,
            tuple(_looks(option) for option in choice.options),
        )
        before_number = seen.get(key)
        seen[key] = number
        if before_number is not None:
            _rising(v, before_number, number)


def _looks(option: Option) -> object:
    """Return an option without the names of its pieces."""
    pieces = tuple((p.boxes, p.turns, p.inset_left, p.inset_right) for p in option.pieces)
    return (pieces, option.seams, option.seam_length, option.dislike, option.cost, option.order_width, option.arrow)


def _rising(v: Variables, before: int, after: int) -> None:
    """Let two equal choices take options in rising order, or places in rising order if they have one piece."""
    if len(v.task.menu[after]) > 1:
        v.model.add(
            sum(taken * literal for taken, literal in v.taken[before].items())
            <= sum(taken * literal for taken, literal in v.taken[after].items())
        )
        return
    a = [slot for slot in v.slots if slot.choice == before]
    b = [slot for slot in v.slots if slot.choice == after]
    if len(a) == len(b) == 1:
        v.model.add(a[0].y <= b[0].y)
