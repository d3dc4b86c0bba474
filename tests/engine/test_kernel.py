"""The compiled placing gives the same spots as the plain one, whatever the instance and the scheme."""

from __future__ import annotations

import random
from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.model.ground import may_anchor
from nesting.model.instance import Instance
from nesting.search.kernel import place_compiled
from nesting.search.placing import place
from nesting.search.scheme import Ready, Scheme, make_ready
from nesting.search.starting import in_sequence
from tests.engine.test_properties import instances


def any_scheme(ready: Ready, chance: random.Random) -> Scheme:
    """A scheme drawn from all there are: options, order, lots, anchors, bars and ways."""
    instance = ready.instance
    options = tuple(chance.randrange(len(choice.options)) for choice in instance.choices)
    pieces = [
        (number, index)
        for number, taken in enumerate(options)
        for index in range(len(instance.choices[number].options[taken].pieces))
    ]
    chance.shuffle(pieces)
    by_group: dict[int | None, str | None] = {}
    for choice in instance.choices:
        by_group[choice.lot_group] = chance.choice([None, *ready.lots]) if choice.lot_group is not None else None
    held = {(c, p, chance.randrange(len(ready.shapes[c][options[c]][p]))) for c, p in pieces if chance.random() < 0.2}
    return Scheme(
        options=options,
        sequence=in_sequence(ready, options, tuple(pieces)),
        lots=tuple(by_group[choice.lot_group] for choice in instance.choices),
        order_lot=chance.choice([None, *ready.order_lots]),
        anchored=tuple(
            may_anchor(s) and instance.lattice is not None and chance.random() < 0.4 for s in instance.sources
        ),
        barred=frozenset(
            (c, s) for c in range(len(options)) for s in range(len(instance.sources)) if chance.random() < 0.1
        ),
        held=frozenset(held),
    )


@settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(instances(), st.integers(0, 10**6))
def test_the_kernel_places_as_the_plain_code_does(drawn: Instance, seed: int) -> None:
    tried = replace(drawn, bench_cuts=False)
    ready = make_ready(tried)
    chance = random.Random(seed)
    for _ in range(3):
        scheme = any_scheme(ready, chance)
        plain, quick = place(ready, scheme), place_compiled(ready, scheme)
        assert (quick.solution, quick.missing) == (plain.solution, plain.missing)
