"""What is said beside cutting and pressing, in sentences."""

from __future__ import annotations

STEPS = (
    (
        "1. Lay a steel rule on the check line of every sheet. 2. Cut the sheets at the crosses, "
        "butt them in order and tape them. 3. Take the leaves in the order of the stack, numbered, "
        "all as they lie; lay the template in the same place on each, so that the figure meets."
    ),
    (
        "4. A veneer saw leaves one square edge and one waste edge, and only square edges make a "
        "joint: cut on the line with the square edge on the piece. Short strokes mark the waste "
        "side. Full lines are joints; dashed lines are the rim and stand out beyond the pale line "
        "of the finished face: trim them with the panel, after pressing."
    ),
    (
        "5. Lay the pieces out dry in the light they will live in, look from both ends, and only "
        "then tape and press. Put veneer of the same kind and thickness on the back."
    ),
)
CAUTIONS = (
    "Knife and saw: a straightedge clamped, the free hand behind the edge, cut away from you.",
    (
        "Press: a vacuum of 88 kPa loads a panel of 1.2 x 2.4 m with about 254 kN, 26 tonnes. "
        "Never put pressure into the bag; look over platen, bag and valve each time; lift weights "
        "by two."
    ),
    (
        "Glue: urea-formaldehyde gives off formaldehyde while it cures: gloves and moving air. "
        "Follow the maker's data sheet for mixing, time and warmth."
    ),
    "Dust of hardwood can cause cancer: extraction and a respirator when sanding or sawing.",
    (
        "Local codes, fire rules and emission rules come before anything written here, and work "
        "that needs a licence goes to those who hold one."
    ),
)
"""Formaldehyde and hardwood dust are classed as carcinogenic (IARC group 1)."""
