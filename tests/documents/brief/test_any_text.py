"""Whatever stands in a brief, the answer is a job or a list of faults, never anything else."""

from brief_examples import FILE, SAMPLE, library
from hypothesis import given, settings
from hypothesis import strategies as st

from bandwright.core.job import Job
from bandwright.documents.brief import init_text, read_brief
from bandwright.errors import Fault, InputError
from bandwright.reference.demo import demo_brief_text

BRIEFS = (SAMPLE, init_text(), demo_brief_text())
PIECES = sorted({piece for brief in BRIEFS for piece in brief.split()})
VALUES = (
    *("nan", "-inf", "0", "-1", "1e400", "1e-400", "0.0000001", "true", '""', '"x"', "[]", "[[]]", "{}", "[{}]"),
    *("[1, 'a', {}]", "2027-05-14", "23:59:60", "1979-05-27T00:32:00.999999-07:00", "0001-01-01", '"é\\u0000"'),
    *("9" * 30, "0x" + "f" * 5000, '"""a\nb"""', "[[1, 2], [2, 1]]", '"heron/narrow"', "[2, [3, [4]]]"),
)


def faults_or_job(text: str) -> tuple[Fault, ...] | Job:
    try:
        return read_brief(text, file=FILE, library=library())
    except InputError as error:
        return error.faults


def reads_or_says_why_not(text: str) -> None:
    found = faults_or_job(text)
    if isinstance(found, Job):
        return
    assert found
    for fault in found:
        assert fault.file == FILE
        assert "\n" not in str(fault)
        assert fault.line is None or 1 <= fault.line <= text.count("\n") + 1
    lines = [fault.line or 0 for fault in found]
    assert lines == sorted(lines)


@settings(deadline=None)
@given(st.text())
def test_any_text_is_read_or_refused(text):
    reads_or_says_why_not(text)


@settings(deadline=None)
@given(st.lists(st.sampled_from([*PIECES, *VALUES, "\n", "="]), max_size=30).map(" ".join))
def test_any_heap_of_pieces_is_read_or_refused(text):
    reads_or_says_why_not(text)


@settings(deadline=None)
@given(st.sampled_from(BRIEFS), st.data())
def test_a_brief_with_some_values_replaced_is_read_or_refused(brief, data):
    rows = brief.split("\n")
    with_value = [number for number, row in enumerate(rows) if "=" in row and not row.startswith("#")]
    for number in data.draw(st.lists(st.sampled_from(with_value), min_size=1, max_size=4, unique=True)):
        rows[number] = f"{rows[number].split('=')[0]}= {data.draw(st.sampled_from(VALUES))}"
    reads_or_says_why_not("\n".join(rows))


@settings(deadline=None)
@given(st.sampled_from(BRIEFS), st.data())
def test_a_brief_with_some_lines_moved_dropped_or_doubled_is_read_or_refused(brief, data):
    rows = brief.split("\n")
    for _ in range(data.draw(st.integers(1, 3))):
        here = data.draw(st.integers(0, len(rows) - 1))
        there = data.draw(st.integers(0, len(rows) - 1))
        row = rows[here]
        if data.draw(st.booleans()):
            del rows[here]
        if data.draw(st.booleans()):
            rows.insert(there, row)
    reads_or_says_why_not("\n".join(rows))


@settings(deadline=None)
@given(st.sampled_from(BRIEFS), st.data())
def test_a_brief_with_some_characters_changed_is_read_or_refused(brief, data):
    at = data.draw(st.integers(0, len(brief)))
    length = data.draw(st.integers(0, 10))
    piece = data.draw(st.text(max_size=5) | st.sampled_from(["[", "]", '"', "{", "}", "=", "\r", "\ufeff", "\x00"]))
    reads_or_says_why_not(brief[:at] + piece + brief[at + length :])


NAMES = st.sampled_from(["id", "radio", "link", "job", "title", "a b", "place", "count", "1", ""])
TREES = st.recursive(
    st.sampled_from(VALUES),
    lambda inner: (
        st.lists(inner, max_size=3).map(lambda items: f"[{', '.join(items)}]")
        | st.dictionaries(NAMES, inner, max_size=3).map(
            lambda items: "{" + ", ".join(f'"{key}" = {value}' for key, value in items.items()) + "}"
        )
    ),
    max_leaves=8,
)


@settings(deadline=None)
@given(st.dictionaries(NAMES | st.sampled_from(["permit", "plan", "other", "pair"]), TREES, max_size=5))
def test_any_tree_of_values_is_read_or_refused(tree):
    text = "\n".join(f'"{key}" = {value}' for key, value in tree.items())
    reads_or_says_why_not(text)
