"""The columns of the one-page sheet, in their order; PDF and HTML show the same ones."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from bandwright.core.sheet import SheetRow

__all__ = ["COLUMNS", "TICKS", "Column", "visible_columns"]

# Boxes to tick by hand: the transmitter is set, somebody heard it, somebody walked with it.
TICKS = ("Set", "Heard", "Walked")


def _nothing(_: SheetRow) -> str | None:
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: what stands in it large, and what stands beside or below it small.

    `brief` and `brief_heading` take the place of the small text and the heading where a row has a single line.
    """

    key: str
    heading: str
    main: Callable[[SheetRow], str | None]
    small: Callable[[SheetRow], str | None] = _nothing
    brief: Callable[[SheetRow], str | None] | None = None
    brief_heading: str | None = None

    @property
    def shortest_heading(self) -> str:
        """The heading over what `shortest` tells."""
        return self.brief_heading or self.heading

    def shortest(self, row: SheetRow) -> str | None:
        """Return the small text as short as there is one."""
        return (self.brief or self.small)(row)

    def has_content(self, rows: Sequence[SheetRow]) -> bool:
        """Whether any row has something to say here."""
        return any(self.main(row) or self.small(row) for row in rows)


COLUMNS: tuple[Column, ...] = (
    Column(key="label", heading="Label", main=lambda row: row.label),
    Column(key="who", heading="Who and where", main=lambda row: row.who, small=lambda row: row.where),
    Column(key="radio", heading="Radio, band", main=lambda row: row.radio, small=lambda row: row.band),
    Column(key="mhz", heading="MHz", main=lambda row: row.mhz),
    Column(key="preset", heading="Preset", main=lambda row: row.preset),
    Column(key="tv", heading="TV channel", main=lambda row: row.tv_channel),
    Column(key="power", heading="Power", main=lambda row: row.power, small=lambda row: row.power_kind),
    Column(key="sound", heading="Gain, companding", main=lambda row: row.gain, small=lambda row: row.companding),
    Column(key="receiver", heading="Receiver, antenna", main=lambda row: row.receiver, small=lambda row: row.antenna),
    Column(key="desk", heading="Desk input", main=lambda row: row.desk_input),
    Column(key="spare", heading="Spare carrier", main=lambda row: row.spare_mhz, small=lambda row: row.spare),
    Column(
        key="closest",
        heading="Closest conflict",
        main=_nothing,
        small=lambda row: row.closest,
        brief=lambda row: row.closest_brief,
        brief_heading="Closest conflict, kHz away / asked",
    ),
)


def visible_columns(rows: Sequence[SheetRow]) -> tuple[Column, ...]:
    """Return the columns in which any row says something; carrier and closest conflict always stay.

    A row's warning words and the reason of an unplaced link stand in these two.
    """
    return tuple(column for column in COLUMNS if column.key in {"mhz", "closest"} or column.has_content(rows))
