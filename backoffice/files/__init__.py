"""Receipts and photos, kept by what they contain."""
