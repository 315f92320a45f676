"""The commands: what they print, how they end, and that each is explained."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import urllib.request
from importlib.resources import files
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from support.entries import NOW, a_job, entry

from fieldkit.cli.main import main
from fieldkit.flows.calculations import CALCULATIONS
from fieldkit.joblog import JobLog, exchange
from fieldkit.tables.load import known_sources

README = Path(__file__).parents[2] / "README.md"
FRICTION = (
    '{"bore": "0.8 in", "flow": "5 gpm", "length": "100 ft", "method": "hazen_williams", "c": 150}'
)


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    """A data folder of its own for each test."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("FIELDKIT_DB", raising=False)
    return tmp_path


def run(*arguments, given=b""):
    """Run a command inside this program; a crash is a crash of the test."""
    return CliRunner().invoke(
        main, [str(one) for one in arguments], input=given, catch_exceptions=False
    )


@pytest.fixture
def db(home):
    path = home / "log.db"
    with JobLog.open(path) as log:
        log.append(a_job(), NOW)
    return path


def all_commands(group: click.Group = main, path: tuple[str, ...] = ()):
    """Each command with its full name, groups before what is in them."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        yield (*path, name), command
        if isinstance(command, click.Group):
            yield from all_commands(command, (*path, name))


@pytest.mark.parametrize(
    ("path", "command"),
    [pytest.param(*one, id=" ".join(one[0])) for one in all_commands()],
)
def test_each_command_is_explained(path, command):
    assert command is not None
    assert command.help
    assert not command.get_short_help_str(60).endswith("..."), "its first sentence is too long"
    for option in command.params:
        if isinstance(option, click.Option):
            assert option.help, f"{option.name} has no help"
    shown = run(*path, "--help")
    assert shown.exit_code == 0
    assert "Usage:" in shown.output
    if not isinstance(command, click.Group):
        assert f"fieldkit {' '.join(path)}" in README.read_text(encoding="utf-8")


# ── calc ────────────────────────────────────────────────────────────────────────────────────


def problem_of(result):
    assert result.exit_code == 2
    body = json.loads(result.stdout)
    assert list(body) == ["problem"]
    assert set(body["problem"]) == {"field", "given", "wrong", "instead"}
    assert result.stderr == ""
    return body["problem"]


def test_calc_answers_in_json():
    result = run("calc", "friction", given=FRICTION.encode())
    assert result.exit_code == 0
    answer = json.loads(result.stdout)
    assert {"verdict", "headline", "cautions", "working", "loss_psi"} <= set(answer)
    # Hazen–Williams as irrigation handbooks print it, in feet of head for each 100 ft:
    # 0.2083 (100 / C)^1.852 Q^1.852 / d^4.8655, with 2.31 ft of water to a psi.
    feet = 0.2083 * (100 / 150) ** 1.852 * 5**1.852 / 0.8**4.8655
    assert answer["loss_psi"] == pytest.approx(feet / 2.31, rel=0.002)


@pytest.mark.parametrize(
    ("given", "wrong"),
    [
        (b"", "Nothing came in"),
        (b" \n", "Nothing came in"),
        (b"{", "not JSON"),
        (b"\xff\xfe", "not JSON"),
        (b'{"bore": NaN}', "not JSON"),
        (b'{"bore": Infinity}', "not JSON"),
        (b"[" * 500_000, "not JSON"),
        (b" " * 1_000_001, "over 1,000,000 bytes"),
        (b"[]", "not a set of named values"),
        (b"7", "not a set of named values"),
        (b"null", "not a set of named values"),
    ],
)
def test_calc_says_what_is_wrong_with_the_request(given, wrong):
    problem = problem_of(run("calc", "friction", given=given))
    assert problem["field"] == "request"
    assert wrong in problem["wrong"]


def test_calc_reads_what_another_program_wrote_with_a_byte_order_mark():
    assert run("calc", "friction", given=b"\xef\xbb\xbf" + FRICTION.encode()).exit_code == 0


def test_calc_names_the_key_that_is_wrong():
    assert problem_of(run("calc", "friction", given=b'{"bore": "17,8 mm"}'))["field"] == "bore"


@pytest.mark.parametrize("name", ["nothing", "../calc", "", "Friction ", "x" * 5000])
def test_calc_of_a_wrong_name_lists_the_right_ones(name):
    problem = problem_of(run("calc", name, given=FRICTION.encode()))
    assert problem["field"] == "name"
    assert all(one in problem["instead"] for one in CALCULATIONS)


def test_calc_lists_the_names():
    assert run("calc", "--list").stdout.split() == list(CALCULATIONS)


def test_calc_without_a_name_says_how():
    result = run("calc")
    assert result.exit_code == 2
    assert "--list" in result.stderr


def test_calc_writes_utf_8_whatever_the_terminal_says():
    done = subprocess.run(
        [sys.executable, "-m", "fieldkit.cli.main", "calc", "friction"],
        input=FRICTION.encode(),
        capture_output=True,
        env=os.environ | {"PYTHONIOENCODING": "ascii", "LC_ALL": "C", "PYTHONUTF8": "0"},
        check=True,
    )
    assert "’" in json.loads(done.stdout.decode("utf-8"))["cautions"][0]


def test_calc_does_not_wait_for_the_web_or_the_log():
    code = (
        "import sys; from fieldkit.cli.main import main\n"
        "main(['calc', '--list'], standalone_mode=False)\n"
        "print({'flask', 'sqlite_utils', 'waitress'} & set(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "set()"


# ── export, import ───────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("job", ["job-1", "North bed", "north BED"])
@pytest.mark.parametrize("form", [[], ["--csv"]])
def test_a_job_goes_out_and_comes_in(db, home, job, form):
    out = run("export", job, *form, "-o", home / "out", "--db", db)
    assert out.exit_code == 0
    assert "fieldkit import" in out.stdout
    first = run("import", home / "out")
    assert first.stdout.startswith("6 new, 0 here already, 0 refused")
    assert run("import", home / "out").stdout.startswith("0 new, 6 here already")
    with JobLog.open(home / "data" / "fieldkit" / "fieldkit.db") as log:
        assert log.job("job-1").name == "North bed"


def test_everything_goes_out_on_standard_output(db):
    out = run("export", "--all", "--db", db)
    with JobLog.open(db) as log:
        whole = exchange.json_lines(exchange.entries_of(log), log.company)
        assert out.stdout_bytes.decode() == "".join(whole)
    piped = run("import", "-", "--db", db, given=out.stdout_bytes)
    assert piped.stdout.startswith("0 new, 7 here already")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["export"], "Name one job, or give --all"),
        (["export", "job-1", "--all"], "Name one job, or give --all"),
        (["export", "South bed"], "“North bed”"),
        (["export", "--all", "-o", "/nowhere/at/all"], "could not be written"),
    ],
)
def test_export_says_what_would_work(db, arguments, said):
    result = run(*arguments, "--db", db)
    assert result.exit_code == 2
    assert said in result.stderr


def test_two_jobs_of_one_name_are_told_apart(db):
    with JobLog.open(db) as log:
        log.append([entry(9, "job", job="job-2", understood={"name": "North bed"})], NOW)
    result = run("export", "North bed", "--db", db)
    assert result.exit_code == 2
    assert "job-1" in result.stderr
    assert "job-2" in result.stderr


@pytest.mark.parametrize("command", [["export", "--all"], ["backup", "copy.zip"], ["verify"]])
def test_a_log_that_is_not_there_is_not_made(home, command):
    missing = home / "typo.db"
    result = run(*command, "--db", missing)
    assert result.exit_code == 2
    assert "There is no log at" in result.stderr
    assert not missing.exists()


def test_import_names_what_it_refused(db, home):
    kept, wrong = entry(30), entry(31)
    body = {
        "format": exchange.FORMAT,
        "entries": [kept.as_json(), wrong.as_json() | {"kind": "erase"}],
    }
    (home / "in.json").write_text(json.dumps(body))
    result = run("import", home / "in.json", "--elsewhere", "--db", db)
    assert result.exit_code == 2
    assert result.stdout.startswith("1 new, 0 here already, 1 refused")
    assert f"{wrong.id}, kind:" in result.stderr


def test_import_holds_the_rules_of_the_page(db, home):
    """Another company's file only on purpose, and no person, poison or future by any file."""
    note = entry(30, note="not ours", who="Stranger")
    signed = entry(31, "signature", understood={"name": "Mr. Else"}, who="Mr. Else")
    wrong = (
        entry(32, "person", job="", understood={"name": "Me", "role": "lead"}),
        entry(33, "pick", joint="joint-1", understood="x", facts={"pipe.od_in": "wide"}),
        entry(34, job="job-9", joint="joint-1", note="in another job"),
        entry(35, note="in 2090", at="2090-01-01T00:00:00.000Z"),
    )
    body = "".join(exchange.json_lines([note, signed, *wrong], "f" * 32))
    (home / "in.json").write_text(body)
    assert "0 new, 0 here already, 6 refused" in run("import", home / "in.json", "--db", db).stdout
    done = run("import", home / "in.json", "--elsewhere", "--db", db)
    assert "2 new, 0 here already, 4 refused" in done.stdout
    assert "Mr. Else: 1, with a signature" in done.stdout
    with JobLog.open(db) as log:
        assert {one.entry for one in log.marks("brought in")} == {note.id, signed.id}
    assert "it came from a file" in run("verify", "--db", db).stdout


