"""Sidon sets against their definition, the published sizes, and the published least lengths of Golomb rulers."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from bandwright.engines.sidon import bose_chowla, ruzsa, sets_about

PRIMES = [3, 5, 7, 11, 13, 17, 31]
BOSE = "R. C. Bose and S. Chowla, Comment. Math. Helv. 37 (1962), 141-147: p residues modulo p^2 - 1"
RUZSA = "I. Z. Ruzsa, Acta Arith. 65 (1993), 259-282: p - 1 residues modulo p (p - 1)"


def sums_differ(residues, modulus):
    """The definition: a + b (mod m) tells a and b."""
    sums = [(a + b) % modulus for a, b in itertools.combinations_with_replacement(residues, 2)]
    return len(set(sums)) == len(sums)


@pytest.mark.parametrize("p", PRIMES)
@pytest.mark.parametrize(
    ("build", "source", "size"),
    [(bose_chowla, BOSE, lambda p: (p, p * p - 1)), (ruzsa, RUZSA, lambda p: (p - 1, p * (p - 1)))],
)
def test_the_sums_of_two_residues_are_all_different(p, build, source, size, authority):
    sidon = build(p)
    assert sums_differ(sidon.residues.tolist(), sidon.modulus)
    authority(
        "Residues and modulus of a Sidon set, its sums of two checked one by one",
        source=source,
        ours=[len(sidon.residues), sidon.modulus],
        theirs=list(size(p)),
    )


@pytest.mark.parametrize("p", [5, 7, 11])
def test_ruzsa_sets_are_the_powers_of_a_primitive_root_beside_their_exponents(p):
    pairs = {(x % (p - 1) or p - 1, x % p) for x in ruzsa(p).residues.tolist()}
    roots = [g for g in range(2, p) if len({pow(g, i, p) for i in range(1, p)}) == p - 1]
    assert any(pairs == {(i, pow(g, i, p)) for i in range(1, p)} for g in roots)


def test_the_set_of_three_is_one_of_those_that_trying_everything_finds():
    every = [set(three) for three in itertools.combinations(range(8), 3) if sums_differ(three, 8)]
    assert set(bose_chowla(3).residues.tolist()) in every


@pytest.mark.parametrize("sidon", [build(p) for p in (3, 5, 7, 11) for build in (bose_chowla, ruzsa)])
def test_every_image_is_a_shift_or_a_mirror_image_of_a_listed_one(sidon):
    def shifts(residues):
        return {frozenset((residues + shift) % sidon.modulus) for shift in range(sidon.modulus)}

    listed = set()
    for factor in sidon.factors:
        assert sums_differ(sidon.image(factor).tolist(), sidon.modulus)
        listed |= shifts(sidon.image(factor)) | shifts(-sidon.image(factor))
    for factor in range(1, sidon.modulus):
        if math.gcd(factor, sidon.modulus) == 1:
            assert frozenset(sidon.image(factor)) in listed


@pytest.mark.parametrize("p", [5, 7, 11, 13])
def test_cut_open_they_are_rulers_no_shorter_than_the_published_shortest(p, authority_table):
    published = authority_table("golomb_rulers")["lengths_A003022_offset2"][p - 2]
    sidon = bose_chowla(p)
    lengths = []
    for factor in sidon.factors:
        image = sidon.image(factor)
        gaps = np.diff(np.append(image, image[0] + sidon.modulus))
        lengths.append(sidon.modulus - int(gaps.max()))
    assert published <= min(lengths) < p * p - 1


def test_sets_are_listed_by_their_modulus():
    sets = sets_about(1_000, shortest=0.9, longest=1.1)
    assert [s.modulus for s in sets] == [930, 960]  # 31 * 30 and 31^2 - 1


@pytest.mark.parametrize("build", [bose_chowla, ruzsa])
@pytest.mark.parametrize("p", [2, 9, -7])
def test_other_numbers_than_odd_primes_are_refused(build, p):
    with pytest.raises(ValueError, match=f"these sets are built for odd primes; given {p}"):
        build(p)
