"""Commands that keep what was learned in a file or in the record: where, and for whom in the record."""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kilter.measure.errors import BadInput
from kilter.wiring.experience_file import ExperienceFile

if TYPE_CHECKING:
    from kilter.store.models import Person


def place_options(parser: argparse.ArgumentParser, *, record_alone: bool = False) -> None:
    """
    Where experience is kept.

    Args:
        parser: Of the command.
        record_alone: It works on the record only, and on its usual folder unless told otherwise.
    """
    home = "data folder of the record, in place of KILTER_HOME" if record_alone else "the record in this data folder"
    group: Any = parser if record_alone else parser.add_mutually_exclusive_group(required=True)
    group.add_argument("--home", metavar="DIR", type=Path, help=home)
    if not record_alone:
        group.add_argument("--experience", metavar="FILE", type=Path, help="experience file (.jsonl)")


def keeper_of(chosen: argparse.Namespace, doing: str) -> Any:
    """
    What keeps the experience: a file, or the record for the person that --who names.

    Args:
        chosen: With the options of `place_options`; --who only where something is added.
        doing: What is being done, for messages.

    Raises:
        BadInput: There is no such record, or nobody in it of that login.
    """
    if getattr(chosen, "experience", None) is not None:
        return ExperienceFile(chosen.experience)
    open_record(chosen.home, doing)
    from kilter.wiring.record_experience import RecordExperience

    return RecordExperience(person_named(chosen.who, doing) if hasattr(chosen, "who") else None)


def open_record(home: Path | None, doing: str) -> None:
    """
    Opens the record in a data folder.

    Raises:
        BadInput: There is none, or one of another release.
    """
    if home is not None:
        os.environ["KILTER_HOME"] = str(home.expanduser().absolute())
    from kilter.store.start import start_store

    start_store()
    from kilter.store.prepare import demand_record

    demand_record(doing)


def person_named(login: str, doing: str) -> Person:
    """
    Who acts in the record.

    Raises:
        BadInput: Nobody is named, or nobody with that login may come in.
    """
    from kilter.store.models import Person

    found: Person | None = Person.objects.filter(login__iexact=login.strip(), is_active=True).first()
    if found is None or not login.strip():
        raise BadInput(doing, f"the login '{login}'" if login else "nobody who does it", "a login of the record",
                       "Name it with --who; 'kilter store person list' tells them.")  # fmt: skip
    return found