def test_verify_works_every_result_out_again(db):
    """The job of these tests holds a result that follows from no answers."""
    said = run("verify", "--rework", "--db", db)
    assert said.exit_code == 0
    assert "not reproduced" in said.stdout
    assert "1 results worked out again, 1 come out otherwise." in said.stdout
    assert "worked out again" not in run("verify", "--db", db).stdout


def test_import_of_something_else_says_so(db, home):
    (home / "in.json").write_text("hello")
    result = run("import", home / "in.json", "--db", db)
    assert result.exit_code == 2
    assert "fieldkit exported" in result.stderr


def test_import_takes_no_name_that_passes_for_anothers_and_is_written_down(db, home):
    """The rules are those of the page."""
    assert run("people", "add-lead", "Ann", "--password", "violet gravel anchor teapot",
               "--db", db).exit_code == 0  # fmt: skip
    alike = entry(30, note="x", who="\N{CYRILLIC CAPITAL LETTER A}nn")
    person = entry(31, "person", job="", understood={"name": "Me", "role": "lead"})
    (home / "in.json").write_text("".join(exchange.json_lines([alike, person])))
    done = run("import", home / "in.json", "--elsewhere", "--db", db)
    assert done.stdout.startswith("0 new, 0 here already, 2 refused")
    assert "looks like Ann" in done.stderr
    assert "brought in" in run("people", "log", "--db", db).stdout


