"""What pydantic found wrong with a brief, in the words of a brief."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import BaseModel

from bandwright.documents.brief.models import field_at, keys_at
from bandwright.documents.brief.plain import ONCE
from bandwright.documents.faults import Findings, given_text, key_text, list_text, nearest_hint, nearest_word

__all__ = ["note_all"]

Path = tuple[str | int, ...]
Model = type[BaseModel]


def note_all(model: Model, errors: list[Any], findings: Findings) -> None:
    """Note every error of a validation; a key that is missing because it is misspelt is noted once."""
    strays = [_path(item) for item in errors if item["type"] == "extra_forbidden"]
    misspelt = {(*path[:-1], nearest_word(str(path[-1]), keys_at(model, path[:-1]))) for path in strays}
    for item in errors:
        path = _path(item)
        if path not in misspelt:
            _NOTES.get(item["type"], _note_value)(model, item, path, findings)


def _path(item: Any) -> Path:
    return tuple(part for part in item["loc"] if part != "[key]")


def _note_unknown(model: Model, item: Any, path: Path, findings: Findings) -> None:
    key, known = str(path[-1]), keys_at(model, path[:-1])
    inside = _local(path[:-1]) if len(path) > 3 else ""
    given = item["input"]
    table = isinstance(given, dict) or (isinstance(given, list) and any(isinstance(one, dict) for one in given))
    what = f'there is no key "{key}"' if len(path) > 1 else f'there is no {"table" if table else "key"} "{key}" here'
    where = f"{what} in {inside}" if inside else what
    hint = nearest_hint(key, known)
    text = f"{where}." if hint else f"{where}; known: {list_text(known, most=40)}."
    findings.add("unknown-key", path, text, given=key, allowed=list_text(known, most=40), hint=hint)


def _note_missing(model: Model, item: Any, path: Path, findings: Findings) -> None:
    field = field_at(model, path)
    about = f" ({field.description})" if field is not None and field.description and path[-1] != "id" else ""
    if len(path) == 1:
        brackets = f"[{path[0]}]" if path[0] in ONCE else f"[[{path[0]}]]"
        start = "`bandwright init` writes a brief with one of each."
        findings.add("missing", path, f"{brackets} is missing{about}.", allowed=brackets, hint=start)
        return
    examples = field.examples if field is not None else None
    shown = f"{path[-1]} = {given_text(examples[0])}" if examples else None
    hint = f"For example: {shown}" if shown else None
    findings.add("missing", path, f"{_local(path)} is missing{about}.", allowed=shown, hint=hint)


def _note_length(model: Model, item: Any, path: Path, findings: Findings) -> None:
    if len(path) == 1:
        _note_missing(model, item, path, findings)
        return
    wanted = item["ctx"].get("min_length") or item["ctx"].get("max_length")
    text = f"{_local(path)} is {given_text(item['input'])}, but must have {wanted} entries."
    findings.add("wrong-length", path, text, given=given_text(item["input"]), allowed=f"{wanted} entries")


def _note_no_list(model: Model, item: Any, path: Path, findings: Findings) -> None:
    given, key = given_text(item["input"]), str(path[-1])
    if isinstance(item["input"], dict) and (len(path) == 1 or key == "variant"):
        brackets = "[[radio.variant]]" if key == "variant" else f"[[{key}]]"
        text = f"{key} may come several times; write {brackets} above its keys, with two brackets."
        findings.add("wrong-brackets", path, text, given=given, allowed=brackets)
        return
    hint = f"Put it in brackets: {key} = [{given}]"
    findings.add(
        "not-a-list", path, f"{_local(path)} is {given}, but must be a list.", given=given, allowed="a list", hint=hint
    )


def _note_no_table(model: Model, item: Any, path: Path, findings: Findings) -> None:
    given, key = given_text(item["input"]), str(path[0])
    if len(path) == 1 and isinstance(item["input"], list):
        text = f"{key} can come only once; write [{key}] above its keys, with single brackets."
        findings.add("wrong-brackets", path, text, given=given, allowed=f"[{key}]")
        return
    text = f"{_local(path) or key_text(path)} is {given}, but must be a table."
    hint = f"Write [{key}] above its keys." if len(path) == 1 else "Put keys in braces: { key = value }"
    findings.add("not-a-table", path, text, given=given, allowed="a table", hint=hint)


def _note_version(model: Model, item: Any, path: Path, findings: Findings) -> None:
    given = given_text(item["input"])
    text = f"{path[0]} is {given}, but must be 1, the version of briefs that this program reads."
    findings.add("unknown-version", path, text, given=given, allowed="1")


def _note_value(model: Model, item: Any, path: Path, findings: Findings) -> None:
    """Note a value that one of our own types refuses; for anything else pydantic's words have to do."""
    given = given_text(item["input"])
    message = str(item["msg"])
    context = item.get("ctx", {})
    problem = context.get("problem") or message[:1].lower() + message[1:]
    is_key = item["loc"][-1] == "[key]"
    subject = f"{_local(path[:-1])} names" if is_key else f"{_local(path)} is"
    text = f"{subject} {given}, but {problem}."
    allowed = context.get("allowed") or problem
    findings.add(item["type"], path, text, given=given, allowed=allowed, hint=context.get("hint"))


_NOTES: dict[str, Callable[[Model, Any, Path, Findings], None]] = {
    "extra_forbidden": _note_unknown,
    "missing": _note_missing,
    "too_short": _note_length,
    "too_long": _note_length,
    "list_type": _note_no_list,
    "dict_type": _note_no_table,
    "model_type": _note_no_table,
    "model_attributes_type": _note_no_table,
    "literal_error": _note_version,
}


def _local(path: Path) -> str:
    """Return a path as seen from its table.

    >>> _local(("radio", 0, "tuning", 1, "step_khz"))
    'tuning[2].step_khz'
    """
    match path:
        case ["radio", int(), "variant", int(), _, *_]:
            return key_text(path[4:])
        case [str(), int(), _, *_]:
            return key_text(path[2:])
        case [str(), str(), *_]:
            return key_text(path[1:])
    return key_text(path)
