"""Any order of adding, reading, spoiling and restoring: the record and a plain list agree."""

from __future__ import annotations

import shutil
import tempfile
from contextlib import ExitStack
from dataclasses import replace
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from layoutcheck.record import Kept, Ledger, Signer
from layoutcheck.record.chain import FaultKind
from layoutcheck.record.entry import BEGINNING, digest_of
from layoutcheck.record.problems import NoRecord, RecordDamaged
from layoutcheck.record.tables import entries
from tests.record.conftest import DATABASES, behind_its_back, fresh_schema
from tests.record.writer import draft

WORDS = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=20)
FIELDS = ("name", "note", "site", "verdict", "at", "version", "layout_format")


class RecordMachine(RuleBasedStateMachine):
    """A record beside a list of what was added. where is set by the test, for each database."""

    database = ""

    def __init__(self) -> None:
        super().__init__()
        self._held = ExitStack()
        if self.database:
            self.where = self._held.enter_context(fresh_schema(self.database))
        else:
            folder = tempfile.mkdtemp()
            self._held.callback(shutil.rmtree, folder)
            self.where = f"{folder}/record.sqlite"
        self.added: list[Kept] = []

    def teardown(self) -> None:
        self._held.close()

    @rule(name=WORDS, note=WORDS, size=st.integers(0, 300), same=st.booleans())
    def add(self, name: str, note: str, size: int, same: bool) -> None:
        """Some entries keep the same texts as others."""
        number = 0 if same else len(self.added)
        given = replace(draft("Same", number, size), signer=Signer(name, note=note))
        kept = Ledger(self.where).append(given)
        last = self.added[-1].hash if self.added else BEGINNING
        assert (kept.entry.sequence, kept.entry.previous) == (len(self.added) + 1, last)
        assert (kept.entry.name, kept.entry.note) == (name, note)
        assert kept.entry.report == digest_of(given.report)
        assert Ledger(self.where).text(kept.entry.report) == given.report
        self.added.append(kept)

    @precondition(lambda self: self.added)
    @rule(data=st.data(), field=st.sampled_from(FIELDS))
    def spoil_and_restore(self, data: st.DataObject, field: str) -> None:
        at = data.draw(st.integers(1, len(self.added)))
        was = getattr(self.added[at - 1].entry, field)
        self._set(at, {field: f"{was}."[-10:] if field == "layout_format" else f"{was}."})
        told = {(f.kind, f.sequence) for f in Ledger(self.where).verify().faults}
        assert told == {(FaultKind.CHANGED, at)}
        if at == len(self.added):
            with pytest.raises(RecordDamaged):
                Ledger(self.where).append(draft("Eve", 0, 10))
        self._set(at, {field: was})

    def _set(self, at: int, values: dict[str, Any]) -> None:
        with behind_its_back(self.where) as connection:
            connection.execute(sa.update(entries).where(entries.c.sequence == at).values(values))

    @precondition(lambda self: self.added)
    @rule(data=st.data())
    def read_a_page(self, data: st.DataObject) -> None:
        after = data.draw(st.integers(0, len(self.added) + 1))
        limit = data.draw(st.integers(1, 5))
        assert Ledger(self.where).page(after=after, limit=limit) == self.added[after:][:limit]
        back = Ledger(self.where).newest(before=after + 1, limit=limit)
        assert back == self.added[:after][::-1][:limit]

    @invariant()
    def the_record_is_the_list(self) -> None:
        if not self.added:
            with pytest.raises(NoRecord):
                Ledger(self.where).count()
            return
        found = Ledger(self.where).verify([k.hash for k in self.added])
        assert found.whole, found.faults
        assert found.head == self.added[-1].hash
        assert list(Ledger(self.where).walk()) == self.added


@pytest.mark.parametrize("name", DATABASES)
def test_the_record_and_a_plain_list_agree(name: str, request: pytest.FixtureRequest) -> None:
    _run(name, request, examples=3, steps=8)


@pytest.mark.nightly
@pytest.mark.slow
@pytest.mark.parametrize("name", DATABASES)
def test_they_agree_for_long(name: str, request: pytest.FixtureRequest) -> None:
    _run(name, request, examples=30, steps=20)


def _run(name: str, request: pytest.FixtureRequest, *, examples: int, steps: int) -> None:
    database = "" if name == "sqlite" else request.getfixturevalue("postgresql")
    machine = type("Machine", (RecordMachine,), {"database": database})
    run_state_machine_as_test(
        machine, settings=settings(max_examples=examples, stateful_step_count=steps)
    )
