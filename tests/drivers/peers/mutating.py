"""A seeded mutator of bytes: what noise, lost bytes and wrong bits make of good frames."""

from __future__ import annotations

import random
from collections.abc import Iterator


def mutants(good: list[bytes], count: int, seed: int) -> Iterator[bytes]:
    """Give damaged versions of good frames, and now and then pure noise."""
    rng = random.Random(seed)
    for _ in range(count):
        if rng.random() < 0.02:
            yield rng.randbytes(rng.randrange(0, 64))
            continue
        data = bytearray(rng.choice(good))
        for _ in range(rng.choice((1, 1, 1, 2, 3, 6))):
            act = rng.randrange(8)
            place = rng.randrange(len(data)) if data else 0
            if act == 0 and data:
                del data[place]
            elif act == 1:
                data.insert(place, rng.randrange(256))
            elif act == 2 and data:
                data[place] ^= 1 << rng.randrange(8)
            elif act == 3 and data:
                data[place] = rng.choice(b'0123456789.-+eE;=,*:{}[]"naif')
            elif act == 4:
                del data[place:]
            elif act == 5:
                del data[:place]
            elif act == 6:
                data += rng.choice(good)
            elif len(data) > 2:
                other = rng.randrange(len(data))
                data[place], data[other] = data[other], data[place]
        yield bytes(data)
