"""Damaged and strange files: one sentence, exit status 2 or 3, and nothing lost silently."""

from __future__ import annotations

import gzip
import io
import math
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.measure import Quality
from logger.cli import main
from logger.errors import CommandError
from logger.importing import import_tables
from logger.mapping_check import parse_mapping
from logger.verify import verify
from tests.logger.import_files import MAP, bring_in, refused_whole

HEAD = "t,in,out\n"
Capture = pytest.CaptureFixture[str]
NOT_KNOWN, LATE, OUT = Quality.NOT_KNOWN.value, Quality.LATE.value, Quality.OUT_OF_RANGE.value


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"\n \n\n", "blank lines only"),
        (bytes(range(256)) * 40, "binary file"),
        (b"\x89PNG\r\n\x1a\n" + bytes(100), "a picture"),
        (b"PAR1" + bytes(100), "Parquet"),
        (HEAD.encode(), "a header and no row of data"),
        (b"x" * (3 << 20), "no table"),
        (HEAD.encode() + b"a,b,c\nd,e,f\n", "not one reading"),
        (b"PK\x03\x04" + bytes(60), "damaged spreadsheet or zip"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "spreadsheet"),
        (b"\x1f\x8b\x08" + b"garbage" * 9, "get a whole copy"),
    ],
)
def test_what_is_no_table_is_refused(content: bytes, words: str, tmp_path: Path, capsys: Capture) -> None:
    refused_whole(bring_in(tmp_path, capsys, content), 3, words)


def test_missing_file_and_map(tmp_path: Path, capsys: Capture) -> None:
    assert main(["import", str(tmp_path / "none.csv"), "--out", str(tmp_path / "s")]) == 2
    assert "--draft" in capsys.readouterr().err
    (tmp_path / "map.toml").write_text(MAP)
    assert (
        main(["import", str(tmp_path / "none.csv"), "--map", str(tmp_path / "map.toml"), "--out", "s"]) == 4
    )
    assert main(["import", str(tmp_path), "--map", str(tmp_path / "map.toml"), "--out", "s"]) == 4
    assert main(["import", str(tmp_path / "none.csv"), "--map", str(tmp_path / "no.toml"), "--out", "s"]) == 4
    assert "Traceback" not in capsys.readouterr().err


def test_existing_folder_is_left_alone(tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "session").mkdir()
    outcome = bring_in(tmp_path, capsys, HEAD + "0,1,2\n")
    assert outcome.status == 4
    assert list(outcome.folder.iterdir()) == []


def test_header_that_stands_again(tmp_path: Path, capsys: Capture) -> None:
    outcome = bring_in(tmp_path, capsys, "\ufeff" + HEAD + "0,1,2\n\ufeff" + HEAD + "1,3,4\n")
    assert outcome.status == 3
    assert "1 rows that repeat the header, passed over; first in row 3" in outcome.said
    assert [value for _, value, _ in outcome.values("in")] == [1.0, 3.0]


def test_ragged_rows(tmp_path: Path, capsys: Capture) -> None:
    outcome = bring_in(tmp_path, capsys, HEAD + "0,1,2\n1,3\n2,4,5,6\n3,7,8,\n4,9")
    assert outcome.status == 3
    assert "fewer cells than the header, the cells that are there were taken; first in row 3" in outcome.said
    assert "more cells than the header, refused; first in row 4" in outcome.said
    assert "broken off at the end of the file, refused; first in row 6" in outcome.said
    assert outcome.values("in") == [(0.0, 1.0, 0), (1.0, 3.0, 0), (3.0, 7.0, 0)]
    assert outcome.values("out") == [(0.0, 2.0, 0), (3.0, 8.0, 0)]
    assert len(outcome.events("rejected")) == 3
    assert (outcome.folder / "original" / "log.csv").read_bytes() == (tmp_path / "log.csv").read_bytes()


