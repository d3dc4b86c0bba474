"""Why a material has no plan though every room by itself can be laid: the goods do not suffice."""

from __future__ import annotations

from nesting.domain.job import Job, Room
from nesting.domain.material import Material
from nesting.domain.plan import Refusal
from nesting.domain.rules import RuleId
from nesting.seams.candidates import Candidates


def stock_refusals(job: Job, material: Material, candidates: Candidates) -> tuple[Refusal, ...]:
    """Return why no plan exists though every room by itself can be laid: the goods do not suffice.

    Where goods are pinned, in rooms or as one lot for several, that is looked at first.
    """
    lots = {room for pin in job.one_lot for room in pin.rooms}
    pinned = [
        Refusal(owner=room.id, rule=RuleId.PINS, text=_unkept(room, room.id in lots), line=room.line)
        for room in job.rooms
        if room.material_id == material.id and (room.pinned.sources or (room.id in lots and _holds_pins(room)))
    ]
    begun = _begun_in_lots_sold_out(job, candidates)
    if begun or pinned:
        return begun or tuple(pinned)
    left = _open_rooms_begun(job, candidates) if material.pattern is not None else []
    if left and material.orders_allowed:
        names = " and ".join(room.name for room in left)
        text = (
            f"{names}: no goods in hand hold what is left to cut, nor does a new roll, which loses a repeat to meet it"
        )
        return (Refusal(owner=left[0].id, rule=RuleId.STOCK, text=text, line=left[0].line),)
    text = (
        f"the goods in hand do not suffice for {material.name}, and none may be ordered"
        if not material.orders_allowed
        else f"no roll of {material.name} holds every piece by the rules"
    )
    return (Refusal(owner=material.id, rule=RuleId.STOCK, text=text),)


def _open_rooms_begun(job: Job, candidates: Candidates) -> list[Room]:
    """Return the rooms of which something is cut and something is not."""
    done, begun = job.made, job.begun
    return [
        room
        for room in job.rooms
        if room.id in begun and any(cut.id not in done for way in candidates.laid.get(room.id, ()) for cut in way.cuts)
    ]


def _begun_in_lots_sold_out(job: Job, candidates: Candidates) -> tuple[Refusal, ...]:
    """Return the rooms that are begun and not done, in a lot that cannot be ordered any more."""
    stock = {piece.id: piece for piece in job.stock}
    sold = {piece.lot for piece in job.stock if piece.lot is not None and piece.lot_orderable}
    refusals = []
    for room in _open_rooms_begun(job, candidates):
        first = next(stock[item.source_id] for item in job.done if item.cut.owner == room.id)
        if first.lot not in sold and room.rules.holds(RuleId.ONE_LOT):
            nameless = first.lot is None or first.lot.startswith("that of ")
            lot = f"the lot of {first.id}" if nameless else f"lot {first.lot}"
            text = f"{room.name}: it is begun in {lot}, no more can be ordered of it, and too little is left"
            refusals.append(Refusal(owner=room.id, rule=RuleId.ONE_LOT, text=text, line=room.line))
    return tuple(refusals)


def _holds_pins(room: Room) -> bool:
    return room.rules.holds(RuleId.PINS)


def _unkept(room: Room, of_one_lot: bool) -> str:
    """Return in words that what is pinned of a room's goods leaves no plan."""
    words = [f"cut from {' and '.join(room.pinned.sources)}"] if room.pinned.sources else []
    words += ["of one lot with others"] if of_one_lot else []
    return f"{room.name}: no plan was found with its goods as pinned ({', '.join(words)})"
