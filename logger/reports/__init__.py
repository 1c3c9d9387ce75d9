"""Pages for people: one self-contained HTML file each, which opens and prints anywhere without a network."""
