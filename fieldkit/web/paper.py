"""The record as a PDF: the same data as the page, laid out for Letter or A4."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from importlib.resources import files
from typing import TYPE_CHECKING, Literal

from fieldkit.engine.words import Quote, say
from fieldkit.flows.block import Block, Drawing, Facts, Notes, Steps, Table
from fieldkit.flows.localize import as_text, localize
from fieldkit.joblog.entry import Entry
from fieldkit.joblog.record import FIRST_PAGE_JOINTS, Glance, JointRecord, Record, Waived
from fieldkit.tables.load import source_titles
from fieldkit.web.qr import qr_modules
from fieldkit.web.wording import entry_words

if TYPE_CHECKING:
    from fpdf import FPDF

Paper = Literal["letter", "a4"]

#: What the page's style sheet gives a drawing's parts, for a paper that has no style sheet.
_LOOK = {
    "wall": 'fill="#f1ede4"',
    "tool": 'fill="#f1ede4" stroke="#6b6459"',
    "hole": 'fill="#ffffff"',
    "paper": 'fill="#ffffff"',
    "dot": 'fill="#ffffff"',
    "drop": 'fill="#17150f" stroke="none"',
    "help": 'stroke="#6b6459"',
    "rival": 'stroke="#6b6459" stroke-dasharray="6 5"',
    "mark": 'stroke="#6e3213"',
    "strip": 'stroke="#6e3213"',
    "band": 'fill="#fbf0cf" stroke="#5a4300"',
    "tape": 'fill="#fbf0cf" stroke="#5a4300"',
    "good": 'fill="#e3f1ea" stroke="#0f4d38"',
    "bad": 'fill="#fbe6e8" stroke="#8c1226" stroke-dasharray="6 5"',
}
_CLASS = re.compile(r'<(\w+)([^>]*) class="([^" ]*)[^"]*"([^>]*?)(/?)>')


def record_pdf(
    record: Record,
    paper: Paper,
    photo: Callable[[str], bytes | None],
    moment: Callable[[str], str],
    *,
    language: str,
    check: str,
    tell_how_far: Callable[[int, int], None] = lambda part, whole: None,
) -> bytes:
    """The record as a PDF file.

    Parameters
    ----------
    photo : callable
        Digest → the photo, or None where it is not here.
    moment : callable
        A kept time as people write it.
    language : str
        In which it is told, for those who have it read aloud.
    check : str
        The address at which it can be checked.
    tell_how_far : callable
        Told after each joint: so many of so many.
    """

    def when(entry: Entry | Glance | Waived) -> str:
        made = moment(entry.at)
        if entry.id not in record.arrived:
            return made
        late = moment(record.arrived[entry.id])
        return localize(say("{made} (arrived {when})", made=Quote(made), when=Quote(late)))

    pdf = _sheet(record, paper, language)
    _head(pdf, record, moment)
    _front(pdf, record, photo, when, check)
    pdf.add_page()
    _line(pdf, say("The full record"), 14, "B")
    for note in record.notes:
        _line(pdf, say("Note: {note}", note=Quote(note.note)))
        _marks(pdf, record, note)
    for n, joint in enumerate(record.joints, start=1):
        _joint(pdf, record, joint, photo, when)
        tell_how_far(n, len(record.joints))
    _end(pdf, record, when)
    return bytes(pdf.output())


def _sheet(record: Record, paper: Paper, language: str) -> FPDF:
    from fpdf import FPDF  # noqa: PLC0415  -- a phone does without it

    class Sheet(FPDF):
        """Each sheet says which job it belongs to, and its digest."""

        def footer(self) -> None:
            self.set_y(-12)
            self.set_font("body", size=7)
            page = localize(say("{page} of {pages}", page=self.page_no(), pages=Quote("{nb}")))
            self.cell(0, 5, f"{record.job.name} · {record.digest} · {page}", align="C")

    pdf = Sheet(format=paper)
    fonts = files("font_roboto") / "files"
    pdf.add_font("body", "", str(fonts / "Roboto-Regular.ttf"))
    pdf.add_font("body", "B", str(fonts / "Roboto-Bold.ttf"))
    pdf.set_title(localize(say("Record of {job}", job=Quote(record.job.name))))
    pdf.set_lang(language)
    pdf.set_auto_page_break(True, margin=18)
    pdf.set_margin(16)
    pdf.add_page()
    return pdf


def _printable(text: str) -> str:
    # Arrows are not in the face; a character that no face has must not stop the paper.
    return text.replace("→", localize(say("to")))


def _line(pdf: FPDF, text: str, size: float = 10, style: str = "", gap: float = 1) -> None:
    """A paragraph: a text is told to the reader, a person's own words stay as they are."""
    pdf.set_font("body", style, size)
    pdf.multi_cell(0, size * 0.5, _printable(localize(text)), new_x="LMARGIN", new_y="NEXT")
    pdf.ln(gap)


