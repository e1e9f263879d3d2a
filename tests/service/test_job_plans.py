import json
import threading

import pytest
from brief_examples import SAMPLE
from desks import desk_of, entry_named, planned_desk, sweep_csv
from processes import until

from bandwright.core.planning.breaches import check_carriers
from bandwright.core.planning.build import spare_links
from bandwright.documents.outputs import read_plan
from bandwright.engines.worker import Task, Worker
from bandwright.errors import InputError, MachineError
from bandwright.service import job_runs
from bandwright.service.desk import Desk
from bandwright.service.entries import add_entry, edit_entry
from bandwright.service.history import undo
from bandwright.service.job_brief import CellFaults
from bandwright.service.job_capacity import capacity_here
from bandwright.service.job_hand import explain_here, move_link, preview_link
from bandwright.service.job_plans import Overtaken, plan_in_force, plan_lines, plan_numbered, use_plan
from bandwright.service.job_replan import accept_replan, proposal_of, run_replan
from bandwright.service.job_runs import ground_of, run_plan
from bandwright.service.job_sweeps import add_sweep, change_sweep, sweep_lines
from bandwright.service.runs import RunGoing, Work, ask_worker, cancel_run, run_of, start_run
from bandwright.service.statements import standing, state_something

BRIEF = SAMPLE + "".join(f'[[link]]\nid = "M{n}"\nradio = "heron"\n' for n in range(4))


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    with planned_desk(tmp_path_factory.mktemp("job"), BRIEF) as found:
        return found.path


@pytest.fixture
def desk(whole, tmp_path):
    path = tmp_path / whole.name
    path.write_bytes(whole.read_bytes())
    with Desk.open(path) as found:
        yield found


def edit(desk, named, **changes):
    entry = entry_named(desk, named)
    return edit_entry(desk, entry.uid, who="Ines", base=entry.revision, changes=changes)


def uid_of(desk, named):
    return entry_named(desk, named).uid


def refused(call, *args, **keys):
    with pytest.raises(InputError) as caught:
        call(*args, **keys)
    return caught.value


# --------------------------------------------------------------------------------------------------------- runs


def test_a_run_makes_a_numbered_plan_that_breaks_nothing_and_is_in_force(desk):
    plan = plan_in_force(desk)
    assert run_of(desk) is None
    assert (plan.number, plan.stale, plan.without()) == (1, None, [])
    assert check_carriers(desk.job(), plan.carriers()) == ()
    stored = read_plan(desk.file.blob(plan.row.sha256).decode(), file="plan.json")
    assert (stored.check_phrase, stored.number) == (plan.row.check_phrase, 1)


def test_the_plan_names_the_brief_and_the_sweeps_it_stands_on(desk):
    add_sweep(desk, who="Ines", name="base.csv", data=sweep_csv(), stated={"own_transmitters": "off"})
    run_plan(desk, who="Ines")
    assert [item.name for item in plan_in_force(desk).document.inputs] == ["quay.bwjob", "base.csv"]
    assert plan_in_force(desk).document.links[0].noise.sweep == "base.csv"


def test_a_plan_over_ticked_links_waits_to_be_put_in_force(desk):
    state_something(desk, who="Tom", what="set", about=uid_of(desk, "L01"))
    state = run_plan(desk, who="Ines", seed=5)
    assert (state.state, state.plan) == ("done", 2)
    assert state.text == (
        "Plan 2: 5 links placed. Links are set by the plan in force, so it stays; put this one in force yourself."
    )
    assert plan_in_force(desk).number == 1
    assert [(line.number, line.current) for line in plan_lines(desk)] == [(2, False), (1, True)]
    use_plan(desk, 2, who="Ines")
    moved = plan_numbered(desk, 1).carriers()["L01"] != plan_numbered(desk, 2).carriers()["L01"]
    assert bool(standing(desk)) is not moved


