"""Plans with levels: fields, words, the search that raises the worst, what is told where facts are missing.

And what check and why tell of carriers, by the functions that a plan goes through.
"""

import json

import pytest

from bandwright.core.reach.levels import interference
from bandwright.core.reach.stage import stage_of
from bandwright.core.sheet import build_sheet
from bandwright.documents.outputs import plan_document
from bandwright.documents.outputs.common import Run
from bandwright.documents.outputs.plan_back import plan_of, read_plan_document
from bandwright.errors import InputError
from bandwright.reference import tables as reference
from bandwright.service.brief_words import matters_for_plan
from bandwright.service.check import check_list
from bandwright.service.context import Context
from bandwright.service.differences import Difference
from bandwright.service.inputs import load_brief
from bandwright.service.plan import plan_brief
from bandwright.service.reach import reach_links
from bandwright.service.why import explain_carrier

HEAD = """
[job]
title = "Levels"
[[permit]]
id = "e"
reference = "e"
state = "granted"
windows_mhz = [[606.5, 621.5]]
[[radio]]
id = "heron"
tuning = [{ low_mhz = 470.1, high_mhz = 693.9, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
spacing_khz = 350
clearance_khz = { "2A-B" = 100, "A+B-C" = 50 }
power_mw = [50]
"""
FACTS = "iip3_dbm = 0\nneeds_cn_db = 30\ntransmit_im_loss_db = 10\npeak_deviation_khz = 48\n"
NAMES = ("Mara", "Theo", "Lena", "Ivo", "Nell", "Odo", "Pia", "Ruth", "Sven", "Tess", "Una", "Vito")


def _brief(tmp_path, *, facts=FACTS, plan="", links=8):
    at = "".join(
        f'[[link]]\nid = "{name}"\nradio = "heron"\ndistance_m = {6 + 5 * i}\n' for i, name in enumerate(NAMES[:links])
    )
    path = tmp_path / "brief.toml"
    path.write_text(f"{HEAD}{facts}{at}[plan]\ntime_limit_s = 2\n{plan}")
    return path


def _worst(planned):
    return min(link.carrier_to_interference.quantile_db or 999.0 for link in planned.plan.links)


def test_a_plan_tells_carrier_to_interference_of_every_link(tmp_path):
    planned = plan_brief(Context(), _brief(tmp_path))
    assert planned.plan.levels.unknown == ()
    assert planned.plan.levels.pictures == 10_000
    stage = stage_of(planned.job, planned.job.links, tables=reference.reach_tables())
    hz = [link.carrier_hz for link in planned.plan.links]
    expected = {item.victim: item.ratio_db for item in interference(stage.worst(), hz)}
    for number, link in enumerate(planned.plan.links):
        assert link.carrier_to_interference.worst_db == pytest.approx(expected[number])
        assert set(link.carrier_to_interference.culprit.sources) <= set(NAMES)
    assert "C/I " in planned.text()
    assert "(needs 30)" in planned.text()
    for row, link in zip(build_sheet(planned.job, planned.plan, planned.facts()).rows, planned.plan.links, strict=True):
        db = link.carrier_to_interference.quantile_db
        assert row.closest_brief.endswith(f"; C/I {round(db) if db <= 99 else 'over 99'} dB")


def test_the_document_leads_back_to_the_same_plan(tmp_path):
    planned = plan_brief(Context(), _brief(tmp_path, links=3))
    text = planned.document().model_dump_json(by_alias=True)
    read = read_plan_document(text, file="plan.json")
    run = Run(seed=read.run.seed, stopped=read.run.stopped, seconds=read.run.seconds)
    again = plan_document(planned.job, plan_of(read), inputs=read.inputs, made=planned.made, run=run)
    assert json.loads(again.model_dump_json(by_alias=True)) == json.loads(text)


def test_the_objective_levels_raises_the_worst_link_and_keeps_every_rule(tmp_path):
    by_room = plan_brief(Context(), _brief(tmp_path))
    by_levels = plan_brief(Context(), _brief(tmp_path, plan='objective = "levels"\n'))
    assert by_levels.satisfied
    assert _worst(by_levels) >= _worst(by_room)
    for link in by_levels.plan.links:
        assert link.closest.slack_hz >= 0


def test_more_links_fit_with_khz_rules_off_and_that_is_told(tmp_path):
    plan = 'objective = "levels"\nkhz_rules = "off"\n'
    planned = plan_brief(Context(), _brief(tmp_path, plan=plan, links=12))
    told = {warn.code: warn.text for warn in planned.plan.warnings}
    assert told["khz-rules"].startswith("Product clearances in kHz are off for heron")
    assert "family-off" not in told
    assert all(not link.radio.clearance_hz for link in planned.job.links)


