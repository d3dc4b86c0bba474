"""A piece as a row of its table, as JSON in the history, and back: exact both ways."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import RowMapping

from nesting.domain.geometry import Rect
from nesting.domain.material import StockKind
from nesting.domain.rack import Moment, PhaseKnown, PieceState, RackPiece

_NO_TIME = "a time without a zone: give an aware datetime"


def utc_text(now: Moment) -> str:
    """Return a moment as UTC text of one length, so that texts compare as their times do.

    Raises
    ------
    ValueError
        If it has no time zone.
    """
    ahead = now.utcoffset()
    if ahead is None:
        raise ValueError(_NO_TIME)
    moved = (now - ahead).replace(tzinfo=None)
    return f"{moved.isoformat(timespec='microseconds')}Z"


def label_key(label: str) -> str:
    """Return a label as it reads: without case, compatible forms alike, one space where there are several.

    The compatibility caseless form of the Unicode Standard, section 3.13, D146.
    """
    folded = unicodedata.normalize("NFD", label)
    for _ in range(2):
        folded = unicodedata.normalize("NFKC", folded.casefold())
    return " ".join(folded.split())


def rects_text(rects: Sequence[Rect]) -> str:
    """Return rectangles as JSON, without spaces."""
    return json.dumps([list(rect) for rect in rects], separators=(",", ":"))


def rects_from(text: str) -> tuple[Rect, ...]:
    """Return the rectangles that JSON holds."""
    return tuple(Rect(*item) for item in json.loads(text))


def row_of(piece: RackPiece) -> dict[str, Any]:
    """Return the columns of a piece; who it is reserved for stands in a table of its own."""
    phase = piece.phase_nm or (None, None)
    searched = (piece.id, piece.material_id, piece.lot, piece.place, piece.supplier, piece.from_job, piece.note)
    return {
        "id": piece.id,
        "id_key": label_key(piece.id),
        "material_id": piece.material_id,
        "kind": piece.kind.value,
        "width_nm": piece.width_nm,
        "length_nm": piece.length_nm,
        "shape": rects_text(piece.shape),
        "lot": piece.lot,
        "lot_orderable": int(piece.lot_orderable),
        "flaws": rects_text(piece.flaws),
        "phase_x_nm": phase[0],
        "phase_y_nm": phase[1],
        "phase_known": piece.phase_known.value,
        "place": piece.place,
        "cost": piece.cost,
        "currency": piece.currency,
        "coin_per_unit": piece.coin_per_unit,
        "received_at": piece.received_at,
        "supplier": piece.supplier,
        "from_job": piece.from_job,
        "made_from": piece.made_from,
        "note": piece.note,
        "state": piece.state.value,
        "version": piece.version,
        "search_key": label_key(" \n ".join(part for part in searched if part)),
    }


def piece_of(row: RowMapping, held: tuple[str, str] | None = None) -> RackPiece:
    """Return the piece of a row; `held`: job and plan key of the reservation that holds it."""
    x, y = row["phase_x_nm"], row["phase_y_nm"]
    job, plan_key = held or ("", "")
    return RackPiece(
        id=row["id"],
        material_id=row["material_id"],
        kind=StockKind(row["kind"]),
        width_nm=row["width_nm"],
        length_nm=row["length_nm"],
        shape=rects_from(row["shape"]),
        lot=row["lot"],
        lot_orderable=bool(row["lot_orderable"]),
        flaws=rects_from(row["flaws"]),
        phase_nm=None if x is None or y is None else (x, y),
        phase_known=PhaseKnown(row["phase_known"]),
        place=row["place"],
        cost=row["cost"],
        currency=row["currency"],
        coin_per_unit=row["coin_per_unit"],
        received_at=row["received_at"],
        supplier=row["supplier"],
        from_job=row["from_job"],
        made_from=row["made_from"],
        note=row["note"],
        state=PieceState(row["state"]),
        reserved_for=job,
        reserved_by_plan=plan_key,
        version=row["version"],
    )


_KEPT = (
    "id", "material_id", "kind", "width_nm", "length_nm", "lot", "place", "cost", "currency", "coin_per_unit",
    "received_at", "supplier", "from_job", "made_from", "note", "state", "reserved_for", "reserved_by_plan", "version",
)  # fmt: skip
"""Fields that are text or numbers as they stand."""


def data_of(piece: RackPiece) -> dict[str, Any]:
    """Return a piece as JSON values, every field."""
    return {name: getattr(piece, name) for name in _KEPT} | {
        "shape": [list(rect) for rect in piece.shape],
        "flaws": [list(rect) for rect in piece.flaws],
        "lot_orderable": piece.lot_orderable,
        "phase_nm": None if piece.phase_nm is None else list(piece.phase_nm),
        "phase_known": piece.phase_known.value,
    }


def piece_from(data: Mapping[str, Any]) -> RackPiece:
    """Return the piece that JSON values hold.

    Raises
    ------
    ValueError, TypeError, KeyError
        If they hold none.
    """
    phase = data["phase_nm"]
    return RackPiece(
        **{name: data[name] for name in _KEPT if name not in ("kind", "state")},
        kind=StockKind(data["kind"]),
        state=PieceState(data["state"]),
        shape=tuple(Rect(*item) for item in data["shape"]),
        flaws=tuple(Rect(*item) for item in data["flaws"]),
        lot_orderable=bool(data["lot_orderable"]),
        phase_nm=None if phase is None else (phase[0], phase[1]),
        phase_known=PhaseKnown(data["phase_known"]),
    )


def snapshot(piece: RackPiece) -> str:
    """Return a piece as the history keeps it: the same piece, the same text."""
    return json.dumps(data_of(piece), sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def from_snapshot(text: str) -> RackPiece:
    """Return the piece that a text of the history holds."""
    return piece_from(json.loads(text))
