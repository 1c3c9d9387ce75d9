"""An instrument that sends checksummed lines, some damaged on the way, and knows exactly which."""

from __future__ import annotations

import binascii
import random
from collections import Counter
from dataclasses import dataclass, field

PROFILE = """
title = "Two probes on a small board"
kind = "serial_lines"
[link]
baud = 115200
[line]
pairs = true
checksum = "crc16"
time = "t"
[[channel]]
name = "ps"
quantity = "gauge_pressure"
unit = "bar(g)"
valid = [-1.0, 60.0]
[[channel]]
name = "ts"
quantity = "temperature"
unit = "degC"
valid = [-60.0, 150.0]
"""
DAMAGES = ("truncated", "joined", "non_ascii", "checksum")


def true_values(i: int) -> tuple[float, float]:
    """Give what the instrument measures at its i-th line, rounded as it sends it."""
    return round(5.0 + (i * 37 % 1000) / 1000, 3), round(-40 + (i * 91 % 12000) / 100, 2)


def line(i: int) -> bytes:
    """Give the i-th line without its end; its time is i milliseconds."""
    ps, ts = true_values(i)
    payload = f"t={i / 1000:.3f};ps={ps:.3f};ts={ts:.2f}".encode()
    return payload + b"*%04X" % binascii.crc_hqx(payload, 0xFFFF)


@dataclass
class DamagedStream:
    """Lines with a share of damage of each kind; ``good`` and ``refused`` say what must come out."""

    seed: int = 1
    share: float = 0.05
    good: list[int] = field(default_factory=list)
    refused: Counter[str] = field(default_factory=Counter)

    def chunks(self, count: int) -> list[bytes]:
        """Give the bytes of so many lines."""
        rng = random.Random(self.seed)
        out: list[bytes] = []
        i = 0
        while i < count:
            sent = line(i)
            star = sent.index(b"*")
            pick = rng.random() / self.share
            if i == 0 or pick >= len(DAMAGES):
                self.good.append(i)
            else:
                kind = DAMAGES[int(pick)]
                place = rng.randrange(1, star)
                if kind == "truncated":
                    sent = sent[:place]
                elif kind == "non_ascii":
                    sent = sent[:place] + bytes([rng.randrange(0x80, 0x100)]) + sent[place + 1 :]
                elif kind == "checksum":
                    sent = sent[:place] + sent[place + 1 :]
                elif i + 1 < count:
                    i += 1
                    sent += line(i)
                else:
                    sent = sent[:place]
                    kind = "truncated"
                self.refused[kind] += 1
            out.append(sent + b"\r\n")
            i += 1
        return out
