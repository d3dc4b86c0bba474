"""Pieces of the rack as lines for people and as plain data."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from nesting.domain.rack import HistoryEntry, RackPiece, ShelfCount
from nesting.domain.rules import OffcutRules
from nesting.domain.worth import worth_nm2
from nesting.units import both_systems, format_money

NM2_PER_M2 = 10**18


def worth_of(piece: RackPiece) -> int:
    """Return what a piece is worth by the usual rule for remnants, nm² of goods valued in full."""
    whole = worth_nm2(OffcutRules(), piece.width_nm, piece.length_nm)
    return whole if not piece.shape else whole * piece.area_nm2 // (piece.width_nm * piece.length_nm)


def age_days(piece: RackPiece, now: datetime) -> int:
    """Return for how many whole days a piece has been on the rack; 0 where a clock went backwards."""
    return max(0, (now - datetime.fromisoformat(piece.received_at)).days) if piece.received_at else 0


def table_lines(pieces: Sequence[RackPiece], unit: str, now: datetime) -> list[str]:
    """Return pieces as a table with sizes in both systems."""
    if not pieces:
        return ["nothing on the rack is like that"]
    heads = ("label", "material", "across x along", "", "lot", "place", "state", "days", "value", "cost")
    rows = [_cells(piece, unit, now) for piece in pieces]
    shown = [at for at in range(len(heads)) if at < 3 or any(row[at] for row in rows)]
    wide = [max(len(heads[at]), *(len(row[at]) for row in rows)) for at in shown]
    lines = [
        "  ".join(f"{row[at]:<{width}}" for at, width in zip(shown, wide, strict=True)).rstrip()
        for row in (heads, *rows)
    ]
    area = sum(piece.area_nm2 for piece in pieces) / NM2_PER_M2
    return [*lines, f"{len(pieces)} piece{'s' if len(pieces) != 1 else ''}, {area:.2f} m²"]


def _cells(piece: RackPiece, unit: str, now: datetime) -> tuple[str, ...]:
    (wide, wide_too), (long, long_too) = (
        both_systems(nm, unit, rounding="down") for nm in (piece.width_nm, piece.length_nm)
    )
    state = f"{piece.state.value} for {piece.reserved_for}" if piece.reserved_for else piece.state.value
    notched = ", notched" if piece.shape else ""
    return (
        piece.id,
        piece.material_id,
        f"{wide} x {long}{notched}",
        f"{wide_too} x {long_too}",
        piece.lot or "",
        piece.place,
        state,
        str(age_days(piece, now)),
        f"{worth_of(piece) / NM2_PER_M2:.2f} m²",
        format_money(piece.cost, piece.currency, piece.coin_per_unit) if piece.cost else "",
    )


def piece_lines(piece: RackPiece, unit: str) -> list[str]:
    """Return all that is known of a piece."""

    def both(nm: int) -> str:
        own, other = both_systems(nm, unit, rounding="down")
        return f"{own} ({other})"

    def rect(x0: int, y0: int, x1: int, y1: int) -> str:
        sides = [both_systems(nm, unit)[0] for nm in (x1 - x0, y1 - y0, x0, y0)]
        return f"{sides[0]} x {sides[1]} at {sides[2]}, {sides[3]}"

    mark = ""
    if piece.phase_nm is not None:
        across, along = (both_systems(-nm, unit)[0] for nm in piece.phase_nm)
        mark = f"a mark at {across} across, {along} along ({piece.phase_known.value})"
    facts = (
        ("material", piece.material_id),
        ("kind", piece.kind.value),
        ("size", f"{both(piece.width_nm)} across x {both(piece.length_nm)} along"),
        ("shape", "; ".join(rect(*one) for one in piece.shape)),
        ("area", f"{piece.area_nm2 / NM2_PER_M2:.2f} m²"),
        ("lot", (piece.lot or "unknown") + (", more can be ordered" if piece.lot_orderable else "")),
        ("pattern", mark),
        ("flaws", "; ".join(rect(*one) for one in piece.flaws)),
        ("place", piece.place),
        ("state", f"{piece.state.value}" + (f" for {piece.reserved_for}" if piece.reserved_for else "")),
        ("value", f"{worth_of(piece) / NM2_PER_M2:.2f} m² of goods valued in full"),
        ("cost", format_money(piece.cost, piece.currency, piece.coin_per_unit) if piece.cost else ""),
        ("received", piece.received_at),
        ("from", ", ".join(part for part in (piece.supplier, piece.from_job, piece.made_from or "") if part)),
        ("note", piece.note),
    )
    return [piece.id, "=" * len(piece.id), *(f"  {name:9} {value}" for name, value in facts if value)]


def history_lines(entries: Sequence[HistoryEntry]) -> list[str]:
    """Return changes, one a line, in the order in which they were made."""
    lines = []
    for one in entries:
        booking = f" (booking {one.booking})" if one.booking is not None else ""
        late = "; the clock said an earlier time than before" if one.late else ""
        why = f": {one.why}" if one.why else ""
        lines.append(f"{one.number:>6}  {one.at[:19]}  {one.what:<9} {one.piece_id}  {one.who}{why}{booking}{late}")
    return lines or ["nothing was ever done here"]


def shelf_lines(found: ShelfCount, *, booked: bool) -> list[str]:
    """Return a count against the book."""
    rows = (
        ("found", found.found),
        ("missing", found.missing),
        ("elsewhere by the book", [f"{label} ({place or 'no place'})" for label, place in found.elsewhere]),
        ("booked as missing, but here", found.back),
        ("not in stock by the book", [f"{label} ({state.value})" for label, state in found.not_stock]),
        ("unknown", found.unknown),
    )
    lines = [f"{name}: {', '.join(labels)}" for name, labels in rows if labels]
    verdict = "shelf and book agree" if found.agrees else "shelf and book differ"
    return [*lines, verdict + ("; booked" if booked else "")]


def piece_data(piece: RackPiece) -> dict[str, Any]:
    """Return a piece as plain data: lengths in nm, money in the smallest coin."""
    data = {name: getattr(piece, name) for name in piece.__slots__}
    return dict(json.loads(json.dumps(data | {"worth_nm2": worth_of(piece)})))
