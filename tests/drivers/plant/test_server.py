import socket

import pytest

from drivers.plant.__main__ import main
from drivers.plant.lines import CHANNELS, parse_line
from tests.drivers.plant.running import running_plant, stream


def test_streams_checksummed_lines_to_the_end_of_the_span_and_exits_0() -> None:
    with running_plant("--story=hall", "--phase=as-left", "--speed=0", "--seconds=90") as (
        process,
        port,
    ):
        lines = stream(port)
        assert process.wait(10) == 0
    rows = [parse_line(line) for line in lines]
    assert [row["t"] for row in rows] == [float(k) for k in range(1, 91)]
    assert all(line.endswith(b"\r\n") for line in lines)
    assert set().union(*rows) - {"t"} <= set(CHANNELS)


def test_same_seed_same_bytes() -> None:
    runs = []
    for seed in ("5", "5"):
        with running_plant("--story=hall", "--speed=0", "--seconds=60", "--seed", seed) as (
            process,
            port,
        ):
            runs.append(stream(port))
            process.wait(10)
    assert runs[0] == runs[1]


def test_ends_when_the_client_goes() -> None:
    with running_plant("--story=hall", "--speed=0", "--seconds=100000") as (process, port):
        stream(port, stop_after=3)
        assert process.wait(20) == 0


def test_start_at_begins_later_in_the_phase() -> None:
    with running_plant("--story=hall", "--speed=0", "--start-at=200", "--seconds=2") as (
        process,
        port,
    ):
        assert [parse_line(line)["t"] for line in stream(port)] == [201.0, 202.0]
        process.wait(10)


def test_two_clients_get_the_same_lines_and_one_may_leave() -> None:
    with running_plant("--story=hall", "--speed=400", "--seconds=400") as (process, port):
        with socket.create_connection(("127.0.0.1", port), timeout=20) as first, first.makefile("rb") as file:
            file.readline()
            second = stream(port, stop_after=20)
            rest = [file.readline() for _ in range(100)]
            assert second[0] in rest
            last = file.readlines()
        assert process.wait(10) == 0
    assert parse_line(last[-1])["t"] == 400.0


def test_nobody_comes(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--story", "hall", "--wait", "0.05"]) == 4
    assert "no client came within 0.05 s" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["--story", "mill"], "invalid choice"),
        (["--story", "hall", "--phase", "noon"], "no phase 'noon'"),
        (["--story", "hall", "--speed", "-1"], "--speed is -1.0"),
        (["--story", "hall", "--speed", "nan"], "--speed is nan"),
        (["--story", "hall", "--port", "70000"], "--port is 70000"),
        (["--story", "hall", "--seconds", "0"], "nothing is left"),
        (["--story", "hall", "--start-at", "-5"], "--start-at is -5"),
        (["--story", "hall", "--wait", "0"], "--wait is 0.0"),
        (["--story", "hall", "--seconds", "many"], "invalid int value"),
        ([], "--story"),
    ],
)
def test_wrong_use_is_one_sentence_and_status_2(
    arguments: list[str], word: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stop:
        main(arguments)
    assert stop.value.code == 2
    text = capsys.readouterr().err
    assert word in text
    assert text.count("\n") == 1


def test_a_port_in_use_is_named_with_the_way_out(capsys: pytest.CaptureFixture[str]) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        assert main(["--story", "hall", "--port", str(port)]) == 4
    assert str(port) in capsys.readouterr().err
