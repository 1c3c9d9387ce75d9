"""Generated property tables of the liquids (see tests/generate_liquids.py)."""
