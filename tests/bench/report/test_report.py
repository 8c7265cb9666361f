"""Whole reports: the same numbers in three forms, what they say, what they do not tell."""

from __future__ import annotations

import hashlib
import math
import re
import sys
from collections.abc import Callable
from html import unescape
from importlib import metadata, resources
from pathlib import Path

import numpy as np
import pytest
import scipy

import flowunc
from flowunc import Bench, analyse, load_bench, read_sheet
from flowunc.bench.command import EXAMPLE
from flowunc.bench.report import provenance, write_report
from flowunc.bench.runs import Runs
from flowunc.core.errors import DimensionError, RangeError, ReportError

Reader = Callable[[str], list[list[list[str]]]]
Write = Callable[..., Path]

FEW = 2_000  # draws: what is tested here is not how many digits they give
ZERO = "zero,,,19.0,10,300.0,300.0,"
SAME_FLOW = [("5", "6")]


def written(runs: Runs, path: Path, **options: object) -> str:
    options = {"trials": FEW, "charts": False, **options}
    return write_report(runs, path, **options).read_text(encoding="utf-8")  # type: ignore[arg-type]


def plain(page: str) -> str:
    """Return the text of a page as a reader sees it."""
    return " ".join(unescape(re.sub(r"<(?!\d)[^>]*>", "", page.split("</style>")[1])).split())


def table_with(tables: list[list[list[str]]], *heads: str) -> list[list[str]]:
    (found,) = [rows for rows in tables if set(heads) <= set(rows[0])]
    return found


# -- the same content ------------------------------------------------------------------------------
def test_three_forms_have_the_same_cells(
    runs: Runs,
    tmp_path: Path,
    html_tables: Reader,
    markdown_tables: Reader,
    latex_tables: Reader,
) -> None:
    forms = {
        suffix: written(runs, tmp_path / f"r.{suffix}", same_flow=SAME_FLOW)
        for suffix in ("html", "md", "tex")
    }
    page = html_tables(forms["html"])
    assert len(page) > 12
    assert markdown_tables(forms["md"]) == page
    assert latex_tables(forms["tex"]) == [
        [[cell.replace("−", "-") for cell in row] for row in rows] for rows in page
    ]


@pytest.mark.slow
def test_the_same_seed_gives_the_same_bytes(tmp_path: Path) -> None:
    # from files to report twice, so that nothing is kept from the first time
    pages = []
    for name in ("one", "two"):
        bench = load_bench(EXAMPLE / "bench.toml")
        runs = analyse(read_sheet(EXAMPLE / "sheet.csv", bench), bench)
        path = write_report(runs, tmp_path / f"{name}.html", trials=FEW, seed=7)
        pages.append(path.read_bytes())
    assert pages[0] == pages[1]
    seven, eight = (written(runs, tmp_path / "other.md", seed=seed) for seed in (7, 8))
    assert seven.replace("| seed of the draws | 7 |", "| seed of the draws | 8 |") != eight


# -- what is in it ---------------------------------------------------------------------------------
def test_results_are_those_of_the_runs(runs: Runs, tmp_path: Path, html_tables: Reader) -> None:
    tables = html_tables(written(runs, tmp_path / "r.html", level=0.9, seed=3))
    rows = table_with(tables, "run", "Re", "f", "regime", "law")
    expected = runs.table(level=0.9, seed=3, trials=FEW)
    assert len(rows) == 1 + len(expected)
    for row, (_, line) in zip(rows[1:], expected.iterrows(), strict=True):
        for column, name in ((1, "Re"), (2, "f")):
            ends = [float(part) for part in re.findall(r"[\d.]+", row[column])]
            if "±" in row[column]:
                value, half = ends
                assert value == pytest.approx(line[name], abs=0.06 * half)
                # to two digits
                assert half == pytest.approx(line[f"U({name})"], rel=0.051)
            else:
                assert row[column].endswith("*")
                width = line[f"{name} high"] - line[f"{name} low"]
                assert ends == pytest.approx(
                    [line[f"{name} low"], line[f"{name} high"]], abs=0.05 * width
                )
        assert row[3].startswith(str(line["regime"]))
        assert row[6] == ("–" if math.isnan(line["E_n"]) else f"{line['E_n']:.2f}")