def test_every_command_that_a_text_names_is_one_of_ours_with_its_options():
    known = dict(all_commands())
    sources = [*README.parent.glob("fieldkit/**/*.py"), *README.parent.glob("templates/**/*.html")]
    told = 0
    for source in (*sources, README, README.with_name("DEVELOPERS.md")):
        named = re.findall(
            r"(?<![\w./-])fieldkit ((?:[a-z-]+ ?)+)([^\n`\"'«».]*)", source.read_text()
        )
        for words, rest in named:
            path = next((p for p in (tuple(words.split()[:n]) for n in (2, 1)) if p in known), None)
            if path is None:
                continue  # the name of the program, and no command
            told += 1
            options = {one for part in known[path].params for one in part.opts} | {"--help"}
            assert options.issuperset(re.findall(r"--[a-z-]+", rest)), (source, words, rest)
    assert told > 40


# ── tables check ────────────────────────────────────────────────────────────────────────────


def test_all_tables_keep_the_rules():
    result = run("tables", "check")
    assert result.exit_code == 0, result.stderr
    listed = dict(re.findall(r"^ *(\d+) rows  (\w+)$", result.stdout, re.M))
    listed = {name: int(count) for count, name in listed.items()}
    package = files("fieldkit.tables")
    names = {file.name[:-4] for file in package.iterdir() if file.name.endswith(".csv")}
    assert set(re.findall(r"rows  (\w+)", result.stdout)) == names
    assert f"{len(known_sources())} rows  sources" in result.stdout


EDITS = {
    "status": ("materials.csv", r",secondary,", ",surely,", "status"),
    "source": ("water.csv", r",iapws[\w-]*,", ",somebody,", "source"),
    "number": ("heat_factors.csv", r",73,", ",warm,", "temperature_f"),
    "header": ("pipes.csv", r"^id,", "key,", "header"),
}


@pytest.mark.parametrize("edit", EDITS)
def test_a_wrong_cell_is_named_by_file_line_column_value_and_rule(home, edit):
    file, old, new, column = EDITS[edit]
    text = (files("fieldkit.tables") / file).read_text(encoding="utf-8")
    edited, count = re.subn(old, new, text, count=1, flags=re.M)
    assert count == 1
    folder = home / "edited"
    folder.mkdir()
    (folder / file).write_text(edited, encoding="utf-8")
    line = next(n for n, row in enumerate(edited.splitlines(), 1) if new.strip(",") in row)
    result = run("tables", "check", "--from", folder)
    assert result.exit_code == 2
    assert result.stderr.startswith(f"{file} line {line}, column {column}: ")
    assert new.strip(",") in result.stderr
    assert run("tables", "check").exit_code == 0, "the edit was kept in use"


