"""Random numbers that depend only on what they are for: a seed, a purpose and a number, never on what was drawn before.

So a history simulated in one go, in pieces, or again after a restart carries the same noise. Philox is a
counter-based generator made for this (Salmon et al. 2011, "Parallel random numbers: as easy as 1, 2, 3").
"""

from __future__ import annotations

import zlib

import numpy as np


def generator(seed: int, purpose: str, number: int = 0) -> np.random.Generator:
    """A generator for one purpose (`"noise"`, `"habit"`) and one number (an hour, a room)."""
    key = np.array([seed & 0xFFFFFFFFFFFFFFFF, zlib.crc32(purpose.encode())], dtype=np.uint64)
    counter = np.array([0, 0, 0, number & 0xFFFFFFFFFFFFFFFF], dtype=np.uint64)
    return np.random.Generator(np.random.Philox(key=key, counter=counter))
