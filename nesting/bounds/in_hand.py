"""Which rooms goods in hand can serve at all: a room, and rooms that match, come from one lot as a whole."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from nesting.bounds.facts import Lay, RoomFacts
from nesting.domain.material import StockPiece


def with_lots(
    rooms: tuple[RoomFacts, ...], stock: tuple[StockPiece, ...], mixed: frozenset[str]
) -> tuple[RoomFacts, ...]:
    """Return the rooms, each told whether any of it may be cut from goods in hand; `mixed` may be of several lots.

    Some may if more of the lot can be ordered; else a single lot has to hold all rooms of the group: enough area for
    their least rough cuts, and for every room, in some lay direction, pieces long enough for its breadths.
    """
    lots: dict[str, list[StockPiece]] = {}
    for piece in stock:
        # An unknown lot is a lot of its own.
        lots.setdefault(f"lot {piece.lot}" if piece.lot is not None else f"piece {piece.id}", []).append(piece)
    groups: dict[int, list[RoomFacts]] = {}
    for room in rooms:
        groups.setdefault(room.group, []).append(room)
    able = {
        number: bool(mixed & {room.room_id for room in group}) or any(_holds(lot, group) for lot in lots.values())
        for number, group in groups.items()
    }
    return tuple(replace(room, in_hand=able[room.group]) for room in rooms)


def _holds(lot: list[StockPiece], rooms: Iterable[RoomFacts]) -> bool:
    """Tell whether a lot may hold all pieces of some rooms; False only where it surely cannot."""
    if any(piece.lot_orderable for piece in lot):
        return True
    needed = sum(min(lay.area_nm2 for lay in room.lays) for room in rooms)
    if needed > sum(piece.width_nm * piece.length_nm for piece in lot):
        return False
    return all(any(_takes(lot, lay) for lay in room.lays) for room in rooms)


def _takes(lot: list[StockPiece], lay: Lay) -> bool:
    """Tell whether a lot may hold the breadths of a room in one lay direction.

    Without cross seams every breadth that cuts the core spans all its length, so a piece in hand takes its own width
    of breadths as often as the core goes into its length.
    """
    if lay.core is None or lay.most_splits != 0:
        return True
    most = sum(piece.width_nm * (piece.length_nm // lay.core.along_nm) for piece in lot)
    return most >= lay.core.across_nm