def test_readings_are_those_of_the_file(runs: Runs, tmp_path: Path, html_tables: Reader) -> None:
    rows = table_with(html_tables(written(runs, tmp_path / "r.html")), "line", "note")
    lines = (EXAMPLE / "sheet.csv").read_text(encoding="utf-8").splitlines()
    assert rows[0] == [
        "line", "run", "meter", "flow", "t in °C", "angle", "high in mm", "low in mm", "note",
    ]  # fmt: skip
    for row in rows[1:]:
        cells = lines[int(row[0]) - 1].split(",", 7)
        assert row[1] == cells[0]
        assert row[2] == (cells[1] or "–")
        numbers = [float(re.sub(r"[^\d.].*", "", row[place])) for place in (4, 5, 6, 7)]
        assert numbers == [float(cells[place]) for place in (3, 4, 5, 6)]
        if cells[2]:
            assert float(row[3].split(" ")[0]) == float(cells[2])
        assert row[8] == (cells[7].strip('"') or "–")
    assert len(rows) == len(lines)


def test_squares_of_the_contributions_add_up(
    runs: Runs, tmp_path: Path, html_tables: Reader
) -> None:
    # u^2 = sum of (c u)^2 [JCGM 100, eq. 10], read from the report alone
    page = written(runs, tmp_path / "r.html", run="9")
    rows = table_with(html_tables(page), "error", "sensitivity c", "share")
    assert "Run 9 in full" in plain(page)
    (u,) = re.findall(r"u\(f\) = ([\d.]+), effective", plain(page))
    parts = [float(row[6].split("×")[0]) for row in rows[1:] if "×" not in row[6]]
    assert math.sqrt(sum(part**2 for part in parts)) == pytest.approx(float(u), rel=0.01)
    for row in rows[1:6]:
        c, spread = (float(row[place].split(" ")[0].rstrip("°")) for place in (5, 3))
        assert abs(c) * spread == pytest.approx(float(row[6]), rel=0.01)


def test_shares_of_each_run_are_a_whole(runs: Runs, tmp_path: Path, html_tables: Reader) -> None:
    tables = html_tables(written(runs, tmp_path / "r.html"))
    found = [rows for rows in tables if rows[0][-1] == "all others"]
    assert [rows[0][1] for rows in found] == ["u(f)/f", "u(Re)/Re"]
    for rows in found:
        for row in rows[1:]:
            shares = [float(cell.strip("<% ")) for cell in row[2:]]
            assert sum(shares) == pytest.approx(100, abs=0.5 * len(shares))


