"""The keys of the job file that say what goes down with the goods: rates, packs, stock lengths."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated, Any

from pydantic import PlainValidator, ValidationInfo, WithJsonSchema

from nesting.domain.job import HoleKind
from nesting.domain.sundries import NOUNS, UNITS, Amount, Fixing, Measure, SundryKind, Walls
from nesting.files.fields import (
    Entry,
    Length,
    LengthOrZero,
    Lengths,
    Names,
    OneOf,
    OrOne,
    Reading,
    Share,
    Words,
    Yes,
    refuse,
)
from nesting.files.room_entries import key
from nesting.units import LONGEST_NM, UnitError, parse_fraction, parse_length, parse_money, unit_in

_UNIT_NAMES = {
    "sqm": "m2", "m²": "m2", "sqmetre": "m2", "sqmetres": "m2", "sqmeter": "m2", "sqmeters": "m2",
    "sqft": "sq ft", "ft2": "sq ft", "sqfoot": "sq ft", "sqfeet": "sq ft",
    "sqyd": "sq yd", "yd2": "sq yd", "sqyard": "sq yd", "sqyards": "sq yd",
    "litre": "l", "litres": "l", "liter": "l", "liters": "l", "floz": "fl oz", "pint": "pt", "pints": "pt",
    "quart": "qt", "quarts": "qt", "gallon": "gal", "gallons": "gal", "lbs": "lb",
}  # fmt: skip
_NOUN_OF = {name: noun for noun, several in NOUNS.items() for name in (noun, several)}
_MOST = {
    Measure.AREA: Fraction(10**24),  # 1 km²
    Measure.LENGTH: Fraction(LONGEST_NM),
    Measure.VOLUME: Fraction(10**8),
    Measure.WEIGHT: Fraction(10**8),
    Measure.PIECES: Fraction(10**6),
}
_FINEST = Fraction(1, 10**6)
_HINT = "write an amount with its unit, such as 15 kg, 20 l, 310 ml, 50 m, 12 m2, 4 gal, 100 sq ft or 10 pieces"


def amount_in(text: str, *, bare: bool = False) -> Amount:
    """Return an amount such as `15 kg`, `4 gal`, `50 m`, `12 m2` or `10 tubes`, exactly; `bare`: `l` is one litre.

    Raises
    ------
    PydanticCustomError
        If it is none, is nothing, or is absurd.
    """
    text = " ".join(text.split())
    wrong = refuse("bad-amount", f"{text[:40]!r} is not an amount", _HINT)
    found = re.fullmatch(r"(?P<number>[\d./ ¼½¾⅓⅔⅛⅜⅝⅞]+)? ?(?P<unit>[^\d\s].*)", text)
    if not found or (not found["number"] and not bare):
        raise wrong
    try:
        number = parse_fraction(found["number"]) if found["number"] else Fraction(1)
        measure, per, noun = _unit_of(found["unit"])
        if measure is None:
            if found["number"] and unit_in(text) is None:
                raise wrong
            whole = text if found["number"] else f"1 {text}"
            measure, quantity = Measure.LENGTH, Fraction(parse_length(whole, "mm"))
        else:
            quantity = number * per
    except UnitError as error:
        raise refuse("bad-amount", error.what, _HINT) from None
    if not quantity:
        raise refuse("zero-size", f"{text!r} is zero", "give an amount above zero, or leave the key out")
    if quantity > _MOST[measure] or quantity < _FINEST or quantity.denominator > 10**18:
        raise refuse("absurd-size", f"{text!r} is no amount that is bought", "check the unit")
    return Amount(measure=measure, quantity=quantity, text=text, noun=noun)


def _unit_of(name: str) -> tuple[Measure | None, Fraction, str]:
    """Return the measure of a unit, how much one of it is, and what pieces are called; None: perhaps a length."""
    noun = _NOUN_OF.get(name.lower())
    if noun:
        return Measure.PIECES, Fraction(1), noun
    short = re.sub(r"[\s.^]", "", name.lower().replace("²", "2")).replace("square", "sq")
    known = UNITS.get(_UNIT_NAMES.get(short, short))
    return (*known, "") if known else (None, Fraction(1), "")


@dataclass(frozen=True, slots=True)
class Per:
    """Two amounts: so much of one for so much of the other, either way round, as it was written."""

    first: Amount
    second: Amount
    text: str


def _text(value: Any, what: str) -> str:
    if isinstance(value, (dict, list)):
        raise refuse("wrong-type", f"{what} is expected, not keys or a list")
    text = str(value).strip()
    if len(text) > 60 or not text.isprintable():
        raise refuse("bad-amount", f"{text[:20]!r}… is too long, or holds signs that cannot be printed", _HINT)
    return text


def _rate(value: Any) -> Per:
    text = " ".join(_text(value, "a rate").split())
    parts = re.split(r" per | ?/ ?(?=[^\d\s])", text)
    if len(parts) != 2 or not all(parts):
        raise refuse("bad-rate", f"{text!r} is not a rate", "write it as 8 m2 per l, 0.25 kg per m2 or 45 m per tube")
    return Per(amount_in(parts[0]), amount_in(parts[1], bare=True), text)


def _area(value: Any) -> Fraction:
    amount = amount_in(_text(value, "an area"))
    if amount.measure is not Measure.AREA:
        raise refuse("bad-amount", f"{amount.text!r} is not an area", "write it as 20 m2, 200 sq ft or 25 sq yd")
    return amount.quantity


def _price(value: Any, info: ValidationInfo) -> int:
    text, reading = _text(value, "an amount of money"), info.context
    assert isinstance(reading, Reading)
    try:
        coins = parse_money(text, reading.coins)
    except UnitError as error:
        raise refuse(error.code, error.what, error.hint) from None
    if coins > 10**9:
        raise refuse("absurd-size", f"{text!r} is no price of a pack", "check the amount")
    return coins


Price = Annotated[int, PlainValidator(_price), WithJsonSchema({"type": ["string", "number"], "examples": ["12.50"]})]
Rate = Annotated[
    Per, PlainValidator(_rate), WithJsonSchema({"type": "string", "examples": ["8 m2 per l", "0.25 kg per m2"]})
]
Pack = Annotated[
    Amount,
    PlainValidator(lambda value: amount_in(_text(value, "an amount"))),
    WithJsonSchema({"type": "string", "examples": ["15 kg", "20 l", "50 m", "10 pieces"]}),
]
Area = Annotated[Fraction, PlainValidator(_area), WithJsonSchema({"type": "string", "examples": ["20 m2", "25 sq yd"]})]
"""nm²."""
FixingWord = Annotated[str, OneOf("way to go down", *Fixing)]
Around = Annotated[list[Annotated[str, OneOf("kind of cut-out", *HoleKind)]], OrOne()]


class ProductEntry(Entry):
    """One product: how much of it is needed and how it is sold."""

    name: Words | None = key(description="what you call the product (default: its kind)")
    rate: Rate | None = key(description="how far it goes: 8 m2 per l, 0.25 kg per m2, 45 m per tube")
    pack: Pack | None = key(description="what one pack holds: 15 kg, 20 l, 50 m, 10 pieces")
    price: Price | None = key(description="of one pack")
    waste: Share | None = key(description="a share added to what is needed (default 0 %)")
    rooms: Names | None = key(description="the only rooms that it is for (default: all)")


class AdhesiveEntry(ProductEntry):
    """Adhesive."""

    band: Length | None = key(
        description="goods held at the perimeter: the width along the walls and on either side of a seam"
    )


class AroundEntry(ProductEntry):
    """What runs around something cut out of the floor."""

    around: Around | None = key(description="what it runs around: column, island, fixture")


class CaulkEntry(AroundEntry):
    """Caulk around fixtures."""

    gap: Length | None = key(description="how wide the gap is")
    depth: Length | None = key(description="how deep it is filled (default: as deep as wide)")


class RodEntry(ProductEntry):
    """Weld rod."""

    cove_joints: Yes | None = key(
        description="cove and floor are cut apart: the foot of coved walls is welded too (default no)"
    )


class UnderlayEntry(ProductEntry):
    """Underlay under stretched goods."""

    width: Length | None = key(description="of its roll (default: it is reckoned by area)")


class LengthsEntry(ProductEntry):
    """What may be cut from stock lengths."""

    lengths: Lengths | None = key(description="the stock lengths sold")
    prices: Annotated[list[Price], OrOne()] | None = key(description="a price for each stock length, in their order")
    kerf: LengthOrZero | None = key(description="what the saw takes (default 0)")
    joints: Yes | None = key(description="a run longer than the longest length may be joined (default yes)")
    least_joint: Length | None = key(description="no piece of a joined run shorter than this (default 300 mm)")


class GripperEntry(LengthsEntry):
    """Gripper."""

    around: Around | None = key(description="what it runs around: column, island, fixture (default: all)")


class TrimEntry(LengthsEntry):
    """Skirting, cove or quarter-round along the walls."""

    around: Around | None = key(description="what it runs around too: column, island, fixture (default: none)")
    walls: Annotated[str, OneOf("choice of walls", *Walls)] | None = key(
        description="plain: where the sheet does not run up; coved: where it does; or all"
    )
    without: Names | None = key(description="walls left out: `Kitchen / north`")


class SundriesEntry(Entry):
    """What goes down with the goods. Each kind can stand at the job or a material; the nearest one counts."""

    primer: Annotated[list[ProductEntry], OrOne()] | None = key(description="by the floor's area")
    adhesive: Annotated[list[AdhesiveEntry], OrOne()] | None = key(description="by area, or along the perimeter")
    tape: Annotated[list[AroundEntry], OrOne()] | None = key(description="at doorways, fixtures and under seams")
    underlay: Annotated[list[UnderlayEntry], OrOne()] | None = key(description="by its own width, or by area")
    gripper: Annotated[list[GripperEntry], OrOne()] | None = key(description="by the perimeter less the doors")
    seam_sealer: Annotated[list[ProductEntry], OrOne()] | None = key(description="by the length of the seams")
    weld_rod: Annotated[list[RodEntry], OrOne()] | None = key(description="by seams and the cove's corners")
    seaming_tape: Annotated[list[ProductEntry], OrOne()] | None = key(description="by the length of the seams")
    caulk: Annotated[list[CaulkEntry], OrOne()] | None = key(description="around fixtures, by gap or by length")
    transition: Annotated[list[LengthsEntry], OrOne()] | None = key(description="a strip per doorway")
    skirting: Annotated[list[TrimEntry], OrOne()] | None = key(description="along the walls")
    cove: Annotated[list[TrimEntry], OrOne()] | None = key(
        description="cove former or set-on cove: along coved walls, or along all walls of a room that has none"
    )
    quarter_round: Annotated[list[TrimEntry], OrOne()] | None = key(description="along the walls")
    leave_out: Annotated[list[Annotated[str, OneOf("kind of sundry", *SundryKind)]], OrOne()] | None = key(
        description="kinds that are not wanted on the list"
    )

    def products(self, kind: SundryKind) -> list[Any]:
        """Return the entries of a kind."""
        return getattr(self, kind.value.replace("-", "_")) or []
