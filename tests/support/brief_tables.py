"""Random tables of briefs for Hypothesis, as TOML gives them: what a job file has to keep digit for digit."""

from datetime import date, datetime, timedelta, timezone
from decimal import Decimal

from hypothesis import strategies as st

__all__ = ["tables"]

IDS = st.from_regex(r"[A-Za-z0-9_][A-Za-z0-9._-]{0,12}", fullmatch=True)
TEXTS = st.text(st.characters(exclude_categories=("C", "Z"), include_characters=" "), min_size=1, max_size=30).filter(
    str.strip
)
MHZ = st.decimals(min_value=Decimal("0.000001"), max_value=90_000, places=6)
KHZ = st.decimals(min_value=Decimal("0.001"), max_value=99_999, places=3)
WHOLE = st.integers(1, 500)
METRES = st.decimals(min_value=Decimal("0.01"), max_value=9_999, places=2)
DECIBELS = st.decimals(min_value=0, max_value=99, places=2)
BRICK = {"material": "brick", "thickness_mm": 120}
DAYS = st.dates(date(1990, 1, 2), date(2199, 12, 28))
OFFSETS = st.integers(-14 * 4, 14 * 4).map(lambda quarter: timezone(timedelta(minutes=15 * quarter)))
MOMENTS = st.builds(datetime.combine, DAYS, st.times(), tzinfo=st.none() | OFFSETS)
CLOCKS = st.times().map(lambda found: found.replace(fold=0)) | st.sampled_from(["00:00", "19:30"])


def _spans(moments, later):
    return moments.map(lambda start: {"start": start, "end": later(start)})


SPANS = st.one_of(
    _spans(DAYS, lambda start: start + timedelta(days=1)),
    _spans(MOMENTS, lambda start: start + timedelta(days=2)),
    st.fixed_dictionaries({"start": CLOCKS, "end": CLOCKS}),
)
WINDOWS = MHZ.map(lambda low: [low, low + 7])
RADIO = st.fixed_dictionaries(
    {
        "emission": st.sampled_from(["fm", "digital"]),
        "bandwidth_khz": KHZ,
        "spacing_khz": KHZ,
        "presets": MHZ.map(lambda mhz: [{"label": "A1", "mhz": mhz}]),
    },
    optional={
        "name": TEXTS,
        "power_mw": st.lists(st.integers(1, 999), min_size=1, max_size=3) | WHOLE,
        "clearance_khz": st.dictionaries(st.sampled_from(["2A-B", "A+B-C", "3A-2B"]), KHZ),
        "front_end_shared": st.booleans(),
        "variant": st.just([{"id": "narrow", "bandwidth_khz": 100}, {"id": "b", "note": "x"}]),
        "note": TEXTS,
    },
)
LINK = st.fixed_dictionaries(
    {},
    optional={
        "name": TEXTS,
        "worn": st.sampled_from(["body", "hand", "rack"]),
        "hold_mhz": MHZ,
        "priority": st.integers(-1000, 1000),
        "earshot": st.lists(IDS, max_size=2),
        "on_air": st.lists(SPANS, max_size=2),
        "power_mw": st.decimals(min_value=Decimal("0.1"), max_value=1000, places=1),
        "role": TEXTS,
        "desk_input": TEXTS,
        "distance_m": METRES,
        "walls": st.lists(st.builds(dict, loss_db=DECIBELS) | st.just(BRICK), max_size=2),
    },
)
ANTENNA = st.fixed_dictionaries(
    {},
    optional={
        "name": TEXTS,
        "gain_dbi": DECIBELS,
        "height_m": METRES,
        "at_m": st.lists(METRES, min_size=2, max_size=2),
    },
)
PART = st.one_of(
    st.builds(dict, what=st.just("cable"), type=st.just("rg-58"), length_m=METRES),
    st.builds(dict, what=st.just("splitter"), ways=st.integers(2, 64), name=TEXTS),
    st.builds(dict, what=st.just("amplifier"), gain_db=DECIBELS, noise_figure_db=DECIBELS),
)
OTHER = st.fixed_dictionaries(
    {"carrier_mhz": MHZ, "bandwidth_khz": KHZ},
    optional={
        "makes_products": st.sampled_from([True, False, "auto"]),
        "level_dbm": st.decimals(min_value=-120, max_value=0, places=1),
        "protect": st.booleans(),
        "on_air": st.lists(SPANS, max_size=1),
    },
)


def _with_ids(rows, prefix):
    return rows.map(lambda found: [{"id": f"{prefix}{number}", **row} for number, row in enumerate(found, start=1)])


@st.composite
def tables(draw):
    """Return a brief that reads: titles, numbers, words, dates and times as they come."""
    links = [{**row, "radio": "R1"} for row in draw(_with_ids(st.lists(LINK, max_size=4), "L"))]
    antennas = draw(_with_ids(st.lists(ANTENNA, max_size=2), "a"))
    runs = [
        {"id": f"run-{row['id']}", "antenna": row["id"], "parts": draw(st.lists(PART, max_size=3))} for row in antennas
    ]
    return {
        "bandwright": 1,
        "job": {"title": draw(TEXTS), "dates": draw(st.lists(DAYS, min_size=1, max_size=3))},
        "permit": [
            {"id": "p", "state": "granted", "windows_mhz": draw(st.lists(WINDOWS, min_size=1, max_size=3))},
        ],
        "radio": [{"id": "R1", **draw(RADIO)}],
        "antenna": antennas,
        "run": runs,
        "link": links,
        "other": draw(_with_ids(st.lists(OTHER, max_size=3), "o")),
        "plan": {"spares": {"R1": draw(st.integers(0, 5))}, "seed": draw(st.integers(0, 2**53 - 1))},
    }
