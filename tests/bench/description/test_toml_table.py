from __future__ import annotations

from pathlib import Path

import pytest

from flowunc import BenchError, Length, load_bench
from flowunc.bench.description.toml_table import TomlTable, described, read_toml


def test_keys_are_dotted_and_quoted_where_toml_needs_it() -> None:
    root = TomlTable({"meters": {"my meter": {"unit": 3}}}, "b.toml")
    table = root.table("meters", "...").table("my meter", "...")
    assert table.key("unit") == 'meters."my meter".unit'


@pytest.mark.parametrize("name", ["a\x1b[2J", "\u202eb", "\ud800", "x" * 5_000])
def test_names_in_messages_are_short_and_move_no_cursor(name: str) -> None:
    # the file of a stranger could write on the terminal, and fill it
    table = TomlTable({name: 1}, "b.toml", "pipe")
    for complain in (
        lambda: table.allow_only(("bore",)),
        lambda: TomlTable({"pipe": {name: 1}}, "b.toml").text("pipe", "a word"),
    ):
        with pytest.raises(BenchError) as caught:
            complain()
        assert str(caught.value).isprintable()
        assert len(str(caught.value)) < 150
        assert repr(name)[1:-1][:20] in str(caught.value)


def test_text_that_cannot_be_printed_is_refused() -> None:
    table = TomlTable({"label": "float\u00a0of\tthe\nmeter", "unit": "m\x1b[2Jm"}, "b.toml")
    assert table.text("label", "a name") == "float of the meter"
    with pytest.raises(BenchError, match=r"got the text 'm\\x1b\[2Jm', with characters that can"):
        table.text("unit", 'unit = "mm"')


def test_unknown_key_names_the_nearest() -> None:
    table = TomlTable({"boree": 1}, "b.toml", "pipe")
    with pytest.raises(BenchError) as caught:
        table.allow_only(("bore", "tap_spacing"))
    assert caught.value.key == "pipe.boree"
    assert str(caught.value) == (
        "b.toml, key 'pipe.boree': unknown key; did you mean 'bore'? expected bore and tap_spacing"
    )


def test_unknown_section_is_called_one() -> None:
    with pytest.raises(BenchError, match="key 'tube': unknown section; expected pipe and meters"):
        TomlTable({"tube": {}}, "b.toml").allow_only(("pipe", "meters"))


@pytest.mark.parametrize(
    ("value", "found"),
    [
        ("x", "got the text 'x'"),
        (True, "got true"),
        ([1, 2], "got a list of 2"),
        ({"a": 1, "b": 2}, "got a table with a and b"),
        (10**400, "got a number of very many digits"),
    ],
)
def test_number_refuses_what_is_none(value: object, found: str) -> None:
    table = TomlTable({"division": value}, "b.toml", "manometer")
    with pytest.raises(BenchError) as caught:
        table.number("division", "division = 1")
    assert caught.value.reason.startswith(f"{found}; expected a ")
    assert caught.value.reason.endswith("number: division = 1")


@pytest.mark.parametrize("text", ["nan", "inf", "-inf"])
def test_number_refuses_what_toml_allows_but_nobody_measures(tmp_path: Path, text: str) -> None:
    path = tmp_path / "b.toml"
    path.write_text(f"x = {text}", encoding="utf-8")
    with pytest.raises(BenchError, match="expected a finite number"):
        read_toml(path).number("x", "x = 1")


def test_empty_text_is_missing_text() -> None:
    with pytest.raises(BenchError, match="got the text '  '; expected text"):
        TomlTable({"unit": "  "}, "b.toml").text("unit", 'unit = "mm"')


def test_long_texts_are_cut_in_messages() -> None:
    assert len(described("y" * 5000)) < 90
    assert len(described({f"key{i}" * 20: 1 for i in range(5000)})) < 1000


