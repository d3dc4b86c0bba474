"""Small instances for the engine's tests."""

from __future__ import annotations

from fractions import Fraction

from nesting.model.instance import (
    Box,
    Choice,
    Instance,
    Lattice,
    Option,
    OrderTerms,
    Piece,
    Source,
    Weights,
)

USED_LENGTH = ((0, 1, 0, 0, 0, 0, 0),)
"""One level: length used × width of the orders."""
LEAST_ROLL = ((1, 0, 0, 0, 0, 0, 0), (0, 1, 0, 0, 0, 0, 0), (0, 0, 1, 0, 0, 0, 0), (0, 0, 0, 0, 0, 0, 1))


def rect(name: str, width: int, length: int, **more: object) -> Piece:
    """A rectangle."""
    return Piece(id=name, boxes=((0, 0, width, length),), **more)  # type: ignore[arg-type]


def boxes(name: str, *parts: Box, **more: object) -> Piece:
    """A piece of several boxes."""
    return Piece(id=name, boxes=parts, **more)  # type: ignore[arg-type]


def one_way(name: str, *pieces: Piece, lot_group: int | None = None, **more: object) -> Choice:
    """A choice with a single option."""
    return Choice(id=name, options=(Option(pieces=pieces, **more),), lot_group=lot_group)  # type: ignore[arg-type]


def order(width: int, length: int, name: str = "order", lot: str = "new", **more: object) -> Source:
    """A roll to order, by the unit unless its terms say otherwise."""
    terms = more.pop("terms", OrderTerms())
    return Source(id=name, width=width, length=length, lot=lot, terms=terms, **more)  # type: ignore[arg-type]


def hand(name: str, width: int, length: int, lot: str = "", **more: object) -> Source:
    """A piece in hand, of a lot of its own unless told."""
    return Source(id=name, width=width, length=length, lot=lot or name, **more)  # type: ignore[arg-type]


def instance(
    choices: list[Choice],
    sources: list[Source],
    lattice: Lattice | None = None,
    levels: tuple[tuple[int, ...], ...] = USED_LENGTH,
    most_seams: int | None = None,
    **more: object,
) -> Instance:
    """An instance in units of a millimetre."""
    return Instance(
        unit_nm=Fraction(1_000_000),
        choices=tuple(choices),
        sources=tuple(sources),
        weights=Weights(levels=levels, most_seams=most_seams),  # type: ignore[arg-type]
        lattice=lattice,
        **more,  # type: ignore[arg-type]
    )


def strip(width: int, items: list[tuple[int, int]]) -> Instance:
    """Rectangles (width, length) on one roll, its length used to be least."""
    choices = [one_way(f"{k}", rect(f"{k}", w, h)) for k, (w, h) in enumerate(items)]
    return instance(choices, [order(width, sum(h for _, h in items))])
