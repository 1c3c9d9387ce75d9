"""The simulated machine: a process of its own that speaks text lines like any device."""
