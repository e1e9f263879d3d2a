"""Values come back exactly as they were put in, or are refused in a sentence."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from json_values import alike, letters, values
from thorough import cases

from bandwright.errors import InputError
from bandwright.store import Draft, JobFile
from bandwright.store.records import moment_text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("\ud800", "half a surrogate pair"),
        ({"\udfff": 1}, "half a surrogate pair"),
        (Decimal("NaN"), "NaN is not a finite number"),
        (Decimal("-Infinity"), "-Infinity is not a finite number"),
        (10**5000, "a whole number of more than 4300 digits"),
    ],
    ids=["half a letter", "half a key", "no number", "no end", "no reader"],
)
def test_what_cannot_be_kept_is_refused_in_a_sentence(job: JobFile, value: Any, text: str) -> None:
    before = job.seq
    with pytest.raises(InputError, match=text) as told:
        job.change(lambda draft: draft.add("link", {"name": value}), who="Mara", what="Added a link")
    assert told.value.faults[0].code == "unstorable"
    assert job.seq == before


def test_lists_without_end_are_refused(job: JobFile) -> None:
    deep: list[Any] = []
    for _ in range(200):
        deep = [deep]
    with pytest.raises(InputError, match="lie more than 100 deep in each other"):
        job.change(lambda draft: draft.add("link", deep), who="Mara", what="Added a link")


@pytest.mark.parametrize("value", [0.1, float("nan"), b"bytes", {1: 2}, {3}, datetime(2027, 5, 14, tzinfo=UTC)])
def test_what_json_cannot_hold_exactly_is_a_mistake_of_the_program(job: JobFile, value: Any) -> None:
    with pytest.raises(TypeError):
        job.change(lambda draft: draft.add("link", {"name": value}), who="Mara", what="Added a link")
    assert job.entries("link") == ()


@pytest.mark.parametrize("what", ["who", "what", "client_key"])
def test_names_and_sentences_that_are_no_unicode_are_refused(job: JobFile, what: str) -> None:
    given = {"who": "Mara", "what": "Wrote", "client_key": "k"} | {what: "half \ud800"}
    with pytest.raises(InputError, match="half of a surrogate pair is no letter"):
        job.change(lambda draft: draft.add_note("x"), **given)
    assert job.notes() == ()


def test_nothing_is_found_under_what_cannot_be_kept(job: JobFile) -> None:
    for ask in (job.entry, job.entry_named, job.blob, job.device_with, job.state):
        with pytest.raises(InputError, match="half of a surrogate pair is no letter"):
            ask("\ud800")
    with pytest.raises(InputError, match="a number is too large"):
        job.plan(10**30)


# Through the file and back


@pytest.fixture
def job(tmp_path: Path) -> Iterator[JobFile]:
    with JobFile.create(tmp_path / "quay.bwjob", lambda draft: None, who="Mara", what="Made it") as made:
        yield made


@given(value=values, name=letters, given_id=letters, text=letters, sentence=letters.filter(bool))
@settings(max_examples=cases(60), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_everything_that_was_put_in_comes_out_of_the_file(
    job: JobFile, value: Any, name: str, given_id: str, text: str, sentence: str
) -> None:
    def fill(draft: Draft) -> None:
        draft.say(sentence)
        for entry in job.entries("link"):
            draft.remove(entry.uid)
        draft.add("link", value, id=given_id)
        draft.add_sweep(name, name.encode(), value)
        draft.add_note(text)
        draft.set_state(name, [value])

    done = job.change(fill, who=name)
    with JobFile.open(job.path, read_only=True) as other:
        (entry,), sweep, note = other.entries("link"), other.sweeps()[-1], other.notes()[-1]
        assert alike(value, entry.value)
        assert entry.id == given_id
        assert alike(value, sweep.facts)
        assert (sweep.name, other.blob(sweep.sha256)) == (name, name.encode())
        assert note.text == text
        assert alike([value], other.state(name))
        last = other.events_of(done.change or 0)[-1]
        assert (last.who, last.what) == (name, sentence)


@given(
    st.datetimes(min_value=datetime(1, 1, 2), max_value=datetime(9999, 12, 30)),  # noqa: DTZ001 - a zone follows
    st.integers(-1439, 1439).map(lambda minutes: timezone(timedelta(minutes=minutes))),
)
@settings(max_examples=cases(200), deadline=None)
def test_a_moment_is_kept_to_the_microsecond_in_whatever_zone(moment: datetime, zone: timezone) -> None:
    given = moment.replace(tzinfo=zone)
    assert datetime.fromisoformat(moment_text(given)) == given
    assert len(moment_text(given)) == len("2027-05-14T15:40:00.000000Z")


def test_a_time_without_a_zone_is_a_mistake_of_the_program() -> None:
    with pytest.raises(ValueError, match="has no time zone"):
        moment_text(datetime(2027, 5, 14))  # noqa: DTZ001 - the point of it
