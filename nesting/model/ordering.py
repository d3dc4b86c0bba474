"""The order in which rooms and goods are looked at: by what they are, not by their names or their place in the job.

So that the same rooms give the same plan however they are called and listed.
"""

from __future__ import annotations

from dataclasses import replace

from nesting.domain.job import Job, LoosePiece, Room, Strip
from nesting.domain.material import StockPiece
from nesting.seams.likeness import nameless


def in_fixed_order(job: Job) -> Job:
    """Return the job with its rooms, stock, loose pieces and strips in an order that only their contents decide.

    What is alike in everything but its name stays in the job's own order.
    """
    return replace(
        job,
        rooms=tuple(sorted(job.rooms, key=_room_key)),
        stock=tuple(sorted(job.stock, key=_stock_key)),
        loose=tuple(sorted(job.loose, key=_item_key)),
        strips=tuple(sorted(job.strips, key=_item_key)),
    )


def _room_key(room: Room) -> str:
    return repr(nameless(room))


def _stock_key(piece: StockPiece) -> str:
    return repr(replace(piece, id="", material_id="", lot=None, place=""))


def _item_key(item: LoosePiece | Strip) -> str:
    return repr(replace(item, id="", name="", material_id="", line=0))
