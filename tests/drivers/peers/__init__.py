"""Fake instruments and wires for the tests of the drivers."""
