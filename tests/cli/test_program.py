"""The program as a whole: help without heavy imports, exit codes, errors as text and as JSON, broken pipes, Ctrl-C."""

from __future__ import annotations

import importlib
import json
import os
import signal
import subprocess
import sys
import types
from dataclasses import replace

import click
import pytest

from bandwright import __version__, cli
from bandwright.cli import shared
from bandwright.cli.failures import tell
from bandwright.errors import BrokenPromise, Cancelled, Fault, InputError, MachineError
from bandwright.service.context import Progress

HEAVY = ("numpy", "pydantic", "numba", "scipy", "reportlab", "jinja2")


def bandwright(*arguments, **environment):
    """Run the program in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "bandwright", *arguments],
        env={**os.environ, **environment},
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )


@pytest.fixture
def failing(monkeypatch, tmp_path):
    """Register a command that raises what it is given, and keep its reports in a folder of the test."""

    def register(error):
        @shared.command(example="bandwright failing")
        def command():
            """Fail."""
            raise error

        module = types.ModuleType("failing_command")
        module.command = command
        monkeypatch.setitem(sys.modules, "failing_command", module)
        monkeypatch.setitem(cli.COMMANDS, "failing", ("failing_command:command", "Fail."))

    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return register


@pytest.mark.parametrize("arguments", [["--help"], *([name, "--help"] for name in cli.COMMANDS)], ids=" ".join)
def test_help_imports_nothing_heavy(arguments):
    code = (
        "import sys\n"
        "from bandwright import cli\n"
        f"code = cli.run({arguments!r})\n"
        f"print('heavy:', sorted(set({HEAVY!r}) & set(sys.modules)), 'code:', code)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, encoding="utf-8", check=True)
    assert done.stdout.splitlines()[-1] == "heavy: [] code: 0"


@pytest.mark.parametrize("name", cli.COMMANDS)
def test_every_registered_command_exists_and_shows_an_example_and_json(name):
    module, _, function = cli.COMMANDS[name][0].partition(":")
    command = getattr(importlib.import_module(module), function)
    assert isinstance(command, click.Command)
    for path, item in leaves(command, f"bandwright {name}"):
        page = item.get_help(click.Context(item, info_name=path))
        assert "Example:" in page
        assert f"{path} " in page or f"{path}\n" in page
        assert "--json" in page


def leaves(command, path):
    """Yield the commands that do something, each with what is typed for it."""
    if not isinstance(command, click.Group):
        yield path, command
        return
    for name, item in command.commands.items():
        yield from leaves(item, f"{path} {name}")


def test_short_helps_are_sentences():
    for name, (_, text) in cli.COMMANDS.items():
        assert text[0].isupper(), name
        assert text.endswith("."), name


def test_without_a_command_the_help_is_shown(capsys):
    assert cli.run([]) == 0
    assert "Commands:" in capsys.readouterr().out


def test_the_version_is_shown(capsys):
    assert cli.run(["--version"]) == 0
    assert capsys.readouterr().out == f"bandwright {__version__}\n"


def test_an_unknown_command_names_the_nearest_one(capsys):
    assert cli.run(["complet"]) == 2
    streams = capsys.readouterr()
    assert streams.out == ""
    assert streams.err == 'There is no command "complet". Did you mean "completion"?\n'


def test_an_unknown_option_names_the_nearest_one(capsys):
    assert cli.run(["completion", "bash", "--jsn"]) == 2
    assert capsys.readouterr().err == 'bandwright completion has no option "--jsn". Did you mean "--json"?\n'


@pytest.mark.parametrize(
    ("arguments", "code", "part"),
    [
        (["complet", "--json"], "unknown-command", 'Did you mean "completion"?'),
        (["completion", "bash", "--jso", "--json"], "unknown-option", 'Did you mean "--json"?'),
        (["completion", "--json"], "missing-argument", 'Try "bandwright completion --help".'),
        (["completion", "tcsh", "--json"], "bad-value", 'Try "bandwright completion --help".'),
        (["completion", "bash", "zsh", "--json"], "usage", 'Try "bandwright completion --help".'),
        (["--json"], "unknown-option", "Did you mean"),
    ],
)
def test_usage_errors_are_one_json_object(capsys, arguments, code, part):
    assert cli.run(arguments) == 2
    streams = capsys.readouterr()
    assert streams.err == ""
    told = json.loads(streams.out)
    assert told["schema"] == "bandwright.errors/1"
    assert told["program"] == f"bandwright {__version__}"
    assert [error["code"] for error in told["errors"]] == [code]
    assert set(told["errors"][0]) == {"code", "file", "line", "key", "given", "allowed", "hint", "text"}
    assert part in told["errors"][0]["hint"]


def test_help_with_json_is_one_json_object(capsys):
    assert cli.run(["completion", "--help", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["schema"] == "bandwright.help/1"
    assert "Usage: bandwright completion" in told["text"]


FAULTS = [
    Fault(code="bad-number", text="step_khz is 0.", file="show.toml", line=7, key="step_khz", hint="Give more than 0."),
    Fault(code="unknown-radio", text='There is no radio "hero".', file="show.toml", line=9),
]


@pytest.mark.parametrize(
    ("error", "exit_code", "code", "text"),
    [
        (InputError(FAULTS), 2, "bad-number", "show.toml:7: step_khz is 0. Give more than 0."),
        (MachineError("The disk is full."), 3, "machine", "The disk is full."),
        (OSError(28, "No space left on device", "out/plan.json"), 3, "machine", "device: out/plan.json."),
        (FileNotFoundError(2, "No such file or directory", "no.csv"), 2, "no-such-file", "directory: no.csv."),
        (MemoryError(), 3, "memory", "not enough free memory"),
        (BrokenPromise("spacing of L01"), 4, "our-bug", "Bandwright made a mistake (BrokenPromise)"),
        (ZeroDivisionError("division by zero"), 4, "our-bug", "Bandwright made a mistake (ZeroDivisionError)"),
        (Cancelled(), 130, "cancelled", "Stopped, as asked."),
        (KeyboardInterrupt(), 130, "cancelled", "Stopped, as asked."),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, BaseException) else "",
)
def test_every_kind_of_failure_has_its_exit_code_and_sentence(failing, capsys, error, exit_code, code, text):
    failing(error)
    assert cli.run(["failing"]) == exit_code
    streams = capsys.readouterr()
    assert streams.out == ""
    assert text in streams.err
    assert "Traceback" not in streams.err
    assert cli.run(["failing", "--json"]) == exit_code
    assert json.loads(capsys.readouterr().out)["errors"][0]["code"] == code


def test_all_faults_of_an_input_are_told(failing, capsys):
    failing(InputError(FAULTS))
    assert cli.run(["failing", "--json"]) == 2
    assert [error["line"] for error in json.loads(capsys.readouterr().out)["errors"]] == [7, 9]
    assert cli.run(["failing"]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 2


def test_a_bug_leaves_a_report_with_traceback_versions_and_arguments(failing, capsys, tmp_path):
    failing(ZeroDivisionError("division by zero"))
    cli.run(["failing", "--json"])
    (report,) = (tmp_path / "state" / "bandwright").iterdir()
    assert str(report) in json.loads(capsys.readouterr().out)["errors"][0]["hint"]
    text = report.read_text(encoding="utf-8")
    assert "ZeroDivisionError: division by zero" in text
    assert "Traceback (most recent call last)" in text
    assert "arguments: failing --json" in text
    assert "numpy " in text
    assert os.path.expanduser("~") not in text.replace(str(tmp_path), "")  # noqa: PTH111


def test_a_bug_in_an_unwritable_home_reports_into_the_temporary_folder(failing, capsys, monkeypatch, tmp_path):
    blocked = tmp_path / "blocked"
    blocked.write_text("a file where a folder should be", encoding="utf-8")
    monkeypatch.setenv("XDG_STATE_HOME", str(blocked))
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    failing(ZeroDivisionError("division by zero"))
    assert cli.run(["failing"]) == 4
    (report,) = tmp_path.glob("bandwright-report-*.txt")
    assert str(report) in capsys.readouterr().err


def test_a_bug_where_nothing_can_be_written_still_says_so(failing, capsys, monkeypatch, tmp_path):
    blocked = tmp_path / "blocked"
    blocked.write_text("", encoding="utf-8")
    monkeypatch.setenv("XDG_STATE_HOME", str(blocked))
    monkeypatch.setattr("tempfile.tempdir", str(blocked))
    failing(ZeroDivisionError("division by zero"))
    assert cli.run(["failing"]) == 4
    assert "No report could be written." in capsys.readouterr().err


def test_a_reader_who_leaves_early_is_no_error():
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [sys.executable, "-m", "bandwright", "completion", "bash"], stdout=write, stderr=subprocess.PIPE, check=False
    )
    os.close(write)
    assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs a device that is always full")  # noqa: PTH110
def test_a_full_disk_is_the_machine_failing_us():
    with open("/dev/full", "wb") as full:  # noqa: PTH123
        done = subprocess.run(
            [sys.executable, "-m", "bandwright", "completion", "bash"], stdout=full, stderr=subprocess.PIPE, check=False
        )
    assert done.returncode == 3
    assert done.stderr.decode().count("\n") == 1


@pytest.mark.parametrize("environment", [{}, {"NO_COLOR": "1"}, {"FORCE_COLOR": "1", "TERM": "xterm-256color"}])
def test_off_a_terminal_there_is_no_colour_and_no_spinner(environment):
    for arguments in (["--help"], ["completion", "bash"], ["complet"]):
        done = bandwright(*arguments, **environment)
        assert "\x1b[" not in done.stdout + done.stderr
        assert "\r" not in done.stdout + done.stderr


def test_json_is_utf_8_whatever_the_locale():
    done = bandwright("completion", "Łukasz", "--json", PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert done.returncode == 2
    assert "Łukasz" in json.loads(done.stdout)["errors"][0]["text"]


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_scripts_call_the_program(shell):
    done = bandwright("completion", shell)
    assert done.returncode == 0
    assert done.stderr == ""
    assert f"_BANDWRIGHT_COMPLETE={shell}_complete" in done.stdout


def test_completion_knows_the_commands_and_imports_none_of_them():
    done = bandwright(_BANDWRIGHT_COMPLETE="bash_complete", COMP_WORDS="bandwright comp", COMP_CWORD="1")
    assert done.stdout.split() == ["plain,compare", "plain,completion"]


def test_the_first_ctrl_c_asks_and_the_second_one_stops():
    before = signal.getsignal(signal.SIGINT)
    with shared.working() as context:
        assert not context.cancelled()
        signal.raise_signal(signal.SIGINT)
        assert context.cancelled()
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is before


class Terminal:
    """A terminal that remembers what was written."""

    def __init__(self):
        self.written = ""

    def isatty(self):
        return True

    def write(self, text):
        self.written += text

    def flush(self):
        pass


def test_progress_rewrites_one_line_on_a_terminal_and_leaves_it_empty(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setenv("TERM", "xterm")
    with shared.working() as context:
        context.progress(Progress(text="searching", done=0.25))
        context.progress(Progress(text="done"))
    assert terminal.written == "\rsearching 25%\rdone         \r    \r"


def test_a_search_tells_its_best_so_far_its_bound_and_its_time(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "80")
    with shared.working() as context:
        going = Progress(text="widening: 28 of 30 placed", done=28 / 30, placed=28, wanted=30, elapsed_s=3.6)
        context.progress(going)
        context.progress(replace(going, bound=30))
    told = [text.strip() for text in terminal.written.split("\r") if text.strip()]
    assert told == ["widening: 28 of 30 placed, 4 s", "widening: 28 of 30 placed, at most 30, 4 s"]


def test_progress_is_silent_off_a_terminal(capsys):
    with shared.working() as context:
        context.progress(Progress(text="searching", done=0.25))
    assert capsys.readouterr().err == ""


def test_a_process_without_standard_output_still_ends_with_its_exit_code():
    code = "import sys; sys.stdout = None; from bandwright import cli; sys.exit(cli.run(['rules']))"
    ended = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, encoding="utf-8", timeout=120, check=False
    )
    assert (ended.returncode, ended.stderr) == (0, "")


# Ctrl-C while one module is being imported.
INTERRUPTED = """
import sys
class Interrupting:
    def find_spec(self, name, path=None, target=None):
        if name == {name!r} and not hasattr(self, "done"):
            self.done = True
            raise KeyboardInterrupt
