"""Command line and Streamlit screens. Thin: each calls one function of `catalog`."""