def test_time_going_backwards_is_stored_and_flagged(tmp_path: Path, capsys: Capture) -> None:
    outcome = bring_in(tmp_path, capsys, HEAD + "0,1,1\n10,2,2\n20,3,3\n5,4,4\n30,5,5\n")
    assert outcome.status == 3
    assert outcome.facts["late"] == 2
    assert "time goes backwards 1 times" in outcome.said
    assert outcome.values("in")[3] == (5.0, 4.0, LATE)
    assert main(["verify", str(outcome.folder)]) == 0


def test_one_row_with_a_time_far_ahead(tmp_path: Path, capsys: Capture) -> None:
    rows = "0,1,1\n1,2,2\n90000,3,3\n2,4,4\n3,5,5\n99999999,6,6\n4,7,7\n99999999,8,8\n"
    outcome = bring_in(tmp_path, capsys, HEAD + rows)
    assert outcome.status == 3
    assert "2 single rows with a time ahead" in outcome.said
    assert "1 rows with a time more than 7 days ahead" in outcome.said
    assert [t for t, _, _ in outcome.values("in")] == [0.0, 1.0, 2.0, 3.0, 4.0]


def test_clock_that_was_set_after_the_start(tmp_path: Path, capsys: Capture) -> None:
    rows = "2000-01-01 00:00:00,1,1\n2026-01-14 08:00:00,2,2\n2026-01-14 08:00:01,3,3\n"
    outcome = bring_in(
        tmp_path, capsys, HEAD + rows, MAP.replace('elapsed = "s"', 'format = "iso"\nzone = "UTC"')
    )
    assert outcome.status == 3
    assert "a clock not yet set" in outcome.said
    assert outcome.facts["utc_start"].startswith("2026-01-14T08:00:00")


def test_duplicate_times_keep_their_order(tmp_path: Path, capsys: Capture) -> None:
    outcome = bring_in(tmp_path, capsys, HEAD + "0,1,1\n5,2,2\n5,3,3\n6,4,4\n")
    assert outcome.status == 0
    assert outcome.facts["repeated_times"] == 1
    assert [value for _, value, _ in outcome.values("in")] == [1.0, 2.0, 3.0, 4.0]


def test_text_in_numbers(tmp_path: Path, capsys: Capture) -> None:
    outcome = bring_in(tmp_path, capsys, HEAD + "0,1,1\n1,ERR,2\nx,3,3\n3,nan,4\n4,1_0,5\n")
    assert outcome.status == 3
    assert "3 cells that are no number, stored as not known; first in row 3: 'in: ERR'" in outcome.said
    assert "1 rows whose time cannot be read, refused; first in row 4: 'x'" in outcome.said
    assert [quality for _, _, quality in outcome.values("in")] == [0, NOT_KNOWN, NOT_KNOWN, NOT_KNOWN]
    assert all(math.isnan(value) for _, value, quality in outcome.values("in") if quality)


def test_absurd_numbers_are_out_of_range(tmp_path: Path, capsys: Capture) -> None:
    outcome = bring_in(tmp_path, capsys, HEAD + "0,1e308,1\n1,1e999,-300\n2,3,4\n")
    assert outcome.status == 3
    assert "2 cells with a value that cannot be" in outcome.said
    assert "1 cells with a number too large" in outcome.said
    assert outcome.values("in")[0] == (0.0, 1e308, OUT)
    assert outcome.values("in")[1][2] & OUT
    assert outcome.values("out")[1] == (1.0, -300.0, OUT)
    assert main(["analyse", str(outcome.folder), "--json"]) == 0


def test_mixed_decimal_marks(tmp_path: Path, capsys: Capture) -> None:
    outcome = bring_in(tmp_path, capsys, "t;in;out\n0;1,5;2,5\n1;1.5;2,5\n2;1,7;2,5\n")
    assert outcome.status == 3
    assert (
        "1 cells with the other decimal mark, stored as not known; first in row 3: 'in: 1.5'" in outcome.said
    )
    assert [value for _, value, quality in outcome.values("in") if not quality] == [1.5, 1.7]


def test_nul_characters_after_a_power_cut(tmp_path: Path, capsys: Capture) -> None:
    outcome = bring_in(
        tmp_path, capsys, HEAD.encode() + b"0,1,1\n1,2,2\n" * 20 + bytes(40) + b"2,3,3\n3,4,4\n"
    )
    assert [value for _, value, _ in outcome.values("in")][-4:] == [1.0, 2.0, 3.0, 4.0]
    assert "NUL characters were taken out of 1 lines" in outcome.events("imported")[0]


