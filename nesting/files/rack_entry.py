"""A piece of the shop's rack as it is typed in a shell: words become a piece, every fault said at once."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Any

from pydantic import PlainValidator, ValidationError, ValidationInfo

from nesting.domain.geometry import Point, Rect
from nesting.domain.material import StockKind
from nesting.domain.rack import PhaseKnown, RackPiece
from nesting.errors import Fault, JobError
from nesting.files.fields import SIDES, Entry, Money, OneOf, Reading, Size, Words, Yes, lengths_in, refuse
from nesting.files.names import slug
from nesting.files.room_entries import key

_MARK = re.compile(r"(?:(?P<x>.+?)\s+across\s*,?\s*(?:and\s+)?)?(?P<y>.+?)\s+along", re.IGNORECASE)


def _rect(value: Any, info: ValidationInfo) -> Rect:
    """Return `0.1 x 0.3 at 0.4, 2.1`: across x along, at so far from the left edge and from the start."""
    hint = "write across x along, and where: 0.1 x 0.3 at 0.4, 2.1 (from the left edge, from the start)"
    assert isinstance(info.context, Reading)
    size, found, at = str(value).partition(" at ")
    sides, place = SIDES.split(size.strip()), re.split(r"\s*[,;]\s*", at.strip())
    if not found or len(sides) != 2 or len(place) != 2 or not all((*sides, *place)):
        raise refuse("bad-rectangle", f"{str(value).strip()!r} is no rectangle with its place", hint)
    wide, long = lengths_in(sides, info.context.unit, 1)
    left, start = lengths_in(place, info.context.unit, 0)
    return Rect(left, start, left + wide, start + long)


def _mark(value: Any, info: ValidationInfo) -> Point | None:
    """Return the phase that goods with this first mark have; None: unknown."""
    assert isinstance(info.context, Reading)
    text = str(value).strip()
    if text.lower() == "unknown":
        return None
    found = _MARK.fullmatch(text)
    if found is None:
        raise refuse("bad-mark", f"{text!r} is no pattern mark", "write 12 cm across, 30 cm along, or unknown")
    x, y = lengths_in([found["x"] or "0", found["y"]], info.context.unit, 0)
    return -x, -y


Place = Annotated[Rect, PlainValidator(_rect)]
Mark = Annotated[Point | None, PlainValidator(_mark)]


class PieceEntry(Entry):
    """What can be said of a piece; what is left out stays as it is."""

    label: Words | None = key(description="what stands on it")
    material: Words | None = key(description="its material, as in the job file: its `id`, or its name")
    kind: Annotated[str, OneOf("kind of goods", *StockKind)] | None = key(description="roll or remnant")
    size: Size | None = key(description="across x along")
    shape: list[Place] | None = key(description="disjoint rectangles that are there")
    lot: Words | None = key(description="dye or production lot")
    lot_orderable: Yes | None = key(description="more of this lot can be ordered")
    flaws: list[Place] | None = key(description="places to cut round")
    first_mark: Mark | None = key(description="where the first pattern mark lies")
    place: Words | None = key(description="where it lies")
    cost: Money | None = key(description="what the shop paid for it")
    currency: Words | None = key(description="a word behind the cost")
    supplier: Words | None = key(description="from whom it came")
    note: str | None = key(description="anything else")


def material_named(text: str) -> str:
    """Return the id by which the rack knows the goods that a job file calls so, by their id or by their name."""
    return slug(text)


def piece_as_typed(values: Mapping[str, Any], reading: Reading, old: RackPiece | None = None) -> RackPiece:
    """Return a new piece of what was typed, or `old` with what was typed put right.

    Parameters
    ----------
    values
        By the keys of `PieceEntry`, as text; what is None or empty was not said.

    Raises
    ------
    JobError
        If anything typed cannot be read; all faults at once.
    """
    said = {name: value for name, value in values.items() if value not in (None, (), [])}
    said = {name: list(value) if isinstance(value, tuple) else value for name, value in said.items()}
    try:
        entry = PieceEntry.model_validate(said, context=reading)
    except ValidationError as error:
        raise JobError([_fault(item) for item in error.errors(include_url=False, include_input=False)]) from None
    missing = [name for name in ("material", "size") if old is None and getattr(entry, name) is None]
    if missing:
        raise JobError(
            [Fault(code="missing-key", what=f"the {name} is missing", where=f"--{name}") for name in missing]
        )
    start = (
        RackPiece(id=entry.label or "", material_id="", kind=StockKind.REMNANT, width_nm=1, length_nm=1)
        if old is None
        else old
    )
    return _with(start, entry, said, reading)


def _with(piece: RackPiece, entry: PieceEntry, said: Mapping[str, Any], reading: Reading) -> RackPiece:
    changes: dict[str, Any] = {}
    if entry.material is not None:
        changes["material_id"] = material_named(entry.material)
    if entry.kind is not None:
        changes["kind"] = StockKind(entry.kind)
    if entry.size is not None:
        changes |= {"width_nm": entry.size[0], "length_nm": entry.size[1]}
    if entry.shape is not None:
        changes["shape"] = tuple(sorted(entry.shape))
    if entry.flaws is not None:
        changes["flaws"] = tuple(sorted(entry.flaws))
    if "first mark" in said:
        known = PhaseKnown.UNKNOWN if entry.first_mark is None else PhaseKnown.MEASURED
        changes |= {"phase_nm": entry.first_mark, "phase_known": known}
    if entry.cost is not None:
        changes |= {"cost": entry.cost, "coin_per_unit": reading.coins}
    for name in ("lot", "lot_orderable", "place", "currency", "supplier", "note"):
        if getattr(entry, name) is not None:
            changes[name] = getattr(entry, name)
    return replace(piece, **changes)


def _fault(item: Any) -> Fault:
    """Return the fault of one thing that could not be read."""
    context = item.get("ctx", {})
    name = "--" + str(item["loc"][0]).replace(" ", "-").removesuffix("s" if item["loc"][0] == "flaws" else "\0")
    what = context.get("what", str(item["msg"]))
    return Fault(
        code=item["type"] if "what" in context else "wrong-type", what=what, where=name, hint=context.get("hint", "")
    )


def size_as_typed(text: str, reading: Reading) -> tuple[int, int]:
    """Return `2 m x 6.4 m` as (across, along), nm.

    Raises
    ------
    JobError
        If it is no size.
    """
    piece = piece_as_typed({"material": "any", "size": text}, reading)
    return piece.width_nm, piece.length_nm
