"""Results made visible: tables, charts, reports."""
