"""Small instances for the engine's tests."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random

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
    Worth,
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
    rack: int | None = None,
    **more: object,
) -> Instance:
    """An instance in units of a millimetre."""
    return Instance(
        unit_nm=Fraction(1_000_000),
        choices=tuple(choices),
        sources=tuple(sources),
        weights=Weights(levels=levels, most_seams=most_seams, rack=rack),  # type: ignore[arg-type]
        lattice=lattice,
        **more,  # type: ignore[arg-type]
    )


RACK = ((0, 0, 0, 0, 0, 0, 0),)
"""One level: the value used up of goods in hand."""


def tiny_rack(seed: int, *, levels: tuple[tuple[int, ...], ...] = RACK, pattern: bool = False) -> Instance:
    """Two or three small things to cut, up to six pieces in hand of a few lots, alike some of them, and a roll."""
    chance = Random(seed)
    lattice = Lattice(along=chance.randint(2, 3), across=None) if pattern else None
    choices = []
    for number in range(chance.randint(2, 3)):
        lot_group = chance.choice((None, number, number))
        turns = (0, 1) if lot_group is None and not pattern and chance.random() < 0.5 else (0,)
        group = number if pattern and lot_group is not None else None
        options = tuple(
            Option(
                pieces=tuple(
                    rect(f"{number}-{k}", chance.randint(1, 3), chance.randint(1, 4), turns=turns, group=group)
                    for k in range(1 if turns != (0,) else parts)
                ),
                seams=parts - 1,
                seam_length=chance.randint(0, 2),
                phase=(None, chance.randint(0, 1)) if group is not None and chance.random() < 0.3 else (None, None),
            )
            for parts in range(1, chance.choice((2, 3)))
        )
        choices.append(Choice(id=f"{number}", options=options, lot_group=lot_group))
    sources = []
    for number in range(chance.randint(2, 6)):
        if sources and chance.random() < 0.3:
            piece = replace(chance.choice(sources), id=f"h{number}", lot=chance.choice((f"h{number}", "A")))
        else:
            piece = hand(
                f"h{number}",
                chance.randint(1, 4),
                chance.randint(1, 6),
                lot=chance.choice(("", "A", "B")),
                phase=(0, chance.randint(0, 1)) if pattern and chance.random() < 0.5 else None,
                loss=(0, 3) if pattern else (0, 0),
                worth=Worth(begun=chance.choice((0, 0, 1)), keep_from=chance.randint(1, 3), small=4),
            )
        if piece.width > 2 and piece.length > 2 and piece.phase is None and chance.random() < 0.2:
            piece = replace(piece, blocked=((1, 1, 2, 2),), loss=(piece.width, piece.length))
        sources.append(piece)
    roll = order(3, 9, terms=OrderTerms(step=chance.choice((1, 2)), anchor_along=3))
    rack = 0 if levels == RACK else None
    return instance(choices, [*sources, roll], lattice, levels, rack=rack)


def strip(width: int, items: list[tuple[int, int]]) -> Instance:
    """Rectangles (width, length) on one roll, its length used to be least."""
    choices = [one_way(f"{k}", rect(f"{k}", w, h)) for k, (w, h) in enumerate(items)]
    return instance(choices, [order(width, sum(h for _, h in items))])
