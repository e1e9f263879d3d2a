"""The brief: a TOML text that describes a job, read into one frozen `Job` with every fault named at once."""

from bandwright.documents.brief.cell import keys_of_table, table_faults
from bandwright.documents.brief.cell_text import cell_value
from bandwright.documents.brief.kitfile import read_kit
from bandwright.documents.brief.plain import ALWAYS, DEEPEST, ONCE, as_toml_gives, tables_as_toml_gives
from bandwright.documents.brief.reader import Reading, init_text, read_brief, read_parsed
from bandwright.documents.brief.references import Rename, renamed, renames_of, spread
from bandwright.documents.brief.salvage import Seen
from bandwright.documents.brief.tables import Brief
from bandwright.documents.brief.toml import parse_toml
from bandwright.documents.brief.writer import KINDS, brief_json, brief_toml

__all__ = [
    "ALWAYS",
    "DEEPEST",
    "KINDS",
    "ONCE",
    "Brief",
    "Reading",
    "Rename",
    "Seen",
    "as_toml_gives",
    "brief_json",
    "brief_toml",
    "cell_value",
    "init_text",
    "keys_of_table",
    "parse_toml",
    "read_brief",
    "read_kit",
    "read_parsed",
    "renamed",
    "renames_of",
    "spread",
    "table_faults",
    "tables_as_toml_gives",
]
