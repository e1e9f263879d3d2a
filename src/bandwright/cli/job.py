"""`bandwright job`: job files made, checked, exported, imported and made small."""

from __future__ import annotations

from pathlib import Path

import click

from bandwright.cli import options, shared

__all__ = ["command"]

command = shared.Group(
    name="job",
    help="""Make, check, export and import job files.

    A job file holds one production: its brief, sweeps, plans with their evidence, versions, and who stated what. Every
    command that takes a BRIEF takes a job file too, and then counts the sweeps in it unless --sweep names others.
    `bandwright serve JOB` opens it in the browser.
    """,
)

_WHO = "command line"

_job = click.argument("job", metavar="JOB", type=options.FILE)
_who = click.option(
    "--as", "who", metavar="NAME", default=_WHO, show_default=True, help="Who does this, in the job's history."
)


def _written(path: Path, text: str) -> shared.Answer:
    from bandwright.service.job import written_document

    return shared.Answer(text=lambda: text, document=lambda: written_document(path).text())


@shared.command(example='bandwright job new quay.bwjob --title "Lantern Quay"')
@_job
@click.option("--title", metavar="TEXT", help="What the production is called; the name of the file without it.")
@click.option("--demo", is_flag=True, help="Fill it with the bundled, invented production and its sweep.")
@_who
def _new(*, job: Path, title: str | None, demo: bool, who: str) -> shared.Answer:
    """Make a new job file JOB; a file that is there already stays as it is."""
    from bandwright.service.job import new_demo_job, new_job

    with shared.working() as context:
        if demo:
            new_demo_job(context, job, who=who)
        else:
            new_job(context, job, who=who, title=title)
    return _written(job, f"Written: {job}. Open it with: bandwright serve {job}")


@shared.command(example="bandwright job check quay.bwjob")
@_job
def _check(*, job: Path) -> shared.Answer:
    """Look through JOB: whether the file is whole, and what its brief still lacks.

    Exit code 1 when the file is not whole. A brief that is not finished yet is told, and no damage.
    """
    from bandwright.service.job import check_job

    with shared.working() as context:
        found = check_job(context, job)
    return shared.Answer(
        text=found.text,
        document=lambda: found.document().model_dump_json(by_alias=True),
        exit_code=found.exit_code,
    )


@shared.command(example="bandwright job export quay.bwjob quay-files")
@_job
@click.argument("folder", metavar="FOLDER", type=options.FILE)
def _export(*, job: Path, folder: Path) -> shared.Answer:
    """Write everything in JOB into FOLDER as plain files, all or nothing.

    The brief as TOML and JSON, each sweep as it was given with its note, every plan (the one in force as plan.json),
    every version, the history with one event on a line, and job.json, from which `bandwright job import` makes a job
    again. Devices that are paired with the job are not written.
    """
    from bandwright.service.job_export import export_job

    with shared.working() as context:
        found = export_job(context, job, folder)
    return shared.Answer(
        text=found.text,
        document=lambda: found.document().text(),
    )


@shared.command(example="bandwright job import quay.toml quay.bwjob --sweep base.csv")
@click.argument("source", metavar="FROM", type=options.FILE)
@_job
@click.option(
    "--sweep", "sweeps", metavar="FILE", type=options.FILE, multiple=True, help="A sweep to take along with a brief."
)
@_who
def _import(*, source: Path, job: Path, sweeps: tuple[Path, ...], who: str) -> shared.Answer:
    """Make a new job file JOB from a brief (TOML or JSON), or from a folder that `bandwright job export` wrote."""
    from bandwright.service.job import import_brief
    from bandwright.service.job_export import import_folder

    with shared.working() as context:
        if source.is_dir():
            import_folder(context, source, job, who=who, sweeps=sweeps)
        else:
            import_brief(context, source, job, who=who, sweeps=sweeps)
    return _written(job, f"Written: {job}. Open it with: bandwright serve {job}")


@shared.command(example="bandwright job compact quay.bwjob --drop-removed")
@_job
@click.option(
    "--drop-removed", is_flag=True, help="Drop sweeps that were put aside, for good; nothing before can be undone then."
)
@_who
def _compact(*, job: Path, drop_removed: bool, who: str) -> shared.Answer:
    """Make JOB as small as it can be."""
    from bandwright.service.job import compact_job

    with shared.working() as context:
        found = compact_job(context, job, who=who, drop_removed=drop_removed)
    dropped = f", {found.sweeps} sweeps dropped" if drop_removed else ""
    return shared.Answer(
        text=lambda: f"{job}: {found.after_bytes} bytes, {found.before_bytes} before{dropped}.",
        document=lambda: found.document().text(),
    )


_COMMANDS = {
    "new": (_new, "Make a new job file."),
    "check": (_check, "Say whether a job file is whole, and what its brief lacks."),
    "export": (_export, "Write everything in a job file as plain files."),
    "import": (_import, "Make a job file from a brief, or from an exported folder."),
    "compact": (_compact, "Make a job file as small as it can be."),
}
for _name, (_one, _short) in _COMMANDS.items():
    _one.short_help = _short
    command.add_command(_one, _name)
