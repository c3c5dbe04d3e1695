"""Figures: the digits of a number as people write them, with commas, groups and exponents, kept exact."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from decimal import Decimal

LIKELY, POSSIBLE, UNLIKELY = "likely", "possible", "unlikely"
STANDINGS = (LIKELY, POSSIBLE, UNLIKELY)
"""How well a way to read a text stands, best first."""

MOST_DIGITS = 25
"""A longer row of digits is a slip of a machine, not a reading."""


@dataclass(frozen=True, slots=True)
class Figure:
    """
    One way to read a row of digits.

    Args:
        value: Exact.
        last: Weight of the last digit written, such as 0.01 for '5.03'.
        standing: 'likely', 'possible' or 'unlikely'.
        reason: Why it may be read so; '' where nothing else comes to mind.
    """

    value: Decimal
    last: Decimal
    standing: str = LIKELY
    reason: str = ""


def worst(*standings: str) -> str:
    """The least likely of several standings."""
    return max(standings, key=STANDINGS.index)


def read_figure(text: str, exponent: str = "") -> tuple[Figure, ...]:
    """
    The ways to read digits with their sign; empty where they are no number.

    Args:
        text: Such as '-12.1', '4,7', '10 000'; no letters.
        exponent: The digits after an e, with their sign, or ''.

    >>> [str(figure.value) for figure in read_figure("4,7")], [str(figure.value) for figure in read_figure("1,234")]
    (['4.7'], ['1.234', '1234'])
    """
    sign, body = _sign(text)
    if not body or sum(character.isdigit() for character in body) > MOST_DIGITS:
        return ()
    scale = Decimal(1).scaleb(int(exponent or "0"))
    return tuple(
        replace(figure, value=sign * figure.value * scale, last=figure.last * scale) for figure in _unsigned(body)
    )


def _sign(text: str) -> tuple[int, str]:
    if text[:1] in {"+", "-"}:
        return (-1 if text[0] == "-" else 1), text[1:].lstrip()
    return 1, text


def _unsigned(body: str) -> list[Figure]:
    if re.fullmatch(r"[0-9]+\.?[0-9]*|\.[0-9]+", body):
        return [_figure(body)]
    if re.fullmatch(r"[1-9][0-9]{0,2}([ '][0-9]{3})+([.,][0-9]+)?", body):
        return [_figure(re.sub("[ ']", "", body).replace(",", "."), "groups of three digits")]
    if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", body):
        decimal = _figure(body.replace(",", "."), "the comma taken as the decimal mark", POSSIBLE)
        return [decimal, _figure(body.replace(",", ""), "the comma taken as the mark of thousands", POSSIBLE)]
    if re.fullmatch(r"[0-9]*,[0-9]+", body):
        return [_figure(body.replace(",", "."), "the comma taken as the decimal mark")]
    if re.fullmatch(r"[1-9][0-9]{0,2}(,[0-9]{3}){2,}|[1-9][0-9]{0,2}(,[0-9]{3})+\.[0-9]+", body):
        return [_figure(body.replace(",", ""), "commas taken as marks of thousands")]
    if re.fullmatch(r"[1-9][0-9]{0,2}(\.[0-9]{3}){2,}|[1-9][0-9]{0,2}(\.[0-9]{3})+,[0-9]+", body):
        return [_figure(body.replace(".", "").replace(",", "."), "points taken as marks of thousands")]
    return []


def _figure(plain: str, reason: str = "", standing: str = LIKELY) -> Figure:
    decimals = len(plain.partition(".")[2])
    return Figure(Decimal(plain), Decimal(1).scaleb(-decimals), standing, reason)