def _point(pdf: FPDF, text: object, size: float = 9) -> None:
    _line(pdf, f"· {localize(text)}", size, gap=0)


def _heading(pdf: FPDF, text: str, size: float, below: float = 14) -> None:
    """A heading, on the next sheet if what it heads would not begin on this one. ``below`` [mm]"""
    if pdf.will_page_break(size * 0.5 + below):
        pdf.add_page()
    _line(pdf, text, size, "B", gap=0)


def _head(pdf: FPDF, record: Record, moment: Callable[[str], str]) -> None:
    _line(pdf, record.job.name, 18, "B")
    if record.job.demo:
        _line(pdf, say("An invented demo. Nothing in this job is real."), 10, "B")
    if record.job.place:
        _line(pdf, record.job.place)
    made = Quote(moment(record.made_at))
    _line(pdf, say("Record made {when} from {n} entries.", when=made, n=record.entries))


#: The colours of a verdict on paper: of its ink and of its ground, as ``colours.css`` has them.
_TONES = {
    "holds": ((11, 77, 51), (228, 243, 236)),
    "look": ((90, 67, 0), (255, 246, 214)),
    "stop": ((149, 0, 26), (253, 235, 237)),
}

#: Its shape in a square of one unit: square, triangle, octagon.
_SHAPES = {
    "holds": ((0, 0), (1, 0), (1, 1), (0, 1)),
    "look": ((0.5, 0), (1, 1), (0, 1)),
    "stop": ((0.3, 0), (0.7, 0), (1, 0.3), (1, 0.7), (0.7, 1), (0.3, 1), (0, 0.7), (0, 0.3)),
}

#: What the first page has room for. [lines]
_FRONT_WAIVED = 6


def _verdict(pdf: FPDF, tone: str, words: str, wide: float) -> None:
    """A word on its ground with its shape before it, as on a page. [mm]"""
    ink, ground = _TONES[tone]
    x, y, high = pdf.get_x(), pdf.get_y(), 6.0
    pdf.set_fill_color(*ground)
    pdf.set_draw_color(*ink)
    pdf.rect(x, y, wide, high, style="DF")
    pdf.set_fill_color(*ink)
    pdf.polygon([(x + 1.5 + 3 * px, y + 1.5 + 3 * py) for px, py in _SHAPES[tone]], style="F")
    pdf.set_text_color(*ink)
    pdf.set_font("body", "B", 9)
    pdf.set_xy(x + 6, y)
    pdf.cell(wide - 6, high, _printable(localize(words)))
    pdf.set_text_color(0, 0, 0)
    pdf.set_draw_color(0, 0, 0)
    pdf.set_xy(x + wide + 3, y)