def test_quote_that_is_not_closed(tmp_path: Path, capsys: Capture) -> None:
    rows = "".join(f"{n},{n},{n}\n" for n in range(30000))
    outcome = bring_in(tmp_path, capsys, HEAD + '0,"1,1\n' + rows)
    assert outcome.status == 3
    assert "a quote is not closed" in outcome.said
    assert outcome.facts["rows"] > 10000


def test_gzip_that_breaks_off_keeps_what_came_before(tmp_path: Path, capsys: Capture) -> None:
    rows = "".join(f"{n},{n * 7919 % 1013 / 10},{n * 104729 % 997 / 10}\n" for n in range(200_000))
    packed = gzip.compress((HEAD + rows).encode())
    outcome = bring_in(tmp_path, capsys, packed[: len(packed) * 2 // 3], name="log.csv.gz")
    assert outcome.status == 3
    assert "breaks off" in outcome.said
    assert outcome.facts["rows"] > 50_000
    assert outcome.values("in")[1] == (1.0, 7919 % 1013 / 10, 0)
    assert main(["verify", str(outcome.folder)]) == 0


def test_gzip_bomb(tmp_path: Path, capsys: Capture) -> None:
    packed = io.BytesIO()
    with gzip.GzipFile(fileobj=packed, mode="wb") as file:
        file.write(HEAD.encode() + b"0,1,1\n")
        for _ in range(60):
            file.write((b" " * 4095 + b"\n") * 256)
    outcome = bring_in(tmp_path, capsys, packed.getvalue(), name="log.csv.gz")
    assert outcome.status == 3
    assert "the limits of 16 GB and 300 times" in outcome.said


def test_zip_bomb_as_spreadsheet(tmp_path: Path, capsys: Capture) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b"<workbook/>")
        archive.writestr("xl/worksheets/sheet1.xml", bytes(64 << 20))
    refused_whole(bring_in(tmp_path, capsys, packed.getvalue(), name="log.xlsx"), 3, "would unpack to 67 MB")


def test_plain_zip(tmp_path: Path, capsys: Capture) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("log.csv", HEAD)
    refused_whole(bring_in(tmp_path, capsys, packed.getvalue(), name="log.zip"), 3, "unpack it")


_GOOD = (HEAD + "".join(f"{n},{n % 7}.5,{n % 5}.25\n" for n in range(40))).encode()


@settings(derandomize=True, deadline=None, max_examples=120)
@given(data=st.data())
def test_any_damage_is_told_and_never_a_traceback(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Bytes of a good file are changed, cut out and put in: the rest comes out, or one sentence does."""
    content = bytearray(_GOOD)
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(content)))
        length = data.draw(st.integers(0, 30))
        content[place : place + length] = data.draw(st.binary(max_size=30))
    folder = tmp_path_factory.mktemp("damage")
    (folder / "log.csv").write_bytes(gzip.compress(content) if data.draw(st.booleans()) else bytes(content))
    mapping = parse_mapping(MAP, "map")
    try:
        report = import_tables([folder / "log.csv"], mapping, MAP, folder / "session")
    except CommandError as error:
        told = str(error)
    else:
        told = "session"
        assert verify(folder / "session") == []
    assert told == "session" or (told.endswith(".") and not (folder / "session").exists())
    assert told != "session" or report.rows + sum(source.counted for source in report.sources) > 0


def test_an_open_quote_ends_although_another_library_has_raised_the_limit(
    tmp_path: Path, capsys: Capture
) -> None:
    import csv

    before = csv.field_size_limit(1_000_000_000)
    try:
        rows = "".join(f"{n},{n},{n}\n" for n in range(30000))
        outcome = bring_in(tmp_path, capsys, HEAD + '0,"1,1\n' + rows)
    finally:
        csv.field_size_limit(before)
    assert outcome.facts["rows"] > 10000