def test_missing_file_is_named_as_a_bench(tmp_path: Path) -> None:
    path = tmp_path / "none.toml"
    with pytest.raises(BenchError) as caught:
        read_toml(path)
    assert caught.value.file == str(path)
    assert caught.value.reason == "no such file; expected the bench description (TOML)"


def test_other_encoding_names_the_line(tmp_path: Path) -> None:
    path = tmp_path / "b.toml"
    path.write_bytes('# one\n# two\nunit = "°C"\n'.encode("latin-1"))
    with pytest.raises(BenchError, match="line 3: not UTF-8 text; save the file as UTF-8"):
        read_toml(path)


def test_what_is_not_toml_names_the_line(tmp_path: Path) -> None:
    path = tmp_path / "b.toml"
    path.write_text("[pipe]\nbore = 19.05 mm\n", encoding="utf-8")
    with pytest.raises(BenchError, match=r"line 2, column 14: not TOML: Expected newline"):
        read_toml(path)


def test_hostile_files_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "b.toml"
    path.write_text("a = " + "[" * 100_000, encoding="utf-8")
    with pytest.raises(BenchError, match="nested too deeply"):
        read_toml(path)
    path.write_text("a = " + "9" * 5000, encoding="utf-8")
    with pytest.raises(BenchError, match="not TOML"):
        read_toml(path)
    path.write_bytes(b"#" * 1_000_001)
    with pytest.raises(BenchError, match="more than 1000000 bytes"):
        read_toml(path)


def test_byte_order_mark_is_no_text(tmp_path: Path) -> None:
    path = tmp_path / "b.toml"
    path.write_bytes(b"\xef\xbb\xbfx = 1\n")
    assert read_toml(path).number("x", "x = 1") == 1.0


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("[a]\ndivision = 0,5\n", "line 2, .*a decimal comma\\? write 0.5; expected lines"),
        ("[a]\r\naccuracy = { limits = 0,05 }\r\n", "line 2, .*comma\\? write 0.05;"),
        ("x = -12,75 # mm\n", "comma\\? write -12.75;"),
    ],
)
def test_decimal_comma_of_a_number_is_guessed(tmp_path: Path, text: str, hint: str) -> None:
    path = tmp_path / "b.toml"
    path.write_bytes(text.encode())
    with pytest.raises(BenchError, match=hint):
        read_toml(path)


@pytest.mark.parametrize("text", ["y = 0.5\nx = 5 mm\n", 'x = "0,5\n', "x = [1, 2\n", "x = 1,2,3"])
def test_other_faults_get_no_hint_about_commas(tmp_path: Path, text: str) -> None:
    path = tmp_path / "b.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BenchError, match="not TOML") as caught:
        read_toml(path)
    assert "comma?" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "meant"), [("13,20 mm", "13.20"), ("-0,5", "-0.5"), ("0,05 %", "0.05")]
)
def test_decimal_comma_of_a_text_is_said(text: str, meant: str) -> None:
    table = TomlTable({"x": text}, "b.toml", "pipe")
    with pytest.raises(BenchError, match=rf"pipe\.x'.*; decimal comma; write {meant}$"):
        table.number("x", "x = 1")
    with pytest.raises(BenchError, match=rf"; decimal comma; write {meant}$"):
        table.attempt(lambda: Length(1, text), "x")


@pytest.mark.parametrize("text", ["13.20 mm", "1,2,3", "a 1,2", "1, 2"])
def test_other_commas_are_left_alone(text: str) -> None:
    with pytest.raises(BenchError) as caught:
        TomlTable({"x": text}, "b.toml").number("x", "x = 1")
    assert "decimal comma" not in str(caught.value)


@pytest.mark.parametrize("path", [3, None, 2.5, ["b.toml"], True])
def test_what_is_no_path_is_refused(path: object) -> None:
    message = f"got {type(path).__name__}; expected the path of a file, the bench description"
    with pytest.raises(BenchError, match=message):
        load_bench(path)
