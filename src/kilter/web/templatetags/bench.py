"""Words and figures as the pages show them."""

from __future__ import annotations

from django import template
from django.utils.formats import number_format
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from kilter.measure.measured import engineering
from kilter.services.wording import percent as core_percent
from kilter.web.once import NAME, new_mark
from kilter.web.spoken import by_locale, in_words

register = template.Library()


@register.simple_tag
def once() -> SafeString:
    """The mark by which a form that is sent twice is known."""
    return format_html('<input type="hidden" name="{}" value="{}">', NAME, new_mark())


@register.filter
def percent(share: float) -> str:
    """A probability in per cent, with the decimal sign of the language."""
    return in_words(core_percent(float(share)))


@register.filter
def figure(value: float, digits: int = 2) -> str:
    """A number to a few significant digits, by locale."""
    rounded = float(f"{float(value):.{digits}g}")
    places = 0 if abs(rounded) >= 10 ** (digits - 1) or rounded == int(rounded) else digits
    return str(number_format(rounded, decimal_pos=places))


@register.filter
def hundred(share: float) -> int:
    """A probability as a whole number of hundredths, for the width of a bar."""
    return max(0, min(100, round(100 * float(share))))


@register.filter
def megabytes(size: int) -> str:
    """A file's size."""
    return by_locale(f"{size / 1e6:.1f} MB" if size >= 1e6 else f"{max(1, round(size / 1e3))} kB")


@register.filter
def at(mapping: dict[str, object], key: str) -> object:
    """What a dictionary holds under a key that is itself a variable."""
    return mapping.get(key, "")


@register.filter
def minus(value: float, other: float) -> float:
    """A difference, for places on a drawing."""
    return float(value) - float(other)


@register.filter
def twice(value: float) -> float:
    """Twice a number, for sizes on a drawing."""
    return 2.0 * float(value)


@register.filter
def add_mm(value: float, other: float) -> float:
    """A sum, for places on a drawing."""
    return float(value) + float(other)


@register.filter
def ohm(value: float | None) -> str:
    """A resistance, or that nobody knows it."""
    return str(_("not known")) if value is None else by_locale(engineering(value, "ohm"))


@register.filter
def ohms(band: tuple[float, float] | None) -> str:
    """A band of resistance, or that nobody knows it."""
    if band is None:
        return str(_("not known"))
    return by_locale(" – ".join(engineering(end, "ohm") for end in band))


@register.filter
def unlocalized(value: float) -> str:
    """A number as HTML wants it, whatever the language."""
    return f"{float(value):.3f}"
