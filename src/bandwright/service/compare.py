"""Compare two sweeps of one place: what changed, whose it is, and which links it touches."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from bandwright.core.bands import TvRaster
from bandwright.core.compare import AirComparison, compare_air
from bandwright.core.job import Job
from bandwright.core.own_signals import OwnSignal, Touched, own_signal, touched_links
from bandwright.core.planning.build import spare_links
from bandwright.core.planning.plan import Warn
from bandwright.core.sweep import Sweep
from bandwright.documents.outputs import CompareDocument, Input, compare_document
from bandwright.errors import InputError
from bandwright.service.air import raster_named, read_sweeps
from bandwright.service.context import Context
from bandwright.service.inputs import Brought, load_brief, load_sweeps
from bandwright.service.stored import load_plan
from bandwright.sheets.compare_text import compare_text

__all__ = ["Compared", "check_place", "compare_sweeps", "compared"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """What changed; `owners` tells whose each change is, `links` how many links have a carrier to be touched."""

    comparison: AirComparison
    owners: tuple[OwnSignal | None, ...]
    touched: tuple[Touched, ...]
    links: int
    inputs: tuple[Input, ...]
    warnings: tuple[Warn, ...]

    @property
    def exit_code(self) -> int:
        """1 when something touches a link, else 0."""
        return 1 if self.touched else 0

    def text(self, *, columns: int) -> str:
        """Return the comparison for a terminal."""
        return compare_text(
            self.comparison,
            self.owners,
            self.touched,
            links=self.links,
            warnings=self.warnings,
            columns=columns,
        )

    def document(self) -> CompareDocument:
        """Return the comparison as the JSON document."""
        return compare_document(self.comparison, self.owners, self.touched, inputs=self.inputs, warnings=self.warnings)


def compare_sweeps(
    context: Context,
    old: Path,
    new: Path,
    *,
    brief: Path | None = None,
    plan: Path | None = None,
    raster_id: str | None = None,
    own_transmitters: str = "unknown",
) -> Compared:
    """Return what changed from one sweep to another, and what that means for the carriers of a brief and its plan.

    Parameters
    ----------
    plan
        A plan.json or its folder: the carriers of its links count. Without one, those of held links do.
    own_transmitters
        How the new sweep was made, where its note does not say: "off", "on" or "unknown".
    """
    if brief is not None:
        stated = None if own_transmitters == "unknown" else own_transmitters
        return _beside(context, (old, new), load_brief(context, brief), plan=plan, raster_id=raster_id, stated=stated)
    if plan is not None:
        text = "A plan is read together with its brief; name the brief behind the two sweeps."
        raise InputError.single("no-brief", text, key="--plan", given=str(plan), allowed="OLD NEW BRIEF")
    sweeps, inputs = read_sweeps(context, (old, new))
    check_place(*sweeps, file=str(new))
    later = sweeps[1] if own_transmitters == "unknown" else sweeps[1].described(own_transmitters=own_transmitters)
    comparison = compare_air(sweeps[0], later, raster=raster_named(raster_id) if raster_id is not None else None)
    return Compared(
        comparison=comparison,
        owners=(None,) * len(comparison.changes),
        touched=(),
        links=0,
        inputs=tuple(inputs),
        warnings=tuple(_notes(comparison)),
    )


def check_place(old: Sweep, new: Sweep, *, file: str) -> None:
    """Refuse sweeps that are stated to be of two places; `file` is the new one, for the error."""
    if old.place is None or new.place is None or old.place == new.place:
        return
    text = f'the old sweep was made at "{old.place}" and this one at "{new.place}"; compare sweeps of one place.'
    raise InputError.single("two-places", text, file=file, given=new.place, allowed=old.place)


def _beside(
    context: Context,
    paths: tuple[Path, Path],
    brought: Brought,
    *,
    plan: Path | None,
    raster_id: str | None,
    stated: str | None,
) -> Compared:
    job = brought.job
    sweeps, inputs = load_sweeps(context, paths, job)
    check_place(*sweeps, file=str(paths[1]))
    carriers, plan_inputs, warnings = _carriers(job, brought, plan)
    return compared(
        job,
        sweeps[0],
        sweeps[1].described(own_transmitters=stated),
        carriers=carriers,
        raster=raster_named(raster_id) if raster_id is not None else None,
        inputs=(*brought.inputs, *plan_inputs, *inputs),
        warnings=warnings,
    )


def compared(
    job: Job,
    old: Sweep,
    new: Sweep,
    *,
    carriers: Mapping[str, int],
    raster: TvRaster | None = None,
    inputs: Sequence[Input],
    warnings: Sequence[Warn] = (),
) -> Compared:
    """Return what changed between two sweeps of one place of a job, and what that means for these carriers."""
    place = job.place_of(new)
    comparison = compare_air(old, new, raster=place.raster if raster is None else raster)
    links = [link for link in (*job.links, *spare_links(job)) if place in job.places_of(link) and link.id in carriers]
    owners = tuple(own_signal(change, links, carriers, sweep=new) for change in comparison.changes)
    return Compared(
        comparison=comparison,
        owners=owners,
        touched=touched_links(comparison, job, links, carriers, owners),
        links=len(links),
        inputs=tuple(inputs),
        warnings=(*warnings, *_notes(comparison), *_no_carriers(carriers)),
    )


def _carriers(
    job: Job, brought: Brought, plan: Path | None
) -> tuple[Mapping[str, int], tuple[Input, ...], tuple[Warn, ...]]:
    """Return the carriers of the plan, or of held links, with the file and warnings they come with."""
    if plan is None:
        return {link.id: link.hold_hz for link in job.links if link.hold_hz is not None}, (), ()
    at_hand = load_plan(plan, brought)
    return at_hand.plan.carriers, (at_hand.input,), at_hand.warnings


def _notes(comparison: AirComparison) -> Sequence[Warn]:
    found = []
    if comparison.new.own_transmitters == "unknown":
        text = (
            f"Nobody states whether own transmitters were on in {comparison.new.name}, so nothing there is taken for "
            "your own."
        )
        command = "--own-transmitters on or off says it."
        found.append(Warn(code="own-transmitters-unknown", text=text, where=comparison.new.name, command=command))
    if comparison.old.unit != comparison.new.unit:
        text = (
            f"Levels in {comparison.old.unit} and in {comparison.new.unit} are compared after alignment alone: "
            "a rise is right, a level of one says nothing of the other."
        )
        found.append(Warn(code="units-differ", text=text, where=comparison.new.name))
    return found


def _no_carriers(carriers: Mapping[str, int]) -> Sequence[Warn]:
    if carriers:
        return ()
    text = "No link has a carrier to look at."
    return (Warn(code="no-carriers", text=text, command="Name the plan with --plan."),)
