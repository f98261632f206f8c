"""Spoilt files of every kind: each is read, or refused by sound faults; nothing else happens.

Outside source: hypothesis chooses what is spoilt, and makes what it found small.
"""

from __future__ import annotations

import io
import json
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck.document import LayoutFaults
from tests.hardening.mutations import Step, spoil, spoilt_bytes, spoilt_documents
from tests.hardening.readers import READERS, read_or_refuse
from tests.hardening.runs import SLOWEST, many
from tests.hardening.seeds import SEEDS, archives, layouts, logs
from tests.sizes import some

QUICK = sorted(set(READERS) - {"ifc"})
MODELS = 250


@pytest.mark.parametrize("kind", sorted(READERS))
def test_what_the_fuzzing_starts_from_is_sound(kind: str) -> None:
    for seed in SEEDS[kind]():
        assert read_or_refuse(kind, seed) == "read"


@settings(max_examples=some(150))
@given(data=st.one_of(*map(spoilt_documents, layouts())))
def test_a_layout_spoilt_in_its_structure(data: bytes) -> None:
    read_or_refuse("layout", data)


@settings(max_examples=some(60))
@given(data=spoilt_documents(logs()[0]))
def test_a_log_spoilt_in_its_structure(data: bytes) -> None:
    read_or_refuse("log", data)


@pytest.mark.parametrize("kind", QUICK)
@settings(max_examples=some(70))
@given(data=st.data())
def test_a_file_spoilt_in_its_words_or_bytes(kind: str, data: st.DataObject) -> None:
    read_or_refuse(kind, data.draw(spoilt_bytes(list(SEEDS[kind]()))))


def test_models_spoilt_in_their_words_or_bytes() -> None:
    """In a process of its own, for the reader of models may end it; then the next one goes on."""
    found = many("ifc", first=0, count=MODELS, patience=300)
    assert not found.crashed
    assert found.counts.total() + len(found.died) == MODELS
    assert found.counts["refused"] > MODELS // 5  # it does try
    assert found.slowest[0] < SLOWEST


@pytest.mark.filterwarnings("ignore:Duplicate name")
@settings(max_examples=some(50))
@given(
    which=st.integers(0, 1),
    spoilt=st.lists(
        st.tuples(st.integers(0, 255), st.integers(0, 2**20), st.integers(0, 2**16)),
        min_size=1,
        max_size=4,
    ),
    packed=st.sampled_from([zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2]),
    named=st.sampled_from(["{}", "../{}", "/etc/{}", "A/B/{}", "C:\\{}", "{}\x00", "pipes.csv"]),
)
def test_an_archive_of_spoilt_files(
    which: int, spoilt: list[Step], packed: int, named: str
) -> None:
    """The archive is sound, so that what is spoilt in it gets as far as its own reader."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(archives()[which])) as whole,
        zipfile.ZipFile(out, "w", packed) as archive,
    ):
        for index, member in enumerate(whole.namelist()):
            data = whole.read(member)
            data = spoil(data, spoilt) if index == spoilt[0][0] % len(whole.namelist()) else data
            archive.writestr(named.format(member), data)
    read_or_refuse("zip", out.getvalue())


@settings(max_examples=some(60))
@given(
    number=st.one_of(st.floats(), st.integers(), st.sampled_from([1e308, -0.0, 5e-324, 10**400])),
    place=st.sampled_from(["at", "length", "cylinders", "snap_within", "via"]),
)
def test_any_number_is_a_number_or_refused(number: float, place: str) -> None:
    document = json.loads(layouts()[0])
    match place:
        case "at":
            document["junctions"][0]["at"] = [number, 0]
        case "length":
            document["pipes"][0]["length"] = f"{number!r} m" if number != 10**400 else "9" * 400
        case "cylinders":
            stock = {"coolant": "nitrogen", "cylinders": number, "mass_each": "20 kg"}
            document["site"] = {"stock": [stock]}
        case "snap_within":
            document["drawing"] = {"snap_within": number}
        case "via":
            document["pipes"][0]["via"] = [[number, number]]
    text = json.dumps(document).encode()
    if read_or_refuse("layout", text) == "read":
        assert -1e9 <= number <= 1e9


@pytest.mark.parametrize("text", ["1e309", "-1e999", "NaN", "Infinity", "9" * 401])
def test_numbers_that_json_can_not_hold_are_refused_by_name(text: str) -> None:
    with pytest.raises(LayoutFaults) as raised:
        READERS["layout"](b'{"a": ' + text.encode() + b"}")
    assert "hold" in raised.value.faults[0].problem
