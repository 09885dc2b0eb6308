"""From tables of cells to rows of the tidy record."""
