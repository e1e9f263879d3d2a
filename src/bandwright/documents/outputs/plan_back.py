"""A plan read back from its document with all its evidence: what a sheet is printed from, months later too."""

from __future__ import annotations

from datetime import datetime

from pydantic import ValidationError

from bandwright.core.planning.plan import (
    AtAntenna,
    Bound,
    Closest,
    Conflict,
    Kept,
    Moved,
    Noise,
    Note,
    PlacedLink,
    Plan,
    Reason,
    Spare,
    Unplaced,
    Warn,
)
from bandwright.documents.outputs.plan import (
    SCHEMA,
    AtAntennaModel,
    ClosestModel,
    KeptModel,
    NoiseModel,
    PlacedModel,
    PlanDocument,
    SpareModel,
)
from bandwright.documents.outputs.plan_levels import carrier_to_interference_of, plan_levels_of
from bandwright.errors import InputError
from bandwright.units import hz_from_khz

__all__ = ["plan_of", "read_plan_document"]


def read_plan_document(text: str | bytes, *, file: str) -> PlanDocument:
    """Return a plan document whole.

    Raises
    ------
    InputError
        When it is none, or one of another version of this program.
    """
    try:
        return PlanDocument.model_validate_json(text)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(map(str, first["loc"])) or "the text"
        words = f"this is no whole plan document: {where}: {first['msg'][0].lower()}{first['msg'][1:]}."
        raise InputError.single("bad-plan", words, file=file, allowed=SCHEMA) from error


def plan_of(document: PlanDocument) -> Plan:
    """Return the plan that a document tells of; `plan_document` makes the same document of it again."""
    return Plan(
        number=document.number,
        links=tuple(map(_placed, document.links)),
        spares=tuple(map(_spare, document.spares)),
        unplaced=tuple(
            Unplaced(
                id=item.id,
                name=item.name,
                reasons=tuple(Reason(code=reason.code, text=reason.text) for reason in item.reasons),
            )
            for item in document.unplaced
        ),
        bound=Bound(**document.bound.model_dump()),
        conflicts=tuple(
            Conflict(links=item.links, proven=item.status == "proven", remedies=item.remedies, text=item.text)
            for item in document.conflicts
        ),
        kept=_kept(document.kept),
        levels=plan_levels_of(document.levels),
        warnings=tuple(Warn(code=item.code, text=item.text, where=item.where) for item in document.warnings),
    )


def _placed(link: PlacedModel) -> PlacedLink:
    return PlacedLink(
        id=link.id,
        name=link.name,
        radio=link.radio,
        carrier_hz=link.carrier_hz,
        status=link.status,
        cautions=link.cautions,
        permit=link.permit,
        tv_channel=link.tv_channel,
        power_mw=None if link.power_mw is None else float(link.power_mw),
        preset=link.preset,
        noise=_noise(link.noise),
        closest=_closest(link.closest),
        notes=tuple(Note(code=note.code, text=note.text, sources=note.sources) for note in link.notes),
        was_hz=link.was_hz,
        carrier_to_interference=carrier_to_interference_of(link.carrier_to_interference),
    )


def _spare(spare: SpareModel) -> Spare:
    return Spare(
        id=spare.id,
        radio=spare.radio,
        carrier_hz=spare.carrier_hz,
        preset=spare.preset,
        tv_channel=spare.tv_channel,
        permit=spare.permit,
        noise=_noise(spare.noise),
        was_hz=spare.was_hz,
    )


def _kept(kept: KeptModel | None) -> Kept | None:
    if kept is None:
        return None
    moved = tuple(Moved(id=item.id, from_hz=item.from_hz, to_hz=item.to_hz) for item in kept.moved)
    return Kept(of=kept.of, status=kept.status, had=kept.had, moved=moved, new=kept.new)


def _noise(noise: NoiseModel | None) -> Noise | None:
    if noise is None:
        return None
    return Noise(
        state=noise.state,
        value=noise.value,
        unit=noise.unit,
        over_hz=None if noise.over_khz is None else _hz(noise.over_khz),
        above_floor_db=noise.above_floor_db,
        sweep=noise.sweep,
        sweep_started=datetime.fromisoformat(noise.sweep_started) if noise.sweep_started else None,
        at_antenna=_at_antenna(noise.at_antenna),
    )


def _at_antenna(there: AtAntennaModel | None) -> AtAntenna | None:
    return None if there is None else AtAntenna(**there.model_dump())


def _closest(closest: ClosestModel | None) -> Closest | None:
    if closest is None:
        return None
    return Closest(
        rule=closest.rule,
        family=closest.family,
        sources=closest.sources,
        product_hz=closest.product_hz,
        offset_hz=_hz(closest.offset_khz),
        required_hz=_hz(closest.required_khz),
        level_dbm=closest.level,
    )


def _hz(khz: float) -> int:
    return hz_from_khz(str(khz))
