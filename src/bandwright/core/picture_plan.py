"""The pictures of a plan: each sweep that counted at a place, with what it shows and the carriers planned there."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from bandwright.core.drawing import Drawing
from bandwright.core.job import Job, Place
from bandwright.core.picture import carriers_of, plot_right, sweep_picture
from bandwright.core.picture_air import MOST_NAMED, antenna_text, found_carrier, over_time
from bandwright.core.picture_trace import trace_of
from bandwright.core.planning.plan import Plan
from bandwright.core.sweep import Sweep
from bandwright.core.unlisted import unlisted_carriers

__all__ = ["plan_pictures"]


def plan_pictures(
    job: Job,
    plan: Plan,
    place: Place,
    sweep: Sweep,
    *,
    about: str,
    taken: Sequence[str] = (),
    named: bool = True,
    page: float | None = None,
) -> tuple[Drawing, ...]:
    """Return a sweep with the plan at one place, and, where it has time, the waterfall to stand below on the same axis.

    Parameters
    ----------
    about
        The sweep in words: its name, time, age and state.
    taken
        Labels of the TV channels on which sweeps of the place show a multiplex.
    named
        Whether links go by id and name, or by id alone.
    page
        Width over height of the page on which each picture stands alone; a sweep that would leave some of its width
        unused is drawn wider.

    Beside the links, spare carriers and other users stand the strongest carriers that this sweep shows and the brief
    does not list.
    """
    here = [link.radio for link in job.links if job.place_of(link) == place]
    found = unlisted_carriers(job, [sweep.described(place=place.id)], {place.id: tuple(taken)})
    strongest = sorted(found, key=lambda item: -item.above_floor_db)[:MOST_NAMED]
    draw = partial(
        sweep_picture,
        title=f"{job.title}, {place.name}" if len(job.places) > 1 else job.title,
        subtitle=f"{about}{antenna_text(sweep)}",
        trace=trace_of(sweep, here),
        permits=[permit for permit in job.permits if permit.place in (None, place.id)],
        raster=place.raster,
        taken=taken,
        closed=place.tv_closed,
        carriers=(
            *carriers_of(job, plan, place=place.id, named=named),
            *(found_carrier(item.carrier_hz, item.width_hz, item.level_db, item.unit) for item in strongest),
        ),
    )
    drawing = draw()
    below = over_time(sweep, raster=place.raster, zone=place.timezone, right=plot_right(drawing))
    if page is not None and drawing.height * page > drawing.width:
        drawing = draw(width=drawing.height * page)
    return (drawing,) if below is None else (drawing, below)
