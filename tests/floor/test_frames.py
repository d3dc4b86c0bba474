from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from nesting.domain.geometry import LayDirection
from nesting.domain.material import Pattern, Turning
from nesting.floor.frames import back_point, lay_directions, turn_outline, turn_point
from tests.seams.floors import M, goods_of, rectangle, room_of

WHOLE = st.integers(-(10**11), 10**11)


@given(WHOLE, WHOLE, st.integers(-20, 20), st.integers(-20, 20))
def test_turning_a_point_there_and_back(x: int, y: int, dx: int, dy: int) -> None:
    if dx == dy == 0:
        return
    direction = LayDirection.towards(dx, dy)
    u, v = turn_point((x, y), direction)
    n = (direction.dx**2 + direction.dy**2) ** 0.5
    assert abs(u - (x * direction.dy - y * direction.dx) / n) <= 0.51
    assert abs(v - (x * direction.dx + y * direction.dy) / n) <= 0.51
    bx, by = back_point((u, v), direction)
    assert abs(bx - x) <= 1 and abs(by - y) <= 1


def test_turning_by_a_quarter_is_exact_and_keeps_the_hand() -> None:
    assert turn_point((3, 5), LayDirection(0, 1)) == (3, 5)
    assert turn_point((3, 5), LayDirection(1, 0)) == (-5, 3)
    assert turn_point((3, 5), LayDirection(0, -1)) == (-3, -5)


@given(st.integers(-50, 50), st.integers(1, 50), st.integers(1000, 9000), st.integers(1000, 9000))
def test_walls_along_the_lay_become_parallel_to_it(dx: int, dy: int, width: int, length: int) -> None:
    direction = LayDirection.towards(dx, dy)
    n = (direction.dx**2 + direction.dy**2) ** 0.5
    along, across = (direction.dx / n, direction.dy / n), (direction.dy / n, -direction.dx / n)
    corners = [(0, 0), (width, 0), (width, length // 2), (width, length), (0, length)]
    outline = tuple(
        (
            round((u * across[0] + v * along[0]) * 1e6),
            round((u * across[1] + v * along[1]) * 1e6),
        )
        for u, v in corners
    )
    turned = turn_outline(outline, direction)
    assert len({u for u, _ in turned}) == 2
    assert len({v for _, v in turned}) == 3
    for point, floor_point in zip(turned, outline, strict=True):
        u, v = turn_point(floor_point, direction)
        assert abs(point[0] - u) <= 2 and abs(point[1] - v) <= 2


def test_the_dominant_direction_is_that_of_the_longest_walls() -> None:
    turned_room = room_of(((0, 0), (400, 300), (100, 700), (-300, 400)), M // 100)
    first, second = lay_directions(turned_room, goods_of(4 * M))
    assert {first, second} == {LayDirection(4, 3), LayDirection(-3, 4)}


def test_opposite_arrows_only_where_they_can_matter() -> None:
    ell = ((0, 0), (5, 0), (5, 3), (3, 3), (3, 6), (0, 6))
    directed = goods_of(4 * M)
    plain = goods_of(4 * M, directed=False, turning=Turning.FREE)
    patterned = goods_of(4 * M, directed=False, turning=Turning.FREE, pattern=Pattern(along_nm=640_000_000))
    assert len(lay_directions(room_of(rectangle(5, 6), M), directed)) == 2
    assert len(lay_directions(room_of(ell, M), directed)) == 4
    assert len(lay_directions(room_of(ell, M), plain)) == 2
    assert len(lay_directions(room_of(ell, M), patterned)) == 4
    only = (LayDirection(0, -1),)
    assert lay_directions(room_of(ell, M, lays=only), directed) == only


def test_a_door_beside_a_wall_does_not_hide_that_a_floor_is_symmetric() -> None:
    outline = ((0, 0), (1, 0), (2, 0), (5, 0), (5, 4), (0, 4))
    assert len(lay_directions(room_of(outline, M), goods_of(4 * M))) == 2
