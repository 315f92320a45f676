"""The price list: what the parts cost where the user buys them."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import zip_longest
from typing import Any

from flask import Blueprint, Response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.flows.choosing.prices import (
    PACK,
    price_list_csv,
    priced_parts,
    read_price,
    read_price_list,
    split_list,
)
from fieldkit.joblog import Entry
from fieldkit.joblog.read import ILLUSTRATIVE
from fieldkit.web import clock
from fieldkit.web.idempotent import entry_id_of_form, keep_once
from fieldkit.web.ids import fresh_id
from fieldkit.web.look import joblog
from fieldkit.web.pages.common import chosen_file, download
from fieldkit.web.who import signature_of_asker

pages = Blueprint("prices", __name__, url_prefix="/prices")


def price_page(typed: Mapping[str, Any] | None = None, problem: Problem | None = None) -> str:
    """The list with a box for each part; what was typed stays."""
    kept = joblog().prices()
    return render_template(
        "prices.html",
        groups=priced_parts(),
        # The demo's invented prices are never offered as the user's own.
        prices={} if kept.illustrative else kept.prices,
        illustrative=kept.illustrative,
        saved_at=kept.at,
        typed=typed or {},
        problem=problem,
        entry=fresh_id(),
    )


@pages.get("")
def show() -> str:
    """The price list."""
    return price_page()


def save(prices: Mapping[str, float], how: str) -> AnyResponse:
    """Keep a whole new price list; the old one stays in the log."""
    log, entry_id = joblog(), entry_id_of_form()
    made = Entry(
        id=entry_id,
        at=clock.now(),
        job="",
        kind="prices",
        understood=dict(prices),
        note=how,
        who=signature_of_asker(),
    )
    kept = log.entry(log.prices().entry)
    keep_once(log, made, kept.entry if kept else None)
    return redirect(url_for("prices.show"), 303)


@pages.post("")
def take() -> tuple[str, int] | AnyResponse:
    """Keep the prices typed in the boxes; an empty box means no price is known."""
    prices: dict[str, float] = {}
    for group in priced_parts().values():
        for part in group:
            given = request.form.get(part.id, "").strip()
            if not given:
                continue
            try:
                prices[part.id] = read_price(given, field=part.id)
            except Problem as problem:
                return price_page(request.form, problem), 422
    packs = {PACK + part: n for part, n in joblog().prices().packs.items()}
    return save({**prices, **packs}, "typed in")


@pages.post("/file")
def take_file() -> tuple[str, int] | AnyResponse:
    """Take the whole list from a CSV file."""
    try:
        try:
            text = chosen_file().read().decode("utf-8-sig")
        except UnicodeDecodeError:
            raise Problem(
                "file",
                "",
                say("This is not a plain text file."),
                say("Save the list as CSV, in UTF-8."),
            ) from None
        return save(read_price_list(text), "from a file")
    except Problem as problem:
        return price_page(None, problem), 422


@pages.get("/list.csv")
def as_csv() -> Response:
    """The list as CSV, to edit in a spreadsheet and bring back."""
    kept = joblog().prices()
    prices = {} if kept.illustrative else kept.prices
    return download(price_list_csv(prices, kept.packs), "text/csv", "fieldkit-prices.csv")


@pages.get("/history")
def history() -> str:
    """What changed in the price list, when, and by whom; the demo's invented list is no change."""
    lists = [one for one in joblog().price_history() if one.note != ILLUSTRATIVE]
    names = {part.id: part.name for group in priced_parts().values() for part in group}
    changes = [
        (new, changed(_prices_of(old), _prices_of(new), names))
        for new, old in zip_longest(lists, lists[1:])
    ]
    return render_template("price_history.html", changes=changes)


def _prices_of(kept: Entry | None) -> Mapping[str, Any]:
    return split_list(kept.understood)[0] if kept else {}


def changed(
    old: Mapping[str, Any], new: Mapping[str, Any], names: Mapping[str, str]
) -> list[tuple[str, Any, Any]]:
    """Each part whose price is another: its name, the price before, the price after."""
    return [
        (names.get(part, part), old.get(part), new.get(part))
        for part in sorted({*old, *new}, key=lambda one: names.get(one, one))
        if old.get(part) != new.get(part)
    ]
