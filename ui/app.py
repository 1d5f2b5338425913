"""Navigation and page settings of the screens; each screen is one file in ``ui/screens``."""

import sys
from pathlib import Path

ROOT = str(Path(__file__).resolve().parents[1])
if ROOT not in sys.path:
    sys.path.insert(0, ROOT)

import streamlit as st  # noqa: E402

from catalog.errors import CatalogError  # noqa: E402
from ui.plain_markdown import plain  # noqa: E402
from ui.settings_file import SettingsFaulty  # noqa: E402
from ui.theme import MARK_FILE, STYLES_FILE  # noqa: E402
from vision.errors import VisionError  # noqa: E402

st.set_page_config(page_title="Flitchwright", page_icon=str(MARK_FILE), layout="wide")
st.html(STYLES_FILE)
screen = st.navigation(
    [
        st.Page("screens/flitches.py", title="Flitches", default=True),
        st.Page("screens/bundle.py", title="Bundle"),
        st.Page("screens/order.py", title="Order"),
        st.Page("screens/take_in.py", title="Take in", url_path="take-in"),
        st.Page("screens/station.py", title="Station"),
        st.Page("screens/match.py", title="Match"),
        st.Page("screens/light.py", title="Light"),
        st.Page("screens/rosette.py", title="Rosette"),
        st.Page("screens/panels.py", title="Panels"),
        st.Page("screens/picture_set.py", title="Picture set", url_path="picture-set"),
    ],
    position="top",
)
try:
    screen.run()
except (CatalogError, SettingsFaulty, VisionError) as error:
    st.error(plain(str(error)))