sys.meta_path.insert(0, Interrupting())
from bandwright.entry import main
main()
"""


@pytest.mark.parametrize("as_json", [False, True])
@pytest.mark.parametrize(
    "name",
    [
        "bandwright.cli",
        "click",
        "click.core",
        "bandwright.cli.failures",
        "bandwright.cli.shared",
        "bandwright.cli.rules",
    ],
)
def test_ctrl_c_while_the_program_is_loading_ends_it_with_a_word_and_130(name, as_json):
    code = INTERRUPTED.format(name=name)
    arguments = ["rules", *(["--json"] if as_json else [])]
    done = subprocess.run([sys.executable, "-c", code, *arguments], capture_output=True, encoding="utf-8", check=False)
    assert done.returncode == 130
    assert "Traceback" not in done.stderr
    if as_json:
        assert json.loads(done.stdout)["errors"][0]["code"] == "cancelled"
    else:
        assert done.stderr.strip() == "Stopped, as asked. Nothing was written."


def test_hardly_anything_is_imported_before_ctrl_c_is_understood():
    code = "import sys; before = set(sys.modules); import bandwright.entry; print(sorted(set(sys.modules) - before))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, encoding="utf-8", check=True)
    assert done.stdout.strip() == "['__future__', 'bandwright', 'bandwright.entry']"


@pytest.mark.parametrize(
    "arguments", [["plan", "brief.toml", "--out", ""], ["demo", "--out", ""], ["check", "", "x.csv"], ["init", ""]]
)
def test_an_empty_name_is_refused_and_does_not_mean_the_folder_one_is_in(arguments, capsys):
    assert cli.run([*arguments, "--json"]) == 2
    (error,) = json.loads(capsys.readouterr().out)["errors"]
    assert error["code"] == "bad-value"
    assert "it is empty; name a file or folder" in error["text"]


@pytest.mark.parametrize(
    ("fault", "text"),
    [
        (Fault(code="x", text="there is no brief here."), "There is no brief here."),
        (Fault(code="x", text='permit "p": state is missing.', key="permit.0.state"), 'Permit "p": state is missing.'),
        (Fault(code="x", text="title is missing.", key="job.title"), "title is missing."),
        (Fault(code="x", text="low_mhz is 3.", key="low_mhz"), "low_mhz is 3."),
        (Fault(code="x", text='"3" is no number.'), '"3" is no number.'),
        (Fault(code="x", text="bandwright plan needs BRIEF."), "bandwright plan needs BRIEF."),
    ],
)
@pytest.mark.parametrize("as_json", [True, False])
def test_an_error_begins_with_a_capital_unless_it_begins_with_a_key_or_a_command(fault, text, as_json, capsys):
    assert tell(InputError([fault]), arguments=[], as_json=as_json) == 2
    said = capsys.readouterr()
    assert (json.loads(said.out)["errors"][0]["text"] if as_json else said.err.rstrip("\n")) == text


@pytest.mark.parametrize("as_json", [True, False])
def test_what_was_given_is_shown_without_control_codes_and_not_at_full_length(as_json, capsys):
    given = "\x1b[31m" + "x" * 100_000
    fault = Fault(code="x", text=f'There is no link "{given}"; known: L01.', given=given)
    assert tell(InputError([fault]), arguments=[], as_json=as_json) == 2
    said = capsys.readouterr()
    text = json.loads(said.out)["errors"][0]["text"] if as_json else said.err.rstrip("\n")
    assert text.startswith('There is no link "\N{REPLACEMENT CHARACTER}[31mxxx')
    assert text.endswith('"; known: L01.')
    assert len(text) < 2_000


def test_a_name_that_is_too_long_is_bad_input(capsys):
    assert cli.run(["capacity", "x" * 5_000, "--json"]) == 2
    (error,) = json.loads(capsys.readouterr().out)["errors"]
    assert error["code"] == "no-such-file"


@pytest.mark.skipif(sys.platform != "linux", reason="only there may a name hold any bytes")
class TestNamesThatAreNoUnicode:
    ROWS = "".join(f"{606 + index * 0.025:.3f};-{90 + index % 3}\n" for index in range(200))

    @pytest.fixture
    def name(self, tmp_path, monkeypatch):
        monkeypatch.chdir(tmp_path)
        return os.fsdecode(b"caf\xe9\xff")

    def test_a_refused_one_is_told_in_one_json_object(self, name):
        done = bandwright("sweep", name, "--json")
        assert (done.returncode, done.stderr) == (2, "")
        assert json.loads(done.stdout)["errors"][0]["code"] == "no-such-file"

    def test_a_sweep_of_that_name_is_read_and_drawn(self, name, tmp_path):
        (tmp_path / f"{name}.csv").write_text("Frequency MHz;Level dBm\n" + self.ROWS)
        done = bandwright("sweep", f"{name}.csv", "--json", "--draw", f"{name}.svg")
        assert (done.returncode, done.stderr) == (0, "")
        assert json.loads(done.stdout)["inputs"][0]["name"] == "caf??.csv"
        assert (tmp_path / f"{name}.svg").is_file()

    def test_a_report_about_a_bug_holds_it(self, name, failing, capsys, tmp_path):
        failing(BrokenPromise(f"{name} is wrong"))
        assert cli.run(["failing"]) == 4
        (report,) = (tmp_path / "state" / "bandwright").iterdir()
        assert "caf\\udce9\\udcff is wrong" in report.read_text(encoding="utf-8")