def test_a_brief_that_cannot_be_planned_is_refused_at_its_cells(desk):
    edit(desk, "L01", radio="hawk")
    error = refused(run_plan, desk, who="Ines")
    assert isinstance(error, CellFaults)
    assert error.cells[0].uid == uid_of(desk, "L01")


def test_a_result_for_an_older_brief_is_dropped_and_says_what_changed(desk):
    def meanwhile(*, progress, cancelled):
        edit(desk, "L01", power_mw="10")
        return "late"

    kept = []
    state = start_run(desk, work(desk, meanwhile, keep=kept.append))
    assert (state.state, state.text) == ("dropped", "Dropped: The brief changed since (L01). Run it again.")
    assert kept == []


def test_what_does_not_matter_to_carriers_drops_nothing(desk):
    def meanwhile(*, progress, cancelled):
        edit(desk, "L01", name="Ida", desk_input="7")
        return "in time"

    assert start_run(desk, work(desk, meanwhile)).state == "done"


def work(desk, function, *, keep=lambda _: None):
    from bandwright.service.differences import differences_since
    from bandwright.service.job_plans import changed_for_plans

    seq = ground_of(desk).stands_on

    def kept(value):
        keep(value)
        return "kept", False, None

    return Work(
        kind="plan",
        function=function,
        arguments=(),
        limit_s=1.0,
        stale=lambda: changed_for_plans(differences_since(desk.file, seq, "entry", "sweep")),
        keep=kept,
    )


def test_a_run_that_fails_says_so_in_words_and_the_next_one_runs(desk):
    def fails(*, progress, cancelled):
        raise InputError.single("bad", "this cannot be.")

    def breaks(*, progress, cancelled):
        raise RuntimeError("secret")

    assert start_run(desk, work(desk, fails)).text == "this cannot be."
    state = start_run(desk, work(desk, breaks))
    assert (state.state, state.text) == ("failed", "A mistake of ours ended the run; the log tells more.")
    assert start_run(desk, work(desk, lambda *, progress, cancelled: 1)).state == "done"


def test_a_question_is_not_asked_during_a_run_and_makes_room_for_one_that_begins(desk):
    class ByHand:
        """A worker whose tasks end when they are cancelled."""

        def submit(self, function, *arguments, progress=None, done=None):
            task = Task(progress, done)
            task._cancel = lambda: task._succeed("as far as it came")
            self.last = task
            return task

    desk.worker = ByHand()
    answers = []
    asking = threading.Thread(target=lambda: answers.append(ask_worker(desk, len)))
    asking.start()
    assert until(lambda: desk.question is not None)
    assert start_run(desk, work(desk, len)).state == "running"
    asking.join(300)
    assert (answers, desk.question) == (["as far as it came"], None)
    assert isinstance(refused(ask_worker, desk, len), RunGoing)
    cancel_run(desk)
    assert run_of(desk).state == "done"  # with what there was when it was stopped


def test_one_run_goes_at_a_time_and_can_be_stopped(desk):
    begun = threading.Event()

    def waits(*, progress, cancelled):
        begun.set()
        assert until(cancelled)
        return "best"

    thread = threading.Thread(target=start_run, args=(desk, work(desk, waits)))
    thread.start()
    assert begun.wait(300)
    error = refused(start_run, desk, work(desk, waits))
    assert isinstance(error, RunGoing)
    assert error.faults[0].text == "A plan is being worked on already."
    cancel_run(desk)
    thread.join(300)
    assert run_of(desk).state == "done"


def test_the_worker_plans_and_replans_beside_the_desk(whole, tmp_path):
    path = tmp_path / whole.name
    path.write_bytes(whole.read_bytes())
    worker, ended = Worker(), threading.Event()
    try:
        with Desk.open(path, worker=worker) as desk:
            desk.listen(lambda told: ended.set() if getattr(told, "state", "running") != "running" else None)
            assert run_plan(desk, who="Ines").state == "running"
            assert ended.wait(300)  # kernels may have to be compiled first
            assert (run_of(desk).state, plan_in_force(desk).number) == ("done", 2)
            ended.clear()
            run_replan(desk, who="Ines", lost=["L01"])
            assert ended.wait(300)  # kernels may have to be compiled first
            assert proposal_of(desk).document.moves[0].link == "L01"
            assert capacity_here(desk, time_limit_s=1).found > 0
    finally:
        worker.close()


