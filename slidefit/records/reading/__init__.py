"""From bytes to tables of cells."""
