"""The drawing of a piece of the rack."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Callable

from hypothesis import given
from hypothesis import strategies as st

from nesting.domain.geometry import Rect
from nesting.domain.job import Unit
from nesting.domain.material import StockKind
from nesting.domain.rack import PhaseKnown, RackPiece
from nesting.drawing.piece_sheet import piece_sheet, without

MM = 1_000_000

ELL = RackPiece(
    id="S-12",
    material_id="sheet",
    kind=StockKind.REMNANT,
    width_nm=2_000 * MM,
    length_nm=3_000 * MM,
    shape=(Rect(0, 0, 2_000 * MM, 1_000 * MM), Rect(0, 1_000 * MM, 1_000 * MM, 3_000 * MM)),
    lot="7731",
    flaws=(Rect(200 * MM, 400 * MM, 300 * MM, 600 * MM),),
    phase_nm=(-120 * MM, -300 * MM),
    phase_known=PhaseKnown.MEASURED,
    place="bay 4",
)


def test_it_is_as_kept(golden: Callable[[str, str], None]) -> None:
    golden("drawing/piece/ell.svg", piece_sheet(ELL, Unit.M))


def test_it_says_what_is_known() -> None:
    texts = " ".join("".join(node.itertext()) for node in ET.fromstring(piece_sheet(ELL, Unit.CM)).iter())
    for words in ("S-12", "lot 7731", "bay 4", "200.0 cm across × 300.0 cm along", "12.0 cm across and 30.0 cm along"):
        assert words in texts


sides = st.tuples(st.integers(0, 6), st.integers(0, 6), st.integers(1, 6), st.integers(1, 6))
rects = sides.map(lambda four: Rect(four[0], four[1], four[0] + four[2], four[1] + four[3]))


def cells(found: tuple[Rect, ...]) -> list[tuple[int, int]]:
    return [(x, y) for r in found for x in range(r.x0_nm, r.x1_nm) for y in range(r.y0_nm, r.y1_nm)]


@given(rects, st.lists(rects, max_size=4))
def test_what_is_cut_out_is_out_and_the_rest_is_covered_once(whole: Rect, holes: list[Rect]) -> None:
    left = cells(without((whole,), tuple(holes)))
    assert sorted(left) == sorted(set(cells((whole,))) - set(cells(tuple(holes))))
