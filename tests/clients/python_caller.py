"""Calls every kind of operation by the generated client, and prints what came of it as JSON."""

import io
import json
import sys
from pathlib import Path
from typing import TypeVar

from layoutcheck_client import AuthenticatedClient
from layoutcheck_client.api.checks import check_changes, check_layout, check_layouts, keep_base
from layoutcheck_client.api.exports import export_layout
from layoutcheck_client.api.freezes import estimate_freeze
from layoutcheck_client.api.handouts import make_handout
from layoutcheck_client.api.imports import import_file
from layoutcheck_client.api.jobs import get_job_result, show_job
from layoutcheck_client.api.plans import plan_layout
from layoutcheck_client.api.records import list_records, record_sign_off, show_record
from layoutcheck_client.models.base import Base
from layoutcheck_client.models.batch_request import BatchRequest
from layoutcheck_client.models.change_request import ChangeRequest
from layoutcheck_client.models.changes import Changes
from layoutcheck_client.models.check_request import CheckRequest
from layoutcheck_client.models.export_layout_name import ExportLayoutName
from layoutcheck_client.models.export_request import ExportRequest
from layoutcheck_client.models.freeze_question import FreezeQuestion
from layoutcheck_client.models.import_answer import ImportAnswer
from layoutcheck_client.models.job_status import JobStatus
from layoutcheck_client.models.layout import Layout
from layoutcheck_client.models.make_handout_name import MakeHandoutName
from layoutcheck_client.models.pipe_freeze import PipeFreeze
from layoutcheck_client.models.plan_report import PlanReport
from layoutcheck_client.models.plan_request import PlanRequest
from layoutcheck_client.models.problem import Problem
from layoutcheck_client.models.record_detail import RecordDetail
from layoutcheck_client.models.record_page import RecordPage
from layoutcheck_client.models.record_request import RecordRequest
from layoutcheck_client.models.recorded import Recorded
from layoutcheck_client.models.report import Report
from layoutcheck_client.types import File, Unset

SHEET = b"id,from,to,size,material,length,length unit\nP1,J1,J2,NPS 2,copper,24.5,ft\n"
T = TypeVar("T")
FREEZE = {
    "size": "NPS 2",
    "material": "carbon steel",
    "wall": "sch 40",
    "jacket": "12 in",
    "water_temperature": "60 degF",
    "orientation": "horizontal",
}


def given(value: T | Unset | None) -> T:
    """Take what must be there."""
    assert not isinstance(value, Unset)
    assert value is not None
    return value


def checks(client: AuthenticatedClient, layout: Layout) -> dict[str, object]:
    report = check_layout.sync(client=client, body=ChangeRequest(layout=layout))
    assert isinstance(report, Report)
    few = check_layout.sync(client=client, body=ChangeRequest(layout=layout), parts="verdict")
    assert isinstance(few, Report)
    assert isinstance(few.findings, Unset)
    kept = keep_base.sync(client=client, body=CheckRequest(layout=layout))
    assert isinstance(kept, Base)
    changes = Changes.from_dict({"changes": [{"op": "remove", "path": "/plugs"}]})
    changed = check_changes.sync(kept.base, client=client, body=changes)
    assert isinstance(changed, Report)
    many = BatchRequest(checks=[ChangeRequest(layout=layout), ChangeRequest(layout=layout)])
    batch = check_layouts.sync(client=client, body=many)
    assert isinstance(batch, File)
    lines = [json.loads(line) for line in batch.payload.read().splitlines()]
    return {
        "verdict": report.verdict.value,
        "nearest": [given(p.nearest).tape.shown for p in given(report.plugs)],
        "subjects": [f.subject.id for f in given(report.findings)],
        "gone": len(given(changed.changed).gone),
        "batch": sorted(line["report"]["verdict"] for line in lines),
    }


def plans(client: AuthenticatedClient, layout: Layout) -> dict[str, object]:
    plan = plan_layout.sync(client=client, body=PlanRequest(layout=layout, top=1, time_limit=60.0))
    assert isinstance(plan, PlanReport)
    begun = plan_layout.sync(
        client=client, body=PlanRequest(layout=layout, top=1), prefer="respond-async"
    )
    assert isinstance(begun, JobStatus)
    state = show_job.sync(begun.job, client=client)
    assert isinstance(state, JobStatus)
    assert get_job_result.sync_detailed(begun.job, client=client).status_code in {200, 202}
    return {"status": plan.status, "actions": [a.kind for p in plan.plans for a in p.actions]}


def files(client: AuthenticatedClient, layout: Layout) -> dict[str, object]:
    imported = import_file.sync(client=client, body=File(io.BytesIO(SHEET)), name="pipes.csv")
    assert isinstance(imported, ImportAnswer)
    form = ExportRequest(layout=layout)
    exported = export_layout.sync(ExportLayoutName.SHORT_YAML, client=client, body=form)
    assert isinstance(exported, File)
    body = CheckRequest(layout=layout)
    drawing = make_handout.sync(MakeHandoutName.DRAWING_SVG, client=client, body=body)
    assert isinstance(drawing, File)
    return {
        "imported": [p["id"] for p in imported.layout["pipes"]],
        "exported": exported.payload.read().decode(),
        "drawing": len(drawing.payload.read()),
    }


def records(client: AuthenticatedClient, layout: Layout) -> dict[str, object]:
    body = RecordRequest.from_dict({"layout": layout.to_dict(), "signer": {"name": "A. Miller"}})
    made = record_sign_off.sync(client=client, body=body)
    assert isinstance(made, Recorded)
    page = list_records.sync(client=client)
    assert isinstance(page, RecordPage)
    shown = show_record.sync(made.entry.sequence, client=client)
    assert isinstance(shown, RecordDetail)
    assert any(e.hash_ == shown.entry.hash_ for e in page.entries)
    return {"signer": shown.entry.name, "verdict": made.entry.verdict}


def refusals(client: AuthenticatedClient, layout: Layout) -> dict[str, object]:
    broken = layout.to_dict()
    broken["pipes"][0]["length"] = 24
    body = ChangeRequest.from_dict({"layout": {**broken, "name": "x"}})
    problem = check_layout.sync(client=client, body=body)
    assert isinstance(problem, Problem)
    faults = given(problem.faults)
    return {"status": problem.status, "pointers": [f.pointer for f in faults]}


def main(address: str, path: str) -> None:
    client = AuthenticatedClient(base_url=address, token="none is asked for", timeout=None)
    layout = Layout.from_dict(json.loads(Path(path).read_text(encoding="utf-8")))
    freeze = estimate_freeze.sync(client=client, body=FreezeQuestion.from_dict(FREEZE))
    assert isinstance(freeze, PipeFreeze)
    told = {
        "check": checks(client, layout),
        "plan": plans(client, layout),
        "freeze": given(freeze.estimate).outcome,
        "files": files(client, layout),
        "record": records(client, layout),
        "refused": refusals(client, layout),
    }
    print(json.dumps(told))


if __name__ == "__main__":
    main(*sys.argv[1:])
