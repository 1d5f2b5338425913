"""Words typed by people, made safe for places where Streamlit reads Markdown."""

from __future__ import annotations

import re

_SPECIAL = re.compile(r"([\\`*_{}\[\]()<>#+\-.!|~$:&])")


def plain(text: str) -> str:
    r"""Return ``text`` so that Markdown shows it letter by letter.

    A name such as ``![](https://...)`` would otherwise be fetched as a picture.

    Examples
    --------
    >>> plain("a_b")
    'a\\_b'
    """
    return _SPECIAL.sub(r"\\\1", " ".join(text.split()))
