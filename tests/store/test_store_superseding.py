"""Nothing is changed: what corrects a row is a later row that names it, once; and nobody runs over another."""

from __future__ import annotations

import math

import pytest
from record_scene import Scene, last_entry

from kilter.measure.errors import BadInput
from kilter.records.reading import Reading
from kilter.services.visit_log import READ, UNDONE
from kilter.store.models import CollectionObject, Filing, ObjectEdition, Statement, VisitEntry
from kilter.store.search import find_objects
from kilter.store.verbs.boards import changed_files, keep_board, unpacked
from kilter.store.verbs.files import take_file_away
from kilter.store.verbs.objects import edit_object, receive_object
from kilter.store.verbs.statements import state, take_back
from kilter.store.verbs.visits import add_entry, log_of, open_visit, record_check, set_visit


def test_an_objects_editions(record: Scene) -> None:
    one = record.an_object(owner="")
    again = edit_object(record.who("registrar"), one, {"owner": "the town"}, "the deed was found", edition=1)
    assert (again.edition, again.owner) == (2, "the town")
    assert list(ObjectEdition.objects.filter(object=one).values_list("edition", "fields__owner")) == [
        (1, ""),
        (2, "the town"),
    ]
    with pytest.raises(BadInput, match="edition 2, while you looked at 1"):
        edit_object(record.who("registrar"), one, {"owner": "nobody"}, "x", edition=1)
    with pytest.raises(BadInput, match="no change"):
        edit_object(record.who("registrar"), one, {"owner": "the town"}, "x")
    with pytest.raises(BadInput, match="nothing under 'reason'"):
        edit_object(record.who("registrar"), one, {"owner": "nobody"}, " ")


def test_a_number_is_given_once(record: Scene) -> None:
    record.an_object("HC 0417")
    with pytest.raises(BadInput, match="twice"):
        receive_object(record.who("registrar"), {"number": " HC 0417 ", "name": "another"})


@pytest.mark.parametrize(
    ("fields", "found"),
    [
        ({"number": "", "name": "x"}, "nothing under 'number'"),
        ({"number": "1\n2", "name": "x"}, "no number"),
        ({"number": "..", "name": "x"}, "no number"),
        ({"number": "1", "name": "x" * 201}, "201 characters"),
        ({"number": "1", "name": "a\0b"}, r"U\+0000"),
        ({"number": "1", "name": "a\ud800b"}, r"U\+D800"),
        ({"number": "1", "name": "x", "accession": "ours"}, "'ours' as accession"),
        ({"number": "1", "name": "x", "state": "burnt"}, "'burnt' as state"),
        ({"number": "1", "name": "x", "colour": "red"}, "a field 'colour'"),
    ],
)
def test_fields_that_do_not_do(record: Scene, fields: dict[str, str], found: str) -> None:
    with pytest.raises(BadInput, match=found):
        receive_object(record.who("registrar"), fields)
    assert not CollectionObject.objects.exists()


def test_a_statement_is_superseded_once(record: Scene) -> None:
    one, who = record.an_object(), record.who("recorder")
    first = state(who, one, "history", "bought in 1984", source="label", reliability=0.3)
    second = state(who, one, "history", "bought in 1985", source="invoice", supersedes=first)
    assert list(Statement.objects.standing()) == [second]
    with pytest.raises(BadInput, match="another one took the place of"):
        state(who, one, "history", "bought in 1986", supersedes=first)
    taken = take_back(who, second, "it is another machine's invoice")
    assert list(Statement.objects.standing()) == []
    for earlier in (second, taken):
        with pytest.raises(BadInput):
            take_back(who, earlier, "again")
    assert Statement.objects.count() == 3
    with pytest.raises(BadInput, match="another object"):
        state(who, record.an_object("HC 0418"), "note", "x", supersedes=taken)


def test_search_follows_what_stands(record: Scene) -> None:
    """Case and accents do not count: Unicode's own folding and decomposition (NFKD), UAX 15."""
    one = record.an_object()
    first = state(record.who("recorder"), one, "note", "Gehäuse in Größe 2 stößt an")
    assert list(find_objects("GROSSE gehause")) == [one]
    take_back(record.who("recorder"), first, "elsewhere")
    assert not find_objects("gehause").exists()


def test_a_file_is_taken_away_once(record: Scene) -> None:
    filing = record.a_file(record.an_object())
    taken = take_file_away(record.who("recorder"), filing, "blurred")
    assert taken.attachment == filing.attachment
    for one in (filing, taken):
        with pytest.raises(BadInput, match="taken away"):
            take_file_away(record.who("recorder"), one, "again")
    assert Filing.objects.count() == 2