def test_from_source_it_tells_the_version_too(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> str:
        raise metadata.PackageNotFoundError(name)

    monkeypatch.setattr(metadata, "version", missing)
    assert provenance._version() == f"{flowunc.__version__}, run from its source"


def test_short_and_long_section_count_what_limits_alike(runs: Runs, tmp_path: Path) -> None:
    page = plain(written(runs, tmp_path / "r.html"))
    short = re.search(r"most often is the ([\w ]+), all its errors together, in (\d+) of 10", page)
    assert short is not None
    name, count = short.groups()
    assert f"{name.capitalize()}: the first source in {count} of 10 runs" in page


def test_it_says_how_it_was_computed(runs: Runs, tmp_path: Path, html_tables: Reader) -> None:
    page = written(runs, tmp_path / "r.html", seed=11, level=0.9)
    rows = dict(table_with(html_tables(page), "what", "value")[1:])
    for name in ("sheet.csv", "bench.toml"):
        digest = hashlib.sha256((EXAMPLE / name).read_bytes()).hexdigest()
        assert digest in rows.values()
    assert rows["flowunc"].startswith(flowunc.__version__)
    assert rows["numpy"] == np.__version__
    assert rows["scipy"] == scipy.__version__
    assert rows["seed of the draws"] == "11"
    assert rows["draws"] == str(FEW)
    assert rows["coverage probability"] == "90 %"
    assert "do not give these results" not in page


def test_sources_are_those_that_are_cited_and_no_others(runs: Runs, tmp_path: Path) -> None:
    page = written(runs, tmp_path / "r.html")
    head, _, tail = page.partition('<section id="sources">')
    listed = [unescape(key) for key in re.findall(r"<b>\[(.*?)\]</b>", tail)]
    used = {unescape(key) for key in re.findall(r'<a href="#source-\d+">(.*?)</a>', head)}
    assert set(listed) == used
    assert {"JCGM 100", "JCGM 101", "IAPWS SR6-08", "ISO/IEC 17043", "Prandtl 1933"} <= used
    # nothing in brackets looks like a citation without leading to its entry
    left = re.findall(r"\[(?!<a)([A-Z][A-Za-z/]+[^\]]*\d\d[^\]]*)\]", unescape(head))
    assert left == []
    text = resources.files("flowunc").joinpath("SOURCES.md").read_text(encoding="utf-8")
    assert all(f"`[{key}]`" in text for key in listed)


def test_the_example_is_marked_as_invented(runs: Runs, tmp_path: Path) -> None:
    text = plain(written(runs, tmp_path / "r.html"))
    assert "This is the invented example that comes with flowunc." in text
    assert "follow local rules, ask qualified staff" in text


def test_a_copy_of_the_example_is_marked_too(tmp_path: Path) -> None:
    for name in ("bench.toml", "sheet.csv"):
        (tmp_path / f"my_{name}").write_bytes((EXAMPLE / name).read_bytes())
    bench = load_bench(tmp_path / "my_bench.toml")
    runs = analyse(read_sheet(tmp_path / "my_sheet.csv", bench), bench)
    assert "invented example" in written(runs, tmp_path / "r.md")


def test_the_users_own_runs_are_not_marked(
    bench: Bench, write_sheet: Write, tmp_path: Path
) -> None:
    path = write_sheet(ZERO, "1,small,2.0,19.0,10,309.5,295.5,", ZERO)
    runs = analyse(read_sheet(path, bench), bench)
    assert "invented" not in written(runs, tmp_path / "r.md")


def test_no_date_is_made_up(runs: Runs, tmp_path: Path) -> None:
    text = plain(written(runs, tmp_path / "r.html"))
    assert "no date is given" in text
    assert not re.search(r"\b20[12]\d-\d\d-\d\d\b", text)


@pytest.mark.parametrize("suffix", ["html", "md", "tex"])
def test_no_folder_of_the_machine_is_told(
    bench: Bench, write_sheet: Write, tmp_path: Path, suffix: str
) -> None:
    # a run that no fit can use: what an error says of it names the sheet with its path
    path = write_sheet(ZERO, "1,small,2.0,19.0,10,309.5,295.5,", ZERO)
    runs = analyse(read_sheet(path, bench), bench)
    text = written(runs, tmp_path / f"r.{suffix}")
    assert "sheet.csv" in text
    for folder in (tmp_path, Path(bench.file).parent, Path.home(), Path(sys.prefix)):
        assert str(folder) not in text
        assert folder.name not in text or folder.name in ("data", "root", "venv", "")


# -- where there is little to say ------------------------------------------------------------------
@pytest.mark.parametrize(
    ("rows", "sentences"),
    [
        (
            ["1,small,2.0,19.0,10,309.5,295.5,"],  # laminar alone
            [
                "No run is turbulent, so the roughness is not fitted",
                "One run alone shows no pattern",
            ],
        ),
        (
            ["1,small,3.0,19.0,10,321.5,283.5,"],  # between the regimes
            [
                "No run has a law that it could be held against",
                "No run is laminar, so the constant C of f = C/Re is not fitted",
            ],
        ),
        (
            ["1,large,0.10,19.0,10,378.0,220.0,", "2,large,0.12,19.0,10,412.0,190.0,"],
            ["2 of the runs are turbulent; a power law with a test of its fit needs 3"],
        ),
    ],
)
def test_what_is_missing_is_said_in_a_sentence(
    bench: Bench, write_sheet: Write, tmp_path: Path, rows: list[str], sentences: list[str]
) -> None:
    path = write_sheet(ZERO, *rows, ZERO)
    text = plain(written(analyse(read_sheet(path, bench), bench), tmp_path / "r.html"))
    for sentence in sentences:
        assert sentence in text
    assert "No run was read repeatedly" in text


def test_a_disagreement_is_explained(bench: Bench, write_sheet: Write, tmp_path: Path) -> None:
    # laminar flow with three times the head that 64/Re asks for
    path = write_sheet(ZERO, "7,small,1.8,19.0,10,321.0,281.0,", ZERO)
    text = plain(written(analyse(read_sheet(path, bench), bench), tmp_path / "r.html"))
    assert "0 of 1 agree" in text
    assert "Which single error could explain the disagreement?" in text


def test_a_file_that_changed_is_noticed(
    write_bench: Write, write_sheet: Write, tmp_path: Path
) -> None:
    row = "1,small,2.0,19.0,10,309.5,295.5,"
    bench_file, sheet_file = write_bench(), write_sheet(ZERO, row, ZERO)
    bench = load_bench(bench_file)
    runs = analyse(read_sheet(sheet_file, bench), bench)
    told = "The two files as they are now do not give these results"
    assert told not in written(runs, tmp_path / "r.md")
    write_sheet(ZERO, row.replace("309.5", "309.0"), ZERO)
    assert told in written(runs, tmp_path / "r.md")
    write_sheet(ZERO, row, ZERO)
    write_bench(('"19.2 mm", limits = 0.06', '"19.2 mm", limits = 0.05'))
    assert told in written(runs, tmp_path / "r.md")
    bench_file.unlink()
    assert "no such file at hand any more" in written(runs, tmp_path / "r.md")


def test_labels_and_notes_are_shown_as_they_stand(
    bench: Bench,
    write_sheet: Write,
    tmp_path: Path,
    hostile: tuple[str, ...],
    html_tables: Reader,
    markdown_tables: Reader,
    latex_tables: Reader,
) -> None:
    quoted = [f'"{text.replace(chr(34), 2 * chr(34))}"' for text in hostile]
    rows = [f"{text},small,2.0,19.0,10,309.5,295.5,{text}" for text in quoted]
    path = write_sheet(ZERO, *rows, ZERO)
    runs = analyse(read_sheet(path, bench), bench)
    for suffix, read in (("html", html_tables), ("md", markdown_tables), ("tex", latex_tables)):
        text = written(runs, tmp_path / f"r.{suffix}", title=hostile[0])
        minus = "-" if suffix == "tex" else "−"
        expected = [label.replace("−", minus) for label in runs.labels]
        shown = table_with(read(text), "line", "note")
        assert [row[1] for row in shown[2:-1]] == expected
        assert [row[8] for row in shown[2:-1]] == expected
        if suffix != "tex":
            assert "<script" not in text.split("</style>")[-1]


@pytest.mark.filterwarnings("ignore::flowunc.FlowuncWarning")  # two and three repeats
@pytest.mark.parametrize(
    ("name", "columns", "sentences"),
    [
        ("transmitter", ["reading in kPa"], ["Reynolds number Re of oil", "Δp = p − z"]),
        (
            "u_tube",
            ["high in mm", "low in mm"],
            ["of seawater", "Δp = (hhigh − hlow − z) (ρF − ρ) g", "[UNESCO 44]"],
        ),
    ],
)
def test_other_manometers_and_liquids_have_their_own_formulas(
    tmp_path: Path,
    html_tables: Reader,
    name: str,
    columns: list[str],
    sentences: list[str],
) -> None:
    data = Path(__file__).parents[1] / "data"
    bench = load_bench(data / f"{name}.toml")
    page = written(analyse(read_sheet(data / f"{name}.csv", bench), bench), tmp_path / "r.html")
    head = table_with(html_tables(page), "line", "note")[0]
    assert head == ["line", "run", "meter", "flow", "t in °C", *columns, "note"]
    for sentence in sentences:
        assert sentence in plain(page)
    assert "tap water" not in page
    assert "incline" not in page


# -- charts ----------------------------------------------------------------------------------------
def test_charts_lie_in_the_page_or_beside_the_text(runs: Runs, tmp_path: Path) -> None:
    page = written(runs, tmp_path / "r.html", charts=True)
    assert page.count('src="data:image/png;base64,') == 5
    assert sorted(path.name for path in tmp_path.iterdir()) == ["r.html"]
    text = written(runs, tmp_path / "s.md", charts=True)
    links = re.findall(r"\]\((s_files/.*?)\)", text)
    assert len(links) == 5
    for link in links:
        assert (tmp_path / link).read_bytes().startswith(b"\x89PNG")
    source = written(runs, tmp_path / "s.tex", charts=True)
    names = re.findall(r"\{\\charts (.*?)\}", source)
    assert sorted(names) == sorted(path.name for path in (tmp_path / "s_files").iterdir())


def test_without_matplotlib_the_report_says_so(
    runs: Runs, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in [name for name in sys.modules if name.partition(".")[0] == "matplotlib"]:
        monkeypatch.setitem(sys.modules, name, None)
    page = written(runs, tmp_path / "r.html", charts=True)
    assert 'No charts: they need the extra plot, pip install "flowunc[plot]".' in plain(page)
    assert "<img" not in page


@pytest.mark.slow
def test_a_dark_style_of_the_session_does_not_reach_the_charts(runs: Runs, tmp_path: Path) -> None:
    from matplotlib import style

    light = written(runs, tmp_path / "r.html", charts=True)
    with style.context("dark_background"):
        assert written(runs, tmp_path / "r.html", charts=True) == light


# -- wrong use -------------------------------------------------------------------------------------
def test_wrong_arguments_are_refused_before_anything_is_written(runs: Runs, tmp_path: Path) -> None:
    cases: list[tuple[type[Exception], str, str, dict[str, object]]] = [
        (RangeError, "r.pdf", r"ends in '.pdf'; expected .html, .md or .tex", {}),
        (RangeError, "r", r"ends in ''; expected .html, .md or .tex", {}),
        (ReportError, "none/r.md", r"the folder .*none does not exist", {}),
        (RangeError, "r.md", "no run '77'", {"run": 77}),
        (RangeError, "r.md", "no run '77'", {"same_flow": [("5", "77")]}),
        (RangeError, "r.md", "expected two or more different runs", {"same_flow": [("5",)]}),
        (RangeError, "r.md", "expected groups of labels", {"same_flow": ("5", "6")}),
        (RangeError, "r.md", r"title=''\): expected a text", {"title": ""}),
    ]
    for kind, name, message, options in cases:
        with pytest.raises(kind, match=message):
            written(runs, tmp_path / name, **options)
    with pytest.raises(DimensionError, match="got str; expected the runs"):
        write_report("runs", tmp_path / "r.md")  # type: ignore[arg-type]
    assert list(tmp_path.iterdir()) == []


def test_a_suffix_in_capitals_and_a_link_are_followed(runs: Runs, tmp_path: Path) -> None:
    (tmp_path / "deep").mkdir()
    (tmp_path / "r.HTML").symlink_to(tmp_path / "deep" / "real.html")
    assert write_report(runs, tmp_path / "r.HTML", trials=FEW, charts=False) == tmp_path / "r.HTML"
    assert (tmp_path / "r.HTML").is_symlink()
    assert (tmp_path / "deep" / "real.html").read_text(encoding="utf-8").startswith("<!DOCTYPE")
