"""One file a screen; Streamlit runs the one that is open."""