# ------------------------------------------------------------------------------------------------------- in hand


def test_a_preview_tells_what_the_check_of_the_whole_list_tells(desk):
    plan = plan_in_force(desk)
    carriers = plan.carriers()
    hz = carriers["M0"] + 100_000
    found = preview_link(desk, uid_of(desk, "L01"), hz)
    assert not found.ok
    broken = check_carriers(desk.job(), {**carriers, "L01": hz}, more=spare_links(desk.job()))
    whole = {v.text for v in broken if "L01" in (v.victim, *v.sources)}
    assert {item.text for item in found.violations} <= whole
    assert found.affected[0].link == uid_of(desk, "M0")
    assert found.closest_text.startswith("M0, 100 kHz away")
    assert preview_link(desk, uid_of(desk, "L01"), carriers["L01"]).ok


def test_a_link_that_has_no_carrier_yet_can_be_tried_too(desk):
    uid = add_entry(desk, who="Ines", kind="link", value={"id": "N1", "radio": "heron"}).entries[0].uid
    assert preview_link(desk, uid, plan_in_force(desk).carriers()["L01"]).violations[0].rule == "spacing"


def test_moving_a_link_is_a_new_plan_with_its_evidence_and_the_bound_that_still_holds(desk):
    plan = plan_in_force(desk)
    hz = plan.carriers()["L01"] + 25_000
    kept = move_link(desk, uid_of(desk, "L01"), hz, base=1, who="Tom")
    now = plan_in_force(desk)
    assert (kept.number, now.number, now.carriers()["L01"], now.stale) == (2, 2, hz, None)
    assert {**now.carriers(), "L01": 0} == {**plan.carriers(), "L01": 0}
    assert now.document.bound == plan.document.bound
    assert now.document.run.stopped == "hand"
    assert kept.changed.what == f"L01 moved to {hz / 1e6:.3f} MHz: plan 2"


def test_a_link_moved_onto_another_is_marked_as_blocked_and_not_called_clear(desk):
    hz = plan_in_force(desk).carriers()["M0"] + 25_000
    move_link(desk, uid_of(desk, "L01"), hz, base=1, who="Tom")
    status = {link.id: link.status.value for link in plan_in_force(desk).plan.links}
    assert status["L01"] == "blocked"


def test_a_move_on_a_plan_that_is_no_longer_in_force_is_refused(desk):
    uid, hz = uid_of(desk, "L01"), plan_in_force(desk).carriers()["L01"]
    move_link(desk, uid, hz + 25_000, base=1, who="Tom")
    error = refused(move_link, desk, uid, hz, base=1, who="Ines")
    assert isinstance(error, Overtaken)
    assert error.faults[0].text == "Plan 2 is in force by now, and not plan 1; nothing was moved."


def test_a_move_sent_twice_is_made_once(desk):
    uid, hz = uid_of(desk, "L01"), plan_in_force(desk).carriers()["L01"] + 25_000
    first = move_link(desk, uid, hz, base=1, who="Tom", client_key="drag-1")
    again = move_link(desk, uid, hz, base=1, who="Tom", client_key="drag-1")
    assert (first.number, again.number, len(desk.file.plans())) == (2, 2, 2)


@pytest.mark.parametrize("hz", [0, -5, 10**12])
def test_what_is_no_carrier_is_refused(desk, hz):
    assert refused(preview_link, desk, uid_of(desk, "L01"), hz).faults[0].text == (
        "a carrier lies above 0 and up to 100000.000 MHz."
    )


