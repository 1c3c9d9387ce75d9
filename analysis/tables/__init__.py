"""Saturation curves of refrigerants, one generated module each (written by ``python -m tests.generate_tables``)."""
