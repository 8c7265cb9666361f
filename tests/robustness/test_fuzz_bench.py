"""Bench files with wrong types, numbers and brackets: a bench, or a refusal that names the key."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from flowunc import BenchError, load_bench

FUZZ = settings(
    derandomize=True,
    max_examples=200,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
VALUES = [
    "nan", "inf", "-inf", "1e400", "1e308", "1e-308", "5e-324", "9" * 400, "-1", "0", "-0.0",
    "true", "[]", "{}", '""', '"x"', '"' + "x" * 5000 + '"', '"5 %"', '"5 mm"', '"5 kg"', '"5"',
    '"1e308 km"', '"1e-320 nm"', '"nan mm"', '"5 m^9999"', "1979-05-27", "07:32:00", "[[[1]]]",
    "[1, 2]", "[2, 1]", "[nan, inf]", "[1, [2]]", "{ limits = 1 }", "{ limits = 1e308 }",
    "{ limits = -1 }", "{ limits = 0 }", "{ limits = true }", "{ standard = 1, dof = 0 }",
    "{ standard = 1, dof = inf }", "{ standard = 1, dof = nan }", "{ expanded = 1, k = 0 }",
    "{ expanded = 1e300, k = 1e-300 }", "{ expanded = 1, level = 1 }", "{ expanded = 1 }",
    "{ expanded = 1, level = 0.95, dof = 0.001 }", "{ repeated = [1] }", "{ repeated = [1, 1] }",
    '{ repeated = [1, "2"] }', "{ limits = 1, inexact = 2 }", "{ percent_of_reading = 1e308 }",
    "{ error_limit = 1, linearity_limit = 1e-308 }", "{ error_limit = 3, linearity_limit = 0 }",
    '{ iec_60751 = "A" }', '{ iec_60751 = "Z" }', '{ value = "1 mm" }', '{ limits = "1 km" }',
    '{ value = "1 mm", limits = 2 }', '{ value = "1e200 mm", limits = 2 }', "{ a.b.c = 1 }",
    '{ limits = 1, label = "\\u0000\\u202e" }', "{ limits = 1, shared = 1 }", "0x7f", "1_0",
]  # fmt: skip
CHARACTERS = [*'\0\r\n"[]{}=.,#\\', "[[" * 50, "a.b.c.d = 1\n", "é", "'''", '"""', "\ufeff"]
PLACE = re.compile(r'=[ ]*[^=\n]*$|"[^"\n]*"|\{[^}\n]*\}|\[[^\]\n]*\]', re.MULTILINE)


@st.composite
def damaged(draw, text):
    """Damage a bench file in one to three places."""
    for _ in range(draw(st.integers(1, 3))):
        kind = draw(st.integers(0, 5))
        lines = text.split("\n")
        row = draw(st.integers(0, len(lines) - 1))
        if kind <= 2:
            found = draw(st.sampled_from(list(PLACE.finditer(text)) or [re.match("", text)]))
            sign = "= " if found.group().startswith("=") else ""
            value = draw(st.sampled_from(VALUES))
            text = text[: found.start()] + sign + value + text[found.end() :]
        elif kind == 3:
            lines.insert(row, lines[draw(st.integers(0, len(lines) - 1))])
            text = "\n".join(lines)
        elif kind == 4:
            text = "\n".join(lines[:row] + lines[row + 1 :])
        else:
            here = draw(st.integers(0, len(text)))
            cut = draw(st.integers(0, 5))
            text = text[:here] + draw(st.sampled_from(CHARACTERS)) + text[here + cut :]
    return text


@FUZZ
@given(data=st.data())
def test_damaged_bench_is_read_or_refused_with_its_place(data, tmp_path, example, answer):
    text = data.draw(damaged((example / "bench.toml").read_text(encoding="utf-8")))
    path = tmp_path / "bench.toml"
    path.write_text(text, encoding="utf-8", newline="")
    made, error = answer(lambda: load_bench(path))
    if error is None:
        assert made.meters
        return
    assert isinstance(error, BenchError)
    assert error.file == str(path)
    assert error.key is not None or re.search(r"line \d+|end of document|nested", error.reason)
    assert str(error).isprintable()  # no character of the file moves the cursor of a terminal