def _front(
    pdf: FPDF,
    record: Record,
    photo: Callable[[str], bytes | None],
    when: Callable[[Entry | Glance | Waived], str],
    check: str,
) -> None:
    """The first page: what was made, what leaks, what was waived, the seal, how to check it."""
    seen = record.glances()
    pdf.ln(2)
    for tone, words in (
        ("stop", say("leak or failed")),
        ("look", say("not finished")),
        ("holds", say("found to hold")),
    ):
        if n := sum(one.tone == tone for one in seen):
            _verdict(pdf, tone, f"{n} {localize(words)}", 42)
    pdf.set_xy(pdf.l_margin, pdf.get_y() + 10)
    for one in seen[:FIRST_PAGE_JOINTS]:
        top = pdf.get_y()
        _verdict(pdf, one.tone, one.word, 42)
        left = pdf.get_x()
        came = f" {localize(one.came)}" if one.came else ""
        pdf.set_font("body", size=9)
        told = f"**{_plain_mark(one.joint.name)}**{_plain_mark(came)} ({when(one)})"
        pdf.multi_cell(0, 4.5, _printable(told), markdown=True, new_x="LEFT", new_y="NEXT")
        for style, words in (
            *(("B", mark) for mark in record.marks.get(one.id, ())),
            ("", one.made),
        ):
            if words:
                pdf.set_xy(left, pdf.get_y())
                pdf.set_font("body", style, 7)
                pdf.multi_cell(0, 3.5, _printable(localize(words)), new_x="LEFT", new_y="NEXT")
        pdf.set_xy(pdf.l_margin, max(pdf.get_y(), top + 6) + 1.5)
    _more(pdf, len(seen) - FIRST_PAGE_JOINTS)
    if without := record.waived():
        _heading(pdf, say("Signed without"), 11)
        for gap in without[:_FRONT_WAIVED]:
            said = say(
                "{joint}, {point}: {reason} ({who}, {when})",
                joint=Quote(gap.joint),
                point=gap.point,
                reason=Quote(gap.reason),
                who=Quote(gap.who),
                when=Quote(when(gap)),
            )
            _point(pdf, said)
        _more(pdf, len(without) - _FRONT_WAIVED)
    _front_photos(pdf, record, photo)
    _front_seal(pdf, record, when, check)


def _plain_mark(words: str) -> str:
    """A person's own words never make letters bold or slanted."""
    return re.sub(r"([*_~-])(?=\1)", "\\1\N{ZERO WIDTH SPACE}", words)


def _more(pdf: FPDF, n: int) -> None:
    if n > 0:
        _line(pdf, say("And {n} more, on the pages behind.", n=n), 9)


def _front_photos(pdf: FPDF, record: Record, photo: Callable[[str], bytes | None]) -> None:
    shots = [
        (record.name_of(joint), shot, data)
        for joint, shot in record.first_photos()
        if (data := photo(shot.understood["digest"])) is not None
    ]
    if not shots or pdf.will_page_break(40):
        return
    pdf.ln(2)
    top = pdf.get_y()
    for n, (name, shot, data) in enumerate(shots):
        about = shot.understood.get("about") or localize(say("A photo without words"))
        x = pdf.l_margin + 60 * n
        pdf.image(io.BytesIO(data), x=x, y=top, w=57, h=32, keep_aspect_ratio=True,
                  alt_text=f"{name}: {about}")  # fmt: skip
        pdf.set_xy(x, top + 33)
        pdf.set_font("body", size=7)
        pdf.cell(57, 4, _printable(name))
    pdf.set_xy(pdf.l_margin, top + 39)


def _front_seal(pdf: FPDF, record: Record, when: Callable[[Entry], str], check: str) -> None:
    """The seal and the code to check the record by, at the foot of the page if there is room."""
    wide = 30.0
    if pdf.will_page_break(wide + 4):
        pdf.add_page()
    top = max(pdf.get_y() + 2, pdf.h - 18 - wide - 4)
    dark, modules = qr_modules(check)
    each = wide / modules
    left = pdf.w - pdf.r_margin - wide
    pdf.set_fill_color(0, 0, 0)
    for x, y in dark:
        pdf.rect(left + each * x, top + each * y, each, each, style="F")
    pdf.set_xy(pdf.l_margin, top)
    last = record.own
    if last is None:
        _line(pdf, say("Not signed in the log."), 10, "B")
    else:
        whole = ("holds", say("Seal holds")) if last.whole else ("stop", say("Seal is broken"))
        _verdict(pdf, *whole, 42)
        pdf.set_font("body", size=9)
        name = (last.signature.understood or {}).get("name", "")
        pdf.cell(0, 6, _printable(f"{name}, {when(last.signature)}"))
        pdf.set_xy(pdf.l_margin, top + 8)
    pdf.set_font("body", size=8)
    how = say(
        "Is this the record as it was made? Scan the code, or open the address: no account is"
        " needed, and nothing of the job stands there."
    )
    room = pdf.epw - wide - 4
    pdf.multi_cell(room, 4, _printable(localize(how)), new_x="LMARGIN", new_y="NEXT")
    pdf.set_font("body", size=7)
    pdf.multi_cell(room, 3.5, check, new_x="LMARGIN", new_y="NEXT")


