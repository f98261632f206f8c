"""Whatever is done to a chain but cutting its end or making it anew is found, and near its place.

The forger here has no guards and no constraints to mind: entries are plain values.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

from hypothesis import assume, given
from hypothesis import strategies as st

from layoutcheck.record.chain import FaultKind, TextState, chain_faults, noted_faults
from layoutcheck.record.entry import Entry, Kept, hash_of, next_entry
from tests.record.writer import draft

Chain = list[Kept]


def chain_of(many: int) -> Chain:
    chain: Chain = []
    for number in range(many):
        last = chain[-1] if chain else None
        chain.append(next_entry(draft(f"N{number}", number, 10), last=last, at=f"time {number}"))
    return chain


LONGEST = 8
WHOLE = chain_of(LONGEST + 1)
SPARE = WHOLE.pop()  # sound, but of another time
TEXTS = TextState(sound={d for kept in WHOLE for d in kept.entry.texts.values()})

# Of a chain of at most so many entries; the place is one of them.
chains = st.integers(2, LONGEST)
places = st.integers(0, LONGEST - 1)


def found_in(chain: Chain) -> list[tuple[FaultKind, int | None]]:
    ordered = sorted(chain, key=lambda kept: kept.entry.sequence)
    used = TextState(sound={d for kept in chain for d in kept.entry.texts.values()})
    return [(f.kind, f.sequence) for f in chain_faults(ordered, used)]


def test_a_chain_left_alone_is_whole() -> None:
    for many in range(LONGEST + 1):
        assert found_in(WHOLE[:many]) == []


@given(chains, places, st.sampled_from([f.name for f in fields(Entry)]), st.text(max_size=5))
def test_a_changed_field_is_found_at_its_entry(many: int, at: int, name: str, value: str) -> None:
    assume(at < many)
    chain = WHOLE[:many]
    was = chain[at]
    new: object = at + 1 + len(value) if name == "sequence" else value
    assume(getattr(was.entry, name) != new)
    changed: dict[str, Any] = {name: new}
    chain[at] = replace(was, entry=replace(was.entry, **changed))
    used = {d for kept in chain for d in kept.entry.texts.values()}
    told = [
        f.sequence
        for f in chain_faults(sorted(chain, key=lambda k: k.entry.sequence), TextState(sound=used))
    ]
    assert told
    # A changed number puts the entry elsewhere: then the fault is there, or where it was.
    assert {at + 1, chain[at].entry.sequence} & set(told)


@given(chains, places, st.integers(0, 63), st.sampled_from("0123456789abcdef"))
def test_a_changed_digit_of_a_hash_is_found(many: int, at: int, digit: int, value: str) -> None:
    assume(at < many)
    chain = WHOLE[:many]
    was = chain[at].hash
    changed = was[:digit] + value + was[digit + 1 :]
    assume(changed != was)
    chain[at] = replace(chain[at], hash=changed)
    assert found_in(chain) == [(FaultKind.CHANGED, at + 1)]


@given(chains, places)
def test_a_changed_entry_with_a_new_hash_breaks_the_next(many: int, at: int) -> None:
    assume(at < many - 1)
    chain = WHOLE[:many]
    forged = replace(chain[at].entry, name="Eve")
    chain[at] = Kept(forged, hash_of(forged))
    assert found_in(chain) == [(FaultKind.UNLINKED, at + 2)]


@given(chains, st.sets(places, min_size=1))
def test_entries_taken_out_are_found(many: int, gone: set[int]) -> None:
    left = [kept for n, kept in enumerate(WHOLE[:many]) if n not in gone]
    assume(left and max(gone) < left[-1].entry.sequence - 1)  # not only the end was cut
    told = found_in(left)
    holes = {n for n in gone if n < left[-1].entry.sequence - 1}
    firsts = sorted(n for n in holes if n - 1 not in holes)
    assert told == [(FaultKind.REMOVED, n + 1) for n in firsts]


@given(chains, places)
def test_an_entry_taken_out_and_closed_up_is_found(many: int, at: int) -> None:
    assume(at < many - 1)
    left = [*WHOLE[:at], *WHOLE[at + 1 : many]]
    closed = [replace(k, entry=replace(k.entry, sequence=n)) for n, k in enumerate(left, 1)]
    assert found_in(closed) == [(FaultKind.MOVED, n) for n in range(at + 1, many)]


@given(chains, st.permutations(range(LONGEST)))
def test_any_other_order_is_found(many: int, order: list[int]) -> None:
    new = [n for n in order if n < many]
    assume(new != sorted(new))
    shuffled = [
        replace(WHOLE[old], entry=replace(WHOLE[old].entry, sequence=n))
        for n, old in enumerate(new, 1)
    ]
    moved = [n for n, old in enumerate(new, 1) if old + 1 != n]
    assert found_in(shuffled) == [(FaultKind.MOVED, n) for n in moved]


@given(chains, places, st.booleans(), st.booleans())
def test_an_entry_put_in_is_found(many: int, at: int, hung: bool, rehashed: bool) -> None:
    """Hung on the one before it or not, with a hash of its own or not: the forger's best tries."""
    assume(at < many)
    entry = replace(SPARE.entry, sequence=at + 1)
    if hung:
        entry = replace(entry, previous=WHOLE[at - 1].hash if at else "0" * 64)
    forged = Kept(entry, hash_of(entry) if rehashed else SPARE.hash)
    behind = [
        replace(k, entry=replace(k.entry, sequence=k.entry.sequence + 1)) for k in WHOLE[at:many]
    ]
    told = found_in([*WHOLE[:at], forged, *behind])
    assert (FaultKind.MOVED, many + 1) in told
    # Without closing up there are two of one number.
    assert (FaultKind.INSERTED, at + 1) in found_in([*WHOLE[:many], forged])


def test_a_fork_is_found() -> None:
    """Two writers hang an entry on the same one: a constraint forbids it, and the walk sees it."""
    other = next_entry(draft("Other", 1, 10), last=WHOLE[2], at="later")
    assert found_in([*WHOLE[:4], other]) == [(FaultKind.INSERTED, 4)]
    renumbered = replace(other.entry, sequence=5)
    told = found_in([*WHOLE[:4], Kept(renumbered, hash_of(renumbered))])
    assert told == [(FaultKind.UNLINKED, 5)]


@given(chains, places)
def test_a_cut_end_shows_only_by_a_noted_hash(many: int, cut: int) -> None:
    assume(cut < many)
    left = WHOLE[:cut]
    assert found_in(left) == []
    hashes = [kept.hash for kept in left]
    noted = [kept.hash[:40] for kept in WHOLE[:many]]
    missing = list(noted_faults(noted, hashes))
    assert len(missing) == many - cut
    assert {f.kind for f in missing} == {FaultKind.NOTED_HASH_MISSING}


def test_texts_are_told_by_what_they_are() -> None:
    entry = WHOLE[1].entry
    state = TextState(
        sound=TEXTS.sound - {entry.layout, entry.report}, changed={entry.layout, "f" * 64}
    )
    told = [f.says for f in chain_faults(WHOLE, state)]
    assert told == [
        "The layout of entry 2 was changed.",
        "The report of entry 2 is not there.",
        "A text belongs to no entry (SHA-256 ffffffffffff…): its entry was taken out.",
    ]
