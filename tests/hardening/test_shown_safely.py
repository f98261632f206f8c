"""Names of any script and of any malice, through every output.

Outside sources: what turns text about is told by the Unicode Standard Annex 9 (bidirectional
algorithm) and Unicode Technical Report 36 (security), and by the 'Trojan Source' paper of
N. Boucher and R. Anderson (2021); what a spreadsheet takes for a formula by OWASP's page on CSV
injection; XML is read back by lxml, CSV by Python's csv, PDF by pypdf.
"""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import lxml.etree
import lxml.html
import pypdf
import pytest

from layoutcheck.cli import main
from layoutcheck.cli.screen import fit_for
from layoutcheck.document import Layout, LayoutFaults, parse_layout
from layoutcheck.importers.sheets import read_sheets, write_sheets
from layoutcheck.report import Report, check
from layoutcheck.report.handouts import HANDOUTS, make_handout
from layoutcheck.report.log import read_log
from layoutcheck.report.text import full_text
from layoutcheck.rules.registry import company_pack
from layoutcheck.seen import ISOLATE, POP, has_unseen, set_apart, spelled_out
from tests.cli.small_layout import small_layout

FIXTURES = Path(__file__).parents[2] / "fixtures"
SITE = "plant-room-mended"

# Controls, directions, nothing to see, halves of characters, what XML can not hold, heaps of marks.
UNSEEN = {
    "escape": "\x1b[2J",
    "bell": "\x07",
    "nul": "\x00",
    "new line": "\n",
    "C1 control": "\x9b31m",
    "right-to-left override": "\u202e",
    "left-to-right embedding": "\u202a",
    "first strong isolate": "\u2068",
    "right-to-left mark": "\u200f",
    "Arabic letter mark": "\u061c",
    "line separator": "\u2028",
    "zero-width space": "\u200b",
    "zero-width joiner after a Latin letter": "\u200d",
    "word joiner": "\u2060",
    "soft hyphen": "\u00ad",
    "byte order mark": "\ufeff",
    "Hangul filler": "\u3164",
    "blank Braille": "\u2800",
    "tag letter": "\U000e0041",
    "no character": "\uffff",
    "no character of another plane": "\U0001fffe",
    "interlinear mark": "\ufff9",
    "a heap of marks": "\u0301" * 6,
}
# Names that a program on the way could take for something else than a name.
NAMES = (
    *("שסתום־3", "ضغط ١", "می\u200cشود", "मुख्य वाल्व", "管道７", "Ω≈ç√", "Ж-12", "ท่อ", "🧊", "é"),
    *("<script>alert(1)</script>", "</svg><b>", "&amp;", '"><img src=x onerror=alert(1)>', "]]>"),
    *("=cmd|' /C calc'!A1", "@SUM(A1)", "+1+1", "-2+3", "＝1+1", "'=1", "''+2"),
    *("{{7*7}}", "%s%n", "${x}", "../../etc/passwd", "a,b;c", 'a "b" c', "\\u202e", "#1", "null"),
)
HEBREW = re.compile("[\u0590-\u08ff]")


@cache
def named() -> tuple[Layout, dict[str, str]]:
    """A demo site whose elements are all named out of NAMES, and what was named how."""
    document = json.loads((FIXTURES / f"{SITE}.json").read_text(encoding="utf-8"))
    lists = ("junctions", "pipes", "valves", "pumps", "equipment", "sources", "outlets", "plugs")
    ids = dict.fromkeys(e["id"] for name in lists for e in document.get(name, []))
    again = {
        own: f"{NAMES[n % len(NAMES)]}{'' if n < len(NAMES) else n}" for n, own in enumerate(ids)
    }
    assert len(set(again.values())) == len(ids)
    fields = {"id", "from", "to", "junction", "pipe", "valve", "pump", "subject"}

    def renamed(value: Any, field: str = "") -> Any:
        if isinstance(value, dict):
            return {k: renamed(v, k) for k, v in value.items()}
        if isinstance(value, list):
            return [renamed(v, field) for v in value]
        return again.get(value, value) if field in fields | {"keep_in_service"} else value

    document = renamed(document)
    document["name"] = NAMES[0] + " " + NAMES[10]
    document["site"]["rooms"] = document["site"].get("rooms", [])
    return parse_layout(document), again


@cache
def report() -> Report:
    return check(named()[0])


@cache
def handout(name: str) -> bytes:
    return make_handout(name, named()[0], report())


def assert_set_apart(text: str) -> None:
    """Every letter written from right to left stands between isolates."""
    depth = 0
    for char in text:
        depth += (char == ISOLATE) - (char == POP)
        assert depth in (0, 1)
        assert depth or not HEBREW.match(char), f"{char!r} is not set apart in {text!r}"


