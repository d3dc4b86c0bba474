"""What a piece must be to stand on the rack; every fault with its words, all at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from nesting.domain.geometry import Rect, bounding_rect
from nesting.domain.rack import Act, PhaseKnown, PieceState, RackPiece
from nesting.errors import Fault, JobError
from nesting.shop.rows import label_key
from nesting.units import LONGEST_NM

LONGEST_TEXT = 500
LONGEST_LABEL = 80
MOST_COINS = 10**15
MOST_RECTS = 1_000
_TEXTS = ("id", "material_id", "place", "currency", "supplier", "from_job", "note", "reserved_for", "reserved_by_plan")


def refuse(code: str, what: str, *, where: str = "", hint: str = "") -> JobError:
    """Return an error of one fault."""
    return JobError([Fault(code=code, what=what, where=where, hint=hint)])


def faults_of(piece: RackPiece) -> Iterator[str]:
    """Yield in words what is wrong with a piece; nothing for one that can be."""
    for name in _TEXTS:
        yield from _text_faults(name, getattr(piece, name))
    for name in ("lot", "made_from"):
        value = getattr(piece, name)
        if value is not None:
            yield from _text_faults(name, value)
            if not value.strip():
                yield f"{name} is blank: leave it out instead"
    if not label_key(piece.id) or len(piece.id) > LONGEST_LABEL:
        yield f"a label has 1 to {LONGEST_LABEL} characters"
    if not piece.material_id.strip():
        yield "it has no material"
    if not (0 < piece.width_nm <= LONGEST_NM and 0 < piece.length_nm <= LONGEST_NM):
        yield "its width and length must be more than 0 and at most 10 km"
    else:
        yield from _rect_faults(piece)
    if not 0 <= piece.cost <= MOST_COINS:
        yield "its cost is below 0 or beyond all sense"
    if not 1 <= piece.coin_per_unit <= 10_000:
        yield "a unit of money has 1 to 10000 coins"
    if (piece.phase_nm is None) != (piece.phase_known is PhaseKnown.UNKNOWN):
        yield "a phase and how it is known go together"
    if piece.phase_nm is not None and any(abs(part) > LONGEST_NM for part in piece.phase_nm):
        yield "its phase lies more than 10 km off"
    if (piece.state is PieceState.RESERVED) != bool(piece.reserved_for.strip()):
        yield "it must name the job that it is reserved for, and no job if it is not reserved"
    if piece.lot_orderable and piece.lot is None:
        yield "a lot that can be ordered needs a name"
    if piece.made_from == piece.id:
        yield "it cannot be made from itself"


def _text_faults(name: str, value: str) -> Iterator[str]:
    if len(value) > LONGEST_TEXT:
        yield f"{name} is longer than {LONGEST_TEXT} characters"
    if not can_be_kept(value) or any(ord(mark) < 32 or ord(mark) == 127 for mark in value):
        yield f"{name} holds control characters"


def can_be_kept(text: str) -> bool:
    """Tell whether databases take a text: no zero bytes, no half of a pair of surrogates."""
    return not any(mark == "\0" or 0xD800 <= ord(mark) <= 0xDFFF for mark in text)


def must_be_words(**texts: str | None) -> None:
    """Refuse what cannot stand in the rack, before it is asked for.

    Raises
    ------
    JobError
        Naming everything that is too long or holds control characters.
    """
    found = [what for name, text in texts.items() if text is not None for what in _text_faults(name, text)]
    if found:
        raise JobError([Fault(code="bad-words", what=what) for what in found])


def _rect_faults(piece: RackPiece) -> Iterator[str]:
    whole = Rect(0, 0, piece.width_nm, piece.length_nm)
    for name, rects in (("shape", piece.shape), ("flaws", piece.flaws)):
        if len(rects) > MOST_RECTS:
            yield f"{name} has more than {MOST_RECTS} rectangles"
            return
        if not all(_inside(rect, whole) for rect in rects):
            yield f"{name}: a rectangle is empty or does not lie on the piece"
            return
    if piece.shape:
        if any(_overlap(one, other) for one, other in combinations(piece.shape, 2)):
            yield "shape: two of its rectangles overlap"
        if bounding_rect(piece.shape) != whole:
            yield "shape: its rectangles do not reach all four sides of width and length"


def _inside(rect: Rect, whole: Rect) -> bool:
    across = whole.x0_nm <= rect.x0_nm < rect.x1_nm <= whole.x1_nm
    return across and whole.y0_nm <= rect.y0_nm < rect.y1_nm <= whole.y1_nm


def _overlap(one: Rect, other: Rect) -> bool:
    across = one.x0_nm < other.x1_nm and other.x0_nm < one.x1_nm
    return across and one.y0_nm < other.y1_nm and other.y0_nm < one.y1_nm


def must_be_sound(pieces: Sequence[RackPiece]) -> None:
    """Refuse pieces that cannot be, with everything that is wrong with them, and labels given twice.

    Raises
    ------
    JobError
        With a fault for everything that is wrong.
    """
    found = [
        Fault(code="bad-piece", where=piece.id.strip()[:LONGEST_LABEL], what=what)
        for piece in pieces
        for what in faults_of(piece)
    ]
    seen: dict[str, str] = {}
    for piece in pieces:
        key = label_key(piece.id)
        if key in seen:
            found.append(Fault(code="label-twice", where=piece.id, what=f"its label reads like {seen[key]!r}"))
        seen.setdefault(key, piece.id)
    if found:
        raise JobError(found)


def must_say(act: Act, *, why: bool = False) -> None:
    """Refuse an act without a name, or without a reason where one is needed.

    Raises
    ------
    JobError
        If something is not said, or holds control characters.
    """
    if not act.who.strip():
        raise refuse("who-missing", "nobody is named who does this", hint="say who it is")
    if why and not act.why.strip():
        raise refuse("reason-missing", "this needs a reason", hint="say why, for whoever reads the history")
    must_be_words(who=act.who, why=act.why)
