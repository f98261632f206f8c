"""What fuzzing and reading with a bad will have found, each kept as a case, made small by hand.

Every case is mended. They are grouped by what would have happened before.
"""

from __future__ import annotations

import io
import json
import random
import re
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from layoutcheck.document import LayoutFaults, parse_layout, read_text
from layoutcheck.document.faults import MOST_FAULTS, shown
from layoutcheck.importers.dxf.read import read_dxf
from layoutcheck.importers.read import read_file
from layoutcheck.report.log import read_log
from layoutcheck.rules.registry import company_pack
from tests.cli.small_layout import small_layout
from tests.hardening.readers import READERS, read_or_refuse
from tests.hardening.seeds import DRAWING_MAP, SEEDS, logs

HUGE = "0x" + "f" * 6000  # Python reads such a number, and refuses to write it in tens


def refused(read: Callable[[], object]) -> tuple[str, ...]:
    """Read what must be refused; give the problems."""
    with pytest.raises(LayoutFaults) as raised:
        read()
    return tuple(fault.problem for fault in raised.value.faults)


# --- ended in a traceback -----------------------------------------------------------------------

CRASHED: dict[str, tuple[str, bytes, str]] = {
    "an endless number in YAML": ("yaml", f"a: {HUGE}\n".encode(), "is required"),
    "an endless number in a pack": ("pack", b"name = 'x'\nb = 0x" + b"f" * 1900, "not a field"),
    "a number of 5000 digits in a pack": ("pack", b"a = " + b"9" * 1900, "not TOML|not a field"),
    "a pack's figure past the floats": (
        "pack",
        b'name = "x"\n[figures.plug-loss]\nleast_time = ' + b"9" * 400,
        "",
    ),
    "an endless number in a map": ("map", f"snap = {HUGE}\nlayers = {{}}\n".encode()[:2000], ""),
}


@pytest.mark.parametrize("case", CRASHED)
def test_what_ended_in_a_traceback_is_refused(case: str) -> None:
    kind, data, words = CRASHED[case]
    problems = refused(lambda: READERS[kind](data))
    assert not words or any(word in problem for word in words.split("|") for problem in problems)


def test_a_key_too_deep_to_be_shown_is_refused() -> None:
    key = ".".join("a" * 900)
    assert "is not a field of a pack" in refused(lambda: company_pack(f'name="x"\n{key} = 1\n'))[0]


def test_a_member_whose_bytes_are_broken_is_refused(tmp_path: Path) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("pipes.csv", b"id,from,to\n" * 100)
    data = bytearray(out.getvalue())
    data[45:50] = b"\xff\xff\xff\xff\xff"
    path = tmp_path / "broken.zip"
    path.write_bytes(bytes(data))
    assert "is not a sound .zip archive" in refused(lambda: read_file(path))[0]


@pytest.mark.parametrize("line", ["DXF attribute", "ends"])
def test_an_entity_of_a_drawing_that_can_not_be_used_is_told(line: str, tmp_path: Path) -> None:
    from ezdxf.filemanagement import new  # noqa: PLC0415 - an optional part

    drawing = new("R2018")
    far = 1e300 if line == "ends" else 2e9
    drawing.modelspace().add_line((0, 0), (far, 0), dxfattribs={"layer": "PIPE"})
    path = tmp_path / "far.dxf"
    drawing.saveas(str(path))
    problems = refused(lambda: read_dxf(path, name="far.dxf", mapping=DRAWING_MAP))
    assert "no number, or too large" in problems[0]


def test_a_model_whose_global_id_is_an_element_is_refused() -> None:
    model = SEEDS["ifc"]()[0]
    first = model[model.index(b"IFCPIPESEGMENT('") :][15:39]
    with pytest.raises(LayoutFaults) as raised:
        READERS["ifc"](model.replace(first, b"#1", 1))
    assert raised.value.faults[0].problem == "has no sound GlobalId"


def test_a_model_that_ends_its_reader_does_not_end_us() -> None:
    """The C++ reader of models fails on some files; the first such file that was found, cut down.

    Whether it still does is its makers' business: here only that we outlive it.
    """
    model = SEEDS["ifc"]()[1].split(b"\n")
    broken = [*model[:3], *[b"FILE_SCHEMA(hell 0.9','Nobody');"] * 23, *model[3:]]
    assert read_or_refuse("ifc", b"\n".join(broken)) == "refused"


# --- took memory or time without end ------------------------------------------------------------


def _many(entry: str) -> dict[str, Any]:
    entries = json.loads(f"[{entry}" + f",{entry}" * 300_000 + "]")
    return {"format": "layoutcheck layout 1", "pipes": entries}


@pytest.mark.parametrize("entry", ["1", "{}", '{"id":1}'])
def test_a_list_of_wrong_entries_makes_a_bounded_number_of_faults(entry: str) -> None:
    with pytest.raises(LayoutFaults) as raised:
        parse_layout(_many(entry))
    assert len(raised.value.faults) == MOST_FAULTS + 1
    assert "only the first 1000 faults are told" in raised.value.faults[-1].problem


