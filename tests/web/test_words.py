"""One name a thing, in each language: words that no text may hold, with the word to say instead."""

from __future__ import annotations

import re

import pytest
from support import catalogue

#: Forbidden in a text → what to say instead: trade words of the US, where psi are read.
ENGLISH = {
    r"\bmend(ed|s|ing)?\b": "repair",
    r"mould": "mold",
    r"vapour": "vapor",
    r"colour": "color",
    r"\bdearer\b": "more expensive",
    r"\btaps?\b": "valve, or faucet",
    r"\bspanner": "wrench",
    r"\b(milli)?litre|\b(milli|centi)metre": "liter, meter",
    r"\bEyes covered": "Wear safety glasses",
    r"(?<![\d.])-0\.0(?!\d)": "0",
}

#: As it is spoken on site in Mexico and the US Southwest.
SPANISH = {
    r"\bcaudal(es)?\b": "gasto",
    r"(?<!des)\batornill": "enroscar",
    r"\bcomo el reloj\b": "en el sentido de las manecillas",
    r"\bgrifos?\b": "llave",
    r"\bfontaner": "plomero",
    r"pie de rey": "vernier (calibrador)",
    r"imprimaci": "primer (imprimador)",
    r"\bcasquillos?\b": "reducción bushing",
    r"\bordenador|\bcoger|\bvosotros": "computadora, tomar, ustedes",
}


@pytest.mark.parametrize(
    ("texts", "forbidden"),
    [
        (list(catalogue.gathered()), ENGLISH),
        ([one for one in catalogue.translated("es").values() if one], SPANISH),
    ],
    ids=["English", "Spanish"],
)
def test_each_thing_has_its_one_name(texts, forbidden):
    assert len(texts) > 1000
    found = [
        f"“{text[:70]}”: say {instead}"
        for word, instead in forbidden.items()
        for text in texts
        if re.search(word, text, re.IGNORECASE)
    ]
    assert not found, "\n".join(found)