def test_without_intercept_points_rules_stay_and_levels_are_said_to_be_missing(tmp_path):
    plan = 'objective = "levels"\nkhz_rules = "off"\n'
    planned = plan_brief(Context(), _brief(tmp_path, facts="", plan=plan, links=3))
    told = {warn.code: warn.text for warn in planned.plan.warnings}
    assert told["no-levels"].startswith("The plan is by kHz rules alone")
    assert told["khz-rules-kept"].startswith("Product clearances in kHz stay for heron")
    assert "iip3_dbm of radio heron" in told["levels-partial"]
    assert planned.plan.levels.unknown == tuple(link.id for link in planned.plan.links)
    assert not any(code.startswith("level") for link in planned.plan.links for code in link.cautions)
    assert all(link.radio.clearance_hz for link in planned.job.links)


def test_a_brief_that_says_nothing_of_levels_gets_a_plan_without(tmp_path):
    planned = plan_brief(Context(), _brief(tmp_path, facts="", links=3))
    assert planned.plan.levels is None
    assert planned.document().levels is None
    assert "C/I" not in planned.text()


@pytest.mark.parametrize(("key", "known"), [("objective", "room, levels"), ("khz_rules", "kept, relaxed, off")])
def test_words_that_nobody_knows_are_refused_with_the_known_ones(tmp_path, key, known):
    with pytest.raises(InputError) as caught:
        plan_brief(Context(), _brief(tmp_path, plan=f'{key} = "best"\n', links=1))
    assert known in str(caught.value).replace('"', "").replace(" or", ",").replace(",,", ",")


def test_reach_tells_the_levels_of_a_plan_by_what_the_brief_says_now(tmp_path):
    brief = _brief(tmp_path, links=4)
    planned = plan_brief(Context(), brief)
    plan = tmp_path / "plan.json"
    plan.write_text(planned.document().model_dump_json(by_alias=True))
    reached = reach_links(Context(), brief, plan_path=plan, every_s=600.0)
    told = {link.id: link.carrier_to_interference for link in planned.document().links}
    assert {link.id: link.carrier_to_interference for link in reached.document().links} == told
    assert "Carrier to interference on this plan" in reached.text(columns=100)
    assert "Mara: C/I " in reached.text(columns=100)
    without = reach_links(Context(), brief, every_s=600.0)
    assert not without.ratios
    assert "C/I" not in without.text(columns=100)


def _difference(kind, before, after):
    images = [{"kind": kind, "id": "x", "position": 1, "value": value} for value in (before, after)]
    return Difference(noun="entry", uid="u", before=images[0], after=images[1])


@pytest.mark.parametrize(
    ("kind", "key"),
    [("link", "distance_m"), ("radio", "iip3_dbm"), ("radio", "peak_deviation_khz"), ("area", "width_m")],
)
def test_what_moves_levels_makes_a_plan_with_levels_old_and_no_other(kind, key):
    found = _difference(kind, {key: 10}, {key: 20})
    assert matters_for_plan(found, with_levels=True)
    assert not matters_for_plan(found)


def test_a_new_conversion_loss_or_objective_is_told_as_well():
    assert matters_for_plan(_difference("plan", {"objective": "room"}, {"objective": "levels"}))
    assert not matters_for_plan(_difference("link", {"note": "a"}, {"note": "b"}), with_levels=True)
    assert not matters_for_plan(_difference("source", {"name": "a"}, {"name": "b"}), with_levels=True)
    lost = _difference("radio", {"transmit_im_loss_db": 5}, {"transmit_im_loss_db": 20})
    assert matters_for_plan(lost, with_levels=True)
    assert not matters_for_plan(lost)


FAR_M = {"Mara": 6, "Theo": 12, "Lena": 30}
MHZ = {"Mara": "607.000", "Theo": "608.000", "Lena": "609.100"}


def _three(tmp_path, *, facts=FACTS, plan="", held=()):
    at = "".join(
        f'[[link]]\nid = "{name}"\nradio = "heron"\ndistance_m = {far}\n'
        + (f"hold_mhz = {held[name]}\n" if name in held else "")
        for name, far in FAR_M.items()
    )
    path = tmp_path / "three.toml"
    path.write_text(f"{HEAD}{facts}{at}{plan}")
    return path


def _list(tmp_path, carriers=MHZ):
    path = tmp_path / "carriers.csv"
    path.write_text("link,mhz\n" + "".join(f"{name},{mhz}\n" for name, mhz in carriers.items()))
    return path


