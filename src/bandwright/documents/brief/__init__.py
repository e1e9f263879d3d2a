"""The brief: a TOML text that describes a job, read into one frozen `Job` with every fault named at once."""

from bandwright.documents.brief.kitfile import read_kit
from bandwright.documents.brief.reader import init_text, read_brief
from bandwright.documents.brief.tables import Brief

__all__ = ["Brief", "init_text", "read_brief", "read_kit"]
