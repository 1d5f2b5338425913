"""Photographs at a shooting station, drawn from spectra: an outside judge of colour and size.

Nothing here is taken from the code it judges. Light is added up wavelength by wavelength, from
lamp over surface to sensor; lines and markers are drawn where a lens would put them.
"""
