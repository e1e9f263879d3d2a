import json

import pytest
from brief_examples import SAMPLE, job_of

from bandwright.documents.outputs import plan_document
from bandwright.documents.outputs.plan_back import plan_of, read_plan_document
from bandwright.errors import InputError
from bandwright.service.context import Context
from bandwright.service.plan import plan_job


def document_of(brief):
    planned = plan_job(Context(), job_of(brief), ())
    return planned, planned.document()


@pytest.mark.parametrize("width", ["[[606.5, 613.5]]", "[[606.5, 607.1]]"])
def test_a_plan_comes_back_from_its_document_with_all_its_evidence(width):
    links = "".join(f'[[link]]\nid = "M{n}"\nradio = "heron"\n' for n in range(3))
    planned, document = document_of(SAMPLE.replace("[[606.5, 613.5]]", width) + links)
    again = plan_of(read_plan_document(document.model_dump_json(by_alias=True), file="plan.json"))
    assert (again.number, again.links, again.unplaced, again.bound) == (
        planned.plan.number,
        planned.plan.links,
        planned.plan.unplaced,
        planned.plan.bound,
    )
    assert again == planned.plan
    made = plan_document(
        planned.job, again, inputs=document.inputs, made=planned.made, run=document.run, sweeps=planned.sweeps
    )
    assert made == document
    assert bool(planned.plan.unplaced) is (width != "[[606.5, 613.5]]")


def test_what_is_no_plan_is_refused_with_the_place():
    _, document = document_of(SAMPLE)
    data = json.loads(document.model_dump_json(by_alias=True))
    del data["bound"]["found"]
    with pytest.raises(InputError, match=r"plan\.json: this is no whole plan document: bound\.found: field required"):
        read_plan_document(json.dumps(data), file="plan.json")
    with pytest.raises(InputError, match="this is no whole plan document: the text: invalid JSON"):
        read_plan_document("{", file="plan.json")


def test_warnings_come_back_too():
    planned, document = document_of(SAMPLE)
    assert plan_of(document).warnings == planned.plan.warnings
    assert {warning.code for warning in planned.plan.warnings} == {"unknown-level", "no-sweep"}
