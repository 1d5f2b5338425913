"""Print the figures behind the budgets: ``python -m tests.accuracy [--fixed]``."""

from __future__ import annotations

import argparse

import numpy as np

from tests.accuracy.judged import (
    JudgedPair,
    is_end_turned,
    is_lamp_swap,
    is_lone,
    is_opened,
    judge_all,
    plans,
    rms,
)
from vision.flags import AlternationFlag

SEEN_FROM = 0.7


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fixed", action="store_true", help="the fixed seeds, not fresh ones")
    flitches = judge_all(plans(fixed=parser.parse_args().fixed))
    for title, keep in (
        ("opened pair", is_opened),
        ("lamp swap", is_lamp_swap),
        ("end turned", is_end_turned),
    ):
        print_evidence(title, [pair for one in flitches for pair in one.pairs(keep)])
    lone = [pair for one in flitches for pair in one.pairs(is_lone)]
    silent = [one.pair.flag == AlternationFlag.NOT_MEASURED for one in lone]
    print(f"lone photographs: {np.mean(silent):.0%} of {len(lone)} not measured")
    slip = [pair for one in flitches for pair in one.pairs(is_lamp_swap, match="slip")]
    tilts = np.abs([one.pair.tilt_part for one in slip])
    print(f"slip match, tilt part L*: rms {rms(tilts):.2f}, worst {tilts.max():.2f}")
    overlaps = sorted(found for one in flitches for found in one.overlaps)
    values = [value for value, _ in overlaps]
    print(
        f"outlines: {len(values)}, IoU median {np.median(values):.4f}, worst {values[0]:.4f} "
        f"({overlaps[0][1]})"
    )


def print_evidence(title: str, pairs: list[JudgedPair]) -> None:
    steps = [one.pair.lightness_step - one.true["lightness_step"] for one in pairs]
    tilts = [one.pair.tilt_part - one.true["tilt_part"] for one in pairs]
    inside = [
        one.pair.lightness_low <= one.true["lightness_step"] <= one.pair.lightness_high
        for one in pairs
    ]
    print(
        f"{title}: {len(pairs) // 2} pairs, 2 lamps; L* step rmse {rms(steps):.3f}, "
        f"tilt part rmse {rms(tilts):.3f}, "
        f"sign right {right(pairs, 'lightness_step'):.1%} of steps and "
        f"{right(pairs, 'tilt_part'):.1%} of tilt parts over {SEEN_FROM}, "
        f"interval holds {np.mean(inside):.1%}"
    )


def right(pairs: list[JudgedPair], part: str) -> float:
    """Return the share of right signs where the truth is large enough to matter."""
    large = [one for one in pairs if abs(one.true[part]) > SEEN_FROM]
    return float(np.mean([getattr(one.pair, part) * one.true[part] > 0 for one in large]))


if __name__ == "__main__":
    main()
