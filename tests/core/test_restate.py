"""Products that only restate a spacing: those that stay on their victim wherever the near carriers go together."""

import random

from hypothesis import given
from hypothesis import strategies as st

from bandwright.core.planning.plan import Violation
from bandwright.core.planning.restate import folded
from bandwright.core.products import FAMILIES
from bandwright.sheets.check_text import check_text

NAMES = "abcde"


def spacing(one, two):
    return Violation(rule="spacing", victim=one, sources=(two,), offset_hz=0, required_hz=350_000, text=f"{one} {two}")


@st.composite
def cases(draw):
    pairs = draw(st.lists(st.tuples(st.sampled_from(NAMES), st.sampled_from(NAMES)), max_size=3))
    products = []
    for _ in range(draw(st.integers(1, 6))):
        family = draw(st.sampled_from(sorted(FAMILIES)))
        count = len(FAMILIES[family].coefficients)
        sources = tuple(draw(st.permutations(NAMES))[:count])
        products.append(
            Violation(rule="product", victim=draw(st.sampled_from(NAMES)), sources=sources, family=family, text="x")
        )
    return [pair for pair in pairs if pair[0] != pair[1]], products


@given(cases())
def test_a_product_is_folded_when_it_stays_on_its_victim_whatever_the_carriers(case):
    pairs, products = case
    alike = {name: {name} for name in NAMES}
    for one, two in pairs:
        joined = alike[one] | alike[two]
        for name in joined:
            alike[name] = joined
    rng = random.Random(1)

    def on_its_victim(item):
        if all(len(alike[name]) == 1 for name in (*item.sources, item.victim)):
            return False  # nothing here is too near to anything
        for _ in range(3):
            of_group = {frozenset(group): rng.randrange(10**9) for group in alike.values()}
            f = {name: of_group[frozenset(alike[name])] for name in NAMES}
            terms = zip(FAMILIES[item.family].coefficients, item.sources, strict=True)
            if sum(c * f[name] for c, name in terms) != f[item.victim]:
                return False
        return True

    found = folded([*(spacing(*pair) for pair in pairs), *products])
    kept = [item for item, _ in found if item.rule == "product"]
    assert kept == [item for item in products if not on_its_victim(item)]
    assert sum(count for _, count in found) == len(products) - len(kept)


def test_two_links_on_one_carrier_are_one_broken_rule():
    names = ["L1", "L2", *(f"L{n}" for n in range(3, 11))]
    products = [
        Violation(rule="product", victim=name, sources=(name, "L1", "L2"), family="A+B-C", text="trivial")
        for name in names[2:]
    ]
    text = check_text([spacing("L1", "L2"), *products], (), carriers=10, columns=60)
    assert text.splitlines() == [
        "10 carriers checked: 1 rule is broken.",
        "  spacing    L1 L2 8 IM products follow from that and are",
        "             not told one by one.",
    ]


def test_a_link_that_has_a_part_in_everything_that_is_broken_is_named():
    products = [
        Violation(rule="product", victim=name, sources=("L1", "L2"), family="2A-B", text=name) for name in ("L3", "L4")
    ]
    everywhere = check_text([spacing("L1", "L5"), *products], (), carriers=5)
    assert everywhere.splitlines()[-1] == "L1 has a part in every one."
    assert "part in every" not in check_text([spacing("L3", "L5"), *products], (), carriers=5)
    assert "part in every" not in check_text(products, (), carriers=5)  # two tell it themselves


def test_a_product_that_says_something_of_its_own_stays():
    own = Violation(rule="product", victim="L3", sources=("L1", "L2"), family="2A-B", text="own")
    assert folded([spacing("L1", "L2"), own]) == [(spacing("L1", "L2"), 0), (own, 0)]
