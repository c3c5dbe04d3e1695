"""Rows read by the thousand are told as the models tell them; a check can be stopped, and others may write on."""

from __future__ import annotations

import hashlib
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from record_scene import Scene

from kilter.records.journal import JournalEntry
from kilter.services.journal_chain import EDITION, FIELDS, START, Chain, broken, canonical, hash_of
from kilter.store import check_rows, stored
from kilter.store.check import check
from kilter.store.check_rows import Comparison
from kilter.store.journal import plain
from kilter.store.models import JournalRow, Statement
from kilter.store.verbs.people import set_roles
from kilter.store.verbs.statements import state

TEXT = st.text(st.characters(exclude_categories=["Cs"]))


def lived_in(scene: Scene) -> None:
    """Rows in several tables, of words that JSON has to take care of."""
    one = scene.an_object()
    visit = scene.a_visit(one)
    scene.an_entry(visit)
    scene.an_entry(visit, after=1, value=-0.0, note='a "quoted" \\ note\n},"x":{ é 漢', uncertainty=1e-300)
    scene.an_entry(visit, after=2, value=float("inf"))
    scene.an_entry(visit, after=3, value=5)
    scene.an_entry(visit, after=4, value=None, word="silent")
    scene.a_file(one)
    scene.a_piece(one)
    scene.agree(scene.a_proposal(one), keeper="approver")
    set_roles(scene.who("administrator"), scene.who("reader"), ["reader", "approver"])
    state(scene.who("recorder"), one, "note", 'says "}},{" and "},"', reliability=1)


@given(st.builds(JournalEntry, st.integers(1, 2**62), *[TEXT] * 9))
def test_the_hash_is_that_of_the_canonical_json(entry: JournalEntry) -> None:
    """RFC 8259 text as the standard library writes it, keys sorted; FIPS 180-4 by hashlib."""
    plainly = {"edition": EDITION, **{name: getattr(entry, name) for name in FIELDS}}
    text = json.dumps(plainly, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    assert hash_of(entry) == hashlib.sha256(text.encode()).hexdigest()


def test_columns_at_once_tell_what_the_models_tell(record: Scene) -> None:
    lived_in(record)
    compared = 0
    for table in Comparison("default", print).tables.values():
        texts = stored.row_texts(table)
        for piece in stored.table_pieces("default", table):
            for row in piece:
                told = texts([row])
                expected = canonical(plain(table._base_manager.get(pk=row[0])))
                if told is None:  # infinity: the slow way decides
                    assert '"inf"' in expected
                else:
                    assert told == [expected]
                    compared += 1
    assert compared >= 10


def test_a_lived_in_record_is_whole(record: Scene) -> None:
    lived_in(record)
    found = check()
    assert found.wrong == ()
    assert found.finished


def test_pieces_of_any_size_tell_the_same(record: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    lived_in(record)
    whole = [row for piece in stored.journal_pieces("default") for row in piece]
    monkeypatch.setattr(stored, "PIECE", 2)
    assert [row for piece in stored.journal_pieces("default") for row in piece] == whole
    assert len(whole) == JournalRow.objects.count()
    assert check().wrong == ()


def test_one_entry_altered_among_many_is_found_where_it_is(record: Scene) -> None:
    """In one go and entry by entry: the same break."""
    lived_in(record)
    rows = [row for piece in stored.journal_pieces("default") for row in piece]
    for place, column in ((3, 5), (4, 9), (2, 0), (5, 10)):
        spoiled = [*rows[:place], (*rows[place][:column], rows[place][column] * 2, *rows[place][column + 1 :]),
                   *rows[place + 1 :]]  # fmt: skip
        if spoiled == rows:
            continue
        found = stored.break_in(Chain(), spoiled)
        assert found is not None
        assert found == broken((JournalEntry(*row[:-1]), row[-1]) for row in spoiled)
    chain = Chain()
    assert stored.break_in(chain, rows) is None
    assert (chain.read, chain.previous) == (len(rows), rows[-1][-1]) != (0, START)


def test_what_is_recorded_during_a_check_is_not_taken_for_put_in(record: Scene) -> None:
    lived_in(record)
    about = record.an_object("HC 0418")
    comparison = Comparison("default", lambda _: None)
    assert comparison.read_journal() is None
    state(record.who("recorder"), about, "note", "written down meanwhile")
    assert list(comparison.differences()) == []
    Statement._base_manager.create(**{  # behind the journal's back
        field.attname: getattr(Statement.objects.order_by("-pk")[0], field.attname)
        for field in Statement._meta.concrete_fields if not field.primary_key
    })  # fmt: skip
    comparison = Comparison("default", lambda _: None)
    comparison.read_journal()
    (words,) = comparison.differences()
    assert words.endswith("is not in the journal: somebody put it in")


def test_whoever_stops_it_hears_what_was_found(record: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    lived_in(record)
    monkeypatch.setattr(check_rows, "WORD_EVERY_S", 0.0)
    heard: list[str] = []

    def told(words: str) -> None:
        heard.append(words)
        if words.startswith("the rows the journal tells of,"):
            raise KeyboardInterrupt

    found = check(told=told)
    assert not found.finished
    assert found.entries == JournalRow.objects.count()
    assert found.rows >= 1
    assert any("entries" in words for words in heard)