def test_many_fields_are_refused_at_once() -> None:
    many = {f"x{n}": n for n in range(100_000)}
    assert refused(lambda: parse_layout(many)) == ("has more than 100 fields",)


def test_a_drawn_path_of_too_many_corners_is_refused() -> None:
    document = small_layout()
    document["pipes"][0]["via"] = [[0, 0]] * 30_000
    assert refused(lambda: parse_layout(document)) == ("has more than 20000 entries here",)


def calls(work: Callable[[], object]) -> int:
    """Count the calls of functions in a piece of work: as long as it takes, and no clock's."""
    count = 0

    def seen(*_: object) -> None:
        nonlocal count
        count += 1

    sys.setprofile(seen)
    try:
        work()
    finally:
        sys.setprofile(None)
    return count


def test_names_of_nothing_are_answered_in_time_that_grows_with_their_number() -> None:
    """Looking for the likest of all ids for each wrong name took hours."""
    steps = []
    for number in (200, 2_000):
        document = small_layout()
        document["junctions"] = [{"id": f"J{n}"} for n in range(number)]
        pipe = {**document["pipes"][0], "from": "J0", "to": "J1"}
        document["pipes"] = [{**pipe, "id": f"P{n}", "to": f"Q{n}"} for n in range(number)]
        steps.append(calls(lambda document=document: refused(lambda: parse_layout(document))))  # type: ignore[misc]
    assert steps[1] < 40 * steps[0]  # ten times as many; before, a hundred times as much


def test_many_valves_on_one_pipe_are_compared_along_it_and_not_each_with_each() -> None:
    steps = []
    for number in (200, 2_000):
        document = small_layout()
        document["pipes"][2]["length"] = f"{number} m"
        valves = [{"id": f"W{n}", "pipe": "P3", "station": f"{n + 0.5} m"} for n in range(number)]
        document["valves"] = [*document["valves"], *valves]
        steps.append(calls(lambda document=document: parse_layout(document)))  # type: ignore[misc]
    assert steps[1] < 40 * steps[0]


def test_a_toml_key_of_many_parts_is_refused_before_it_is_read() -> None:
    """Python's reader of TOML takes 44 s for such a key (measured here): its square."""
    assert "line of more than 2000" in refused(lambda: company_pack("a." * 50_000 + "a = 1"))[0]


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_member_that_could_unpack_to_gigabytes_in_one_go_is_refused(
    method: int, tmp_path: Path
) -> None:
    path = tmp_path / "bomb.zip"
    with zipfile.ZipFile(path, "w", method) as archive:
        archive.writestr("pipes.csv", b"\0" * 50_000_000)
    assert "packed in a way that is not read" in refused(lambda: read_file(path))[0]


def test_a_sheet_of_empty_lines_is_not_kept() -> None:
    read = lambda: READERS["csv"](b"id,from,to,size,material\n" + b"\n" * 5_000_000)  # noqa: E731
    assert "has more than 200000 rows" in refused(read)[0]


def test_a_row_without_end_is_refused() -> None:
    read = lambda: READERS["csv"](b"id,from,to,size,material\n" + b"," * 5_000_000)  # noqa: E731
    assert "has a row of more than 200000 characters" in refused(read)[0]
    assert "a row of more than" in refused(lambda: read_log(b"a" + b",a" * 5_000_000))[0]


def test_a_sheet_of_many_columns_is_refused() -> None:
    read = lambda: READERS["csv"](b"id" + b",x" * 50_000 + b"\n")  # noqa: E731
    assert "has too many columns" in refused(read)


def test_many_ends_on_one_spot_are_refused(tmp_path: Path) -> None:
    from ezdxf.filemanagement import new  # noqa: PLC0415 - an optional part

    chance = random.Random(1)
    drawing = new("R2018")
    space = drawing.modelspace()
    for number in range(800):
        start = (chance.random() * 1e-3, chance.random() * 1e-3)
        space.add_line(start, (number + 10, 5), dxfattribs={"layer": "PIPE"})
    path = tmp_path / "heap.dxf"
    drawing.saveas(str(path))
    problems = refused(lambda: read_dxf(path, name="heap.dxf", mapping=DRAWING_MAP))
    assert "too many ends that lie on each other" in problems[0]


def test_an_arc_far_larger_than_the_snap_has_a_bounded_number_of_chords(tmp_path: Path) -> None:
    from ezdxf.filemanagement import new  # noqa: PLC0415 - an optional part

    drawing = new("R2018")
    space = drawing.modelspace()
    space.add_arc((0, 0), 4e8, 0, 90, dxfattribs={"layer": "PIPE"})
    path = tmp_path / "arc.dxf"
    drawing.saveas(str(path))
    mapping = DRAWING_MAP.replace("snap = 0.5", "snap = 1e-6")
    document = read_dxf(path, name="arc.dxf", mapping=mapping).document
    assert 100 < len(document["pipes"][0]["via"]) < 20_000