def _joint(
    pdf: FPDF,
    record: Record,
    joint: JointRecord,
    photo: Callable[[str], bytes | None],
    when: Callable[[Entry], str],
) -> None:
    pdf.ln(3)
    _heading(pdf, joint.joint.name, 14, below=40)
    for point in joint.points:
        said = say(
            "{state}: {point}. {words}", state=point.state, point=point.label, words=point.words
        )
        _line(pdf, localize(said).strip(), 9, gap=0)
    for outcome in joint.outcomes:
        pdf.ln(2)
        _heading(pdf, outcome.title, 11, below=40)
        _line(pdf, outcome.answer.get("headline", ""), gap=0)
        by = f", {outcome.entry.who}" if outcome.entry.who else ""
        entry = localize(say("entry {id}", id=Quote(outcome.entry.id)))
        _line(pdf, f"{when(outcome.entry)}{by}, {entry}", 7)
        _marks(pdf, record, outcome.entry)
        for block in outcome.blocks:
            _block(pdf, block)
    for note in joint.notes:
        made, words = Quote(when(note)), Quote(note.note)
        _line(pdf, say("Note, {when}: {note}", when=made, note=words), 9)
        _marks(pdf, record, note)
    for one in joint.photos:
        about = one.understood.get("about") or localize(say("A photo without words"))
        shot = photo(one.understood["digest"])
        if shot is not None:
            if pdf.will_page_break(80):
                pdf.add_page()
            pdf.image(io.BytesIO(shot), h=75, w=pdf.epw, keep_aspect_ratio=True, alt_text=about)
        where = "" if shot is not None else " " + localize(say("(kept on another copy)"))
        _line(pdf, f"{about}{where}, {when(one)}", 9, gap=0)
        _marks(pdf, record, one)
        _line(pdf, f"SHA-256 {one.understood['digest']}", 7)


def _block(pdf: FPDF, block: Block) -> None:
    if isinstance(block, Facts):
        if block.title:
            _heading(pdf, block.title, 9)
        for label, value in block.rows:
            _line(pdf, say("{label}: {value}", label=label, value=value), 9, gap=0)
    elif isinstance(block, Table):
        _table(pdf, block)
    elif isinstance(block, Steps | Notes):
        lines = block.items if isinstance(block, Steps) else block.lines
        _heading(pdf, block.title, 9)
        for one in lines:
            _point(pdf, one)
    elif isinstance(block, Drawing):
        _drawing(pdf, block)
    pdf.ln(1)


def _table(pdf: FPDF, block: Table) -> None:
    _heading(pdf, block.title, 9, below=22)
    pdf.set_font("body", size=8)
    rows = [
        [_printable(localize(cell)) for cell in cells] for cells in (block.columns, *block.rows)
    ]
    # As wide as what stands in it, so that a name is not broken while a number has room.
    widths = [
        min(max(map(pdf.get_string_width, column)) + 5, pdf.epw / 2)
        for column in zip(*rows, strict=True)
    ]
    with pdf.table(
        line_height=4.5,
        borders_layout="HORIZONTAL_LINES",
        col_widths=tuple(widths),
        width=min(sum(widths), pdf.epw),
        align="LEFT",
        text_align="LEFT",
    ) as table:
        for cells in rows:
            row = table.row()
            for cell in cells:
                row.cell(cell)


