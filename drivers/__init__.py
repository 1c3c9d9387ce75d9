"""From bytes to readings: one adapter per kind of link, and what keeps it alive."""
