"""The market: the fitted slide, the season, and the price outlook made from them."""