# --- what is refused ----------------------------------------------------------------------------


@pytest.mark.parametrize("what", UNSEEN)
@pytest.mark.parametrize("place", ["id", "name", "layout name", "note", "reason"])
def test_what_nobody_sees_is_refused_and_spelled_out(what: str, place: str) -> None:
    evil, document = f"A{UNSEEN[what]}B", small_layout()
    if place == "layout name":
        document["name"] = evil
    elif place == "note":
        document["note"] = evil
    elif place == "reason":
        waiver = {"rule": "plug-spacing", "subject": "K1", "by": "A. N.", "until": "2027-01-01"}
        document["waivers"] = [{**waiver, "reason": evil + " because"}]
    else:
        document["plugs"][0][place] = evil
    with pytest.raises(LayoutFaults) as raised:
        parse_layout(document)
    for fault in raised.value.faults:
        assert "direction character" in fault.problem
        assert what == "a heap of marks" or not has_unseen(fault.found)


@pytest.mark.parametrize("what", UNSEEN)
def test_other_readers_refuse_it_or_leave_it_out(what: str) -> None:
    evil = f"A{UNSEEN[what]}B"
    row = {"number": 1, "what": "inject", "plug": evil}
    log = json.dumps({"format": "layoutcheck log 1", "sheet": "x", "rows": [row]})
    with pytest.raises(LayoutFaults):
        read_log(log.encode())
    with pytest.raises(LayoutFaults):
        company_pack(f"name = {json.dumps(evil)}\n")
    sheet = "id,from,to,size,material,length\n" + f'"{evil}",A,B,NPS 2,copper,3 m\n'
    with pytest.raises(LayoutFaults) as raised:
        read_sheets({"pipes": sheet.encode()}, name="sheets")
    told = "".join(f.found + f.problem for f in raised.value.faults)
    assert what == "a heap of marks" or not has_unseen(told)


@pytest.mark.parametrize(
    "what", ["escape", "right-to-left override", "C1 control", "zero-width space"]
)
@pytest.mark.parametrize(
    "argv",
    [
        ("check", "{}"),
        ("check", "--{}"),
        ("check", "a.json", "--on", "{}"),
        ("check", "a.json", "--format", "{}"),
        ("{}",),
        ("explain", "{}"),
        ("schema", "{}"),
        ("draw", "a.json", "-o", "{}"),
        ("import", "{}"),
        ("freeze", "--size", "{}"),
    ],
)
def test_what_was_typed_reaches_no_screen_as_it_is(
    what: str, argv: tuple[str, ...], capfd: pytest.CaptureFixture[str]
) -> None:
    assert main([a.format(f"A{UNSEEN[what]}B") for a in argv]) == 2
    out, err = capfd.readouterr()
    assert not out
    assert not any(has_unseen(line) for line in err.replace("…", "").split("\n"))


# --- what is let through --------------------------------------------------------------------------


def test_the_same_site_under_any_names_has_the_same_outcomes() -> None:
    document = small_layout()
    again = json.loads(json.dumps(document))
    for number, own in enumerate(("A", "B", "C", "D", "P1", "P2", "P3", "MAIN", "TAP", "V1", "K1")):
        text = json.dumps(again).replace(json.dumps(own), json.dumps(NAMES[number]))
        again = json.loads(text)
    one, two = (check(parse_layout(d)) for d in (document, again))
    outcomes = [Counter((f.rule, f.outcome) for f in r.findings) for r in (one, two)]
    assert outcomes[0] == outcomes[1]
    assert one.verdict is two.verdict


def test_every_name_of_the_list_is_in_the_site() -> None:
    assert set(NAMES) <= set(named()[1].values())
    assert not any(has_unseen(name) for name in NAMES)


def test_the_text_report_keeps_names_and_numbers_in_their_order() -> None:
    text = fit_for(full_text(report()), "utf-8")
    assert HEBREW.search(text)
    assert_set_apart(text)
    assert text.isprintable() or not any(
        has_unseen(x) for x in re.split(f"[\n{ISOLATE}{POP}]", text)
    )
    assert fit_for(text, "ascii").isascii()


def test_json_is_the_names_as_they_are() -> None:
    told = json.loads(report().to_json())
    assert {p["id"] for p in told["plugs"]} == {p.id for p in named()[0].plugs}
    for name in HANDOUTS:
        if name.endswith(".json"):
            json.loads(handout(name))


