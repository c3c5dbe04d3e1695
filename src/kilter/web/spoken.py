"""English words of the core said in the page's language: fixed words, a few fixed forms of sentence, and figures."""

from __future__ import annotations

import re

from django.utils.formats import get_format
from django.utils.translation import get_language, gettext, pgettext

from kilter.measure.tables import table
from kilter.services.approvals import ANOTHER
from kilter.services.permissions import ROLES
from kilter.store.models import PartMove, ProposalEnd
from kilter.web.core_templates import LIST, QUOTED
from kilter.web.core_words import core_sentences, say_sentence
from kilter.web.spoken_display import FORMS as DISPLAY_FORMS

CAPACITIES = tuple(dict.fromkeys(
    one for row in table("records/approvals")["capacities"].values() if isinstance(row, list) for one in row
))  # fmt: skip
EACH = "|".join((*CAPACITIES, ANOTHER))

WHOLE_ERROR = re.compile(r"(?P<doing>.+?): found (?P<found>.+)\. Allowed: (?P<allowed>.+?)\. (?P<next>.+)", re.DOTALL)
"""An error of the core in one line."""
Form = tuple[re.Pattern[str], str]
FORMS: tuple[Form, ...] = tuple(
    (re.compile(form), message)
    for form, message in (
        (r"over (?P<share>[\d.]+ %)", "over %(share)s"),
        (r"under (?P<share>[\d.]+ %)", "under %(share)s"),
        (r"pin (?P<pin>\S+) stuck low", "pin %(pin)s stuck low"),
        (r"pin (?P<pin>\S+) stuck high", "pin %(pin)s stuck high"),
        (r"pins (?P<one>\S+) and (?P<other>\S+) bridged", "pins %(one)s and %(other)s bridged"),
        (r"pin (?P<pin>\S+) does not connect", "pin %(pin)s does not connect"),
        (r"gives (?P<value>\S+) whatever arrives", "gives %(value)s whatever arrives"),
        (r"drifted to (?P<factor>\S+) of its value", "drifted to %(factor)s of its value"),
        (
            r"Look at (?P<point>.+) in state '(?P<state>.+)' \(expected loss in minutes: (?P<losses>[^()]+)\)\.",
            "Look at %(point)s in state '%(state)s' (expected loss in minutes: %(losses)s).",
        ),
        (
            r"Read (?P<quantity>[a-z_]+) at (?P<point>.+) in state '(?P<state>.+)' "
            r"\(expected loss in minutes: (?P<losses>[^()]+)\)\.",
            "Read %(quantity)s at %(point)s in state '%(state)s' (expected loss in minutes: %(losses)s).",
        ),
        (
            r"Replace (?P<parts>.+) \(expected loss in minutes: (?P<losses>[^()]+)\)\.",
            "Replace %(parts)s (expected loss in minutes: %(losses)s).",
        ),
        (
            r"(?P<what>Leave it.+) \(expected loss in minutes: (?P<losses>[^()]+)\)\.",
            "%(what)s (expected loss in minutes: %(losses)s).",
        ),
        (r"leave (?P<minutes>\d+|inf)", "leave %(minutes)s"),
        (r"act (?P<minutes>\d+|inf)", "act %(minutes)s"),
        (r"test (?P<minutes>\d+|inf)", "test %(minutes)s"),
        (r"(?P<count>\d+) readings stay unexplained\.", "%(count)s readings stay unexplained."),
        (
            r"(?P<count>\d+) circuit lanes did not settle in any engine; their readings count as 'could be anything'\.",
            "%(count)s circuit lanes did not settle in any engine; their readings count as 'could be anything'.",
        ),
        (r"waits for (?P<whom>.+)", "waits for %(whom)s"),
        (r"refused by (?P<whom>.+)", "refused by %(whom)s"),
        (r"cannot be done: (?P<why>.+)", "cannot be done: %(why)s"),
        (r"entry (?P<number>\d+)", "entry %(number)s"),
        (r"(?P<value>-?\d\S* .+) an hour", "%(value)s an hour"),
        (r"(?P<count>[\d,]+) fault sets", "%(count)s fault sets"),
        *DISPLAY_FORMS,
    )
)
"""Sentences that the core builds, as a pattern and as the message with the same names in it."""
LOOSE_FORMS: tuple[Form, ...] = tuple(
    (re.compile(form), message)
    for form, message in (
        (r"(?P<low>-?(?:\d|OL)\S*(?: \S+)?) to (?P<high>-?(?:\d|OL)\S*(?: \S+)?)", "%(low)s to %(high)s"),
        (r"(?P<one>[\w ]+?) or (?P<other>[\w ]+)", "%(one)s or %(other)s"),
        (r"(?P<one>[A-Z]+\d+) and (?P<other>[A-Z]+\d+(?: and [A-Z]+\d+)*)", "%(one)s and %(other)s"),
        (rf"(?P<one>{EACH}) and (?P<other>{EACH}(?: and (?:{EACH}))*)", "%(one)s and %(other)s"),
    )
)
"""Forms that fit a part of many a sentence too: asked last."""
WHOLE = frozenset({"quantity", "losses", "one", "other", "whom", "why", "what", "low", "high", "share", "count",
                   "value"})  # fmt: skip
