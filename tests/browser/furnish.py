"""Fills the demonstration by its own forms, and finds every page that its links lead to."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import urljoin, urlsplit

from warm_pictures import OBJECT, drawn

SEND = """async told => {
  const form = [...document.querySelectorAll('main form[method=post]')].find(one => one.querySelector(told.has));
  const data = new FormData(form);
  for (const [name, value] of Object.entries(told.fields)) data.set(name, value);
  for (const [name, file] of Object.entries(told.files)) data.set(name, new File([file[1]], file[0]));
  const answer = await fetch(form.getAttribute('action') || location.href, {method: 'POST', body: data});
  return answer.status;
}"""
STEPS = "second,Volt\n" + "".join(f"{step / 1000},{5 * (step // 10 % 2)}\n" for step in range(200))
WARM_UP = "time (s),voltage (V)\n" + "".join(f"{60 * step},{5 - 0.2 / (1 + step):.4f}\n" for step in range(60))
FORMS: tuple[tuple[str, str, dict[str, str], dict[str, tuple[str, str]]], ...] = (
    ("/object/1/propose/", "#reason", {"act": "work", "grade": "5", "part": "R41", "words": "put in a new one",
     "reason": "it drifted", "alternatives": "leave it silent", "undo": "the old one is kept"}, {}),
    ("/object/1/repair/", "#words", {"act": "replaced", "grade": "4", "part": "C42", "words": "a new one",
     "removed": "on", "piece_words": "47 µF, date code cut away"}, {}),
    ("/object/1/say/", "#text", {"kind": "hazard", "text": "The heat sink has a sharp edge."}, {}),
    ("/object/1/visit/1/", "#files", {"kind": "capture"}, {"files": ("tone.csv", STEPS)}),
    ("/object/1/visit/1/", "#files", {"kind": ""}, {"files": ("warm-up.csv", WARM_UP)}),
    ("/object/1/visit/1/", "#files", {"kind": ""}, {"files": ("warm.csv", drawn(OBJECT, {"U1": 60.0}, 2))}),
    ("/object/1/visit/1/power/", "#words-0", {"outcome-0": "failed", "words-0": "a loose screw"}, {}),
    ("/object/6/visit/", "#reason", {"reason": "to compare with", "known_good": "on"}, {}),
    ("/people/new/", "#login", {"login": "reader", "name": "Somebody who reads", "roles": "reader",
     "password": "eleven teal kettles"}, {}),
    ("/me/", "#key-name", {"name": "the logger"}, {}),
)  # fmt: skip
"""Page, something in the form that is meant, what is typed, files as name and content."""


def furnish(page: Any, root: str) -> None:
    """Sends every form."""
    for place, has, fields, files in FORMS:
        page.goto(root + place)
        status = page.evaluate(SEND, {"has": has, "fields": fields, "files": files})
        assert status == 200, f"{place}: {status}"


def every_page(page: Any, root: str) -> list[str]:
    """Addresses of pages, one of each kind, by following links from the collection on."""
    waiting, seen, found = ["/"], {"/"}, []
    while waiting:
        here = waiting.pop(0)
        answer = page.request.get(root + here)
        if not answer.headers.get("content-type", "").startswith("text/html"):
            continue
        found.append(here)
        for link in re.findall(r'<a [^>]*href="([^"#]*)', answer.text()):
            parts = urlsplit(urljoin(root + here, link.replace("&amp;", "&")))
            kind = re.sub(r"\d+", "n", parts.path) + ("?" + re.sub(r"=[^&]*", "", parts.query) if parts.query else "")
            is_page = f"{parts.scheme}://{parts.netloc}" == root and "." not in parts.path
            if is_page and kind not in seen:
                seen.add(kind)
                waiting.append(parts.path + (f"?{parts.query}" if parts.query else ""))
    return found
