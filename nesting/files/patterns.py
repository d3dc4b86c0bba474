"""How a pattern is described in words, and the lattice that it means."""

from __future__ import annotations

import re
from fractions import Fraction

from nesting.domain.material import Pattern
from nesting.files.faults import Faults
from nesting.files.job_entries import MaterialEntry
from nesting.files.yaml_tree import Loc
from nesting.units import UnitError, format_length, parse_fraction, parse_length

_UP = re.compile(r"(?:at the right )?(?:the motif )?(?:sits )?(?P<way>drop|up by|down by)\s+(?P<much>.+)")


def pattern_of(entry: MaterialEntry, usable: tuple[int, ...], loc: Loc, faults: Faults, unit: str) -> Pattern | None:
    """Return the lattice; `usable` are the usable widths less the overlap.

    A drop known only from breadth to breadth makes a lattice whose repeat across is the pitch between breadths: that is
    all that is known, and all that has to agree.
    """
    match = (entry.match or "").strip().lower().replace("_", " ")
    if match in ("none", "random", "free"):
        return None
    given = [name for name in ("repeat across", "drop counts") if getattr(entry, name.replace(" ", "_")) is not None]
    if entry.repeat_along is None:
        if match or given:
            hint = "give `repeat along`, or `match: none`"
            faults.add(loc, "no-repeat", "the pattern's repeat along is missing", hint)
        return None
    if not match:
        hint = "write none, straight, half-drop, drop 160 mm or drop 1/4"
        faults.add(loc, "no-match", "how the pattern matches is missing: give `match`", hint)
        return None
    drop = _drop(match, entry.repeat_along, (*loc, "match"), faults, unit)
    across = _across(entry, (*loc, "repeat across"), faults, unit)
    if drop is None or across == -1:
        return None
    if across is None:
        if drop:
            what = "goods that do not vary across cannot have a drop"
            faults.add((*loc, "match"), "drop-without-across", what, "give `repeat across`, or leave it out")
            return None
        return Pattern(along_nm=entry.repeat_along)
    if across == 0:
        if entry.drop_counts == "per-repeat":
            what = "the drop counts per repeat, but the repeat across is not given"
            faults.add((*loc, "drop counts"), "no-repeat", what, "give `repeat across`")
            return None
        return Pattern(along_nm=entry.repeat_along, across_nm=usable[0], drop_nm=drop, at_seam=True)
    return _with_across(entry, across, drop, usable, loc, faults, unit)


def _drop(match: str, along: int, loc: Loc, faults: Faults, unit: str) -> Fraction | None:
    """Return how far the motif at the right sits up, from 0 to less than the repeat along."""
    plain = " ".join(match.replace("-", " ").split()) if "drop" in match and "half" in match else match
    if plain in ("straight", "set", "straight across"):
        return Fraction(0)
    if plain in ("half drop", "half"):
        return Fraction(along, 2)
    found = _UP.fullmatch(plain)
    if not found:
        hint = "write none, straight, half-drop, drop 160 mm or drop 1/4 (of the repeat along)"
        faults.add(loc, "unknown-name", f"{match!r} is no match", hint)
        return None
    much = found["much"]
    try:
        bare = re.fullmatch(r"(\d+)\s*/\s*(\d+)(?:\s*(?:of (?:a|the) )?repeat)?", much) or much.endswith("%")
        if bare:
            drop = along * parse_fraction(much.split(" of")[0].removesuffix("repeat"))
        else:
            drop = Fraction(parse_length(much, unit))
    except UnitError as error:
        faults.add_unit_error(loc, error)
        return None
    if drop < 0 or drop >= along:
        what = "the drop is negative" if drop < 0 else "the drop is not less than the repeat along"
        faults.add(
            loc, "bad-drop", what, "a drop is part of the repeat along; for a motif that sits down write `down by`"
        )
        return None
    return -drop % along if found["way"] == "down by" else drop


def _across(entry: MaterialEntry, loc: Loc, faults: Faults, unit: str) -> int | None:
    """Return the repeat across: None for goods that do not vary, 0 if known only at the seam, -1 for a fault."""
    text = (entry.repeat_across or "at the seam").strip().lower()
    if text in ("none", "no", "does not vary"):
        return None
    if text.replace("-", " ") in ("at the seam", "unknown"):
        return 0
    try:
        across = parse_length(text, unit)
    except UnitError as error:
        faults.add(
            loc, error.code, error.what, "write a length, none (does not vary across) or at the seam (not known)"
        )
        return -1
    if across <= 0:
        faults.add(loc, "zero-size", f"{text!r} is not above zero", "write none for goods that do not vary across")
        return -1
    return across


def _with_across(
    entry: MaterialEntry, across: int, drop: Fraction, usable: tuple[int, ...], loc: Loc, faults: Faults, unit: str
) -> Pattern | None:
    """Return the lattice of goods with a known repeat across."""
    assert entry.repeat_along is not None
    along = entry.repeat_along
    repeats = [width // across for width in usable]
    if not all(repeats):
        shown = format_length(min(usable), unit, with_unit=True)
        what = f"the repeat across is wider than what a breadth covers, {shown}"
        hint = "check `repeat across`; if only the match at the side seam is known, leave it out"
        faults.add((*loc, "repeat across"), "repeat-too-wide", what, hint)
        return None
    if entry.drop_counts == "per-repeat" or all((k - 1) * drop % along == 0 for k in repeats):
        return Pattern(along_nm=along, across_nm=across, drop_nm=drop)
    if entry.drop_counts == "at-the-seam":
        if len(set(repeats)) > 1:
            counts = " and ".join(map(str, sorted(set(repeats))))
            what = f"the widths hold {counts} repeats, so their side seams drop differently"
            faults.add(
                (*loc, "drop counts"), "drop-unclear", what, "give the drop per repeat, or one material for each width"
            )
            return None
        return Pattern(along_nm=along, across_nm=across * repeats[0], drop_nm=drop)
    k = next(k for k in repeats if (k - 1) * drop % along)
    by_repeat, by_seam = (
        format_length(int(value), unit, with_unit=True) if value else "nothing (straight)"
        for value in (k * drop % along, drop)
    )
    what = (
        f"the drop can be read in two ways: a breadth holds {k} repeats across; counted per repeat, the side seam "
        f"drops by {by_repeat}; counted at the seam, it drops by {by_seam}"
    )
    hint = "hold two breadths side by side and write `drop counts: per repeat` or `drop counts: at the seam`"
    faults.add((*loc, "match"), "drop-unclear", what, hint)
    return None
