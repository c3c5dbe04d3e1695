"""The dossier as JSON, by the schema data/dossier.schema.json: for programs, and for the day when Kilter is gone."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, replace
from importlib.resources import files
from typing import Any

from kilter.exporters.harmless import REPLACED
from kilter.exporters.report_words import value
from kilter.records.dossier import Dossier, ToldReading

EDITION = 1
"""Of the form; a change that breaks a reader of the old one gets a new number."""
SURROGATES = dict.fromkeys(range(0xD800, 0xE000), REPLACED)


def dossier_plain(dossier: Dossier) -> dict[str, Any]:
    """
    Plain data: the fields of `kilter.records.dossier`, without the places where files lie on this machine.

    A reading over limit has no number in JSON: its `value` is null and `over_limit` is true; `read` says it in words.
    """
    plain = asdict(replace(dossier, names={}))
    for visit, told in zip(plain["visits"], dossier.visits, strict=True):
        visit["readings"] = [_reading(one) for one in told.readings]
    for attachment in plain["attachments"]:
        del attachment["path"]
    kept: dict[str, Any] = no_surrogates(plain)
    return {"kilter": "dossier", "edition": EDITION} | kept | {"names": no_surrogates(dossier.named())}


def dossier_json(dossier: Dossier) -> str:
    """The same as text, keys in the order of the fields."""
    return json.dumps(dossier_plain(dossier), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def schema_text() -> str:
    """The JSON schema of the form (2020-12)."""
    return files("kilter.data").joinpath("dossier.schema.json").read_text("utf-8")


def _reading(one: ToldReading) -> dict[str, Any]:
    plain = asdict(one)
    plain["value"] = one.value if one.value is not None and math.isfinite(one.value) else None
    plain["over_limit"] = one.value is not None and math.isinf(one.value)
    plain["read"] = value(one)
    return plain


def no_surrogates(data: Any) -> Any:
    """The same data with a sign where half a character stood, which no file in UTF-8 can hold."""
    if isinstance(data, str):
        return data.translate(SURROGATES)
    if isinstance(data, dict):
        return {key.translate(SURROGATES): no_surrogates(one) for key, one in data.items()}
    if isinstance(data, (list, tuple)):
        return [no_surrogates(one) for one in data]
    return data
