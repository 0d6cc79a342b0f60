"""Text as it comes out: narrow and plain in a pipe, whatever the locale, whoever stops reading."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from click.testing import Result

Invoke = Callable[..., Result]
Spawn = Callable[..., "subprocess.CompletedProcess[str]"]

ESCAPE = "\x1b"
SURGESIM = [sys.executable, "-m", "surgesim"]


@pytest.mark.parametrize("words", [["compare"], ["run"], ["show", "--list"]])
def test_a_pipe_gets_80_columns_without_escape_codes(
    words: list[str], shed: Path, spawn: Spawn
) -> None:
    name, *options = words
    answer = spawn(name, shed, *options, env={"COLUMNS": "200", "FORCE_COLOR": "1"})
    assert answer.stdout
    assert max(map(len, answer.stdout.splitlines())) <= 80
    assert ESCAPE not in answer.stdout + answer.stderr


def test_models_fit_80_columns(invoke: Invoke) -> None:
    for words in (["list"], ["show", "pv 1000 class II"], ["show", "10/350"], ["show", "5x16 mm2"]):
        answer = invoke("models", *words)
        assert answer.exit_code == 0
        assert max(map(len, answer.stdout.splitlines())) <= 80


def on_a_terminal(words: list[str], env: Mapping[str, str]) -> str:
    """What a command prints on a terminal of its own, 80 columns wide."""
    import fcntl
    import pty
    import struct
    import termios

    leader, follower = pty.openpty()
    fcntl.ioctl(follower, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    environment = {**os.environ, "TERM": "xterm", **env}
    process = subprocess.Popen(
        [*SURGESIM, *words], stdout=follower, stderr=subprocess.DEVNULL, env=environment
    )
    os.close(follower)
    parts: list[bytes] = []
    try:
        while part := os.read(leader, 65536):
            parts.append(part)
    except OSError:
        pass  # how a terminal says that nobody writes to it any more
    finally:
        os.close(leader)
    assert process.wait(60) == 0
    return b"".join(parts).decode("utf-8")


def test_a_terminal_gets_colour_unless_no_color_is_set(shed: Path) -> None:
    words = ["compare", str(shed)]
    assert ESCAPE in on_a_terminal(words, {"NO_COLOR": ""})
    assert ESCAPE not in on_a_terminal(words, {"NO_COLOR": "1"})


def test_a_locale_without_umlauts(shed: Path, tmp_path: Path) -> None:
    """LC_ALL=C and no help from Python: what cannot be printed becomes ?, nothing breaks."""
    file = tmp_path / "shed.yaml"
    text = shed.read_text(encoding="utf-8").replace("Tool shed", "Gerätehütte 2 Ω")
    file.write_text(text, encoding="utf-8")
    environment = {**os.environ, "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    for words in (["compare"], ["show", "--case", "c0001"], ["deck", "--case", "c0001"]):
        answer = subprocess.run(
            [*SURGESIM, words[0], str(file), *words[1:]],
            capture_output=True,
            check=False,
            env=environment,
        )
        assert answer.returncode == 0, answer.stderr
        assert b"Traceback" not in answer.stderr


@pytest.mark.parametrize(
    "words", [["show", "--case", "c0001"], ["show", "--case", "c0001", "--json"], ["run", "--json"]]
)
def test_data_is_utf_8_whatever_the_locale(words: list[str], shed: Path, tmp_path: Path) -> None:
    """What is printed can be read again; JSON is UTF-8 and nothing else (RFC 8259, 8.1)."""
    file = tmp_path / "shed.yaml"
    file.write_text(shed.read_text(encoding="utf-8").replace("Tool shed", "Hütte 2 Ω"), "utf-8")
    answer = subprocess.run(
        [*SURGESIM, words[0], str(file), *words[1:]], capture_output=True, check=False,
        env={**os.environ, "PYTHONIOENCODING": "latin-1"},
    )  # fmt: skip
    assert "Hütte 2 Ω" in answer.stdout.decode("utf-8")


def test_text_in_a_locale_that_lacks_a_letter(shed: Path, tmp_path: Path) -> None:
    file = tmp_path / "shed.yaml"
    text = shed.read_text(encoding="utf-8").replace("fitted: {none", "Größe Ω: {none")
    file.write_text(text, encoding="utf-8")
    answer = subprocess.run(
        [*SURGESIM, "show", str(file), "--list"], capture_output=True, check=False,
        env={**os.environ, "PYTHONIOENCODING": "latin-1"},
    )  # fmt: skip
    assert answer.stdout.decode("latin-1").startswith("c0001  Größe ? none; induced\n")
    assert answer.returncode == 0


@pytest.mark.parametrize(
    "words", [["compare", "--quiet"], ["show", "--case", "c0001"], ["deck", "--case", "c0001"]]
)
def test_a_reader_that_stops_reading(words: list[str], shed: Path) -> None:
    """As with `| head -1`: quiet, and the exit code is still the answer."""
    name, *options = words
    process = subprocess.Popen(
        [*SURGESIM, name, str(shed), *options], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    with process.stderr as errors:
        assert errors.read() == b""
    assert process.wait(60) == 0


def test_a_closed_pipe_does_not_change_the_verdict(shed: Path) -> None:
    words = ["compare", str(shed), "--quiet", "--choose", "fitted=none"]
    process = subprocess.Popen([*SURGESIM, *words], stdout=subprocess.PIPE)
    assert process.stdout is not None
    process.stdout.close()
    assert process.wait(60) == 1


def test_the_console_script_works_from_another_folder(shed: Path, tmp_path: Path) -> None:
    script = Path(sys.executable).with_name("surgesim")
    answer = subprocess.run(
        [script, "compare", shed, "--quiet"], cwd=tmp_path, capture_output=True, check=False
    )
    assert answer.returncode == 0
    assert answer.stdout.startswith(b"Tool shed\n")
    assert list(tmp_path.iterdir()) == []


def test_python_dash_m_is_the_same(shed: Path, spawn: Spawn) -> None:
    script = Path(sys.executable).with_name("surgesim")
    words = ["show", str(shed), "--list"]
    answer = subprocess.run([script, *words], capture_output=True, text=True, check=True)
    assert spawn(*words).stdout == answer.stdout