@pytest.mark.parametrize("name", ["report.html", "sheet.html"])
def test_a_page_holds_names_as_text_and_nothing_else(name: str) -> None:
    text = handout(name).decode()
    page = lxml.html.document_fromstring(text)
    assert not page.xpath("//script[not(@nonce)] | //img[@src='x'] | //*[@onerror]")
    assert "<script>alert(1)</script>" not in text
    assert "{{7*7}}" in text  # a name is no template
    for node in map(str, page.itertext()):
        assert_set_apart(node)


def test_a_drawing_holds_names_as_text_and_nothing_else() -> None:
    root = lxml.etree.fromstring(handout("drawing.svg"))
    tags = {lxml.etree.QName(e).localname for e in root.iter(lxml.etree.Element)}
    assert not tags & {"script", "image", "foreignObject", "a", "b", "img"}
    for node in map(str, root.itertext()):
        assert_set_apart(node)
    subjects = {e.get("data-subject", "") for e in root.iter(lxml.etree.Element)}
    assert any(name in subject for name in NAMES[10:15] for subject in subjects)


@pytest.mark.parametrize("name", ["drawing.pdf", "sheet.pdf"])
def test_a_pdf_holds_no_action_and_no_script(name: str) -> None:
    data = handout(name)
    assert not re.search(rb"/(JavaScript|JS|Launch|OpenAction|AA)\b", data)
    pages = pypdf.PdfReader(io.BytesIO(data)).pages
    text = "".join(page.extract_text() for page in pages)
    assert "Ж-12" in text or "<script>" in text


@pytest.mark.parametrize("name", ["issues.bcf", "issues-2.1.bcf"])
def test_issues_are_sound_xml_with_names_set_apart(name: str) -> None:
    text = json.dumps(small_layout()).replace('"K1"', json.dumps("שסתום <b>&'\""))
    layout = parse_layout(json.loads(text))
    data = make_handout(name, layout, check(layout))
    told = ""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for member in archive.namelist():
            assert re.fullmatch(r"[\w.\-]+(/[\w.\-]+)?", member)
            if not member.endswith(".png"):
                for node in map(str, lxml.etree.fromstring(archive.read(member)).itertext()):
                    assert_set_apart(node)
                    told += node
    assert "שסתום" in told


@pytest.mark.parametrize("name", ["takeoff.csv", "log-template.csv"])
def test_no_cell_begins_as_a_formula(name: str) -> None:
    rows = list(csv.reader(io.StringIO(handout(name).decode("utf-8-sig"), newline="")))
    assert len(rows) > 2
    for row in rows[1:]:
        for cell in row:
            assert not cell.startswith(tuple("=+-@＝＋－＠\t\r")) or re.fullmatch(
                r"-?[\d.e+]+", cell
            )


def test_sheets_hold_no_formula_and_come_back_as_they_were() -> None:
    layout = named()[0]
    sheets = write_sheets(layout)
    for data in sheets.values():
        for row in list(csv.reader(io.StringIO(data.decode(), newline="")))[1:]:
            for cell in row:
                assert not cell.startswith(tuple("=+-@＝＋－＠")) or float(cell.split()[0]) <= 0
    again = parse_layout(read_sheets(sheets, name="again").document)
    assert [p.id for p in again.plugs] == [p.id for p in layout.plugs]
    assert [v.id for v in again.valves] == [v.id for v in layout.valves]
    assert [p.id for p in again.pipes] == [p.id for p in layout.pipes]


@pytest.mark.parametrize("name", ["log-template.csv", "log-template.json"])
def test_a_log_comes_back_with_its_names(name: str) -> None:
    log = read_log(handout(name))
    assert {r.plug for r in log.rows} - {None} == {p.id for p in named()[0].plugs}


@pytest.mark.parametrize("ending", ["json", "csv"])
def test_the_command_line_takes_any_names(
    ending: str, tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    path = tmp_path / "🧊 שסתום.json"
    document = small_layout()
    document["plugs"][0]["id"] = "ضغط ١"
    path.write_text(json.dumps(document, ensure_ascii=False), encoding="utf-8")
    assert main(["check", str(path)]) in {1, 3}
    assert "ضغط" in capfdbinary.readouterr().out.decode()
    assert main(["takeoff", str(path), "--format", ending]) in {0, 1, 3}


# --- the pieces themselves ------------------------------------------------------------------------


def test_isolates_stand_round_a_run_and_leave_its_neighbours() -> None:
    assert set_apart("plug א1: 3.5 m") == f"plug {ISOLATE}א1{POP}: 3.5 m"
    assert set_apart("plug K1: 3.5 m") == "plug K1: 3.5 m"


def test_spelling_out_is_plain() -> None:
    assert spelled_out("a\x1b[31m\u202eb") == "a\\u001b[31m\\u202eb"
    assert spelled_out("\U000e0041") == "\\U000e0041"
    assert spelled_out("می\u200cشود") == "می\u200cشود"
