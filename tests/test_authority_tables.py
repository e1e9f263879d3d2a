"""The tables in tests/authorities are what they claim, by plain enumeration with nothing of the project."""

from __future__ import annotations

from itertools import combinations, permutations, product


def test_every_ruler_has_distinct_differences_and_the_listed_length(authority_table):
    table = authority_table("golomb_rulers")
    for order, length in enumerate(table["lengths_A003022_offset2"], start=2):
        marks = table["rulers"][str(order)]
        differences = [high - low for low, high in combinations(marks, 2)]
        assert len(marks) == order
        assert len(set(differences)) == len(differences)
        assert max(marks) - min(marks) == length


def test_no_babcock_set_has_a_third_order_product_on_a_member(authority_table):
    table = authority_table("babcock_1953")
    for size, carriers in table["sets_channel_numbers"].items():
        products = {2 * a - b for a, b in permutations(carriers, 2)}
        products |= {a + b - c for a, b, c in permutations(carriers, 3)}
        assert not products & set(carriers), size
        assert max(carriers) - min(carriers) + 1 == table["channels_required"][size]


def test_the_equal_spacing_counts_come_out_of_plain_enumeration(authority_table):
    for size, counts in authority_table("intermodulation_counts")["hits_on_n_equally_spaced_carriers"].items():
        carriers = range(int(size))
        two = [2 * a - b for a, b in permutations(carriers, 2)]
        three = [a + b - c for a, b, c in permutations(carriers, 3) if a < b]
        assert [two.count(carrier) for carrier in carriers] == counts["2A-B"]
        assert [three.count(carrier) for carrier in carriers] == counts["A+B-C"]


def squared_distances(table):
    cells = list(zip(table["axial_q"], table["axial_r"], strict=True))
    return [[(a - c) ** 2 + (b - d) ** 2 + (a - c) * (b - d) for c, d in cells] for a, b in cells]


def test_p6_of_philadelphia_could_not_be_had_in_179_if_pairs_at_exactly_the_root_of_seven_conflicted(authority_table):
    table = authority_table("philadelphia")
    squared = squared_distances(table)
    cells = range(len(squared))
    apart = [{b for b in cells if b != a and squared[a][b] > 7} for a in cells]
    nine = [c for c in cliques(cells, lambda a, b: squared[a][b] <= 7) if len(c) == 9]
    # 9 x 20 calls on 180 channels: every channel has a call of every such clique.
    full = [c for c in cliques(cells, lambda a, b: b in apart[a]) if all(c & clique for clique in nine)]
    rows = [(c,) for c in full]
    for _ in range(4):  # next to one another no neighbours, and no cell again within 5 channels
        longer = [(*row, c) for row, c in product(rows, full) if not c & frozenset().union(*row)]
        rows = [row for row in longer if all(squared[a][b] >= 3 for a, b in product(row[-2], row[-1]))]
    assert nine
    assert full
    assert not rows


def cliques(cells, joined):
    """All sets of cells that are joined pairwise."""
    found = [frozenset()]
    for cell in cells:
        found += [c | {cell} for c in found if all(joined(cell, other) for other in c)]
    return found
