"""The pages, one module a place in the program.

`static/colours.css` names every colour by its job, with its value in each of the three lights: as
the phone says (light or dark), bright sun, dark. `face.css`, `page.css` and `lists.css` are on
every page; a page names in `looks` what else it needs (`asking`, `answers`, `drawings`, `crew`
…). A test finds a colour anywhere else, a class without its sheet, and a sheet's class that
nothing uses. The look is ours: drawn matter after ISO 128 and ASME Y14.2, a ruler’s ticks, one
action colour, one column, square corners, nothing that moves. The face of type is cut from its
package by `web/pages/face.py`. Print is black on white always, with the workings opened and
nothing to press.

`python tests/browser/contact_sheet.py --out DIR` shows every screen side by side, in each
language, light, width, with an error and as it prints (`--only`, `--language`, `--look`,
`--width` narrow it; all of it takes a quarter of an hour). Look at the sheets after each change
of a style sheet. A new page goes into `tests/support/screens.py`; `tests/browser/test_looks.py`
then holds it to targets of 48 px, to the main action within a thumb's reach, and to nothing cut
off at twice the type or zoom.

What goes out is packed by `web/sending.py`, which says when it is not, and why: a page that
repeats an address from elsewhere would tell its token by its length. Static files have their
digest in their address and are kept for good. `python tests/browser/lighthouse.py` fetches
Lighthouse by name into a cache of its own, outside this tree, and wants 100 for performance,
accessibility and best practices on four pages.
"""
