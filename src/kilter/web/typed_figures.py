"""What a person types in a language with a decimal comma, turned into bench notation that means one thing."""

from __future__ import annotations

import re

from django.utils.formats import get_format
from django.utils.translation import gettext as _

from kilter.measure.errors import BadInput

COMMA_THEN_THREE = re.compile(r"(?<![\w.,'])([1-9]\d{0,2}),(\d{3})(?![\d.,'])")
POINT_THEN_THREE = re.compile(r"(?<![\w.,'])([1-9]\d{0,2})\.(\d{3})(?![\d.,'])")


def in_bench_notation(text: str) -> str:
    """
    The text with the figures that the language decides.

    A comma before three digits may mean thousands in English; where the page's language has the decimal comma it is
    the decimal sign, and is written as a point. There a point before three digits may mean thousands, so it is refused.
    All other figures mean the same in every language and stay as they were typed.

    Args:
        text: A value in bench notation, such as '4,98 V'.

    Raises:
        BadInput: A figure that may be meant in two ways.
    """
    if get_format("DECIMAL_SEPARATOR") != ",":
        return text
    if two_ways := POINT_THEN_THREE.search(text):
        whole, rest = two_ways.groups()
        raise BadInput(
            _("Cannot take this reading"),
            _("'%(typed)s', which may mean %(point)s or %(thousands)s")
            % {"typed": two_ways[0], "point": f"{whole},{rest}", "thousands": f"{whole}{rest}"},
            _("a decimal comma, and thousands without a sign"),
            _("Type %(point)s or %(thousands)s.") % {"point": f"{whole},{rest}", "thousands": f"{whole}{rest}"},
        )
    return COMMA_THEN_THREE.sub(r"\1.\2", text)