def test_unknown_links_and_plans_are_refused(desk, tmp_path):
    assert refused(preview_link, desk, "x", 606_700_000).faults[0].code == "no-such-link"
    assert refused(plan_numbered, desk, 9).faults[0].text == "there is no plan 9 in this job."
    with desk_of(tmp_path, name="other.bwjob") as bare:
        assert refused(preview_link, bare, "x", 606_700_000).faults[0].code == "no-plan"
        assert refused(run_replan, bare, who="x").faults[0].code == "no-plan"
        assert refused(accept_replan, bare, who="x").faults[0].code == "no-replan"


def test_why_is_asked_beside_the_plan_in_force(desk):
    hz = plan_in_force(desk).carriers()["M0"]
    found = explain_here(desk, "L01", f"{hz / 1e6:.3f}").document()
    assert (found.allowed, found.findings[0].rule) == (False, "spacing")
    assert json.loads(found.model_dump_json(by_alias=True))["inputs"][0]["name"] == "quay.bwjob"


def test_room_is_counted_beside_the_plan_in_force(desk):
    found = capacity_here(desk, "heron", time_limit_s=1)
    assert found.found > 0
    assert [item.name for item in found.inputs] == ["quay.bwjob", "plan 1"]
    assert refused(capacity_here, desk, "hawk").faults[0].code == "unknown-radio"


# --------------------------------------------------------------------------------------------------------- stale


def test_a_plan_goes_stale_by_what_can_move_carriers_and_by_nothing_else(desk):
    edit(desk, "L01", name="Ida", desk_input="4", note="x")
    edit(desk, "shared", reference="LQ-9")
    assert plan_in_force(desk).stale is None
    edit(desk, "shared", max_bandwidth_khz="250")
    assert plan_in_force(desk).stale == "The brief changed since (shared)."
    edit(desk, "shared", max_bandwidth_khz="200")
    assert plan_in_force(desk).stale is None


def test_a_plan_goes_stale_by_sweeps(desk):
    add_sweep(desk, who="Ines", name="base.csv", data=sweep_csv())
    assert plan_in_force(desk).stale == "1 sweep came, went or count otherwise since."
    change_sweep(desk, sweep_lines(desk)[0].uid, who="Ines", changes={"in_use": False})
    assert plan_in_force(desk).stale is None


# -------------------------------------------------------------------------------------------------------- replan


def test_a_replan_is_a_proposal_until_it_is_accepted(desk):
    for name in ("L01", "M0"):
        state_something(desk, who="Tom", what="set", about=uid_of(desk, name))
    before = plan_in_force(desk).carriers()
    state = run_replan(desk, who="Ines", lost=["L01"])
    assert (state.kind, state.state, state.plan, state.text) == ("replan", "done", None, "1 link would move.")
    assert plan_in_force(desk).number == 1
    assert proposal_of(desk).document.moves[0].link == "L01"
    kept = accept_replan(desk, who="Ines")
    after = plan_in_force(desk).carriers()
    assert (kept.number, kept.changed.what) == (2, "Replanned (L01 lost): plan 2")
    assert [name for name in before if name in after and before[name] != after[name] and "spare" not in name] == ["L01"]
    assert [item.about for item in standing(desk)] == [uid_of(desk, "M0")]
    assert proposal_of(desk) is None


def test_a_proposal_outlives_the_program_and_undo_passes_it_over(desk):
    edit(desk, "L01", power_mw="10")
    run_plan(desk, who="Ines")
    edit(desk, "M0", name="Mona")
    before = desk.file.undoable("Ines").what
    run_replan(desk, who="Ines", lost=["L01"])
    found = proposal_of(desk)
    assert desk.file.undoable("Ines").what == before
    path = desk.path
    desk.file.compact(who="Ines", drop_removed=True)
    desk.close()
    with Desk.open(path) as again:
        assert proposal_of(again) == found
        accept_replan(again, who="Ines", keep_off=True)
        assert plan_in_force(again).number == 3
        assert proposal_of(again) is None
        undo(again, who="Ines")
        assert proposal_of(again) == found  # the plan that it starts from is in force again


