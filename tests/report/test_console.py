"""Piped, on a terminal, without colour, and in an encoding that lacks characters."""

import io
import re
from typing import Any

import pytest

from surgesim.report import comparison, console, tables

Findings = dict[str, Any]


class Terminal(io.StringIO):
    """A stream that claims to be a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture(autouse=True)
def plain_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("NO_COLOR", "FORCE_COLOR", "COLUMNS", "LINES", "COLORTERM", "TTY_COMPATIBLE"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")


def test_a_pipe_gets_eighty_plain_columns(dairy: Findings, kit: Any) -> None:
    stream = io.StringIO()
    console.console(stream).print(comparison.render(dairy))
    kit.assert_fits(stream.getvalue())
    assert max(len(line) for line in stream.getvalue().splitlines()) == 80


def test_a_terminal_gets_colour(dairy: Findings) -> None:
    stream = Terminal()
    console.console(stream, width=80).print(comparison.render(dairy))
    assert "\x1b[" in stream.getvalue()


def test_no_color_means_no_escape_code_at_all(
    dairy: Findings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    stream = Terminal()
    out = console.console(stream, width=80)
    out.print(comparison.render(dairy))
    out.print(tables.render(dairy))
    assert "\x1b" not in stream.getvalue()


def test_colour_adds_nothing_that_words_do_not_say(dairy: Findings) -> None:
    stream = Terminal()
    console.console(stream, width=80).print(comparison.render(dairy))
    without = re.sub(r"\x1b\[[0-9;]*m", "", stream.getvalue())
    assert [line.rstrip() for line in without.splitlines()] == (
        console.text(comparison.render(dairy)).splitlines()
    )


def test_a_wide_window_does_not_stretch_the_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "240")
    assert console.console(Terminal()).width == console.WIDEST


def test_what_an_encoding_lacks_is_replaced(dairy: Findings) -> None:
    dairy["scenario"]["title"] = "Hof Brüning – Süd"
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="ascii")
    console.console(stream).print(comparison.render(dairy))
    stream.flush()
    assert raw.getvalue().decode("ascii").startswith("Hof Br?ning ? S?d\n")
    stream.close()


def test_our_own_words_are_ascii(dairy: Findings) -> None:
    page = console.text(comparison.render(dairy)) + console.text(tables.render(dairy))
    assert page.isascii()
    assert console.text(comparison.render(dairy), encoding="ascii") == (
        console.text(comparison.render(dairy))
    )


def test_a_narrow_page_still_fits(dairy: Findings, kit: Any) -> None:
    text = console.text(comparison.render(dairy), width=60)
    kit.assert_fits(text, 60)
    # The same words in the same number, in whatever order the columns put them.
    for word in ("exceeded", "void", "holds"):
        wide = console.text(comparison.render(dairy))
        assert len(re.findall(rf"\b{word}\b", text)) == len(re.findall(rf"\b{word}\b", wide))
