"""The demonstration object that comes with Kilter: an invented teaching computer and three visits to it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.resources import as_file, files
from pathlib import Path


@dataclass(frozen=True)
class Stage:
    """One look at the readings of a visit. `story` is what a person would tell about it."""

    readings: str
    story: str


@dataclass(frozen=True)
class DemoVisit:
    """One visit: its board file and its stages in order."""

    key: str
    board: str
    title: str
    stages: tuple[Stage, ...]


VISITS = (
    DemoVisit(
        "a",
        "board.toml",
        "The silent one",
        (
            Stage(
                "a.csv",
                "The step computer counts and shows its digits, but its loudspeaker says nothing. Fourteen readings "
                "were taken, from the supply towards the loudspeaker, all with a multimeter, a counter and the eye.",
            ),
        ),
    ),
    DemoVisit(
        "b",
        "board.toml",
        "The dead one",
        (
            Stage("b1.csv", "A second object of the same type: no lamp, no digits, a hum. The first nine readings."),
            Stage(
                "b2.csv",
                "The regulator was renewed. The lamp is lit now, but there are neither digits nor sound, and what "
                "was read before the repair belongs to another state of the object.",
            ),
            Stage(
                "b3.csv",
                "The divider was swapped in its socket: the sound is back, the digits are not. The first fault had "
                "hidden the second, and the two together the third.",
            ),
        ),
    ),
    DemoVisit(
        "c",
        "c.toml",
        "The labelled one",
        (
            Stage(
                "c.csv",
                "A third object has a sticker inside its lid: 'processor dead, find new one'. The label counts as "
                "evidence with a reliability, and the readings are weighed against it.",
            ),
        ),
    ),
)


@contextmanager
def demo_folder() -> Iterator[Path]:
    """The folder with boards and readings, as files."""
    with as_file(files("kilter.data").joinpath("demo")) as folder:
        yield folder


def copy_demo(target: Path) -> tuple[Path, ...]:
    """
    Copies the demonstration files into a folder, made if new; files that are there already are left alone.

    Returns:
        The files that were copied.
    """
    target.mkdir(parents=True, exist_ok=True)
    with demo_folder() as folder:
        new = [one for one in sorted(folder.iterdir()) if one.is_file() and not (target / one.name).exists()]
        for one in new:
            shutil.copyfile(one, target / one.name)
    return tuple(target / one.name for one in new)