def test_a_proposal_goes_when_the_plan_or_the_brief_moves_on(desk):
    run_replan(desk, who="Ines", lost=["L01"])
    edit(desk, "L01", name="Marla")  # a name moves no carrier
    assert proposal_of(desk) is not None
    edit(desk, "L01", power_mw="10")
    assert proposal_of(desk) is None
    with pytest.raises(Overtaken, match="Replan once more"):
        accept_replan(desk, who="Ines")
    undo(desk, who="Ines")
    assert proposal_of(desk) is not None
    run_plan(desk, who="Ines", seed=9)
    assert plan_in_force(desk).number == 2
    assert proposal_of(desk) is None


def test_what_was_lost_can_be_written_into_the_brief_so_that_later_plans_keep_off_it(desk):
    lost_hz = plan_in_force(desk).carriers()["L01"]
    run_replan(desk, who="Ines", lost=["L01"])
    heard = proposal_of(desk).heard
    accept_replan(desk, who="Ines", keep_off=True)
    plan = plan_in_force(desk)
    assert (plan.number, plan.stale) == (2, None)
    assert [entry_named(desk, "lost-L01").value] == list(heard)
    assert [other.carrier_hz for other in desk.job().others if other.id == "lost-L01"] == [lost_hz]
    assert entry_named(desk, "lost-L01").value["name"] == "Interference heard on L01"
    found = preview_link(desk, uid_of(desk, "L01"), lost_hz)
    assert [item.sources for item in found.violations if item.rule == "other"] == [("lost-L01",)]
    run_plan(desk, who="Ines")
    assert plan_in_force(desk).carriers()["L01"] != lost_hz
    undo(desk, who="Ines")
    undo(desk, who="Ines")
    assert desk.file.entry_named("lost-L01") is None
    assert (plan_in_force(desk).number, plan_in_force(desk).stale) == (1, None)


def test_where_the_brief_was_touched_since_a_plan_still_knows_its_links(desk):
    run_replan(desk, who="Ines", lost=["L01"])
    edit(desk, "M0", id="A1")
    accept_replan(desk, who="Ines", keep_off=True)
    plan = plan_in_force(desk)
    assert "A1" in plan.carriers()
    assert plan.stale == "The brief changed since (lost-L01)."


def test_a_plan_stands_on_one_moment_also_while_somebody_edits(desk, monkeypatch):
    true, edits = job_runs.sweeps_in_use, [{"power_mw": "10"}]

    def sweeps_in_use(desk):
        if edits:
            edit(desk, "L01", **edits.pop())
        return true(desk)

    monkeypatch.setattr(job_runs, "sweeps_in_use", sweeps_in_use)
    edit(desk, "L01", power_mw="20")
    ground = ground_of(desk)
    assert ground.stands_on == desk.file.seq_of("entry", "sweep")
    assert ground.job == desk.job()


def test_a_run_that_could_not_begin_does_not_keep_others_from_beginning(desk):
    class NoProcess:
        def submit(self, *_, **__):
            raise MachineError("No process.")

    desk.worker = NoProcess()
    for _ in range(2):
        with pytest.raises(MachineError, match="No process"):
            run_plan(desk, who="Ines")
    assert run_of(desk) is None


def test_a_proposal_from_a_plan_that_is_no_longer_in_force_is_gone(desk):
    run_replan(desk, who="Ines", lost=["L01"])
    move_link(desk, uid_of(desk, "M0"), plan_in_force(desk).carriers()["M0"], base=1, who="Tom")
    assert refused(accept_replan, desk, who="Ines").faults[0].code == "no-replan"


def test_a_proposal_for_an_older_brief_is_not_accepted(desk):
    run_replan(desk, who="Ines", lost=["L01"])
    edit(desk, "L01", power_mw="10")
    error = refused(accept_replan, desk, who="Ines")
    assert isinstance(error, Overtaken)
    assert error.faults[0].text == "The brief changed since (L01). Replan once more."


def test_a_lost_link_that_nobody_knows_is_refused(desk):
    assert refused(run_replan, desk, who="Ines", lost=["X"]).faults[0].code == "unknown-link"
