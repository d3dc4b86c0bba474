"""Loose pieces and strips, cut by hand: beside the rooms' fills by best fit, the others in rows."""

from __future__ import annotations

from collections.abc import Sequence

from nesting.search.hand_cutting import Cutting
from nesting.search.hand_packing import Item, pack

MOST_ROWS = 30
"""Rows looked back at."""
MOST_IN_OFFCUTS = 400
"""With more loose pieces than this none is looked for an offcut."""


def cut_loose(cutting: Cutting) -> bool:
    """Cut the loose pieces: beside the fills by best fit, the others in rows."""
    items = [
        piece
        for item in cutting.taken
        if item.choice in cutting.hand.loose
        for piece in cutting.hand.items(item.choice, item.option)
    ]
    items.sort(key=lambda item: (-item.ways[0].length, -item.ways[0].width, item.choice, item.piece))
    rest = items if len(items) > MOST_IN_OFFCUTS else [item for item in items if not cutting.in_gap(item)]
    return all(_row(cutting, row) for row in _rows(rest, cutting.hand.wares[0].bed(False).width))


def _row(cutting: Cutting, row: Sequence[Item]) -> bool:
    """Cut a row of loose pieces from the first goods that have room; one by one where no goods take the row."""
    for roll in (*cutting.remnants, *cutting.rolls):
        packed = pack(row, roll.bed, roll.top, rows=cutting.hand.instance.bench_cuts)
        if packed is not None:
            cutting.commit(packed, roll)
            return True
    for ware in cutting.hand.wares:
        for source in cutting.unopened(ware):
            roll = cutting.roll(source, ware, False)
            packed = pack(row, roll.bed, roll.top, rows=cutting.hand.instance.bench_cuts)
            if packed is not None:
                cutting.open(roll, False)
                cutting.commit(packed, roll)
                return True
            break
    return len(row) > 1 and all(_row(cutting, (item,)) for item in row)


def _rows(items: Sequence[Item], width: int) -> list[list[Item]]:
    """Return the pieces, long ones first, side by side in rows as wide as the goods."""
    rows: list[list[Item]] = []
    free: list[int] = []
    for item in items:
        way = item.ways[0]
        across = way.left + way.width + way.right
        for k in range(max(0, len(rows) - MOST_ROWS), len(rows)):
            if free[k] >= across:
                rows[k].append(item)
                free[k] -= across
                break
        else:
            rows.append([item])
            free.append(width - across)
    return rows
