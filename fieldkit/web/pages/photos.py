"""Photos of a joint: taken with the phone's camera or chosen, shown as images and nothing else."""

from __future__ import annotations

from pathlib import Path

from flask import Blueprint, abort, current_app, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say
from fieldkit.flows import answers
from fieldkit.joblog import Entry, JointNow
from fieldkit.web import clock
from fieldkit.web.ids import fresh_id
from fieldkit.web.keeping import entry_id_of_form, keep
from fieldkit.web.look import joblog
from fieldkit.web.photos import LARGEST_PHOTO_BYTES, clean_photo, keep_photo, photo_path
from fieldkit.web.who import signature_of_asker

pages = Blueprint("photos", __name__, url_prefix="/joint/<joint>/photos")


def photo_folder() -> Path:
    """Where the photos are kept; a phone's copy has no such place and no such pages."""
    folder: Path | None = current_app.config["PHOTO_FOLDER"]
    if folder is None:
        abort(404)
    return folder


def joint_or_404(joint: str) -> JointNow:
    """The joint at this address."""
    found = joblog().joint(joint)
    if found is None:
        abort(404)
    return found


def photos_of(joint: JointNow) -> list[Entry]:
    """The photos of a joint, oldest first."""
    return list(joblog().photos(joint.job, joint.id))


def photo_page(joint: str, problem: Problem | None = None) -> str:
    """The photos of a joint, and the way to add one."""
    found = joint_or_404(joint)
    folder = photo_folder()
    shown = [(one, photo_path(folder, one.understood["digest"])) for one in photos_of(found)]
    return render_template(
        "photos.html", joint=found, photos=shown, problem=problem, entry=fresh_id(),
        typed=request.form,
    )  # fmt: skip


@pages.get("")
def show(joint: str) -> str:
    """The photos of a joint."""
    return photo_page(joint)


@pages.post("")
def take(joint: str) -> tuple[str, int] | Response:
    """Take a photo in: made anew, named by its digest, entered in the log."""
    found, folder, entry_id = joint_or_404(joint), photo_folder(), entry_id_of_form()
    upload = request.files.get("photo")
    try:
        about = answers.read_text(request.form.get("about", ""), field="about", limit=200)
        if upload is None or not upload.filename:
            raise Problem(
                "photo", "", say("No photo was chosen."), say("Take one or choose one first.")
            )
        data = upload.stream.read(LARGEST_PHOTO_BYTES + 1)
        clean = clean_photo(data, keep_metadata=request.form.get("keep") == "on")
    except Problem as problem:
        return photo_page(joint, problem), 422
    if joblog().entry(entry_id) is None:
        digest = keep_photo(folder, clean)
        said = {"digest": digest, "bytes": len(clean), "about": about}
        made = Entry(
            id=entry_id, at=clock.now(), job=found.job, joint=joint, kind="photo",
            understood=said, who=signature_of_asker(),
        )  # fmt: skip
        keep(joblog(), [made], received=made.at)
    return redirect(url_for("photos.show", joint=joint), 303)


@pages.get("/<photo>.jpg")
def image(joint: str, photo: str) -> Response:
    """One photo of this joint, by its digest."""
    found, folder = joint_or_404(joint), photo_folder()
    if photo not in {one.understood["digest"] for one in photos_of(found)}:
        abort(404)
    path = photo_path(folder, photo)
    if path is None:
        abort(404)
    response: Response = current_app.response_class(path.read_bytes(), mimetype="image/jpeg")
    response.headers["Cache-Control"] = "private, max-age=31536000, immutable"
    response.headers["Content-Disposition"] = f'inline; filename="{photo[:16]}.jpg"'
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response
