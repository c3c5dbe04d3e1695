"""Words on the command line that name places in pictures: matches, corners, values by name."""

from __future__ import annotations

import math

from kilter.measure.errors import BadInput
from kilter.services.mark_photograph import Mark
from kilter.services.place_outlines import Match
from kilter.thermal.outlines import Corner


def match_of(word: str) -> Match:
    """
    A matched point.

    >>> match_of("U5=212,140"), match_of("10.5,20=212,140")
    (('U5', (212.0, 140.0)), ((10.5, 20.0), (212.0, 140.0)))
    """
    where, equals, target = word.partition("=")
    if not equals or not where.strip():
        raise _bad("a matched point", word, "PART=X,Y or X,Y=X,Y: a part or a place, and where it is in the picture")
    source = _pair(where)
    if source is None and "," in where:
        raise _bad("a matched point", word, "PART=X,Y or X,Y=X,Y")
    return (source or where.strip(), point_of(target))


def mark_of(word: str) -> Mark:
    """
    A mark on a photograph.

    >>> mark_of("C1=bulged"), mark_of("212,140=burnt")
    (('C1', 'bulged'), ((212.0, 140.0), 'burnt'))
    """
    where, equals, sign = word.partition("=")
    source = _pair(where)
    if not equals or not where.strip() or not sign.strip() or (source is None and "," in where):
        raise _bad("a mark", word, "PART=SIGN or X,Y=SIGN, as C1=bulged")
    return (source or where.strip(), sign.strip())


def point_of(word: str) -> Corner:
    """A place in a picture, as '212,140'."""
    found = _pair(word)
    if found is None:
        raise _bad("a place in a picture", word, "two numbers, as 212,140")
    return found


def corners_of(word: str) -> tuple[Corner, ...]:
    """
    Four corners.

    >>> corners_of("0,0 10,0 10,5 0,5")[2]
    (10.0, 5.0)
    """
    corners = tuple(point_of(one) for one in word.split())
    if len(corners) != 4:
        raise _bad("the corners of a board", word, "four places, as '10,12 300,15 298,220 12,218'")
    return corners


def named_number(word: str, what: str) -> tuple[str, float]:
    """
    A name and a number.

    >>> named_number("U5=0.51", "a power")
    ('U5', 0.51)
    """
    name, equals, text = word.partition("=")
    value = _number(text)
    if not equals or value is None or not name.strip():
        raise _bad(what, word, "NAME=NUMBER, as U5=0.51")
    return name.strip(), value


def timed_file(word: str) -> tuple[float, str]:
    """
    Seconds and the name of a file.

    >>> timed_file("12.5=warm.csv")
    (12.5, 'warm.csv')
    """
    text, equals, name = word.partition("=")
    value = _number(text)
    if not equals or value is None or not name:
        raise _bad("a picture of a series", word, "SECONDS=FILE, as 12.5=warm.csv")
    return value, name


def _pair(word: str) -> Corner | None:
    parts = [_number(one) for one in word.split(",")]
    return (parts[0], parts[1]) if len(parts) == 2 and parts[0] is not None and parts[1] is not None else None


def _number(word: str) -> float | None:
    try:
        value = float(word)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _bad(what: str, word: str, allowed: str) -> BadInput:
    return BadInput(f"Cannot understand {what}", f"'{word}'", allowed, "Type it so.")
