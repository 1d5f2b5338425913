"""What is asked of a face: its size, the number of pieces, booked or slipped, what is cut away."""

from __future__ import annotations

from dataclasses import dataclass, field

from vision.layout import Allowances
from vision.shot import Laid


@dataclass(frozen=True, slots=True)
class FaceWish:
    """What a match is to fill; None leaves it to the leaves.

    Parameters
    ----------
    width_mm, length_mm : float or None
        The finished face. A sunburst with a width alone is a disc of that diameter.
    pieces : int or None
        Leaves of a balanced face, wedges of a sunburst, strips of a herringbone, squares along
        one side of a parquet.
    is_slipped : bool
        Slip the leaves where the match would turn every other one over.
    grain_deg : float
        Of diamonds and herringbone: between the grain and the upright joint, 10 to 80.
    seed : int
        Which draw of a random or plank match.
    panels : tuple of (float, float)
        Width and length of each panel of a set, in order.
    start : Laid
        How the first leaf lies; every other one is laid so on top of what the match asks of it.
        ``face-over`` flips the centre; ``end-turned`` brings the other long edge first.
    shifts_mm : tuple of (str, float)
        Leaves moved along their grain, by label: down the match as they lie in it, up if negative.
    """

    width_mm: float | None = None
    length_mm: float | None = None
    pieces: int | None = None
    is_slipped: bool = False
    grain_deg: float = 45.0
    seed: int = 1
    panels: tuple[tuple[float, float], ...] = ()
    allowances: Allowances = field(default_factory=Allowances)
    start: Laid = Laid.AS_LIES
    shifts_mm: tuple[tuple[str, float], ...] = ()

    @property
    def moves_leaves(self) -> bool:
        """Whether any leaf is moved along its grain."""
        return any(down for _, down in self.shifts_mm)
