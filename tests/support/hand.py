"""A person's hand on the pages, without a browser; every page it reads is inspected."""

from __future__ import annotations

from support.inspection import HTML, inspect_page


class Page:
    """One page that was read: its status, address and parsed document."""

    def __init__(self, response) -> None:
        self.status = response.status_code
        self.path = response.request.path
        self.html = response.get_data(as_text=True)
        self.headers = response.headers
        if response.mimetype == "text/html":
            self.document = inspect_page(self.html)

    def _all(self, name):
        return [one for one in self.document.iter() if one.tag == HTML + name]

    @property
    def heading(self) -> str:
        """The h1 in words."""
        return " ".join("".join(self._all("h1")[0].itertext()).split())

    @property
    def words(self) -> str:
        """All words of the page."""
        return " ".join("".join(self._all("body")[0].itertext()).split())

    def forms(self):
        """The forms as (action, fields, buttons)."""
        found = []
        for form in self._all("form"):
            if (form.get("method") or "").lower() != "post":
                continue
            fields, buttons = {}, []
            for one in form.iter():
                if one.tag == HTML + "button":
                    buttons.append((one.get("name"), one.get("value")))
                elif one.get("name") and one.tag in {HTML + "input", HTML + "textarea"}:
                    kind = one.get("type")
                    if kind in {"radio", "checkbox"} and one.get("checked") is None:
                        fields.setdefault(one.get("name"), None)
                    else:
                        value = one.get("value") or "".join(one.itertext())
                        fields[one.get("name")] = value
            found.append((form.get("action"), fields, buttons))
        return found

    def form(self, end: str = "", button: str | None = None):
        """The form whose address ends so, or that has a button of that value."""
        for action, fields, buttons in self.forms():
            if action.endswith("/look"):
                continue
            if end and not action.endswith(end):
                continue
            if button is not None and button not in {value for _, value in buttons}:
                continue
            return action, {key: value for key, value in fields.items() if value is not None}
        raise AssertionError(f"no such form on {self.path}")


class Hand:
    """Reads and sends pages through a test client; every page read is inspected."""

    def __init__(self, client) -> None:
        self.client = client

    def read(self, path: str) -> Page:
        """Read a page, following redirects."""
        return Page(self.client.get(path, follow_redirects=True))

    def send(self, page: Page, end: str = "", button: str | None = None, **fields) -> Page:
        """Fill the form on ``page`` and send it, following redirects."""
        action, filled = page.form(end, button)
        names = {key.replace("__", "-"): value for key, value in fields.items()}
        return Page(self.client.post(action, data={**filled, **names}, follow_redirects=True))

    def answer(self, page: Page, value=None, **fields) -> Page:
        """Answer the question on ``page``; None is "I can't tell"."""
        if value is None and not fields:
            return self.send(page, answer="cant-tell")
        if value is not None:
            fields["value"] = value
        return self.send(page, answer="give", **fields)
