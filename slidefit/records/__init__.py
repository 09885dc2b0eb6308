"""Sale records: files of any shape become tidy rows, and the sale book keeps them."""
