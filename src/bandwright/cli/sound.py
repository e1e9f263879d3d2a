"""`bandwright sound`: whether links will sound right, and how kinds of companding carry a sound."""

from __future__ import annotations

from pathlib import Path

import click

from bandwright.cli import options, shared

__all__ = ["command"]

_SOUNDS = ("speech", "sung", "keys", "clapper")


@shared.command(
    example="bandwright sound quay.toml --link L01\n  bandwright sound quay.toml --compare L01 --wav listen"
)
@options.brief_argument
@click.option("--link", "link_ids", metavar="ID", multiple=True, help="Only this link; once for each.")
@options.pdf_option
@options.names_option
@options.paper_option
@click.option(
    "--compare",
    metavar="ID",
    help="Instead, simulate the kinds of companding of this link or radio type, and say which.",
)
@click.option("--sound", "material", type=click.Choice(_SOUNDS), help="With --compare: try this sound of ours.")
@click.option(
    "--file", "source_file", metavar="FILE.wav", type=options.FILE, help="With --compare: try this recording."
)
@click.option("--walking", is_flag=True, help="With --compare: let the carrier fade as it does while somebody walks.")
@click.option(
    "--wav", metavar="DIR", type=options.FILE, help="With --compare: write what was sent and received, to hear."
)
def command(
    *,
    brief: Path,
    link_ids: tuple[str, ...],
    pdf: Path | None,
    names: str,
    paper: str,
    compare: str | None,
    material: str | None,
    source_file: Path | None,
    walking: bool,
    wav: Path | None,
) -> shared.Answer:
    """Say how each link of BRIEF sounds: gain, levels from mouth to recorder, companding, times, levels at the ear.

    The brief states what links carry as [[source]], their [[microphone]]s, the audio and companding of radio types, and
    where outputs go as [[feed]]; what it leaves out is listed, and the rest is told. Exit code 1 when something is
    wrong or cannot be told.

    With --compare, every kind of companding that a radio type can be set to carries a sound over a simulated link at
    several RF levels, and one is recommended with the figures that decided it.
    """
    if compare is None:
        _only_with_compare(material=material, file=source_file, walking=walking or None, wav=wav)
        return _line_up(brief, link_ids, pdf, names, paper)
    if link_ids or pdf is not None:
        raise click.UsageError("--link and --pdf do not go with --compare, which names a link or radio type itself.")
    if material is not None and source_file is not None:
        raise click.UsageError("--sound and --file name two sounds; leave one out.")
    from bandwright.service.sound_compare import compare_sound

    with shared.working() as context:
        found = compare_sound(
            context, brief, name=compare, wav=wav, source_file=source_file, material=material, walking=walking
        )
    columns = shared.columns()
    return shared.Answer(
        text=lambda: found.text(columns=columns),
        document=lambda: found.document().model_dump_json(by_alias=True),
        exit_code=found.exit_code,
    )


def _only_with_compare(**given: object) -> None:
    stray = [f"--{'sound' if name == 'material' else name}" for name, value in given.items() if value is not None]
    if stray:
        raise click.UsageError(f"{stray[0]} goes with --compare only; add --compare with a link or radio type.")


def _line_up(brief: Path, link_ids: tuple[str, ...], pdf: Path | None, names: str, paper: str) -> shared.Answer:
    from bandwright.service.sound import sound_of_links

    with shared.working() as context:
        if pdf is not None:
            from bandwright.service.headed_sheet import check_sheet
            from bandwright.service.sound_sheet import write_sound_sheet

            check_sheet(pdf, about="sound")
        sounded = sound_of_links(context, brief, link_ids=link_ids)
        if pdf is not None:
            write_sound_sheet(context, sounded, pdf, names=names, paper=paper)
    columns = shared.columns()
    return shared.Answer(
        text=lambda: sounded.text(columns=columns),
        document=lambda: sounded.document().model_dump_json(by_alias=True),
        exit_code=sounded.exit_code,
    )
