from __future__ import annotations

from decimal import Decimal
from itertools import pairwise, permutations

import pytest

from bandwright.core.bands import Span, occupied
from bandwright.core.library import Confidence
from bandwright.core.products import FAMILIES
from bandwright.reference.tables import (
    generic_class,
    generic_classes,
    kit_files,
    raster,
    rasters,
    rule_table,
    rule_tables,
)
from bandwright.units import hz_from_mhz

GE06_VHF = "GE06 Agreement (ITU, Geneva 2006), VHF III; from memory"
GE06_UHF = "GE06 Agreement (ITU, Geneva 2006), UHF: 470 + 8 (n - 21) MHz; from memory"
CFR = "47 CFR 73.603; from memory"
AUSTRALIA = "Australian 7 MHz plan, as a trade association's paper of 2021 quotes the 2020 reform paper; 9A from memory"
JAPAN = "Japanese ISDB-T plan: 470 + 6 (n - 13) MHz; from memory"
# Channel label, lower and upper edge in MHz, and the source. Written down from the documents' formulas.
EDGES = [
    ("region1", "5", 174, 181, GE06_VHF),
    ("region1", "12", 223, 230, GE06_VHF),
    ("region1", "21", 470, 478, GE06_UHF),
    ("region1", "38", 606, 614, GE06_UHF),
    ("region1", "48", 686, 694, GE06_UHF),
    ("americas", "2", 54, 60, CFR),
    ("americas", "4", 66, 72, CFR),
    ("americas", "5", 76, 82, CFR),
    ("americas", "6", 82, 88, CFR),
    ("americas", "7", 174, 180, CFR),
    ("americas", "13", 210, 216, CFR),
    ("americas", "14", 470, 476, CFR),
    ("americas", "36", 602, 608, CFR),
    ("americas", "37", 608, 614, CFR),
    ("australia", "6", 174, 181, AUSTRALIA),
    ("australia", "9", 195, 202, AUSTRALIA),
    ("australia", "9A", 202, 209, AUSTRALIA),
    ("australia", "10", 209, 216, AUSTRALIA),
    ("australia", "12", 223, 230, AUSTRALIA),
    ("australia", "28", 526, 533, AUSTRALIA),
    ("australia", "51", 687, 694, AUSTRALIA),
    ("japan", "13", 470, 476, JAPAN),
    ("japan", "52", 704, 710, JAPAN),
]


@pytest.mark.parametrize(("raster_id", "label", "low_mhz", "high_mhz", "source"), EDGES)
def test_a_tv_channel_starts_and_ends_where_its_plan_says(raster_id, label, low_mhz, high_mhz, source, authority):
    (channel,) = raster(raster_id).named([label])
    ours = [channel.span.low_hz, channel.span.high_hz]
    theirs = [low_mhz * 1_000_000, high_mhz * 1_000_000]
    authority("TV channel edges", source=source, ours=ours, theirs=theirs, kind="memory", unit="Hz")


@pytest.mark.parametrize("number", range(21, 49))
def test_region_1_uhf_centres_follow_the_ge06_formula(number, authority):
    (channel,) = raster("region1").named([str(number)])
    centre_mhz = (channel.span.low_hz + channel.span.high_hz) / 2_000_000
    authority(
        "TV channel centres",
        source="GE06 Agreement (ITU, Geneva 2006): 306 + 8n MHz; from memory",
        ours=centre_mhz,
        theirs=306 + 8 * number,
        kind="memory",
    )


def test_no_tv_channels_overlap_and_labels_are_unique():
    for item in rasters():
        spans = [channel.span for channel in item.channels]
        assert all(not a.overlaps(b) for a, b in pairwise(spans)), item.id
        assert len({channel.label for channel in item.channels}) == len(item.channels)


def test_tv_channel_37_of_the_americas_is_no_tv_channel():
    (channel,) = raster("americas").named(["37"])
    assert channel.use == "radio astronomy and medical telemetry"


def test_an_unknown_raster_lists_the_known_ones():
    with pytest.raises(KeyError, match="unknown TV raster 'region2'; known: americas, australia, japan, region1"):
        raster("region2")


# Spacing, then clearances of 2A-B, A+B-C and 3A-2B, in kHz, as the trade plans (common practice).
PRACTICE = {
    "analogue-fm-wide": (350, {"2A-B": 100, "A+B-C": 50, "3A-2B": 50}),
    "analogue-fm-narrow": (225, {"2A-B": 50, "A+B-C": 25, "3A-2B": 25}),
    "in-ear-fm": (500, {"2A-B": 150, "A+B-C": 100, "3A-2B": 50}),
    "talkback-narrow": (25, {"2A-B": 25}),
    "digital": (375, None),
}


