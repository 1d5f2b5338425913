"""``order --blink``: two leaves of a stack in turn, laid on each other, as a moving picture."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import click

from catalog.blink_file import LEAST_SECONDS, MovingKind, blink_file
from catalog.blinked_pair import BlinkedPair, blink_pair, paint_pair
from catalog.stored_stack import stored_stack
from ui.blink_words import leaf_words, pair_words
from ui.commands.bundle_source import Source
from ui.commands.progress import with_bar
from ui.leaf_choice import LeafChoiceFaulty
from vision.order_leaves import order_leaves
from vision.stack_order import Known

KINDS = {f".{kind.value}": kind for kind in MovingKind}
MOST_NAMED = 40


@dataclass(frozen=True, slots=True)
class BlinkWish:
    """What ``order --blink`` was asked for."""

    pair: tuple[str, str]
    out: Path
    seconds: float
    stretch: tuple[float, float] | None
    """From and to, mm from the top end; None for the whole leaf."""

    @property
    def kind(self) -> MovingKind:
        """The kind that the name of the file asks for."""
        return KINDS[self.out.suffix.lower()]


def blink_wish(
    pair: tuple[str, str] | None,
    out: Path | None,
    *,
    seconds: float,
    stretch: tuple[float, float] | None,
) -> BlinkWish | None:
    """Return what was asked for, None where nothing is to blink; `click.UsageError` if faulty."""
    if pair is None:
        if out is not None or stretch is not None:
            raise click.UsageError("--out and --stretch go with --blink LEFT RIGHT.")
        return None
    if out is None:
        raise click.UsageError("--blink writes a picture: name it with --out, e.g. blink.gif.")
    if out.suffix.lower() not in KINDS:
        raise click.UsageError(f"{out.name} must end in one of {', '.join(KINDS)}.")
    if seconds < LEAST_SECONDS:
        raise click.UsageError(
            f"With {seconds:g} s a leaf the picture would flash more than three times a second, "
            "which can bring on seizures (WCAG 2.2, success criterion 2.3.1). Give --seconds "
            f"{LEAST_SECONDS:g} or more."
        )
    return BlinkWish(pair, out, seconds, stretch)


def tell_blink(source: Source, wish: BlinkWish, known: Known, *, as_json: bool) -> None:
    """Write the moving picture of two leaves, and how one lies on the other."""
    labels = source.labels
    _check(wish.pair, labels)
    photos = source.catalog.photos(source.bundle_id)
    drawn = stored_stack(source.catalog, photos)
    by_name = {
        leaf.name: leaf for leaf in with_bar(drawn, length=len(labels), label="Reading pictures")
    }
    lies = order_leaves([by_name[label] for label in labels], known).against_most()
    pair = blink_pair(
        source.catalog,
        source.bundle_id,
        wish.pair,
        laid=(lies[wish.pair[0]], lies[wish.pair[1]]),
    )
    start, end = _shares(wish.stretch, pair)
    names = [leaf_words(label, laid) for label, laid in zip(pair.labels, pair.laid, strict=True)]
    words = pair_words(pair)
    made = blink_file(
        paint_pair(pair, start=start, end=end),
        (names[0], names[1]),
        words,
        kind=wish.kind,
        seconds=wish.seconds,
        in_mm=pair.unit == "mm",
    )
    wish.out.parent.mkdir(parents=True, exist_ok=True)
    wish.out.write_bytes(made)
    if as_json:
        click.echo(json.dumps(_record(pair, wish), indent=2, ensure_ascii=False))
        return
    click.echo(f"{wish.out}: {names[0]}; {names[1]}")
    for line in words:
        click.echo(f"- {line}")


def _check(pair: tuple[str, str], labels: list[str]) -> None:
    for label in pair:
        if label not in labels:
            named = ", ".join(labels[:MOST_NAMED]) or "none"
            more = "" if len(labels) <= MOST_NAMED else f" and {len(labels) - MOST_NAMED} more"
            raise LeafChoiceFaulty(
                f"There is no leaf {label!r} in this stack; there are {named}{more}. Name two of "
                "them, as they are labelled."
            )
    if pair[0] == pair[1]:
        raise LeafChoiceFaulty(
            f"Leaf {pair[0]} is named twice; a leaf does not jump against itself. Name two leaves."
        )


def _shares(stretch: tuple[float, float] | None, pair: BlinkedPair) -> tuple[float, float]:
    if stretch is None:
        return 0.0, 1.0
    start, end = (place / pair.frame.length for place in stretch)
    if not 0 <= start < end or start >= 1:
        raise LeafChoiceFaulty(
            f"--stretch {stretch[0]:g} {stretch[1]:g} is no stretch of leaves that are "
            f"{pair.frame.length:.0f} {pair.unit} long. Give where it begins and ends, from the "
            "top end."
        )
    return start, min(1.0, end)


def _record(pair: BlinkedPair, wish: BlinkWish) -> dict[str, Any]:
    """Return how two leaves lie on each other as other programs read it."""
    move = None
    if pair.register is not None:
        move = {
            name: None if value is None else round(value, 4)
            for name, value in asdict(pair.register).items()
        }
    return {
        "file": str(wish.out),
        "left": pair.labels[0],
        "right": pair.labels[1],
        "laid": [str(laid) for laid in pair.laid],
        "unit": pair.unit,
        "register": move,
        "seconds": wish.seconds,
    }