"""Names in FORMS whose own words are said in the page's language too; others are names or plain numbers."""
SINGLE_WORDS = frozenset({"nothing", "none", "anything", "nobody", *ROLES, *CAPACITIES, *ProposalEnd.KINDS,
                          *PartMove.DISPOSITIONS})  # fmt: skip
"""That are said where they stand alone in a place: they are words of the record, never a key or a name."""
JOINS = (": ", ", ")
"""Between two texts that may each be known."""
POINT = re.compile(r"(?<![\w.,])([-+]?\d+)\.(\d+)(?=(?:[eE][-+]?\d+)?(?![\w.]))")
GROUPS = re.compile(r"(?<![\w.,])\d{1,3}(?:,\d{3})+(?![\w,])")
NARROW_SPACE = "\u202f"


def in_words(text: object, context: str = "") -> str:
    """
    A text of the core or of a data file in the page's language; English stays where nothing else is known.

    Args:
        text: Fixed words, a sentence of FORMS, a measured value, or two of these joined by one of JOINS.
        context: 'reading' for a word that is read, 'quantity' for the key of a quantity.
    """
    words = str(text)
    found = _said(words, context)
    return by_locale(words) if found is None else found


def sentence_in_words(text: object) -> str:
    """
    A part of an error in the page's language, as it stands where it is not known.

    The pages' own errors come in the page's language already: their figures are left alone.
    """
    words = str(text)
    if " " not in words.strip() and words not in SINGLE_WORDS:
        return core_sentences().exact(words) or words
    found = _said(words, "")
    return words if found is None else found


def _said(words: str, context: str) -> str | None:
    """The text in the page's language; None where nothing of it is known, and in English."""
    if not words.strip() or (get_language() or "en").startswith("en"):
        return words
    if match := WHOLE_ERROR.fullmatch(words):
        parts = {name: in_words(value) for name, value in match.groupdict().items()}
        return gettext("%(doing)s: found %(found)s. Allowed: %(allowed)s. %(next)s") % parts
    found = _known(words, context)
    found = _formed(FORMS, words, context) if found is None else found
    found = say_sentence(words, _in_place, _noun) if found is None else found
    found = _formed(LOOSE_FORMS, words, context) if found is None else found
    if found is not None:
        return found
    for join in JOINS:
        first, joined, rest = words.partition(join)
        if joined and (context or _is_form(first) or (_known(first, context) is not None and _may_join(first, join))):
            return f"{in_words(first, context)}{join}{in_words(rest, context)}"
    return None


def _may_join(first: str, join: str) -> bool:
    """Whether a word of a list is said: in 'open, closed' both are keys to type."""
    return join != ", " or " " in first or first in SINGLE_WORDS


def _formed(forms: tuple[Form, ...], words: str, context: str) -> str | None:
    for form, message in forms:
        if match := form.fullmatch(words):
            named = {name: _named(name, value, context) for name, value in match.groupdict().items()}
            return gettext(message) % named
    return None


def _in_place(value: str) -> str:
    """
    What stands in a place of a sentence of the core.

    A quoted word gets the language's own quotation marks. A single word stays: it is a key, a name or a role to type,
    and a word of the catalogue only by chance. Of a list each part is said by itself. What is known in part only stays
    whole: two languages in one sentence help nobody.
    """
    if match := QUOTED.fullmatch(value):
        return gettext("'%(text)s'") % {"text": match[1]}
    if " " not in value.strip() and value not in SINGLE_WORDS:
        return by_locale(value)
    parts = LIST.split(value)
    if _known(value, "") is not None or (len(parts) == 1 and not core_sentences().left(value)):
        return in_words(value)
    if len(parts) > 1:
        found = say_sentence(value, _in_place, _noun) if not core_sentences().left(value) else None
        return "".join(part if LIST.fullmatch(part) else _in_place(part) for part in parts) if found is None else found
    return value


def _noun(value: str, context: str) -> str:
    """A field, a kind of thing, a quantity, or what is to be done."""
    found = _said(value, context)
    return _in_place(value) if found is None else found


def by_locale(text: str) -> str:
    """
    Figures in a text with the decimal sign of the language; groups of three then stand behind a narrow space.

    Names such as 'C1.1' are left alone.
    """
    sign = get_format("DECIMAL_SEPARATOR")
    if sign == ".":
        return text
    grouped = GROUPS.sub(lambda match: match[0].replace(",", NARROW_SPACE), text)
    return POINT.sub(lambda match: f"{match[1]}{sign}{match[2]}", grouped)


def asked_in_words(text: str) -> str:
    """What `kilter.services.wording.asked` says, 'V5 voltage': the point's name stays, the quantity is translated."""
    point, blank, quantity = text.rpartition(" ")
    return f"{point}{blank}{in_words(quantity, 'quantity')}"


def _named(name: str, value: str, context: str) -> str:
    if name == "quantity":
        return in_words(value, "quantity")
    return in_words(value, context) if name in WHOLE else value


def _known(words: str, context: str) -> str | None:
    """The translation, None where the catalogue has none."""
    if context and (found := pgettext(context, words)) != words:
        return found
    found = gettext(words)
    return found if found != words else None


def _is_form(words: str) -> bool:
    return any(form.fullmatch(words) for form, _ in FORMS + LOOSE_FORMS)
