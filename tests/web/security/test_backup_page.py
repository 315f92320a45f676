"""The backup as a page: made beside, whole, for a lead alone, and with the password once more."""

from __future__ import annotations

from web.security.conftest import PASSWORD
from web.test_beside import finished

from fieldkit.joblog import JobLog
from fieldkit.joblog.restore import restore
from fieldkit.web.pages.backup import place_of


def test_a_backup_is_made_by_a_lead_with_the_password_and_can_be_put_back(crew, open_app, tmp_path):
    log, lead = open_app.extensions["joblog"], crew["lead"]
    assert "A backup of everything" in lead.read("/jobs").words
    assert "A backup of everything" not in crew["technician"].read("/jobs").words
    page = lead.send(lead.read("/backup"), "/backup", old="not my password")
    assert page.status == 422
    assert "not your password" in page.words
    action, fields = page.form("/backup")
    where, _ = finished(lead.client, lead.client.post(action, data={**fields, "old": PASSWORD}))
    assert crew["technician"].client.get(f"{where}/file").status_code == 404
    with lead.client.get(f"{where}/file") as response:
        assert response.mimetype == "application/zip"
        assert response.headers["Cache-Control"] == "no-store"
        (tmp_path / "copy.zip").write_bytes(response.get_data())
    other = tmp_path / "other" / "log.db"
    other.parent.mkdir()
    done = restore(tmp_path / "copy.zip", place_of(other), "stamp")
    assert (done.entries, done.broken) == (log.count(), ())
    with JobLog.open(other) as copy:
        assert copy.company == log.company
