"""The tables in tests/authorities are what they claim, by plain enumeration with nothing of the project."""

from __future__ import annotations

from itertools import combinations, permutations


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