def test_rules_across_rows_see_the_edited_table(home):
    """The same id twice: no single cell is wrong."""
    folder = home / "edited"
    folder.mkdir()
    text = (files("fieldkit.tables") / "hydraulics.csv").read_text(encoding="utf-8")
    (folder / "hydraulics.csv").write_text(text + text.splitlines()[1] + "\n", encoding="utf-8")
    result = run("tables", "check", "--from", folder)
    assert result.exit_code == 2
    assert "is there twice" in result.stderr


def test_good_edits_pass(home):
    folder = home / "edited"
    folder.mkdir()
    for name in ("water.csv", "pipes.csv"):
        shutil.copy(str(files("fieldkit.tables") / name), folder / name)
    result = run("tables", "check", "--from", folder)
    assert result.exit_code == 0
    assert "pipes, water" in result.stdout


def test_a_folder_without_tables_or_with_a_strange_one_is_said(home):
    assert "no CSV files" in run("tables", "check", "--from", home).stderr
    (home / "pipe.csv").write_text("id\n")
    result = run("tables", "check", "--from", home)
    assert result.exit_code == 2
    assert "no table called pipe" in result.stderr


# ── serve ───────────────────────────────────────────────────────────────────────────────────


@pytest.fixture
def server(home):
    """Start ``fieldkit serve`` with the options given; returns it and what it said."""
    started = []

    def start(*options):
        process = subprocess.Popen(
            [sys.executable, "-m", "fieldkit.cli.main", "serve", "--port", "0", *options],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        started.append(process)
        said = []
        for line in process.stdout:
            said.append(line)
            if line.startswith("Open "):
                break
        return process, "".join(said)

    yield start
    for process in started:
        process.terminate()
        process.communicate(timeout=20)


def address(said):
    return re.search(r"Open (http://\S+:\d+)", said).group(1)


def test_serve_answers_on_this_machine_only_and_keeps_its_log(server, home, monkeypatch):
    monkeypatch.setenv("TMPDIR", str(home))
    process, said = server()
    assert list(home.glob("fieldkit-*"))  # where long work puts what it makes
    assert "http://127.0.0.1:" in said
    path = home / "data" / "fieldkit" / "fieldkit.db"
    assert f"Log: {path}" in said
    with urllib.request.urlopen(address(said)) as page:  # noqa: S310  -- our own address
        assert page.status == 200
        assert "fieldkit" in page.read().decode()
    request = urllib.request.Request(  # noqa: S310  -- our own address
        address(said) + "/api/friction",
        data=FRICTION.encode(),
        headers={"Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request) as answer:  # noqa: S310  -- our own address
        on_page = json.load(answer)
    assert on_page == json.loads(run("calc", "friction", given=FRICTION.encode()).stdout)
    assert path.is_file()
    assert (path.parent.stat().st_mode & 0o077) == 0
    process.send_signal(signal.SIGINT)
    assert process.wait(timeout=20) == 0
    assert process.stderr.read() == ""
    assert not list(home.glob("fieldkit-*"))


def test_serve_demo_keeps_to_a_log_of_its_own_and_loads_once(server, home):
    process, said = server("--demo")
    assert re.search(r"Demo: \d+ invented jobs", said)
    assert (home / "data" / "fieldkit" / "demo.db").is_file()
    assert not (home / "data" / "fieldkit" / "fieldkit.db").exists()
    process.terminate()
    assert process.wait(timeout=20) == 0
    assert "0 entries added" in server("--demo")[1]


def test_serve_warns_when_others_can_reach_it(server):
    process, said = server("--host", "0.0.0.0")  # noqa: S104  -- the very thing that is tested
    assert address(said)
    process.terminate()
    assert "can be read on the way" in process.communicate(timeout=20)[1]


def test_serve_says_when_the_port_is_taken(server):
    _, said = server()
    port = address(said).rsplit(":", 1)[1]
    result = run("serve", "--port", port)
    assert result.exit_code == 2
    assert "Try another --port" in result.stderr


def test_serve_says_when_the_file_is_no_log(home):
    (home / "text.db").write_text("not a database, and long enough to be looked at " * 50)
    result = run("serve", "--db", home / "text.db", "--port", "0")
    assert result.exit_code == 2
    assert "could not be opened" in result.stderr
