"""The demonstration collection: the invented Cabinet's objects and their histories, put into a new record."""

from __future__ import annotations

from importlib.resources import files

from kilter.importers.load import load_readings
from kilter.measure.errors import BadInput
from kilter.services.permissions import ROLES
from kilter.services.visit_log import READ, WAIVED
from kilter.store.models import CollectionObject, KnownBoard, Person
from kilter.store.verbs.boards import keep_board
from kilter.store.verbs.objects import receive_object
from kilter.store.verbs.statements import state
from kilter.store.verbs.visits import add_entry, open_visit
from kilter.wiring.demo_display import show_demonstration
from kilter.wiring.record_bench import board_of

BOARD = ("board.toml", "board.cir")
OBJECTS = (
    ("HC 0417", "Step computer", "waiting", "Silent: the digits are right, the loudspeaker says nothing."),
    ("HC 0418", "Step computer, second one", "waiting", "No lamp, no digits, no sound."),
    ("HC 0421", "Step computer, third one", "waiting", "Sound, but no digits."),
    ("HC 0503", "Sorting machine", "works", ""),
    ("HC 0504", "Arithmetic trainer", "display only", ""),
    ("HC 0416", "Step computer, the one that works", "works", ""),
)
KIND, MADE, PLACE = "teaching computer", "about 1983", "workshop, shelf 2"


def fill(person: Person) -> list[CollectionObject]:
    """
    Puts it into a record that holds no objects.

    Args:
        person: With all roles.

    Raises:
        BadInput: The record holds objects already.
    """
    if CollectionObject.objects.exists() or KnownBoard.objects.exists():
        raise BadInput("Cannot put the demonstration in", "a record that holds objects or boards", "an empty record",
                       "Name another folder with --home.")  # fmt: skip
    folder = files("kilter.data") / "demo"
    edition = keep_board(
        person, "step-computer-2", "Step computer, main board, revision 2", BOARD[0],
        {name: (folder / name).read_bytes() for name in BOARD}, "from the drawing in the lid",
    )  # fmt: skip
    found = [_object(person, edition.board, *row) for row in OBJECTS]
    silent, _, third = found[:3]
    state(person, third, "diagnosis", "Processor dead.", source="sticker in the lid, no name, no date",
          reliability=0.3, part="U6")  # fmt: skip
    state(person, silent, "history", "Came with an adaptor whose plug fits but which may never have belonged to it.",
          source="the giver's letter")  # fmt: skip
    _visit(person, silent)
    show_demonstration(person)
    return found


def _object(person: Person, board: KnownBoard, number: str, name: str, at: str, condition: str) -> CollectionObject:
    computer = name.startswith("Step")
    one = receive_object(
        person,
        {"number": number, "name": name, "kind": KIND, "made": MADE, "owner": "Harrowmere Cabinet", "state": at,
         "accession": "accessioned", "location": PLACE, "board": board if computer else None},
        "demonstration",
    )  # fmt: skip
    if condition:
        state(person, one, "condition", condition, source="the volunteer who unpacked it")
    return one


def _visit(person: Person, one: CollectionObject) -> None:
    """The first readings of visit a; the rest is for whoever tries it."""
    visit = open_visit(person, one, "demonstration: find out why it is silent")
    edition = visit.board_edition
    assert edition is not None
    readings = load_readings(str(files("kilter.data") / "demo" / "a.csv"), board_of(edition))
    note = "demonstration: the readings are simulated, nothing was switched on"
    add_entry(person, visit, WAIVED, {"note": note}, None, after=0)
    for number, reading in enumerate(readings[:8], 1):
        value = reading.word if reading.value is None else f"{reading.value:.6g}"
        words = {"point": reading.point, "quantity": reading.quantity, "value": value, "state": reading.state,
                 "instrument": reading.instrument}  # fmt: skip
        add_entry(person, visit, READ, {key: word for key, word in words.items() if word}, reading, after=number)


def demo_person() -> Person:
    """Somebody with every role and a password that nobody knows: the address that is printed lets one in."""
    import secrets

    from kilter.store.verbs.people import first_administrator

    there = Person.objects.order_by("pk").first()
    return there or first_administrator("demonstration", secrets.token_urlsafe(24), "Demonstration", ROLES)
