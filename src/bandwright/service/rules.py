"""The shipped rule tables: dated copies of published rules, to start from."""

from __future__ import annotations

from dataclasses import dataclass

from bandwright.core.library import RuleTable
from bandwright.core.planning.plan import Warn
from bandwright.core.words import CAUTIONS
from bandwright.documents.faults import list_text, nearest_hint
from bandwright.documents.outputs import RulesDocument, rules_document
from bandwright.errors import InputError
from bandwright.reference import rule_tables
from bandwright.sheets.rules_text import rules_text

__all__ = ["ShippedRules", "shipped_rules"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShippedRules:
    """Rule tables, and the caution that goes with them."""

    tables: tuple[RuleTable, ...]
    caution: str

    def document(self) -> RulesDocument:
        """Return the tables as the JSON document."""
        return rules_document(self.tables, warnings=(Warn(code="dated-copies", text=self.caution),))

    def text(self, *, in_full: bool, columns: int = 100) -> str:
        """Return the tables for a terminal of so many columns."""
        return rules_text(self.tables, self.caution, in_full=in_full, columns=columns)


def shipped_rules(rules_id: str | None = None) -> ShippedRules:
    """Return all shipped rule tables, or the one asked for."""
    known = {table.id: table for table in rule_tables()}
    if rules_id is None:
        return ShippedRules(tables=tuple(known.values()), caution=CAUTIONS[0])
    if rules_id not in known:
        raise InputError.single(
            "unknown-rules",
            f'There is no rule table "{rules_id}"; shipped are {list_text(known)}.',
            key="ID",
            given=rules_id,
            allowed=list_text(known),
            hint=nearest_hint(rules_id, known),
        )
    return ShippedRules(tables=(known[rules_id],), caution=CAUTIONS[0])