def test_generic_classes_hold_common_practice(authority):
    assert {item.name for item in generic_classes()} == set(PRACTICE)
    for name, (spacing_khz, clearance_khz) in PRACTICE.items():
        ours = generic_class(name)
        pairs = None if clearance_khz is None else {family: khz * 1000 for family, khz in clearance_khz.items()}
        theirs = (spacing_khz * 1000, pairs)
        clearance_hz = None if ours.clearance_hz is None else dict(ours.clearance_hz)
        authority(
            f"Generic class {name}",
            source="common practice",
            ours=(ours.spacing_hz, clearance_hz),
            theirs=theirs,
            kind="common practice",
        )
        assert ours.source == "common practice"


def test_an_unknown_generic_class_lists_the_known_ones():
    with pytest.raises(KeyError, match=r"unknown generic class 'analog'; known: analogue-fm-wide, "):
        generic_class("analog")


def test_the_licence_exempt_four_lie_in_the_cept_window_and_are_clear_of_third_order_products(authority):
    carriers = [hz_from_mhz(text) for text in ("863.1", "863.7", "864.1", "864.9")]
    window = rule_table("cept-863-865").windows[0]
    assert all(window.span.holds(occupied(carrier, 200_000)) for carrier in carriers)
    hits = 0
    for name in ("2A-B", "A+B-C"):
        family = FAMILIES[name]
        for generators in permutations(carriers, len(family.coefficients)):
            hits += family.product_hz(generators) in carriers
    authority(
        "Third-order products on the set 863.1, 863.7, 864.1, 864.9 MHz",
        source="Ofcom, licence-exempt 863-865 MHz, as quoted by a hire company; all differences distinct",
        ours=hits,
        theirs=0,
    )


def test_the_uk_style_licence_holds_the_quoted_figures(authority):
    (window,) = rule_table("uk-shared-606-613").windows
    ours = [
        window.span.low_hz,
        window.span.high_hz,
        window.max_bandwidth_hz,
        window.max_power.handheld_mw,
        window.max_power.bodyworn_mw,
    ]
    authority(
        "Shared licence in TV channel 38",
        source="Ofcom text as quoted by a hire company",
        ours=ours,
        theirs=[606_500_000, 613_500_000, 200_000, 10, 50],
    )


@pytest.mark.parametrize(("mhz", "eirp_mw"), [(60, 50), (80, 50), (200, 50), (500, 50), (615, 20), (660, 20)])
def test_unlicensed_powers_are_those_read_for_47_cfr_15_236(mhz, eirp_mw, authority):
    windows = [w for w in rule_table("us-47cfr15-236").windows if w.span.holds_hz(mhz * 1_000_000)]
    ours = [(window.max_power.kind.value, window.max_power.any_mw) for window in windows]
    authority(
        "47 CFR 15.236 power",
        source="47 CFR 15.236, 2021 edition; powers as a trade association summarises them",
        ours=ours,
        theirs=[("eirp", float(eirp_mw))],
    )


def test_no_rule_table_is_presented_as_certain():
    for table in rule_tables():
        assert table.confidence is Confidence.MEMORY, table.id
        assert table.sources
        assert table.edition


def test_windows_of_a_rule_table_do_not_overlap():
    for table in rule_tables():
        spans = sorted(window.span for window in table.windows)
        assert all(not a.overlaps(b) for a, b in pairwise(spans)), table.id


def test_every_shipped_radio_type_says_that_it_is_invented():
    for _, text in kit_files():
        assert text.count('(invented)"') == text.count('\nname = "')
        assert text.count("invented = true") == text.count("[[radio]]")


def test_every_25_khz_carrier_of_470_to_694_mhz_is_read_exactly(authority):
    texts = [str(Decimal(470) + Decimal(n) * Decimal("0.025")) for n in range(8960)]
    ours = [hz_from_mhz(text) for text in texts]
    authority(
        "Carriers on the 25 kHz grid of 470-694 MHz",
        source="integer arithmetic: 470,000,000 + n x 25,000",
        ours=sum(a != b for a, b in zip(ours, range(470_000_000, 694_000_000, 25_000), strict=True)),
        theirs=0,
        kind="arithmetic",
    )
    assert sum(int(float(text) * 1e6) != hz for text, hz in zip(texts, ours, strict=True)) > 0


def test_spans_of_the_americas_leave_the_known_gaps():
    americas = raster("americas")
    for low, high in ((72, 76), (88, 174), (216, 470)):
        assert not americas.touched_by(Span(low * 1_000_000, high * 1_000_000))
