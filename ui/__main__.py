"""``python -m ui``: the command line."""

from __future__ import annotations

import sys

NOTHING_DONE = 3
"""Exit code when nothing could be done."""


def main() -> None:
    """Run the command line; say in one sentence what is missing where OpenCV cannot load."""
    try:
        import cv2  # noqa: F401
    except ImportError as error:
        sys.stderr.write(f"{_what_is_missing(error)}\n")
        sys.exit(NOTHING_DONE)

    from ui.commands.group import flitchwright

    flitchwright(prog_name="python -m ui")


def _what_is_missing(error: ImportError) -> str:
    if ".so" in str(error):
        return (
            f"OpenCV cannot start because a system library is missing ({error}); on Debian or "
            "Ubuntu install it as root with: apt-get install -y libgl1 libglib2.0-0"
        )
    return (
        f"OpenCV cannot be imported ({error}); install what the tool needs with: "
        "python -m pip install -r requirements.txt"
    )


if __name__ == "__main__":
    main()
