"""One name a thing, in each language: words that no text may hold, with the word to say instead."""

from __future__ import annotations

import re

import pytest
from support import catalogue

from fieldkit.web.localize import with_sizes

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
    r"\bEyes covered|eye protection": "Wear safety glasses",
    r"pressuri[s]|plastici[s]|judgement|\bgrey\b|aluminium|bevelled": "as spelled in the US",
    r"half as long again|parts to hand": "half again as long, at hand",
    r"\bscrew-up\b": "locking nut",
    r"ridged stem": "ridged end",
    r"push-to-connect": "push-fit",
    r"\bknock": "water hammer",
    r"\b19 times|times in 20": "nothing, or the per cent",
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
    r"\bcasquillos?\b|\bbujes?\b": "reducción bushing",
    r"(?<!\()calibrador": "vernier (calibrador)",
    r"(?<!\()imprimador": "primer (imprimador)",
    r"\bconductos?\b": "conduit",
    r"\bemisor(es)?\b": "gotero",
    r"[\d}½¾¼⅜] in\b": "½ pulg.",
    r"\brezum": "goteo leve, gotear",
    r"contraflujo|contra reflujo|antirretorno|antirreflujo": "preventor de reflujo",
    r"(?<!llave para )\btubos?\b(?! de (cobre|PEX|gas|poli|plást)| chico\))": "tubería",
    r"(?<!Revise la )\bconexi(ón|ones)\b(?! rápida)": "accesorio",
    r"\btir(ón|ones)\b": "jalón",
    r"desatornill": "desenroscar",
    r"[Nn]o puedo saberlo": "no lo sé",
    r"\bordenador|\bcoger|\bvosotros": "computadora, tomar, ustedes",
}

#: A thing in the English text → its one name in the Spanish one.
NAMES = {
    r"\bcalipers?\b": "vernier",
    r"\bprim(er|e|ing)\b": "primer",
    r"\bceiling": "límite",
    r"\bbore\b": "interior|hueco",
    r"\bweeps?\b": "gote",
    r"clockwise": "manecillas",
    r"\belbow": "codo",
    r"\btees?\b": r"\btes?\b",
    r"\bcouplings?\b": "cople",
    r"\bbushings?\b": "reducción bushing",
    r"\bconduit": "conduit",
    r"\bSch (40|80)": "cédula",
    r"\block(ing|ed)?[ -]nut": "tuerca",
    r"\bsurge(?! Analysis)|water hammer": "golpe",
    r"safety glasses": "lentes de seguridad",
    r"\b1/2 in\b|½ in\b": "½ pulg",
    r"\bcement\b": "cement",
    r"\bbackflow": "reflujo",
    r"\bemitter": "gotero",
}


def test_a_size_has_one_form_on_every_page():
    texts = [*catalogue.gathered(), *catalogue.translated("es").values()]
    assert sum(bool(re.search(r"1/2 (in|pulg)\b", text)) for text in texts) > 10
    found = [text for text in texts if re.search(r"\d/\d (in|pulg)\b", with_sizes(text))]
    assert not found, "\n".join(found)


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


def test_a_thing_is_called_the_same_in_spanish():
    told = {re.sub(r"\{.*?\}", "", text): own for text, own in catalogue.translated("es").items()}
    found = [
        f"“{text[:60]}” as “{own[:60]}”: say {name}"
        for thing, name in NAMES.items()
        for text, own in told.items()
        if re.search(thing, text, re.IGNORECASE) and not re.search(name, own, re.IGNORECASE)
    ]
    assert not found, "\n".join(found)
