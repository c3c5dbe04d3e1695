"""What the demonstration collection has on display: one object that is counted, one that nobody counts, one at rest."""

from __future__ import annotations

from datetime import date, timedelta

from kilter.store.journal import now
from kilter.store.models import CollectionObject, Person
from kilter.store.verbs.inspections import Inspected, write_inspection
from kilter.store.verbs.running import METER, RAN, ROOM, Ran, write_running
from kilter.store.verbs.showings import Showing, show
from kilter.store.verbs.wearing import Renewal, set_wearing, write_renewal

COUNTED, NOT_COUNTED, AT_REST = "HC 0416", "HC 0503", "HC 0504"


def show_demonstration(person: Person) -> None:
    """
    Puts three objects of the demonstration on display, with days that lie before today.

    Args:
        person: With all roles.
    """
    _counted(person, CollectionObject.objects.get(number=COUNTED))
    _not_counted(person, CollectionObject.objects.get(number=NOT_COUNTED))
    figures = {"hours_a_week": 0.0, "switch_ons_a_week": 0.0}
    at_rest = CollectionObject.objects.get(number=AT_REST)
    show(person, at_rest, Showing(_before(500), place="hall, case 4", conditions="behind glass, never switched on",
                                  figures=figures))  # fmt: skip
    set_wearing(person, at_rest, "battery", 1, "seen through the lid, never taken out")


def _counted(person: Person, one: CollectionObject) -> None:
    figures = {"hours_a_week": 12.0, "switch_ons_a_week": 6.0, "warmth": 16.0}
    conditions = "no window near; the attendant switches it on in the morning"
    show(person, one, Showing(_before(900), place="hall, plinth 3", conditions=conditions, figures=figures))
    read = ((900, 3120.0, 40.0, False), (610, 3604.0, 290.0, False), (300, 4121.0, 560.0, False),
            (298, 0.0, 561.0, True), (35, 436.0, 788.0, False))  # fmt: skip
    for days, hours, switched, anew in read:
        words = "the meter's battery was flat; a new meter" if anew else ""
        write_running(person, one, Ran(METER, _before(days), hours=hours, switch_ons=switched, anew=anew, words=words))
    write_running(person, one, Ran(ROOM, _before(210), celsius=29.0, humidity=61.0, words="a hot week"))
    write_running(person, one, Ran(ROOM, _before(35), celsius=20.0, humidity=46.0))
    write_inspection(person, one, Inspected("electrical", _before(395), "nothing found", inspector="an electrician"))
    write_inspection(person, one, Inspected("dust", _before(95), "nothing found"))
    write_inspection(person, one, Inspected("look at electrolytic", _before(35), "something found",
                                            "C12 has a brown rim; hum as before", again=_before(-30)))  # fmt: skip


def _not_counted(person: Person, one: CollectionObject) -> None:
    conditions = "visitors start it with a key; nobody counts"
    show(person, one, Showing(_before(400), place="hall, by the stairs", conditions=conditions))
    for kind, count in (("belt", 3), ("motor", 1), ("lamp", 6)):
        set_wearing(person, one, kind, count)
    write_renewal(person, one, Renewal("lamp", _before(120), 2, 2))
    write_running(person, one, Ran(RAN, _before(14), _before(20), hours=9.5, switch_ons=41, words="a busy week"))
    write_inspection(person, one, Inspected("look at belt", _before(60), "nothing found"))


def _before(days: int) -> date:
    return now().date() - timedelta(days)
