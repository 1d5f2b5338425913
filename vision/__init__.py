"""Photograph of a veneer leaf -> flat leaf in comparable light -> readings. Pure functions."""
