"""A document as terminal text, page, PDF; figures as picture files."""