def test_entries_come_one_after_another(record: Scene) -> None:
    visit = record.a_visit()
    record.an_entry(visit)
    with pytest.raises(BadInput, match="entry 1, while you looked at entry 0"):
        record.an_entry(visit)
    record.an_entry(visit, after=1)
    with pytest.raises(BadInput, match="number of an earlier entry"):
        add_entry(record.who("recorder"), visit, UNDONE, {"entry": "3"}, None, after=2)
    add_entry(record.who("recorder"), visit, UNDONE, {"entry": "1"}, None, after=2)
    log = log_of(visit)
    assert [one.number for one in log.entries] == [1, 2, 3]
    assert 1 not in [one.number for one in log.standing()]
    assert log.entries[0].reading is not None
    assert log.entries[0].reading.value == 1.524


def test_a_closed_visit_takes_nothing(record: Scene) -> None:
    visit, who = record.a_visit(), record.who("recorder")
    set_visit(who, visit, "closed", "lunch")
    for deed in (lambda: record.an_entry(visit), lambda: record_check(who, visit, "fuse fits", "passed")):
        with pytest.raises(BadInput, match="a visit that is closed"):
            deed()
    with pytest.raises(BadInput, match="closed already"):
        set_visit(who, visit, "closed")
    set_visit(who, visit, "reopened")
    record.an_entry(visit)
    assert open_visit(who, visit.object).number == 2


def test_a_check_is_recorded_anew(record: Scene) -> None:
    visit, who = record.a_visit(), record.who("recorder")
    first = record_check(who, visit, "fuse fits", "not done")
    record_check(who, visit, "fuse fits", "passed", supersedes=first)
    with pytest.raises(BadInput, match="superseded"):
        record_check(who, visit, "fuse fits", "failed", supersedes=first)


@pytest.mark.parametrize("value", [math.inf, -math.inf, -0.0, 5, 1e-300, 1.7976931348623157e308])
def test_numbers_come_back_as_they_went_in(record: Scene, value: float) -> None:
    """An ohmmeter over its limit reads infinite; both engines keep IEEE 754 double numbers."""
    entry = record.an_entry(record.a_visit(), value=value)
    assert VisitEntry.objects.get(pk=entry.pk).value == value


def test_what_is_no_number_is_refused(record: Scene) -> None:
    with pytest.raises(BadInput, match="no number"):
        record.an_entry(record.a_visit(), value=math.nan)


def test_a_text_is_held_to_its_length_on_every_engine(record: Scene) -> None:
    visit = record.a_visit()
    told = Reading("P" * 121, "voltage", 1.0)
    with pytest.raises(BadInput, match="121 characters under 'point'"):
        add_entry(record.who("recorder"), visit, READ, {}, told, after=0)


def test_boards_have_editions(record: Scene) -> None:
    who, files = record.who("repairer"), {"board.toml": b"kilter = 1\n", "pictures/top.svg": b"<svg/>"}
    first = keep_board(who, "step", "Step computer", "board.toml", files)
    with pytest.raises(BadInput, match="holds already"):
        keep_board(who, "step", "Step computer", "board.toml", files)
    second = keep_board(who, "step", "Step computer", "board.toml", {**files, "more.txt": b"x"}, "the rest")
    assert second.edition == 2
    main = unpacked(first)
    assert main.read_bytes() == files["board.toml"]
    assert (main.parent / "pictures" / "top.svg").read_bytes() == b"<svg/>"
    assert changed_files(first) == ()
    (main.parent / "pictures" / "top.svg").write_bytes(b"<svg>")
    assert changed_files(first) == ("pictures/top.svg",)


@pytest.mark.parametrize("name", ["../up.toml", "/etc/passwd", "a/../../b", "c:\\x", "a\nb", "", "x" * 201])
def test_a_boards_file_stays_in_its_folder(record: Scene, name: str) -> None:
    with pytest.raises(BadInput, match="a name within the board's folder"):
        keep_board(record.who("repairer"), "step", "Step", name, {name: b"x"})


def test_a_board_for_the_visit(record: Scene) -> None:
    who = record.who("repairer")
    edition = keep_board(who, "step", "Step", "a.toml", {"a.toml": b"x"})
    one = record.an_object(board=edition.board)
    visit = open_visit(who, one)
    assert visit.board_now() == edition
    later = keep_board(who, "step", "Step", "a.toml", {"a.toml": b"y"})
    assert visit.board_now() == edition
    set_visit(who, visit, "board", "the drawing was corrected", later)
    assert visit.board_now() == later
    with pytest.raises(BadInput, match="no board edition"):
        set_visit(who, visit, "board")


def test_the_journal_tells_the_rows(record: Scene) -> None:
    entry = record.an_entry(record.a_visit())
    told = last_entry()
    assert (told.who, told.verb, told.what) == (record.who("recorder").key, "record at the bench", "object HC 0417")
    assert f'"visitentry {entry.pk}":' in told.after
    assert '"value":1.524' in told.after
