"""Shoes, nails and the rest: what is where, at what cost, first in first out."""