def test_bodies_that_use_each_other_over_and_over_are_refused() -> None:
    """Twenty-four maps, each with two of the next: 16 million parts from some seventy lines."""
    model = SEEDS["ifc"]()[0].decode()
    number = 900_000
    lines = ["#899990=IFCCARTESIANPOINT((0.,0.,0.));", "#899991=IFCAXIS2PLACEMENT3D(#899990,$,$);"]
    lines.append("#899992=IFCCARTESIANTRANSFORMATIONOPERATOR3D($,$,#899990,1.,$);")
    lines.append(f"#{number}=IFCPOLYLINE((#899990,#899990));")
    context = re.findall(r"(#\d+)=IFCGEOMETRICREPRESENTATIONCONTEXT", model)[0]
    for _ in range(24):
        below, number = number, number + 10
        context = (
            "#"
            + model.split("IFCGEOMETRICREPRESENTATIONCONTEXT")[0].rsplit("#", 1)[1].split("=")[0]
        )
        lines.append(
            f"#{number + 1}=IFCSHAPEREPRESENTATION({context},'Body','X',(#{below},#{below}));"
        )
        lines.append(f"#{number + 2}=IFCREPRESENTATIONMAP(#899991,#{number + 1});")
        lines.append(f"#{number}=IFCMAPPEDITEM(#{number + 2},#899992);")
    shape = model.split("IFCSHAPEREPRESENTATION(")[1].split("(#")[1].split(")")[0]
    model = model.replace(f"(#{shape})", f"(#{number})", 1).replace(
        "ENDSEC;\nEND-ISO", "\n".join(lines) + "\nENDSEC;\nEND-ISO"
    )
    with pytest.raises(LayoutFaults) as raised:
        READERS["ifc"](model.encode())
    assert "a body has more than 200000 parts" in raised.value.faults[0].problem


# --- was silently wrong -------------------------------------------------------------------------


def test_two_sheets_of_one_name_in_an_archive_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "two.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("a/pipes.csv", b"id\nP1\n")
        archive.writestr("b/pipes.csv", b"id\nP2\n")
    assert "two files named pipes.csv: which is meant?" in refused(lambda: read_file(path))[0]


def test_an_open_quote_in_a_log_does_not_swallow_its_rest() -> None:
    log = logs()[1].replace(b"inject", b'"inject', 1)
    assert "is not CSV" in refused(lambda: read_log(log))[0]


def test_names_of_a_network_file_that_are_cleaned_keep_their_pipes() -> None:
    network = SEEDS["inp"]()[0].replace(b"J1 ", "J\u200b1 ".encode())
    assert read_or_refuse("inp", network) == "read"


@pytest.mark.parametrize(
    "twin", ["V\u00e9 1", "V\u0065\u0301 1", "V\u00e9\u00a01", "V\u00e9  1", "V\u00e9\ufe0f 1"]
)
def test_two_ids_that_look_the_same_are_refused(twin: str) -> None:
    document = small_layout()
    valve = document["valves"][0]
    document["valves"] = [{**valve, "id": "V\u00e9 1"}, {**valve, "id": twin, "station": "22 ft"}]
    del document["work"]
    problems = refused(lambda: parse_layout(document))
    words = ("looks the same as the id", "is the id of another", "direction character")
    assert any(word in problem for word in words for problem in problems)


@pytest.mark.parametrize(
    "own", [" V1", "V1 ", "\u00a0V1", "\u3000", "V\u2800", "V\u3164", "V\u200c1"]
)
def test_an_id_with_a_part_that_nobody_sees_is_refused(own: str) -> None:
    document = small_layout()
    document["plugs"][0]["id"] = own
    refused(lambda: parse_layout(document))


@pytest.mark.parametrize(
    "own",
    ["می\u200cشود", "क्\u200dष", "葛\U000e0100城", "🧊\ufe0f", "ضغط ١", "שסתום־3", "V\u0303\u0301"],
)
def test_joiners_and_marks_that_a_script_needs_are_let_through(own: str) -> None:
    document = small_layout()
    document["plugs"][0]["id"] = own
    assert parse_layout(document).plugs[0].id == own


# --- told more than a screen holds --------------------------------------------------------------


def test_what_was_found_is_cut_whatever_it_is() -> None:
    deep: Any = 1
    for _ in range(100_000):
        deep = [deep]
    for value in ("x" * 10**6, [0] * 10**6, {"a": "b" * 10**6}, deep, 16**9000, b"\0" * 10**6):
        assert len(shown(value)) <= 81 + 9 * 6
    with pytest.raises(LayoutFaults) as raised:
        parse_layout({**small_layout(), "y" * 10**6: 1})
    assert len(raised.value.faults[0].pointer) < 200


def test_yaml_is_read_up_to_what_people_write_by_hand() -> None:
    text = "a: 1\n" + "# filler\n" * 200_000
    assert (
        "of YAML that are read; write JSON" in refused(lambda: read_text(text, suffix=".yaml"))[0]
    )
