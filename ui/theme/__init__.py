"""The look of the screens: colours and fonts for Streamlit, and the styles of our own pieces."""

from pathlib import Path

THEME_FILE = Path(__file__).with_name("workshop.toml")
STYLES_FILE = Path(__file__).with_name("workshop.css")
STATION_SKETCH_FILE = Path(__file__).with_name("station_sketch.svg")
MARK_FILE = Path(__file__).with_name("mark.png")