@FUZZ
@given(noise=st.one_of(st.binary(max_size=200), st.text(max_size=200).map(str.encode)))
def test_noise_is_refused(noise, tmp_path, answer):
    path = tmp_path / "bench.toml"
    path.write_bytes(noise)
    _, error = answer(lambda: load_bench(path))
    assert isinstance(error, BenchError)
    assert error.file == str(path)


def told(bench):
    """What two benches that are the same say alike, to the last bit."""
    readings = [meter.read(sum(meter.scale.span) / 2) for meter in bench.meters.values()]
    return (
        list(bench.meters),
        [(q.value, q.u, q.unit) for q in (bench.bore, bench.tap_spacing, bench.gravity, *readings)],
        bench.thermometer.read(20.0).u,
    )


@settings(FUZZ, max_examples=30)
@given(order=st.permutations(range(8)), end=st.sampled_from(["\n", "\r\n"]), mark=st.booleans())
def test_the_same_bench_written_in_another_way_is_the_same(
    order, end, mark, tmp_path, example, answer
):
    text = (example / "bench.toml").read_text(encoding="utf-8")
    sections = re.split(r"^(?=\[)", text, flags=re.MULTILINE)
    assert len(sections) == 9
    # the meters keep their order: it is that of the budget
    places = [place for place in order if place not in (1, 2)]
    places[order[0] % 6 : order[0] % 6] = [1, 2]
    again = sections[0] + "".join(sections[place + 1] for place in places)
    path = tmp_path / "bench.toml"
    path.write_text(
        "\ufeff" * mark + again.rstrip() + "\n",
        encoding="utf-8",
        newline="" if end == "\n" else end,
    )
    made, error = answer(lambda: load_bench(path))
    assert error is None
    assert told(made) == told(load_bench(example / "bench.toml"))


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        # minutes, as the parser takes a time that grows with the square of the parts of a key
        (b"a." * 450_000 + b"a = 1", "line 1: more than 32 names joined by dots"),
        (b"\n[" + b"a . " * 200_000 + b"a]", "line 2: more than 32 names joined by dots"),
        (b'"\\"" . ' * 120_000 + b"a = 1", "line 1: more than 32 names joined by dots"),
        (b"x = { " + b"'a'." * 200_000 + b"a = 1 }", "line 1: more than 32 names joined by dots"),
        (b"x = " + b"[" * 900_000, "nested too deeply"),
        (b"x = " + b"{ x = " * 150_000, "nested too deeply"),
        (b"x = " + b"9" * 900_000, "not TOML"),
        (b"x = 0x" + b"f" * 900_000, "unknown key"),
        (b'x = "' + b"x" * 900_000 + b'"', "unknown key"),
        (b'"a\\' * 300_000, "not TOML"),
        (b"x" * 900_000, "not TOML"),
        (b"." * 900_000, "not TOML"),
        (b"#" * 900_000, "section is missing"),
        (b"#" * 2_000_000, "bytes"),
    ],
)  # fmt: skip
def test_files_without_end_are_refused_early(data, reason, tmp_path: Path, answer):
    path = tmp_path / "bench.toml"
    path.write_bytes(data)
    _, error = answer(lambda: load_bench(path))
    assert isinstance(error, BenchError)
    assert reason in error.reason


def test_dots_in_texts_and_remarks_are_no_keys(tmp_path, example):
    text = (example / "bench.toml").read_text(encoding="utf-8")
    text += '\n# 1. 2. 3. 4. 5. 6. 7. 8. 9. ... and so on\n# "a". b . c .d.\n'
    path = tmp_path / "bench.toml"
    path.write_text(text.replace("limits = 0.2 }", 'limits = 0.2, label = "No. 1.2.3.4" }'))
    assert load_bench(path).meters