def _drawing(pdf: FPDF, block: Drawing) -> None:
    box = re.search(r'viewBox="[\d.-]+ [\d.-]+ ([\d.]+) ([\d.]+)"', block.svg)
    if box is not None:
        width = min(pdf.epw, 95.0)
        height = width * float(box[2]) / float(box[1])
        if pdf.will_page_break(height):
            pdf.add_page()
        pdf.set_font("body", size=8)
        pdf.image(io.BytesIO(plain_svg(block.svg).encode()), w=width, h=height)
    _line(pdf, f"{localize(block.title)} {localize(block.words)}", 9)


def plain_svg(svg: str) -> str:
    """A drawing of ours with the looks of its style sheet written into it.

    Examples
    --------
    >>> plain_svg('<rect class="hole x" fill="none" width="2"/>')
    '<rect fill="#ffffff" width="2"/>'
    """

    def dressed(found: re.Match[str]) -> str:
        tag, before, name, after, end = found.groups()
        look = _LOOK.get(name, "")
        rest = before + after
        for key in ("fill", "stroke"):
            if f' {key}="' in f" {look}":
                rest = re.sub(rf' {key}="[^"]*"', "", rest)
        return f"<{tag}{' ' + look if look else ''}{rest}{end}>"

    bare = _CLASS.sub(dressed, svg)
    faced = re.sub(r' font-family="[^"]*"', "", bare).replace("<text", '<text font-family="body"')
    return _printable(faced.replace("currentColor", "#17150f"))


def _marks(pdf: FPDF, record: Record, entry: Entry) -> None:
    for words in record.marks.get(entry.id, ()):
        _line(pdf, words, 9, "B", gap=0)


def _end(pdf: FPDF, record: Record, when: Callable[[Entry], str]) -> None:
    pdf.ln(3)
    _heading(pdf, say("Take care"), 12)
    for caution in record.cautions:
        _point(pdf, as_text(caution))
    _line(
        pdf,
        say("Local code, the maker’s instructions and licensed practice come before this record."),
        9,
    )
    _heading(pdf, say("Signatures"), 12)
    for one in record.signatures:
        said = one.signature.understood or {}
        state = localize(
            say("the seal holds")
            if one.whole
            else say("broken: entry {id} {why}", id=Quote(one.wrong), why=one.why)
        )
        by = said.get("name", "")
        _line(pdf, f"{by}, {when(one.signature)}: {state}.", 10, "B", gap=0)
        _marks(pdf, record, one.signature)
        if one.signature.note:
            _line(pdf, one.signature.note, 9, gap=0)
        for gap in said.get("waived", ()):
            without = say(
                "Signed without “{point}” at {joint}: {reason}",
                point=record.label_of(gap["point"]),
                joint=Quote(record.name_of(gap["joint"])),
                reason=Quote(gap.get("reason", "")),
            )
            _line(pdf, without, 9, gap=0)
        digest = (one.signature.result or {}).get("digest", "")
        covers = localize(say("{n} entries", n=one.covers))
        _line(pdf, f"{covers}, SHA-256 {digest}", 8)
    if not record.signatures:
        _line(pdf, say("Not signed in the log."))
    elif not record.signed:
        _line(pdf, say("No signature here was made in this log."))
    if record.after:
        late_ones = say("After the last signature {n} entries were added:", n=len(record.after))
        _line(pdf, late_ones, 9, "B")
        for late in record.after:
            _point(pdf, f"{localize(entry_words(late))} ({when(late)})")
            _marks(pdf, record, late)
        pdf.ln(1)
    by_hand, date = localize(say("Signed by hand:")), localize(say("Date:"))
    _line(pdf, f"{by_hand} ____________________   {date} ____________", gap=3)
    _heading(pdf, say("Where the numbers come from"), 12)
    titles = source_titles()
    for source in record.sources:
        _point(pdf, as_text(titles.get(source, source)), 8)
    whole = say(
        "SHA-256 over all {n} entries: {digest}", n=record.entries, digest=Quote(record.digest)
    )
    _line(pdf, whole, 8)
    if record.head is not None:
        head = Quote(f"{record.head.size}:{record.head.root}")
        _line(pdf, say("Head of the whole log: {head}", head=head), 8)
