"""Look at a page the way a careful reviewer would; every page that a test touches passes here."""

from __future__ import annotations

import hashlib
import re
from urllib.parse import urlsplit

import html5lib

HTML = "{http://www.w3.org/1999/xhtml}"

#: Names of firms and products that must not appear, as digests so that they do not appear here.
#: The digest is the first 16 hex digits of SHA-256 of the lower-case word.
DENIED = frozenset(
    line.strip()
    for line in """
02cbdba74210f13c
03054e5ab0c57d7c
0864987ed9d8f9a8
094676a580387fd9
10d17681702b0590
17cf089f50ad7a2a
1c3ab98a80a38463
2d6368378d3c44b2
311b834921ffc0c2
3488465eb796d767
3a25026eb4e14c7d
45ddb22ccf6194be
5ac0b586be6aa849
5b7f8b6453f5eab7
5e6fd7931ac133fc
608821bcab3c1d76
61383e2da743e295
628055e008b79b10
63d1cd33a5f83b12
6567fb2c7e62246f
6a98d219f7e465f5
75af21485c6a80ad
7817b6a0ce497f76
7b559cc15f7ad861
7e89bd12cb1b3ef4
8bb7b68440db8718
8d1149e2b7ee3de3
94b6eceb1d54d096
aa5a4f78621a6b90
ab5cfe98e2dd6232
af5c119f27b26db5
b07d5a42a102a5b9
c83d0bec6e22bf65
cb26dc7483cc193d
cd13eaaa240bccc7
d4e66aa0341cf143
d6f9e40ebe61b34b
ddadad6a90d5ff06
e7704fe6001152e9
eb5fa94c23596719
f4cd3b04b1a8c236
fa072b21062c9d40
""".split()  # noqa: SIM905  -- one to a line is easier to add to
)

_LABELLED = {"input", "select", "textarea"}
_NO_LABEL = {"hidden", "submit", "button", "image", "reset"}


def digest(word: str) -> str:
    """The digest by which a denied word is known."""
    return hashlib.sha256(word.lower().encode()).hexdigest()[:16]


def inspect_page(html: str):
    """Fail with every fault found in ``html``; returns its parsed document."""
    parser = html5lib.HTMLParser(strict=False)
    document = parser.parse(html)
    faults = [f"not valid HTML at {position}: {code}" for position, code, _ in parser.errors]
    faults += faults_in(document)
    assert not faults, "\n".join(faults)
    return document


def faults_in(document):  # noqa: C901, PLR0912, PLR0915  -- one branch a rule
    """Every fault of a parsed page, in words."""
    elements = [one for one in document.iter() if isinstance(one.tag, str)]

    def named(name: str):
        return [one for one in elements if one.tag == HTML + name]

    def words(one) -> str:
        return " ".join("".join(one.itertext()).split())

    headings = named("h1")
    if len(headings) != 1:
        yield f"{len(headings)} h1 headings"
    titles = named("title")
    if headings and titles:
        lead = words(headings[0])
        plain_lead = headings[0]
        trade = [one for one in plain_lead.iter() if one.get("class") == "trade"]
        for one in trade:
            lead = lead.removesuffix(words(one)).strip()
        if not words(titles[0]).startswith(lead):
            yield f"the title {words(titles[0])!r} does not begin with the heading {lead!r}"
    if not (document.get("lang") or named("html")[0].get("lang")):
        yield "no language"

    seen: set[str] = set()
    for one in elements:
        key = one.get("id")
        if key is not None and key in seen:
            yield f"the id {key!r} stands twice"
        seen.add(key or "")
    labels = {one.get("for") for one in named("label")}
    for one in elements:
        name = one.tag.removeprefix(HTML)
        if name in _LABELLED and one.get("type") not in _NO_LABEL:
            named_by = one.get("aria-label") or one.get("aria-labelledby")
            if one.get("id") not in labels and not named_by:
                yield f"a {name} without a label: {one.get('name')}"
        if name == "button" and not (words(one) or one.get("aria-label")):
            yield "a button without words"
        if name == "a" and not (words(one) or one.get("aria-label")):
            yield f"a link without words: {one.get('href')}"
        if name == "img" and one.get("alt") is None:
            yield f"a picture without words: {one.get('src')}"
        if name == "script" and words(one):
            yield "an inline script"
        if name == "style" or one.get("style") is not None:
            yield "an inline style"
        for attribute, value in one.items():
            if attribute.startswith("on"):
                yield f"an inline handler: {attribute}"
            if attribute in {"href", "src", "action", "srcset", "data"}:
                host = urlsplit(value).netloc
                if host:
                    yield f"another host: {value}"
            if attribute in {"aria-describedby", "aria-labelledby"}:
                for key in value.split():
                    if key not in {other.get("id") for other in elements}:
                        yield f"{attribute} names {key!r}, which is not there"
        if name == "form" and (one.get("method") or "").lower() == "post":
            hidden = {inner.get("name") for inner in one.iter() if inner.get("type") == "hidden"}
            if "csrf_token" not in hidden:
                yield f"a form without its token: {one.get('action')}"
    body = words(named("body")[0])
    for word in set(re.findall(r"[A-Za-z][A-Za-z-]+", body)):
        if digest(word) in DENIED:
            yield f"the name of a firm or product: {word}"
    for broken in ("None", "Undefined", "{{", "}}", "nan "):
        if re.search(rf"(?<![\w]){re.escape(broken)}(?![\w])", body):
            yield f"{broken!r} stands on the page"
