"""Enthalpies of gas and liquid, one module for each refrigerant; see analysis/phase_enthalpy.py."""
