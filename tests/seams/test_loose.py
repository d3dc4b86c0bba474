from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from nesting.domain.geometry import bounding_rect
from nesting.domain.job import LoosePiece, Strip
from nesting.seams.loose import parts_of_loose, parts_of_strip
from tests.seams.floors import MM, M, goods_of


def lengths(cuts: tuple[object, ...]) -> list[int]:
    return [bounding_rect(cut.rects).length_nm for cut in cuts]  # type: ignore[attr-defined]


def test_a_loose_piece_whole_and_in_parts() -> None:
    mat = LoosePiece(id="mat", name="Mat", material_id="goods", width_nm=901 * MM, length_nm=3 * M, most_parts=3)
    whole, two, three = parts_of_loose(mat, goods_of(4 * M, seam_overlap_nm=20 * MM))
    assert lengths(whole) == [3 * M]
    assert lengths(two) == [1510 * MM] * 2  # 3.0 m and one overlap, halved
    assert sum(lengths(three)) >= 3040 * MM and max(lengths(three)) == 1015 * MM
    assert {bounding_rect(cut.rects).width_nm for cut in (*whole, *two, *three)} == {905 * MM}


def test_parts_are_no_shorter_than_the_least() -> None:
    step = LoosePiece(id="s", name="Step", material_id="goods", width_nm=M, length_nm=800 * MM, most_parts=4)
    assert [len(cuts) for cuts in parts_of_loose(step, goods_of(4 * M))] == [1, 2]


@given(st.integers(200, 30_000), st.integers(0, 30), st.sampled_from([None, 6_000, 20_000]), st.integers(100, 900))
def test_strips_are_long_enough_and_their_joints_far_enough_apart(
    run: int, overlap: int, longest: int | None, least: int
) -> None:
    material = goods_of(2 * M, seam_overlap_nm=overlap * MM)
    strip = Strip(
        id="cove",
        name="Cove",
        material_id="goods",
        width_nm=103 * MM,
        runs_nm=(run * MM,),
        least_joint_nm=least * MM,
    )
    limit = None if longest is None else longest * MM
    [ways] = parts_of_strip(strip, material, limit)
    half = (overlap * MM + 1) // 2
    for cuts in ways:
        found = lengths(cuts)
        assert sum(found) - 2 * half * (len(found) - 1) >= run * MM
        if len(found) > 1:
            assert all(length - 2 * half >= least * MM - 10 * MM for length in found[:-1])
            assert found[-1] >= least * MM
    if longest is None or run <= longest:
        assert lengths(ways[0]) == [-(-run // 5) * 5 * MM]
    assert ways or (limit is not None and run > longest)  # type: ignore[operator]
