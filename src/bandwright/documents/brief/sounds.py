"""What a brief says of sound, as core values, with everything that it names checked."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from bandwright.core.audio import Audio, Earpiece, Feed, Gains, Microphone, Output, Source
from bandwright.core.kit import Companding, LinkSound, RadioType
from bandwright.core.sound.tables import SoundTables
from bandwright.documents.brief.sound_tables import (
    AudioTable,
    CompandingTable,
    FeedTable,
    GainTable,
    OutputTable,
    SourceTable,
)
from bandwright.documents.brief.tables import Brief, LinkTable

__all__ = ["Known", "Sounds", "audio_of", "companding_of", "link_sound"]

Path = tuple[str | int, ...]
Known = Callable[[str | None, Iterable[str], Path, str], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sounds:
    """Microphones, sources and feeds of one brief; `known` notes a name that is not known and tells whether it is.

    Without `all_radios` some could not be read, and an output may be theirs.
    """

    brief: Brief
    tables: SoundTables
    radios: Mapping[str, RadioType]
    link_ids: Mapping[str, tuple[str, ...]]
    all_radios: bool
    known: Known

    def microphones(self) -> tuple[Microphone, ...]:
        """Return every microphone."""
        return tuple(Microphone(**_alike(table, Microphone)) for table in self.brief.microphone)

    def sources(self) -> tuple[Source, ...]:
        """Return every source."""
        return tuple(self._source(index, table) for index, table in enumerate(self.brief.source))

    def feeds(self) -> tuple[Feed, ...]:
        """Return every feed."""
        feeding = self._feeding() if self.brief.feed else ()
        return tuple(self._feed(index, table, feeding) for index, table in enumerate(self.brief.feed))

    def _source(self, index: int, table: SourceTable) -> Source:
        efforts = [effort.name for effort in self.tables.efforts]
        for key in ("quietest", "loudest"):
            self.known(getattr(table, key), efforts, ("source", index, key), "effort of speech")
        return Source(**{**_alike(table, Source), "kind": table.what})

    def _feed(self, index: int, table: FeedTable, feeding: Sequence[str]) -> Feed:
        path: Path = ("feed", index)
        self.known(table.reference, [one.name for one in self.tables.alignments], (*path, "reference"), "alignment")
        outputs = [one.name for radio in self.radios.values() for one in (radio.audio.outputs if radio.audio else ())]
        if self.all_radios:
            self.known(table.output, outputs, (*path, "output"), "output")
        for name in table.names:
            self.known(name, feeding, (*path, "for"), "unit, link, rack or receiver")
        names = [link_id for name in table.names for link_id in self.link_ids.get(name, (name,))]
        earpiece = None if table.earpiece is None else Earpiece(**_alike(table.earpiece, Earpiece))
        stated = {**_alike(table, Feed), "trims": _gains(table.trims), "earpiece": earpiece}
        return Feed(**{**stated, "links": tuple(dict.fromkeys(names))})

    def _feeding(self) -> list[str]:
        """Return everything that a feed may name."""
        units, links = self.brief.unit, self.brief.link
        words = [unit.id for unit in units]
        words += [name for link_id, names in self.link_ids.items() for name in dict.fromkeys((link_id, *names))]
        words += [unit.rack for unit in units if unit.rack is not None]
        words += [word for link in links for word in (link.rack, link.receiver) if word is not None]
        return list(dict.fromkeys(words))


def link_sound(table: LinkTable, brief: Brief, radios: Mapping[str, RadioType], path: Path, known: Known) -> LinkSound:
    """Return what a link states of its sound; `known` notes a name that is not known."""
    receiver = radios[table.radio]
    if known(table.receiver_radio, radios, (*path, "receiver_radio"), "radio type"):
        receiver = radios[table.receiver_radio or table.radio]
    what = "kind of companding"
    known(table.companding, _kinds(radios[table.radio]), (*path, "companding"), what)
    known(table.receiver_companding, _kinds(receiver), (*path, "receiver_companding"), what)
    known(table.source, (one.id for one in brief.source), (*path, "source"), "source")
    known(table.microphone, (one.id for one in brief.microphone), (*path, "microphone"), "microphone")
    return LinkSound(**_alike(table, LinkSound))


def companding_of(table: CompandingTable) -> Companding:
    """Return a kind of companding as the core knows it."""
    return Companding(**_alike(table, Companding))


def audio_of(table: AudioTable) -> Audio:
    """Return the sound of a radio type as the core knows it."""
    outputs = tuple(map(_output, table.outputs))
    return Audio(**{**_alike(table, Audio), "gains": _gains(table.gains), "outputs": outputs})


def _output(table: OutputTable) -> Output:
    stated = {**_alike(table, Output), "plug": table.what, "gains": _gains(table.gains)}
    return Output(**{**stated, "name": table.name or table.what.value})


def _gains(table: GainTable | None) -> Gains | None:
    return None if table is None else Gains(**_alike(table, Gains))


def _alike(table: BaseModel, kind: type[Any]) -> dict[str, Any]:
    """Return what a table states under the names that a core value has too; its name is its id when left out."""
    found = {key: getattr(table, key) for key in _shared(type(table), tuple(kind.__dataclass_fields__))}
    if "id" in found:
        found["name"] = found["name"] or found["id"]
    return found


@functools.cache
def _shared(table: type[BaseModel], names: tuple[str, ...]) -> tuple[str, ...]:
    """Return those of the names of a core value that a table has too: its keys, and what it works out of them."""
    return tuple(key for key in names if key in table.model_fields or hasattr(table, key))


def _kinds(radio: RadioType) -> list[str]:
    return [kind.name for kind in radio.companding if kind.name is not None]
