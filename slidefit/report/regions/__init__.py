"""Regions in words: a region, what moved, sheets, briefs, regions side by side."""
