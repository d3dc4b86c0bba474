"""What a lot in hand can serve: whole rooms only, and never a breadth longer than its pieces."""

from __future__ import annotations

from nesting.bounds.facts import Core, Lay, RoomFacts
from nesting.bounds.in_hand import with_lots
from nesting.domain.material import StockKind, StockPiece
from nesting.domain.rules import MM

M = 1_000 * MM


def room(name: str, across_nm: int, along_nm: int, *, group: int = 0, splits: int | None = 0) -> RoomFacts:
    lay = Lay(
        area_nm2=across_nm * along_nm,
        fewest_breadths=1,
        fewest_cross_seams=0,
        most_splits=splits,
        core=Core(left_nm=0, across_nm=across_nm, along_nm=along_nm, whole=True),
        extent_nm=(across_nm, along_nm),
        least_chord_nm=across_nm,
        one_piece=True,
    )
    return RoomFacts(room_id=name, lays=(lay,), group=group)


def piece(name: str, width_nm: int, length_nm: int, **more: object) -> StockPiece:
    return StockPiece(
        id=name,
        material_id="m",
        kind=StockKind.REMNANT,
        width_nm=width_nm,
        length_nm=length_nm,
        **more,  # type: ignore[arg-type]
    )


def served(rooms: tuple[RoomFacts, ...], *stock: StockPiece, mixed: frozenset[str] = frozenset()) -> list[bool]:
    return [found.in_hand for found in with_lots(rooms, stock, mixed)]


def test_a_room_needs_a_lot_that_holds_it() -> None:
    hall = (room("hall", 3 * M, 4 * M),)
    assert served(hall) == [False]
    assert served(hall, piece("a", 3 * M, 4 * M)) == [True]
    assert served(hall, piece("a", 3 * M, 4 * M - MM)) == [False]


def test_pieces_of_one_lot_add_up_and_of_two_do_not() -> None:
    hall = (room("hall", 3 * M, 4 * M),)
    halves = [piece(name, 2 * M, 4 * M) for name in "ab"]
    assert served(hall, *halves) == [False]
    assert served(hall, *(piece(name, 2 * M, 4 * M, lot="L") for name in "ab")) == [True]
    assert served(hall, *halves, mixed=frozenset({"hall"})) == [True]


def test_a_lot_that_can_be_ordered_may_serve_part_of_a_room() -> None:
    assert served((room("hall", 3 * M, 4 * M),), piece("a", 1 * M, 4 * M, lot="L", lot_orderable=True)) == [True]


def test_short_pieces_carry_no_breadth_unless_cross_seams_may_be() -> None:
    short = piece("a", 9 * M, 3 * M)
    assert served((room("hall", 3 * M, 4 * M),), short) == [False]
    assert served((room("hall", 3 * M, 4 * M, splits=1),), short) == [True]


def test_rooms_that_match_are_served_together() -> None:
    two = (room("hall", 3 * M, 4 * M), room("den", 3 * M, 4 * M))
    assert served(two, piece("a", 3 * M, 5 * M)) == [False, False]
    apart = (two[0], room("den", 3 * M, 4 * M, group=1))
    assert served(apart, piece("a", 3 * M, 5 * M)) == [True, True]
