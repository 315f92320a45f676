"""Each “How to add …” of the guide, done as it says in a copy of the tree.

Every change is only what the guide names; what shows then is asked of the copy, in a process of
its own.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


class Tree:
    """A copy of the tree that may be edited."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        left_out = shutil.ignore_patterns("__pycache__", "*.pyc")
        for part in ("fieldkit", "static", "templates", "demo_jobs", "tests/support"):
            shutil.copytree(ROOT / part, folder / part, ignore=left_out)

    def append(self, path: str, line: str) -> None:
        """One line more at the end of a file."""
        with (self.folder / path).open("a", encoding="utf-8") as file:
            file.write(line + "\n")

    def write(self, path: str, text: str) -> None:
        """A new file."""
        (self.folder / path).parent.mkdir(parents=True, exist_ok=True)
        (self.folder / path).write_text(text, encoding="utf-8")

    def replace(self, path: str, old: str, new: str) -> None:
        """One place of a file, which must be there."""
        text = (self.folder / path).read_text(encoding="utf-8")
        assert text.count(old) == 1
        (self.folder / path).write_text(text.replace(old, new), encoding="utf-8")

    def run(self, *code: str) -> str:
        """What Python prints, started in the copy: a program's text, or words of a command."""
        command = ["-c", code[0]] if "\n" in code[0] else list(code)
        done = subprocess.run(
            [sys.executable, *command],
            cwd=self.folder,
            env={"PYTHONPATH": f"{self.folder}:{self.folder / 'tests'}", "PATH": ""},
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        assert done.returncode == 0, done.stderr[-2000:]
        return done.stdout


@pytest.fixture
def tree(tmp_path):
    return Tree(tmp_path / "copy")


def test_a_kind_of_joint_is_a_row_and_its_parts_are_rows(tree):
    tree.append(
        "fieldkit/tables/joints.csv",
        "strap,strap,run,part strapped to uncut pipe,strap saddle,4.0,no,no,2,40,read the part,,,"
        "no,3,cut it off,gasket_fault,steps,strapped on,outside,strap-on end,saddle,"
        "strap_saddle_x,Drain the pipe. ; Strap it on.,It sprays. ; It must not turn.,,,,,,"
        'trade,"common practice, no source"',
    )
    tree.append(
        "fieldkit/tables/fittings.csv",
        "strap_0500_0600,saddle,strap-on tee for 1/2 in pipe,strap tee,strap,1/2,barb,0.600,,,,,,,"
        'plastic,no,,,trade,"common practice, no source"',
    )
    tree.run("-m", "fieldkit.cli.main", "tables", "check")
    tree.run("""if True:
        from fieldkit.flows.calculations import calculate
        from fieldkit.flows.catalogue import flows
        from fieldkit.flows.checklist import standing
        from fieldkit.flows.diagnosing.request import joint_types
        from fieldkit.flows.drawings.assembly import assembly_drawing

        body = {"pvc": {"nominal": "1/2"}, "tubing": {"bore": "0.600 in"}, "pressure": "10 psi"}
        found = {
            place: [
                one
                for one in calculate("transition", body | {"place": place}).as_json()["assemblies"]
                if "strap_0500_0600" in one["key"]
            ]
            for place in ("inline", "end")
        }
        assert found["inline"] and not found["end"]
        assert all(one["holds_psi"] <= 40 for one in found["inline"])
        assert assembly_drawing(found["inline"][0]) is not None
        facts = {"parts.joints": ["strap"], "parts.assembly": found["inline"][0]}
        assert "fit-part" in {one.stage.id for one in standing(facts)}
        asked = [step.ask for step in flows()["fit-part"].steps if step.when(facts)]
        assert asked[2:4] == ["Drain the pipe.", "Strap it on."], asked
        hold = calculate("hold", {"joint": "strap saddle x", "static_pressure": "39 psi"})
        assert hold.as_json()["joints"][0]["limit_psi"] == 40
        assert joint_types(facts) == ("saddle",)
    """)


def test_a_language_is_a_row_and_a_command(tree):
    tree.append(
        "fieldkit/tables/languages.csv",
        'fr,Français,fr;fr-CA,no,éèàç,trade,"common practice, no source"',
    )
    tree.run("tests/support/catalogue.py")  # begins its catalogue, every text empty
    po = "fieldkit/translations/fr/LC_MESSAGES/messages.po"
    tree.replace(po, 'msgid "Jobs"\nmsgstr ""', 'msgid "Jobs"\nmsgstr "Chantiers"')
    tree.run("tests/support/catalogue.py")
    tree.run("""if True:
        from fieldkit.app import make_app
        from fieldkit.phone import pack

        client = make_app(None, testing=True).test_client()
        page = client.get("/", headers={"Accept-Language": "fr-CA"}).get_data(as_text=True)
        assert '<html lang="fr"' in page
        assert "Chantiers" in page and "Language, units, light" in page
        assert "% of this is translated. The rest stands in English." in page
        assert "Français" in client.get("/choices").get_data(as_text=True)
        english = client.get("/", headers={"Accept-Language": "en"}).get_data(as_text=True)
        assert "is translated" not in english and "Chantiers" not in english
        assert not pack._NOT_WANTED.search("babel/locale-data/fr_CA.dat")
        assert pack._NOT_WANTED.search("babel/locale-data/de.dat")
    """)


FLOW = '''
"""Guided: how long a bucket takes to fill."""

from fieldkit.engine.filling import Filling, filling
from fieldkit.engine.words import Figure, say
from fieldkit.flows.block import Facts
from fieldkit.flows.flow import Flow
from fieldkit.flows.question import Choice, Option, Quantity, Step, Words
from fieldkit.typed.request import Request

_SIZE = Quantity("gal", at_least=0.1, at_most=100.0, common=(("5 gal", "5 gal"),))
STEPS = (
    Step("what", "What stands under the tap?", Choice((Option("bucket", "A bucket"),))),
    Step("flow", "How fast does it run?", Quantity("gpm", at_least=0.01, at_most=50.0)),
    Step("who", "Who looked?", Words()),
)


def ask_filling(request: Request) -> Filling:
    """How long a vessel takes to fill."""
    volume, flow = request.quantity("volume", "gal"), request.quantity("flow", "gpm")
    if volume is None or flow is None:
        raise request.missing("volume" if volume is None else "flow", "5 gal")
    return filling(volume, flow)


BUCKET = Flow(
    id="fill-bucket",
    title="Fill a bucket",
    trade="timed volume",
    about="How long it takes.",
    steps=STEPS,
    work_out=lambda given, facts: filling(5.0, float(given.get("flow") or 1.0)),
    show=lambda answer: (Facts(((say("Full after"), str(answer["minutes"])),)),),
    learn=lambda given, answer: {},
)
FLOWS = (BUCKET,)
'''

FORMULA = '''
"""How long a vessel takes to fill."""

from dataclasses import dataclass

from fieldkit.engine.words import Figure, say
from fieldkit.engine.working import Answer, Line


@dataclass(frozen=True, kw_only=True, slots=True)
class Filling(Answer):
    """``minutes`` to the brim."""

    minutes: float


def minutes_to_fill(volume_gal: float, flow_gpm: float) -> float:
    """Volume over flow. [min]"""
    return volume_gal / flow_gpm


def filling(volume_gal: float, flow_gpm: float) -> Filling:
    """The answer with its line of working."""
    minutes = minutes_to_fill(volume_gal, flow_gpm)
    inputs = {"V": Figure(volume_gal, "gal", 1), "Q": Figure(flow_gpm, "gpm", 2)}
    line = Line("time", "t = V / Q", inputs, minutes, "min", "fieldkit-rule", "computed")
    words = say("Full after {minutes}.", minutes=Figure(minutes, "min", 1))
    return Filling(verdict="ok", headline=words, cautions=(), working=(line,), minutes=minutes)
'''


def test_a_flow_is_a_folder_and_a_line_and_a_formula_is_a_function_and_a_line(tree):
    tree.write("fieldkit/flows/filling/__init__.py", '"""Filling vessels."""\n')
    tree.write("fieldkit/flows/filling/questions.py", FLOW)
    tree.replace(
        "fieldkit/flows/catalogue.py", "MODULES = (\n", 'MODULES = (\n    "filling.questions",\n'
    )
    tree.write("fieldkit/engine/filling.py", FORMULA)
    tree.replace(
        "fieldkit/flows/calculations.py",
        "= {\n",
        '= {\n    "filling": "filling.questions",\n',
    )
    tree.replace(
        "fieldkit/web/pages/api_examples.py",
        '= {\n    "measure"',
        '= {\n    "filling": {"bucket": {"volume": "5 gal", "flow": "2 gpm"}},\n    "measure"',
    )
    tree.run("""if True:
        from random import Random

        from support.hand import Hand
        from support.walks import answer_some

        from fieldkit.app import make_app

        client = make_app(None, testing=True).test_client()
        hand = Hand(client)
        start = hand.send(hand.read("/"), "/start", what="new")
        page = hand.read(f"/joint/{start.path.split('/')[2]}/fill-bucket")
        for typed in ({"value": "bucket"}, {"value": "2 gpm"}, {"value": "me"}):
            assert page.status == 200, page.words
            page = hand.send(page, page.path.rsplit("/", 1)[1], answer="give", **typed)
        assert page.path.endswith("/answer") and "Full after 2.5 min." in page.words, page.words
        assert "t = V / Q" in page.words

        asked = {"volume": "5 gal", "flow": "2 gpm"}
        answer = client.post("/api/filling", json=asked).get_json()
        assert answer["minutes"] == 2.5, answer
        described = client.get("/api/openapi.json").get_json()
        assert "/api/filling" in described["paths"]
        wrong = client.post("/api/filling", json={"volume": "5 gal", "flow": "fast"})
        assert wrong.status_code == 422 and "problem" in wrong.get_json()
    """)