def _worst_db(brief, carriers_hz):
    """Carrier to interference at worst of every link, by the core alone."""
    job = load_brief(Context(), brief).job
    stage = stage_of(job, job.links, tables=reference.reach_tables())
    hz = [carriers_hz.get(link.id, -1) for link in job.links]
    return {job.links[item.victim].id: item for item in interference(stage.worst(), hz)}


def test_check_tells_carrier_to_interference_of_the_listed_links(tmp_path):
    brief = _three(tmp_path)
    checked = check_list(Context(), brief, _list(tmp_path))
    expected = _worst_db(brief, {"Mara": 607_000_000, "Theo": 608_000_000, "Lena": 609_100_000})
    told = json.loads(checked.document().model_dump_json(by_alias=True))
    assert [link["link"] for link in told["links"]] == list(FAR_M)
    for link in told["links"]:
        assert link["carrier_to_interference"]["worst_db"] == pytest.approx(expected[link["link"]].ratio_db, abs=0.01)
        assert link["closest"]["offset_khz"] == 100
    assert told["levels"]["pictures"] == 10_000
    assert told["ok"]
    text = checked.text()
    assert "Predicted carrier to interference, beside the rule that comes closest:" in text
    assert "2 x Theo - Mara, 100 kHz away (asks 100)" in " ".join(text.split())
    assert "Theo next to Mara: only while they are side by side" in text


def test_check_judges_a_thin_link_as_a_plan_does(tmp_path):
    # Three links on equal distances: 2A-B falls right into two of them, and no rule in kHz is asked.
    off, asking = '[plan]\nkhz_rules = "off"\n', FACTS.replace("needs_cn_db = 30", "needs_cn_db = 60")
    brief = _three(tmp_path, facts=asking, plan=off)
    carriers = {"Mara": "607.000", "Theo": "608.000", "Lena": "609.000"}
    checked = check_list(Context(), brief, _list(tmp_path, carriers))
    thin = {link.id for link in checked.leveled.links if "level-margin" in link.cautions}
    under = {link.id for link in checked.leveled.links if (link.carrier_to_interference.margin_db or 99) < 6}
    assert thin == under != set()
    assert "thin level margin" in checked.text()
    planned = plan_brief(Context(), _three(tmp_path, facts=asking, plan=off, held=carriers))
    assert {link.id for link in planned.plan.links if "level-margin" in link.cautions} == thin


def test_without_an_intercept_point_check_and_why_say_nothing_of_levels(tmp_path):
    brief = _three(tmp_path, facts="")
    checked = check_list(Context(), brief, _list(tmp_path))
    found = explain_carrier(Context(), brief, "610.5", link_id="Lena")
    assert checked.leveled is None
    assert checked.document().links == ()
    assert checked.document().levels is None
    assert "C/I" not in checked.text() + found.text(columns=100)
    assert found.document().carrier_to_interference is None


def test_links_that_are_not_listed_take_no_part_in_the_levels_of_a_check(tmp_path):
    brief = _three(tmp_path)
    two = {"Mara": "607.000", "Theo": "608.000"}
    told = check_list(Context(), brief, _list(tmp_path, two)).document()
    assert [link.link for link in told.links] == ["Mara", "Theo"]
    assert all(link.carrier_to_interference.worst_db is None for link in told.links)


def test_why_tells_the_ratio_there_and_the_strongest_product_in_dbm(tmp_path):
    brief = _three(tmp_path, held={"Mara": 607.0, "Theo": 608.0})
    found = explain_carrier(Context(), brief, "609.0", link_id="Lena")
    expected = _worst_db(brief, {"Mara": 607_000_000, "Theo": 608_000_000, "Lena": 609_000_000})["Lena"]
    told = found.document().carrier_to_interference
    assert told.worst_db == pytest.approx(expected.ratio_db, abs=0.01)
    assert (told.culprit.family, told.culprit.sources) == ("2A-B", ("Theo", "Mara"))
    assert told.culprit.level_dbm == pytest.approx(expected.strongest.level_dbm, abs=0.01)
    text = " ".join(found.text(columns=100).split())
    assert "Predicted there: C/I" in text
    assert f"which comes in at {expected.strongest.level_dbm:.0f} dBm where its own carrier has" in text


def test_why_tells_the_ratio_of_any_link_of_a_type(tmp_path):
    brief = _three(tmp_path, held={"Mara": 607.0, "Theo": 608.0})
    found = explain_carrier(Context(), brief, "609.0", radio_id="heron")
    assert found.document().carrier_to_interference.culprit.sources
