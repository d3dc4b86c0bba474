"""Tiny random jobs for the oracle: the same seed and features give the same job."""

from __future__ import annotations

from dataclasses import replace
from random import Random

from tests.making import ell, rectangle
from tests.oracle import Cell, TinyJob, TinyPattern, TinyRoom, TinyStock

FEATURES = "pattern", "stock", "overlap", "cross", "rooms", "widths"


def tiny_job(seed: int, *features: str) -> TinyJob:
    """Return a tiny job with some of FEATURES; the rest (trim, order terms, seam worth, turning) at random."""
    chance = Random(seed)
    width = chance.randint(5, 8)
    pattern = _pattern(chance, width) if "pattern" in features else None
    count = 2 if "rooms" in features else 1
    return TinyJob(
        rooms=tuple(_room(chance, number, "cross" in features, small=count > 1) for number in range(count)),
        widths=(width, width + 1) if "widths" in features else (width,),
        overlap=2 if "overlap" in features else 0,
        pattern=pattern,
        stock=_stock(chance, pattern) if "stock" in features else (),
        order_step=chance.choice((1, 1, 3)),
        minimum_cut=chance.choice((0, 0, 5)),
        squaring=chance.choice((0, 1)),
        most_seams=chance.choice((1, 2)) if count == 1 else 1,
        seam_worth=chance.choice((0, 0, 2, 1)),
        turning_free=chance.random() < 0.3,
    )


def _room(chance: Random, number: int, cross: bool, *, small: bool) -> TinyRoom:
    outline = _outline(chance, 8 if small else 11)
    room = TinyRoom(name=f"room-{number}", outline=outline, trim=chance.choice((0, 0, 1)))
    if cross and len(outline) == 4:
        room = replace(room, cross_seams=chance.choice((0, 1)), least_length=chance.choice((1, 2)))
    return room


def _outline(chance: Random, most: int) -> tuple[Cell, ...]:
    across, along = chance.randint(2, most), chance.randint(3, most - 1)
    if chance.random() < 0.35 and across > 3 and along > 3:
        return ell(across, along, chance.randint(1, across - 2), chance.randint(1, along - 2))
    return rectangle(across, along)


def _pattern(chance: Random, width: int) -> TinyPattern:
    along = chance.randint(2, 6)
    across = chance.choice((None, chance.randint(2, width)))
    return TinyPattern(along=along, across=across, drop=0 if across is None else chance.randint(0, along - 1))


def _stock(chance: Random, pattern: TinyPattern | None) -> tuple[TinyStock, ...]:
    lot = chance.choice(("", "A"))

    def phase() -> Cell | None:
        if pattern is None or chance.random() < 0.4:
            return None
        return chance.randrange(pattern.across or 1), chance.randrange(pattern.along)

    return tuple(
        TinyStock(
            name=f"remnant-{number}",
            width=chance.randint(3, 10),
            length=chance.randint(4, 12),
            lot=lot,
            phase=phase(),
        )
        for number in range(chance.randint(1, 2))
    )
