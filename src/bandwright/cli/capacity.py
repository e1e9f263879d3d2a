"""`bandwright capacity`: how many links of one radio type fit."""

from __future__ import annotations

from pathlib import Path

import click

from bandwright.cli import options, shared

__all__ = ["command"]


@shared.command(example="bandwright capacity quay.toml --radio heron --beside sheets --sweep base.csv")
@options.brief_argument
@click.option("--radio", "radio_id", metavar="ID", help="The radio type; may be left out where the brief has one only.")
@click.option(
    "--beside",
    metavar="PLAN",
    type=options.FILE,
    help="A plan.json of this job, or its folder: its carriers stay, and stay clean. "
    "Without it the links of the brief do not count.",
)
@options.sweep_option
@options.trace_option
@options.own_transmitters_option
@click.option("--place", "place_id", metavar="ID", help="The place; the first one of the brief when left out.")
@options.seed_option
@options.time_limit_option
def command(
    *,
    brief: Path,
    radio_id: str | None,
    beside: Path | None,
    sweeps: tuple[Path, ...],
    trace: str | None,
    own_transmitters: str,
    place_id: str | None,
    seed: int | None,
    time_limit_s: float | None,
) -> shared.Answer:
    """Say how many links of a radio type fit under the permits of BRIEF, clean beside each other and other users.

    Also what each single change would gain: one more TV channel, a family of products off, spacing one step down.
    The number found is verified, the upper bound is proven. Ctrl-C keeps what was found so far and ends with 130.
    """
    from bandwright.service.capacity import count_room

    with shared.working(trace=trace) as context:
        counted = count_room(
            context,
            brief,
            radio_id=radio_id,
            beside=beside,
            sweep_paths=sweeps,
            place_id=place_id,
            own_transmitters=own_transmitters,
            time_limit_s=time_limit_s,
            seed=seed,
        )
    columns = shared.columns()
    return shared.Answer(
        text=lambda: counted.text(columns=columns),
        document=lambda: counted.document().model_dump_json(by_alias=True),
        exit_code=counted.exit_code,
    )
