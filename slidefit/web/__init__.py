"""The page: views and a JSON interface around the library, no arithmetic."""
