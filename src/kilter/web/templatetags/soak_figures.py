"""Filters for figures of a soak."""

from __future__ import annotations

from django import template

from kilter.web.spoken import by_locale, in_words

register = template.Library()


@register.filter
def digits(value: float, count: int) -> str:
    """A number to so many significant digits, without zeros that say nothing."""
    return by_locale(f"{float(value):.{count}g}")


@register.filter
def quantity_name(key: str) -> str:
    """The key of a quantity in words."""
    return in_words(key, "quantity").replace("_", " ")
