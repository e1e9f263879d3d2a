from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from brief_examples import SAMPLE, job_of, library
from brief_tables import tables
from desks import NOON, context, desk_of
from hypothesis import given, settings
from thorough import cases

from bandwright.documents.brief import brief_toml, init_text, parse_toml, read_brief
from bandwright.errors import InputError, MachineError
from bandwright.reference.demo import demo_brief_text
from bandwright.service.desk import Desk
from bandwright.service.entries import add_entry
from bandwright.service.inputs import load_brief, load_sweeps
from bandwright.service.job import check_job, compact_job, create_job, fill, new_demo_job, new_job
from bandwright.service.job_brief import tables_of


def test_a_new_job_holds_a_title_and_tells_what_it_lacks(tmp_path):
    path = tmp_path / "quay.bwjob"
    new_job(context(), path, who="Ines")
    found = check_job(context(), path)
    assert (found.title, found.problems, found.exit_code) == ("quay", (), 0)
    assert found.faults == (
        f"{path}: [[permit]] is missing (what may be used). `bandwright init` writes a brief with one of each.",
        f"{path}: [[radio]] is missing (the kit). `bandwright init` writes a brief with one of each.",
    )
    assert found.counts["entries"] == 2


def test_a_job_that_is_there_is_never_touched(tmp_path):
    path = tmp_path / "quay.bwjob"
    path.write_text("mine")
    with pytest.raises(InputError, match="This is there already and is not overwritten"):
        new_job(context(), path, who="Ines")
    assert path.read_text() == "mine"


def test_the_demonstration_as_a_job_is_the_same_job_with_its_sweep(tmp_path):
    path = tmp_path / "demo.bwjob"
    new_demo_job(context(), path, who="Ines")
    brought = load_brief(context(), path)
    assert brought.job == job_of(demo_brief_text())
    sweeps, inputs = load_sweeps(context(), brought.sweeps_or([]), brought.job)
    assert [sweep.name for sweep in sweeps] == ["lantern-quay-base-sweep.csv"]
    assert [sweep.own_transmitters for sweep in sweeps] == ["off"]
    assert inputs[0].name == "lantern-quay-base-sweep.csv"
    with Desk.open(path, context=context()) as desk:
        assert desk.file.state("invented") is True


def test_a_job_is_known_by_its_head_and_not_by_its_name(tmp_path):
    with desk_of(tmp_path, name="brief.toml") as desk:
        desk.close()
        assert load_brief(context(), desk.path).job == job_of(SAMPLE)


def test_sweeps_that_are_named_go_before_those_of_the_job(tmp_path):
    brought = load_brief(context(), desk_closed(tmp_path))
    assert brought.sweeps_or([tmp_path / "x.csv"]) == [tmp_path / "x.csv"]


def test_a_brief_and_its_job_count_as_the_same_input(tmp_path):
    text = brief_toml(parse_toml(init_text(), file="f")[0])
    brief = tmp_path / "brief.toml"
    brief.write_text(text)
    (of_brief,) = load_brief(context(), brief).inputs
    (of_job,) = load_brief(context(), desk_closed(tmp_path, text)).inputs
    assert (of_brief.sha256, of_job.name) == (of_job.sha256, "quay.bwjob")


def test_what_is_wrong_in_a_job_is_told_under_its_name(tmp_path):
    path = tmp_path / "new.bwjob"
    new_job(context(), path, who="Ines")
    with pytest.raises(InputError, match=r"new\.bwjob: \[\[permit\]\] is missing"):
        load_brief(context(), path)


def test_a_file_that_only_looks_like_a_job_is_refused(tmp_path):
    path = tmp_path / "quay.bwjob"
    path.write_text("no job")
    with pytest.raises(InputError, match="this is no job file of Bandwright"):
        check_job(context(), path)


def test_a_job_is_made_small_and_stays_whole(tmp_path):
    path = desk_closed(tmp_path)
    with Desk.open(path, context=context()) as desk:
        uid = desk.file.change(lambda draft: draft.add_sweep("a.csv", bytes(10**6), {}), who="Ines", what="a").touched
        desk.file.change(lambda draft: draft.remove_sweep(uid[0][1]), who="Ines", what="b")
    found = compact_job(context(), path, who="Ines", drop_removed=True)
    assert (found.sweeps, found.before_bytes > 10**6 > found.after_bytes) == (1, True)
    assert check_job(context(), path).problems == ()


def test_a_desk_that_only_reads_changes_nothing(tmp_path):
    with (
        Desk.open(desk_closed(tmp_path), context=context(NOON), read_only=True) as desk,
        pytest.raises(MachineError, match="open for reading only"),
    ):
        desk.change(lambda draft: draft.set_state("a", 1), who="Ines", what="a")


def desk_closed(tmp_path, brief=SAMPLE):
    with desk_of(tmp_path, brief) as desk:
        return desk.path


@settings(max_examples=cases(25), deadline=None)
@given(tables())
def test_whatever_a_brief_says_comes_back_out_of_a_job_file(data):
    with TemporaryDirectory() as folder:
        path = Path(folder) / "quay.bwjob"
        create_job(context(), path, who="Ines", what="Made", make=lambda draft: fill(draft, data))
        read = load_brief(context(), path).job
        with Desk.open(path, context=context(), read_only=True) as desk:
            written = brief_toml(tables_of(desk.brief().entries))
    assert read == read_brief(brief_toml(data), file="a", library=library())
    assert read_brief(written, file="a", library=library()) == read


def test_a_brief_of_hundreds_of_links_keeps_its_order(tmp_path):
    links = "".join(f'[[link]]\nid = "X{n}"\nradio = "heron"\n' for n in range(300))
    with desk_of(tmp_path, SAMPLE + links) as desk:
        assert [link.id for link in desk.job().links] == ["L01", *(f"X{n}" for n in range(300))]


def test_many_hands_on_one_job_lose_nothing(tmp_path):
    with desk_of(tmp_path) as desk:

        def add(number):
            return add_entry(desk, who=f"w{number}", kind="earshot", value={"name": f"n{number}"}).entries[0].id

        with ThreadPoolExecutor(8) as pool:
            ids = list(pool.map(add, range(40)))
        assert len(set(ids)) == 40
        assert {entry.value["name"] for entry in desk.file.entries("earshot")} == {f"n{n}" for n in range(40)}
        assert desk.file.check() == ()
