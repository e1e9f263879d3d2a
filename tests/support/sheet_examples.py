"""Invented jobs and plans for the tests of sheets; carriers are on a plain grid, no plan anybody should use."""

from dataclasses import replace
from datetime import date, datetime, timedelta, timezone

from bandwright.core.bands import Span, TvChannel, TvRaster
from bandwright.core.job import Job, Place
from bandwright.core.kit import Direction, Emission, Link, Other, PowerKind, Preset, RadioType, TuningRange, Worn
from bandwright.core.permits import Permit, PermitState
from bandwright.core.planning.plan import (
    Bound,
    BoundStatus,
    Closest,
    Noise,
    NoiseState,
    PlacedLink,
    Plan,
    Reason,
    Spare,
    Status,
    Unplaced,
    Warn,
)
from bandwright.core.sheet import LineUp, SheetFacts

MADE = datetime(2027, 5, 14, 5, 12, tzinfo=timezone(timedelta(hours=1)))

# Channel 21 begins at 470 MHz and each is 8 MHz wide (region 1).
RASTER = TvRaster(
    id="region1",
    name="Region 1",
    source="from memory",
    channels=tuple(
        TvChannel(label=str(21 + k), span=Span(470_000_000 + k * 8_000_000, 478_000_000 + k * 8_000_000))
        for k in range(28)
    ),
)

CAST = (
    "Łukasz Nguyễn",
    "Mara",
    "Jón Þór",
    "Ines Câmara",
    "Harbour Master",
    "Oğuz Çelik",
    "Widow at the Window",
    "Björk-Åse Ødegård",
    "First Mate",
    "Second Mate",
    "Cook",
    "Ferryman",
    "Lamplighter's Apprentice",
    "Presenter",
)


def radio(radio_id: str, name: str, direction: Direction, **other: object) -> RadioType:
    facts: dict[str, object] = {
        "id": radio_id,
        "name": name,
        "direction": direction,
        "emission": Emission.FM,
        "bandwidth_hz": 200_000,
        "spacing_hz": 350_000,
        "clearance_hz": (("2A-B", 100_000), ("A+B-C", 50_000)),
        "tuning": (TuningRange(low_hz=470_100_000, high_hz=693_900_000, step_hz=25_000),),
        "power_mw": (10.0, 50.0),
        "power_kind": PowerKind.ERP,
        "invented": True,
    }
    return RadioType(**(facts | other))  # type: ignore[arg-type]


HERON = radio("heron", "Heron", Direction.FROM_PERSON)
TERN = radio(
    "tern",
    "Tern Hand-held",
    Direction.FROM_PERSON,
    tuning=(),
    presets=tuple(Preset(label=f"{b}{n}", carrier_hz=606_700_000 + 8 * k) for k, (b, n) in enumerate(["A1", "A2"])),
)
GULL = radio("gull", "Gull In-ear", Direction.TO_PERSON)
PLOVER = radio("plover", "Plover", Direction.BOTH, bandwidth_hz=12_500)
RADIOS = (HERON, TERN, GULL, PLOVER)

FAMILIES = ("2A-B", "A+B-C", "3A-2B")


def make_link(number: int) -> Link:
    kind = GULL if number % 8 == 6 else PLOVER if number % 12 == 9 else HERON
    worn = {Direction.TO_PERSON: Worn.RACK, Direction.BOTH: Worn.BODY}.get(
        kind.direction, Worn.HAND if number % 4 == 3 else Worn.BODY
    )
    name = CAST[number % len(CAST)] + (f" {number // len(CAST) + 1}" if number >= len(CAST) else "")
    return Link(
        id=f"L{number + 1:02d}",
        name=name,
        radio=kind,
        worn=worn,
        role="lead" if number % 5 == 0 else None,
        hold_hz=470_500_000 if number == 0 else None,
        receiver=f"R{number // 4 + 1}.{number % 4 + 1}",
        antenna="A1 quay east" if number % 2 else "A2 quay west",
        desk_input=str(number + 1),
    )


