"""Blocks of spectrum that some links keep to, and others keep out of."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from bandwright.core.bands import Span
from bandwright.core.job import Block, Job
from bandwright.core.kit import Link
from bandwright.core.planning.pairs import rank_of

__all__ = ["closed_by_blocks", "own_blocks", "shut_blocks"]


def _named(block: Block, link: Link) -> bool:
    return any(rank_of(name, link) for name in block.names)


def _at(job: Job, link: Link) -> list[Block]:
    place = job.place_of(link).id
    return [block for block in job.blocks if block.place in (None, place)]


def own_blocks(job: Job, link: Link) -> tuple[Block, ...]:
    """Return the blocks that a link keeps to, by its id, role or radio type; it may lie in any of them."""
    return tuple(block for block in _at(job, link) if _named(block, link))


def shut_blocks(job: Job, link: Link) -> tuple[Block, ...]:
    """Return the blocks that are kept for others."""
    return tuple(block for block in _at(job, link) if block.keep_out and not _named(block, link))


def closed_by_blocks(job: Job, link: Link, carriers_hz: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
    """Return which carriers lie outside the link's own blocks or in one kept for others, bandwidth included."""
    half = -(-link.radio.bandwidth_hz // 2)
    low, high = carriers_hz - half, carriers_hz + half
    own = own_blocks(job, link)
    closed = np.full(len(carriers_hz), bool(own))
    for window in _windows(own):
        closed &= (low < window.low_hz) | (high > window.high_hz)
    for window in _windows(shut_blocks(job, link)):
        closed |= (high > window.low_hz) & (low < window.high_hz)
    return closed


def _windows(blocks: tuple[Block, ...]) -> list[Span]:
    return [window for block in blocks for window in block.windows]
