"""Lower bounds for the span of carriers, by counting their differences."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["least_spans"]


def least_spans(count: int, *, spacing: int, apart: int, middle: int, known: Sequence[int] = (0, 0)) -> list[int]:
    """Return lower bounds for the span of 0, 1, ..., `count` carriers, by counting differences.

    Parameters
    ----------
    spacing
        What any two carriers keep.
    apart
        What any two differences of carriers keep, 0 = nothing.
    middle
        What two differences keep that meet in one carrier, which is the right end of one and the left end of the other.
    known
        Spans of 0, 1, ... carriers that are known by other means.
    """
    spans = list(known)
    for n in range(len(spans), count + 1):
        best = (n - 1) // 2 * (2 * spacing + middle) + (n - 1) % 2 * spacing
        if n >= 4:
            best = max(best, spans[-1] + spacing, *(spans[k] + spans[n - k + 1] for k in range(3, n // 2 + 2)))
        differences = lost = weight = 0
        for order in range(1, n if apart else 1):
            differences += n - order
            weight += order
            lost += 2 * sum(spans[2 : order + 1])
            total = differences * spacing + apart * (differences * (differences - 1) // 2) + lost
            best = max(best, -(-total // weight))
        spans.append(best)
    return spans[: count + 1]