def make_placed(link: Link, number: int) -> PlacedLink:
    carrier_hz = 470_500_000 + 3_125_000 * number + (12_500 if number % 7 == 5 else 0)
    status = Status.CAUTION if number % 6 == 4 else Status.CLEAR
    return PlacedLink(
        id=link.id,
        name=link.name,
        radio=link.radio.id,
        carrier_hz=carrier_hz,
        status=status,
        cautions=("thin-slack",) if status is Status.CAUTION else (),
        permit="shared",
        tv_channel=channel.label if (channel := RASTER.at(carrier_hz)) else None,
        power_mw=50.0 if link.worn is Worn.BODY else 10.0,
        preset=f"B{number % 9 + 1}" if number % 3 == 0 else None,
        noise=Noise(state=NoiseState.QUIET, value=-98.0 + number % 3, unit="dBm", over_hz=200_000),
        closest=make_closest(number),
    )


def make_closest(number: int) -> Closest:
    if number % 3 == 1:
        return Closest(
            rule="spacing",
            family=None,
            sources=(f"L{number + 2:02d}",),
            product_hz=None,
            offset_hz=375_000,
            required_hz=350_000,
        )
    family = FAMILIES[number % 3]
    return Closest(
        rule="product",
        family=family,
        sources=tuple(f"L{number + k + 1:02d}" for k in range(2 + family.count("C"))),
        product_hz=600_000_000,
        offset_hz=125_000 + 12_500 * number,
        required_hz=100_000,
    )


def make_job(count: int, **other: object) -> Job:
    facts: dict[str, object] = {
        "title": "Lantern Quay",
        "dates": (date(2027, 5, 14), date(2027, 5, 15)),
        "hours": "call 05:00, show 21:00, wrap 00:30",
        "places": (
            Place(id="quay", name="Quay stage", timezone="Europe/Lisbon", raster=RASTER, tv_closed=("23", "26")),
        ),
        "permits": (
            Permit(
                id="shared",
                reference="shared licence SL-0417",
                state=PermitState.GRANTED,
                windows=(Span(470_000_000, 694_000_000),),
                closed=(Span(608_000_000, 614_000_000),),
            ),
        ),
        "radios": RADIOS,
        "links": tuple(make_link(number) for number in range(count)),
        "others": (
            Other(id="house-talkback", name="House talkback", carrier_hz=611_300_000, bandwidth_hz=12_500),
            Other(id="ferry", name="Ferry terminal paging", carrier_hz=482_012_500, bandwidth_hz=25_000),
        ),
        "note": "Nets are down until 06:00.",
        "invented": True,
    }
    return Job(**(facts | other))  # type: ignore[arg-type]


def make_plan(job: Job, *, unplaced: int = 0, spares: int = 4) -> Plan:
    placed = job.links[: len(job.links) - unplaced]
    return Plan(
        number=3,
        links=tuple(make_placed(link, number) for number, link in enumerate(placed)),
        spares=tuple(
            Spare(id=f"S{k + 1}", radio="heron", carrier_hz=686_100_000 + 1_300_000 * k, tv_channel="48")
            for k in range(spares)
        ),
        unplaced=tuple(
            Unplaced(
                id=link.id,
                name=link.name,
                reasons=(
                    Reason(
                        code="hold",
                        text=f"{link.name} is held on 615 MHz, which no permit of this place allows.",
                    ),
                ),
            )
            for link in job.links[len(placed) :]
        ),
        bound=Bound(
            about="links placed",
            status=BoundStatus.PROVEN,
            found=len(placed),
            upper_bound=len(placed),
            method="all placed",
        ),
        warnings=(Warn(code="level-unknown", text="The level of 2 other carriers is not known."),),
    )


def make_facts(job: Job, *, line_up: bool = False) -> SheetFacts:
    return SheetFacts(
        made=MADE,
        sweep="base.csv, 2027-05-14 04:31, own transmitters off",
        line_up=tuple(
            LineUp(link=link.id, gain=f"{-6 + k % 4 * 3} dB", companding="2:1") for k, link in enumerate(job.links)
        )
        if line_up
        else (),
    )


def with_name(job: Job, name: str) -> Job:
    first, *rest = job.links
    return replace(job, links=(replace(first, name=name), *rest))
