"""What no form and no program of ours would send."""

from __future__ import annotations

import json

from hypothesis import strategies as st

#: Text that has broken some program somewhere: numbers that are none, markup, paths, templates,
#: right-to-left, halves of a pair, nulls, formulas, and a great deal of it.
NASTY = (
    "", " ", "\x00", "a\x00b", "\ud800", "\udfff\ud800", "\ufeff", "\uffff", "\u202eabc", "nan",
    "NaN", "inf", "-inf", "Infinity", "1e400", "-1e400", "1e-400", "9" * 5000, "0x10", "1_000",
    "1/0", "0/0", "1/1e400", "9**9**9", "1 1 1", "½", "⅐ in", "٣ in", "1,5", "1.5,", "--1", "+",
    ".", "1e", "17.8 mm", "0.700 in", "-5 psi", "0", "0 in", "1e9 psi", "1e308 ft", "1 furlong",
    "70 F", "-460 F", "3:61", "25:99", "2026-13-45T99:99", "0000-00-00T00:00",
    "9999-12-31T23:59:59Z", "2026-05-01T09:00", "<script>alert(1)</script>", "{{7*7}}", "${7*7}",
    "%s%n%x", "{0.__class__}", "{", "}", "{x}", "' OR 1=1 --", '"; DROP TABLE entries; --',
    "../../etc/passwd", "..\\..\\", "file:///etc/passwd", "//elsewhere.example",
    "javascript:alert(1)", "a\r\nSet-Cookie: b=c", "=cmd()", "@x", "cant-tell", "give", "add",
    "finish", "enough", "on", "true", "null", "[]", "🜚" * 50, "e\u0301" * 300, "x" * 3000,
    "NEAR(a b)", '"', "a*", "^a", "a AND", "-", "NOT",
)  # fmt: skip

text = st.one_of(
    st.sampled_from(NASTY),
    st.text(max_size=40),
    # With lone halves of a pair, which JSON may carry and UTF-8 may not.
    st.text(st.characters(categories=("Cs", "Cc", "Nd", "Sm", "So", "Ll")), max_size=12),
    st.floats().map(repr),
    st.integers().map(str),
)

numbers = st.one_of(
    st.integers(),
    st.floats(),  # nan and infinity, too
    st.sampled_from([0, -0.0, 1e-320, 1e308, 10**400, -(10**4000), 2**63, 2**64, True, False]),
    st.floats(min_value=1e-6, max_value=1e6),
)

#: Quantities that a reading takes, and that the formulas behind it must bear.
plausible = st.one_of(
    st.floats(min_value=0, max_value=1000).map(lambda x: round(x, 3)),
    st.floats(min_value=-10, max_value=10).map(lambda x: round(x, 3)),
    st.sampled_from([0, 1, 2, 1e-9, 1e-6, 0.001, 0.5, 0.7, 0.84, 1e5, 1e9, -1, -40, 459.67]),
    st.tuples(
        st.sampled_from(["0", "0.1", "0.84", "1/2", "1-1/4", "2", "25", "73", "500", "1e6"]),
        st.sampled_from(["in", "mm", "ft", "m", "psi", "bar", "F", "°C", "gpm", "gph", "%", "h",
                         "min", "turns", ""]),
    ).map(" ".join),
)  # fmt: skip

leaves = st.one_of(st.none(), st.booleans(), numbers, text)

values = st.recursive(
    leaves,
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(text, inner, max_size=4)),
    max_leaves=8,
)


def deep(levels: int, start: str = "[", end: str = "]") -> bytes:
    """JSON that is nothing but depth."""
    return (start * levels + "1" + end * levels).encode()


def as_sent(value: object) -> bytes:
    """JSON as a careless program writes it: ``NaN``, and halves of a pair as escapes."""
    return json.dumps(value).encode()


bodies = st.one_of(
    st.binary(max_size=60),
    st.sampled_from(
        [b"", b"null", b"[]", b"{}", b"{", b'{"od":', b"\xff\xfe{\x00}\x00", b"\xef\xbb\xbf{}",
         b'{"od": NaN}', b'{"od": -Infinity}', b'{"od": 1e999}', b'{"od": "\\ud800"}',
         b'{"\\ud800": 1}', b'{"od": "\xff"}', b'{"od": "\\u0000"}', b'{"od": 1, "od": 2}',
         b'{"od": ' + b"9" * 6000 + b"}", b"\x00", '{"od": "½ in"}'.encode("utf-16"),
         '{"od": "½ in"}'.encode("latin-1"), deep(900), deep(200_000), deep(5000, '{"a":', "}")]
    ),
    values.map(as_sent),
)  # fmt: skip

content_types = st.sampled_from(
    ["application/json", "application/json; charset=utf-16", "text/plain", "application/xml", "",
     "multipart/form-data", "multipart/form-data; boundary=", "multipart/form-data; boundary=x",
     "application/x-www-form-urlencoded", "application/x-www-form-urlencoded; charset=nope",
     "image/png", "application/gzip", "*/*", "a" * 300]
)  # fmt: skip

methods = st.sampled_from(
    ["GET", "POST", "HEAD", "OPTIONS", "PUT", "PATCH", "DELETE", "TRACE", "CONNECT", "PROPFIND",
     "BREW", "get", "X" * 40]
)  # fmt: skip
