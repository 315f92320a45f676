"""Photos of a joint: taken with the phone's camera or chosen, shown as images and nothing else."""

from __future__ import annotations

from flask import Blueprint, abort, current_app, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.joblog import Entry, JointNow
from fieldkit.joblog.door import LARGEST_PHOTO_BYTES
from fieldkit.typed import answers
from fieldkit.web import clock
from fieldkit.web.idempotent import entry_id_of_form, keep
from fieldkit.web.ids import fresh_id
from fieldkit.web.look import joblog
from fieldkit.web.pages.common import joint_or_404
from fieldkit.web.photos import LONGEST_SIDE, photos
from fieldkit.web.who import signature_of_asker

pages = Blueprint("photos", __name__, url_prefix="/joint/<joint>/photos")


def photos_of(joint: JointNow) -> list[Entry]:
    """The photos of a joint, oldest first."""
    return list(joblog().photos(joint.job, joint.id))


def photo_page(joint: str, problem: Problem | None = None) -> str:
    """The photos of a joint, and the way to add one."""
    found, store = joint_or_404(joint), photos()
    shown = [(one, store.has(one.understood["digest"])) for one in photos_of(found)]
    return render_template(
        "photos.html", joint=found, photos=shown, away=store.away, coming=store.coming,
        longest=LONGEST_SIDE, problem=problem, entry=fresh_id(), typed=request.form,
    )  # fmt: skip


@pages.get("")
def show(joint: str) -> str:
    """The photos of a joint."""
    return photo_page(joint)


@pages.post("")
def take(joint: str) -> tuple[str, int] | Response:
    """Take a photo in: made anew, named by its digest, entered in the log."""
    found, entry_id = joint_or_404(joint), entry_id_of_form()
    # Two boxes of one name: one opens the camera, the other what is there already.
    upload = next((one for one in request.files.getlist("photo") if one.filename), None)
    try:
        about = answers.read_text(request.form.get("about", ""), field="about", limit=200)
        if upload is None:
            raise Problem(
                "photo", "", say("No photo was chosen."), say("Take one or choose one first.")
            )
        data = upload.stream.read(LARGEST_PHOTO_BYTES + 1)
        on_purpose = request.form.get("keep") == "on"
        clean = photos().clean(data, keep_metadata=on_purpose)
    except Problem as problem:
        return photo_page(joint, problem), 422
    if joblog().entry(entry_id) is None:
        said = {"digest": photos().keep(clean), "bytes": len(clean), "about": about}
        if on_purpose:
            said["kept_metadata"] = True
        made = Entry(
            id=entry_id, at=clock.now(), job=found.job, joint=joint, kind="photo",
            understood=said, who=signature_of_asker(),
        )  # fmt: skip
        keep(joblog(), [made], received=made.at)
    return redirect(url_for("photos.show", joint=joint), 303)


@pages.get("/<photo>.jpg")
def image(joint: str, photo: str) -> Response:
    """One photo of this joint, by its digest."""
    if photo not in {one.understood["digest"] for one in photos_of(joint_or_404(joint))}:
        abort(404)
    data = photos().read(photo)
    if data is None:
        abort(404)
    return as_image(photo, data)


def as_image(digest: str, data: bytes) -> Response:
    """A photo as an image, and never as anything else."""
    response: Response = current_app.response_class(data, mimetype="image/jpeg")
    response.headers["Cache-Control"] = "private, max-age=31536000, immutable"
    response.headers["Content-Disposition"] = f'inline; filename="{digest[:16]}.jpg"'
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response
