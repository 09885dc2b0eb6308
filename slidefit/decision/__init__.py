"""The decision: a plan and a price outlook become a keep-or-sell comparison."""
