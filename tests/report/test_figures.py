"""The figures: written, whole, inside their canvas, and the same bytes each time."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from matplotlib import image
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from surgesim.report import figures
from surgesim.report.figures.alternatives import _FILLS
from surgesim.report.figures.style import LINES
from surgesim.report.view import View

Findings = dict[str, Any]


def traces(case: Findings, stop: float, points: int) -> figures.Traces:
    time = np.linspace(0.0, stop, points)
    voltages = {}
    for record in case["terminals"]:
        sign = -1.0 if record["pair"].startswith("minus") else 1.0
        insulation = record["insulation"] or {"fired": False}
        peak = insulation["level_v"] if insulation["fired"] else abs(record["peak_v"])
        curve = sign * peak * (1.0 - np.exp(-time / 0.2e-6)) * np.exp(-time / 300e-6)
        if insulation["fired"]:
            curve = np.where(time > insulation["fired_at_s"], sign * 250.0, curve)
        voltages[record["equipment"], record["pair"]] = curve
    return figures.Traces(time=time, voltages=voltages)


def voltages_of(findings: Findings, case_id: str) -> Figure:
    case = next(case for case in findings["cases"] if case["id"] == case_id)
    return figures.terminal_voltages(
        case,
        traces(case, 12e-6, 600),
        tail=traces(case, 2.5e-3, 900),
        footer=findings["cautions"][0],
    )


def curve() -> Figure:
    current = np.geomspace(1e-5, 5e4, 200)
    voltage = 1600.0 * (current / 1e-3) ** (1.0 / 30.0)
    return figures.varistor_curve(
        current, voltage, name="pv 1000 class II", level=4000.0, nominal_current=2e4,
        continuous=1000.0, footer="generic",
    )  # fmt: skip


def shape() -> Figure:
    time = np.linspace(0.0, 1e-3, 20001)
    value = np.minimum(time / 10e-6, 1.0) * np.exp(-np.maximum(time - 10e-6, 0.0) / 490e-6)
    return figures.surge_shape(
        time, -5e3 * value, name="share", unit="A", front=10e-6, tail=345e-6, footer="generic"
    )


def odd(kit: SimpleNamespace) -> Findings:
    """A dairy with texts that are hard to place."""
    findings: Findings = kit.build_dairy()
    findings["scenario"]["title"] = "Barn for $5 and $6_{x}, " + "very long name " * 9 + "W" * 99
    findings["cautions"] = ["A computed margin, " + "and a long caution " * 25]
    for record in findings["cases"][1]["terminals"]:
        record["equipment"] += " " + "x" * 40
    return findings


def drawn(name: str, kit: SimpleNamespace) -> Figure:
    draw: dict[str, Callable[[], Figure]] = {
        "dairy": lambda: figures.alternatives(kit.build_dairy()),
        "many": lambda: figures.alternatives(kit.build_many(40)),
        "two": lambda: figures.alternatives(kit.build_many(2)),
        "odd": lambda: figures.alternatives(odd(kit)),
        "terminal": lambda: at_first_terminal(kit.build_dairy()),
        "fired": lambda: voltages_of(kit.build_dairy(), "c0002"),
        "sound": lambda: voltages_of(kit.build_dairy(), "c0043"),
        "odd names": lambda: voltages_of(odd(kit), "c0002"),
        "curve": curve,
        "shape": shape,
    }
    return draw[name]()


def at_first_terminal(findings: Findings) -> Figure:
    return figures.alternatives(findings, terminal=View(findings).terminals[0])


NAMES = ["dairy", "many", "two", "odd", "terminal", "fired", "sound", "odd names", "curve", "shape"]


@pytest.mark.parametrize("name", NAMES)
def test_every_label_is_inside_the_canvas(kit: SimpleNamespace, name: str) -> None:
    figure = drawn(name, kit)
    figure.canvas.draw()
    box = figure.get_tightbbox()
    width, height = figure.get_size_inches()
    assert box.x0 >= 0.0
    assert box.y0 >= 0.0
    assert box.x1 <= width
    assert box.y1 <= height


@pytest.mark.parametrize("name", ["dairy", "fired", "curve", "shape"])
@pytest.mark.parametrize("suffix", [".png", ".svg"])
def test_written_whole_and_the_same_each_time(
    kit: SimpleNamespace, tmp_path: Path, name: str, suffix: str
) -> None:
    paths = [tmp_path / f"{turn}{suffix}" for turn in ("one", "two")]
    for path in paths:
        figures.save(drawn(name, kit), path)
    first, second = (path.read_bytes() for path in paths)
    assert first == second
    assert sorted(tmp_path.iterdir()) == sorted(paths)
    if suffix == ".png":
        assert len(np.unique(image.imread(paths[0]).reshape(-1, 4), axis=0)) > 10
        assert b"Software" not in first
    else:
        assert b"<svg" in first
        assert b"dc:date" not in first


def test_an_unknown_kind_of_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="expected a path ending in"):
        figures.save(curve(), tmp_path / "figure.bmp")
    assert not list(tmp_path.iterdir())


def bars(figure: Figure) -> list[Rectangle]:
    return [patch for patch in figure.axes[0].patches if isinstance(patch, Rectangle)]


def texts(figure: Figure) -> str:
    return "\n".join(text.get_text() for text in figure.findobj(Text))


def test_a_bar_is_the_peak_in_percent_of_the_limit(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    figure = figures.alternatives(findings)
    worst = findings["summary"][0]["worst"]
    assert [bar.get_width() for bar in bars(figure)] == [
        pytest.approx(100.0 * worst["peak_v"] / worst["withstand_v"])
    ]
    assert "holds: inverter DC input, plus to minus" in texts(figure)
    assert "833 V, margin 32 %" in texts(figure)


def test_each_bar_carries_the_margin_asked_of_its_own_terminal(dairy: Findings) -> None:
    dairy["summary"] = [dairy["summary"][0], dairy["summary"][-1]]
    figure = figures.alternatives(dairy)
    marks = [
        line for line in figure.axes[0].lines if isinstance(line.get_xdata(), list | np.ndarray)
    ]
    places = [
        float(np.asarray(mark.get_xdata())[0])
        for mark in marks
        if len(np.asarray(mark.get_xdata())) == 2
    ]
    # 25 % to the withstand of the first alternative's terminal is 80 % of it; the second one's
    # terminal has a highest voltage, of which no margin is asked. 100 is the limit itself.
    assert sorted(places) == [pytest.approx(80.0), 100.0]
    assert "margin asked" in texts(figure)


def test_fired_insulation_is_hatched_to_its_level(dairy: Findings) -> None:
    dairy["summary"] = dairy["summary"][:1]
    figure = figures.alternatives(dairy)
    (bar,) = bars(figure)
    assert bar.get_width() == pytest.approx(200.0)  # 12 kV over 6 kV
    assert bar.get_hatch() == "////"
    assert "insulation exceeded" in [text.get_text() for text in figure.axes[0].texts]


def test_a_void_bar_is_hatched_otherwise(dairy: Findings) -> None:
    dairy["summary"] = dairy["summary"][10:11]
    (bar,) = bars(figures.alternatives(dairy))
    assert bar.get_hatch() == "xxx"


def test_a_bar_off_the_axis_ends_in_an_arrowhead(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    findings["summary"][0]["worst"]["peak_v"] = 166e3
    findings["summary"][0]["worst"]["verdict"] = "exceeded"
    figure = figures.alternatives(findings)
    assert [line.get_marker() for line in figure.axes[0].lines].count(">") == 1
    assert "166 kV" in texts(figure)


def test_swapped_numbers_swap_the_bars(dairy: Findings, kit: SimpleNamespace) -> None:
    dairy["summary"] = [dairy["summary"][0], dairy["summary"][-1]]
    widths = [bar.get_width() for bar in bars(figures.alternatives(dairy))]
    swapped = [bar.get_width() for bar in bars(figures.alternatives(kit.swap(dairy, 0, 1)))]
    assert widths[0] != widths[1]
    assert swapped == widths[::-1]


def test_verdicts_differ_without_colour() -> None:
    def grey(colour: str) -> float:
        if colour == "white":
            return 1.0
        red, green, blue = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
        return 0.299 * red + 0.587 * green + 0.114 * blue

    looks = [(fill.get("hatch", ""), round(grey(fill["facecolor"]), 1)) for fill in _FILLS.values()]
    assert len(set(looks)) == len(looks)
    assert len({str(line["linestyle"]) for line in LINES}) == len(LINES)


def test_an_alternative_without_a_result_has_no_bar(dairy: Findings) -> None:
    dairy["summary"] = dairy["summary"][:2]
    dairy["summary"][0].update(verdict=None, worst=None, terminals=[])
    dairy["summary"][1].update(verdict="not assessed", failed_cases=2)
    figure = figures.alternatives(dairy)
    assert not bars(figure)
    assert "not assessed\n2 of its cases gave no result." in texts(figure)


def test_each_terminal_has_a_row_and_its_withstand_line(dairy: Findings) -> None:
    figure = voltages_of(dairy, "c0043")
    front = figure.axes[0::2]
    assert [ax.get_title(loc="left") for ax in front] == [
        "inverter DC input, pole to pe: holds",
        "inverter DC input, plus to minus: holds",
        "modules, pole to frame: holds",
    ]
    for ax, limit in zip(front, (6.0, 1.1, 8.0), strict=True):
        level = {
            float(np.asarray(line.get_ydata())[0])
            for line in ax.lines
            if len(np.asarray(line.get_xdata())) == 2
        }
        assert limit in level
        assert ax.get_ylim()[1] > limit
        assert ax.get_ylabel() == "kV"
    assert figure.get_suptitle() == "Case c0043: frame struck, steep share"
    assert figure.axes[0].get_xlabel() == "time, front (us)"
    assert figure.axes[1].get_xlabel() == "time, tail (ms)"


def test_firing_is_marked_and_named(dairy: Findings) -> None:
    figure = voltages_of(dairy, "c0002")
    marks = [line for line in figure.axes[0].lines if line.get_marker() == "x"]
    assert [float(np.asarray(mark.get_ydata())[0]) for mark in marks] == [12.0, -12.0]
    assert all(float(np.asarray(mark.get_xdata())[0]) == pytest.approx(0.61) for mark in marks)
    legend = texts(figure)
    assert "insulation fires\nat 12 kV" in legend
    assert "flashover of\nmodules,\n0.61 us" in legend


def test_of_many_flashovers_elsewhere_the_first_is_named(dairy: Findings) -> None:
    case = next(case for case in dairy["cases"] if case["id"] == "c0002")
    fired = next(each for each in case["terminals"] if each["equipment"] == "modules")
    earlier = {**fired["insulation"], "fired_at_s": 0.4e-6}
    case["terminals"].append({**fired, "equipment": "meter", "insulation": earlier})
    figure = figures.terminal_voltages(case, traces(case, 12e-6, 600))
    assert "flashover of\nmeter,\n0.40 us; 1 more later" in texts(figure)


def test_nothing_is_drawn_above_a_fired_insulation_level(dairy: Findings) -> None:
    case = next(case for case in dairy["cases"] if case["id"] == "c0002")
    case["terminals"][0]["insulation"]["fired_v"] = 30e3
    front = traces(case, 12e-6, 600)
    front.voltages["inverter DC input", "plus to pe"][300:320] = 30e3
    figure = figures.terminal_voltages(case, front)
    ax = figure.axes[0]
    heights = np.concatenate([np.asarray(np.asarray(line.get_ydata()), float) for line in ax.lines])
    assert np.nanmax(heights) <= 12.0
    assert ax.get_ylim()[1] < 15.0


def test_the_legend_covers_no_data(dairy: Findings) -> None:
    for figure in (voltages_of(dairy, "c0002"), figures.alternatives(dairy)):
        figure.canvas.draw()
        for ax in figure.axes:
            legend = ax.get_legend()
            if legend is not None:
                assert not ax.bbox.overlaps(legend.get_window_extent())


def test_the_front_alone_is_enough(dairy: Findings) -> None:
    case = dairy["cases"][0]
    figure = figures.terminal_voltages(case, traces(case, 12e-6, 100))
    assert len(figure.axes) == 3


def test_the_caution_stands_under_the_figure(dairy: Findings) -> None:
    for figure in (voltages_of(dairy, "c0043"), figures.alternatives(dairy)):
        assert "not a design approval" in texts(figure)


def test_t1_and_t2_are_drawn_where_they_are() -> None:
    # A straight front of 10 us: the line through 10 and 90 % starts at zero, so T1 spans 0 to
    # 10 us (IEC 62475 definition), by construction.
    figure = shape()
    chord = next(line for line in figure.axes[0].lines if line.get_linestyle() == "--")
    assert np.asarray(chord.get_xdata()) == pytest.approx([0.0, 10.0], abs=0.01)
    assert np.asarray(chord.get_ydata()) == pytest.approx([0.0, 5.0])
    half = next(line for line in figure.axes[1].lines if line.get_marker() == "o")
    assert np.asarray(half.get_xdata()) == pytest.approx([345.0], abs=0.1)
    assert np.asarray(half.get_ydata()) == pytest.approx([2.5])
    assert "T1 10 us" in texts(figure)
    assert "T2 345 us" in texts(figure)


def test_a_shape_without_a_tail_has_no_t2() -> None:
    time = np.linspace(0.0, 5e-6, 500)
    figure = figures.surge_shape(
        time, np.minimum(time / 1e-6, 1.0), name="ramp", unit="V", front=1e-6, tail=None
    )
    assert "T2" not in texts(figure)
    assert figure.axes[0].get_ylabel() == "voltage (V)"


def test_the_curve_marks_up_at_in() -> None:
    figure = curve()
    ax = figure.axes[0]
    assert ax.get_xscale() == "log"
    mark = next(line for line in ax.lines if line.get_marker() == "o")
    assert (float(np.asarray(mark.get_xdata())[0]), float(np.asarray(mark.get_ydata())[0])) == (
        2e4,
        4.0,
    )
    assert "Up 4.0 kV at In 20 kA" in texts(figure)
    figure.canvas.draw()
    assert "1 A" in [label.get_text() for label in ax.get_xticklabels()]


def test_pyplot_is_not_touched() -> None:
    code = (
        "import sys; import surgesim.report.figures; assert 'matplotlib.pyplot' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
